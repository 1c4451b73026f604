"""Many samples of one aircraft by hand: all margins and placard speeds, in blocks, in numpy.

For an aircraft of six planar pushrods, flaps in attached flow, servos of two rows or one, and leads
that servos share two by two. Nothing of linkcalc is imported. Samples stand along the last axis of
every array, in blocks whose arrays stay in cache; no array is longer than a few blocks. In short:

- Loads at 61 nodes over the range of every run and case, and the greatest of them.
- Every state of the supply, at work and with each run at its limit, by Newton's method from the
  voltage without servos. What it finds is not proved to be the only solution.
- A scan of every case over twenty speeds with 13 nodes, slow ones first, until all runs have failed;
  then trials of every run and case, all modes, until an inverse parabola is as good as the root.

Samples that need other steps are refused: a greatest load between the ends of a range but at neutral,
no voltages, a source beyond its limit. `test_tolerance.py` sets it beside `linkcalc`.
"""

from __future__ import annotations

from types import SimpleNamespace

import hand_written
import numpy as np
import same_steps
from hand_written import GRAVITY, MODES, STALLED

RUNS, CASES, NODES, GLANCE = 6, 3, 61, 13
STATES = 1 + RUNS
BLOCK = 512  # samples
COLUMNS = 1024  # trials, or samples in a case at a speed, that are looked at together
GREATEST = 0.7 * 340.294  # [m/s]
SCAN = GREATEST * (np.arange(1, 21) / 20) ** 2
SCAN[0] = 1e-3 * GREATEST
STOPS = (10, 12, 15, 20)
LOST, HELD = 1e6, -1.0  # excess at speeds that are not looked at, and of what is not asked for
PAIRS = np.array([[0, 1, 4], [2, 3, 5]])  # servos that share leads, two by two
OWN = np.arange(RUNS)
NEARLY = 1e-5  # step after which no other is needed, as a share of the voltage
FADE = np.radians(10), np.radians(2)  # laminar flow, up to 8 degrees and fading to nothing at 10
BETWEEN = 1e-7  # of the value, by which nodes between the ends may be greater


class Block:
    """Some samples made ready: what no speed changes, the sample as last axis."""

    def __init__(self, given, part):
        def cut(value):
            whole = isinstance(value, np.ndarray) and value.ndim and value.shape[-1] == given.count
            return np.ascontiguousarray(value[..., part]) if whole else value

        self.given = own = SimpleNamespace(**{key: cut(v) for key, v in vars(given).items()})
        self.count = own.voltage.size
        self.low = -own.throw_up * own.fraction[:, None, None]  # (case, run, sample)
        self.high = own.throw_down * own.fraction[:, None, None]
        self.wanted = 2 * (self.high - self.low)
        self.density = hand_written.density(own.altitude)
        t = own.taper
        self.size = own.area * own.chord * 4 * (1 + t + t * t) / (3 * (1 + t) ** 2)
        self.b1, self.b2 = hand_written.flap(own) * (1 + 0.2 * own.slab)
        incidence = np.where(own.fin > 0, own.beta, own.alpha)  # (run, case)
        self.turned = self.b1 * np.abs(incidence.T)[..., None]  # (case, run, sample)
        felt = -GRAVITY * own.load_factor[:, None, None]
        self.weight = felt * own.mass_moment
        temperature = 288.15 - 0.0065 * 6356766.0 * own.altitude / (6356766.0 + own.altitude)
        viscosity = 1.458e-6 * temperature**1.5 / (temperature + 110.4)  # 1976 standard atmosphere
        per_chord = (self.density / viscosity)[:, None, None]
        self.reynolds = per_chord * own.chord / own.chord_ratio  # by speed, (case, run, sample)
        self.critical = hand_written.critical_load(own)
        self.reach = reach(own)  # up and down, (2, run, sample)
        self.refused = np.zeros(self.count, dtype=bool)

    def linkage(self, run, deflection):
        """Return ratio, cosine and one over the lever of a run at deflections (node, sample)."""
        arm, horn, rod = (each[run] for each in (self.given.arm, self.given.horn, self.given.rod))
        rise = arm - horn
        sine, cosine = np.sin(deflection), np.cos(deflection)
        along, across, term = rod * sine, rod * cosine, rise * cosine
        along += term
        across -= np.multiply(rise, sine, out=term)
        square = np.multiply(2 * horn, along, out=sine)
        square += rod * rod + rise * rise + horn * horn
        half = 0.5 * square
        half += 0.5 * (arm * arm - rod * rod)
        cross = np.multiply(arm * arm, square)
        cross -= np.multiply(half, half, out=term)
        np.sqrt(cross, out=cross)
        across *= np.subtract(square, half, out=half)
        along += horn
        along *= cross
        along += across
        along *= horn
        square *= cross
        square /= along
        return square, cosine, np.divide(rod, cross, out=cross)


