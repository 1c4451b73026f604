"""Write the page that holds the code against every reference there is.

Run it as ``python tests/validation_page.py`` to write `docs/validation.md` anew. The suite compares
the page with what this makes of the code as it stands, so that page and code stay together. What is
computed of single values is in `validation_rows.py`; here is what is made of the many sections.
"""

from __future__ import annotations

import csv
import math
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from linkcalc_hinge_moment import all_moving, band
from linkcalc_hinge_moment.charts import read
from linkcalc_hinge_moment.handbook import Handbook
from linkcalc_hinge_moment.plate import Plate
from linkcalc_hinge_moment.slopes import deflection_slope, incidence_slope
from linkcalc_hinge_moment.thin_aerofoil import DEFLECTION_SHARE, INCIDENCE_SHARE, ThinAerofoil

sys.path.insert(0, str(Path(__file__).resolve().parent))

import validation_rows
from validation_surfaces import (
    HINGES,
    INVISCID,
    all_moving_rows,
    as_a_whole,
    lattice_rows,
    split_flap_rows,
    whole_excess,
    whole_sections,
)

__all__ = ["HINGES", "INVISCID", "as_a_whole", "facts", "page", "sections", "whole_sections"]

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

Floats = np.ndarray[Any, np.dtype[np.float64]]

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "validation.md"
REFERENCE = ROOT / "tests" / "reference" / "hinge_viscous.csv"
BANDS = ((0.0, 0.0), (0.0, 5.0), (5.0, 10.0), (10.0, 15.0), (15.0, 25.0))
SOLVERS = (ThinAerofoil(), Handbook(), Plate())
RESERVE = 1.5
"""How much wider than the worst residual a width is (common practice, no source)."""
CHARTED = {"thickness": 0.12, "lift slope ratio": 0.9}
"""Section at which the charts are read for the shares of theory: that of the computed sections."""


class Sections(NamedTuple):
    """Computed sections: one entry for each case.

    Attributes
    ----------
    source : ndarray of str
        Section and chord ratio.
    chord_ratio, reynolds, alpha, delta, C_h, separated, C_h0, c_l0 : ndarray
        In radians; the last two are those of the section without boundary layer, at no angle.
    """

    source: Any
    chord_ratio: Floats
    reynolds: Floats
    alpha: Floats
    delta: Floats
    C_h: Floats
    separated: Floats
    C_h0: Floats
    c_l0: Floats

    def where(self, which: Any) -> Sections:
        """Return some of the cases."""
        return Sections(*(column[which] for column in self))


def sections() -> Sections:
    """Read the computed sections."""
    with REFERENCE.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))

    def column(name: str) -> Floats:
        return np.array([float(row[name] or 0.0) for row in rows])

    source = np.array([f"{row['section']}, {row['chord_ratio']}" for row in rows])
    reynolds, alpha, delta = column("Re"), column("alpha_deg"), column("delta_deg")
    at_nothing = (reynolds == 0) & (alpha == 0) & (delta == 0)
    own = [np.flatnonzero(at_nothing & (source == name))[0] for name in source]
    return Sections(
        source, column("chord_ratio"), reynolds, np.radians(alpha), np.radians(delta),
        column("ch"), column("sep_flap"), column("ch")[own], column("cl")[own],
    )  # fmt: skip


def predicted(solver: Any, cases: Sections) -> dict[str, Floats]:
    """Coefficients on the three lines, in the moment that opposes the deflection."""
    unit = {"dynamic_pressure": 1.0, "area": 1.0, "chord": 1.0, "taper": 1.0, "density": 2.0}
    reynolds = np.where(cases.reynolds == 0, INVISCID, cases.reynolds)
    fields = dict.fromkeys(solver.fields, 0.0) | unit
    fields |= {
        "chord_ratio": cases.chord_ratio,
        "viscosity": 2.0 / cases.chord_ratio / reynolds,
        "incidence": cases.alpha,
        "largest_incidence": np.abs(cases.alpha),
        "deflection": cases.delta,
        "C_h0": cases.C_h0,
        "c_l0": cases.c_l0,
        "aspect_ratio": math.inf,
        "thickness_ratio": 0.12,
        "lift_slope_ratio": np.where(cases.reynolds == 0, 1.0, 0.0),
    }
    made = solver({name: np.asarray(fields[name]) for name in solver.fields})
    sign = against(cases)
    lines = {line: sign * made[line] for line in ("low", "best", "high")}
    neutral = cases.delta == 0
    # at neutral either sense counts
    lines["high"] = np.where(neutral, np.maximum(lines["high"], -sign * made["other_high"]), lines["high"])  # fmt: skip
    return lines


