"""Pictures of the envelope: what is drawn, its units, and that it can be read without colour."""

import numpy as np
import pytest
from matplotlib.figure import Figure

from linkcalc.report.envelope import (
    Mark,
    load_factor_against_speed,
    margin_against_speed,
    reachable_deflection,
    speed_against_height,
)

SPEED = np.linspace(5.0, 60.0, 30)
UP = -np.minimum(0.3, 200.0 / SPEED**2)


def deflection(**more):
    return reachable_deflection(
        SPEED, UP, -UP, name="elevator", commanded=(-0.2, 0.1), marks=(Mark("placard", 33.0),), **more
    )  # fmt: skip


def margin(**more):
    margins = {"torque": 900.0 / SPEED**2 - 1.0, "voltage": np.full(30, 0.2)}
    return margin_against_speed(
        SPEED, margins, name="elevator", marks=(Mark("placard", 30.0),), **more
    )


def height(**more):
    ways = {
        "with the servo's limit": (SPEED, np.linspace(200.0, 0.0, 30)),
        "without": (SPEED, np.linspace(200.0, 80.0, 30)),
    }
    return speed_against_height(ways, marks=(Mark("placard", 30.0),), **more)


def load_factor(**more):
    return load_factor_against_speed(
        SPEED,
        structure=np.full(30, 6.0),
        lift=0.02 * SPEED**2,
        servo=np.full(30, 3.0),
        marks=(Mark("terminal", 55.0),),
        **more,
    )


PICTURES = [deflection, margin, height, load_factor]


def lines(axes):
    return {line.get_label(): line for line in axes.get_lines() if line.get_label()[0] != "_"}


@pytest.mark.parametrize("picture", PICTURES)
def test_every_axis_has_its_unit_and_every_line_a_name(picture):
    axes = picture()
    for label in (axes.get_xlabel(), axes.get_ylabel()):
        assert "[" in label
        assert "]" in label
    assert axes.get_title()
    shown = {text.get_text() for text in axes.get_legend().get_texts()}
    assert set(lines(axes)) <= shown
    assert len(shown) >= 3


@pytest.mark.parametrize("picture", PICTURES)
def test_lines_differ_without_colour(picture):
    drawn = [(str(line.get_linestyle()), line._dash_pattern) for line in lines(picture()).values()]  # noqa: SLF001 - there is no other way to see dashes
    assert len({str(each) for each in drawn}) == len(drawn)


@pytest.mark.parametrize("picture", PICTURES)
def test_axes_that_are_given_are_drawn_in_and_returned(picture):
    axes = Figure().subplots()
    assert picture(axes=axes) is axes


@pytest.mark.parametrize("picture", PICTURES)
def test_nothing_of_the_legend_hides_the_picture(picture):
    axes = picture()
    axes.figure.draw_without_rendering()
    assert axes.get_legend().get_window_extent().y1 < axes.get_window_extent().y0
    ends = axes.figure.bbox
    for text in (axes.title, axes.xaxis.label, axes.yaxis.label, *axes.get_legend().get_texts()):
        extent = text.get_window_extent()
        assert extent.x0 >= ends.x0
        assert extent.x1 <= ends.x1
        assert extent.y0 >= ends.y0
        assert extent.y1 <= ends.y1


def test_deflections_are_drawn_in_degrees_with_up_on_top():
    axes = deflection()
    assert axes.yaxis_inverted()
    commanded = lines(axes)["commanded"].get_ydata()
    assert commanded[0] == pytest.approx(np.degrees(-0.2))
    reached = axes.get_lines()[0].get_ydata()
    np.testing.assert_allclose(reached, np.degrees(UP))


def test_what_can_be_pulled_is_the_least_of_all_limits():
    axes = load_factor()
    filled = axes.collections[0].get_paths()[0].vertices
    least = np.minimum(np.minimum(6.0, 0.02 * SPEED**2), 3.0)
    np.testing.assert_allclose(filled[:, 1].max(), least.max())
    assert axes.get_ylim()[1] > 6.0


def test_the_end_of_every_dive_is_marked():
    axes = height()
    ends = [line for line in axes.get_lines() if line.get_marker() not in {"None", "", None}]
    assert [(float(e.get_xdata()[0]), float(e.get_ydata()[0])) for e in ends] == [
        (60.0, 0.0),
        (60.0, 80.0),
    ]


def test_a_mark_that_has_no_speed_is_not_drawn():
    without = margin_against_speed(
        SPEED, {"torque": SPEED}, name="a", marks=(Mark("placard", float("nan")),)
    )
    assert list(lines(without)) == ["torque"]


def test_gaps_are_gaps():
    up = np.where(SPEED > 40.0, np.nan, UP)
    axes = reachable_deflection(SPEED, up, -up, name="rudder")
    assert np.isnan(axes.get_lines()[0].get_ydata()).sum() == np.isnan(up).sum()
