"""Pushrods beside a hand-written loop over blocks and beside the plain expression.

    python -m pytest tests/benchmarks/test_pushrod.py

CPU time of one thread, on a quiet machine. The loop spells the same closure out in components
and works in blocks of its own best size; it checks nothing: no dead centre on the way, no joint
on its axis, no reason. The plain expression is what one writes down first: cosine, sine and arc
tangents of whole arrays, or whole columns of vectors.
"""

import time
import tracemalloc

import numpy as np
import pytest

from linkcalc.mechanism import pushrod
from tests.benchmarks.figures import held

COUNT = 1_000_000
NAMES = ("servo_pivot", "servo_axis", "arm", "hinge_pivot", "hinge_axis", "horn")
NOMINAL = {
    "servo_pivot": (0.0, 0.0, 0.0),
    "servo_axis": (0.0, 1.0, 0.0),
    "arm": (0.0, 0.0, 0.015),
    "hinge_pivot": (0.12, 0.025, -0.005),
    "hinge_axis": (0.258819, 0.965926, 0.0),
    "horn": (0.0, 0.0, 0.020),
}
BLOCKED, PLAIN, MEMORY = 1.15, 0.6, 16 * 2**20


@pytest.fixture(scope="module")
def angles():
    return np.random.default_rng(1).uniform(-0.8, 0.8, COUNT)


@pytest.fixture(scope="module")
def geometries():
    """Everything scattered as by a builder's tolerances: a third of a millimetre, a degree."""
    random = np.random.default_rng(2)
    return {
        name: value + random.normal(0.0, 0.02 if "axis" in name else 3e-4, (COUNT, 3))
        for name, value in NOMINAL.items()
    }


def dot(first, second):
    return first[0] * second[0] + first[1] * second[1] + first[2] * second[2]


def cross(first, second):
    return (
        first[1] * second[2] - first[2] * second[1],
        first[2] * second[0] - first[0] * second[2],
        first[0] * second[1] - first[1] * second[0],
    )


def dissected(servo_pivot, servo_axis, arm, hinge_pivot, hinge_axis, horn):
    """Centre, spoke and sideways of the arm; crank and path of the horn; length of the rod."""
    size = 1.0 / np.sqrt(dot(servo_axis, servo_axis))
    servo_axis = tuple(part * size for part in servo_axis)
    size = 1.0 / np.sqrt(dot(hinge_axis, hinge_axis))
    hinge_axis = tuple(part * size for part in hinge_axis)
    along, above = dot(servo_axis, arm), dot(hinge_axis, horn)
    lift = tuple(part * along for part in servo_axis)
    centre = tuple(s - h + x for s, h, x in zip(servo_pivot, hinge_pivot, lift, strict=True))
    spoke = tuple(a - x for a, x in zip(arm, lift, strict=True))
    crank = tuple(q - w * above for q, w in zip(horn, hinge_axis, strict=True))
    line = tuple(c + s - q for c, s, q in zip(centre, spoke, horn, strict=True))
    return (
        centre, spoke, cross(servo_axis, arm), crank, cross(hinge_axis, horn),
        np.sqrt(dot(line, line)),
    )  # fmt: skip


def weights(pieces):
    """N, B and G as quadratics in the half-angle tangent, and the length of the rod."""
    centre, spoke, sideways, crank, path, length = dissected(*pieces)
    away = tuple(c - q for c, q in zip(centre, pieces[5], strict=True))
    n1, n2 = 2.0 * dot(sideways, away), -2.0 * dot(spoke, away)
    kb, pb = dot(centre, path), dot(spoke, path)
    ka, pa = dot(centre, crank), dot(spoke, crank)
    return (
        (0.0, n1, n2),
        (kb + pb, 2.0 * dot(sideways, path), kb - pb),
        (2.0 * (ka + pa), 4.0 * dot(sideways, crank) + n1, 2.0 * (ka - pa) + n2),
        length,
    )


def by_hand(t, loop):
    """Surface angle, slope and force from half-angle tangents."""
    (n0, n1, n2), (b0, b1, b2), (g0, g1, g2), length = loop
    n, b, g = (n2 * t + n1) * t + n0, (b2 * t + b1) * t + b0, (g2 * t + g1) * t + g0
    root = np.copysign(np.sqrt(b * b - n * g), b0)
    v = n / (b + root)
    lever = (1.0 + t * t) / root
    rate = (2.0 * n2 * t + n1) + v * ((2.0 * g2 * t + g1) * v - 2.0 * (2.0 * b2 * t + b1))
    return 2.0 * np.arctan(v), rate * lever / (2.0 * (1.0 + v * v)), -length * lever


def loop_over_angles(angles, pieces, block):
    out, loop = np.empty((3, COUNT)), weights(pieces)
    for start in range(0, COUNT, block):
        part = slice(start, start + block)
        out[:, part] = by_hand(np.tan(0.5 * angles[part]), loop)
    return out


def loop_over_geometries(angle, vectors, block):
    out, tangent = np.empty((3, COUNT)), np.tan(0.5 * angle)
    for start in range(0, COUNT, block):
        part = slice(start, start + block)
        pieces = [
            tuple(np.ascontiguousarray(vector[part, axis]) for axis in range(3))
            for vector in vectors
        ]
        out[:, part] = by_hand(tangent, weights(pieces))
    return out


