"""What the pictures of a check show, in the reader's units."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from linkcalc.report.chart import Band, Chart, Level, Line, Mark, Text, spanned
from linkcalc.report.layout import cut, signed
from linkcalc.report.measures import amount, figure, reworded

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from linkcalc.report.measures import Measures
    from linkcalc.results import CaseReport, Value
    from linkcalc.study.curves import Curves, Drawing

    Floats = NDArray[np.float64]

__all__ = [
    "air_load",
    "linkage",
    "margin_against_deflection",
    "margin_against_speed",
    "voltage_along_the_lead",
]

_TOP = 2.0  # margins above are not drawn,
_TIMES_LEAST = 2.5  # unless the least is large itself
_NAME = 40  # characters of a name in a title
_PLACE = 12  # and below an axis
_LONG = 3.0  # a rod is broken where the pivots are farther apart than this many greatest levers


def margin_against_deflection(curves: Curves, run: str, case: str, measures: Measures) -> Chart:
    """Show the torque margin over the range that a case asks for.

    Parameters
    ----------
    curves : Curves
        What `linkcalc.curves` returns.
    run, case : str
        Names.
    measures : Measures
        Units to show.

    Returns
    -------
    Chart
        From -1 to 2; farther up where the least margin is large itself.
    """
    r, c = curves.place(run, case)
    found = _report_of(curves, run, case)
    margin = found.margin("torque") if found else None
    x = _shown(np.degrees(curves.deflection[c, r]), "deg", measures)
    lines = (
        Line("with every factor, worst air load", x, _plain(curves.torque_margin[c, r]), 0),
        Line("with every factor, best air load", x, _plain(curves.torque_margin_best[c, r]), 1),
    )
    at = found.values["governing deflection"] if found else None
    missing = _missing(found, margin.reason if margin else None, lines[0], measures)
    least = "none" if margin is None else signed(margin.margin)
    return Chart(
        title="Torque margin against deflection",
        words=f"{cut(run, _NAME)} in {cut(case, _NAME)}: the torque margin over the commanded "
        f"range; the least is {least}.",
        x_label=f"deflection [{measures['deg'].symbol}], trailing edge down positive",
        y_label="torque margin [1]",
        x_range=spanned(x, 0.03),
        y_range=_margin_range(lines),
        lines=lines,
        marks=tuple(_marks({"governing deflection": at}, measures)),
        short_below=True,
        missing=missing,
        notes=_beyond(lines),
    )


def margin_against_speed(curves: Curves, run: str, case: str, measures: Measures) -> Chart:
    """Show margins against speed, with the speeds that end something.

    Parameters
    ----------
    curves : Curves
        What `linkcalc.curves` returns.
    run, case : str
        Names.
    measures : Measures
        Units to show.

    Returns
    -------
    Chart
        From -1 to 2; farther up where the least margin is large itself.
    """
    r, c = curves.place(run, case)
    found = _report_of(curves, run, case)
    x = _shown(curves.speed[c], "m/s", measures)
    lines = (
        Line("least of all margins that apply", x, _plain(curves.least_margin_at[c, :, r]), 0),
        Line("torque margin", x, _plain(curves.torque_margin_at[c, :, r]), 1),
    )
    flies = x[-1] > 0
    ends = (0.0, x[-1] if flies else 1.0)
    names = ("placard speed", "torque limit speed", "freeze speed")
    speeds = {name: found.values[name] for name in names} if found else {}
    marks = [
        Mark(f"speed of the case {_amount(curves.case_speed[c], 'm/s', measures)}",
             float(curves.case_speed[c]) * measures["m/s"].factor),
        *_marks(speeds, measures),
    ]  # fmt: skip
    inside = tuple(mark for mark in marks if ends[0] <= mark.at <= ends[1])
    outside = [mark.name for mark in marks if mark not in inside]
    notes = [f"Beyond the picture: {'; '.join(outside)}."] if outside else []
    notes += [
        f"No {name}: {reworded(value.reason or '', measures)}."
        for name, value in speeds.items()
        if value.value is None
    ]
    return Chart(
        title="Margin against speed",
        words=f"{cut(run, _NAME)} in {cut(case, _NAME)}: margins against true airspeed, at the "
        "density, incidence, load factor and range of the case. "
        + "; ".join(mark.name for mark in marks)
        + ".",
        x_label=f"true airspeed [{measures['m/s'].symbol}]",
        y_label="margin [1]",
        x_range=ends,
        y_range=_margin_range(lines),
        lines=lines,
        marks=inside,
        short_below=True,
        missing=_missing(found, None, lines[0], measures)
        if flies
        else "Not drawn: nothing flies in this case.",
        notes=(*notes, *_beyond(lines)),
    )


def air_load(curves: Curves, run: str, case: str, measures: Measures) -> Chart:
    """Show the band of the hinge moment over the range that a case asks for.

    Parameters
    ----------
    curves : Curves
        What `linkcalc.curves` returns.
    run, case : str
        Names.
    measures : Measures
        Units to show.

    Returns
    -------
    Chart
        Low, best and high line, weight of the surface included.
    """
    r, c = curves.place(run, case)
    found = _report_of(curves, run, case)
    x = _shown(np.degrees(curves.deflection[c, r]), "deg", measures)
    low, best, high = (_shown(line[c, r], "N*m", measures) for line in curves.moments)
    lines = tuple(
        Line(f"{name} line", x, y, style)
        for name, y, style in (("high", high, 0), ("best", best, 1), ("low", low, 2))
    )
    reason = found.margin("torque").reason if found else None
    at = found.values["governing deflection"] if found else None
    surface = curves.aircraft.runs[r].linkages[0].surface
    solver = surface.solver or "the default"
    return Chart(
        title="Hinge moment and its band",
        words=f"{cut(run, _NAME)} in {cut(case, _NAME)}: hinge moment of air load and weight by the "
        f"low, best and high line of the air-load solver ({cut(solver, _NAME)}).",
        x_label=f"deflection [{measures['deg'].symbol}], trailing edge down positive",
        y_label=f"hinge moment [{measures['N*m'].symbol}]",
        x_range=spanned(x, 0.03),
        y_range=spanned((*low, *best, *high, 0.0)),
        lines=lines,
        bands=(Band("between low and high", x, low, high),),
        marks=tuple(_marks({"governing deflection": at}, measures)),
        missing=_missing(found, reason, lines[1], measures),
    )


def voltage_along_the_lead(curves: Curves, run: str, case: str, measures: Measures) -> Chart:
    """Show the voltage from the source to the servo.

    Parameters
    ----------
    curves : Curves
        What `linkcalc.curves` returns.
    run, case : str
        Names.
    measures : Measures
        Units to show.

    Returns
    -------
    Chart
        At work, and with this run about to stall.
    """
    r, c = curves.place(run, case)
    found, path = _report_of(curves, run, case), curves.paths[r]
    x = tuple(float(place) for place in range(len(path.stations)))
    volts = measures["V"]
    work, limit = (_shown(line[c], "V", measures) for line in (path.at_work, path.at_limit))
    lines = (
        Line("every servo at its largest load", x, work, 1, marked=True),
        Line("this run about to stall", x, limit, 0, marked=True),
    )
    ends = (("least that the servo works at", path.minimum), ("rated maximum", path.maximum))
    levels = tuple(
        Level(f"{name} {figure(end * volts.factor)} {volts.symbol}", end * volts.factor)
        for name, end in ends
        if math.isfinite(end)
    )
    last = f"{figure(limit[-1])} {volts.symbol}" if math.isfinite(limit[-1]) else "not known"
    return Chart(
        title="Voltage along the way to the servo",
        words=f"{cut(run, _NAME)} in {cut(case, _NAME)}: voltage from the source to the servo's "
        f"plug; about to stall it has {last}.",
        x_label="source without load, its terminals, far end of each lead",
        y_label=f"voltage [{volts.symbol}]",
        x_range=(-0.4, x[-1] + 0.4),
        y_range=spanned((*work, *limit, *(level.at for level in levels)), 0.1),
        lines=lines,
        levels=levels,
        places=tuple(cut(name, _PLACE) for name in path.stations),
        missing=_missing(found, None, lines[1], measures),
    )


def linkage(curves: Curves, run: str, measures: Measures) -> Chart:
    """Draw the linkage of a run to scale, at neutral and at both ends of the throw.

    Parameters
    ----------
    curves : Curves
        What `linkcalc.curves` returns.
    run : str
        Its name.
    measures : Measures
        Units to show.

    Returns
    -------
    Chart
        Without axes. A long rod has a gap, so that both of its ends are large enough to see.
    """
    r, _ = curves.place(run, curves.aircraft.cases[0].name)
    drawing, length = curves.drawings[r], measures["m"]
    chart = Chart(
        title="The linkage, to scale",
        words=f"{cut(run, _NAME)}: servo arm, pushrod, horn and surface at neutral and at both ends of "
        "the throw, seen along the hinge line with the nose to the left.",
        x_label="",
        y_label="",
        x_range=(0.0, 2.0),
        y_range=(0.0, 1.0),
    )
    if drawing.chained:
        return chart._replace(
            missing="Not drawn: a chain of stages. What its members bear stands in the values."
        )
    if math.isnan(drawing.servo_angle[0]):
        return chart._replace(missing="Not drawn: neutral is not reached.")
    lever, gap = _gap(drawing)
    lines = [_fixed(drawing, lever, length.factor)]
    for number in range(len(drawing.names)):
        x, y = _position(drawing, number, lever, gap) * length.factor
        lines.append(Line(_told(drawing, number, measures), _plain(x), _plain(y), number))
    scale, texts = _scale_bar(lines, lever * length.factor, length.symbol)
    x, y = np.array([drawing.servo + gap, np.full(2, np.nan), drawing.hinge]).T * length.factor
    lines += [Line("", _plain(x), _plain(y), 3, marked=True), scale]
    whole = "with a gap; both ends are to scale" if np.any(gap) else "to scale"
    rod = _amount(drawing.rod_length, "m", measures)
    return chart._replace(
        x_range=spanned(value for line in lines for value in line.x),
        y_range=spanned([*(value for line in lines for value in line.y), *(t.y for t in texts)]),
        lines=tuple(lines),
        texts=texts,
        notes=(f"Pushrod {rod} hole to hole, drawn {whole}.",),
    )


# parts of the linkage ---------------------------------------------------------------------


def _gap(drawing: Drawing) -> tuple[float, Floats]:
    """Return the greatest lever [m], and how far the servo is moved up to the hinge [m]."""
    levers = (
        drawing.arm[0] - drawing.servo,
        drawing.horn[0] - drawing.hinge,
        drawing.trailing_edge[0] - drawing.hinge,
    )
    lever = float(np.nanmax([np.hypot(*each) for each in levers]))
    across = drawing.hinge - drawing.servo
    distance = float(np.hypot(*across))
    cut_away = distance - _LONG * lever
    return lever, across / distance * cut_away if cut_away > 0.5 * lever else np.zeros(2)


def _told(drawing: Drawing, number: int, measures: Measures) -> str:
    """Say which position it is, with its angles."""
    degrees = measures["deg"]
    surface, arm = (
        f"{figure(math.degrees(angle) * degrees.factor, 3)} {degrees.symbol}"
        for angle in (drawing.deflection[number], drawing.servo_angle[number])
    )
    if number == 0:
        return drawing.names[0]
    there = "" if drawing.reached[number] else " (not reached: drawn as far as the linkage goes)"
    return f"{drawing.names[number]}{there}: surface {surface}, servo arm {arm}"


def _position(drawing: Drawing, number: int, lever: float, gap: Floats) -> Floats:
    """Place one position of the linkage as one line: arm, rod, horn, surface; shape (2, point)."""
    arm, horn = drawing.arm[number], drawing.horn[number]
    points = [drawing.servo + gap, arm + gap]
    if np.any(gap):
        along = (horn - arm) / np.hypot(*(horn - arm))
        points += [arm + gap + lever * along, np.full(2, np.nan), horn - lever * along]
    points += [horn, drawing.hinge, drawing.trailing_edge[number]]
    return np.array(points).T


def _fixed(drawing: Drawing, lever: float, factor: float) -> Line:
    """Draw the surface ahead of the hinge and the servo's case as lines that do not move."""
    ahead = 2 * drawing.hinge - drawing.trailing_edge[0]
    ahead = drawing.hinge + 0.6 * lever * (ahead - drawing.hinge) / np.hypot(
        *(ahead - drawing.hinge)
    )
    x, y = (np.array([drawing.hinge, ahead]) * factor).T
    return Line("", _plain(x), _plain(y), 3)


