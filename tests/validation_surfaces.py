"""Surfaces that move as a whole, split flaps and the lattice beside references, for the page of validation."""

from __future__ import annotations

import csv
import math
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from linkcalc_hinge_moment import band
from linkcalc_hinge_moment.all_moving import AllMoving
from linkcalc_hinge_moment.lattice import converged
from linkcalc_hinge_moment.panels import trapezoid
from linkcalc_hinge_moment.slopes import deflection_slope, incidence_slope
from linkcalc_hinge_moment.split_flap import SplitFlap

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from linkcalc_hinge_moment.panels import Planform

Floats = np.ndarray[Any, np.dtype[np.float64]]

FOLDER = Path(__file__).resolve().parent / "reference"
REFERENCE = FOLDER / "hinge_viscous.csv"
INVISCID = 1e9  # stands for "no boundary layer" where a Reynolds number is due
HINGES = (0.15, 0.2, 0.25, 0.3)
"""Hinge positions at which surfaces that move as a whole are compared."""


class Outside(NamedTuple):
    """How far sections lie outside a band without its widening.

    Attributes
    ----------
    source : ndarray of str
        Of each case.
    over, under : ndarray
        Above the high line, and below the low line, in C_h; zero or less inside.
    """

    source: Any
    over: Floats
    under: Floats


class Whole(NamedTuple):
    """Computed sections with the flap at neutral, taken for a surface that moves as a whole.

    Attributes
    ----------
    reynolds, alpha, c_l, c_m : ndarray
        Chord's Reynolds number, angle [rad], lift, and moment about a quarter of the chord.
    c_l0, C_h0 : ndarray
        Of the section without boundary layer at no angle: lift, and moment about the nose.
    """

    reynolds: Floats
    alpha: Floats
    c_l: Floats
    c_m: Floats
    c_l0: Floats
    C_h0: Floats


def whole_sections() -> Whole:
    """Read the computed sections whose flap stands at neutral, each once."""
    with REFERENCE.open(encoding="utf-8", newline="") as file:
        rows = [
            row
            for row in csv.DictReader(file)
            if float(row["delta_deg"]) == 0 and row["chord_ratio"] == "0.2"
        ]
    ideal = {
        row["section"]: row for row in rows if float(row["Re"]) == float(row["alpha_deg"]) == 0
    }
    neutral = {name: (float(row["cl"]), float(row["cm_c4"])) for name, row in ideal.items()}
    columns = [
        (float(row["Re"]), math.radians(float(row["alpha_deg"])), float(row["cl"]), float(row["cm_c4"]),
         neutral[row["section"]][0], neutral[row["section"]][1] - 0.25 * neutral[row["section"]][0])
        for row in rows
    ]  # fmt: skip
    return Whole(*np.array(columns).T)


class Held(NamedTuple):
    """A surface that moves as a whole: moments against its angle, over q S c.

    Attributes
    ----------
    low, best, high, reference : ndarray
        At neutral, which has no sense, the high line is the greater of both.
    """

    low: Floats
    best: Floats
    high: Floats
    reference: Floats


def as_a_whole(part: Whole, hinge: float, reynolds: Floats) -> Held:
    """Set the solver beside computed sections that turn about a hinge."""
    unit = {"dynamic_pressure": 1.0, "area": 1.0, "chord": 1.0, "taper": 1.0, "density": 2.0}
    fields = dict.fromkeys(AllMoving.fields, 0.0) | unit
    fields |= {"aspect_ratio": math.inf, "hinge_position": hinge, "deflection": part.alpha}
    fields |= {"C_h0": part.C_h0, "c_l0": part.c_l0, "viscosity": 2.0 / reynolds}
    made = AllMoving()({key: np.asarray(value) for key, value in fields.items()})
    sign = np.where(part.alpha < 0, 1.0, -1.0)
    low, best, high = (sign * made[line] for line in ("low", "best", "high"))
    high = np.where(part.alpha == 0, np.maximum(high, -sign * made["other_high"]), high)
    return Held(low, best, high, sign * (part.c_m + (hinge - 0.25) * part.c_l))


def whole_excess(cases: Whole) -> Outside:
    """What the low-Reynolds widening of a surface that moves as a whole has to cover."""
    size = np.abs(cases.alpha) <= band.LAMINAR_DEFLECTION[0] + 1e-6
    which = (cases.reynolds > 0) & (cases.reynolds <= band.LAMINAR_REYNOLDS[0]) & size
    taken = Whole(*(column[which] for column in cases))
    name = np.where(taken.C_h0 == 0, "naca0012", "naca2412")
    over, under = [], []
    for hinge in HINGES:
        made = as_a_whole(taken, hinge, np.full(len(taken.alpha), INVISCID))
        reach = np.where(taken.alpha == 0, np.abs(made.reference), made.reference)
        over.append(reach - made.high)
        under.append(made.low - made.reference)
    return Outside(np.tile(name, len(HINGES)), np.concatenate(over), np.concatenate(under))