def reach(given):
    """Return how far each surface goes, up and down, (2, run, sample)."""
    flat = {name: getattr(given, name).ravel() for name in ("arm", "horn", "rod")}
    travel = np.broadcast_to(given.servo_travel, given.arm.shape).reshape(-1, 1)
    far = hand_written.reach(SimpleNamespace(**flat, servo_travel=travel))
    return np.ascontiguousarray(far.T).reshape(2, *given.arm.shape)


def nodes(low, high, count):
    """Return evenly spaced deflections, the one nearest to neutral moved there, and which it is."""
    width = high - low
    made = low + width * np.linspace(0.0, 1.0, count)[:, None]
    made[-1] = high
    neutral = np.rint(-low / width * (count - 1)).astype(int)
    made[neutral, np.arange(low.size)] = 0.0
    return made, neutral


def faded(deflection):
    """Return the share of the laminar band that is left at deflections, with their sign."""
    made = np.abs(deflection)
    np.subtract(FADE[0], made, out=made)
    made *= 1 / FADE[1]
    np.minimum(np.maximum(made, 0.0, out=made), 1.0, out=made)
    return np.copysign(made, deflection + 0.0, out=made)


def laminar(block, case, speed):
    """Return how far flow is laminar, (run, ...)."""
    return np.clip((3e5 - block.reynolds[case] * speed) / 1e5, 0.0, 1.0)


def greatest(values, neutral):
    """Return the greatest along the nodes, and where it lies between the ends.

    At neutral the band has a corner, which is a node.
    """
    top = values.max(0)
    ends = np.maximum(values[0], values[-1])
    np.maximum(ends, values[neutral, np.arange(top.size)], out=ends)
    return top, top * (1 - np.copysign(BETWEEN, top)) > ends