def _scale_bar(lines: list[Line], lever: float, unit: str) -> tuple[Line, tuple[Text, ...]]:
    """Return a bar of a round length below the drawing."""
    power = 10.0 ** math.floor(math.log10(lever))
    length = max(step * power for step in (0.5, 1, 2, 5) if step * power <= lever)
    left = min(value for line in lines for value in line.x if math.isfinite(value))
    low = min((value for line in lines for value in line.y if math.isfinite(value)), default=0.0)
    y = low - 0.35 * lever
    bar = Line("", (left, left + length), (y, y), 3, marked=True)
    return bar, (Text(f"{figure(length)} {unit}", left + 0.5 * length, y - 0.22 * lever),)


# common to them ---------------------------------------------------------------------------


def _report_of(curves: Curves, run: str, case: str) -> CaseReport | None:
    """Return the report of a run in a case, None where all its servos are dead."""
    part = next(each for each in curves.report.runs if each.name == run)
    return next((each for each in part.cases if each.name == case), None)


def _missing(found: CaseReport | None, reason: str | None, line: Line, measures: Measures) -> str:
    """Say why there is nothing to draw; nothing where there is something."""
    if found is None:
        return "Not computed: every servo of this run is dead in this case."
    if any(math.isfinite(value) for value in line.y):
        return ""
    reasons = [
        margin.reason for margin in found.margins if margin.applies and margin.margin is None
    ]
    return (
        "Not computed: "
        + reworded(reason or next(iter(reasons), None) or "no value", measures)
        + "."
    )