def all_moving_rows(cases: Whole) -> Iterator[str]:
    """Lines of the table of surfaces that move as a whole."""
    for hinge in HINGES:
        for name, which in (
            ("none", cases.reynolds == 0),
            ("1e6", cases.reynolds == 1e6),
            ("2e5", cases.reynolds == 2e5),
        ):
            part = Whole(*(column[which] for column in cases))
            low, best, high, reference = as_a_whole(
                part, hinge, np.where(part.reynolds == 0, INVISCID, part.reynolds)
            )
            off, held = best - reference, (low <= reference + 1e-9) & (reference <= high + 1e-9)
            yield (
                f"| {hinge:g} | {name} | {len(off)} | {off.mean():+.3f} | {off.std():.3f} "
                f"| {off.min():+.3f} | {off.max():+.3f} | {100 * held.mean():.0f} % |"
            )


def reference_rows(file: str) -> list[dict[str, str]]:
    """Read a table of published values."""
    with (FOLDER / file).open(encoding="utf-8", newline="") as text:
        return list(csv.DictReader(text))


def stated(row: Mapping[str, str], name: str) -> float:
    """Return a number that a reference's inputs state."""
    return float(re.search(rf"{name}=(-?[\d.]*\d)", row["inputs"])[1])  # type: ignore[index] # it does


def split_flap_rows() -> Iterator[str]:
    """Lines of the table of split flaps."""
    rows = reference_rows("flat_plate.csv")
    theory: dict[float, float] = {}
    for row in rows:
        if row["inputs"].startswith("alpha"):
            angle = stated(row, "alpha")
            theory[angle] = theory.get(angle, 1.0) * float(row["expected"])
    plates = [
        (f"free streamlines, {angle:g} degrees (closed form)", angle, moment)
        for angle, moment in theory.items()
        if angle >= 30
    ]
    plates += [
        (f"{row['inputs']}, broadside (measured)", 90.0, 0.5 * float(row["expected"]))
        for row in rows
        if row["quantity"].startswith("C_D flat plate")
    ]
    for name, angle, moment in plates:
        unit = {"dynamic_pressure": 1.0, "area": 1.0, "chord": 1.0, "taper": 1.0}
        fields = dict.fromkeys(SplitFlap.fields, 0.0) | unit | {"deflection": math.radians(angle)}
        made = SplitFlap()({key: np.asarray(value) for key, value in fields.items()})
        low, best, high = (-float(made[line]) for line in ("low", "best", "high"))
        inside = "yes" if low <= moment * 1.001 and moment <= high * 1.001 else "no"
        yield f"| {name} | {moment:.3f} | {low:.3f} | {best:.3f} | {high:.3f} | {inside} |"


def lattice_rows() -> Iterator[str]:
    """Lines of the table of the lattice beside closed forms."""
    for row in reference_rows("hinge_handbook.csv"):
        if row["quantity"].startswith("finite-span"):
            aspect, ratio = stated(row, "AR"), stated(row, "flap_chord_ratio")
            slope = row["quantity"].split()[1].rstrip(",")
            name = f"{slope}, aspect ratio {aspect:g}, chord ratio {ratio:g}: lifting line"
            member = {"C_h_alpha": "incidence", "C_h_delta": "alike"}[slope]
            wing = _rectangle(aspect, 0.0, ratio)
            yield _beside(name, wing, member, float(row["expected"]))
    for ratio in (0.2, 0.4):
        # 2 / (AR + 2) of a surface this long is less than 0.01
        for member, form in (("incidence", incidence_slope), ("alike", deflection_slope)):
            slope = {"incidence": "C_h_alpha", "alike": "C_h_delta"}[member]
            name = f"{slope}, aspect ratio 200, chord ratio {ratio:g}: section, Glauert"
            wing = _rectangle(200.0, 0.0, ratio)
            yield _beside(name, wing, member, float(form(chord_ratio=ratio)))
    for row in reference_rows("lifting_surface.csv"):
        kind = row["quantity"]
        if ("Helmbold" in kind and stated(row, "AR") >= 3) or "Polhamus" in kind:
            aspect = stated(row, "AR")
            sweep = stated(row, "half-chord sweep") if "sweep" in row["inputs"] else 0.0
            name = (
                f"lift slope, aspect ratio {aspect:g}, sweep {sweep:g} degrees: {kind.split()[1]}"
            )
            wing = _rectangle(aspect, sweep, 0.3)
            yield _beside(name, wing, "lift_of_incidence", float(row["expected"]))


def _rectangle(aspect: float, sweep: float, ratio: float) -> Planform:
    return trapezoid(
        half_span=0.5 * aspect,
        root_chord=1.0,
        tip_chord=1.0,
        chord_ratio=ratio,
        sweep=math.radians(sweep),
    )


def _beside(name: str, wing: Planform, member: str, expected: float) -> str:
    found = converged(wing)
    value, left = getattr(found.slopes, member), getattr(found.remaining, member)
    return f"| {name} | {value:.3f} | {left:.3f} | {expected:.3f} | {100 * (value / expected - 1):+.1f} % |"
