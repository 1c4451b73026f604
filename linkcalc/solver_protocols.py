"""What a solver is: a hinge moment, a supply, a dive.

The fields that each may ask for are in `linkcalc.solver_fields`; `linkcalc.solvers` finds solvers and asks them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Protocol, runtime_checkable

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["DiveSolver", "HingeMomentSolver", "SupplySolver"]


@runtime_checkable
class HingeMomentSolver(Protocol):
    """A method that tells the hinge moment of a surface in a flow.

    Attributes
    ----------
    name : str
        The name it is asked for by.
    description : str
        One line.
    sources : tuple of str
        Where the method is from.
    validity : mapping of str to (float, float)
        Least and greatest value of a field within which the method stands.
    fields : mapping of str to str
        The fields it needs, each a key of `SURFACE_FIELDS`, and the unit of each.

    Notes
    -----
    A solver may have ``optional``, a mapping like `fields` with keys of `STATION_FIELDS` and
    `MOTION_FIELDS`:
    it receives those as well where they are offered. It may have a ``caution``, a line that
    a report shows wherever it is used, and ``steps``; see `linkcalc.solver_steps`.
    """

    name: str
    description: str
    sources: tuple[str, ...]
    validity: Mapping[str, tuple[float, float]]
    fields: Mapping[str, str]

    def __call__(self, fields: Mapping[str, Floats], /) -> Mapping[str, Floats]:
        """Return ``low``, ``best`` and ``high`` [N m] and the coefficients behind them.

        The three are signed moments, positive trailing edge down, and ordered in the
        moment that opposes the deflection (at zero deflection: a positive one).
        ``C_h0`` [-], ``C_h_alpha`` and ``C_h_delta`` [1/rad] are those of the best
        line, and ``k_s`` [-] multiplies the last for the stiff end. A solver may add
        ``other_high`` [N m]: at zero deflection, which has no sense of its own, the high
        line with a negative deflection in mind; elsewhere the high line.

        Parameters
        ----------
        fields : mapping of str to ndarray
            The declared fields in SI, broadcasting together.

        Returns
        -------
        mapping of str to ndarray
            All of the shape to which the fields broadcast.
        """
        ...


@runtime_checkable
class SupplySolver(Protocol):
    """A method that tells the voltages and currents of a supply tree.

    Attributes
    ----------
    name : str
        The name it is asked for by.
    description : str
        One line.
    sources : tuple of str
        Where the method is from.
    validity : mapping of str to (float, float)
        Least and greatest value of a field within which the method stands.
    fields : mapping of str to str
        The fields it needs, each a key of `SUPPLY_FIELDS`, and the unit of each.
    """

    name: str
    description: str
    sources: tuple[str, ...]
    validity: Mapping[str, tuple[float, float]]
    fields: Mapping[str, str]

    def __call__(
        self, fields: Mapping[str, Floats], demand: Callable[[Floats], Floats], /
    ) -> Mapping[str, Any]:
        """Return voltages and currents, given every servo's current as a function of its voltage.

        ``servo_voltage`` [V] and ``servo_current`` [A] with a last axis of servos,
        ``node_voltage`` [V] with a last axis of nodes, ``source_current`` [A],
        ``reason`` (0 valid, 1 no solution, nan beside it) and ``latch_up`` (whether
        a lower solution exists).

        Parameters
        ----------
        fields : mapping of str to ndarray
            The declared fields in SI; the last axis is the node or the servo.
        demand : callable
            Servo voltages [V], last axis servos, to servo currents [A]. It may offer
            more, as `linkcalc.physics.demand.ServoDemand` does: its own axes before
            the servo as `shape`, and `part` for some cases alone with their slopes.
            A solver may use that and needs not; it has to take a plain function.

        Returns
        -------
        mapping of str to ndarray
            The arrays named above.
        """
        ...


@runtime_checkable
class DiveSolver(Protocol):
    """A method that follows a dive and the pull-out from it.

    Attributes
    ----------
    name : str
        The name it is asked for by.
    description : str
        One line.
    sources : tuple of str
        Where the method is from.
    validity : mapping of str to (float, float)
        Least and greatest value of a field within which the method stands.
    fields : mapping of str to str
        The fields it needs, each a key of `DIVE_FIELDS`, and the unit of each.
    reasons : tuple of str
        What its numbers of a reason mean, the first that the aircraft recovers.

    Notes
    -----
    One that can be drawn has two more: ``way(fields, reach)`` returns speeds [m/s] and heights
    [m] along a single dive, ``load_factors(fields, reach, speed=...)`` the load factors that
    structure, lift and servo allow at some speeds.
    """

    name: str
    description: str
    sources: tuple[str, ...]
    validity: Mapping[str, tuple[float, float]]
    fields: Mapping[str, str]
    reasons: tuple[str, ...]

    def __call__(
        self,
        fields: Mapping[str, Floats],
        reach: Callable[[Floats], tuple[Floats, Floats]] | None,
        /,
    ) -> Mapping[str, Any]:
        """Return speeds, heights and loads of dives, of the shape to which the fields broadcast.

        ``terminal_speed``, ``dive_speed`` (the greatest on the way), ``pull_out_speed``
        [m/s], ``greatest_dynamic_pressure`` [Pa], ``greatest_mach``,
        ``greatest_load_factor`` [-], ``height_lost`` and ``lowest_height`` (above the
        ground; nan without recovery), ``minimum_height`` (least start height; nan where none
        was asked for or there is none) [m] and ``reason`` (0 recovers, else a place in
        ``reasons``).

        Parameters
        ----------
        fields : mapping of str to ndarray
            The declared fields in SI. nan is "not given": a start speed is then the terminal
            one, a minimum height is not sought, a load factor comes from the tail.
        reach : callable or None
            From dynamic pressures [Pa], shape (n,), to the elevator's blow-back deflections on
            the negative (trailing edge up, zero or less) and the positive side [rad], each of
            shape (n,), nan where undefined. None: the servo does not limit.

        Returns
        -------
        mapping of str to ndarray
            The arrays named above.
        """
        ...
