"""One aircraft, checked by hand: what a careful numpy programmer writes for it alone.

Planar pushrods, thin-aerofoil lines, one supply: every figure of the report, with the accuracy
that `linkcalc.check` states, out of plain arrays into plain arrays. Nothing of linkcalc is
imported. docs/performance.md tells how it works; in short:

- Load and weight of a run are a sum of four functions of deflection, so that one product of
  matrices gives the torques of every line, case and deflection at any dynamic pressure.
- All ranges are fractions of one throw, and their ends are nodes of one grid: the linkages are
  solved once.
- Each side of neutral is smooth, and its maximum is that of a parabola through three nodes.
- Every state of the supply and every limit of speed is the solution of six equations for the
  voltages at the servos; a dynamic pressure is an explicit function of one of these. All of
  them are solved together by Newton's method.
- All servos stalled draw the most that can be drawn: what holds then holds in every state.
- The largest torque of a run is a convex function of the dynamic pressure. Where one straight
  line of it is the largest at two pressures, it is so between them.

What this cannot do for another aircraft it refuses.
"""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np

RUNS, CASES, NODES = 6, 3, 31
MODES = ("torque", "travel", "voltage", "over-voltage", "current", "speed", "hold", "buckling")
BEST, LOW, HIGH = range(3)
GRAVITY = 9.80665
GREATEST = 0.7 * 340.294  # [m/s]
NEAR = 6  # nodes around a deflection that is just held
OTHERS = np.array([[m for m in range(NEAR) if m != n] for n in range(NEAR)])
FAR = -1e9  # no torque or rate is less

# States of the supply: (basis, case, work or a run at its limit), and all servos stalled.
STATES = 2 * CASES * (RUNS + 1) + 1
RUN, CASE = np.repeat(np.arange(RUNS), CASES), np.tile(np.arange(CASES), RUNS)
OWN = np.arange(RUNS)
ROWS = np.arange(3 * RUNS * 3 * CASES)
ENDS = np.array([1.0, -1.0])
STALLED = 1e30  # more torque than any servo has [N m]
SHARE = np.tile(np.arange(NODES) / (NODES - 1), 2)
SIDE = np.repeat([1.0, -1.0], NODES)  # down first: of equal maxima it is told
STEP = np.tile(np.arange(NODES), 2)


def density(altitude):
    """Return the density of the 1976 standard atmosphere below 11 km [kg/m^3]."""
    height = 6356766.0 * altitude / (6356766.0 + altitude)
    temperature = 288.15 - 0.0065 * height
    gas = 8.31432 / 0.0289644
    pressure = 101325.0 * (temperature / 288.15) ** (GRAVITY / (gas * 0.0065))
    return pressure / (gas * temperature)


def flap(given):
    """Return the sizes of b_1 and b_2 of thin-aerofoil theory, taper included, times S c."""
    ratio = given.chord_ratio
    angle, sine = np.arccos(1 - 2 * ratio), 2 * np.sqrt(ratio * (1 - ratio))
    b1 = ((1.5 - ratio) * sine - (1.5 - 2 * ratio) * angle) / ratio**2
    b2 = 2 * ratio * (1 - ratio) + angle * sine - (1.5 - 2 * ratio) * angle**2
    t = given.taper
    size = given.area * given.chord * 4 * (1 + t + t * t) / (3 * (1 + t) ** 2)
    return np.array((size * b1, size * b2 / (np.pi * ratio**2)))


def linkage(arm, horn, rod, deflection):
    """Return the ratio d(deflection)/d(servo angle) and the lever of the rod on the arm."""
    sine, cosine = np.sin(deflection), np.cos(deflection)
    x, z = rod + horn * sine, (arm - horn) + horn * cosine
    square = x * x + z * z
    half = 0.5 * (square + arm * arm - rod * rod)
    cross = np.sqrt(arm * arm * square - half * half)
    share = 1 - half / square
    turned = cross / square
    rod_x, rod_z = share * x + turned * z, share * z - turned * x
    return cross / (horn * (cosine * rod_x - sine * rod_z)), cross / rod, cosine


