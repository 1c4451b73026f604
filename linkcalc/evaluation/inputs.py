"""What the evaluation takes: one aircraft as plain SI arrays.

Axes, always in this order where they occur: case, run (or surface, or servo),
deflection. A surface belongs to one run; `owner` says which. More axes may
stand in front of these.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from linkcalc.physics.servo import Curves

    Floats = NDArray[np.float64]
    Whole = NDArray[np.intp]

__all__ = ["Cases", "Geometry", "Inputs", "Runs", "Servos", "Supply", "Surfaces"]


class Geometry(NamedTuple):
    """Linkages from servo shaft to hinge line, one for each surface.

    Attributes
    ----------
    servo_pivot, servo_axis, arm, hinge_pivot, hinge_axis, horn : ndarray, shape (surface, 3)
        As `linkcalc.mechanism.pushrod.solve` takes them [m].
    rod_length : ndarray, shape (surface,)
        Hole to hole [m].
    """

    servo_pivot: Floats
    servo_axis: Floats
    arm: Floats
    hinge_pivot: Floats
    hinge_axis: Floats
    horn: Floats
    rod_length: Floats


class Surfaces(NamedTuple):
    """Control surfaces.

    Attributes
    ----------
    owner : ndarray of int, shape (surface,)
        The run that moves each; in ascending order.
    first : ndarray of int, shape (run,)
        The first surface of each run.
    solver : tuple of str
        Hinge-moment solver of each surface; empty where that has failed.
    fields : dict of str to ndarray, shape (surface,)
        What the solvers may ask for and does not depend on case or deflection.
    normal : ndarray, shape (surface, 3)
        n = aft x hinge axis, a unit vector.
    axis, lever : ndarray, shape (surface, 3)
        Hinge axis (unit), and centre of mass from the hinge line at neutral [m],
        in body axes.
    mass : ndarray, shape (surface,)
        Mass of the moving surface [kg].
    """

    owner: Whole
    first: Whole
    solver: tuple[str, ...]
    fields: dict[str, Floats]
    normal: Floats
    axis: Floats
    lever: Floats
    mass: Floats


class Runs(NamedTuple):
    """Control runs.

    Attributes
    ----------
    efficiency : ndarray, shape (run,)
        Of the linkage [-].
    travel : ndarray, shape (run,)
        Servo travel either side of neutral [rad].
    """

    efficiency: Floats
    travel: Floats


class Servos(NamedTuple):
    """Servos, one for each run.

    Attributes
    ----------
    curves : Curves
        From the datasheet rows, as printed, shape (run, row).
    refuse_below, first_voltage : ndarray, shape (run,)
        Whether a voltage below the first row is refused, and that row's voltage [V].
    minimum, maximum : ndarray, shape (run,)
        Least working and rated maximum voltage [V].
    """

    curves: Curves
    refuse_below: NDArray[np.bool_]
    first_voltage: Floats
    minimum: Floats
    maximum: Floats


class Supply(NamedTuple):
    """The source, the leads and what else hangs on them.

    Attributes
    ----------
    solver : str
        Supply solver; empty where that has failed.
    fields : dict of str to ndarray
        What the solver may ask for.
    voltage, limit : float
        Open-circuit voltage [V]; current limit [A], infinite for none.
    receiver_node : int
        The node of the receiver.
    receiver_minimum : float
        Its least voltage [V].
    """

    solver: str
    fields: dict[str, Any]
    voltage: float
    limit: float
    receiver_node: int
    receiver_minimum: float


class Cases(NamedTuple):
    """Flight cases.

    Attributes
    ----------
    density : ndarray, shape (case,)
        Air density [kg/m^3].
    speed : ndarray, shape (case, run)
        True airspeed at the surfaces of each run, wash included [m/s].
    incidence, sideslip : ndarray, shape (case,)
        Signed [rad].
    load_factor : ndarray, shape (case, 3)
        Along which gravity is felt, in body axes, multiples of standard gravity.
    low, high : ndarray, shape (case, run)
        Commanded range of deflection of each run's first surface [rad].
    """

    density: Floats
    speed: Floats
    incidence: Floats
    sideslip: Floats
    load_factor: Floats
    low: Floats
    high: Floats


class Inputs(NamedTuple):
    """One aircraft in all its cases.

    Attributes
    ----------
    geometry : Geometry
        Linkages.
    surfaces : Surfaces
        Surfaces.
    runs : Runs
        Runs.
    servos : Servos
        Servos.
    supply : Supply
        The electrical side.
    cases : Cases
        Flight cases.
    """

    geometry: Geometry
    surfaces: Surfaces
    runs: Runs
    servos: Servos
    supply: Supply
    cases: Cases
