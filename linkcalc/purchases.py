"""The command that chooses parts: what it is asked, and what it answers."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from linkcalc.catalogue import read_catalogue
from linkcalc.choosing.part_axes import KINDS_OF_AXES
from linkcalc.errors import Fault, InputError, InputFaults, shown
from linkcalc.report.document import dumped
from linkcalc.report.progress import shown_progress
from linkcalc.study.running import Workers
from linkcalc.study.sweep import over_of

if TYPE_CHECKING:
    import argparse

    from linkcalc.catalogue import Catalogue

__all__ = ["choice"]

_OPTIONS = {
    "most_mass": "--mass",
    "most_price": "--price",
    "total_mass": "--total-mass",
    "total_price": "--total-price",
    "voltage": "--voltage",
    "bay": "--bay",
    "spline": "--spline",
    "by": "--by",
    "runs": "--run",
    "confidence": "--confidence",
}
"""What the arguments of `linkcalc.choose` are called on the command line."""

_LIMITS = (
    "most_mass",
    "most_price",
    "spline",
    "voltage",
    "undoubted",
    "total_mass",
    "total_price",
    "keep",
)


def choice(arguments: argparse.Namespace, *, bold: bool = False) -> tuple[str, bool | None]:
    """Choose parts for some runs, the same ones or for each its own.

    Parameters
    ----------
    arguments : argparse.Namespace
        Of the command ``choose``.
    bold : bool
        Whether headings are set in bold, for a terminal.

    Returns
    -------
    words : str
        What is to be printed.
    verdict : bool or None
        Whether something will do; None where it was stopped.

    Raises
    ------
    InputError, InputFaults
        Files or question cannot be used.
    """
    asked: dict[str, Any] = {name: getattr(arguments, name) for name in _LIMITS}
    asked["bay"] = _bays(arguments.bay)
    asked["over"] = over_of(arguments.over or ["servo"], KINDS_OF_AXES)
    asked["workers"] = Workers(arguments.jobs, arguments.cluster)
    asked["runs"] = arguments.runs
    _refuse_apart(arguments)
    catalogue = read_catalogue(*arguments.catalogue)
    answered = _for_each if arguments.each else _for_all
    with shown_progress("sets" if arguments.each else "combinations") as progress:
        asked["progress"] = progress
        try:
            return answered(arguments, catalogue, asked, bold=bold)
        except InputError as error:
            place = _OPTIONS.get(error.fault.place, error.fault.place)
            raise InputFaults([error.fault._replace(place=place)]) from None


def _listed(words: str) -> list[str]:
    return [each.strip() for each in words.split(",")]


def _bays(asked: list[str] | None) -> dict[str, list[str]] | None:
    """Return the bays by run, the empty name for all others."""
    if asked is None:
        return None
    made: dict[str, list[str]] = {}
    for each in asked:
        name, _, sizes = each.rpartition("=")  # a name may have an equals sign, sizes have none
        run = name.strip()
        if run in made:
            remedy = "Leave one of them out."
            found = shown(each)
            raise InputFaults([Fault("", "--bay", found, "a bay for each run once", remedy)])
        made[run] = _listed(sizes)
    return made


def _refuse_apart(arguments: argparse.Namespace) -> None:
    """Refuse options that belong to one of the two ways to choose."""
    apart = ("all", "confidence") if arguments.each else ("same_servo", "tries")
    for name in apart:
        if getattr(arguments, name):
            option = "--" + name.replace("_", "-")
            found = f"{option} {'with' if arguments.each else 'without'} --each"
            raise InputFaults([Fault("", option, found, "one without the other", "Leave one out.")])


def _for_all(
    arguments: argparse.Namespace, catalogue: Catalogue, asked: dict[str, Any], *, bold: bool
) -> tuple[str, bool | None]:
    from linkcalc.choosing.choice import choose  # noqa: PLC0415 - as above
    from linkcalc.report.choice_table import choice_document, choice_text  # noqa: PLC0415 - one of two ways

    asked["by"] = _listed(arguments.by or "mass,price,margin")
    asked |= {"memory": arguments.memory * 1e9, "confidence": arguments.confidence}
    found = choose(arguments.file, catalogue, **asked)
    words = choice_text(found, every=arguments.all, bold=bold)
    if arguments.json:
        words = dumped(choice_document(found)) + "\n"
    stopped = not found.combinations.complete
    return words, None if stopped else found.ranking.best is not None


def _for_each(
    arguments: argparse.Namespace, catalogue: Catalogue, asked: dict[str, Any], *, bold: bool
) -> tuple[str, bool | None]:
    from linkcalc.choosing.joint_choice import choose_each  # noqa: PLC0415 - as above
    from linkcalc.report.joint_table import joint_choice_document, joint_choice_text  # noqa: PLC0415 - one of two ways

    asked |= {"by": _listed(arguments.by or "mass"), "same_servo": arguments.same_servo}
    if arguments.tries is not None:
        asked["most_tries"] = arguments.tries
    found = choose_each(arguments.file, catalogue, **asked)
    words = joint_choice_text(found, bold=bold)
    if arguments.json:
        words = dumped(joint_choice_document(found)) + "\n"
    return words, found.described is not None if found.complete else None
