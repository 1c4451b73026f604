import io

import numpy as np
import pytest

from linkcalc.report.spread_picture import draw_indices, draw_spread
from linkcalc.tolerances.advice import Swing
from linkcalc.tolerances.indices import Indices

FIRST, TOTAL = np.array([0.1, 0.6]), np.array([0.2, 0.7])
ENDS = np.array([-0.05, 0.05])
SHARES = Indices(
    (("runs['$a$b'].arm",), ("horn", "speed")),
    FIRST,
    TOTAL,
    FIRST[:, None] + ENDS,
    TOTAL[:, None] + 2 * ENDS,
    256,
    "",
)


def test_bars_are_the_indices_with_their_intervals_and_the_greatest_total_on_top():
    axes = draw_indices(SHARES)
    assert [text.get_text() for text in axes.get_yticklabels()] == [
        "horn, speed",
        r"runs['\$a\$b'].arm",
    ]
    first, total = axes.containers[1], axes.containers[3]
    assert [bar.get_width() for bar in first] == [0.6, 0.1]
    assert [bar.get_width() for bar in total] == [0.7, 0.2]
    (whiskers,) = first.errorbar.lines[2]
    assert whiskers.get_segments()[0][:, 0] == pytest.approx([0.55, 0.65])
    (whiskers,) = total.errorbar.lines[2]
    assert whiskers.get_segments()[1][:, 0] == pytest.approx([0.1, 0.3])


def test_why_there_are_none_is_said_in_words():
    none = np.full(2, np.nan)
    pair = np.full((2, 2), np.nan)
    axes = draw_indices(Indices(SHARES.factors, none, none, pair, pair, 64, "nothing varies"))
    assert [text.get_text() for text in axes.texts] == ["nothing varies"]
    assert not axes.patches


def test_a_name_that_looks_like_mathematics_is_drawn_as_it_stands():
    swings = [Swing((r"runs['$\bad$'].arm",), 0.1, 0.3, 0.2)]
    figure = draw_spread(swings, SHARES, label=r"$\bad$ / turn / torque")
    assert len(figure.axes) == 2
    file = io.BytesIO()
    figure.savefig(file, format="svg")
    assert b"<svg" in file.getvalue()
    assert len(draw_spread(swings, label="x").axes) == 1
