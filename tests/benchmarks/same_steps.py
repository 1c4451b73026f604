"""One aircraft, checked by hand in the steps of `linkcalc.check`, in numpy for it alone.

What it does is what linkcalc does: as many nodes, states, trials and proofs, to the same
accuracy. How it does it is up to a programmer who knows the aircraft: what no trial changes is
computed once, the long axis is last, and nothing is there for another aircraft. Nothing of
linkcalc is imported. Where the steps leave no choice, `hand_written.py` has the function. In
short:

- Loads at 61 nodes over the range of every case, and the greatest of them.
- Every state of the supply by Newton's method from the voltage without servos; then the chords
  of every servo's current, which prove that no greater voltages satisfy the supply, for the
  aircraft's own cases no other ones.
- Held deflections by 61 nodes to either side, and the root before the first that is not held.
- Limits of speed by a scan of every case over twenty speeds with all modes, 13 nodes each;
  then trials for torque with its factor and without, and for all modes, of every run and case,
  until the inverse parabola is as good as the root.

A maximum between the ends of a range, a source at its limit, and a supply of
which the chords prove nothing need steps that linkcalc would take, and that this aircraft does
not ask for: they are refused.
"""

from __future__ import annotations

from types import SimpleNamespace

import hand_written as shared_steps
import numpy as np
from hand_written import BEST, CASES, GREATEST, HIGH, LOW, MODES, OWN, RUNS, STALLED

NODES, GLANCE = 61, 13  # from end to end: for the check, for a trial
SCAN = GREATEST * (np.arange(1, 21) / 20) ** 2
SCAN[0] = 1e-3 * GREATEST
TORQUE, FREEZE, EVERY = range(3)
HELD, LOST = -1.0, 1e6
PAIRS = np.array([[0, 1, 4], [2, 3, 5]])  # servos that share leads, two by two
NEAR, LEAST = 1e-7, 1e-6  # shares of the open-circuit voltage
AT_ONCE = 10_000
RANGE = np.linspace(0.0, 1.0, 33)[:, None, None]


def nodes(low, high, count):
    """Return evenly spaced deflections, the one nearest to neutral moved there, (node, ...)."""
    made = low + (high - low) * np.linspace(0.0, 1.0, count).reshape(-1, *(1,) * low.ndim)
    made[-1] = high
    middle = np.rint(low / (low - high) * (count - 1))
    made[np.arange(count).reshape(-1, *(1,) * low.ndim) == middle] = 0.0
    return made


def bear(place, air, deflection):
    """Return torque to hold by unit of pressure on every line, that of weight, ratio and lever.

    Beside the lines stands how far each moves out where the flow is laminar. `place` are arm,
    horn and rod, `air` b_1, b_2, slab, incidence, weight and S c.
    """
    b1, b2, slab, incidence, weight, size = air
    ratio, lever, cosine = shared_steps.linkage(*place, deflection)
    stiff = b2 * deflection
    side = np.where(deflection < 0, -1.0, 1.0)
    turned = side * (b1 * np.abs(incidence))
    square = slab > 1
    lines = (
        np.where(square, 1.0, 0.8) * stiff + np.where(square, 1.1, 0.7) * b1 * incidence,
        slab * (0.5 * stiff - turned),
        slab * (stiff + turned),
    )
    fading = np.clip((np.radians(10) - np.abs(deflection)) / np.radians(2), 0.0, 1.0)
    out = 0.05 * size * side * fading
    wider = ratio * out  # of the high line; the low one moves the other way
    return ratio * np.stack(lines), wider, weight * cosine * ratio, ratio, lever