class Supply:
    """The electrical side of some columns: samples, or trials of these."""

    def __init__(self, given):
        self.given = given
        first, last = given.row_voltage  # (run, 1) each
        self.first, self.width = first[:, None], (last - first)[:, None]
        wide = np.where(last > first, last - first, 1.0)
        columns = np.stack(
            (
                given.stall_torque / given.datasheet_factor,
                given.stall_current - given.no_load_current,
                given.no_load_current,
                given.no_load_speed,
            )
        )
        low = columns[:, 0] / first
        self.slopes = np.stack((low, (columns[:, 1] - columns[:, 0]) / wide))  # (ramp, column, ..)
        (t1, c1), (t2, c2) = self.slopes[:, :2]
        self.bend = ((c2 * t1 - t2 * c1) * first)[
            :, None
        ]  # of span over stall, times stall squared
        rho = 1.7241e-8 * (1 + 0.00393 * (given.copper_temperature - 293.15))
        copper = given.strand_factor * rho * given.lead_length / given.lead_area
        leads = 2 * (copper + given.lead_contacts * given.contact_resistance)
        feeds = given.feeds
        shared = (feeds[:, None] * feeds).reshape(RUNS * RUNS, -1) @ leads
        shared = shared.reshape(RUNS, RUNS, -1)
        one, other = PAIRS
        self.pairs = np.stack((shared[one, one], shared[one, other], shared[other, other]))
        shared[OWN, OWN] = shared[one, other] = shared[other, one] = 0.0
        if shared.any():
            raise ValueError("other servos than those of this aircraft share leads")
        self.common = given.internal_resistance
        self.idle = given.voltage - given.internal_resistance * given.other_current

    def taken(self, sample):
        """Return that of some samples, each as often as it is named."""
        made = object.__new__(Supply)
        made.first, made.width = self.first, self.width
        for name in ("slopes", "bend", "pairs", "common", "idle"):
            setattr(made, name, getattr(self, name).take(sample, -1))
        return made

    def columns(self, voltage, which):
        """Return a column of the datasheets at voltages (run, state, ...)."""
        low, high = self.slopes[:, which, :, None]
        past = np.clip(voltage - self.first, 0.0, self.width)
        return low * np.minimum(voltage, self.first) + high * past

    def lines(self, voltage, load, work):
        """Return current without voltage, and its slope, (run, state, column), in `work`.

        Below the first row all columns go to zero with the voltage: then the slope of a servo that
        turns is that of its current without load, whatever the load.
        """
        stall, span, none, share, slope, term = work
        wide = np.s_[:, : voltage.shape[1]]  # at first one voltage for all states
        stall, span, none, term = (each[wide] for each in (stall, span, none, term))
        (t1, c1, n1), (t2, c2, n2) = self.slopes[:, :3, :, None]
        past = voltage - self.first
        low, high = past <= 0.0, past > self.width
        np.minimum(np.maximum(past, 0.0, out=past), self.width, out=past)
        below = np.minimum(voltage, self.first)
        for made, first, second in ((stall, t1, t2), (span, c1, c2), (none, n1, n2)):
            np.multiply(first, below, out=made)
            np.add(made, np.multiply(second, past, out=term), out=made)
        np.divide(load, stall, out=share)
        stalled = share >= 1.0
        np.minimum(share, 1.0, out=share)
        np.divide(self.bend, stall, out=term)
        term[low | high] = 0.0
        np.multiply(term, share, out=slope)
        steep = np.where(low, c1, c2)
        steep[high] = 0.0
        np.copyto(slope, steep, where=stalled)
        steep = np.where(low, n1, n2)
        steep[high] = 0.0
        slope += steep
        share *= span
        share += none
        share -= np.multiply(slope, voltage, out=work[0])
        return share, slope

    def solve(self, loads):
        """Return voltages and currents of every state, and which columns have none, (run, state, column)."""
        work = np.empty((6, *loads.shape))
        voltage = np.broadcast_to(self.idle, (RUNS, 1, loads.shape[-1]))
        first, both, second = self.pairs[:, :, None]
        square = both * both
        for _ in range(12):
            current, slope = self.lines(voltage, loads, work)
            one, other = slope[PAIRS[0]], slope[PAIRS[1]]
            drawn, also = current[PAIRS[0]], current[PAIRS[1]]
            # (1 + R D) v = u - R i by pairs, with u what the source leaves for all
            a, d = first * one, second * other
            a += 1.0
            d += 1.0
            by_determinant = a * d
            by_determinant -= square * one * other
            np.divide(1.0, by_determinant, out=by_determinant)
            e1, e2 = first * drawn, second * also
            e1 += both * also
            e2 += both * drawn
            b, c = both * other, both * one
            w1, w2 = d * e1, a * e2
            w1 -= b * e2
            w2 -= c * e1
            d -= b
            a -= c
            for each in (w1, w2, d, a):
                np.multiply(each, by_determinant, out=each)
            drawn -= np.multiply(one, w1, out=e1)
            also -= np.multiply(other, w2, out=e2)
            drawn += also
            one *= d
            other *= a
            one += other
            left = (self.idle - self.common * drawn.sum(0)) / (1 + self.common * one.sum(0))
            made = np.empty(loads.shape)
            d *= left
            a *= left
            d -= w1
            a -= w2
            made[PAIRS[0]], made[PAIRS[1]] = d, a
            np.maximum(made, 1e-6 * self.idle, out=made)
            change = np.subtract(made, voltage, out=work[5])
            step = np.maximum(change.max((0, 1)), -change.min((0, 1)))
            voltage = made
            if (step <= NEARLY * self.idle).all():
                break
        slope *= voltage
        current += slope
        return voltage, current, ~(step <= NEARLY * self.idle)