def reach(given):
    """Return how far each surface goes, up and down, by servo travel and dead centres [rad]."""
    arm, horn, rod = given.arm[:, None], given.horn[:, None], given.rod[:, None]
    high = arm - horn
    far, lean = np.hypot(rod, high), np.arctan2(rod, high)
    # cosines of the angles, from the line between the shafts, at which two bars are in one line
    horn_line = (arm**2 + far**2 - (rod + ENDS * horn) ** 2) / (2 * arm * far)
    arm_line = ((rod + ENDS * arm) ** 2 - horn**2 - far**2) / (2 * horn * far)
    cosine = np.array((horn_line, arm_line))
    turn = np.arccos(np.minimum(np.maximum(cosine, -1.0), 1.0))
    angle = np.concatenate((lean - turn, lean + turn), axis=-1)
    angle = angle - 2 * np.pi * (angle > np.pi)
    angle[np.tile(np.abs(cosine) > 1, 2)] = np.inf
    ahead = np.where(angle < 0, -angle, np.inf).min(-1), np.where(angle > 0, angle, np.inf).min(-1)
    horn_dead, arm_dead = np.stack(ahead, axis=-1)
    servo = -ENDS * np.minimum(horn_dead, given.servo_travel)
    x, z = arm * np.sin(servo) - rod, arm * np.cos(servo) - high
    square = x * x + z * z
    half = 0.5 * (square + horn**2 - rod**2)
    cross = np.sqrt(np.maximum(horn**2 * square - half * half, 0.0))
    return np.minimum(np.abs(np.arctan2(half * x + cross * z, half * z - cross * x)), arm_dead)


def peak(values, rows, inner):
    """Return the greatest of every row of nodes, and where: parabola through three nodes.

    `inner` tells where a node has two neighbours on its own side, by case and node; `rows` are
    the places of the rows of `values`, whose last axes are case and node.
    """
    shape, flat = values.shape[:-1], values.ravel()
    node = values.reshape(-1, 2 * NODES).argmax(-1)
    at = node + 2 * NODES * rows
    top, before, behind = flat[at], flat[at - 1], flat.take(at + 1, mode="clip")
    inside = inner.ravel()[node + 2 * NODES * (rows % CASES)]
    lean = before - behind
    shift = np.where(inside, 0.5 * lean / (before - 2 * top + behind - 1e-300), 0.0)
    best = top - 0.25 * np.where(inside, lean, 0.0) * shift
    return best.reshape(shape), node.reshape(shape), shift.reshape(shape)


def servos(given):
    """Return the curves, and refuse rows that leave room for a second working point."""
    first, last = given.row_voltage
    columns = np.stack(
        (
            given.stall_torque / given.datasheet_factor,
            given.stall_current,
            given.no_load_current,
            given.no_load_speed,
        )
    )
    low = columns[:, 0] / first
    width = last - first
    high = np.where(width > 0, (columns[:, 1] - columns[:, 0]) / np.where(width > 0, width, 1), 0)
    # A current that never falls with the voltage, at any torque, has one working point.
    spread = (columns[1] - columns[2]) / columns[0]
    rising = (high[1:3] >= 0).all() and (spread[1] >= spread[0] * (1 - 1e-12)).all()
    if not rising or (given.voltage != last).any():
        raise ValueError("the servos' rows are not those of this batch")
    return SimpleNamespace(
        corner=first[:, None],
        slope=low[..., None],  # below the corner, (column, run, 1)
        bend=(high - low)[..., None],
    )


def supply(given):
    """Return the resistances that the servos share, and the voltage without their currents."""
    resistivity = 1.7241e-8 * (1 + 0.00393 * (given.copper_temperature - 293.15))
    copper = given.strand_factor * resistivity * given.lead_length / given.lead_area
    leads = 2 * (copper + given.lead_contacts * given.contact_resistance)
    shared = (given.feeds * leads) @ given.feeds.T + given.internal_resistance
    return shared, given.voltage - given.internal_resistance * given.other_current


