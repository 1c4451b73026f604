"""What hinge-moment solvers cost beside the same written by hand.

Run ``python -m pytest tests/benchmarks/hinge_moments.py`` on a quiet machine. A solver of closed
forms is compared with the bare numpy expression of its lines on a million deflections, the
lattice with the factorisation of its 400 equations and the solution for 61 deflections times 21
incidences, one right-hand side each, by scipy. Each pair runs by turns, and the ratio of the medians
counts, so that other work on the machine hits both.
"""

from __future__ import annotations

import time
from statistics import median
from typing import TYPE_CHECKING

import numpy as np
import pytest
from scipy.linalg import lu_factor, lu_solve

from linkcalc_hinge_moment import lattice
from linkcalc_hinge_moment.band import FIELDS
from linkcalc_hinge_moment.handbook import Handbook, steps
from linkcalc_hinge_moment.lattice import Lattice, level
from linkcalc_hinge_moment.panels import cut, trapezoid
from linkcalc_hinge_moment.plate import Plate
from linkcalc_hinge_moment.slopes import deflection_slope, incidence_slope
from linkcalc_hinge_moment.thin_aerofoil import ThinAerofoil
from linkcalc_hinge_moment.vortex_lattice import downwash
from tests.benchmarks.figures import held

if TYPE_CHECKING:
    from collections.abc import Callable

MILLION = 1_000_000
TAIL = {"half_span": 0.4, "root_chord": 0.2, "tip_chord": 0.15, "sweep": 0.1, "dihedral": 0.0}
PLACE = {"inboard_end": 0.0, "outboard_end": 0.4, "horn_span": 0.0, "horn_lead": 0.0}
PAIR = {"paired": 1.0, "partner": 1.0}


def ratio(one: Callable[[], object], other: Callable[[], object], rounds: int = 9) -> float:
    """Ratio of the medians of two callables that run by turns."""
    spent: tuple[list[float], list[float]] = [], []
    for _ in range(rounds + 1):
        for call, times in zip((one, other), spent, strict=True):
            start = time.perf_counter()
            call()
            times.append(time.perf_counter() - start)
    one_time, other_time = (median(times[1:]) for times in spent)
    print(f"{one_time * 1e3:.1f} ms beside {other_time * 1e3:.1f} ms")
    return one_time / other_time


def fields(count: int) -> dict[str, np.ndarray]:
    """Fields of one surface at many deflections."""
    made = dict.fromkeys(FIELDS, 0.0) | {"dynamic_pressure": 400.0, "density": 1.2}
    made |= {"viscosity": 1.8e-5, "area": 0.01, "chord": 0.05, "taper": 0.8, "chord_ratio": 0.3}
    made |= {"aspect_ratio": 5.0, "incidence": 0.05, "largest_incidence": 0.05, "C_h0": -0.01}
    made |= {"thickness_ratio": 0.09, "lift_slope_ratio": 0.9, "open_gap": 0.0, "sweep": 0.1}
    made |= {"c_l0": 0.2, "deflection": np.linspace(-0.5, 0.5, count)}
    return {name: np.asarray(value) for name, value in made.items()}


def bare_thin_aerofoil(f: dict[str, np.ndarray]) -> tuple[np.ndarray, ...]:
    """Lines of thin-aerofoil theory as one would write them down."""
    b1 = incidence_slope(chord_ratio=f["chord_ratio"])
    b2 = deflection_slope(chord_ratio=f["chord_ratio"])
    turn = np.arccos(2.0 * f["chord_ratio"] - 1.0)
    tau = (np.pi - turn + np.sin(turn)) / np.pi
    delta, induced = f["deflection"], 2.0 / (f["aspect_ratio"] + 2.0)
    size, sign = np.abs(delta), np.where(delta < 0.0, -1.0, 1.0)
    slope = 0.8 * b2 - tau * induced * 0.7 * b1
    rest = 0.8 * f["C_h0"] + 0.7 * b1 * (1 - induced) * f["incidence"]
    best = rest - induced * 0.7 * b1 * f["c_l0"] / (2.0 * np.pi) + slope * delta
    steady = np.abs(f["C_h0"]) - b1 * f["largest_incidence"]
    speed = np.sqrt(2.0 * f["dynamic_pressure"] / f["density"])
    reynolds = speed * f["density"] * f["chord"] / f["chord_ratio"] / f["viscosity"]
    fade = np.clip((3e5 - reynolds) / 1e5, 0.0, 1.0)
    degrees = np.radians(np.array([8.0, 10.0]))
    wide = 0.05 * fade * np.clip((degrees[1] - size) / (degrees[1] - degrees[0]), 0.0, 1.0)
    low = np.minimum(-0.5 * b2 * size - steady - wide, -sign * best)
    high = np.maximum(-b2 * size + steady + wide, -sign * best)
    taper = f["taper"]
    load = f["dynamic_pressure"] * f["area"] * f["chord"]
    load = load * 4.0 * (1.0 + taper + taper**2) / (3.0 * (1.0 + taper) ** 2)
    return -sign * load * low, load * best, -sign * load * high