def against(cases: Sections) -> Floats:
    """Sign that turns a moment into one that opposes the deflection."""
    return np.where(cases.delta < 0, 1.0, -1.0)


def attached(cases: Sections) -> Any:
    """Where the reference is an estimate, and not only a lower one."""
    small = np.abs(cases.delta) <= math.radians(10.001)
    return (cases.reynolds == 0) | (small & (cases.separated < 0.5))


def bands(cases: Sections) -> Iterator[tuple[str, Any]]:
    """Name each band of deflection, and say which cases are in it."""
    size = np.degrees(np.abs(cases.delta))
    for low, high in BANDS:
        name = "0" if high == 0 else f"{low:g} to {high:g}"
        yield name, (size <= high + 1e-6) & ((size > low + 1e-6) | (high == 0))


def residual_rows(cases: Sections, which: Any) -> Iterator[str]:
    """Lines of the table of residuals."""
    for solver in SOLVERS:
        for name, inside in bands(cases):
            taken = cases.where(inside & which)
            if not len(taken.C_h):
                continue
            lines = predicted(solver, taken)
            reference = against(taken) * taken.C_h
            off = lines["best"] - reference
            held = (lines["low"] <= reference + 1e-9) & (reference <= lines["high"] + 1e-9)
            yield (
                f"| {solver.name} | {name} | {len(off)} | {off.mean():+.3f} | {off.std():.3f} "
                f"| {off.min():+.3f} | {off.max():+.3f} | {100 * held.mean():.0f} % |"
            )


