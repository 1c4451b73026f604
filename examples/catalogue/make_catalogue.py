"""Draw a catalogue of invented parts: python examples/catalogue/make_catalogue.py > parts.toml.

No servo, arm, horn, rod, joint or wire in it is any product. The servos, 4 g to 100 g, follow
the laws below (our choice, made up for this example), with scatter, and some of them with
flaws that datasheets have: an optimistic torque, a current that does not fit, a torque that
does not rise with the voltage. Whoever needs other parts changes a law and runs it again.
"""

from __future__ import annotations

import math
import random
from statistics import NormalDist
from typing import NamedTuple

SEED = 20250314
SERVOS = 144
GRAVITY = 9.80665
INVENTED = "invented, drawn by make_catalogue.py"

_drawn = random.Random(SEED)  # noqa: S311 - an example, not a secret


def uniform(low: float, high: float) -> float:
    """Draw a number: `random` is the one function that all versions of Python agree on."""
    return low + (high - low) * _drawn.random()


def scatter(width: float) -> float:
    """Draw a factor around 1, log-normal with a standard deviation of the logarithm."""
    return math.exp(width * NormalDist().inv_cdf(uniform(1e-6, 1.0 - 1e-6)))


class Row(NamedTuple):
    """One row of an invented datasheet: V, kg·cm, s/60deg, A, A."""

    voltage: float
    torque: float
    sweep: float
    stall: float
    idle: float


def rows_of(mass: float, *, high_voltage: bool) -> list[Row]:
    """Draw a datasheet for a mass in grams.

    Laws, at the reference voltage of 6.0 V (7.4 V for high voltage):

    - torque 0.11 kg·cm x mass^1.15, traded for speed at nearly constant power;
    - 0.12 s for 60 degrees, scattered;
    - stall current from the electrical power, T omega = efficiency V I (1 - f)^2, with an
      efficiency of 0.45 to 0.75 and f, no-load over stall current, of 0.06 to 0.15;
    - over the voltage, speed and currents in proportion, torque nearly so.
    """
    reference = 7.4 if high_voltage else 6.0
    sweep = 0.12 * scatter(0.25)
    torque = 0.11 * mass**1.15 * (sweep / 0.12) ** 0.8 * scatter(0.22)
    share = uniform(0.06, 0.15)
    power = torque * GRAVITY / 100 * math.radians(60) / sweep
    stall = power / (uniform(0.45, 0.75) * reference * (1 - share) ** 2)
    rise = uniform(0.85, 1.05)
    found = []
    for voltage in (6.0, 7.4, 8.4) if high_voltage else (4.8, 6.0):
        ratio = voltage / reference
        found.append(
            Row(voltage, torque * ratio**rise, sweep / ratio, stall * ratio, share * stall * ratio)
        )
    return found


def flawed(rows: list[Row], flaw: str) -> list[Row]:
    """Spoil a datasheet as some are."""
    if flaw == "optimistic torque":
        factor = uniform(2.2, 3.2)
        return [row._replace(torque=row.torque * factor) for row in rows]
    if flaw == "level torque":
        return [row._replace(torque=rows[-1].torque) for row in rows]
    if flaw == "odd current":
        first = rows[0]._replace(stall=rows[0].stall * uniform(1.8, 2.5))
        return [first, *rows[1:]]
    return rows


FLAWS = ("optimistic torque", "level torque", "odd current")
EVERY = 12  # so many servos bring each flaw once
SPOILED = {"optimistic torque": "stall_torque", "level torque": "stall_torque"}


def servo(number: int) -> list[str]:
    """Write one servo."""
    mass = 4.0 * (100.0 / 4.0) ** ((number + uniform(0.0, 1.0)) / SERVOS)
    high_voltage = mass > 12.0 and uniform(0.0, 1.0) < 0.45
    flaw = FLAWS[number % EVERY] if number % EVERY < len(FLAWS) else ""
    rows = flawed(rows_of(mass, high_voltage=high_voltage), flaw)
    metal = uniform(0.0, 1.0) < 0.3 + mass / 150
    price = (5.0 + 0.9 * mass**0.75) * (1.5 if metal else 1.0) * scatter(0.2)
    side = (mass / uniform(1.2, 1.6)) ** (1 / 3) * 10  # a cube of this density, in mm
    lines = [f"[servos.invented-{number + 1:03}]", f'source = "{INVENTED}"']
    if flaw:
        figure = SPOILED.get(flaw, "stall_current")
        lines.append(f'sources = {{ {figure} = "{INVENTED}, with a flaw on purpose: {flaw}" }}')
    lines += ["rows = [", *map(printed, rows), "]"]
    lines += [
        f'mass = "{mass:.1f} g"',
        f'length = "{side * 1.32:.1f} mm"',
        f'width = "{side * 0.64:.1f} mm"',
        f'height = "{side * 1.18:.1f} mm"',
        f"price = {price:.2f}",
        f"arm_holes = [{holes(side * 0.45, side * 0.95, 2.0 if mass < 15 else 3.0)}]",
        f'spline = "{spline(mass)}"',
        f'gear = "{"metal" if metal else "plastic"}"',
        f'bearing = "{bearing(mass)}"',
        f'gear_play = "{uniform(0.2, 0.9 if metal else 0.6):.2f} deg"',
        f'maximum_voltage = "{8.4 if high_voltage else 6.6} V"',
        "",
    ]
    return lines