def solve(given, loads, speeds, slowest, level):
    """Solve the six voltages of every problem by Newton's method, with its pressure.

    The first problems have given loads. In the others the pressure follows from the voltage
    of the own servo: that at which its torque is just enough, or `slowest` just fast enough.
    """
    shared, idle = level
    curves = servos(given)
    count = loads.shape[1]
    first = count - len(speeds.run)
    own = speeds.run * count + first + np.arange(count - first)
    rates = slice(2 * RUNS * CASES, 3 * RUNS * CASES)
    voltage = np.full((RUNS, count), 0.9 * idle)
    matrix = np.empty((RUNS, RUNS, count))
    for _ in range(30):
        past = voltage - curves.corner
        column = curves.slope * voltage + curves.bend * np.maximum(past, 0.0)
        slope = curves.slope + curves.bend * (past > 0.0)
        stall, most, none, _ = column
        at, rise = (item.reshape(4, -1).take(own, axis=1) for item in (column, slope))
        pressure = (speeds.own_share * at[0] - speeds.own_still) / speeds.own_rise
        gain = speeds.own_share * rise[0] / speeds.own_rise
        pressure[rates], gain[rates] = slowest(at[:, rates], rise[:, rates])
        loads[:, first:] = pressure * speeds.rise + speeds.still
        share = np.minimum(loads / stall, 1.0)
        span = most - none
        current = none + span * share
        residual = voltage - idle + shared @ current
        if np.abs(residual).max() < 1e-11 * idle:
            break
        per_torque = span / stall * (share < 1.0)
        conductance = slope[2] + (slope[1] - slope[2]) * share - per_torque * share * slope[0]
        np.multiply(shared[:, :, None], conductance, out=matrix)
        matrix.reshape(-1, count)[:: RUNS + 1] += 1.0
        pushed = shared @ (per_torque[:, first:] * speeds.rise * gain)
        matrix.reshape(RUNS, -1)[:, own] += pushed
        step = np.linalg.solve(matrix.transpose(2, 0, 1), residual.T[..., None])
        voltage = voltage - step[..., 0].T
    else:
        raise ValueError("no voltage satisfies the supply")
    return voltage, current, column, pressure


def at_nodes(given, throws):
    """Return the loads of every line, case and node by unit of pressure, and those of weight."""
    deflection = np.where(SIDE > 0, throws[:, 1:], throws[:, :1]) * SHARE
    columns = [item[:, None] for item in (given.arm, given.horn, given.rod)]
    ratio, lever, cosine = linkage(*columns, deflection)
    slopes = b1, b2 = flap(given)[..., None]
    lines = air_lines(given)
    shapes = np.empty((RUNS, 3, 2 * NODES))
    shapes[:, 0] = ratio * (b2 * deflection)
    shapes[:, 2] = ratio * b1
    shapes[:, 1] = shapes[:, 2] * SIDE
    air = (lines.reshape(RUNS, 3 * CASES, 3) @ shapes).reshape(RUNS, 3, CASES, -1)
    weight = (-GRAVITY * given.load_factor * given.mass_moment[:, None])[..., None]
    weight = weight * (ratio * cosine)[:, None]
    ends = np.rint(given.fraction * (NODES - 1))
    if np.abs(ends - given.fraction * (NODES - 1)).max() > 1e-9:
        raise ValueError("a range ends between two nodes")
    outside = np.where(ends[:, None] < STEP, FAR, 0.0)
    inner = (STEP > 0) & (ends[:, None] > STEP)
    return SimpleNamespace(
        slopes=slopes,  # sizes of b_1 and b_2 times S c, (2, run, 1)
        lines=lines,  # shares of the three shapes, (run, line, case, shape)
        ratio=ratio[:, None, None],  # d(deflection)/d(servo angle), (run, 1, 1, node)
        lever=lever[:, None, None],
        air=air,  # torque to hold by unit of pressure, (run, line, case, node)
        weight=weight[:, None],  # the same of weight, (run, 1, case, node)
        outside=outside,  # FAR where a case does not go, (case, node)
        inner=inner,  # where a node has both neighbours on its side, (case, node)
    )


def incidences(given):
    """Return the signed incidence of every surface, (run, case)."""
    return np.where(given.fin[:, None] > 0, given.beta, given.alpha)


