"""Hypothesis strategies for what an aircraft file describes: quantities, servos, runs, aircraft.

What is drawn is valid by construction: it can be checked, though it may well fall short. Sizes are
those of models and light unmanned aircraft (common practice, no source). Examples shrink towards
one run, one case, millimetres and small numbers.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from hypothesis import strategies as st
from hypothesis.errors import InvalidArgument

from linkcalc.model import (
    Aircraft,
    ControlHorn,
    ControlRun,
    ControlSurface,
    DatasheetRow,
    FlightCase,
    Lead,
    Linkage,
    LinkageStage,
    Pushrod,
    Receiver,
    Servo,
    ServoArm,
    Supply,
)

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["aircraft", "chains_of_stages", "leads", "quantities", "runs", "servos", "surfaces"]

_UNITS: Mapping[str, Mapping[str, float]] = {
    "length": {"mm": 1e-3, "cm": 1e-2, "m": 1.0, "in": 0.0254},
    "mass": {"g": 1e-3, "kg": 1.0},
    "angle": {"deg": math.pi / 180.0, "rad": 1.0},
    "speed": {"m/s": 1.0, "km/h": 1.0 / 3.6},
    "torque": {"N*cm": 0.01, "N*m": 1.0, "kg·cm": 0.0980665},
    "voltage": {"V": 1.0},
    "current": {"mA": 1e-3, "A": 1.0},
    "resistance": {"mohm": 1e-3, "ohm": 1.0},
    "force": {"N": 1.0},
}


def quantities(kind: str, least: float, most: float) -> st.SearchStrategy[str]:
    """Quantities as people write them: four digits and a unit of the kind.

    Parameters
    ----------
    kind : str
        One of length, mass, angle, speed, torque, voltage, current, resistance and force.
    least, most : float
        Ends in SI units and radians, kept to four digits.

    Returns
    -------
    strategy of str
        For a field of the model.

    Raises
    ------
    InvalidArgument
        There is no such kind, or the ends are not finite and in order.

    Examples
    --------
    >>> from hypothesis import given
    >>> from linkcalc.units import si
    >>> @given(quantities("length", 0.01, 0.02))
    ... def is_a_length(text):
    ...     assert 0.0099 < si("it", text, "length") < 0.0201
    >>> is_a_length()
    """
    if kind not in _UNITS:
        raise InvalidArgument(f"kind={kind!r} must be one of {', '.join(_UNITS)}")
    if not -math.inf < least <= most < math.inf:
        raise InvalidArgument(f"least={least!r}, most={most!r}: finite, in order")
    units = _UNITS[kind]

    def written(pair: tuple[str, float]) -> str:
        unit, share = pair
        value = (least + share * (most - least)) / units[unit]
        return f"{float(f'{value:.4g}')!r} {unit}"

    return st.tuples(st.sampled_from(list(units)), st.floats(0.0, 1.0)).map(written)


@st.composite
def servos(draw: st.DrawFn, *, most_rows: int = 3) -> Servo:
    """Servos with one datasheet row or several, the higher voltage the stronger and faster.

    Parameters
    ----------
    draw : callable
        From Hypothesis; not an argument of the strategy.
    most_rows : int, optional
        Datasheet rows at most.

    Returns
    -------
    strategy of Servo
        Of 0.05 to 1.5 N m at the first row.

    Examples
    --------
    >>> from hypothesis import given
    >>> @given(servos(most_rows=1))
    ... def has_one_row(servo):
    ...     assert len(servo.rows) == 1
    >>> has_one_row()
    """
    voltage, torque = draw(st.floats(4.0, 6.0)), draw(st.floats(0.05, 1.5))
    seconds, current = draw(st.floats(0.05, 0.25)), draw(st.floats(0.4, 3.0))
    rows = []
    for _ in range(draw(st.integers(1, most_rows))):
        rows.append(
            DatasheetRow(
                voltage=f"{voltage:.3f} V",
                stall_torque=f"{torque:.5f} N*m",
                no_load_speed=f"{seconds:.5f} s/60deg",
                stall_current=f"{current:.4f} A",
            )
        )
        step = 1.0 + draw(st.floats(0.05, 0.25))
        voltage, torque, current = voltage * step, torque * step, current * step
        seconds /= step
    return Servo(name="drawn servo", rows=tuple(rows))


@st.composite
def leads(draw: st.DrawFn, *, longest: float = 3.0) -> Lead:
    """Servo leads by gauge and length, with some contacts.

    Parameters
    ----------
    draw : callable
        From Hypothesis; not an argument of the strategy.
    longest : float, optional
        Greatest length [m].

    Returns
    -------
    strategy of Lead
        Of 20 to 30 AWG.

    Examples
    --------
    >>> from hypothesis import given
    >>> @given(leads())
    ... def has_a_gauge(lead):
    ...     assert lead.gauge is not None
    >>> has_a_gauge()
    """
    return Lead(
        name="drawn lead",
        gauge=f"{draw(st.sampled_from([20, 22, 24, 26, 28, 30]))} AWG",
        length=draw(quantities("length", 0.05, longest)),
        contacts=draw(st.integers(0, 3)),
        contact_resistance=draw(quantities("resistance", 0.001, 0.02)),
    )


@st.composite
def surfaces(draw: st.DrawFn, *, mass: bool | None = None) -> ControlSurface:
    """Control surfaces, level or fins.

    Parameters
    ----------
    draw : callable
        From Hypothesis; not an argument of the strategy.
    mass : bool, optional
        Whether its weight is given; left out for both.

    Returns
    -------
    strategy of ControlSurface
        Of 0.1 to 1 m span.

    Examples
    --------
    >>> from hypothesis import given
    >>> @given(surfaces(mass=False))
    ... def has_a_span(surface):
    ...     assert surface.span is not None
    >>> has_a_span()
    """
    chord = draw(st.floats(0.02, 0.1))
    given: dict[str, Any] = {
        "span": draw(quantities("length", 0.1, 1.0)),
        "chord": f"{chord:.4f} m",
        "throw": draw(quantities("angle", 0.1, 0.5)),
        "chord_ratio": draw(st.floats(0.1, 0.6)),
        "taper": draw(st.floats(0.4, 1.0)),
        "plane": draw(st.sampled_from(["level", "fin"])),
    }
    if draw(st.booleans()) if mass is None else mass:
        given |= {
            "mass": draw(quantities("mass", 0.005, 0.1)),
            "mass_centre": f"{0.4 * chord:.4f} m",
        }
    return ControlSurface(**given)


@st.composite
def chains_of_stages(draw: st.DrawFn, *, most: int = 3) -> tuple[LinkageStage, ...]:
    """Stages of a chain, laid out by radii.

    Parameters
    ----------
    draw : callable
        From Hypothesis; not an argument of the strategy.
    most : int, optional
        Pushrods and pairs of cables at most; a torque rod may follow them.

    Returns
    -------
    strategy of tuple of LinkageStage
        A direct drive, or pushrods and cables, each closed at neutral and clear of its dead
        centres there.

    Raises
    ------
    InvalidArgument
        There is to be no stage.

    Examples
    --------
    >>> from hypothesis import given
    >>> @given(chains_of_stages(most=2))
    ... def is_short(stages):
    ...     assert 1 <= len(stages) <= 3
    >>> is_short()
    """
    if most < 1:
        raise InvalidArgument(f"most={most!r}: above 0")
    kinds = draw(st.lists(st.sampled_from(["pushrod", "cables"]), max_size=most))
    if not kinds:
        return (LinkageStage(kind="direct drive"),)
    made = [draw(_pulling(kind)) for kind in kinds]
    if draw(st.booleans()):
        size = {
            "length": quantities("length", 0.03, 0.3),
            "diameter": quantities("length", 3e-3, 6e-3),
        }
        drawn: dict[str, Any] = {name: draw(each) for name, each in size.items()}
        made.append(LinkageStage(kind="torque rod", **drawn))
    return tuple(made)


@st.composite
def _pulling(draw: st.DrawFn, kind: str) -> LinkageStage:
    """Draw a stage of a pushrod or of cables, its arms up to some 11 degrees from square."""
    length = draw(quantities("length", 0.08, 0.8))
    arm, horn = (
        ServoArm(
            radius=draw(quantities("length", least, most)),
            lean=draw(st.sampled_from(["0 deg", "5 deg", "-11 deg"])),
        )
        for least, most in ((0.008, 0.02), (0.01, 0.03))
    )
    own: dict[str, Any] = {"pushrod": Pushrod(length=length)}
    if kind == "cables":
        own = {"length": length, "preload": draw(quantities("force", 0.1, 20.0))}
    turn = draw(st.sampled_from(["0 deg", "90 deg", "-35 deg"]))
    return LinkageStage(kind=kind, arm=arm, horn=horn, turn=turn, **own)


@st.composite
def runs(draw: st.DrawFn, *, name: str = "drawn run", chained: bool | None = None) -> ControlRun:
    """Control runs: a servo on a lead, with a pushrod or a chain of stages to one surface.

    Parameters
    ----------
    draw : callable
        From Hypothesis; not an argument of the strategy.
    name : str, optional
        What the run is called; servo and lead are called after it.
    chained : bool, optional
        True for stages, False for one pushrod; left out for either.

    Returns
    -------
    strategy of ControlRun
        The linkage closes at neutral.

    Examples
    --------
    >>> from hypothesis import given
    >>> @given(runs(name="elevator"))
    ... def is_called_elevator(run):
    ...     assert run.name == "elevator"
    >>> is_called_elevator()
    """
    servo, lead = draw(servos()), draw(leads())
    if draw(st.booleans()) if chained is None else chained:
        linkage = Linkage(surface=draw(surfaces()), stages=draw(chains_of_stages()))
    else:
        linkage = Linkage(
            surface=draw(surfaces()),
            arm=ServoArm(radius=draw(quantities("length", 0.006, 0.025))),
            horn=ControlHorn(radius=draw(quantities("length", 0.008, 0.03))),
            pushrod=Pushrod(length=draw(quantities("length", 0.06, 0.8))),
        )
    return ControlRun(
        name=name,
        servo=Servo(name=f"servo of {name}", rows=servo.rows),
        lead=Lead(
            name=f"lead of {name}",
            gauge=lead.gauge,
            length=lead.length,
            contacts=lead.contacts,
            contact_resistance=lead.contact_resistance,
        ),
        linkages=(linkage,),
    )


@st.composite
def aircraft(draw: st.DrawFn, *, most_runs: int = 3, most_cases: int = 2) -> Aircraft:
    """Whole aircraft, ready for `linkcalc.check`.

    Parameters
    ----------
    draw : callable
        From Hypothesis; not an argument of the strategy.
    most_runs, most_cases : int, optional
        Control runs and flight cases at most.

    Returns
    -------
    strategy of Aircraft
        Runs with servos and leads of their own, on one supply.

    Examples
    --------
    >>> from hypothesis import given, settings
    >>> import linkcalc
    >>> @settings(max_examples=5, deadline=None)
    ... @given(aircraft(most_runs=1))
    ... def can_be_checked(drawn):
    ...     assert linkcalc.check(drawn).verdict in {"pass", "short"}
    >>> can_be_checked()
    """
    factors: Any = st.floats(-2.0, 6.0)  # a bare number, which the field makes a vector
    flown = [
        FlightCase(
            name=f"case {number}",
            kind=draw(st.sampled_from(["manoeuvre", "dive", "sustained"])),
            speed=draw(quantities("speed", 8.0, 60.0)),
            load_factor=draw(factors),
        )
        for number in range(1, draw(st.integers(1, most_cases)) + 1)
    ]
    drawn = [
        draw(runs(name=f"run {number}")) for number in range(1, draw(st.integers(1, most_runs)) + 1)
    ]
    lowest = max(float(run.servo.rows[0].voltage.m_as("V")) for run in drawn)
    return Aircraft(
        name="drawn aircraft",
        supply=Supply(
            voltage=f"{lowest * draw(st.floats(1.0, 1.2)):.3f} V",
            internal_resistance=draw(quantities("resistance", 0.005, 0.1)),
            current_limit=draw(quantities("current", 2.0, 30.0)),
        ),
        receiver=Receiver(),
        cases=tuple(flown),
        runs=tuple(drawn),
    )
