"""What would help, as text that a flyer reads in 80 columns and as a document for other programs."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING, Any

from linkcalc.report.layout import counted, heading, signed, wrapped
from linkcalc.report.text import CAUTION

if TYPE_CHECKING:
    from collections.abc import Iterator

    from linkcalc.study.remedies import Effect, Futile, Place, Remedies, Remedy, Shortfall

__all__ = ["REMEDIES", "advice_document", "advice_text"]

REMEDIES = "linkcalc.remedies/1"
"""The schema of the document."""

_MOST_LOSSES = 4
_HOW = (
    "Below each stands the least single change of its kind that clears it, found by putting the "
    "change into the aircraft and evaluating it again; then the margin that it leaves, and what "
    "it does elsewhere. A servo, lead or hole is changed for that run only, a trunk for all "
    "that hang from it. A stronger servo is taken at the same stall current."
)


def advice_text(found: Remedies, *, bold: bool = False) -> str:
    """Return what would help as text.

    Parameters
    ----------
    found : Remedies
        What `linkcalc.study.remedies.remedies` returns.
    bold : bool
        Whether headings are set in bold, for a terminal.

    Returns
    -------
    str
        Shortfall by shortfall: what clears it and at what cost, then what does not.
    """
    lines = heading(f"{_verdict(found)}: {found.aircraft}", bold=bold)
    if found.shortfalls:
        count = counted(len(found.shortfalls), "margin is", "margins are")
        lines += wrapped(f"{count} below zero. {_HOW}", 0)
    elif not found.unknown:
        lines += wrapped("No margin that was asked for is below zero: nothing needs help.", 0)
    for (run, case), group in groupby(found.shortfalls, lambda item: item.place[:2]):
        lines += ["", *heading(f"{run}, in {case!r}", bold=bold)]
        for shortfall in group:
            lines += _shortfall(shortfall)
    if found.unknown:
        lines += ["", *heading("not computed, so no pass, and nothing to search from", bold=bold)]
        for place, reason in found.unknown:
            lines += wrapped(f"{_where(place)}: {reason}")
    return "\n".join([*lines, "", *wrapped(CAUTION, 0)]) + "\n"


def _verdict(found: Remedies) -> str:
    return "SHORT" if found.shortfalls or found.unknown else "NOTHING IS SHORT"


def _where(place: Place) -> str:
    return f"{place.mode} of {place.run!r} in {place.case!r}"


def _shortfall(shortfall: Shortfall) -> Iterator[str]:
    place = shortfall.place
    yield from wrapped(f"{place.mode} is short: margin {signed(shortfall.margin)}")
    if not shortfall.remedies:
        yield from wrapped("no single change that was tried clears it", 4)
    for remedy in shortfall.remedies:
        yield from _remedy(remedy, place)
    clearing = {(remedy.kind, remedy.place) for remedy in shortfall.remedies}
    left = [item for item in shortfall.futile if (item.kind, item.place) not in clearing]
    told = [
        f"{_label(*which, place)} {_sought(list(group), shortfall.margin)}"
        for which, group in groupby(left, lambda item: (item.kind, item.place))
    ]
    if told:
        yield from wrapped(f"does not clear it: {'; '.join(told)}", 4)


def _label(kind: str, where: str, place: Place) -> str:
    """Return what is changed, without what the heading says already."""
    for known in (f" of {place.run!r}", f"{place.run!r} in {place.case!r}"):
        where = where.replace(known, "")
    plain = {"", "servo", "supply", "lead", repr(place.run), repr(place.case)}
    return kind if where in plain else f"{kind}, {where}"


def _remedy(remedy: Remedy, place: Place) -> Iterator[str]:
    label = _label(remedy.kind, remedy.place, place)
    margin = "it no longer applies" if remedy.margin is None else f"margin {signed(remedy.margin)}"
    yield from wrapped(
        f"{label}: {remedy.before} -> {remedy.after} (x {remedy.factor:.4g}), {margin}", 4
    )
    costs = [words for words in _costs(remedy, place) if words]
    before, after = remedy.short
    costs.append(f"{after} of {counted(before, 'margin')} still short")
    yield from wrapped("; ".join(costs), 8)
    for words in _losses(remedy, place):
        yield from wrapped(words, 8)


def _losses(remedy: Remedy, place: Place) -> Iterator[str]:
    """Tell what loses, mode by mode of a run, but for the travel that is told already."""
    groups: dict[tuple[str, str], list[str]] = {}
    for loser, effect in remedy.losses:
        if loser != place._replace(mode="travel"):
            told = groups.setdefault((loser.run, loser.mode), [])
            told.append(f"{_change(effect)} in {loser.case!r}")
    for (run, mode), told in list(groups.items())[:_MOST_LOSSES]:
        whose = "" if run == place.run else f" of {run!r}"
        yield f"but {mode}{whose} {', '.join(told)}"
    if len(groups) > _MOST_LOSSES:
        yield f"but {len(groups) - _MOST_LOSSES} more kinds of margin lose as well"


def _costs(remedy: Remedy, place: Place) -> Iterator[str]:
    if _moved(remedy.rate):
        yield f"surface rate under load {_figures(remedy.rate)} deg/s"
    if _moved(remedy.travel) and place.mode != "travel":
        yield f"travel margin {_change(remedy.travel)}"
    if _moved(remedy.resolution):
        yield f"surface angle per servo angle {_figures(remedy.resolution)}"


def _moved(effect: Effect) -> bool:
    """Tell whether there is a difference that a reader would see."""
    if effect.before is None or effect.after is None:
        return effect.before != effect.after
    return abs(effect.after - effect.before) > 0.005 * max(abs(effect.before), abs(effect.after))


def _figures(effect: Effect) -> str:
    return " -> ".join("none" if value is None else f"{value:.3g}" for value in effect)


def _change(effect: Effect) -> str:
    return f"{signed(effect.before)} -> {signed(effect.after)}"


def _sought(items: list[Futile], now: float) -> str:
    """Say how far one kind of change was sought, and how near it came."""
    bounds = " or ".join(item.bound for item in items if item.bound)
    if not bounds:
        return f"is at its end with {items[0].before}"
    near = max(
        (item for item in items if item.best), key=lambda item: item.margin or now, default=None
    )
    reason = next((f"; there: {item.reason}" for item in items if item.reason), "")
    if near is None:
        return f"to {bounds} (no better{reason})"
    where = "" if near.best == near.bound else f" at {near.best}"
    return f"to {bounds} (at best {signed(near.margin)}{where}{reason})"


def advice_document(found: Remedies) -> dict[str, Any]:
    """Return what would help as a tree of plain values.

    Parameters
    ----------
    found : Remedies
        What `linkcalc.study.remedies.remedies` returns.

    Returns
    -------
    dict
        ``schema``, ``aircraft``, ``verdict`` (``"pass"`` or ``"short"``), ``shortfalls``
        and ``unknown``; no nan, no infinity. Rates in deg/s, margins and factors are
        plain numbers.
    """
    return {
        "schema": REMEDIES,
        "aircraft": found.aircraft,
        "verdict": "short" if found.shortfalls or found.unknown else "pass",
        "shortfalls": [
            {
                **shortfall.place._asdict(),
                "margin": shortfall.margin,
                "remedies": [_plain(remedy) for remedy in shortfall.remedies],
                "futile": [item._asdict() for item in shortfall.futile],
            }
            for shortfall in found.shortfalls
        ],
        "unknown": [{**place._asdict(), "reason": reason} for place, reason in found.unknown],
    }


def _plain(remedy: Remedy) -> dict[str, Any]:
    effects = {name: getattr(remedy, name)._asdict() for name in ("rate", "travel", "resolution")}
    losses = [{**place._asdict(), **effect._asdict()} for place, effect in remedy.losses]
    short = dict(zip(("before", "after"), remedy.short, strict=True))
    return remedy._asdict() | effects | {"losses": losses, "short": short}
