"""Cards at true scale: throws to hold at the trailing edge, holes to drill, a placard."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from linkcalc.errors import Fault, InputFaults, shown
from linkcalc.model.aircraft import throws
from linkcalc.model.value_classes import stated
from linkcalc.report.layout import cut
from linkcalc.report.measures import METRIC, figure, reworded
from linkcalc.report.paper import MARGIN, PAPERS, Sheet

if TYPE_CHECKING:
    from collections.abc import Iterator

    from linkcalc.checking import Checked
    from linkcalc.model import ControlSurface
    from linkcalc.report.measures import Measures
    from linkcalc.results import Value

__all__ = [
    "KINDS",
    "Throw",
    "cards",
    "drilling_cards",
    "placard_card",
    "surface_throws",
    "throw_cards",
]

_FOOT = MARGIN + 26  # above the check ruler [mm]
_HEAD = 26.0  # below the upper edge: the title has this much [mm]

CAUTION = (
    "An estimate for models and light unmanned aircraft; not for anything that carries a person. "
    "Propeller off, fingers clear of horn and gap while the servo has power. Prove the installation "
    "by a bench proof load before flight. Follow local rules and licensed practice."
)
"""On every card."""


class Throw(NamedTuple):
    """A deflection to set.

    Attributes
    ----------
    what : str
        Who asks for it.
    angle : float
        Positive trailing edge down [rad].
    travel : float
        Of the trailing edge from neutral, straight [m].
    """

    what: str
    angle: float
    travel: float


def cards(
    kind: str, checked: Checked, *, paper: str = "A4", measures: Measures = METRIC
) -> list[Sheet]:
    """Draw cards.

    Parameters
    ----------
    kind : str
        One of `KINDS`.
    checked : Checked
        From `linkcalc.checking.checked`.
    paper : str
        ``"A4"`` or ``"Letter"``.
    measures : Measures
        Units to show beside millimetres.

    Returns
    -------
    list of Sheet
        One page each.

    Raises
    ------
    InputFaults
        There is no such card, or no such paper.

    Examples
    --------
    >>> from linkcalc.checking import checked
    >>> len(cards("throw", checked("examples/sandpiper_rewired.toml")))
    6
    """
    faults = [
        Fault("", place, shown(found), f"one of {', '.join(known)}", "Check the spelling.")
        for place, found, known in (("kind", kind, KINDS), ("paper", paper, PAPERS))
        if found not in known
    ]
    if faults:
        raise InputFaults(faults)
    found: list[Sheet] = KINDS[kind](checked, paper=paper, measures=measures)
    return found


def _surfaces(checked: Checked) -> Iterator[tuple[int, int, str]]:
    """Name every surface: its place among all, its run, and what it is called."""
    place = 0
    for index, run in enumerate(checked.described.runs):
        for number in range(len(run.linkages)):
            several = f", surface {number + 1}" if len(run.linkages) > 1 else ""
            yield place, index, f"{run.name}{several}"
            place += 1


# throws ----------------------------------------------------------------------------


def surface_throws(checked: Checked, place: int) -> list[Throw]:
    """List the deflections that are commanded of a surface.

    Parameters
    ----------
    checked : Checked
        From `linkcalc.checking.checked`.
    place : int
        Of the surface among all surfaces.

    Returns
    -------
    list of Throw
        Full throw and the range of every case, each angle once, in rising order. A second
        surface of a run goes where the servo takes it; what its linkage does not reach
        is left out.
    """
    inputs = checked.inputs
    run = int(inputs.surfaces.owner[place])
    described = checked.described.runs[run]
    up, down = throws(described)
    asked = {-up: ["full throw"], down: ["full throw"]}
    for index, case in enumerate(checked.described.cases):
        for end in (inputs.cases.low[index, run], inputs.cases.high[index, run]):
            asked.setdefault(float(end), []).append(f"'{case.name}'")
    surface = [link for each in checked.described.runs for link in each.linkages][place].surface
    known = {angle: words for angle, words in asked.items() if angle != 0 and math.isfinite(angle)}
    angles = _of_surface(checked, place, sorted(known))
    return [
        Throw(", ".join(known[first]), angle, edge_travel(surface, angle))
        for first, angle in angles
        if math.isfinite(angle)
    ]


def _of_surface(checked: Checked, place: int, wanted: list[float]) -> list[tuple[float, float]]:
    """Pair deflections of the first surface of a run with those of another of its surfaces."""
    from linkcalc.evaluation.evaluate import prepare  # noqa: PLC0415 - only for several surfaces
    from linkcalc.evaluation.linkage import position  # noqa: PLC0415 - as above

    surfaces = checked.inputs.surfaces
    run = int(surfaces.owner[place])
    if int(surfaces.first[run]) == place:
        return [(angle, angle) for angle in wanted]
    all_runs = np.tile(np.array(wanted), (len(surfaces.first), 1))
    found = position(prepare(checked.inputs), all_runs).deflection[place]
    return list(zip(wanted, found.tolist(), strict=True))


def edge_travel(surface: ControlSurface, angle: float) -> float:
    """Return how far the trailing edge goes, straight from neutral.

    Parameters
    ----------
    surface : ControlSurface
        Its mean chord aft of the hinge line is used.
    angle : float
        Deflection [rad].

    Returns
    -------
    float
        2 c sin(|angle| / 2), what a ruler between the two places reads [m].
    """
    return 2 * _aft(surface) * math.sin(abs(angle) / 2)


def _aft(surface: ControlSurface) -> float:
    """Return the mean chord aft of the hinge line [m]."""
    return float(stated(surface, "chord").si) * (1 - (surface.hinge_position or 0.0))


def throw_cards(checked: Checked, *, paper: str = "A4", measures: Measures = METRIC) -> list[Sheet]:
    """Draw a throw card for every surface.

    Parameters
    ----------
    checked : Checked
        From `linkcalc.checking.checked`.
    paper : str
        ``"A4"`` or ``"Letter"``.
    measures : Measures
        Not used: a throw card has degrees and millimetres.

    Returns
    -------
    list of Sheet
        One page each.
    """
    del measures
    links = [link for run in checked.described.runs for link in run.linkages]
    made = []
    for place, _, name in _surfaces(checked):
        surface = links[place].surface
        fin = abs(checked.inputs.surfaces.normal[place, 1]) > abs(
            checked.inputs.surfaces.normal[place, 2]
        )
        sides = ("to port", "to starboard") if fin else ("up", "down")
        sheet = Sheet.new(f"Throw card: {cut(name, 100)}", paper)
        _throw_card(sheet, surface, surface_throws(checked, place), sides)
        made.append(sheet)
    return made


def _throw_card(
    sheet: Sheet, surface: ControlSurface, found: list[Throw], sides: tuple[str, str]
) -> None:
    chord = _aft(surface) * 1000
    y = sheet.write(
        MARGIN, sheet.height - _HEAD,
        f"Chord aft of the hinge line {figure(chord)} mm, the mean, at half span of a surface with "
        "straight edges. Stand the card beside the surface there, square to the hinge line, the cross on "
        "it and the line 0 along the chord at neutral: the trailing edge moves along the arc. Millimetres are straight from neutral to there, "
        "2 c sin(angle / 2).", lines=4,
    )  # fmt: skip
    bottom = _table(sheet, y - 2, found, sides)
    y = sheet.write(MARGIN, _FOOT + 14, CAUTION, size=3.0, lines=4)
    _arc(sheet, chord, found, (_FOOT + 18, bottom - 4))


def _table(sheet: Sheet, y: float, found: list[Throw], sides: tuple[str, str]) -> float:
    if not found:
        return sheet.write(MARGIN, y, "No throw is given.", weight="bold")
    columns = (MARGIN, MARGIN + 18, MARGIN + 36, MARGIN + 58)
    for x, words in zip(columns, ("degrees", "mm", "", "asked for by"), strict=True):
        sheet.write(x, y, words, weight="bold")
    y -= 5
    for number, throw in enumerate(found):
        if y < _FOOT + 30:  # the cautions stand below
            words = (
                f"No room for {len(found) - number} more: the report has the range of every case."
            )
            return sheet.write(MARGIN, y, words, weight="bold")
        way = sides[throw.angle > 0]
        cells = (_angle(throw.angle), f"{throw.travel * 1000:.1f}", way)
        for x, words in zip(columns, cells, strict=False):
            sheet.write(x, y, words)
        y = sheet.write(columns[-1], y, throw.what, lines=2) - 0.6
    return y


def _angle(angle: float) -> str:
    return f"{abs(math.degrees(angle)):.1f}"


def _arc(sheet: Sheet, chord: float, found: list[Throw], room: tuple[float, float]) -> None:
    """Draw the arc of the trailing edge where it fits, or say that it does not."""
    angles = [throw.angle for throw in found] or [0.0]
    up, down = -min(0.0, *angles), max(0.0, *angles)
    spread = math.radians(5)
    above, below = (chord * math.sin(min(side + spread, math.pi / 2)) for side in (up, down))
    wide = sheet.width - 2 * MARGIN - 24
    back = max(0.0, -chord * math.cos(max(up, down) + spread))
    if above + below > room[1] - room[0] or chord + back > wide:
        sheet.write(
            MARGIN, room[1] - 6,
            "The arc does not fit on this paper at true scale: use the millimetres.", weight="bold",
        )  # fmt: skip
        return
    x, y = MARGIN + 3 + back, room[1] - above - (room[1] - room[0] - above - below) / 2
    sheet.cross(x, y, name="hinge")
    turn = np.linspace(-down - spread, up + spread, 181)
    sheet.line(x + chord * np.cos(turn), y + chord * np.sin(turn), gid="trailing-edge")
    for angle in [0.0, *angles]:
        ends = np.array([0.0 if angle == 0 else 0.55, 1.0]) * chord
        ends[1] += 6
        heavy = 1.0 if angle == 0 else 0.6
        name = f"mark-{math.degrees(angle):.1f}"
        cosine, sine = math.cos(-angle), math.sin(-angle)
        sheet.line(x + ends * cosine, y + ends * sine, gid=name, linewidth=heavy)
    for angle, travel, level in _labels(x, y, chord, found):
        words = "0" if angle == 0 else f"{_angle(angle)} deg, {travel * 1000:.1f} mm"
        at = x + (chord + 7) * math.cos(angle)
        sheet.write(at, level, words, size=2.8, va="center", clip_on=False)


def _labels(
    x: float, y: float, chord: float, found: list[Throw]
) -> Iterator[tuple[float, float, float]]:
    """Place the labels of the marks, each at least a line below the one above."""
    del x
    last = math.inf
    for angle, travel in sorted([(0.0, 0.0), *((each.angle, each.travel) for each in found)]):
        level = min(y - (chord + 7) * math.sin(angle), last - 3.4)
        last = level
        yield angle, travel, level


# holes -------------------------------------------------------------------------------


def drilling_cards(
    checked: Checked, *, paper: str = "A4", measures: Measures = METRIC
) -> list[Sheet]:
    """Draw a drilling card for arm, horn and rod of every surface.

    Parameters
    ----------
    checked : Checked
        From `linkcalc.checking.checked`.
    paper : str
        ``"A4"`` or ``"Letter"``.
    measures : Measures
        Not used: a drilling card has millimetres.

    Returns
    -------
    list of Sheet
        One page each.
    """
    del measures
    made = []
    for place, _, name in _surfaces(checked):
        sheet = Sheet.new(f"Drilling card: {cut(name, 100)}", paper)
        _drilling_card(sheet, checked, place)
        made.append(sheet)
    return made


def _drilling_card(sheet: Sheet, checked: Checked, place: int) -> None:
    geometry = checked.inputs.geometry
    arm, horn = (
        _lever(vector[place], axis[place]) * 1000
        for vector, axis in (
            (geometry.arm, geometry.servo_axis),
            (geometry.horn, geometry.hinge_axis),
        )
    )
    rod = float(geometry.rod_length[place]) * 1000
    ends = geometry.servo_pivot[place] + geometry.arm[place]
    along = geometry.hinge_pivot[place] + geometry.horn[place] - ends
    stands = [_between_degrees(vector[place], along) for vector in (geometry.arm, geometry.horn)]
    y = sheet.write(
        MARGIN, sheet.height - _HEAD,
        "Prick the crosses through with a pin and drill for the pins of your clevises or ball links. "
        "Deburr; a hole that is too wide is free play.", lines=3,
    )  # fmt: skip
    y -= 8
    for name, words, reach, degrees in (
        ("arm", "Servo arm: servo shaft to hole", arm, stands[0]),
        ("horn", "Control horn: hinge line to hole", horn, stands[1]),
    ):
        angle = f", at neutral {degrees:.0f} deg from the rod"
        y = _hole(sheet, y, name, f"{words} {reach:.1f} mm{angle}", reach)
    words = f"Pushrod: {rod:.1f} mm between the centres of its two joints, at neutral"
    y = sheet.write(MARGIN, y, words, weight="bold", lines=2) - 6
    if rod <= sheet.width - 2 * MARGIN - 8:
        _between(sheet, y, "rod", rod)
    else:
        sheet.write(
            MARGIN, y + 2, "Too long to be drawn on this paper at true scale: measure it.", lines=2
        )
    sheet.write(MARGIN, _FOOT + 14, CAUTION, size=3.0, lines=4)


def _lever(vector: Any, axis: Any) -> float:
    """Return how far a hole is from an axis, square to it."""
    along = axis / np.linalg.norm(axis)
    return float(np.linalg.norm(vector - along * (along @ vector)))


def _between_degrees(one: Any, other: Any) -> float:
    """Return the angle between two vectors [deg]."""
    cosine = one @ other / (np.linalg.norm(one) * np.linalg.norm(other))
    return math.degrees(math.acos(min(1.0, max(-1.0, float(cosine)))))


def _hole(sheet: Sheet, y: float, name: str, words: str, reach: float) -> float:
    y = sheet.write(MARGIN, y, words, weight="bold", lines=2) - 6
    if reach > sheet.width - 2 * MARGIN - 8:
        return sheet.write(MARGIN, y + 2, "Too long to be drawn on this paper at true scale.") - 8
    _between(sheet, y, name, reach)
    return y - 16


def _between(sheet: Sheet, y: float, name: str, length: float) -> None:
    """Draw two centres at true distance."""
    x = MARGIN + 4
    sheet.cross(x, y, name=f"{name}-centre")
    sheet.cross(x + length, y, name=f"{name}-hole")
    sheet.line([x, x + length], [y, y], gid=f"{name}-length", linewidth=0.3, linestyle=":")


# placard -------------------------------------------------------------------------------


def placard_card(
    checked: Checked, *, paper: str = "A4", measures: Measures = METRIC
) -> list[Sheet]:
    """Draw the placard of an aircraft, to cut out.

    Parameters
    ----------
    checked : Checked
        From `linkcalc.checking.checked`.
    paper : str
        ``"A4"`` or ``"Letter"``.
    measures : Measures
        Units to show.

    Returns
    -------
    list of Sheet
        One page.
    """
    report = checked.report()
    sheet = Sheet.new(f"Placard card: {cut(report.aircraft, 100)}", paper)
    top = sheet.height - _HEAD - 4
    y = sheet.write(MARGIN + 5, top - 5, report.aircraft, size=5, weight="bold", lines=2) - 2
    if report.verdict != "pass":
        y = sheet.write(
            MARGIN + 5, y, "SHORT: the check has margins below zero. Mend it before flight.",
            size=4, weight="bold", lines=2,
        ) - 2  # fmt: skip
    titles = {"placard speed": "Placard speed", "manoeuvre placard speed": "With full throw"}
    for name, title in titles.items():
        y = _speed(sheet, y, title, report.whole[name], measures) - 2
    y = sheet.write(
        MARGIN + 5, y,
        "True airspeeds, rounded down, at the air density, incidence and load factor of the case named; the air "
        "thins with height, and an airspeed indicator reads less than the true one there.",
        size=3.0, lines=4,
    ) - 1  # fmt: skip
    y = sheet.write(MARGIN + 5, y, CAUTION, size=3.0, lines=6) - 3
    left, right = MARGIN, sheet.width - MARGIN
    xs, ys = [left, right, right, left, left], [top, top, y, y, top]
    sheet.line(xs, ys, linestyle="--", gid="cut")
    sheet.write(MARGIN, y - 2, "Cut along the broken line.", size=3.0)
    return [sheet]


def _speed(sheet: Sheet, y: float, title: str, value: Value, measures: Measures) -> float:
    if value.value is None:
        words = f"{title}: none stated"
        y = sheet.write(MARGIN + 5, y, words, size=4.4, weight="bold", lines=2)
        return sheet.write(MARGIN + 5, y, reworded(value.reason or "", measures), size=3.2, lines=3)
    factor, symbol = measures["m/s"]
    both = "" if symbol == "m/s" else f" ({_down(value.value)} m/s)"
    words = f"{title}: {_down(value.value * factor)} {symbol}{both}"
    y = sheet.write(MARGIN + 5, y, words, size=4.4, weight="bold", lines=2)
    return sheet.write(MARGIN + 5, y, value.at or "", size=3.2, lines=3)


def _down(speed: float) -> str:
    """Return a speed rounded down: a placard errs on the safe side."""
    return f"{math.floor(speed)}" if speed >= 10 else f"{math.floor(speed * 10) / 10:.1f}"


KINDS = {"throw": throw_cards, "drilling": drilling_cards, "placard": placard_card}
"""What can be drawn."""