def surfaces(given):
    """Return what `bear` takes, for every run and case; refuse flaps that it does not know."""
    if np.maximum(given.throw_up, given.throw_down).max() > np.radians(30):
        raise ValueError("deflections beyond attached flow")
    b1, b2 = shared_steps.flap(given)
    slab = 1 + 0.2 * given.slab
    place, air = np.empty((3, RUNS, CASES)), np.empty((6, RUNS, CASES))
    place[:] = np.stack((given.arm, given.horn, given.rod))[..., None]
    air[:3] = np.stack((b1, b2, slab))[..., None]
    air[3] = shared_steps.incidences(given)
    air[4] = -shared_steps.GRAVITY * given.load_factor * given.mass_moment[:, None]
    t = given.taper
    size = given.area * given.chord * 4 * (1 + t + t * t) / (3 * (1 + t) ** 2)
    air[5] = size[:, None]
    return place, air


def laminar(given, altitude, density, speed):
    """Return how far flow is laminar by its Reynolds number, (run, ...)."""
    temperature = 288.15 - 0.0065 * 6356766.0 * altitude / (6356766.0 + altitude)
    viscosity = 1.458e-6 * temperature**1.5 / (temperature + 110.4)  # 1976 standard atmosphere
    chord = (given.chord / given.chord_ratio)[:, None]
    return np.clip((3e5 - density * speed * chord / viscosity) / 1e5, 0.0, 1.0)


def widened(lines, out):
    """Move the ends of the band out, in place; the best line stays."""
    lines[LOW] -= out
    lines[HIGH] += out
    return lines


def greatest(values, neutral):
    """Return the greatest along the nodes, which are the second axis from the front, and where.

    Refuse one between the ends, but at neutral, where the band has a corner: linkcalc looks
    closer there, which no range of this aircraft asks for.
    """
    node = values.argmax(1)
    top = np.take_along_axis(values, node[:, None], 1)[:, 0]
    last = values.shape[1] - 1
    ends = np.maximum(values[:, 0], values[:, last])
    if not ((node == 0) | (node == last) | (node == neutral) | (ends >= top * (1 - 1e-7))).all():
        raise ValueError("a maximum between the ends of a range")
    return top, node


def govern(given, reach, parts, pressure, thin):
    """Find the deflections that govern, and evaluate once more where torque is the largest."""
    low, high = reach
    # from the most positive one: of equal maxima it is told
    deflection = nodes(high, low, NODES)
    neutral = (deflection == 0).argmax(0)
    air, wider, weight, ratio, lever = bear(*parts, deflection)
    hold = widened(air, wider * thin) * pressure + weight
    size, by_lever = np.abs(hold), hold / lever
    worst = size[LOW:].max(0)
    pushed = np.maximum((by_lever[LOW:].max(0), by_lever[BEST]), 0.0)
    functions = np.stack((worst, size[BEST], *pushed, -by_lever[LOW:].min(0)))
    value, place = greatest(functions, neutral)

    def angle(place):
        return high + (low - high) * place / (NODES - 1)

    found = np.where(place[0] == neutral, 0.0, angle(place[0]))
    air, wider, weight, slope, _ = bear(*parts, found)
    holds = (widened(air, wider * thin) * pressure + weight).transpose(1, 0, 2)
    line = np.where(np.abs(holds[:, 2]) >= np.abs(holds[:, 1]), 2, 1)
    kind = value[4] >= value[2]
    return SimpleNamespace(
        move=value[:2] / given.efficiency,
        squeeze=value[2:4],
        deflection=found,
        line=line,
        holds=holds,
        moments=-holds / slope[:, None],
        rod_force=np.where(kind, value[4], -value[2]),
        rod_force_at=angle(np.where(kind, place[4], place[2])),
        worst=np.stack((worst, size[BEST])),
        ratio=ratio,
        neutral=neutral,
    )


def columns(curves, voltage, count=4):
    """Return stall torque, currents at stall and without load, and speed at voltages."""
    past = np.maximum(voltage - curves.corner, 0.0)
    shape = count, *(1,) * (voltage.ndim - 2), RUNS, 1
    return curves.slope[:count].reshape(shape) * voltage + curves.bend[:count].reshape(shape) * past


