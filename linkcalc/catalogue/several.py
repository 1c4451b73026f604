"""Two more forms of field, which parts need: a list of quantities, and sources by figure."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from linkcalc.errors import InputError, told
from linkcalc.model.fields import LONGEST_TEXT, field, quantity_field, text

if TYPE_CHECKING:
    from linkcalc.model.value_classes import Spec
    from linkcalc.units import Stated

__all__ = ["MOST_HOLES", "Sources", "holes", "sources"]

MOST_HOLES = 32
"""Holes of one arm or horn."""

_ONE_HOLE = quantity_field("length", "One hole.", bound="positive").spec


class Holes(tuple["Stated", ...]):
    """Lengths as a field keeps them, equal where their SI values are."""

    __slots__ = ()

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Holes) and self.si == other.si

    def __hash__(self) -> int:
        return hash(self.si)

    def __repr__(self) -> str:
        return f"[{', '.join(hole.text for hole in self)}]"

    @property
    def si(self) -> tuple[float, ...]:
        """The radii [m]."""
        return tuple(hole.si for hole in self)


def holes(doc: str, *, default: Any = ()) -> Any:
    """Make a field that holds the radii of holes, innermost first.

    Parameters
    ----------
    doc : str
        One line for the page of keys.
    default : tuple, optional
        Where no holes are given.

    Returns
    -------
    Field
        Kept as `Holes`.
    """
    more = {"kind": "length", "least": 0 if default == () else 1, "most": MOST_HOLES}
    words = "none given" if default == () else ""
    return field("quantities", doc, _read_holes, default=default, default_words=words, **more)


def _read_holes(described: Spec, name: str, value: Any) -> Holes:
    listed = hasattr(value, "__len__") and not isinstance(value, (str, bytes, dict))
    if not listed or not described.least <= len(value) <= described.most:
        raise InputError(
            name,
            value,
            f"a list of {described.least:g} to {described.most:g} radii such as ['8 mm', '10 mm']",
            "List the holes, innermost first.",
        )
    made = Holes(
        _ONE_HOLE.reader(_ONE_HOLE, f"{name}[{index}]", value[index]) for index in range(len(value))
    )
    for index in range(1, len(made)):
        if not made[index - 1].si < made[index].si:
            raise InputError(
                f"{name}[{index}]",
                told(made[index].text),
                f"more than the hole before it, {made[index - 1].text}",
                "List the holes from the innermost to the outermost, each once.",
            )
    return made


class Sources(tuple[tuple[str, str], ...]):
    """Where figures are from, in the order of their names; read like a mapping."""

    __slots__ = ()

    def get(self, figure: str, otherwise: str) -> str:
        """Return where a figure is from.

        Parameters
        ----------
        figure : str
            Its key.
        otherwise : str
            What to return where it has no source of its own.

        Returns
        -------
        str
            Words.
        """
        return dict(self).get(figure, otherwise)


def sources(*figures: str) -> Any:
    """Make a field that holds where single figures are from.

    Parameters
    ----------
    *figures : str
        Keys that may have a source of their own.

    Returns
    -------
    Field
        Kept as `Sources`.
    """
    doc = "Where single figures are from, by their keys, where it is not the part's source."
    return field(
        "sources",
        doc,
        _read_sources,
        default=(),
        default_words="the part's source",
        choices=figures,
    )


def _read_sources(described: Spec, name: str, value: Any) -> Sources:
    if isinstance(value, tuple):
        value = dict(value)
    if not isinstance(value, dict):
        raise InputError(
            name, value, "a table such as { mass = 'weighed' }", "Write key and source of each."
        )
    one = text("Words.").spec
    for figure, words in value.items():
        if figure not in described.choices:
            raise InputError(
                name,
                figure,
                f"keys among {', '.join(described.choices)}",
                f"Name a figure of this part; each source has at most {LONGEST_TEXT} characters.",
            )
        one.reader(one, f"{name}.{figure}", words)
    return Sources(sorted(value.items()))