def air_lines(given):
    """Return the weights of the three shapes of the load on every line."""
    lines = np.zeros((RUNS, 3, CASES, 3))
    slab = (1 + 0.2 * given.slab)[:, None]
    incidence = incidences(given)
    size = np.abs(incidence)
    lines[:, BEST, :, 0], lines[:, BEST, :, 2] = 0.8, 0.7 * incidence
    lines[:, LOW, :, 0], lines[:, LOW, :, 1] = 0.5 * slab, -slab * size
    lines[:, HIGH, :, 0], lines[:, HIGH, :, 1] = slab, slab * size
    return lines


def both(values):
    """Return what counts for the verdict, the worse end of the band, and plainly."""
    return np.stack((np.maximum(values[:, LOW], values[:, HIGH]), values[:, BEST]))


def critical_load(given):
    """Return the compression at which a pinned round rod fails, by Euler or Johnson [N]."""
    area = np.pi / 4 * given.diameter**2
    squash = given.strength * area
    euler = np.pi**2 * given.modulus * area * given.diameter**2 / 16 / given.free_length**2
    return np.where(euler <= squash / 2, euler, squash * (1 - squash / (4 * euler)))


def slowest_node(given, loads, wanted):
    """Return the function that finds at which pressure the slowest node is just fast enough."""
    air = loads.air[:, LOW:]
    still = np.sign(air) * loads.weight + loads.outside
    per_air = 1 / (np.abs(air) + 1e-300 + (loads.outside < 0))
    slow = wanted[:, None, :, None] / loads.ratio
    rows, each = np.arange(RUNS * 2 * CASES), np.arange(RUNS)[:, None]
    turn = np.arange(CASES)

    def slowest(at, rise):
        stall = given.efficiency * at[0]
        spare = np.stack((stall, stall / at[3])).reshape(2, RUNS, 1, CASES, 1)
        # torque that leaves the rate wanted, less that of weight, by the torque of air
        values = (spare[1] * slow - spare[0] + still) * per_air
        best, node, _ = peak(values, rows, loads.inner)
        line = best.argmax(1)
        chosen = node[each, line, turn]
        factor = per_air[each, line, turn, chosen].ravel()
        need = slow[each, 0, turn, chosen].ravel()
        gain = given.efficiency * rise[0] - need * given.efficiency * (
            rise[0] / at[3] - at[0] * rise[3] / at[3] ** 2
        )
        return -best.max(1).ravel(), gain * factor

    return slowest


def govern(given, loads, throws, pressure):
    """Find the deflections that govern, and evaluate once more where torque is the largest."""
    hold = loads.air * pressure[:, None] + loads.weight
    size = np.abs(hold)
    by_lever = hold / loads.lever
    values, node, shift = peak(
        np.stack((size, by_lever, -by_lever)) + loads.outside, ROWS, loads.inner
    )
    each, turn = OWN[:, None], np.arange(CASES)
    by_step = np.where(SIDE > 0, throws[:, 1:], throws[:, :1]) / (NODES - 1)

    def angle(place):
        return by_step[each, node[place]] * (STEP[node[place]] + shift[place])

    line = np.where(values[0][:, HIGH] >= values[0][:, LOW], HIGH, LOW)
    place = 0, each, line, turn
    deflection = angle(place)
    air, weight, ratio = one_by_one(given, loads, deflection, SIDE[node[place]])
    holds = air * pressure + weight[:, None]
    rise, still = air[each, line, turn], weight
    move = both(values[0]) / given.efficiency
    move[0] = np.abs(holds[each, line, turn]) / given.efficiency
    pushes = values[1:, :, LOW:]
    most = pushes.max(2)
    kind = (most[1] >= most[0]).astype(int)  # pulled or pushed
    rod_line = LOW + pushes.argmax(2)[kind, each, turn]
    return SimpleNamespace(
        move=move,
        squeeze=np.maximum(both(values[1]), 0.0),
        deflection=deflection,
        line=line,
        holds=holds,
        moments=-holds / ratio[:, None],
        rise=np.abs(rise) / given.efficiency,
        still=still * np.sign(rise) / given.efficiency,
        rod_force=np.where(kind > 0, most[1], -most[0]),
        rod_force_at=angle((1 + kind, each, rod_line, turn)),
        size=size,
    )