def printed(row: Row) -> str:
    """Write a row as datasheets print it: few digits."""
    return (
        f'    {{ voltage = "{row.voltage} V", stall_torque = "{row.torque:.3g} kg·cm", '
        f'no_load_speed = "{row.sweep:.3f} s/60deg", stall_current = "{row.stall:.3g} A", '
        f'no_load_current = "{row.idle:.3g} A" }},'
    )


def spline(mass: float) -> str:
    """Return the spline that goes with a mass in grams."""
    return "15T" if mass < 7 else "21T" if mass < 22 else "25T"


def bearing(mass: float) -> str:
    """Return what carries the shaft of a servo of a mass in grams."""
    return "plain" if mass < 9 else "one ball bearing" if mass < 25 else "two ball bearings"


def holes(first: float, last: float, step: float) -> str:
    """Write the radii of holes at a spacing, all in mm, as a TOML list without its brackets."""
    count = int((last - first) / step) + 1
    return ", ".join(f'"{first + step * index:.1f} mm"' for index in range(count))


def others() -> list[str]:
    """Write the arms, horns, rods, joints, wires and connectors."""
    lines = []
    for teeth, first in (("15T", 6.0), ("21T", 7.5), ("25T", 9.0)):
        for words, count in (("short", 3), ("long", 6)):
            lines += part(
                f"arms.{words}-{teeth}",
                f"holes = [{holes(first, first + 2.5 * (count - 0.5), 2.5)}]",
                f'spline = "{teeth}"',
                f'hole_diameter = "{1.1 if teeth == "15T" else 1.6} mm"',
                f'mass = "{0.15 * count * first / 6:.2f} g"',
                f"price = {0.4 + 0.15 * count:.2f}",
            )
    for words, first, count in (("low", 8.0, 3), ("mid", 10.0, 5), ("high", 14.0, 6)):
        lines += part(
            f"horns.{words}",
            f"holes = [{holes(first, first + 2.0 * (count - 0.5), 2.0)}]",
            'hole_diameter = "1.6 mm"',
            f'mass = "{0.03 * (first + 2 * count):.2f} g"',
            f"price = {0.5 + 0.03 * first:.2f}",
        )
    for material, density, sizes in (
        ("steel wire", 7.85, (1.0, 1.5, 2.0)),
        ("carbon rod", 1.6, (1.5, 2.0, 3.0)),
    ):
        for size in sizes:
            lines += part(
                f"rods.{material.split()[0]}-{size * 10:.0f}",
                f'diameter = "{size} mm"',
                f'material = "{material}"',
                'longest = "1 m"',
                f'mass_per_length = "{density * math.pi / 4 * size**2:.2f} g/m"',
                f"price = {0.8 * size if density > 2 else 1.5 * size:.2f}",
            )
    for words, rating, play in (
        ("clevis-m2", 90, 0.05),
        ("clevis-m3", 200, 0.04),
        ("ball-m3", 160, 0.02),
    ):
        lines += part(
            f"joints.{words}",
            f'rating = "{rating} N"',
            f'play = "{play} mm"',
            f'mass = "{rating / 100:.1f} g"',
            f"price = {rating / 100:.2f}",
        )
    for gauge in range(30, 19, -2):
        area = math.pi / 4 * (0.127 * 92 ** ((36 - gauge) / 39)) ** 2  # mm^2, ASTM B258
        lines += part(
            f"wires.awg-{gauge}",
            f'gauge = "{gauge} AWG"',
            f'outer_diameter = "{math.sqrt(4 * area / math.pi) * 1.15 + 0.8:.2f} mm"',
            f'mass_per_length = "{area * 8.89 + 1.2 + area * 2:.2f} g/m"',
            f"price_per_metre = {0.3 + 0.8 * area:.2f}",
        )
    for words, resistance, rating in (("three-pin", 8, 3), ("six-pin", 4, 5)):
        lines += part(
            f"connectors.{words}",
            f'contact_resistance = "{resistance} mohm"',
            f'rating = "{rating} A"',
            'width = "8 mm"',
            f'height = "{rating} mm"',
            f'mass = "{rating * 0.3:.1f} g"',
            f"price = {rating * 0.4:.2f}",
        )
    return lines


def part(heading: str, *lines: str) -> list[str]:
    """Write one part."""
    return [f"[{heading}]", f'source = "{INVENTED}"', *lines, ""]


def catalogue() -> str:
    """Write the whole catalogue; the same one every time."""
    _drawn.seed(SEED)
    lines = [
        "# Invented parts, drawn by make_catalogue.py from the laws that stand there.",
        "# No part here is any product, and some datasheets are wrong on purpose.",
        'format = "linkcalc.catalogue/1"',
        'name = "Invented parts for survey gliders"',
        'currency = "EUR"',
        "",
    ]
    for number in range(SERVOS):
        lines += servo(number)
    return "\n".join([*lines, *others()])


if __name__ == "__main__":
    import sys

    sys.stdout.reconfigure(encoding="utf-8")  # kg·cm, whatever the terminal says
    print(catalogue(), end="")
