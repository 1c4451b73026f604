"""What the evaluation takes: one aircraft as plain SI arrays.

Axes, always in this order where they occur: case, run (or surface, or servo),
deflection. A surface belongs to one run; `owner` says which. More axes may
stand in front of these: servos that are compared have the shape (candidate, 1, run).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from linkcalc.mechanism.chain import Chain
    from linkcalc.physics.servo import Curves

    Floats = NDArray[np.float64]
    Whole = NDArray[np.intp]

__all__ = [
    "Cases",
    "Chained",
    "Geometry",
    "Inputs",
    "Rods",
    "Runs",
    "Servos",
    "Supply",
    "Surfaces",
    "by_run",
]


def by_run(reduce: np.ufunc, values: Floats, first: Whole, axis: int = -2) -> Floats:
    """Reduce along surfaces or members to one value for each run.

    Parameters
    ----------
    reduce : ufunc
        Such as `numpy.add`.
    values : ndarray
        With an axis of what belongs to runs, in their order.
    first : ndarray of int, shape (run,)
        The first that belongs to each.
    axis : int
        Which axis.

    Returns
    -------
    ndarray
        With an axis of runs in its place; the same array where each run has one.
    """
    if values.shape[axis] == len(first):
        return values
    return np.asarray(reduce.reduceat(values, first, axis=axis))


class Geometry(NamedTuple):
    """Linkages from servo shaft to hinge line, one for each surface; of a chain the last rod or first cable.

    Attributes
    ----------
    servo_pivot, servo_axis, arm, hinge_pivot, hinge_axis, horn : ndarray, shape (surface, 3)
        As `linkcalc.mechanism.pushrod.solve` takes them [m].
    rod_length : ndarray, shape (surface,)
        Hole to hole [m]. All nan for a chain without rods or cables.
    """

    servo_pivot: Floats
    servo_axis: Floats
    arm: Floats
    hinge_pivot: Floats
    hinge_axis: Floats
    horn: Floats
    rod_length: Floats


class Chained(NamedTuple):
    """A linkage that is a chain of stages.

    Attributes
    ----------
    surface : int
        Which it moves.
    chain : Chain
        From the servo's shaft to the hinge line.
    clearances : tuple of float
        Play of the joints of each stage along its rod; nan where not given [m].
    """

    surface: int
    chain: Chain
    clearances: tuple[float, ...]


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
    swing : two ndarray, shape (surface, 3)
        Where the centre of mass goes as the surface deflects, per radian, at neutral and
        a quarter turn on, in body axes [m].
    mass : ndarray, shape (surface,)
        Mass of the moving surface [kg].
    hinge_friction : ndarray, shape (surface,)
        Moment about the hinge line [N m].
    compliance : ndarray, shape (surface,)
        Deflection per hinge moment with the servo held [rad/(N m)].
    """

    owner: Whole
    first: Whole
    solver: tuple[str, ...]
    fields: dict[str, Floats]
    normal: Floats
    swing: tuple[Floats, Floats]
    mass: Floats
    hinge_friction: Floats
    compliance: Floats


class Rods(NamedTuple):
    """Members: a pushrod for each surface, of a chain every rod and cable.

    A drive without members has one that bears nothing.

    Attributes
    ----------
    critical_load : ndarray, shape (member,)
        Compression at which it buckles; infinite for what does not [N].
    joint_rating : ndarray, shape (member,)
        Of its weakest joint; infinite where not given [N].
    joint_play : ndarray, shape (surface,)
        Of all joints of a pushrod together, along it; nan where not given, or in a chain [m].
    owner, first : ndarray of int, shape (member,) and (run,)
        The run of each member, and the first member of each run.
    """

    critical_load: Floats
    joint_rating: Floats
    joint_play: Floats
    owner: Whole
    first: Whole


class Runs(NamedTuple):
    """Control runs.

    Attributes
    ----------
    efficiency : ndarray, shape (run,)
        Of the linkage [-].
    travel : ndarray, shape (run,)
        Servo travel either side of neutral [rad].
    shaft_friction : ndarray, shape (run,)
        At each servo's shaft [N m].
    gear_strength : ndarray, shape (run,)
        Static torque of each servo's gears; infinite where not given [N m].
    gear_play : ndarray, shape (run,)
        At the servo arm, end to end; nan where not given [rad].
    cables : ndarray of bool, shape (run,)
        Whether it has cables, and no rods.
    sent : ndarray, shape (run, 2)
        How far the radio's pulses send each servo, on the side that moves the first surface
        up and down; infinite where not given [rad].
    """

    efficiency: Floats
    travel: Floats
    shaft_friction: Floats
    gear_strength: Floats
    gear_play: Floats
    cables: NDArray[np.bool_]
    sent: Floats


