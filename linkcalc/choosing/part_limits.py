"""What is asked of parts themselves, whatever their margins: size, mass, price, what fits on what."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple, overload

import numpy as np

from linkcalc.catalogue.plausibility import doubts
from linkcalc.choosing.selection import Constraint
from linkcalc.errors import InputError
from linkcalc.model.value_classes import given, si, stated
from linkcalc.units import si as read_si

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from linkcalc.catalogue import ServoPart
    from linkcalc.choosing.part_axes import Hole, PartAxis
    from linkcalc.model import Aircraft

    Floats = NDArray[np.float64]
    Bools = NDArray[np.bool_]
    Whole = NDArray[np.intp]

__all__ = ["Limits", "Said", "bays_of", "fitting"]


class Said(Sequence[str]):
    """Words for every candidate, each made when it is asked for.

    Parameters
    ----------
    count : int
        Candidates.
    words : callable
        Index of a candidate to the words.
    """

    def __init__(self, count: int, words: Callable[[int], str]) -> None:
        self._count, self._words = count, words

    def __len__(self) -> int:
        """Return the number of candidates."""
        return self._count

    @overload
    def __getitem__(self, index: int) -> str: ...
    @overload
    def __getitem__(self, index: slice) -> list[str]: ...
    def __getitem__(self, index: int | slice) -> str | list[str]:
        """Return the words for one candidate, or for several."""
        if isinstance(index, slice):
            return [self._words(at) for at in range(*index.indices(self._count))]
        if not -self._count <= index < self._count:
            raise IndexError(index)
        return self._words(index % self._count)


def fitting(axes: Sequence[PartAxis]) -> Bools:
    """Tell which combinations are candidates: those whose arm fits their servo.

    Parameters
    ----------
    axes : sequence of PartAxis
        What is chosen.

    Returns
    -------
    ndarray of bool, shape (axis, ...)
        All True unless servos and arm holes are both chosen.
    """
    shape = tuple(len(axis.parts) for axis in axes)
    made = np.ones(shape, dtype=np.bool_)
    kinds = [axis.kind for axis in axes]
    if "servo" in kinds and "arm hole" in kinds:
        at = kinds.index("servo"), kinds.index("arm hole")
        servos, holes = (axes[index].parts for index in at)
        pairs = np.array([[_goes_on(hole, servo) for hole in holes] for servo in servos])
        ahead = [1] * len(shape)
        for index in at:
            ahead[index] = shape[index]
        made &= (pairs if at[0] < at[1] else pairs.T).reshape(ahead)
    return made


def _goes_on(hole: Hole, servo: ServoPart) -> bool:
    if hole.own:
        return hole.radius.si in servo.arm_holes.si
    spline = getattr(hole.part, "spline", None)
    return hole.part is None or (spline is not None and spline == servo.spline)


class Limits(NamedTuple):
    """What is asked of parts; None where nothing is."""

    most_mass: object
    most_price: float | None
    bays: Sequence[tuple[str, Sequence[object]]]
    spline: str | None
    voltage: object
    total_mass: object
    total_price: float | None
    currency: str
    undoubted: bool = False

    def constraints(self, axes: Sequence[PartAxis], candidates: Whole) -> list[Constraint]:
        """Return those that were asked for.

        Parameters
        ----------
        axes : sequence of PartAxis
            What is chosen.
        candidates : ndarray of int, shape (axis, candidate)
            Which value of each axis.

        Returns
        -------
        list of Constraint
            Of shape (candidate,).
        """
        made = []
        for axis, place in zip(axes, candidates, strict=True):
            refused = np.array([not words for words in axis.refused])
            if not refused.all():
                name = f"a {axis.kind} that fits"
                made.append(Constraint(name, refused, details=axis.refused).taken(place))
            if axis.kind == "servo":
                made += [each.taken(place) for each in self._of_servos(axis.parts)]
            if axis.kind == "arm hole" and self.spline is not None:
                same = [hole.part is None or hole.part.spline == self.spline for hole in axis.parts]
                name = f"an arm of spline {self.spline}"
                made.append(Constraint(name, np.array(same), details=axis.axis.labels).taken(place))
        return [*made, *self._of_all(axes, candidates)]

    def _of_all(self, axes: Sequence[PartAxis], candidates: Whole) -> list[Constraint]:
        """Return limits on all that is chosen together."""
        made = []
        pairs = list(zip(axes, candidates, strict=True))
        if self.total_mass is not None:
            most = read_si("total_mass", self.total_mass, "mass")
            masses = np.sum([axis.mass[place] for axis, place in pairs], axis=0)
            name = f"mass of all at most {most * 1e3:.4g} g"
            made.append(Constraint(name, masses <= most, masses * 1e3, "g"))
        if self.total_price is not None:
            prices = np.sum([axis.price[place] for axis, place in pairs], axis=0)
            name = f"price of all at most {self.total_price:g} {self.currency}".rstrip()
            made.append(Constraint(name, prices <= self.total_price, prices, self.currency))
        return made

    def _of_servos(self, servos: Sequence[ServoPart]) -> list[Constraint]:
        """Return limits on one servo."""
        made = []
        if self.most_mass is not None:
            most = read_si("most_mass", self.most_mass, "mass")
            masses = np.array([si(each, "mass") for each in servos])
            name = f"mass at most {most * 1e3:.4g} g"
            made.append(Constraint(name, masses <= most, masses * 1e3, "g"))
        if self.most_price is not None:
            prices = np.array([math.nan if each.price is None else each.price for each in servos])
            name = f"price at most {self.most_price:g} {self.currency}".rstrip()
            made.append(Constraint(name, prices <= self.most_price, prices, self.currency))
        made += [_inside(name, bay, servos) for name, bay in self.bays]
        if self.spline is not None:
            same = np.array([each.spline == self.spline for each in servos])
            words = [f"its spline is {each.spline or 'not given'}" for each in servos]
            made.append(Constraint(f"of spline {self.spline}", same, details=words))
        if self.voltage is not None:
            made.append(_rated(self.voltage, servos))
        if self.undoubted:
            made.append(_undoubted(servos))
        return made


def _rated(voltage: object, servos: Sequence[ServoPart]) -> Constraint:
    """Return the limit on the voltage that a servo is rated for."""
    most = read_si("voltage", voltage, "voltage")
    rated = np.array([si(each, "maximum_voltage", si(each.rows[-1], "voltage")) for each in servos])
    return Constraint(f"rated for {most:.4g} V", rated >= most, rated, "V")


def _undoubted(servos: Sequence[ServoPart]) -> Constraint:
    """Return what leaves out servos whose datasheet is doubted."""
    rules: dict[str, list[str]] = {}
    for doubt in doubts(servos):
        rules.setdefault(doubt.part, []).append(doubt.rule)
    words = [", ".join(dict.fromkeys(rules.get(each.name, ()))) for each in servos]
    return Constraint("of an undoubted datasheet", np.array([not w for w in words]), details=words)


_SIDES = ("length", "width", "height")


def bays_of(
    bay: Sequence[object] | Mapping[str, Sequence[object]] | None,
    aircraft: Aircraft,
    runs: Sequence[int],
) -> tuple[tuple[str, Sequence[object]], ...]:
    """Return the bays that a servo has to fit in which some runs get.

    Parameters
    ----------
    bay : sequence of three quantities, mapping of these by run, or None
        Of every run; or by the name of a run, where the empty name stands for all others.
    aircraft : Aircraft
        That parts are chosen for.
    runs : sequence of int
        Which runs.

    Returns
    -------
    tuple of tuple of str and sequence
        How each is called, and its sizes.

    Raises
    ------
    InputError
        There is no run of such a name.
    """
    if bay is None:
        return ()
    if not isinstance(bay, Mapping):
        return (("inside the bay", bay),)
    known = [run.name for run in aircraft.runs]
    for name in bay:
        if name and name not in known:
            words = ", ".join(repr(each) for each in known[:8])
            raise InputError("bay", name, f"names of control runs: {words}", "Check the name.")
    named = [known[at] for at in runs if known[at] in bay]
    made = [(f"inside the bay of {name!r}", bay[name]) for name in named]
    if "" in bay and len(named) < len(runs):
        made.append(("inside the bay", bay[""]))
    return tuple(made)


def _inside(name: str, bay: Sequence[object], servos: Sequence[ServoPart]) -> Constraint:
    if isinstance(bay, str) or len(bay) != len(_SIDES):
        raise InputError(
            "bay",
            bay,
            "length, width and height such as ('24 mm', '13 mm', '30 mm')",
            "Give the three sizes of the room for a servo.",
        )
    room = [read_si(f"bay[{at}]", side, "length") for at, side in enumerate(bay)]
    fits, words = [], []
    for each in servos:
        sides: list[Any] = [stated(each, side) for side in _SIDES]
        known = given(each, *_SIDES)
        fits.append(known and all(side.si <= most for side, most in zip(sides, room, strict=True)))
        words.append(" x ".join(side.text for side in sides) if known else "its size is not given")
    return Constraint(name, np.array(fits), details=words)
