"""The solver: a point mass that dives, and pulls out as hard as it may."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from linkcalc.physics import air
from linkcalc_dive import envelope, pull_out
from linkcalc_dive.dives import FIELDS, TABLES, describe, follow, minimum_height
from linkcalc_dive.pull_out import WARNED_MACH
from linkcalc_dive.speeds import terminal_speed

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Reach = Callable[[Floats], tuple[Floats, Floats]]

__all__ = ["FIELDS", "TABLES", "PointMass"]


class PointMass:
    r"""A dive and its pull-out by the equations of a point mass in still air.

    Straight on at n = cos gamma for a height lost and a delay, then with the least of the load
    factors that the structure bears, the wing lifts and the servo lets the elevator reach
    (`linkcalc_dive.flight` states the equations), until the path is level.

    Attributes
    ----------
    name, description, sources
        What the solver is called, what it does, and where it is from.
    validity
        Least and greatest value of a field within which the method stands.
    fields
        Fields needed, with the unit of each: all of `linkcalc.solvers.DIVE_FIELDS`.
    reasons
        What the numbers of a reason mean.

    Notes
    -----
    No wind, no pitching motion: the load factor is there at once. The equations are those of
    incompressible flow; ``beyond_incompressible`` tells where a dive becomes faster than Mach
    0.3, and one that becomes faster than Mach 0.7 is not followed further.

    Examples
    --------
    >>> import numpy as np
    >>> dive = dict.fromkeys(PointMass().fields, np.float64(np.nan))
    >>> dive |= {name: np.zeros(0) for name in TABLES}
    >>> dive |= {"mass": 2.0, "wing_area": 0.35, "zero_lift_drag": 0.03, "induced_factor": 0.04,
    ...     "maximum_lift": 1.1, "limit_load_factor": 6.0, "field_altitude": 0.0,
    ...     "start_height": 150.0, "start_speed": 15.0, "dive_angle": 1.2, "drop": 60.0,
    ...     "delay": 0.5}
    >>> found = PointMass()(dive, None)
    >>> PointMass.reasons[int(found["reason"])]
    'recovers'
    """

    name: str = "point_mass"
    description: str = "point mass in still air; structure, lift and servo limit the pull-out"
    sources: tuple[str, ...] = (
        "J. D. Anderson, Aircraft Performance and Design, 1999, ch. 6 (pull-up, eq. 6.41)",
        "B. Etkin and L. D. Reid, Dynamics of Flight, 3rd ed., 1996 (angle per g; from memory)",
    )
    validity: Mapping[str, tuple[float, float]] = MappingProxyType(
        {"field_altitude": (air.LEAST_ALTITUDE, air.GREATEST_ALTITUDE), "dive_angle": (0.0, 1.571)}
    )
    fields: Mapping[str, str] = FIELDS
    reasons: tuple[str, ...] = pull_out.REASONS

    def __call__(self, fields: Mapping[str, Floats], reach: Reach | None) -> Mapping[str, Any]:
        """Follow dives.

        Parameters
        ----------
        fields : mapping of str to ndarray
            As `linkcalc.solvers.DiveSolver` describes them.
        reach : callable or None
            Likewise.

        Returns
        -------
        mapping of str to ndarray
            What `linkcalc.solvers.DiveSolver` lists, and ``terminal_reason`` (a place in
            `linkcalc_dive.speeds.REASONS`), ``beyond_incompressible``, ``duration`` [s],
            ``share_structure``, ``share_lift`` and ``share_servo`` (of the pull-out's time in
            which each limited the load factor).

        Raises
        ------
        InputError
            A field cannot be used: which, what was found, what was expected.
        SolverError
            ``reach`` returned what it may not.
        """
        described = describe(fields, reach)
        craft, entry = described.craft, described.entry
        terminal = terminal_speed(craft, path_angle=entry.path_angle, height=entry.height)
        found = follow(described)[1]
        answer = {
            "terminal_speed": terminal.speed,
            "terminal_reason": terminal.reason,
            "dive_speed": found.greatest_speed,
            "pull_out_speed": found.pull_out_speed,
            "greatest_dynamic_pressure": found.greatest_dynamic_pressure,
            "greatest_mach": found.greatest_mach,
            "greatest_load_factor": found.greatest_load_factor,
            "height_lost": found.height_lost,
            "lowest_height": found.lowest_height,
            "minimum_height": minimum_height(described),
            "reason": found.reason,
            "beyond_incompressible": found.greatest_mach > WARNED_MACH,
            "duration": found.duration,
            "share_structure": found.share[0],
            "share_lift": found.share[1],
            "share_servo": found.share[2],
        }
        return {name: value.reshape(described.shape) for name, value in answer.items()}

    def way(self, fields: Mapping[str, Floats], reach: Reach | None) -> tuple[Floats, Floats]:
        """Follow one dive, for a picture of it.

        Parameters
        ----------
        fields : mapping of str to ndarray
            As for a call, of a single dive.
        reach : callable or None
            Likewise.

        Returns
        -------
        speed, height : ndarray, shape (step,)
            True airspeed [m/s] and height above the ground [m] from start to end.
        """
        found = envelope.way(fields, reach)
        return found.speed, found.height

    def load_factors(
        self, fields: Mapping[str, Floats], reach: Reach | None, *, speed: Floats
    ) -> tuple[Floats, Floats, Floats]:
        """Return what limits the load factor at some speeds, for a picture of it.

        Parameters
        ----------
        fields : mapping of str to ndarray
            As for a call, of a single dive.
        reach : callable or None
            Likewise.
        speed : ndarray, shape (n,)
            True airspeeds, more than zero, up to that of Mach 0.7 [m/s].

        Returns
        -------
        structure, lift, servo : ndarray, shape (n,)
            Load factors in a level path at the start height [1].
        """
        found = envelope.load_factors_at(fields, reach, speed=speed)
        return found.structure, found.lift, found.servo
