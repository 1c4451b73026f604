r"""Datasheets that cannot be true, or hardly: each rule with its reason, all of them warnings.

A printed figure is refused nowhere for being good. But a servo is chosen by what is printed, and
one wrong figure wins every comparison. So each row is held against the others of its servo and
against the power that it takes:

- *power*: stall torque times no-load speed against voltage and currents, by the power balance of
  a permanent-magnet motor, as an efficiency of gearbox and driver. Physics: never above 1. Common
  practice, no source: seldom above 0.9 or below 0.2.
- *winding*: a stopped motor is a resistance, V / I_s, the same at every voltage. Physics (Ohm's
  law), unless a driver limits the current; a quarter is left for rounding and warm windings
  (common practice, no source).
- *torque and voltage*, *speed and voltage*: both rise nearly in proportion to the voltage, by the
  straight lines of the motor without friction. Physics; as an exponent, ln ratio / ln ratio, 0.5
  to 1.6 are let pass for rounding, friction and drivers (common practice, no source).
- *mass*: stall torque for each gram of servo, 0.03 to 0.7 kg·cm (common practice, no source).
- *size*: mass over the box of the case, 0.6 to 3.5 g/cm³ (common practice, no source).
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from linkcalc.model.defaults import NO_LOAD_SHARE
from linkcalc.model.value_classes import given, stated
from linkcalc.physics.servo_sheet import implied_efficiency
from linkcalc.units import STANDARD_GRAVITY

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from numpy.typing import NDArray

    from linkcalc.catalogue.parts import ServoPart

    Floats = NDArray[np.float64]

__all__ = ["RULES", "Doubt", "Rule", "Sheets", "doubts", "sheets"]

_KGCM_PER_GRAM = STANDARD_GRAVITY * 0.01 / 0.001
"""Stall torque over mass of one kg·cm for each gram [N m/kg]."""

_ROW = ("voltage", "stall_torque", "no_load_speed", "stall_current", "no_load_current")


class Doubt(NamedTuple):
    """One figure of a datasheet that is hard to believe.

    Attributes
    ----------
    part : str
        Name of the servo.
    rule : str
        Name of the rule, a key of `RULES`.
    found : str
        What the figures say, with the number that gives rise to the doubt.
    expected : str
        What the rule expects.
    basis : str
        ``"physics"`` or ``"common practice, no source"``.
    remedy : str
        What to do.
    """

    part: str
    rule: str
    found: str
    expected: str
    basis: str
    remedy: str


class Sheets(NamedTuple):
    """Datasheets as arrays, nan where nothing is given.

    Attributes
    ----------
    voltage, stall_torque, no_load_speed, stall_current, no_load_current : ndarray, shape (servo, row)
        Of every row [V], [N m], [rad/s], [A], [A].
    mass : ndarray, shape (servo,)
        With cable [kg].
    volume : ndarray, shape (servo,)
        Of the box around the case [m^3].
    """

    voltage: Floats
    stall_torque: Floats
    no_load_speed: Floats
    stall_current: Floats
    no_load_current: Floats
    mass: Floats
    volume: Floats


class Rule(NamedTuple):
    """What a rule looks at, and what it lets pass.

    Attributes
    ----------
    figure : callable
        From `Sheets` to the figure that is looked at, shape (servo, ...); nan is let pass.
    least, most : float
        What is let pass, both included.
    basis : str
        ``"physics"`` or ``"common practice, no source"``.
    found, expected, remedy : str
        Words; ``{:.3g}`` in the first stands for the figure.
    """

    figure: Callable[[Sheets], Floats]
    least: float
    most: float
    basis: str
    found: str
    expected: str
    remedy: str


def sheets(servos: Sequence[ServoPart]) -> Sheets:
    """Return the datasheets of servos as arrays.

    Parameters
    ----------
    servos : sequence of ServoPart
        Of a catalogue.

    Returns
    -------
    Sheets
        SI values; a servo with fewer rows than another has nan in those that it lacks.
    """
    most = max((len(servo.rows) for servo in servos), default=0)
    rows = np.full((len(_ROW), len(servos), most), np.nan)
    mass, volume = np.full(len(servos), np.nan), np.full(len(servos), np.nan)
    for index, servo in enumerate(servos):
        for at, row in enumerate(servo.rows):
            for column, name in enumerate(_ROW):
                held = stated(row, name)
                if held is not None:
                    rows[column, index, at] = held.si
        mass[index] = stated(servo, "mass").si
        if given(servo, "length", "width", "height"):
            volume[index] = math.prod(
                stated(servo, side).si for side in ("length", "width", "height")
            )
    return Sheets(**dict(zip(_ROW, rows, strict=True)), mass=mass, volume=volume)


def _efficiency(sheet: Sheets) -> Floats:
    idle = np.where(
        np.isnan(sheet.no_load_current), NO_LOAD_SHARE * sheet.stall_current, sheet.no_load_current
    )
    return np.asarray(
        implied_efficiency(
            voltage=sheet.voltage,
            stall_torque=sheet.stall_torque,
            no_load_speed=sheet.no_load_speed,
            stall_current=sheet.stall_current,
            no_load_current=idle,
        )
    )


def _winding(sheet: Sheets) -> Floats:
    """Resistance at stall of each row over that of the lowest row that prints a current."""
    resistance = sheet.voltage / sheet.stall_current
    first = np.argmax(~np.isnan(resistance), axis=-1)[:, np.newaxis]
    return np.asarray(resistance / np.take_along_axis(resistance, first, axis=-1))


def _exponent(name: str) -> Callable[[Sheets], Floats]:
    """Return what gives the power of the voltage with which a column rises from row to row."""

    def exponent(sheet: Sheets) -> Floats:
        column = np.diff(np.log(getattr(sheet, name)), axis=-1)
        return np.asarray(column / np.diff(np.log(sheet.voltage), axis=-1))

    return exponent


def _torque_per_mass(sheet: Sheets) -> Floats:
    return np.asarray(sheet.stall_torque / sheet.mass[:, np.newaxis] / _KGCM_PER_GRAM)


_PHYSICS, _PRACTICE = "physics", "common practice, no source"
_MEASURE = "Measure stall torque and current at one voltage, with fingers clear of the arm."

RULES: dict[str, Rule] = {
    "power": Rule(
        _efficiency,
        0.0,
        1.0,
        _PHYSICS,
        "stall torque x no-load speed is {:.3g} of what the currents put in",
        "at most 1: a servo gives no more than it takes",
        f"The torque or the speed is too high, or the current too low. {_MEASURE}",
    ),
    "high power": Rule(
        lambda sheet: _at_most(_efficiency(sheet), 1.0),
        0.0,
        0.9,
        _PRACTICE,
        "gearbox and driver would have an efficiency of {:.3g}",
        "at most 0.9",
        f"The figures are optimistic. {_MEASURE}",
    ),
    "low power": Rule(
        _efficiency,
        0.2,
        math.inf,
        _PRACTICE,
        "gearbox and driver would have an efficiency of {:.3g}",
        "at least 0.2",
        "Check the units of torque and speed, and whether the current is that of one servo.",
    ),
    "winding": Rule(
        _winding,
        1 / 1.25,
        1.25,
        _PHYSICS,
        "voltage over stall current is {:.3g} times that of the first row",
        "nearly the same resistance at every voltage, unless the driver limits the current",
        "Check the stall currents of all rows.",
    ),
    "torque and voltage": Rule(
        _exponent("stall_torque"),
        0.5,
        1.6,
        _PHYSICS,
        "stall torque rises with the power {:.3g} of the voltage",
        "nearly 1, in proportion",
        "Check the torques: rows are often copied, or one is that of another servo.",
    ),
    "speed and voltage": Rule(
        _exponent("no_load_speed"),
        0.5,
        1.6,
        _PHYSICS,
        "no-load speed rises with the power {:.3g} of the voltage",
        "nearly 1, in proportion",
        "Check the speeds: rows are often copied, or one is that of another servo.",
    ),
    "mass": Rule(
        _torque_per_mass,
        0.03,
        0.7,
        _PRACTICE,
        "{:.3g} kg·cm for each gram",
        "0.03 to 0.7",
        "Check torque and mass, and their units.",
    ),
    "size": Rule(
        lambda sheet: sheet.mass / sheet.volume / 1000.0,
        0.6,
        3.5,
        _PRACTICE,
        "{:.3g} g for each cubic centimetre of its case",
        "0.6 to 3.5",
        "Check mass, length, width and height, and their units.",
    ),
}
"""What is looked at, by name."""


def _at_most(figure: Floats, limit: float) -> Floats:
    """Leave out what another rule tells."""
    return np.where(figure <= limit, figure, np.nan)


def doubts(servos: Sequence[ServoPart]) -> list[Doubt]:
    """Tell which datasheets are hard to believe.

    Parameters
    ----------
    servos : sequence of ServoPart
        Of a catalogue.

    Returns
    -------
    list of Doubt
        In the order of the servos, then of `RULES`; for each the figure that is farthest out.
        A figure that is not given is not looked at.

    Examples
    --------
    >>> from linkcalc.catalogue import ServoPart
    >>> row = {"voltage": "6 V", "stall_torque": "3 kg·cm", "no_load_speed": "0.1 s/60deg"}
    >>> from linkcalc import DatasheetRow
    >>> found = ServoPart(
    ...     name="s",
    ...     source="invented",
    ...     mass="9 g",
    ...     rows=[DatasheetRow(**row, stall_current="0.5 A")],
    ... )
    >>> [(doubt.rule, doubt.found) for doubt in doubts([found])]
    [('power', 'stall torque x no-load speed is 1.27 of what the currents put in')]
    """
    if not servos:
        return []
    sheet = sheets(servos)
    found = [
        (index, number, doubt)
        for number, name in enumerate(RULES)
        for index, doubt in _broken(servos, sheet, name)
    ]
    return [doubt for _, _, doubt in sorted(found, key=lambda item: item[:2])]


def _broken(servos: Sequence[ServoPart], sheet: Sheets, name: str) -> Iterator[tuple[int, Doubt]]:
    """Yield the servos that break a rule, each with its figure that is farthest out."""
    rule = RULES[name]
    figures = rule.figure(sheet).reshape(len(servos), -1)
    beyond = np.fmax(rule.least - figures, figures - rule.most)
    for index in np.flatnonzero((beyond > 0).any(axis=-1)).tolist():
        worst = figures[index, np.nanargmax(beyond[index])]
        words = rule.found.format(float(worst))
        doubt = Doubt(servos[index].name, name, words, rule.expected, rule.basis, rule.remedy)
        yield index, doubt
