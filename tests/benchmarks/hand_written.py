"""One aircraft by hand: the parts of a check in which its steps leave no choice.

Planar pushrods, thin-aerofoil slopes, one supply, out of plain arrays into plain arrays. Nothing
of linkcalc is imported. `same_steps.py` puts them together; docs/performance.md tells how.
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

# States of the supply: (basis, case, work or a run at its limit), and all servos stalled.
STATES = 2 * CASES * (RUNS + 1) + 1
OWN = np.arange(RUNS)
ENDS = np.array([1.0, -1.0])
STALLED = 1e30  # more torque than any servo has [N m]


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


def servos(given):
    """Return the curves of the datasheets' rows."""
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
    if (given.voltage != last).any():
        raise ValueError("the source has not the voltage of the servos' last row")
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


def incidences(given):
    """Return the signed incidence of every surface, (run, case)."""
    return np.where(given.fin[:, None] > 0, given.beta, given.alpha)


def critical_load(given):
    """Return the compression at which a pinned round rod fails, by Euler or Johnson [N]."""
    area = np.pi / 4 * given.diameter**2
    squash = given.strength * area
    euler = np.pi**2 * given.modulus * area * given.diameter**2 / 16 / given.free_length**2
    return np.where(euler <= squash / 2, euler, squash * (1 - squash / (4 * euler)))


def states(given, governing):
    """Return the loads of every state of the supply."""
    made = np.empty((RUNS, 2, CASES, RUNS + 1))
    # Plainly, the load is divided by what the printed torque is divided by: their ratio counts.
    made[:, 0] = (governing.move[0] * given.torque_factor)[..., None]
    made[:, 1] = (governing.move[1] / given.datasheet_factor)[..., None]
    made[:, 0, :, 0] = governing.move[0]
    made[OWN, :, :, 1 + OWN] = STALLED
    return np.concatenate((made.reshape(RUNS, -1), np.full((RUNS, 1), STALLED)), axis=1)


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


def told(given, found):
    """Put together what is told of it."""
    governing, electric, verdict = found.governing, found.electric, found.margins[:, 0]
    return SimpleNamespace(
        margins=found.margins,
        passes=not (verdict < 0).any(),  # nan: does not apply
        governing=np.where(np.isnan(verdict), np.inf, verdict).argmin(0),
        pressure=found.pressure,
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
        latch_up=False,  # where the supply could stay at lower voltages, there is no answer
        source_current=electric["source"],
        all_stalled=electric["all_stalled"],
        all_stalled_current=electric["all_stalled_current"],
        rate=found.rate,
        rod_force=governing.rod_force,
        rod_force_at=governing.rod_force_at,
        jam_force=given.stall_torque[1] / found.lever,  # at neutral
        held=found.held,
        torque_limit=found.limits[0],
        freeze=found.limits[1],
        placard=found.limits[2],
        placard_mode=found.ending,
        out_of_range=(found.pressure > 6400)
        | (np.abs(incidences(given)) > 0.21)
        | (found.commanded > 0.53)
        | (given.chord_ratio < 0.05)[:, None],
    )