def one_by_one(given, loads, deflection, side):
    """Return torque by pressure on every line, that of weight, and the ratio, one angle a case."""
    columns = [item[:, None] for item in (given.arm, given.horn, given.rod)]
    ratio, _, cosine = linkage(*columns, deflection)
    b1, b2 = loads.slopes
    shapes = np.array((b2 * deflection, b1 * side, b1 + 0 * side)) * ratio
    weight = -GRAVITY * given.load_factor * given.mass_moment[:, None] * cosine * ratio
    return (loads.lines * shapes.transpose(1, 2, 0)[:, None]).sum(-1), weight, ratio


def problems(given, governing):
    """Return the loads of every state, and the limits of speed that are sought beside them."""
    pairs = RUNS * CASES
    states = np.empty((RUNS, 2, CASES, RUNS + 1))
    # Plainly, the load is divided by what the printed torque is divided by: their ratio counts.
    states[:, 0] = (governing.move[0] * given.torque_factor)[..., None]
    states[:, 1] = (governing.move[1] / given.datasheet_factor)[..., None]
    states[:, 0, :, 0] = governing.move[0]
    states[OWN, :, :, 1 + OWN] = STALLED
    sustained = np.flatnonzero(given.sustained)
    run = np.concatenate((RUN, RUN, RUN, np.repeat(OWN, len(sustained))))
    case = np.concatenate((CASE, CASE, CASE, np.tile(sustained, RUNS)))
    factor, share = np.ones(len(run)), np.ones(len(run))
    factor[:pairs] = given.torque_factor
    share[:pairs] = 1 / given.torque_factor
    share[3 * pairs :] = given.hold_fraction / given.efficiency
    rise, still = governing.rise[:, case] * factor, governing.still[:, case] * factor
    limits = np.arange(2 * pairs)
    rise[run[limits], limits], still[run[limits], limits] = 0.0, STALLED
    loads = np.full((RUNS, STATES + len(run)), STALLED)
    loads[:, : STATES - 1] = states.reshape(RUNS, -1)
    return loads, SimpleNamespace(
        run=run,
        rise=rise,  # torque of every run by pressure, and without air, factor included
        still=still,
        own_rise=governing.rise[run, case],  # of the own run alone, and what it has to meet:
        own_still=governing.still[run, case],
        own_share=share,  # this share of its stall torque
        sustained=sustained,
    )


def least_rate(given, loads, governing, stall, free):
    """Return the least rate of every run, negative where the servo stalls, (basis, run, case)."""
    needed = given.efficiency * stall
    needed = np.stack((needed[1], needed[0], needed[0]), axis=1)[..., None]
    slowness = loads.ratio * (governing.size / needed - 1) + loads.outside
    return -both(peak(slowness, ROWS[: RUNS * 3 * CASES], loads.inner)[0]) * free


def held(given, governing, available, throws):
    """Return how far every surface is held, (up or down, factored or not, run, case).

    The first node at which it is not, then the inverse of the demand through six nodes.
    """
    worse = np.maximum(governing.size[:, LOW], governing.size[:, HIGH]) / given.efficiency
    demand = (worse / available[..., None]).reshape(RUNS, CASES, 2, NODES)
    target = np.array([1 / given.torque_factor, 1.0]).reshape(2, 1, 1, 1)
    short = demand > target[..., None]
    first = short.argmax(-1)
    start = np.clip(first - 3, 0, NODES - NEAR)
    rows = np.arange(RUNS * CASES * 2).reshape(RUNS, CASES, 2) * NODES
    near = demand.ravel()[rows + start + np.arange(NEAR).reshape(NEAR, 1, 1, 1, 1)]
    if not ((np.diff(near, axis=0) > 0).all(0) | (first == 0)).all():
        raise ValueError("the load falls with the deflection where it is no longer held")
    apart = near[:, None] - near
    apart[np.arange(NEAR), np.arange(NEAR)] = 1.0
    weights = (target - near)[OTHERS].prod(1) / apart.prod(1)
    place = start + np.tensordot(np.arange(NEAR), weights, 1)
    place = np.where(short.any(-1), np.where(first > 0, place, 0.0), NODES - 1)
    found = place / (NODES - 1) * np.abs(throws[:, None, ::-1])
    return found.transpose(3, 0, 1, 2)[::-1]