def states(given, move):
    """Return the loads at work and with each run at its limit, (run, state, ...)."""
    made = np.empty((RUNS, STATES, *move.shape[1:]))
    made[:, 0] = move
    made[:, 1:] = (move * given.torque_factor)[:, None]
    made[OWN, 1 + OWN] = STALLED
    return made


def of_supply(given, source, move, other):
    """Solve every state for loads (run, column), and return what margins ask for."""
    voltage, current, bad = source.solve(states(given, move))
    drawn = current.sum(0).max(0) + given.other_current
    work = voltage[:, :1]
    own = voltage[OWN, 1 + OWN][:, None]
    volts = np.minimum(
        voltage.min(1) / given.least_voltage,
        (other.voltage - source.common * drawn) / given.receiver_least,
    )
    return SimpleNamespace(
        drawn=drawn,
        stall=source.columns(work, 0)[:, 0],
        free=source.columns(work, 3)[:, 0],
        available=source.columns(own, 0)[:, 0],
        volts=volts,
        bad=bad | (drawn > given.current_limit),
    )


def swept(block, case, kept):
    """Return the greatest torque to move and push on the rod, (run, sample), and where neutral is.

    Torque to hold and ratio at all nodes are put into `kept`, (2, run, node, sample).
    """
    speed, count = block.given.speed[case], block.count
    pressure = 0.5 * block.density[case] * speed**2
    thin = laminar(block, case, speed)
    hold, squeeze, middle = np.empty((RUNS, count)), np.empty((RUNS, count)), []
    for run in range(RUNS):
        deflection, neutral = nodes(block.low[case, run], block.high[case, run], NODES)
        ratio, cosine, by_lever = block.linkage(run, deflection)
        out = faded(deflection)
        out *= pressure * 0.05 * block.size[run] * thin[run]
        out += np.copysign(pressure * block.turned[case, run], deflection + 0.0)
        felt = cosine
        felt *= block.weight[case, run]
        deflection *= 0.5 * pressure * block.b2[run]
        low = felt + deflection
        high = low + deflection
        low -= out
        high += out
        low *= ratio
        high *= ratio
        pushed = np.maximum(low, high, out=deflection)
        worst = np.maximum(np.abs(low, out=low), np.abs(high, out=high), out=kept[0, run])
        kept[1, run] = ratio
        pushed *= by_lever
        hold[run], between = greatest(worst, neutral)
        squeeze[run], squeezed = greatest(pushed, neutral)
        block.refused |= between | (squeezed & (squeeze[run] > 0))
        middle.append(neutral)
    return hold / block.given.efficiency, squeeze, middle


def slowest(block, found, kept, middle):
    """Return the least rate of every run, negative where the servo stalls, (run, sample)."""
    made = np.empty((RUNS, block.count))
    for run in range(RUNS):
        slow, ratio = kept[:, run]
        slow *= 1 / (block.given.efficiency * found.stall[run])
        slow -= 1.0
        slow *= ratio
        top, between = greatest(slow, middle[run])
        block.refused |= between
        made[run] = -top * found.free[run]
    return made


def margins(block, source):
    """Return the margins of every mode, (mode, case, run, sample), nan where one does not apply."""
    given, count = block.given, block.count
    made = np.full((len(MODES), CASES, RUNS, count), np.nan)
    far = block.reach[:, None] / np.abs(np.stack((block.low, block.high)))
    made[1] = far.min(0) - 1
    made[3] = given.rated_voltage / given.voltage - 1
    kept = np.empty((2, RUNS, NODES, count))
    factors = given.torque_factor * given.buckling_factor
    for case in range(CASES):
        move, squeeze, middle = swept(block, case, kept)
        found = of_supply(given, source, move, given)
        block.refused |= found.bad
        made[0, case] = found.available / (move * given.torque_factor) - 1
        made[2, case] = found.volts - 1
        made[4, case] = given.current_limit / (found.drawn * given.current_factor) - 1
        rate = np.maximum(slowest(block, found, kept, middle), 0.0)
        made[5, case] = rate / block.wanted[case] - 1
        if given.sustained[case]:
            holding = given.hold_fraction * found.stall
            made[6, case] = holding / (given.efficiency * move) - 1
        made[7, case] = block.critical / (np.where(squeeze > 0, squeeze, np.nan) * factors) - 1
    return made


