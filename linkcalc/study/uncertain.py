"""The uncertain quantities of an aircraft: found, given a distribution, and put back with other values."""

from __future__ import annotations

import difflib
import re
from typing import TYPE_CHECKING, Any, NamedTuple

from linkcalc.errors import Fault, InputError, InputFaults
from linkcalc.model import Aircraft, Lead, Servo
from linkcalc.model.value_classes import ValueClass, fields, replace, stated
from linkcalc.tolerances.distributions import Normal, Truncated, of_tolerance
from linkcalc.tolerances.inputs import Group, UncertainInputs
from linkcalc.units import KINDS, Stated, parse

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from linkcalc.model.tolerances import ToleranceGroup
    from linkcalc.model.value_classes import Spec
    from linkcalc.tolerances.distributions import Distribution

__all__ = ["DEFAULT_TOLERANCES", "UncertainAircraft", "UncertainQuantity"]

Path = tuple[Any, ...]

PRACTICE = "common practice, no source"

DEFAULT_TOLERANCES: dict[tuple[str, str], str] = {
    ("ServoArm", "radius"): "0.25 mm",
    ("ControlHorn", "radius"): "0.25 mm",
    ("Pushrod", "length"): "0.5 mm",
    ("DatasheetRow", "stall_torque"): "10 %",
    ("DatasheetRow", "no_load_speed"): "10 %",
    ("DatasheetRow", "stall_current"): "15 %",
    ("DatasheetRow", "no_load_current"): "20 %",
    ("Servo", "travel"): "2 deg",
    ("Lead", "gauge"): "5 %",
    ("Lead", "return_gauge"): "5 %",
    ("Lead", "length"): "2 %",
    ("Lead", "contact_resistance"): "50 %",
    ("Lead", "loop_resistance"): "2 %",
    ("Supply", "voltage"): "2 %",
    ("Supply", "internal_resistance"): "20 %",
    ("ControlSurface", "span"): "2 mm",
    ("ControlSurface", "chord"): "1 mm",
    ("ControlSurface", "throw"): "1 deg",
    ("ControlSurface", "throw_up"): "1 deg",
    ("ControlSurface", "throw_down"): "1 deg",
    ("ControlSurface", "mass"): "5 %",
    ("FlightCase", "speed"): "5 %",
}
"""Half widths of uniform distributions by kind of field, all common practice without a source; never
more than half of the quantity."""

_NEGLIGIBLE = 1e-12  # chance of a normal tail that is not worth cutting off


class _Found(NamedTuple):
    """A quantity in the aircraft."""

    path: Path
    place: str
    owner: str
    field: str
    spec: Spec
    held: Stated


class UncertainQuantity(NamedTuple):
    """Quantities of the aircraft that share one error.

    Attributes
    ----------
    place : str
        As errors name it; ``rows[*]`` stands for all rows of a datasheet.
    kind : str
        A key of `linkcalc.units.KINDS`.
    stated : tuple of Stated
        What the description says, with the tolerance that is used.
    paths : tuple
        Where they are.
    source : str
        ``"stated"``, or what stands in.
    distribution : Distribution
        Of the first of them [SI]; the others deviate by the same share of their tolerance.
    """

    place: str
    kind: str
    stated: tuple[Stated, ...]
    paths: tuple[Path, ...]
    source: str
    distribution: Distribution