def _plain(values: Floats) -> tuple[float, ...]:
    return tuple(values.tolist())


def _shown(values: Floats, unit: str, measures: Measures) -> tuple[float, ...]:
    return _plain(values * measures[unit].factor)


def _amount(number: float, unit: str, measures: Measures) -> str:
    return f"{figure(float(number) * measures[unit].factor)} {measures[unit].symbol}"


def _marks(values: Mapping[str, Value | None], measures: Measures) -> list[Mark]:
    """Return a mark for every value that there is."""
    return [
        Mark(f"{name} {amount(value, measures)}", value.value * measures[value.unit].factor)
        for name, value in values.items()
        if value is not None and value.value is not None
    ]


def _margin_range(lines: tuple[Line, ...]) -> tuple[float, float]:
    """Return the ends of an axis of margins: what is near zero is seen best, and the least is seen."""
    known = [value for line in lines for value in line.y if math.isfinite(value)] or [0.0]
    top = _TOP if min(known) <= 0.5 * _TOP else math.ceil(_TIMES_LEAST * min(known))
    return -1.0, 1.0 if max(known) <= 1.0 else top


def _beyond(lines: tuple[Line, ...]) -> tuple[str, ...]:
    """Say that a line leaves the picture at the top."""
    top = _margin_range(lines)[1]
    over = [line.name for line in lines if any(value > top for value in line.y)]
    return (f"Above +{top:g} and not drawn there: {'; '.join(over)}.",) if over else ()