class Trials:
    """Excess of demand over supply of samples at trial speeds; what no speed changes is a table."""

    def __init__(self, block, source, fixed):
        self.block, self.source = block, source
        count = block.count
        # low and high by pressure, widening, weight; ratio and one over lever
        self.loads = np.empty((4, GLANCE, RUNS, CASES, count))
        self.place = np.empty((2, GLANCE, RUNS, CASES, count))
        for case in range(CASES):
            for run in range(RUNS):
                deflection, _ = nodes(block.low[case, run], block.high[case, run], GLANCE)
                ratio, cosine, by_lever = block.linkage(run, deflection)
                turned = np.copysign(block.turned[case, run], deflection + 0.0)
                stiff = block.b2[run] * deflection
                table = self.loads[:, :, run, case]
                table[0] = ratio * (0.5 * stiff - turned)
                table[1] = ratio * (stiff + turned)
                table[2] = ratio * faded(deflection) * (0.05 * block.size[run])
                table[3] = ratio * cosine * block.weight[case, run]
                self.place[:, :, run, case] = ratio, by_lever
        self.by_critical = block.given.torque_factor * block.given.buckling_factor / block.critical
        self.fixed = fixed  # excess of travel and over-voltage, (2, case, run, sample)

    def hold(self, table, pressure, thin):
        """Return torque to hold on both ends of the band, (2, node, run, column)."""
        out = table[2] * (pressure * thin)
        made = table[:2] * pressure
        made += table[3]
        made[0] -= out
        made[1] += out
        return made

    def every(self, found, move, rate, squeeze, rest):
        """Return the excess of every mode of some runs."""
        given = self.block.given
        made = np.empty((len(MODES), *move.shape))
        made[0] = move * given.torque_factor / found.available - 1
        made[[1, 3]] = rest.fixed
        made[2] = 1 - found.volts
        made[4] = found.drawn * given.current_factor / given.current_limit - 1
        made[5] = 1 - rate / rest.wanted
        holding = given.efficiency * move / (given.hold_fraction * found.stall) - 1
        made[6] = np.where(rest.sustained, holding, HELD)
        made[7] = np.maximum(squeeze, 0.0) * rest.by_critical - 1
        return made

    def glance(self, speed, case, sample):
        """Return the excess of samples in a case at a speed, (mode, run, sample)."""
        block = self.block
        given = block.given
        whole = sample is None
        table, place = self.loads[:, :, :, case], self.place[:, :, :, case]
        source, voltage = self.source, given.voltage
        rest = SimpleNamespace(
            fixed=self.fixed[:, case],
            wanted=block.wanted[case],
            sustained=given.sustained[case],
            by_critical=self.by_critical,
        )
        thin = laminar(block, case, speed)
        if not whole:
            table, place, thin, voltage = (
                each.take(sample, -1) for each in (table, place, thin, voltage)
            )
            source = source.taken(sample)
            for name in ("fixed", "wanted", "by_critical"):
                setattr(rest, name, getattr(rest, name).take(sample, -1))
        hold = self.hold(table, 0.5 * block.density[case] * speed**2, thin)
        squeeze = (hold.max(0) * place[1]).max(0)
        worst = np.abs(hold, out=hold).max(0)
        move = worst.max(0) / given.efficiency
        found = of_supply(given, source, move, SimpleNamespace(voltage=voltage))
        worst *= 1 / (given.efficiency * found.stall)
        worst -= 1.0
        worst *= place[0]
        made = self.every(found, move, -worst.max(0) * found.free, squeeze, rest)
        self.note(found.bad, np.arange(block.count) if whole else sample)
        return made

    def scan(self):
        """Return the excess at the speeds of the scan, (mode, speed, case, run, sample)."""
        count = self.block.count
        table = np.full((len(MODES), len(SCAN), CASES, RUNS, count), LOST)
        for case in range(CASES):
            start, left = 0, None
            for stop in STOPS:
                for place in range(start, stop):
                    found = self.glance(SCAN[place], case, left)
                    if left is None:
                        table[:, place, case] = found
                    else:
                        table[:, place, case][..., left] = found
                lost = (table[:, :stop, case] > 0).any(0)
                going = ~(lost != lost[:1]).any(0).all(0)
                left, start = np.flatnonzero(going), stop
                if not left.size:
                    break
        return table

    def excess(self, squared, case, run, sample):
        """Return the excess of single runs, each at a speed of its own, (mode, trial)."""
        parts = [slice(at, at + COLUMNS) for at in range(0, len(squared), COLUMNS)]
        made = [self.single(squared[p], case[p], run[p], sample[p]) for p in parts]
        return np.concatenate(made, axis=1)

    def single(self, squared, case, run, sample):
        """Return the excess of a few single runs."""
        block, given = self.block, self.block.given
        column = case * block.count + sample
        flat = self.loads.reshape(4, GLANCE, RUNS, -1).take(column, -1)
        pressure = 0.5 * block.density[case] * squared
        number = block.reynolds.transpose(1, 0, 2).reshape(RUNS, -1).take(column, -1)
        thin = np.clip((3e5 - number * np.sqrt(squared)) / 1e5, 0.0, 1.0)
        hold = self.hold(flat, pressure, thin)
        each = np.arange(len(run))
        pushed = hold[:, :, run, each].max(0)
        worst = np.abs(hold, out=hold).max(0)
        top = worst.max(0)
        ends = np.maximum(worst[0], worst[-1])
        self.note((ends < top * (1 - BETWEEN)).any(0), sample)
        move = top / given.efficiency
        source = self.source.taken(sample)
        found = of_supply(given, source, move, SimpleNamespace(voltage=given.voltage[sample]))
        own = SimpleNamespace(
            drawn=found.drawn,
            stall=found.stall[run, each],
            free=found.free[run, each],
            available=found.available[run, each],
            volts=found.volts[run, each],
        )
        ratio, by_lever = self.place[:, :, run, case, sample]
        slow = ratio * (worst[:, run, each] / (given.efficiency * own.stall) - 1)
        self.note(slow.max(0) > np.maximum(slow[0], slow[-1]) + BETWEEN, sample)
        rest = SimpleNamespace(
            fixed=self.fixed[:, case, run, sample],
            wanted=block.wanted[case, run, sample],
            sustained=given.sustained[case],
            by_critical=self.by_critical[run, sample],
        )
        squeeze = (pushed * by_lever).max(0)
        made = self.every(own, move[run, each], -slow.max(0) * own.free, squeeze, rest)
        self.note(found.bad, sample)
        return made

    def note(self, found, sample):
        """Note samples for which other steps would be needed."""
        self.block.refused[sample[found]] = True