class UncertainAircraft:
    """An aircraft with the distributions of what is uncertain about it.

    Parameters
    ----------
    aircraft : Aircraft
        As it is described.
    defaults : bool, optional
        Whether default tolerances stand in; left out, what the aircraft says.

    Attributes
    ----------
    quantities : tuple of UncertainQuantity
        By their place in the description.
    inputs : UncertainInputs
        Their distributions by place, and what moves together.
    notes : tuple of str
        What stands in, and what was cut off.

    Raises
    ------
    InputFaults
        Nothing is uncertain, or a group names nothing that is or contradicts another.
    """

    def __init__(self, aircraft: Aircraft, *, defaults: bool | None = None) -> None:
        said = aircraft.tolerances
        wanted = said.defaults == "on" if defaults is None else defaults
        self.aircraft = aircraft
        self.quantities = tuple(_quantities(aircraft, defaults=wanted))
        distributions = {one.place: one.distribution for one in self.quantities}
        _refuse_lonely(said.groups, distributions)
        try:
            groups = [
                Group(group.name, _matching(group.places, distributions), group.correlation)
                for group in said.groups
            ]
            self.inputs = UncertainInputs(distributions, groups=groups)
        except InputError as error:
            raise InputFaults([error.fault._replace(place=_in_file(error.fault))]) from None
        self.notes = tuple(_notes(self.quantities))

    def at(self, values: Mapping[str, Any]) -> Aircraft:
        """Return the aircraft with other values in the place of what is uncertain.

        Parameters
        ----------
        values : mapping of str to float or Sampled
            By place, in SI.

        Returns
        -------
        Aircraft
            Checked by its own rules. Each run has a servo of its own.

        Raises
        ------
        InputError
            Its rules refuse these values.
        """
        changes: dict[Path, Stated] = {}
        for one in self.quantities:
            first = one.stated[0]
            share = (values[one.place] - first.si) / first.tolerance
            for path, held in zip(one.paths, one.stated, strict=True):
                value, unit = held.si + share * held.tolerance, KINDS[one.kind].unit
                changes[path] = Stated(value, unit, value, f"{value:.10g} {unit}")
        made: Aircraft = _Rebuilding(changes).part(self.aircraft, ())
        return made


def _in_file(fault: Fault) -> str:
    return f"tolerances.{fault.place}" if fault.place.startswith("groups") else "tolerances"


def _refuse_lonely(groups: tuple[ToleranceGroup, ...], known: Mapping[str, Any]) -> None:
    """Refuse groups that name fewer than two uncertain quantities, all of them at once."""
    faults = []
    for group in groups:
        count = len(_matching(group.places, known))
        if count < 2:
            close = difflib.get_close_matches(group.places, known, 3, 0.0)
            faults.append(
                Fault(
                    "",
                    f"tolerances.groups[{group.name!r}].places",
                    f"{group.places!r}, which matches {count} of {len(known)} uncertain quantities",
                    "two or more of them",
                    "Give their keys, with * for what differs; the nearest are: "
                    + ", ".join(close)
                    + ".",
                )
            )
    if faults:
        raise InputFaults(faults)


def _matching(pattern: str, known: Mapping[str, Any]) -> tuple[str, ...]:
    wanted = re.compile(".*".join(map(re.escape, pattern.split("*"))))
    return tuple(place for place in known if wanted.fullmatch(place))


def _quantities(aircraft: Aircraft, *, defaults: bool) -> Iterator[UncertainQuantity]:
    together: dict[tuple[Any, ...], list[tuple[_Found, str]]] = {}
    for found in _walk(aircraft, (), "", set()):
        held, source = _with_tolerance(found, defaults=defaults)
        if held.tolerance > 0:
            place = re.sub(r"\.rows\[\d+\]", ".rows[*]", found.place)
            key = (place, held.spread, held.multiple)
            together.setdefault(key, []).append((found._replace(held=held), source))
    for (place, *_), members in together.items():
        alone = [known for known in together if known[0] == place] != [(place, *_)]
        name = members[0][0].place if alone or len(members) == 1 else place
        each = [found for found, _ in members]
        sources = dict.fromkeys(source for _, source in members)
        yield UncertainQuantity(
            name,
            each[0].spec.kind,
            tuple(found.held for found in each),
            tuple(found.path for found in each),
            ", ".join(sources),
            _distribution(each),
        )