class Excess(NamedTuple):
    """How far reference cases lie outside the band without its widening.

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


def laminar_excess(cases: Sections) -> Excess:
    """What the low-Reynolds widening has to cover."""
    size = np.abs(cases.delta) <= band.LAMINAR_DEFLECTION[0] + 1e-6
    taken = cases.where((cases.reynolds > 0) & (cases.reynolds <= band.LAMINAR_REYNOLDS[0]) & size)
    without = taken._replace(reynolds=np.zeros(len(taken.C_h)))
    lines = predicted(ThinAerofoil(), without)
    reference = against(taken) * taken.C_h
    size_at = np.where(taken.delta == 0, np.abs(reference), reference)
    return Excess(taken.source, size_at - lines["high"], lines["low"] - reference)


def width_from(excess: Excess) -> float:
    """Return the width that residuals ask for: 1.5 times the worst, up to the next 0.01."""
    worst = max(excess.over.max(), excess.under.max(), 0.0)
    return math.ceil(100 * RESERVE * worst - 1e-9) / 100


def left_out_rows(excess: Excess) -> Iterator[str]:
    """Lines of the table of the widening with one source left out."""
    for name in sorted(set(excess.source)):
        own, others = excess.source == name, excess.source != name
        width = width_from(Excess(*(column[others] for column in excess)))
        held = (excess.over[own] <= width) & (excess.under[own] <= width)
        worst = max(excess.over[own].max(), excess.under[own].max(), 0.0)
        yield f"| {name} | {width:.2f} | {worst:.3f} | {100 * held.mean():.0f} % |"


def shares(cases: Sections, which: Any) -> tuple[float, float]:
    """Shares of b_1 and b_2 that fit references best, by least squares."""
    taken = cases.where(which)
    b1 = incidence_slope(chord_ratio=taken.chord_ratio) * taken.alpha
    b2 = deflection_slope(chord_ratio=taken.chord_ratio) * taken.delta
    target = taken.C_h - taken.C_h0
    found, *_ = np.linalg.lstsq(np.stack([b1, b2], axis=-1), target, rcond=None)
    return float(found[0]), float(found[1])


def share_rows(cases: Sections) -> Iterator[str]:
    """Lines of the table of fitted shares."""
    viscous = attached(cases) & (cases.reynolds == 1e6)
    for name in ("", *sorted(set(cases.source))):
        first, second = shares(cases, viscous & (cases.source != name))
        yield f"| {name or 'none'} | {first:.2f} | {second:.2f} |"


def least_share(cases: Sections) -> tuple[float, str]:
    """Least part of |b_2 delta| that attached sections kept at no incidence, and where."""
    which = attached(cases) & (cases.reynolds > 0) & (cases.alpha == 0) & (cases.delta != 0)
    taken = cases.where(which)
    theory = np.abs(deflection_slope(chord_ratio=taken.chord_ratio) * taken.delta)
    kept = (against(taken) * (taken.C_h - taken.C_h0)) / theory
    worst = int(np.argmin(kept))
    where = f"{taken.source[worst]}, Re {taken.reynolds[worst]:.0e}"
    return float(kept[worst]), f"{where}, {math.degrees(taken.delta[worst]):g} degrees"


def charted_shares() -> dict[str, tuple[float, float]]:
    """Least and greatest share of b_1 and b_2 that the charts have from chord ratio 0.2 to 0.4."""
    ratio = np.linspace(0.2, 0.4, 21)
    made = {}
    for kind, slope in (("incidence", incidence_slope), ("deflection", deflection_slope)):
        thick = read(f"{kind} slope", CHARTED["thickness"], ratio).value
        viscous = read(f"{kind} ratio", CHARTED["lift slope ratio"], ratio).value
        kept = np.asarray(thick * viscous / slope(chord_ratio=ratio))
        made[kind] = (float(kept.min()), float(kept.max()))
    return made


def share_from(charted: tuple[float, float]) -> float:
    """Return the share that charts ask for: their greatest, to the nearest tenth."""
    return round(10 * charted[1]) / 10


KNOWN = {"seen": "as printed", "closed-form": "from its formula", "memory": "from memory"}
"""How a value of a reference is known."""


def tables() -> Iterator[str]:
    """Lines of the page: for every source a table of its cases."""
    for source, cases in validation_rows.by_source().items():
        yield from (f"### {source}", "")
        held = [case for case in cases if not math.isnan(case.got)]
        if held:
            yield "| case | quantity | inputs | known | expected | got | deviation | allowed |"
            yield "| --- | --- | --- | --- | --- | --- | --- | --- |"
            yield from map(_line, held)
            yield ""
        left: dict[str, list[str]] = {}
        for case in cases:
            if math.isnan(case.got):
                left.setdefault(case.row["quantity"] + ": " + case.why, []).append(case.row["id"])
        yield from (f"Not computed: {what} ({', '.join(ids)})." for what, ids in left.items())
        yield from [""] * bool(left)


def _line(case: Any) -> str:
    row = case.row
    unit = "" if row["unit"] == "-" else f" {row['unit']}"
    off = case.got - case.expected
    relative = case.expected and row["tolerance_kind"] != "abs"
    scale, mark = (100.0 / abs(case.expected), " %") if relative else (1.0, unit)
    why = f" ({case.why})" if case.why else ""
    cells = (
        row["id"],
        row["quantity"],
        row["inputs"].replace("; lengths mm; right-hand rotations; branch through zero", ""),
        KNOWN[row["provenance"]],
        f"{row['expected']}{unit}",
        f"{case.got:.6g}{unit}",
        f"{off * scale:+.4f}{mark}",
        f"{case.allowed * scale:.2g}{mark}{why}",
    )
    return "| {} |".format(" | ".join(cell.replace("|", r"\\|") for cell in cells))


def summary() -> Iterator[str]:
    """Lines of the page: how many cases, by file."""
    yield "| file | cases | computed | largest share of what is allowed |"
    yield "| --- | --- | --- | --- |"
    for name in validation_rows.FILES:
        cases = [validation_rows.compared(row) for row in validation_rows.rows(name)]
        held = [case for case in cases if not math.isnan(case.got)]
        worst = max(abs(case.got - case.expected) / case.allowed for case in held)
        yield f"| `{name}.csv` | {len(cases)} | {len(held)} | {worst:.2f} |"


HEADING = (
    "| solver | deflection, degrees | cases | mean | spread | least | greatest | in the band |",
    "| --- | --- | --- | --- | --- | --- | --- | --- |",
)


def page() -> str:
    """Return the page."""
    cases = sections()
    excess = laminar_excess(cases)
    kept, where = least_share(cases)
    whole = whole_excess(whole_sections())
    charted, fitted = charted_shares(), fitted_shares(cases)
    viscous = cases.reynolds > 0
    lines = [
        "# Validation",
        "",
        "This page is written by `python tests/validation_page.py` from the code and the",
        "reference cases in `tests/reference/`; the suite fails when page and code disagree, and where",
        "a value is further from its reference than the source allows. First single values by source,",
        "then how good the air loads are. Nothing here has been held against an aircraft in flight.",
        "",
        "## Published values",
        "",
        "Known tells whether the value was seen in print, worked from the source's formula, or cited from",
        "memory; allowed is half of its last digit, or the accuracy that the source claims.",
        "",
        *summary(),
        "",
        *tables(),
        "## How good the air loads are",
        "",
        "The reference is `hinge_viscous.csv`: sections NACA 0012 and 2412 with plain flaps of 0.2 and",
        "0.4 of the chord, computed by a general-purpose viscous panel method without boundary layer",
        "and at Reynolds numbers of 2e5 and 1e6. To 10 degrees, with less than half of the flap",
        "separated, it is within about 5 % of tunnel figures in the slope with deflection and 20 % in",
        "that with incidence at large Reynolds numbers. Beyond it is a lower reference only: real",
        "moments are larger. No measured hinge moment and no slab is among the cases, so the band",
        "of a slab rests on the formulas alone.",
        "",
        "Residuals are best line less reference in the coefficient $C_h$, in the moment that opposes the",
        "deflection: positive is more load than the reference. The largest incidence of the band",
        "is the incidence of the case, no more.",
        "",
        "### Attached flow, with a boundary layer",
        "",
        *HEADING,
        *residual_rows(cases, viscous & attached(cases)),
        "",
        "`plate` is a floor for separated flow, and no estimate here.",
        "",
        "### Separated flow: the reference is a lower one",
        "",
        *HEADING,
        *residual_rows(cases, viscous & ~attached(cases)),
        "",
        "### No boundary layer",
        "",
        *HEADING,
        *residual_rows(cases, ~viscous),
        "",
        "### Surfaces that move as a whole",
        "",
        "`all_moving` beside the same sections with the flap at neutral: the reference is their moment about",
        "a quarter of the chord and their lift, taken about the hinge. Angles reach 8 degrees.",
        "",
        "| hinge, chords aft of the nose | Reynolds number | cases | mean | spread | least | greatest | in the band |",
        "| --- | --- | --- | --- | --- | --- | --- | --- |",
        *all_moving_rows(whole_sections()),
        "",
        "### Split flaps: plates alone",
        "",
        "No split flap was measured or computed here. Plates are what `split_flap` is made of, so that the",
        "closed form and the long plate lie on its ends by construction; the square plate is a test.",
        "",
        "| reference | $C_h$ | low | best | high | in the band |",
        "| --- | --- | --- | --- | --- | --- |",
        *split_flap_rows(),
        "",
        "### The lattice: theory beside theory",
        "",
        "No measured surface is among these. They tell that the equations are solved, not that the air",
        "obeys them; for that the best line has the shares below, which are those of `thin_aerofoil`.",
        "Slopes are per radian, without shares; the lifting line and the forms of Helmbold and of Polhamus",
        "are approximations themselves, good to some per cent.",
        "",
        "| case | lattice | known to remain | reference | difference |",
        "| --- | --- | --- | --- | --- |",
        *lattice_rows(),
        "",
        "### Where the widths come from",
        "",
        "What is left out below is a *group* of one and the same data set, a section with one chord ratio,",
        "computed by one method. It tells how a width carries over to another section, not to another",
        "method, tunnel or aircraft: there is no second source to leave out.",
        "",
        f"**Low Reynolds numbers: {band.LOW_REYNOLDS_WIDTH:g} to either side.** At a Reynolds number of 2e5 and",
        f"to 8 degrees of deflection {int((np.maximum(excess.over, excess.under) > 0).sum())} of {len(excess.over)} cases lie outside the band without it: by at most",
        f"{max(excess.over.max(), 0.0):.3f} above the high line and {max(excess.under.max(), 0.0):.3f} below the low line. The rule is {RESERVE:g} times the",
        f"worst residual, up to the next 0.01: {width_from(excess):.2f}. With one group left out, the width that",
        "the others ask for, and how many cases of the group left out it holds:",
        "",
        "| left out | width from the others | its own worst residual | held |",
        "| --- | --- | --- | --- |",
        *left_out_rows(excess),
        "",
        f"So a width made without it would have held {worst_coverage(excess):.0f} % of the cases of the worst group. The",
        f"{band.LOW_REYNOLDS_WIDTH:g} in the code holds all {len(excess.over)}, of which that group is a part; of a section that is not",
        f"among them the page promises no more than {worst_coverage(excess):.0f} % to this band.",
        "",
        f"**The same of a surface that moves as a whole: {all_moving.LOW_REYNOLDS_WIDTH:g} to either side.** Without it {int((np.maximum(whole.over, whole.under) > 0).sum())} of {len(whole.over)} cases",
        f"at 2e5 lie outside the band of `all_moving`, by at most {max(whole.over.max(), 0.0):.3f} above and {max(whole.under.max(), 0.0):.3f} below; by the",
        f"same rule {width_from(whole):.2f}. With one section left out:",
        "",
        "| left out | width from the others | its own worst residual | held |",
        "| --- | --- | --- | --- |",
        *left_out_rows(whole),
        "",
        f"**Shares of theory on the best line: {INCIDENCE_SHARE:g} of $b_1$ and {DEFLECTION_SHARE:g} of $b_2$.** They come from the handbook's",
        f"charts, not from the residuals: for {100 * CHARTED['thickness']:g} % thickness, a lift slope of {CHARTED['lift slope ratio']:g} of theory and chord ratios",
        f"of 0.2 to 0.4 these have {charted['incidence'][0]:.2f} to {charted['incidence'][1]:.2f} of $b_1$ and {charted['deflection'][0]:.2f} to {charted['deflection'][1]:.2f} of $b_2$, and the rule is the",
        "greatest, to the nearest tenth. Least squares over attached cases at a Reynolds number of 1e6,",
        "with each group left out in turn:",
        "",
        "| left out | share of $b_1$ | share of $b_2$ |",
        "| --- | --- | --- |",
        *share_rows(cases),
        "",
        f"The best line is on the safe side of this fit: by {INCIDENCE_SHARE - fitted[0]:.2f} of $b_1$ and by {DEFLECTION_SHARE - fitted[1]:.2f} of $b_2$. It is no",
        "unbiased estimate of these sections, whose boundary layer is free and whose slope with incidence",
        "the reference has to a fifth only; a margin on the best line has that much reserve in it.",
        "",
        f"**Low line: {band.LOW_SHARE:g} of $b_2$.** The least that an attached section kept of it at no incidence is",
        f"{kept:.2f} ({where}).",
        "",
        f"**Square edges: {1 + band.SLAB_RISE:g}; separated flow: {band.SEPARATED_RISE:g} times a long plate.** No reference case here; common",
        "practice, no source.",
        "",
    ]
    return "\n".join(lines)


def fitted_shares(cases: Sections) -> tuple[float, float]:
    """Shares of b_1 and b_2 by least squares over all attached cases at 1e6."""
    return shares(cases, attached(cases) & (cases.reynolds == 1e6))


def worst_coverage(excess: Excess) -> float:
    """Return the least percentage of a group's cases that the width of the others holds."""
    held = []
    for name in set(excess.source):
        own = excess.source == name
        width = width_from(Excess(*(column[~own] for column in excess)))
        held.append(
            100 * float(((excess.over[own] <= width) & (excess.under[own] <= width)).mean())
        )
    return min(held)


def facts() -> Mapping[str, float]:
    """Return the figures that the suite holds beside the widths in the code."""
    cases = sections()
    excess = laminar_excess(cases)
    first, second = fitted_shares(cases)
    charted = charted_shares()
    return {
        "charted incidence share": share_from(charted["incidence"]),
        "charted deflection share": share_from(charted["deflection"]),
        "whole width": width_from(whole_excess(whole_sections())),
        "coverage": worst_coverage(excess),
        "width": width_from(excess),
        "incidence share": first,
        "deflection share": second,
        "least share": least_share(cases)[0],
    }


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
