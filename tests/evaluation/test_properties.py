"""What must hold for any aircraft, whatever its figures."""

import math
from dataclasses import replace

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

import linkcalc
from tests.evaluation.described import SI, WORKSHOP, aircraft, described, floats
from tests.evaluation.independent import Lead

COMPUTED = ("torque", "travel", "voltage", "over-voltage", "current")
SOME = settings(max_examples=6)
PRECISE = 2e-6  # twice what the search for the governing deflection promises


@pytest.fixture(scope="module")
def check(tmp_path_factory):
    folder = tmp_path_factory.mktemp("properties")

    def checked(made, units=SI):
        path = folder / "aircraft.toml"
        path.write_text(described(made, units), encoding="utf-8")
        return linkcalc.check(path)

    return checked


def margins(report, run=0, case=0, *, plain=False, modes=COMPUTED):
    """Available over required, or None; a margin near zero has no relative error."""
    found = [report.runs[run].cases[case].margin(mode) for mode in modes]
    numbers = [margin.plain if plain else margin.margin for margin in found]
    return [None if number is None else number + 1 for number in numbers]


def alike(first, second, relative=PRECISE):
    for one, other in zip(first, second, strict=True):
        assert (one is None) == (other is None)
        assert one is None or one == pytest.approx(other, rel=relative)


@SOME
@given(made=aircraft(most_cases=2))
def test_a_file_in_other_units_gives_the_same_margins(check, made):
    first, second = check(made), check(made, WORKSHOP)
    for run in range(len(made.runs)):
        for case in range(len(made.cases)):
            alike(margins(first, run, case), margins(second, run, case))
            alike(margins(first, run, case, plain=True), margins(second, run, case, plain=True))


def reflected(vector, axis):
    return tuple(-x if k == axis else x for k, x in enumerate(vector))


def mirror(made):
    """Turn an aircraft upside down, or a fin port for starboard: every deflection changes sign."""
    linkage = made.runs[0].linkages[0]
    axis = 1 if linkage.hinge_axis[1] == 0.0 else 2  # of the mirror: hinge lines keep their sense
    moved = []
    for linkage in made.runs[0].linkages:
        surface = linkage.surface
        moved.append(
            replace(
                linkage,
                servo_pivot=reflected(linkage.servo_pivot, axis),
                servo_axis=reflected(linkage.servo_axis, axis),
                arm=reflected(linkage.arm, axis),
                hinge_pivot=reflected(linkage.hinge_pivot, axis),
                hinge_axis=reflected(linkage.hinge_axis, axis),
                horn=reflected(linkage.horn, axis),
                surface=replace(
                    surface,
                    up=surface.down,
                    down=surface.up,
                    C_h0=-surface.C_h0,
                    axis=reflected(surface.axis, axis),
                ),
            )
        )
    cases = [
        replace(
            case,
            incidence=-case.incidence if axis == 2 else case.incidence,
            sideslip=-case.sideslip if axis == 1 else case.sideslip,
            load_factor=reflected(case.load_factor, axis),
            ranges=[(-high + 0.0, -low + 0.0) for low, high in case.ranges],
        )
        for case in made.cases
    ]
    return replace(made, runs=[replace(made.runs[0], linkages=moved)], cases=cases)


@SOME
@given(made=aircraft(most_runs=1))
def test_a_mirrored_aircraft_has_the_same_margins(check, made):
    upright = {linkage.hinge_axis[1] == 0.0 for linkage in made.runs[0].linkages}
    assume(len(upright) == 1)  # a fin and a level surface have no mirror in common
    first, second = check(made), check(mirror(made))
    alike(margins(first), margins(second))
    alike(margins(first, plain=True), margins(second, plain=True))
    one, other = (
        report.runs[0].cases[0].values["hinge moment"].value for report in (first, second)
    )
    assert abs(one or 0.0) == pytest.approx(abs(other or 0.0), rel=1e-2, abs=1e-9)


@SOME
@given(made=aircraft(most_runs=3))
def test_the_order_of_the_runs_does_not_matter(check, made):
    count = len(made.runs)
    turned = replace(
        made,
        runs=made.runs[::-1],
        cases=[
            replace(
                case,
                ranges=case.ranges[::-1],
                wash={count - 1 - run: speed for run, speed in case.wash.items()},
            )
            for case in made.cases
        ],
    )
    first, second = check(made), check(turned)
    for run in range(count):
        alike(margins(first, run), margins(second, count - 1 - run))