def _with_tolerance(found: _Found, *, defaults: bool) -> tuple[Stated, str]:
    """Return the quantity with its tolerance, or the default one, and where that is from."""
    held = found.held
    if held.tolerance > 0 or not defaults:
        return held, "stated"
    words = DEFAULT_TOLERANCES.get((found.owner, found.field))
    if words is None or held.si == 0:
        return held, ""
    if words.endswith("%"):
        width = abs(held.si) * float(words[:-1]) / 100
    else:
        width = parse(found.field, words, found.spec.kind).si
    width = min(width, abs(held.si) / 2)
    return held._replace(tolerance=width), f"not stated: ± {words} ({PRACTICE})"


def _distribution(members: list[_Found]) -> Distribution:
    first = members[0].held
    whole = of_tolerance(first.si, first.tolerance, spread=first.spread, multiple=first.multiple)
    if not (members[0].spec.bound and isinstance(whole, Normal)):
        return whole
    nearest = min(found.held.si / found.held.tolerance for found in members)
    bound = first.si - nearest * first.tolerance
    return Truncated(whole, bound) if whole.lower(bound) > _NEGLIGIBLE else whole


def _notes(quantities: tuple[UncertainQuantity, ...]) -> Iterator[str]:
    kinds: dict[str, list[str]] = {}
    for one in quantities:
        if one.source != "stated":
            keys = [key for key in one.paths[0] if isinstance(key, str)]
            field = f"{keys[0 if keys[0] == 'leads' else -2]}.{keys[-1]}"
            words = kinds.setdefault(one.source, [])
            if field not in words:
                words.append(field)
    for source, names in kinds.items():
        yield f"{', '.join(names)} {source}"
    for one in quantities:
        if isinstance(one.distribution, Truncated):
            share = one.distribution.left_out
            yield f"{one.place}: cut off at zero, which leaves out {share:.2g} of the distribution"


def _walk(owner: ValueClass, path: Path, place: str, leads: set[str]) -> Iterator[_Found]:
    for field in fields(type(owner)):
        here = f"{place}.{field.name}" if place else field.name
        value = stated(owner, field.name)
        if isinstance(value, Stated):
            if field.spec.form == "quantity":
                name = type(owner).__name__
                yield _Found((*path, field.name), here, name, field.name, field.spec, value)
        elif isinstance(value, Lead):
            if value.name not in leads:
                leads.add(value.name)
                yield from _walk(value, ("leads", value.name), f"leads.{value.name}", leads)
        elif isinstance(value, ValueClass):
            yield from _walk(value, (*path, field.name), here, leads)
        elif field.spec.form == "parts":
            for index, item in enumerate(value):
                named = any(one.name == "name" for one in fields(type(item)))
                label = f"[{stated(item, 'name')!r}]" if named else f"[{index}]"
                single = field.name == "linkages" and len(value) == 1
                inner = place if single else f"{here}{label}"
                yield from _walk(item, (*path, field.name, index), inner, leads)


class _Rebuilding:
    """Makes a copy of an aircraft with some quantities changed; a lead stays one thing."""

    def __init__(self, changes: dict[Path, Stated]) -> None:
        self.changes = changes
        self.leads: dict[int, Lead] = {}

    def part(self, owner: Any, path: Path) -> Any:
        new: dict[str, Any] = {}
        for field in fields(type(owner)):
            value, here = stated(owner, field.name), (*path, field.name)
            if here in self.changes:
                new[field.name] = self.changes[here]
            elif isinstance(value, ValueClass):
                made = self.lead(value) if isinstance(value, Lead) else self.part(value, here)
                if made is not value:
                    new[field.name] = made
            elif field.spec.form == "parts":
                items = tuple(self.part(item, (*here, index)) for index, item in enumerate(value))
                if any(one is not other for one, other in zip(items, value, strict=True)):
                    new[field.name] = items
        if new and isinstance(owner, Servo):
            new["name"] = f"{owner.name[:60]} of run {path[1] + 1}"
        return replace(owner, **new) if new else owner

    def lead(self, lead: Lead) -> Lead:
        if id(lead) not in self.leads:
            self.leads[id(lead)] = self.part(lead, ("leads", lead.name))
        return self.leads[id(lead)]
