"""Parts for several runs, each its own, as text in 80 columns and as a document."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from linkcalc.report.layout import counted, cut, heading, printable, wrapped
from linkcalc.report.text import CAUTION

if TYPE_CHECKING:
    from collections.abc import Iterator

    from linkcalc.choosing.joint_choice import JointChoice

__all__ = ["JOINT_CHOICE", "joint_choice_document", "joint_choice_text"]

JOINT_CHOICE = "linkcalc.joint_choice/1"
"""The schema of the document."""

SHOWN = 15
"""Sets of the front that the text shows."""

NAMED = 2
"""Runs that are named where something is said of them; more are counted."""

_INTERRUPTED = "INTERRUPTED: only part of the sets was tried."
_DOUBTS = (
    "Doubtful: its printed figures contradict each other or are uncommon. Measure one before you "
    "order several; 'linkcalc catalogue' says what is doubted."
)


def joint_choice_text(found: JointChoice, *, bold: bool = False) -> str:
    """Return parts for several runs as text.

    Parameters
    ----------
    found : JointChoice
        What `linkcalc.choose_each` returns.
    bold : bool
        Whether headings are set in bold, for a terminal.

    Returns
    -------
    str
        What each run gets, and how far the search came.
    """
    amount = f"{_amount(found, found.cost)}"
    if found.by == "margin":
        amount = f"least margin {found.cost:.3g}"
    first = "NO SET WAS FOUND" if found.described is None else f"PARTS FOR EACH RUN: {amount}"
    lines = heading(printable(f"{first}, for {found.aircraft}"), bold=bold)
    lines += wrapped(_INTERRUPTED, 0) if not found.complete else []
    lines += [*wrapped(printable(_how(found)), 0), ""]
    lines += heading(f"{'run':32}{'pass alone':>12}  parts", bold=bold)
    for run in found.runs:
        doubt = "  doubtful" if run.parts.get("servo", "") in found.doubts else ""
        share = f"{run.left} of {run.offered}"
        words = cut(printable("; ".join(run.parts.values()) + doubt), 34)
        lines.append(f"{cut(printable(run.run), 31):32}{share:>12}  {words}")
        lines += wrapped(printable(run.empty)) if run.empty else []
    lines += ["", *_front(found, bold=bold), *_left_out(found, bold=bold)]
    if any(_is_doubtful(found, parts) for parts in _all_parts(found)):
        lines += [*wrapped(_DOUBTS, 0), ""]
    return "\n".join([*lines, *wrapped(CAUTION, 0)]) + "\n"


def _all_parts(found: JointChoice) -> Iterator[dict[str, str]]:
    """List what is shown: the parts of every run, in the set and in those of the front."""
    yield from (run.parts for run in found.runs)
    yield from (parts for each in found.front[:SHOWN] for parts in each.parts)


def _is_doubtful(found: JointChoice, parts: dict[str, str]) -> bool:
    return parts.get("servo", "") in found.doubts


def _front(found: JointChoice, *, bold: bool) -> list[str]:
    """Show the sets that no other one beats, with what each run gets, in the order of the runs."""
    if len(found.objectives) == 1 or not found.front:
        return []
    pairs = zip(found.objectives, found.units, strict=True)
    names = "".join(f"{cut(', '.join(filter(None, pair)), 14):>14}" for pair in pairs)
    lines = heading(f"{'SETS THAT NO OTHER BEATS':26}{names}", bold=bold)
    for place, each in enumerate(found.front[:SHOWN], start=1):
        lines.append(f"{place:4}{'':22}" + "".join(f"{value:14.4g}" for value in each.values))
        words = (", ".join(parts.values()) for parts in each.parts)
        lines += wrapped(printable("; ".join(words)), 6)
    if len(found.front) > SHOWN:
        lines += wrapped(f"... and {len(found.front) - SHOWN} more, with --json.", 2)
    if not math.isnan(found.front_bound):
        what = f"{'margins' if found.by == 'margin' else found.by} "
        edge = "greater than" if found.by == "margin" else "less than"
        lines += wrapped(
            f"These are all of them with {what}{edge} {_amount(found, found.front_bound)}: "
            "there the search was cut short.",
            0,
        )
    return [*lines, ""]


def _left_out(found: JointChoice, *, bold: bool) -> list[str]:
    """Say how many candidates of which runs were left out, and why."""
    unsound: dict[str, list[str]] = {}
    reasons: dict[str, list[str]] = {}
    for run in found.runs:
        for name, words in run.unsound.items():
            unsound.setdefault(f"{name} cannot be tried: {words}", []).append(run.run)
        for reason, count in run.out.items():
            reasons.setdefault(f"{count:4}  {reason}", []).append(run.run)
    if not (unsound or reasons):
        return []
    lines = heading("WHAT IS NO CANDIDATE", bold=bold)
    for told in (unsound, reasons):
        for words, names in told.items():
            few = f" for {', '.join(map(repr, names))}" if len(names) <= NAMED else ""
            of = " for every run" if len(names) == len(found.runs) else few
            lines += wrapped(printable(words + (of or f" for {counted(len(names), 'run')}")), 0)
    return [*lines, ""]


def _amount(found: JointChoice, number: float) -> str:
    return f"{number:.4g} {found.unit}".rstrip()


def _how(found: JointChoice) -> str:
    """Say how far the search came, and what it can have missed."""
    tries = f"{counted(found.tried, 'set')} and beginnings of sets from {found.catalogue!r} tried."
    better = "has a greater margin" if found.by == "margin" else f"has a lesser {found.by}"
    if found.described is None:
        if found.exact:
            return f"No set of parts within what was asked for has every margin at zero or more. {tries}"
        least = _amount(found, found.bound)
        edge = f"a margin above {least}" if found.by == "margin" else f"less than {least}"
        return f"The search was cut short: no set that passes has {edge}. {tries}"
    held = (
        f"Every margin is zero or more with these parts together; the least is {found.margin:.3g}."
    )
    if found.exact:
        return f"{held} No set that passes {better}. {tries}"
    saved = _amount(found, abs(found.cost - found.bound))
    return (
        f"{held} The search was cut short: one that {better} may have been missed, "
        f"{better.split()[2]} by {saved} at most. {tries}"
    )


def joint_choice_document(found: JointChoice) -> dict[str, Any]:
    """Return parts for several runs as a tree of plain values.

    Parameters
    ----------
    found : JointChoice
        What `linkcalc.choose_each` returns.

    Returns
    -------
    dict
        null where nothing was found.
    """
    return {
        "schema": JOINT_CHOICE,
        "aircraft": found.aircraft,
        "catalogue": found.catalogue,
        "by": found.by,
        "unit": found.unit,
        "cost": _known(found.cost),
        "bound": _known(found.bound),
        "exact": found.exact,
        "tried": found.tried,
        "margin": _known(found.margin),
        "objectives": list(found.objectives),
        "units": list(found.units),
        "complete": found.complete,
        "front": [
            {
                "values": dict(zip(found.objectives, map(_known, each.values), strict=True)),
                "parts": {
                    run.run: parts for run, parts in zip(found.runs, each.parts, strict=True)
                },
            }
            for each in found.front
        ],
        "front_bound": _known(found.front_bound),
        "runs": [
            {
                "run": run.run,
                "parts": run.parts,
                "offered": run.offered,
                "left": run.left,
                "empty": run.empty,
                "out": run.out,
                "unsound": [{"name": name, "why": why} for name, why in run.unsound.items()],
                "doubts": list(found.doubts.get(run.parts.get("servo", ""), ())),
            }
            for run in found.runs
        ],
    }


def _known(value: float) -> float | None:
    return value if math.isfinite(value) else None