def buckling_pressure(given, loads, critical):
    """Return the pressure at which a rod is squeezed too much, infinite for none, (run, case)."""
    air = loads.air[:, LOW:]
    load = critical / (given.torque_factor * given.buckling_factor)
    allowed = load[:, None, None, None] * loads.lever
    pushing = (air > 0) & (loads.outside == 0)
    spare = (allowed - loads.weight) / np.where(pushing, air, 1.0)
    values = np.where(pushing, -spare, FAR)
    best = peak(values, ROWS[: RUNS * 2 * CASES], loads.inner)[0].max(1)
    return np.where(best > FAR, -best, np.inf)


def assure(given, loads, governing, bound, pressures, wanted):
    """Refuse what the short cuts do not cover; the docstring of the module names them."""
    stall, free = bound
    low, high = 0.5 * np.minimum.reduce(pressures).min(0), np.maximum.reduce(pressures).max(0)
    ends = np.stack((np.zeros(CASES), low, high)).reshape(3, 1, 1, CASES, 1)
    band = np.abs(ends * loads.air[:, LOW:] + loads.weight) + loads.outside
    largest = band.max((2, 4)) / given.efficiency
    affine = governing.rise * ends[1:, 0, 0, :, 0][:, None] + governing.still
    # Above `low` torque rises with the pressure; below it everything holds, whatever is stalled.
    straight = np.abs(largest[1:] - affine) <= 1e-7 * affine
    most = np.maximum(largest[0], largest[1])
    moves = loads.ratio.min(3)[:, 0] * free * (1 - most / stall) >= wanted
    stands = most * given.torque_factor <= stall
    rests = (most * given.efficiency <= given.hold_fraction * stall) | ~given.sustained
    if not (straight.all() and (governing.rise > 0).all() and (moves & stands & rests).all()):
        raise ValueError("limits of speed that are not those of this batch")


def compare(given, governing, electric, rate, reached, wanted):
    """Return the margins of every mode, (mode, basis, run, case)."""
    factors = np.ones((4, 2, 1, 1))
    factors[:, 0, 0, 0] = (
        given.torque_factor,
        given.current_factor,
        given.buckling_factor,
        given.torque_factor,
    )
    volts = np.minimum(
        electric["least"] / given.least_voltage[:, None],
        electric["receiver"][:, None] / given.receiver_least,
    )
    critical = critical_load(given)[:, None]
    squeezed = np.where(governing.squeeze > 0, governing.squeeze, np.nan)
    hold = given.hold_fraction * electric["stall"] / (given.efficiency * governing.move)
    made = np.empty((len(MODES), 2, RUNS, CASES))
    made[0] = electric["available"] / (governing.move * factors[0])
    made[1] = reached
    made[2] = volts
    made[3] = (given.rated_voltage / given.voltage)[:, None]
    made[4] = given.current_limit / (electric["required"][:, None] * factors[1])
    made[5] = np.maximum(rate, 0.0) / wanted
    made[6] = np.where(given.sustained, hold, np.nan)
    made[7] = critical / (squeezed * factors[2] * factors[3])
    return made - 1