def bare_plate(f: dict[str, np.ndarray]) -> tuple[np.ndarray, ...]:
    """Lines of the plate as one would write them down."""

    def coefficient(angle: np.ndarray) -> np.ndarray:
        a = np.minimum(np.abs(angle), 0.5 * np.pi)
        force = 2.0 * np.pi * np.sin(a) / (4.0 + np.pi * np.sin(a))
        arm = 0.5 - 0.75 * np.cos(a) / (4.0 + np.pi * np.sin(a))
        return np.sign(angle) * force * arm

    delta, most = f["deflection"], f["largest_incidence"]
    size, sign = np.abs(delta), np.where(delta < 0.0, -1.0, 1.0)
    best = coefficient(delta + f["incidence"])
    low = np.minimum(coefficient(size - most), sign * best)
    high = np.maximum(coefficient(size + most), sign * best)
    taper = f["taper"]
    load = f["dynamic_pressure"] * f["area"] * f["chord"]
    load = load * 4.0 * (1.0 + taper + taper**2) / (3.0 * (1.0 + taper) ** 2)
    return -sign * load * low, -load * best, -sign * load * high


def bare_handbook(f: dict[str, np.ndarray]) -> tuple[np.ndarray, ...]:
    """Lines of thin-aerofoil theory about the handbook's slopes, which are one each."""
    taken = steps(f)
    alpha, delta = taken[5].after, taken[11].after
    relief = (taken[4].after - taken[4].before) * f["c_l0"] / (2.0 * np.pi)
    best = 0.8 * f["C_h0"] + relief + alpha * f["incidence"] + delta * f["deflection"]
    low, _, high = bare_thin_aerofoil(f)
    load = f["dynamic_pressure"] * f["area"] * f["chord"]
    load = load * 4.0 * (1.0 + f["taper"] + f["taper"] ** 2) / (3.0 * (1.0 + f["taper"]) ** 2)
    return low, load * best, high


@pytest.mark.parametrize(
    ("solver", "bare"),
    [
        (ThinAerofoil(), bare_thin_aerofoil),
        (Handbook(), bare_handbook),
        (Plate(), bare_plate),
    ],
)
def test_a_million_evaluations_cost_at_most_twice_the_bare_expression(
    solver: ThinAerofoil | Handbook | Plate,
    bare: Callable[[dict[str, np.ndarray]], tuple[np.ndarray, ...]],
) -> None:
    every = fields(MILLION)
    made = solver(every)
    for line, expected in zip(("low", "best", "high"), bare(every), strict=True):
        np.testing.assert_allclose(made[line], expected, rtol=1e-9, atol=1e-12)
    what = f"a million evaluations of `{solver.name}`, times the bare expression"
    assert held(what, ratio(lambda: solver(every), lambda: bare(every)), 2.0)


def test_a_lattice_of_400_panels_costs_at_most_one_and_a_half_of_its_equations() -> None:
    whole = fields(61) | {name: np.asarray(value) for name, value in (TAIL | PLACE | PAIR).items()}
    whole["incidence"] = np.linspace(-0.2, 0.2, 21)[:, None]
    solver = Lattice()
    planform = trapezoid(half_span=0.4, root_chord=0.2, tip_chord=0.15, chord_ratio=0.3, sweep=0.1)
    panels = cut(planform, level(planform, lattice.LEVELS[-1]))
    own, other = (downwash(panels, mirrored=mirrored) for mirrored in (False, True))
    matrix = np.block([[own, other], [other, own]])
    print(f"{len(matrix)} panels")
    assert 350 < len(matrix) < 450
    both = np.tile(panels.deflected, 2)
    angles = np.stack(np.broadcast_arrays(whole["incidence"], whole["deflection"]), axis=-1)
    right = -np.stack([np.ones(len(both)), both], axis=-1) @ angles.reshape(-1, 2).T

    def ours() -> object:
        lattice._of_planform.cache_clear()  # noqa: SLF001 - a benchmark has to start afresh
        return solver(whole)

    def by_hand() -> object:
        return lu_solve(lu_factor(matrix), right)

    ours()
    what = "`lattice` of 400 panels, 61 x 21 angles, times its own equations in scipy"
    assert held(what, ratio(ours, by_hand, 21), 1.5)