class Servos(NamedTuple):
    """Servos, one or more for each run.

    Attributes
    ----------
    owner, rank : ndarray of int, shape (servo,)
        The run of each, ascending, and which of the run's servos it is.
    first : ndarray of int, shape (run,)
        The first servo of each run.
    curves : Curves
        From the datasheet rows, as printed, shape (servo, row).
    deadband : ndarray, shape (run,)
        Angle at the shaft within which each does not answer, end to end; nan where not
        given [rad].
    time_constant : ndarray, shape (run,)
        In which each warms up when it holds a load [s].
    measured : ndarray of bool, shape (run,)
        Whether the rows were measured, so that no datasheet factor applies.
    refuse_below, first_voltage : ndarray, shape (run,)
        Whether a voltage below the first row is refused, and that row's voltage [V].
    minimum, maximum : ndarray, shape (run,)
        Least working and rated maximum voltage [V].
    """

    owner: Whole
    rank: Whole
    first: Whole
    curves: Curves
    deadband: Floats
    time_constant: Floats
    measured: NDArray[np.bool_]
    refuse_below: NDArray[np.bool_]
    first_voltage: Floats
    minimum: Floats
    maximum: Floats


class Warming(NamedTuple):
    """What tells how warm the copper gets.

    Attributes
    ----------
    air_temperature : float
        Of the air around the leads [K].
    bundled : ndarray, shape (node,)
        Leads alike in one bundle.
    wired : ndarray of bool, shape (node,)
        Whether a wire of known gauge leads to the node.
    computed : ndarray of bool, shape (node,)
        Whether the file asks that the temperature be fed back on the resistance.
    """

    air_temperature: float
    bundled: Floats
    wired: NDArray[np.bool_]
    computed: NDArray[np.bool_]


class Supply(NamedTuple):
    """The source, the leads and what else hangs on them.

    Attributes
    ----------
    solver : str
        Supply solver; empty where that has failed.
    fields : dict of str to ndarray
        What the solver may ask for.
    voltage : ndarray, shape (run,)
        Greatest voltage without load that the servos of each run can see [V].
    limit : float
        Current limit [A], infinite for none.
    receiver_node : int
        The node of the receiver.
    receiver_minimum : float
        Its least voltage [V].
    input_voltage, heat_rating : float
        Of a linear regulator [V], [W]; nan without one.
    inrush_multiple : float
        Start-up current of every servo over its stall current; nan where not given [1].
    warming : Warming or None
        How warm the copper gets; None where the file does not ask.
    node_heat_rating : ndarray, shape (node,)
        Heat that the regulator at a node can shed, nan where none is given [W].
    """

    solver: str
    fields: dict[str, Any]
    voltage: Floats
    limit: float
    receiver_node: int
    receiver_minimum: float
    input_voltage: float
    heat_rating: float
    inrush_multiple: float
    warming: Warming | None
    node_heat_rating: Floats


class Cases(NamedTuple):
    """Flight cases.

    Attributes
    ----------
    density : ndarray, shape (case,)
        Air density [kg/m^3].
    viscosity : ndarray, shape (case,)
        Dynamic viscosity of the air [Pa s].
    flight_speed : ndarray, shape (case,)
        True airspeed of the aircraft [m/s].
    speed : ndarray, shape (case, run)
        True airspeed at the surfaces of each run, wash included [m/s].
    incidence, sideslip : ndarray, shape (case,)
        Signed [rad].
    load_factor : ndarray, shape (case, 3)
        Along which gravity is felt, in body axes, multiples of standard gravity.
    low, high : ndarray, shape (case, run)
        Commanded range of deflection of each run's first surface [rad].
    throw_low, throw_high : ndarray, shape (run,)
        Full throw of the same, negative and positive end [rad].
    wanted_rate : ndarray, shape (case, run)
        Of the surface [rad/s].
    live : ndarray, shape (case, run)
        Servos that are not taken as dead.
    sustained : ndarray of bool, shape (case,)
        Whether the case lasts.
    local : dict of str to ndarray, shape (case, surface)
        Flows of single surfaces as `local_air` has them; empty where none is named.
    """

    density: Floats
    viscosity: Floats
    flight_speed: Floats
    speed: Floats
    incidence: Floats
    sideslip: Floats
    load_factor: Floats
    low: Floats
    high: Floats
    throw_low: Floats
    throw_high: Floats
    wanted_rate: Floats
    live: Floats
    sustained: NDArray[np.bool_]
    local: dict[str, Floats]

    def repeated(self, case: NDArray[np.intp]) -> dict[str, Any]:
        """Return the fields with some of the cases, each as often as it is named.

        Parameters
        ----------
        case : ndarray of int, shape (n,)
            Which.

        Returns
        -------
        dict of str to array
            By the name of the field.
        """
        taken: dict[str, Any] = {
            name: value if name.startswith("throw") and value.ndim < 2 else value[case]
            for name, value in self._asdict().items()
            if name != "local"
        }
        return taken | {"local": {name: value[case] for name, value in self.local.items()}}


class Inputs(NamedTuple):
    """One aircraft in all its cases.

    Attributes
    ----------
    geometry : Geometry
        Linkages.
    surfaces : Surfaces
        Surfaces.
    rods : Rods
        Pushrods.
    runs : Runs
        Runs.
    servos : Servos
        Servos.
    supply : Supply
        The electrical side.
    cases : Cases
        Flight cases.
    basis : int
        Line of the air load that the verdict stands on: `governing.VERDICT` for the worse
        end of the band, `governing.PLAIN` for the best line.
    chains : tuple of Chained
        Linkages that are more than one pushrod.
    """

    geometry: Geometry
    surfaces: Surfaces
    rods: Rods
    runs: Runs
    servos: Servos
    supply: Supply
    cases: Cases
    basis: int
    chains: tuple[Chained, ...] = ()
