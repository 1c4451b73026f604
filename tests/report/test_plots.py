"""Pictures in matplotlib axes: the same content as on the page."""

import pytest
from matplotlib.figure import Figure
from matplotlib.image import imread

import linkcalc
from linkcalc import report
from linkcalc.report import pictures
from linkcalc.report.measures import METRIC, imperial
from linkcalc.study.curves import curves

RUN, CASE = "outboard aileron, port", "gust penetration turn"
OF_A_CASE = {
    report.plot_margin_against_deflection: pictures.margin_against_deflection,
    report.plot_margin_against_speed: pictures.margin_against_speed,
    report.plot_air_load: pictures.air_load,
    report.plot_voltage: pictures.voltage_along_the_lead,
}


@pytest.fixture(scope="module")
def found():
    return curves("examples/sandpiper.toml")


@pytest.mark.parametrize("plot", OF_A_CASE, ids=lambda plot: plot.__name__)
def test_axes_hold_the_lines_bands_and_marks_of_the_picture(plot, found):
    chart = OF_A_CASE[plot](found, RUN, CASE, METRIC)
    axes = plot(found, RUN, CASE, measures=METRIC)
    lines = {line.get_label(): line for line in axes.lines}
    for line in chart.lines:
        assert lines[line.name].get_xydata()[:, 1].tolist() == pytest.approx(
            list(line.y), nan_ok=True
        )
    for mark in (*chart.marks, *chart.levels):
        assert mark.name in lines
    assert {band.name for band in chart.bands} <= {each.get_label() for each in axes.collections}
    assert (axes.get_xlabel(), axes.get_ylabel()) == (chart.x_label, chart.y_label)
    assert axes.get_ylim() == pytest.approx(chart.y_range)
    named = {text.get_text() for text in axes.figure.legends[0].get_texts()}
    assert {line.name for line in chart.lines} <= named
    axes.figure.savefig("/dev/null", format="svg")


@pytest.mark.parametrize("plot", OF_A_CASE, ids=lambda plot: plot.__name__)
def test_given_axes_are_drawn_into_and_returned(plot, found):
    axes = Figure(layout="constrained").subplots()
    assert plot(found, RUN, CASE, axes=axes) is axes
    assert axes.get_legend()
    assert not axes.figure.legends


def test_linkage_is_drawn_to_scale_with_a_legend(found):
    axes = report.plot_linkage(found, "elevator")
    assert axes.get_aspect() == 1.0
    labels = [text.get_text() for text in axes.figure.legends[0].get_texts()]
    assert labels[0] == "neutral"
    assert labels[1].startswith("end of the throw up: surface -18 deg")


def test_the_title_of_a_linkage_stays_within_a_picture_that_is_saved_at_once(found, tmp_path):
    # The layout is done before the equal scale, which once pushed the title over the edge.
    for run in ("outboard aileron, starboard", "elevator"):
        path = tmp_path / "linkage.png"
        report.plot_linkage(found, run).figure.savefig(path)
        assert imread(path)[:3, :, :3].min() == 1.0  # white


def test_long_rod_has_a_gap_that_keeps_both_ends_to_scale(found):
    chart = pictures.linkage(found, "elevator", METRIC)
    neutral = next(line for line in chart.lines if line.name == "neutral")
    assert sum(value != value for value in neutral.x) == 1  # noqa: PLR0124 - nan
    arm = ((neutral.x[1] - neutral.x[0]) ** 2 + (neutral.y[1] - neutral.y[0]) ** 2) ** 0.5
    horn = ((neutral.x[-3] - neutral.x[-2]) ** 2 + (neutral.y[-3] - neutral.y[-2]) ** 2) ** 0.5
    surface = ((neutral.x[-1] - neutral.x[-2]) ** 2 + (neutral.y[-1] - neutral.y[-2]) ** 2) ** 0.5
    assert (arm, horn, surface) == pytest.approx((10.16, 12.7, 45.0))  # 0.4 in, 0.5 in, 45 mm
    # Servo ahead of the hinge, three times the longest lever, the chord, away from it.
    assert neutral.x[-2] - neutral.x[0] == pytest.approx(3 * 45.0, rel=1e-3)
    assert "Pushrod 740 mm hole to hole, drawn with a gap" in chart.notes[0]
    short = pictures.linkage(found, RUN, METRIC)
    assert not any(value != value for line in short.lines[1:4] for value in line.x)  # noqa: PLR0124


def test_labels_are_in_the_units_of_the_reader(found):
    axes = report.plot_margin_against_speed(found, RUN, CASE, measures=imperial())
    assert axes.get_xlabel() == "true airspeed [mph]"
    labels = [line.get_label() for line in axes.lines]
    assert "speed of the case 55.92 mph" in labels  # 90 km/h over 1.609344 km to a mile
    assert report.plot_air_load(found, RUN, CASE).get_ylabel() == "hinge moment [kg·cm]"


def test_a_picture_takes_a_file_as_well(found):
    one = report.plot_voltage("examples/sandpiper.toml", RUN, CASE)
    other = report.plot_voltage(found, RUN, CASE)
    assert one.lines[0].get_xydata().tolist() == other.lines[0].get_xydata().tolist()


def test_signs_of_mathematics_in_a_name_stay_signs():
    aircraft = linkcalc.read_aircraft("examples/sandpiper.toml")
    runs = (linkcalc.replace(aircraft.runs[5], name="a $b^$ c"),)
    found = curves(linkcalc.replace(aircraft, runs=runs, cases=aircraft.cases[:1]))
    for axes in (
        report.plot_voltage(found, "a $b^$ c", CASE),
        report.plot_margin_against_deflection(
            found._replace(torque_margin=found.torque_margin * float("nan")), "a $b^$ c", CASE
        ),
    ):
        assert r"a \$b^\$ c" in axes.get_title()
        axes.figure.savefig("/dev/null", format="svg")  # which would fail on "b^"
    assert axes.texts[0].get_text().startswith("Not computed")


def test_unknown_name_of_the_module_is_an_attribute_error():
    with pytest.raises(AttributeError, match="no attribute 'plot_dial'"):
        report.plot_dial  # noqa: B018 - reading it is the point


def test_least_margin_is_seen_where_every_margin_is_large(found):
    chart = pictures.margin_against_deflection(found, "inboard flap, port", "survey line", METRIC)
    least = min(chart.lines[0].y)
    assert least > 10
    assert chart.y_range[0] < least < chart.y_range[1]
    assert f"Above +{chart.y_range[1]:g}" in chart.notes[0]
    low = pictures.margin_against_deflection(found, RUN, CASE, METRIC)
    assert low.y_range == (-1.0, 2.0)