@SOME
@given(made=aircraft(most_cases=3))
def test_a_case_alone_gives_what_it_gives_among_others(check, made):
    together = check(made)
    for number, case in enumerate(made.cases):
        alone = check(replace(made, cases=[case]))
        for run in range(len(made.runs)):
            # The search stops when all of its cases are good enough: not to the last digit.
            alike(margins(together, run, number), margins(alone, run, 0), 1e-6)


@SOME
@given(made=aircraft(most_runs=1), more=floats(0.001, 0.5))
def test_a_thinner_lead_never_raises_the_torque_margin_of_a_single_servo(check, made, more):
    run = made.runs[0]
    thick = run.lead or Lead(0.0)
    # What shares the lead would stay behind on the thick one, and relieve the servo.
    assume(thick not in [made.receiver_lead, *(lead for _, lead in made.loads)])
    thin = Lead(thick.resistance + more, thick.feed)
    results = [
        margins(check(replace(made, runs=[replace(run, lead=lead)])))[0] for lead in (thick, thin)
    ]
    assume(results[0] is not None)
    assert results[1] is None or results[1] <= results[0] * (1 + 1e-9)


@SOME
@given(
    made=aircraft(most_runs=1),
    name=st.sampled_from(["torque", "datasheet", "current", "voltage", "over_voltage", "travel"]),
    more=floats(1.01, 2.0),
)
def test_a_greater_factor_lowers_its_margin_in_proportion(check, made, name, more):
    factors = replace(made.factors, **{name: getattr(made.factors, name) * more})
    first, second = margins(check(made)), margins(check(replace(made, factors=factors)))
    # The datasheet factor divides the stall torque of the one servo, at an unchanged stall current.
    changed = {"datasheet": "torque", "over_voltage": "over-voltage"}.get(name, name)
    index = COMPUTED.index(changed)
    alike([first[index]], [None if second[index] is None else second[index] * more])
    if name != "datasheet":  # with that one, a servo at work draws more
        alike(first[:index] + first[index + 1 :], second[:index] + second[index + 1 :])


@SOME
@given(made=aircraft(), more=floats(1.01, 2.0))
def test_plain_margins_know_no_factor(check, made, more):
    factors = {name: value * more for name, value in vars(made.factors).items()}
    raised = replace(made, factors=replace(made.factors, **factors))
    first, second = check(made), check(raised)
    for run in range(len(made.runs)):
        alike(margins(first, run, plain=True), margins(second, run, plain=True), 1e-12)


@SOME
@given(made=aircraft(most_runs=1), scale=floats(1.1, 3.0))
def test_lengths_of_arms_and_rod_scale_without_effect_on_torque(check, made, scale):
    def larger(vector):
        return tuple(scale * x for x in vector)

    moved = [
        replace(
            linkage,
            arm=larger(linkage.arm),
            hinge_pivot=larger(linkage.hinge_pivot),
            horn=larger(linkage.horn),
            rod=None if linkage.rod is None else scale * linkage.rod,
        )
        for linkage in made.runs[0].linkages
    ]
    second = check(replace(made, runs=[replace(made.runs[0], linkages=moved)]))
    first = check(made)
    alike(margins(first), margins(second))
    forces = [r.runs[0].cases[0].values["rod force"].value for r in (first, second)]
    assert (forces[0] is None) == (forces[1] is None)
    assert forces[0] is None or forces[0] == pytest.approx(scale * forces[1], rel=1e-5, abs=1e-9)


@SOME
@given(made=aircraft(most_runs=1), faster=floats(1.05, 2.0))
def test_more_speed_never_raises_the_torque_margin_of_a_light_surface(check, made, faster):
    light = [
        replace(linkage, surface=replace(linkage.surface, mass=0.0))
        for linkage in made.runs[0].linkages
    ]
    made = replace(
        made,
        runs=[replace(made.runs[0], linkages=light)],
        cases=[replace(case, wash={}) for case in made.cases],
    )
    # beyond a Reynolds number of 3e5 in every case: below, the band narrows with the speed
    chord = min(linkage.surface.chord for linkage in light)
    thinnest = min(case.density for case in made.cases)
    least = 3e5 * 2e-5 / (chord * thinnest)
    made = replace(made, cases=[replace(case, speed=max(case.speed, least)) for case in made.cases])
    fast = replace(made, cases=[replace(case, speed=case.speed * faster) for case in made.cases])
    assume(all(case.speed < 200.0 for case in fast.cases))  # from Mach 0.7 on none is given
    slow_margin, fast_margin = margins(check(made))[0], margins(check(fast))[0]
    assume(slow_margin is not None)
    # Without weight all loads go with the square of the speed, and what is available stands.
    assert fast_margin == pytest.approx(slow_margin / faster**2, rel=PRECISE)
    assert math.isfinite(fast_margin)
