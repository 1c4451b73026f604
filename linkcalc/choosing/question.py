"""What a choice of parts is asked: of which runs, from what, by what."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from linkcalc.catalogue.plausibility import doubts
from linkcalc.choosing.part_axes import part_axis
from linkcalc.errors import InputError, told
from linkcalc.model.value_classes import given

if TYPE_CHECKING:
    from collections.abc import Sequence

    from linkcalc.catalogue import Catalogue
    from linkcalc.choosing.part_axes import PartAxis
    from linkcalc.model import Aircraft

__all__ = ["OBJECTIVES", "axes_of", "doubts_of", "indices", "refuse_unknown"]

OBJECTIVES = ("mass", "price", "margin", "balance", "placard")
"""What a ranking may go by."""


def axes_of(
    over: Sequence[str] | Mapping[str, Sequence[Any] | None],
    aircraft: Aircraft,
    catalogue: Catalogue,
    own: Sequence[int],
) -> tuple[PartAxis, ...]:
    """Return what is chosen, servos first: the holes of their arms are chosen with them.

    Parameters
    ----------
    over : sequence of str, or mapping of str to sequence
        As `choose` takes it.
    aircraft : Aircraft
        That parts are chosen for.
    catalogue : Catalogue
        What may be bought.
    own : sequence of int
        Runs that get the parts.

    Returns
    -------
    tuple of PartAxis
        One for each.

    Raises
    ------
    InputError
        One cannot be chosen.
    """
    if isinstance(over, str) or not over:
        raise InputError(
            "over", over, "a list such as ['servo', 'arm hole']", "Name what is chosen."
        )
    wanted: dict[str, Any] = dict(over) if isinstance(over, Mapping) else dict.fromkeys(over)
    made: dict[str, PartAxis] = {}
    for kind in sorted(wanted, key=lambda kind: kind != "servo"):
        servos = made["servo"].parts if "servo" in made else ()
        made[kind] = part_axis(kind, wanted[kind], aircraft, catalogue, own, servos=servos)
    return tuple(made.values())


def indices(aircraft: Aircraft, runs: str | Sequence[str] | None) -> list[int]:
    """Return the indices of the runs that get the parts.

    Parameters
    ----------
    aircraft : Aircraft
        That parts are chosen for.
    runs : str, sequence of str, or None
        Their names; None for all.

    Returns
    -------
    list of int
        Ascending, each once.

    Raises
    ------
    InputError
        There is none of that name, or none is named.
    """
    known = [run.name for run in aircraft.runs]
    wanted = known if runs is None else [runs] if isinstance(runs, str) else list(runs)
    for name in wanted:
        if name not in known:
            words = ", ".join(repr(each) for each in known[:8])
            raise InputError("runs", name, f"names of control runs: {words}", "Check the name.")
    if not wanted:
        raise InputError(
            "runs",
            told("none"),
            "at least one control run",
            "Name a run to choose for, or leave runs out for all of them.",
        )
    return sorted({known.index(name) for name in wanted})


def refuse_unknown(
    by: Sequence[str], known: Sequence[str], aircraft: Aircraft, own: Sequence[int]
) -> None:
    """Refuse objectives that are none, or that the aircraft cannot be ranked by.

    Parameters
    ----------
    by : sequence of str
        What is asked for.
    known : sequence of str
        What there is.
    aircraft : Aircraft
        That parts are chosen for.
    own : sequence of int
        Which of its runs.

    Raises
    ------
    InputError
        One is none of these, or a run has no distance from the centre of gravity.
    """
    if isinstance(by, str) or not by or not set(by) <= set(known):
        words = ", ".join(repr(each) for each in known)
        unknown = [each for each in by if each not in known][:1] if isinstance(by, list) else [by]
        expected = f"a list of one or more of {words}"
        raise InputError("by", (unknown or [by])[0], expected, "Name what counts most first.")
    short = [index for index in own if not given(aircraft.runs[index], "balance_arm")]
    if "balance" in by and short:
        raise InputError(
            f"runs[{aircraft.runs[short[0]].name!r}].balance_arm",
            told("no distance from the centre of gravity"),
            "a length such as '0.6 m', negative ahead of it",
            "Give it for every run that is chosen for, or rank by mass.",
        )


def doubts_of(axes: Sequence[PartAxis]) -> dict[str, tuple[str, ...]]:
    """Return the rules that datasheets of servos break.

    Parameters
    ----------
    axes : sequence of PartAxis
        What is chosen from.

    Returns
    -------
    dict of str to tuple of str
        By the name of a servo.
    """
    made: dict[str, tuple[str, ...]] = {}
    for axis in axes:
        if axis.kind == "servo":
            for doubt in doubts(axis.parts):
                made[doubt.part] = (*made.get(doubt.part, ()), doubt.rule)
    return made