def demand(curves, voltage, load, work):
    """Return the current of every servo; in `work`, so that no call asks for memory."""
    total, span, none, past, term = work
    np.maximum(np.subtract(voltage, curves.corner, out=past), 0.0, out=past)
    for column, slope, bend in zip((total, span, none), curves.steep, curves.bent, strict=True):
        np.multiply(slope, voltage, out=column)
        np.add(column, np.multiply(bend, past, out=term), out=column)
    np.minimum(np.divide(load, total, out=total), 1.0, out=total)
    total *= span
    total += none
    return total


class Supply:
    """The supply, made ready: every state by Newton's method, and what proves it."""

    def __init__(self, given):
        self.full = given.voltage
        self.limit, self.other = given.current_limit, given.other_current
        self.curves = shared_steps.servos(given)
        # stall torque, current at stall above that without load, and that
        difference = np.array([[1, 0, 0, 0], [0, 1, -1, 0], [0, 0, 1, 0]])
        self.curves.steep = np.tensordot(difference, self.curves.slope, 1)
        self.curves.bent = np.tensordot(difference, self.curves.bend, 1)
        self.shared, self.idle = shared_steps.supply(given)
        self.common = given.internal_resistance
        own = self.shared - self.common
        self.pairs = own[PAIRS[0], PAIRS[0]], own[PAIRS[0], PAIRS[1]], own[PAIRS[1], PAIRS[1]]
        self.largest = np.linalg.eigvalsh(self.shared)[-1]
        # a fall that makes no chord to a point nearby too steep
        self.nothing = 0.45 * NEAR * self.full / self.largest
        own[PAIRS, PAIRS] = own[PAIRS, PAIRS[::-1]] = 0.0
        if np.abs(own).max() > 1e-12:
            raise ValueError("other servos than those of this batch share leads")

    def step(self, conductance, residual):
        """Solve (1 + R D) d = residual: pairs by Cramer's rule, what all share last."""
        (first, both, second) = (item[:, None] for item in self.pairs)
        d1, d2 = conductance[PAIRS]
        e1, e2 = residual[PAIRS]
        a, b, c, d = 1 + first * d1, both * d2, both * d1, 1 + second * d2
        by_determinant = 1 / (a * d - b * c)
        y1, y2 = (d * e1 - b * e2) * by_determinant, (a * e2 - c * e1) * by_determinant
        z1, z2 = (d - b) * by_determinant, (a - c) * by_determinant
        drawn, gain = (d1 * y1 + d2 * y2).sum(0), (d1 * z1 + d2 * z2).sum(0)
        rest = self.common * drawn / (1 + self.common * gain)
        made = np.empty(residual.shape)
        made[PAIRS[0]], made[PAIRS[1]] = y1 - z1 * rest, y2 - z2 * rest
        return made

    def solve(self, loads, *, everywhere=False):
        """Return voltages, currents and columns of every state, (run, state)."""
        curves, idle = self.curves, self.idle
        voltage = np.full(loads.shape, idle)
        for _ in range(12):
            past = voltage - curves.corner
            rise = curves.steep + curves.bent * (past > 0.0)
            stall, span, none = curves.steep * voltage + curves.bent * np.maximum(past, 0.0)
            share = loads / stall
            turning = share < 1.0
            share = np.minimum(share, 1.0)
            span *= share
            none += span
            residual = self.shared @ none
            residual += voltage
            residual -= idle
            conductance = rise[1] * share + rise[2]
            span /= stall
            span *= rise[0]
            conductance -= span * turning
            voltage = np.clip(voltage - self.step(conductance, residual), LEAST * idle, idle)
            if np.abs(residual).max() <= 1e-6 * idle:
                break
        work = np.empty((6, max(1, AT_ONCE // voltage.size), *voltage.shape))
        current = np.array(demand(curves, voltage, loads, work[:5, 0]))
        if np.abs(voltage - idle + self.shared @ current).max() > 1e-10 * idle:
            raise ValueError("no voltage satisfies the supply")
        if current.sum(0).max() + self.other > self.limit:
            raise ValueError("the source is at its limit")
        self.prove_greatest(voltage, current, loads, work)
        if everywhere:
            self.prove_alone(voltage, current, loads)
        return voltage, current, columns(curves, voltage)

    def prove_greatest(self, voltage, current, loads, work):
        """Refuse what chords to greater voltages, and to points nearby, do not prove.

        1 + L^T S L, with R = L L^T and S the least slopes of chords, is positive definite where
        the least slope of all times the largest eigenvalue of R is more than -1.
        """
        near, room = NEAR * self.full, self.full - voltage
        steps = max(4, int(np.ceil(32 * (1 - voltage.min() / self.full))))
        shares = (np.arange(1.0, steps + 1) / steps)[:, None, None]
        below = demand(self.curves, voltage - near, loads, work[:5, 0])
        least = (current - below).min() / near
        above = demand(self.curves, voltage + near, loads, work[:5, 0])
        least = min(least, (above - current).min() / near)
        # A few at once: arrays that leave the cache cost more than calls.
        together = work.shape[1]
        for first in range(0, steps, together):
            part = shares[first : first + together]
            points = np.multiply(part, room, out=work[5, : len(part)])
            points += voltage
            rise = demand(self.curves, points, loads, work[:5, : len(part)])
            rise -= current
            if rise.min() < -self.nothing:
                points -= voltage
                least = min(least, self.least_chord(points, rise))
        self.refuse(least)

    def prove_alone(self, voltage, current, loads):
        """Refuse what chords to any voltage do not prove: then there is no latch-up."""
        table = LEAST * self.full + RANGE * (1 - LEAST) * self.full
        there = demand(self.curves, table, loads, np.empty((5, len(table), *voltage.shape)))
        corner = corners(table, there)
        beside = demand(self.curves, corner, loads, np.empty((5, *corner.shape)))
        self.refuse(self.least_chord(table - voltage, there - current))
        self.refuse(self.least_chord(corner - voltage, beside - current))

    def least_chord(self, gap, rise):
        """Return the least slope of chords, but for points that are the same."""
        apart = np.abs(gap) > 0.5 * NEAR * self.full
        return np.divide(rise, gap, out=np.zeros(rise.shape), where=apart).min()

    def refuse(self, least):
        """Refuse a least slope that leaves room for other voltages."""
        if not 1 + self.largest * min(least, 0.0) > 0.1:
            raise ValueError("a current falls too steeply for one working point")


def corners(voltage, current):
    """Return the voltages at which the lines of neighbouring steps of a table meet."""
    width = voltage[1:] - voltage[:-1]
    rise = (current[1:] - current[:-1]) / width
    before, within, after = rise[:-2], rise[1:-1], rise[2:]
    meets = (within - after) * (before - within) > 0.0
    share = np.where(meets, within - after, 0.0) / np.where(meets, before - after, 1.0)
    return voltage[1:-2] + share * width[1:-1]


def slowest(given, governing, stall, free):
    """Return the least rate of every run, negative where the servo stalls, (basis, run, case)."""
    needed = governing.worst / (given.efficiency * stall)[:, None]
    return -greatest(governing.ratio * (needed - 1), governing.neutral)[0] * free


def first_root(at, places, heights):
    """Find where the first of several functions turns positive: (search,), which function.

    Three places, the last anywhere; the least root of the inverse parabolas through them, the
    chord where a parabola leaves the ends, half of the interval where a function is far above
    zero or one side gets stubborn. Settled where parabola and line agree to 2e-7.
    """
    x, f = np.stack(places), np.stack(heights)
    root, side = x[0].copy(), np.zeros(x.shape[1])
    which, busy = np.zeros(x.shape[1], dtype=int), np.arange(x.shape[1])
    for _ in range(60):
        share, error, which[busy] = share_of_root(x, f)
        share = np.where((np.abs(side) >= 3) & (error > 2e-7), 0.5, share)
        root[busy] = trial = x[0] + (x[1] - x[0]) * share
        go_on = (error > 2e-7) & (np.abs(x[1] - x[0]) > 1e-7 * np.abs(x[1]))
        if not go_on.any():
            return root, which
        x, f, side, busy, trial = (
            x[:, go_on],
            f[..., go_on],
            side[go_on],
            busy[go_on],
            trial[go_on],
        )
        value = at(trial, busy)
        rises = (value > 0).any(0)
        x = np.where(rises, (x[0], trial, x[1]), (trial, x[1], x[0]))
        f = np.where(rises, (f[0], value, f[1]), (value, f[1], f[0]))
        turn = np.where(rises, 1.0, -1.0)
        side = np.where(side * turn > 0, side + turn, turn)
    raise ValueError("a root is not found")


def share_of_root(x, f):
    """Return how far from end to end the first root is, how far off as a part of it, and whose."""
    (low, high, third), (f_low, f_high, f_third) = x, f
    rise, below, above = f_high - f_low, f_low - f_third, f_high - f_third
    with np.errstate(divide="ignore", invalid="ignore"):  # level ones give nan or infinity
        bent = f_low / above * (f_third / rise + (third - low) / (high - low) * f_high / below)
        good = (bent > 0.0) & (bent < 1.0) & (np.abs(f_third) <= 5.0)
        share = np.where(good, bent, -f_low / rise)
        share = np.where((f_high > 5.0) | (rise <= 0), 0.5, share)
        share = np.where(f_high > 0, np.clip(share, 0.0, 1.0), 1.0)
        first, each = share.argmin(0), np.arange(x.shape[1])
        share, height = share[first, each], f[:, first, each]
        sizes = np.abs(height)
        near, next_near = sizes.argsort(0)[:2]
        one, other = height[near, each], height[next_near, each]
        place = x[near, each]
        line = place - one * (x[next_near, each] - place) / (other - one)
        error = np.abs(line - low - (high - low) * share) / np.maximum(np.abs(low), np.abs(high))
        error = np.maximum(error, 20 * sizes.prod(0))
    guessed = ~good[first, each] | (height[1] > 5.0) | np.isnan(error)
    met = sizes[:2].min(0) <= 1e-7
    return share, np.where(met, 0.0, np.where(guessed, np.inf, error)), first


def held(given, parts, available, flow, throws):
    """Return how far every surface is held, (up or down, factored or not, run, case)."""
    (place, air), (pressure, thin) = parts, flow
    factor = np.array([given.torque_factor, 1.0]).reshape(2, 1, 1, 1, 1)

    def demanded(place, air, deflection, flow, available):
        load, wider, weight, _, _ = bear(place, air, deflection)
        pressure, thin = flow
        worst = np.abs(widened(load, wider * thin)[LOW:] * pressure + weight).max(0)
        return worst / (given.efficiency * available)

    ends = throws.T[:, :, None]  # (up or down, run, 1)
    walk = ends * np.linspace(0.0, 1.0, NODES).reshape(-1, 1, 1, 1)
    value = demanded(place[..., :1], air, walk, flow, available) * factor - 1
    value = value.transpose(1, 2, 0, 3, 4)  # (node, side, factored, run, case)
    good = value <= 0
    first = np.where(good.all(0), NODES, good.argmin(0))
    made = np.where(first == NODES, ends[:, None], 0.0)
    sought = side, factored, run, case = np.nonzero((first > 0) & (first < NODES))
    last = first[sought]
    index = last - 1, last, np.where(last > 1, last - 2, last + 1)
    factor, speed, most = factor.ravel()[factored], pressure[case], available[run, case]
    thin = thin[run, case]
    place, air = place[:, run, case], air[:, run, case]

    def at(trial, which):
        there = speed[which], thin[which]
        found = demanded(place[:, which], air[:, which], trial, there, most[which])
        return (found * factor[which] - 1)[None]

    made[sought], _ = first_root(
        at,
        [walk[item, side, run, 0] for item in index],
        [value[item, side, factored, run, case][None] for item in index],
    )
    return np.abs(made)


class Trials:
    """Excess of demand over supply at trial speeds; what no speed changes is computed once."""

    def __init__(self, given, reach, parts, supply, rho, wanted, fixed):
        self.given, self.supply, self.rho, self.wanted = given, supply, rho, wanted
        self.fixed = fixed  # excess of travel and over-voltage, (run, case)
        air, wider, self.weight, self.ratio, lever = bear(*parts, nodes(*reach, GLANCE))
        self.air, self.wider = air[LOW:], wider
        self.by_lever = 1 / lever
        critical = shared_steps.critical_load(given)
        self.by_critical = (given.torque_factor**2 * given.buckling_factor / critical)[:, None]

    def loads(self, case, squared):
        """Return torque to hold on both ends of the band, and the larger size, (..., run, trial)."""
        pressure = 0.5 * self.rho[case] * squared
        thin = laminar(self.given, self.given.altitude[case], self.rho[case], np.sqrt(squared))
        wider = self.wider.take(case, -1) * thin
        lines = self.air.take(case, -1)
        lines[0] -= wider
        lines[1] += wider
        hold = lines * pressure + self.weight.take(case, -1)
        return hold, np.abs(hold).max(0)

    def states(self, move):
        """Return the loads at work and with each run at its limit, (run, state, trial)."""
        made = np.empty((RUNS, 1 + RUNS, move.shape[-1]))
        made[:, 0] = move
        made[:, 1:] = (move * self.given.torque_factor)[:, None]
        made[OWN, 1 + OWN] = STALLED
        return made.reshape(RUNS, -1)

    def every(self, solved, hold, worst, case):
        """Return the excess of every mode, (mode, run, trial)."""
        given, count = self.given, len(case)
        voltage, current, column = (
            item.reshape(*item.shape[:-1], 1 + RUNS, count) for item in solved
        )
        move = worst.max(0) / given.efficiency
        drawn = current.sum(0).max(0) + given.other_current
        stall, free = column[0, :, 0], column[3, :, 0]
        needed = worst / (given.efficiency * stall)
        rate = -(self.ratio.take(case, -1) * (needed - 1)).max(0) * free
        squeeze = (hold * self.by_lever.take(case, -1)).max((0, 1))
        volts = np.minimum(
            voltage.min(1) / given.least_voltage[:, None],
            (given.voltage - given.internal_resistance * drawn) / given.receiver_least,
        )
        made = np.empty((len(MODES), RUNS, count))
        made[0] = move * given.torque_factor / column[0, OWN, 1 + OWN] - 1
        made[[1, 3]] = self.fixed[:, :, case]
        made[2] = 1 - volts
        made[4] = drawn * given.current_factor / given.current_limit - 1
        made[5] = 1 - rate / self.wanted[:, case]
        holding = move * given.efficiency / (given.hold_fraction * stall) - 1
        made[6] = np.where(given.sustained[case], holding, HELD)
        made[7] = np.maximum(squeeze, 0.0) * self.by_critical - 1
        return made

    def scan(self):
        """Return the excess at the speeds of the scan, (kind, mode, speed, run, case)."""
        count = len(SCAN) * CASES
        case = np.tile(np.arange(CASES), len(SCAN))
        hold, worst = self.loads(case, np.repeat(SCAN**2, CASES))
        move = worst.max(0) / self.given.efficiency
        alone = np.repeat(move[:, None], RUNS, axis=1)
        alone[OWN, OWN] = STALLED
        states = self.states(move)
        solved = self.supply.solve(np.concatenate((states, alone.reshape(RUNS, -1)), axis=1))
        made = np.full((3, len(MODES), RUNS, count), HELD)
        made[EVERY] = self.every(
            [item[..., : states.shape[1]] for item in solved], hold, worst, case
        )
        made[TORQUE, 0] = made[EVERY, 0]
        stall = solved[2][0, :, states.shape[1] :].reshape(RUNS, RUNS, count)[OWN, OWN]
        made[FREEZE, 0] = move / stall - 1
        return made.reshape(3, len(MODES), RUNS, len(SCAN), CASES).transpose(0, 1, 3, 2, 4)

    def excess(self, squared, kind, run, case):
        """Return the excess of single runs, sorted by kind, each at a speed of its own."""
        single = np.count_nonzero(kind != EVERY)
        hold, worst = self.loads(case, squared)
        move = worst.max(0)
        if (np.maximum(worst[0], worst[-1]) < move * (1 - 1e-7)).any():
            raise ValueError("a largest load between the ends of a range")
        move = move / self.given.efficiency
        factor = np.where(kind == TORQUE, self.given.torque_factor, 1.0)[:single]
        alone = move[:, :single] * factor
        each = np.arange(len(kind))
        needed = alone[run[:single], each[:single]]
        alone[run[:single], each[:single]] = STALLED
        states = self.states(move[:, single:])
        solved = self.supply.solve(np.concatenate((alone, states), axis=1))
        made = np.full((len(MODES), len(kind)), HELD)
        made[0, :single] = needed / solved[2][0, run[:single], each[:single]] - 1
        if single < len(kind):
            rest = slice(single, None)
            excess = self.every(
                [item[..., rest] for item in solved], hold[..., rest], worst[..., rest], case[rest]
            )
            made[:, rest] = excess[:, run[rest], each[: len(kind) - single]]
        return made


def limits_of_speed(trials):
    """Return torque limit, freeze and placard speed, (kind, run, case), and what ends them."""
    table = trials.scan()
    lost = (table > 0).any(1)
    at_zero = ~lost[:, 0]
    pairs = kind, run, case = np.nonzero(lost.any(1) & at_zero)
    last = lost.argmax(1)[pairs]
    index = last - 1, last, np.where(last > 1, last - 2, last + 1)
    squared, modes = first_root(
        lambda trial, which: trials.excess(trial, kind[which], run[which], case[which]),
        [SCAN[item] ** 2 for item in index],
        [table[kind, :, item, run, case].T for item in index],
    )
    speed, mode = np.full((3, RUNS, CASES), np.nan), np.full((3, RUNS, CASES), -1)
    speed[pairs], mode[pairs] = np.sqrt(squared), modes
    begins = np.where(at_zero | lost.all(1), np.nan, SCAN[(~lost).argmax(1)])
    return speed, mode, begins


def evaluate(given):
    """Return everything that the report tells, but for its words."""
    throws = np.stack((-given.throw_up, given.throw_down), axis=1)
    rho = shared_steps.density(given.altitude)
    pressure = 0.5 * rho * given.speed**2
    parts = surfaces(given)
    reach = throws.T[..., None] * given.fraction
    wanted = 2 * (reach[1] - reach[0])
    thin = laminar(given, given.altitude, rho, given.speed)
    governing = govern(given, reach, parts, pressure, thin)
    supply = Supply(given)
    solved = supply.solve(shared_steps.states(given, governing), everywhere=True)
    electric = shared_steps.delivered(given, solved)
    rate = slowest(given, governing, electric["stall"], electric["free"])
    reached = (shared_steps.reach(given)[..., None] / np.abs(reach).transpose(1, 0, 2)).min(1)
    margins = shared_steps.compare(given, governing, electric, rate, reached, wanted)
    # travel and over-voltage, at any speed
    fixed = 1 / (margins[[1, 3], 0] + 1) - 1
    trials = Trials(given, reach, parts, supply, rho, wanted, fixed)
    limits, ending, begins = limits_of_speed(trials)
    lever = shared_steps.linkage(given.arm, given.horn, given.rod, 0.0)[1]
    made = shared_steps.told(
        given,
        SimpleNamespace(
            margins=margins,
            governing=governing,
            electric=electric,
            pressure=pressure,
            commanded=np.abs(reach).max(0),
            rate=rate,
            lever=lever,
            held=held(given, parts, electric["available"][0], (pressure, thin), throws),
            limits=limits,
            ending=ending[EVERY],
        ),
    )
    made.begins = begins  # where a limit does not hold just above zero
    return made
