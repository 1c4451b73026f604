"""The choice of parts, as text in 80 columns and as a document for other programs."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from linkcalc.choosing.part_axes import KINDS_OF_AXES
from linkcalc.report.layout import counted, cut, heading, printable, wrapped
from linkcalc.report.text import CAUTION

if TYPE_CHECKING:
    from linkcalc.choosing.ranked_choice import Choice
    from linkcalc.choosing.ranking import Standing

__all__ = ["CHOICE", "choice_document", "choice_text"]

CHOICE = "linkcalc.choice/1"
"""The schema of the document."""

SHOWN = 15
"""Candidates that the text shows in front, unless all are asked for."""

_HOW = (
    "All else stays as it is in the file. One is out if a margin of these runs is short or not "
    "computed in any case, or if it makes another run short through the supply. An asterisk marks "
    "those that no other one beats in everything that is ranked."
)
_INTERRUPTED = (
    "INTERRUPTED: only part of the combinations was tried, and a better one may be among the rest."
)
_DOUBTS = (
    "Doubtful: its printed figures contradict each other or are uncommon, and a figure too good to "
    "be true wins every comparison. Measure one before you order several; "
    "'linkcalc catalogue' says what is doubted."
)


def choice_text(found: Choice, *, every: bool = False, bold: bool = False) -> str:
    """Return a choice of parts as text.

    Parameters
    ----------
    found : Choice
        What `linkcalc.choose` returns.
    every : bool
        Whether to show every candidate, and why each loser lost.
    bold : bool
        Whether headings are set in bold, for a terminal.

    Returns
    -------
    str
        The ranking, and what removed the others.
    """
    best = found.ranking.best
    what = _what(found)
    first = f"{what.upper()}: {best.name}" if best else f"NO {what.upper()} WILL DO"
    lines = heading(printable(f"{first}, for {found.aircraft}"), bold=bold)
    placed = [each for each in found.ranking.standings if each.place]
    total = counted(found.total, what)
    lines += wrapped(
        printable(
            f"In {', '.join(repr(run) for run in found.runs)}: {found.passing} of {total} "
            f"of {found.catalogue!r} will do."
        ),
        0,
    )
    lines += [*wrapped(_HOW, 0), ""]
    if found.note:
        lines += [*wrapped(found.note, 0), ""]
    if not found.combinations.complete:
        lines += [*wrapped(_INTERRUPTED, 0), ""]
    if placed:
        lines += _table(found, placed if every else placed[:SHOWN], bold=bold)
        if len(placed) > SHOWN and not every:
            lines += wrapped(f"... and {found.passing - SHOWN} more, with --all.", 2)
    else:
        lines += wrapped(printable(found.empty or _unranked(found)), 0)
    lines += ["", *_losers(found, every=every, bold=bold)]
    if any(found.doubtful(each.candidate) for each in placed):
        lines += [*wrapped(_DOUBTS, 0), ""]
    return "\n".join([*lines, *wrapped(CAUTION, 0)]) + "\n"


def _what(found: Choice) -> str:
    """Return what a candidate is called: by its kind where one thing was chosen."""
    kind = found.axes[0].kind
    return kind if len(found.axes) == 1 and kind in KINDS_OF_AXES else "combination"


def _unranked(found: Choice) -> str:
    lost = next((each.lost for each in found.ranking.standings), "")
    return f"What would do cannot be ranked: {lost}."


def _table(found: Choice, shown: list[Standing], *, bold: bool) -> list[str]:
    pairs = zip(found.ranking.objectives, found.ranking.units, strict=True)
    names = "".join(f"{cut(', '.join(filter(None, pair)), 12):>12}" for pair in pairs)
    lines = heading(f"      {cut(found.axes[0].kind, 24):24}{names}", bold=bold)
    for each in shown:
        values = "".join(f"{value:12.4g}" for value in each.values)
        mark = "*" if each.on_front else " "
        doubt = "  doubtful" if found.doubtful(each.candidate) else ""
        (_, first), *others = found.values(each.candidate).items()
        lines.append(f"{each.place:4} {mark}{cut(printable(first), 24):24}{values}{doubt}")
        if others:
            lines += wrapped(printable("; ".join(f"{kind} {label}" for kind, label in others)), 6)
    return lines


def _losers(found: Choice, *, every: bool, bold: bool) -> list[str]:
    """Say why the others are out: each one, or how many for each first words."""
    out = [each for each in found.ranking.standings if not each.place]
    if not (out or found.unsound or found.out):
        return []
    lines = heading("WHY THE OTHERS ARE OUT", bold=bold)
    for name, words in found.unsound.items():
        lines += wrapped(printable(f"{name} cannot be tried: {words}"))
    if every and not found.out:
        for each in out:
            lines += wrapped(printable(f"{each.name}: {each.lost}"))
        return [*lines, ""]
    reasons = dict(found.out)
    for each in out:
        reason = each.lost.partition(":")[0]
        reasons[reason] = reasons.get(reason, 0) + 1
    for reason, count in reasons.items():
        lines += wrapped(printable(f"{count:4}  {reason}"), 0)
    if out and not found.out:
        lines += wrapped("With --all each of them stands with its reason.", 0)
    return [*lines, ""]


def choice_document(found: Choice) -> dict[str, Any]:
    """Return a choice of parts as a tree of plain values.

    Parameters
    ----------
    found : Choice
        What `linkcalc.choose` returns.

    Returns
    -------
    dict
        Every candidate with its place or the reason why it is out; null where a value is not
        known.
    """
    return {
        "schema": CHOICE,
        "aircraft": found.aircraft,
        "catalogue": found.catalogue,
        "runs": list(found.runs),
        "chosen": [each.kind for each in found.axes],
        "objectives": list(found.ranking.objectives),
        "units": list(found.ranking.units),
        "total": found.total,
        "passing": found.passing,
        "out": found.out,
        "note": found.note,
        "complete": found.combinations.complete,
        "empty": found.empty,
        "unsound": [{"name": name, "why": words} for name, words in found.unsound.items()],
        "candidates": [_standing(found, each) for each in found.ranking.standings],
    }


def _standing(found: Choice, each: Standing) -> dict[str, Any]:
    parts = found.values(each.candidate)
    margins = found.least_margins(each.candidate)
    return {
        "name": each.name,
        "parts": parts,
        "place": each.place,
        "on_front": each.on_front,
        "values": dict(zip(found.ranking.objectives, map(_known, each.values), strict=True)),
        "lost": each.lost,
        "doubts": list(found.doubts.get(parts.get("servo", ""), ())),
        "least_margins": {mode: _known(margin) for mode, margin in margins.items()},
    }


def _known(value: float) -> float | None:
    return value if math.isfinite(value) else None
