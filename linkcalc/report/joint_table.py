"""Parts for several runs, each its own, as text in 80 columns and as a document."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from linkcalc.report.layout import counted, cut, heading, printable, wrapped
from linkcalc.report.text import CAUTION

if TYPE_CHECKING:
    from linkcalc.study.joint_choice import JointChoice

__all__ = ["JOINT_CHOICE", "joint_choice_document", "joint_choice_text"]

JOINT_CHOICE = "linkcalc.joint_choice/1"
"""The schema of the document."""

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
    found_one = found.described is not None
    amount = f"{_amount(found, found.cost)}" if found_one else "NO SET WAS FOUND"
    first = f"PARTS FOR EACH RUN: {amount}" if found_one else amount
    lines = heading(printable(f"{first}, for {found.aircraft}"), bold=bold)
    lines += [*wrapped(printable(_how(found)), 0), ""]
    lines += heading(f"{'run':32}{'pass alone':>12}  parts", bold=bold)
    doubtful = False
    for run in found.runs:
        doubt = run.parts.get("servo", "") in found.doubts
        doubtful |= doubt
        words = "; ".join(run.parts.values()) + ("  doubtful" if doubt else "")
        share = f"{run.left} of {run.offered}"
        lines.append(f"{cut(printable(run.run), 31):32}{share:>12}  {cut(printable(words), 34)}")
        lines += wrapped(printable(run.empty)) if run.empty else []
    lines.append("")
    if doubtful:
        lines += [*wrapped(_DOUBTS, 0), ""]
    return "\n".join([*lines, *wrapped(CAUTION, 0)]) + "\n"


def _amount(found: JointChoice, number: float) -> str:
    return f"{number:.4g} {found.unit}".rstrip()


def _how(found: JointChoice) -> str:
    """Say how far the search came, and what it can have missed."""
    tries = f"{counted(found.tried, 'set')} and beginnings of sets from {found.catalogue!r} tried."
    if found.described is None:
        if found.exact:
            return f"No set of parts has every margin at zero or more. {tries}"
        least = _amount(found, found.bound)
        return f"The search was cut short: no set that passes has less than {least}. {tries}"
    held = (
        f"Every margin is zero or more with these parts together; the least is {found.margin:.3g}."
    )
    if found.exact:
        return f"{held} No set that passes has a lesser {found.by}. {tries}"
    saved = _amount(found, found.cost - found.bound)
    return (
        f"{held} The search was cut short: a set with a lesser {found.by} may have been missed, "
        f"lesser by {saved} at most. {tries}"
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
        "runs": [
            {
                "run": run.run,
                "parts": run.parts,
                "offered": run.offered,
                "left": run.left,
                "empty": run.empty,
                "doubts": list(found.doubts.get(run.parts.get("servo", ""), ())),
            }
            for run in found.runs
        ],
    }


def _known(value: float) -> float | None:
    return value if math.isfinite(value) else None