def placards(trials):
    """Return the placard speed of every case and run, (case, run, sample); nan where nothing ends it."""
    table = trials.scan()
    lost = (table > 0).any(0)
    at_zero = ~lost[0]
    pairs = case, run, sample = np.nonzero(lost.any(0) & at_zero)
    last = lost.argmax(0)[pairs]
    index = last - 1, last, np.where(last > 1, last - 2, last + 1)
    squared, _ = same_steps.first_root(
        lambda trial, which: trials.excess(trial, case[which], run[which], sample[which]),
        [SCAN[item] ** 2 for item in index],
        [table[:, item, case, run, sample] for item in index],
    )
    speed = np.where(at_zero, np.nan, 0.0)
    speed[pairs] = np.sqrt(squared)
    return speed


def evaluate(given, *, speeds=True):
    """Return margins (mode, case, run, sample), placard speeds (case, run, sample), refused."""
    made = np.empty((len(MODES), CASES, RUNS, given.count))
    placard = np.full(made.shape[1:], np.nan)
    refused = np.zeros(given.count, dtype=bool)
    for start in range(0, given.count, BLOCK):
        part = slice(start, start + BLOCK)
        block = Block(given, part)
        source = Supply(block.given)
        made[..., part] = found = margins(block, source)
        if speeds:
            fixed = 1 / (found[[1, 3]] + 1) - 1
            placard[..., part] = placards(Trials(block, source, fixed))
        refused[part] = block.refused
    return made, placard, refused
