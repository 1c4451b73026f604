"""From the flows that a case and a surface name to arrays: downwash, slipstream, gusts, hands.

Nothing of it is computed for a file that names none: `Cases.local` is then empty.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from linkcalc.errors import Fault, InputFaults
from linkcalc.model.case import GROUND_KINDS
from linkcalc.model.value_classes import given, si, stated
from linkcalc.sampled import scalar, side_by_side
from linkcalc.units import STANDARD_GRAVITY

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from linkcalc.model import Aircraft, ControlRun, ControlSurface, FlightCase

    Floats = NDArray[np.float64]

__all__ = ["Stream", "ground_speed", "is_flat", "local_air", "speeds_at_runs"]


class Stream(NamedTuple):
    """The undisturbed stream of a case.

    Attributes
    ----------
    density : float
        [kg/m^3].
    speed : float
        True airspeed [m/s].
    """

    density: float
    speed: float


def is_flat(aircraft: Aircraft) -> bool:
    """Tell whether neither a surface nor a case names a flow of its own.

    Parameters
    ----------
    aircraft : Aircraft
        As described.

    Returns
    -------
    bool
        Whether the stream is the same everywhere, but for the wash that runs are given.
    """
    surfaces = (linkage.surface for run in aircraft.runs for linkage in run.linkages)
    return not any(_is_placed(surface) for surface in surfaces) and not any(
        case.kind in GROUND_KINDS or _blows(case) for case in aircraft.cases
    )


def _is_placed(surface: ControlSurface) -> bool:
    return surface.behind != "nothing" or _si(surface, "setting") != 0


def _blows(case: FlightCase) -> bool:
    names = ("gust_speed", "side_gust_speed", *_RATES)
    return any(_si(case, name) != 0 for name in names) or any(
        given(each, "hand_force") for each in (case, *case.runs)
    )


_RATES = ("roll_rate", "pitch_rate", "yaw_rate")


def _si(owner: Any, name: str, default: float = 0.0) -> float:
    return si(owner, name, default)


def ground_speed(aircraft: Aircraft, case: FlightCase, lines: list[str]) -> float:
    """Return the speed of a case that gives none: the wind of a regulation, or none by hand.

    Parameters
    ----------
    aircraft : Aircraft
        Its wing is used.
    case : FlightCase
        Parked or handling.
    lines : list of str
        Receives whose wind it is.

    Returns
    -------
    float
        [m/s].
    """
    if case.regulation is None:
        return 0.0
    from linkcalc.physics import ground_gust  # noqa: PLC0415 - most files have nothing on the ground

    if case.regulation == "14 CFR 23.415":
        wing = aircraft.airframe
        loading = _si(wing, "mass") * STANDARD_GRAVITY / _si(wing, "wing_area")
        speed = scalar(ground_gust.design_speed(wing_loading=loading))
    else:
        sailplane = case.regulation == "CS 22.415"
        speed = ground_gust.SAILPLANE_SPEED if sailplane else ground_gust.TRANSPORT_SPEED
    lines.append(f"wind of {speed:.4g} m/s on the ground by {case.regulation}")
    return speed


def speeds_at_runs(
    aircraft: Aircraft, case: FlightCase, stream: Stream, lines: list[str]
) -> list[float]:
    """Return the speed at every run: that of flight, or of the slipstream far behind.

    Parameters
    ----------
    aircraft : Aircraft
        Its propeller and its surfaces are used.
    case : FlightCase
        Its thrust is used.
    stream : Stream
        Of the case.
    lines : list of str
        Receives what was assumed.

    Returns
    -------
    list of float
        [m/s].

    Raises
    ------
    InputFaults
        The propeller brakes more than the stream has.
    """
    behind = [_is_behind(run, "propeller") for run in aircraft.runs]
    by_thrust, at_rest = given(case, "thrust"), given(case, "static_thrust")
    if not any(behind):
        return [stream.speed] * len(behind)
    if not by_thrust and not at_rest:
        if case.kind not in GROUND_KINDS:
            lines.append(
                "no thrust in this case: surfaces behind the propeller see the flight speed"
            )
        return [stream.speed] * len(behind)
    from linkcalc.physics import local_flow  # noqa: PLC0415 - most files have no propeller

    propeller = None if aircraft.airframe is None else aircraft.airframe.propeller
    disc = math.pi / 4 * _si(propeller, "diameter") ** 2
    shared = {"speed": stream.speed, "density": stream.density, "disc_area": disc}
    if by_thrust:
        flow = local_flow.slipstream(thrust=_si(case, "thrust"), **shared)
    else:
        flow = local_flow.slipstream_at_full_power(
            static_thrust=_si(case, "static_thrust"), **shared
        )
    far = scalar(flow.far)
    if not np.isfinite(far):
        place = f"cases[{case.name!r}].thrust"
        found = f"a propeller that brakes with {stated(case, 'thrust').text}"
        remedy = "Check the thrust and the propeller's diameter."
        raise InputFaults(
            [Fault("", place, found, "less than what stops the stream behind it", remedy)]
        )
    lines.append(
        f"slipstream of {far:.4g} m/s by momentum theory, fully contracted, at a thrust of "
        f"{scalar(flow.thrust):.4g} N" + ("" if by_thrust else " (ideal power as at no speed)")
    )
    return [far if each else stream.speed for each in behind]


def _is_behind(run: ControlRun, what: str) -> bool:
    return any(what in linkage.surface.behind for linkage in run.linkages)


def local_air(
    aircraft: Aircraft,
    streams: Sequence[Stream],
    normal: Floats,
    case_lines: Sequence[list[str]],
) -> dict[str, Floats]:
    """Return what the flows that were named do at every surface.

    Parameters
    ----------
    aircraft : Aircraft
        As described.
    streams : sequence of Stream
        Of the cases.
    normal : ndarray, shape (surface, 3)
        Of the surfaces, as `Surfaces` has them.
    case_lines : sequence of list of str
        Receive what was assumed in each case.

    Returns
    -------
    dict of str to ndarray, shape (case, surface)
        ``setting``, ``downwash`` and ``turned`` [rad], signed as the incidence of the surface;
        ``turned_most``, the sum of the magnitudes that make up ``turned`` [rad];
        ``turned_aside`` and ``turned_by_roll``, the parts of ``turned`` that a side gust and a
        rate of yaw, and that a rate of roll make [rad]; ``per_span`` and ``per_chord``, how much
        more there is outwards and aft [rad/m];
        ``gust_size``, K c S of the ground gust, nan in flight [m^3]; ``by_hand``, zero or
        more [N m].
    """
    surfaces = [(run.name, linkage.surface) for run in aircraft.runs for linkage in run.linkages]
    rows = [
        [
            (
                *_turned(aircraft, case, stream, surface, normal[..., place, :]),
                *_varying(case, stream, surface, normal[..., place, :]),
                *_from_outside(case, run, surface),
            )
            for place, (run, surface) in enumerate(surfaces)
        ]
        for case, stream in zip(aircraft.cases, streams, strict=True)
    ]
    for case, stream, lines in zip(aircraft.cases, streams, case_lines, strict=True):
        lines.extend(_assumed(aircraft, case, stream))
    names = (
        "setting", "downwash", "turned", "turned_most", "turned_aside", "turned_by_roll", "per_span",
        "per_chord", "gust_size", "by_hand",
    )  # fmt: skip
    return {
        name: side_by_side([side_by_side([each[place] for each in row]) for row in rows], own=1)
        for place, name in enumerate(names)
    }


def _from_outside(case: FlightCase, run: str, surface: ControlSurface) -> tuple[float, float]:
    """Return K c S of a ground gust, nan in flight [m^3], and the moment of a hand [N m]."""
    demand = next((item for item in case.runs if item.run == run), None)
    chord = _si(surface, "chord") * (1 - (surface.hinge_position or 0.0))  # aft of the hinge line
    longest = chord * 2 * max(1.0, surface.taper) / (1 + surface.taper)
    source = demand if demand is not None and given(demand, "hand_force") else case
    factor = math.nan
    if case.kind in GROUND_KINDS:
        from linkcalc.physics.ground_gust import LARGEST_FACTOR  # noqa: PLC0415 - as above

        own = LARGEST_FACTOR if demand is None else demand.ground_gust_factor
        factor = own if case.kind == "parked" else 0.0
    return factor * chord**2 * _si(surface, "span"), _si(source, "hand_force") * longest


def _turned(
    aircraft: Aircraft, case: FlightCase, stream: Stream, surface: ControlSurface, normal: Floats
) -> tuple[float, float, float, float]:
    """Return setting, downwash, and what else turns the stream, signed and at most [rad]."""
    if case.kind in GROUND_KINDS:
        return (0.0, 0.0, 0.0, 0.0)
    behind = "wing" in surface.behind
    down = _downwash(aircraft, case, stream) * scalar(normal[..., 2]) if behind else 0.0
    turns = _turns(case, stream, surface, normal)
    return (_si(surface, "setting"), down, sum(turns), sum(abs(turn) for turn in turns))


def _downwash(aircraft: Aircraft, case: FlightCase, stream: Stream) -> float:
    """Return the angle by which the wing of a case turns the stream down [rad]."""
    from linkcalc.physics import local_flow  # noqa: PLC0415 - most files have no wing

    if not stream.speed > 0:  # of a dive that is still to be followed: no stream is known yet
        return 0.0
    wing = aircraft.airframe
    felt = -case.load_factor[2] * _si(wing, "mass") * STANDARD_GRAVITY
    lift = felt / (0.5 * stream.density * stream.speed**2 * _si(wing, "wing_area"))
    return scalar(
        local_flow.downwash_angle(lift_coefficient=lift, aspect_ratio=wing.aspect_ratio)  # type: ignore[union-attr] # its rule asks for it
    )


def _turns(
    case: FlightCase, stream: Stream, surface: ControlSurface, normal: Floats
) -> tuple[float, ...]:
    """Return the changes of incidence by gusts and by rates of turn [rad].

    The stream relative to a place r that turns with the aircraft is less by omega x r.
    """
    from linkcalc.physics import local_flow  # noqa: PLC0415 - most files have no gust

    up, across = (
        scalar(local_flow.gust_incidence(gust_speed=_si(case, name), airspeed=stream.speed))
        for name in ("gust_speed", "side_gust_speed")
    )
    gusts = (up * scalar(normal[..., 2]), -across * scalar(normal[..., 1]))
    roll, pitch, yaw = (_si(case, name) for name in _RATES)
    if surface.station is None or not (roll or pitch or yaw):
        return gusts
    place = np.array(surface.station)
    turned = []
    for axis, rate in enumerate((-roll, pitch, -yaw)):  # of (aft, starboard, up), one at a time
        moved = np.cross(np.eye(3)[axis], place)
        turned.append(-rate * scalar(normal @ moved) / stream.speed)
    return (*gusts, *turned)


def _varying(
    case: FlightCase, stream: Stream, surface: ControlSurface, normal: Floats
) -> tuple[float, float, float, float]:
    """Return what turns the stream aside and by roll [rad], and its rise outwards and aft [rad/m].

    A surface on the plane of symmetry has as much of a roll to one side as to the other.
    """
    if case.kind in GROUND_KINDS:
        return (0.0, 0.0, 0.0, 0.0)
    _, gust, *turned = _turns(case, stream, surface, normal)
    if not turned:  # no rates, or no station
        return (gust, 0.0, 0.0, 0.0)
    roll, pitch, yaw = (_si(case, name) for name in _RATES)
    across, up = scalar(normal[..., 1]), scalar(normal[..., 2])
    outwards = scalar(surface.station[1]) if abs(up) > abs(across) else 1.0  # type: ignore[index] # it has one
    way = (outwards > 0) * 1.0 - (outwards < 0) * 1.0
    return (
        gust + turned[2],
        turned[0],
        way * roll / stream.speed,
        (pitch * up + yaw * across) / stream.speed,
    )


def _assumed(aircraft: Aircraft, case: FlightCase, stream: Stream) -> list[str]:
    """Say what a case's flows suppose."""
    lines = []
    runs = aircraft.runs
    if case.kind == "parked":
        lines.append(
            "parked: instead of the air load the limit moment K c S q of a ground gust, either way "
            "(14 CFR 23.415(a)(2), pre-2017 text; CS 22.415)"
        )
    if case.kind == "handling":
        lines.append("handling: no air load")
    if any(given(each, "hand_force") for each in (case, *case.runs)):
        lines.append("a hand pushes or pulls at the longest chord of the trailing edge, either way")
    if case.kind in GROUND_KINDS:
        return lines
    if any(_is_behind(run, "wing") for run in runs):
        angle = np.degrees(_downwash(aircraft, case, stream))
        lines.append(
            f"downwash of {angle:.3g} deg far behind a wing with elliptic lift, by the load factor; "
            "the high line takes the worse of the incidence with it and without"
        )
    if _si(case, "gust_speed") or _si(case, "side_gust_speed"):
        lines.append("gust: sharp-edged, without alleviation")
    if any(_si(case, name) for name in _RATES):
        blind = [
            run.name for run in runs if any(each.surface.station is None for each in run.linkages)
        ]
        if blind:
            lines.append(f"rates of turn are not counted without a station: {', '.join(blind)}")
    return lines