def delivered(given, solved):
    """Take the states of the supply apart, (basis, run, case) each."""
    voltage, current, column = (item[..., :STATES] for item in solved[:3])
    total = current.sum(0) + given.other_current
    shape = RUNS, 2, CASES, RUNS + 1
    volts, amps, stall, free = (
        item[:, :-1].reshape(shape) for item in (voltage, current, column[0], column[3])
    )
    work = [item[..., 0].transpose(1, 0, 2) for item in (volts, amps, stall, free)]
    own = [item[OWN, :, :, 1 + OWN].transpose(1, 0, 2) for item in (volts, stall)]
    by_basis = np.array([1.0, given.datasheet_factor]).reshape(2, 1, 1)
    source = total[:-1].reshape(2, CASES, RUNS + 1)
    required = source.max(-1)
    idle = given.voltage - given.internal_resistance * total[-1]
    if (voltage[:, -1] < given.least_voltage).any() or idle < given.receiver_least:
        raise ValueError("all servos stalled take too much voltage")
    if total[-1] * given.current_factor > given.current_limit:
        raise ValueError("all servos stalled take too much current")
    return {
        "at_work": work[0],
        "current_at_work": work[1],
        "stall": work[2] * by_basis,
        "free": work[3],
        "at_limit": own[0],
        "available": own[1] * by_basis,
        "least": volts.min(-1).transpose(1, 0, 2),
        "receiver": given.voltage - given.internal_resistance * required,
        "required": required,
        "source": source[..., 0],
        "scaled": volts[:, 0].min(-1) < given.row_voltage[0][:, None],
        "all_stalled": voltage[:, -1],
        "all_stalled_current": total[-1],
        "bound": (column[0, :, -1:], column[3, :, -1:]),
    }


def evaluate(given):
    """Return everything that the report tells, but for its words."""
    throws = np.stack((-given.throw_up, given.throw_down), axis=1)
    rho = density(given.altitude)
    pressure = 0.5 * rho * given.speed**2
    loads = at_nodes(given, throws)
    governing = govern(given, loads, throws, pressure)
    states, speeds = problems(given, governing)
    wanted = 2 * (throws[:, 1:] - throws[:, :1]) * given.fraction
    solved = solve(given, states, speeds, slowest_node(given, loads, wanted), supply(given))
    electric = delivered(given, solved)
    rate = least_rate(given, loads, governing, electric["stall"], electric["free"])
    commanded = np.abs(throws)[..., None] * given.fraction
    reached = (reach(given)[..., None] / commanded).min(1)
    margins = compare(given, governing, electric, rate, reached, wanted)

    torque, freeze, slow = solved[3][: 3 * RUNS * CASES].reshape(3, RUNS, CASES)
    ending = np.full((len(MODES), RUNS, CASES), np.inf)
    ending[0], ending[5] = torque, slow
    ending[6][:, speeds.sustained] = solved[3][3 * RUNS * CASES :].reshape(RUNS, -1)
    ending[7] = buckling_pressure(given, loads, critical_load(given))
    sought = (torque, freeze, slow, np.where(np.isinf(ending[6]), slow, ending[6]))
    assure(given, loads, governing, electric["bound"], sought, wanted)
    held_up = (margins[1, 0] >= 0) & (margins[3, 0] >= 0)
    limits = np.sqrt(2 / rho * np.stack((torque, freeze, ending.min(0))))
    limits = np.where(limits <= GREATEST, limits, np.nan)
    return SimpleNamespace(
        margins=margins,
        passes=not (margins[:, 0] < 0).any(),  # nan: does not apply
        governing=np.where(np.isnan(margins[:, 0]), np.inf, margins[:, 0]).argmin(0),
        pressure=pressure,
        deflection=governing.deflection,
        moments=governing.moments,
        holds=governing.holds,
        moves=np.abs(governing.holds) / given.efficiency,
        line=governing.line,
        at_work=electric["at_work"],
        at_limit=electric["at_limit"],
        current_at_work=electric["current_at_work"],
        available=electric["available"],
        stalled=governing.move[0] >= electric["stall"][0],
        scaled=electric["scaled"],
        latch_up=False,  # `servos` refuses rows with which there may be any
        source_current=electric["source"],
        all_stalled=electric["all_stalled"],
        all_stalled_current=electric["all_stalled_current"],
        rate=rate,
        rod_force=governing.rod_force,
        rod_force_at=governing.rod_force_at,
        jam_force=given.stall_torque[1] / loads.lever[:, 0, 0, 0],
        held=held(given, governing, electric["available"][0], throws),
        torque_limit=limits[0],
        freeze=limits[1],
        placard=np.where(held_up, limits[2], np.nan),
        placard_mode=ending.argmin(0),
        out_of_range=(pressure > 6400)
        | (np.abs(incidences(given)) > 0.21)
        | (commanded.max(1) > 0.53)
        | (given.chord_ratio < 0.05)[:, None],
    )
