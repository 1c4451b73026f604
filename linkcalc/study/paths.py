"""Places in an aircraft by their path, as faults and files spell them."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from linkcalc.errors import InputError, shown, told
from linkcalc.model import ControlRun, Lead, Linkage
from linkcalc.model.aircraft import leads
from linkcalc.model.value_classes import ValueClass, fields, stated
from linkcalc.study.rewriting import evolved

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from linkcalc.model import Aircraft
    from linkcalc.model.value_classes import Spec

__all__ = ["parsed", "placed", "relaid", "spec_at"]

_LONGEST = 400
_STEP = re.compile(r"\.?([A-Za-z_][A-Za-z_0-9 -]*)|\[(\d+)\]|\['([^'\]]*)'\]|\[([^'\]\d][^\]]*)\]")
_EXAMPLE = "a path such as runs['elevator'].arm or leads.tail.gauge"


def parsed(path: str) -> list[str | int]:
    """Take a path apart.

    Parameters
    ----------
    path : str
        Names with dots between them, places and names of list items in brackets.

    Returns
    -------
    list of str or int
        Names and places, in this order.

    Raises
    ------
    InputError
        It is none.

    Examples
    --------
    >>> parsed("runs['elevator'].linkages[0].arm")
    ['runs', 'elevator', 'linkages', 0, 'arm']
    >>> parsed("leads.tail.gauge")
    ['leads', 'tail', 'gauge']
    """
    steps: list[str | int] = []
    at = 0
    while at < len(path) <= _LONGEST:
        match = _STEP.match(path, at)
        if match is None:
            break
        name, place, quoted, bare = match.groups()
        steps.append(
            int(place) if place is not None else next(filter(None, (name, quoted, bare)), "")
        )
        at = match.end()
    if at < len(path) or not steps:
        raise InputError("path", path, _EXAMPLE, "Spell it as a fault of a file would.")
    return steps


def placed(aircraft: Aircraft, path: str, value: Any) -> Aircraft:
    """Return an aircraft with another value at a place.

    Parameters
    ----------
    aircraft : Aircraft
        As it is.
    path : str
        Where, as in a file: ``servos`` and ``leads`` by their names, a run with one
        surface carries the keys of its linkage itself.
    value : object
        What the place takes: a quantity or its text, a number, a word, a part.

    Returns
    -------
    Aircraft
        Changed there and nowhere else; a servo or lead for all that use it.

    Raises
    ------
    InputError
        There is no such place, or its own rules refuse the value.

    Examples
    --------
    >>> from linkcalc import read_aircraft
    >>> glider = read_aircraft("examples/sandpiper.toml")
    >>> longer = placed(glider, "leads.tail.length", "1.2 m")
    >>> longer.runs[4].lead.length
    <Quantity(1.2, 'meter')>
    """
    steps = parsed(path)
    try:
        return _placed(aircraft, path, steps, value)
    except InputError as error:  # a part tells its own field alone
        found, *remedy = error.fault[2:]
        raise type(error)(path, told(found), *remedy) from None


def _placed(aircraft: Aircraft, path: str, steps: list[str | int], value: Any) -> Aircraft:
    if steps[0] in {"servos", "leads"} and len(steps) > 2:
        kind, name, *rest = steps
        changed = _changed(path, rest, value)
        return (
            _with_servo(aircraft, path, name, changed)
            if kind == "servos"
            else relaid(aircraft, path, name, changed)
        )
    made: Aircraft = _changed(path, steps, value)(aircraft)
    return made


def spec_at(aircraft: Aircraft, path: str) -> Spec | None:
    """Return what the field holds into which `placed` puts a value at a path.

    Parameters
    ----------
    aircraft : Aircraft
        That has the place.
    path : str
        As `placed` takes it.

    Returns
    -------
    Spec or None
        Of the field; None where nothing is there yet.
    """
    steps = parsed(path)
    owner: Any = aircraft
    if steps[0] in {"servos", "leads"} and len(steps) > 2:
        kind, name, *steps = steps
        items: Any = [run.servo for run in aircraft.runs] if kind == "servos" else leads(aircraft)
        owner = next((item for item in items if item.name == name), None)
    while owner is not None:
        name, *steps = steps
        known = {item.name: item for item in fields(type(owner))}
        if name not in known and isinstance(owner, ControlRun) and _in_linkage(owner, name):
            owner, steps = owner.linkages[0], [name, *steps]
            continue
        if name not in known:
            return None
        spec, held = known[str(name)].spec, stated(owner, str(name))
        if spec.form == "parts" and steps:
            owner, steps = held[_index(held, steps[0], path)], steps[1:]
            if not steps:
                return spec
        elif spec.form in {"part", "reference"} and (steps or spec.shorthand):
            owner, steps = held, steps or [spec.shorthand]
        else:
            return None if steps else spec
    return None


def _changed(path: str, steps: list[str | int], value: Any) -> Callable[[Any], Any]:
    return lambda owner: _put(owner, steps, value, path)


def _put(owner: Any, steps: list[str | int], value: Any, path: str) -> Any:
    """Return a part with a value put somewhere inside it."""
    name, *rest = steps
    known = {item.name: item for item in fields(type(owner))}
    if name not in known and isinstance(owner, ControlRun) and _in_linkage(owner, name):
        return _put(owner, ["linkages", 0, *steps], value, path)
    if name not in known:
        raise _no_such(path, told(f"no field {shown(name)}"), name, known)
    held, now = known[str(name)].spec, stated(owner, str(name))
    if held.form == "parts" and rest:
        index = _index(now, rest[0], path)
        inner = value if len(rest) == 1 else _put(now[index], rest[1:], value, path)
        return evolved(owner, **{name: (*now[:index], inner, *now[index + 1 :])})
    if held.form in {"part", "reference"} and (rest or not isinstance(value, ValueClass)):
        if not rest and held.shorthand and value is not None:
            rest = [held.shorthand]
        if rest:
            if now is None:
                raise InputError(
                    path, told("nothing"), "a part that the file has", "State it first."
                )
            return evolved(owner, **{name: _put(now, rest, value, path)})
    if rest:
        raise InputError(
            path, told(f"{shown(name)} has nothing inside"), _EXAMPLE, "Check the path."
        )
    return evolved(owner, **{name: value})


def _in_linkage(run: ControlRun, name: str | int) -> bool:
    """Tell whether a run carries a key of its only linkage itself."""
    return len(run.linkages) == 1 and name in {item.name for item in fields(Linkage)}


def _index(items: Any, step: str | int, path: str) -> int:
    names = [getattr(item, "name", getattr(item, "run", None)) for item in items]
    if isinstance(step, str) and step in names:
        return names.index(step)
    if isinstance(step, int) and step < len(items):
        return step
    known = [name for name in names if name]
    raise _no_such(path, step, step, known or [f"0 to {len(items) - 1}"])


def _no_such(path: str, found: Any, name: str | int, known: Iterable[str]) -> InputError:
    """Tell that a step of a path leads nowhere, with the nearest that leads somewhere."""
    import difflib  # noqa: PLC0415 - only an error pays for it

    known = list(known)
    close = difflib.get_close_matches(str(name)[:60], known, n=1)
    remedy = f"Did you mean {close[0]!r}?" if close else "Check the spelling."
    return InputError(path, found, f"one of {', '.join(known)}", remedy)


def _with_servo(aircraft: Aircraft, path: str, name: Any, change: Callable[[Any], Any]) -> Aircraft:
    if all(run.servo.name != name for run in aircraft.runs):
        known = sorted({run.servo.name for run in aircraft.runs})
        raise _no_such(path, told(f"no servo {shown(name)}"), name, known)
    return evolved(
        aircraft,
        runs=tuple(
            evolved(run, servo=change(run.servo)) if run.servo.name == name else run
            for run in aircraft.runs
        ),
    )


def relaid(aircraft: Aircraft, path: str, name: Any, change: Callable[[Lead], Lead]) -> Aircraft:
    """Return an aircraft with a lead changed for everything that hangs from it.

    Parameters
    ----------
    aircraft : Aircraft
        As it is.
    path : str
        For the message if there is no such lead.
    name : str
        Which.
    change : callable
        The lead to the changed one.

    Returns
    -------
    Aircraft
        With it.

    Raises
    ------
    InputError
        There is no such lead.
    """
    made: dict[str, Lead] = {}

    def again(lead: Lead | None) -> Lead | None:
        if lead is None:
            return None
        if lead.name not in made:
            fed = evolved(lead, feed=again(lead.feed))
            made[lead.name] = change(fed) if lead.name == name else fed
        return made[lead.name]

    changed = evolved(
        aircraft,
        runs=tuple(evolved(run, lead=again(run.lead)) for run in aircraft.runs),
        loads=tuple(evolved(load, lead=again(load.lead)) for load in aircraft.loads),
        receiver=evolved(aircraft.receiver, lead=again(aircraft.receiver.lead)),
    )
    if name not in made:
        raise _no_such(path, told(f"no lead {shown(name)}"), name, sorted(made) or ["none"])
    return changed
