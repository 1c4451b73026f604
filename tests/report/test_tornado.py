import math

from matplotlib.figure import Figure

from linkcalc.report.tornado import draw_tornado
from linkcalc.tolerances.advice import Swing

SWINGS = [
    Swing(("stall torque",), -0.1, 0.3, 0.1),
    Swing(("arm", "horn"), 0.2, 0.02, 0.1),
    Swing(("gauge",), math.nan, 0.12, 0.1),
]


def test_bars_go_from_the_stated_value_to_either_end_with_the_greatest_on_top():
    axes = draw_tornado(SWINGS)
    bars = [(bar.get_x(), bar.get_x() + bar.get_width()) for bar in axes.patches if bar.get_width()]
    ends = [(0.1, -0.1), (0.1, 0.3), (0.1, 0.2), (0.1, 0.02), (0.1, 0.12)]
    assert [tuple(round(end, 9) for end in bar) for bar in bars] == ends
    assert [text.get_text() for text in axes.get_yticklabels()] == [
        "stall torque",
        "arm, horn",
        "gauge",
    ]
    bottom, top = axes.get_ylim()
    assert bottom > top  # the first bar, at 0, is on top


def test_an_end_without_a_number_is_a_cross():
    crosses = [line for line in draw_tornado(SWINGS).lines if line.get_marker() == "x"]
    assert [(float(line.get_xdata()[0]), float(line.get_ydata()[0])) for line in crosses] == [
        (0.1, 2.0)
    ]


def test_axes_come_back_and_the_limit_is_a_line():
    axes = Figure().add_subplot()
    assert draw_tornado(SWINGS, axes, limit=-0.05, label="torque margin") is axes
    assert axes.get_xlabel() == "torque margin"
    assert -0.05 in [line.get_xdata()[0] for line in axes.lines]
    assert len(draw_tornado(SWINGS, limit=None, most=1).get_yticks()) == 1


def test_long_names_are_cut():
    axes = draw_tornado([Swing(("x" * 200,), 0.0, 1.0, 0.5)])
    assert len(axes.get_yticklabels()[0].get_text()) <= 44