def plain(angle, pieces):
    """One expression after the other, in cosines, sines and arc tangents of two arguments."""
    centre, spoke, sideways, crank, path, length = dissected(*pieces)
    away = tuple(c - q for c, q in zip(centre, pieces[5], strict=True))
    cosine, sine = np.cos(angle), np.sin(angle)
    ka, pa, ra = (dot(part, crank) for part in (centre, spoke, sideways))
    kb, pb, rb = (dot(part, path) for part in (centre, spoke, sideways))
    pn, rn = dot(spoke, away), dot(sideways, away)
    a, a1 = ka + pa * cosine + ra * sine, ra * cosine - pa * sine
    b, b1 = kb + pb * cosine + rb * sine, rb * cosine - pb * sine
    c, c1 = a + pn * (cosine - 1.0) + rn * sine, a1 + rn * cosine - pn * sine
    root = np.copysign(np.sqrt(b * b + (a - c) * (a + c)), b)
    surface = np.arctan2(b, a) - np.arctan2(root, c)
    rate = ((a1 * a + b1 * b) * c + (a1 * b - b1 * a) * root) / (a * a + b * b) - c1
    return surface, -rate / root, -length / root


def cpu(function, rounds=7):
    """Least CPU time of some rounds."""
    times = []
    for _ in range(rounds):
        start = time.process_time()
        function()
        times.append(time.process_time() - start)
    return min(times)


def beside(ours, *others):
    """Ratios of CPU time to others, taken in turn; the least of three of each."""
    taken = [[cpu(function, 3) for function in (ours, *others)] for _ in range(3)]
    own, *rest = np.min(taken, axis=0)
    return [own / other for other in rest]


def components(vectors):
    return [tuple(np.moveaxis(np.asarray(vector), -1, 0)) for vector in vectors]


def ways_over_angles(angles):
    vectors = [np.array(NOMINAL[name]) for name in NAMES]
    pieces = components(vectors)
    block = min(
        (2**k for k in range(12, 17)),
        key=lambda b: cpu(lambda: loop_over_angles(angles, pieces, b), 2),
    )
    return (
        lambda: pushrod.solve(angles, **NOMINAL),
        lambda: loop_over_angles(angles, pieces, block),
        lambda: plain(angles, pieces),
    )


def ways_over_geometries(geometries, angle=0.6):
    vectors = [geometries[name] for name in NAMES]
    block = min(
        (2**k for k in range(11, 15)),
        key=lambda b: cpu(lambda: loop_over_geometries(angle, vectors, b), 2),
    )
    return (
        lambda: pushrod.solve(angle, **geometries),
        lambda: loop_over_geometries(angle, vectors, block),
        lambda: plain(angle, components(vectors)),
    )


@pytest.fixture(scope="module", params=["angles", "geometries"])
def ways(request):
    given = request.getfixturevalue(request.param)
    make = {"angles": ways_over_angles, "geometries": ways_over_geometries}[request.param]
    return f"spatial pushrod, a million {request.param}", make(given)


def test_all_three_agree(ways):
    ours, blocked, expression = (np.stack(way()[:3]) for way in ways[1])
    scale = 1.0 + np.abs(ours)
    assert (np.abs(blocked - ours) < 1e-12 * scale).all()
    assert (np.abs(expression - ours) < 1e-9 * scale).all()


def test_kernel_keeps_up_with_loop_and_plain_expression(ways):
    name, all_three = ways
    to_blocked, to_plain = beside(*all_three)
    print(f"{to_blocked:.2f} x the blocked loop, {to_plain:.2f} x the plain expression")
    kept_up = held(f"{name}, times a blocked loop by hand", to_blocked, BLOCKED)
    assert held(f"{name}, times the plain expression", to_plain, PLAIN)
    assert kept_up


def test_memory_beyond_inputs_and_outputs_is_small(ways):
    name, (ours, *_) = ways
    tracemalloc.start()
    answer = ours()
    peak = tracemalloc.get_traced_memory()[1] - sum(field.nbytes for field in answer)
    tracemalloc.stop()
    print(f"{peak / 2**20:.1f} MiB")
    assert held(f"{name}, memory over results", peak / 2**20, MEMORY / 2**20, "MiB")


def traced(function):
    """What a function returns, and the peak of memory on the way beyond what is kept [byte]."""
    tracemalloc.start()
    answer = function()
    kept, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    return answer, peak - kept


def test_memory_of_pushrods_made_ready_is_small(geometries):
    ready, to_make = traced(lambda: pushrod.prepare(**geometries))
    asked = {
        "solve": lambda: ready.solve(0.6),
        "invert": lambda: ready.invert(0.3),
        "solve with dead centres": lambda: pushrod.solve(
            np.linspace(-0.5, 0.5, 10)[:, None],
            **{name: value[: COUNT // 10] for name, value in geometries.items()},
        ),
    }
    peaks = {"prepare": to_make} | {name: traced(way)[1] for name, way in asked.items()}
    print(", ".join(f"{name} {peak / 2**20:.1f} MiB" for name, peak in peaks.items()))
    what = "a million pushrods made ready, memory over results"
    assert held(what, max(peaks.values()) / 2**20, MEMORY / 2**20, "MiB")


@pytest.mark.benchmark(group="million", timer=time.process_time, warmup=True, min_rounds=5)
@pytest.mark.parametrize("which", [0, 1, 2], ids=["kernel", "blocked loop", "plain expression"])
def test_million(benchmark, ways, which):
    benchmark(ways[1][which])


@pytest.mark.benchmark(group="small", timer=time.process_time)
@pytest.mark.parametrize("method", ["solve", "invert"])
def test_six_runs_of_61_angles(benchmark, method):
    horn = np.linspace(0.015, 0.025, 6)[:, None, None] * np.array([0.0, 0.0, 1.0])
    ready = pushrod.prepare(**(NOMINAL | {"horn": horn}))
    angle = np.linspace(-0.4, 0.4, 366).reshape(6, 61)
    benchmark(getattr(ready, method), angle)
