"""Start-up of all servos at once, and who browns out: dividers by hand."""

import pytest

import linkcalc

FILE = """
format = "linkcalc.aircraft/1"
name = "invented glider that is switched on"
receiver = {{ current = "0 A", minimum_voltage = "3.5 V" }}
[supply]
voltage = "6 V"
internal_resistance = "{inside}"
current_limit = "{limit}"
{more}
[servos.s]
rows = [{{ voltage = "6 V", stall_torque = "500 mNm", no_load_speed = "8 rad/s", stall_current = "2 A", no_load_current = "0.2 A" }}]
minimum_voltage = "3 V"
[leads.l]
loop_resistance = "0.5 ohm"
[[cases]]
name = "turn"
kind = "manoeuvre"
speed = "10 m/s"
[[runs]]
name = "pair"
servo = "s"
servo_count = 2
lead = "l"
arm = "10 mm"
horn = "14 mm"
pushrod = "100 mm"
surface = {{ span = "400 mm", chord = "45 mm", throw = "20 deg" }}
"""


@pytest.fixture
def report(tmp_path):
    def of(more="inrush_multiple = 2.5", inside="0.1 ohm", limit="none", dead=0):
        path = tmp_path / "start.toml"
        text = FILE.format(more=more, inside=inside, limit=limit)
        if dead:
            asked = f'runs = [{{ run = "pair", dead_servos = {dead} }}]'
            text = text.replace('speed = "10', f'{asked}\nspeed = "10')
        path.write_text(text, encoding="utf-8")
        return linkcalc.check(path)

    return of


def values(made):
    return {name: value.value for name, value in made.aircraft_cases[0].values.items()}


# A stalled servo is 3 ohm below its only row; with 2.5 times the current it is 1.2 ohm. Each of
# the two hangs on half an ohm of its own, and both on the source.
def divider(servo, count, inside=0.1):
    bus = 6 / (1 + inside * count / (0.5 + servo))
    return {"receiver": bus, "servo": bus * servo / (0.5 + servo), "source": (6 - bus) / inside}


@pytest.mark.parametrize(("dead", "count"), [(0, 2), (1, 1)])
def test_a_start_is_a_divider_with_the_multiple_of_the_stall_current(report, dead, count):
    found = values(report(dead=dead))
    for state, servo in (("inrush", 1.2), ("all stalled", 3.0)):
        hand = divider(servo, count)
        assert found[f"receiver voltage, {state}"] == pytest.approx(hand["receiver"], rel=1e-9)
        assert found[f"least servo voltage, {state}"] == pytest.approx(hand["servo"], rel=1e-9)
        assert found[f"source current, {state}"] == pytest.approx(hand["source"], rel=1e-8)


def test_without_a_multiple_nothing_is_told_of_a_start(report):
    made = report(more="")
    assert not any("inrush" in name for name in values(made))
    assert not any("start of all" in note for note in made.notes)


def test_who_browns_out_at_a_start_is_told_and_the_verdict_is_left_alone(report):
    # 0.9 ohm inside: a start leaves the receiver 2.91 V and the servos 2.05 V; stalled 3.96 and 3.40 V.
    made, calm = report(inside="0.9 ohm"), report(more="", inside="0.9 ohm")
    hand = divider(1.2, 2, 0.9)
    told = [note for note in made.notes if "2.5 x their stall current" in note]
    assert [note.split(" ")[0:2] for note in told] == [["the", "receiver"], ["'pair'", "goes"]]
    assert f"{hand['receiver']:.3g} V arrive, 3.5 V" in told[0]
    assert f"{hand['servo']:.3g} V arrive, 3 V" in told[1]
    assert made.verdict == calm.verdict
    assert made.runs == calm.runs
    assert not any("stalled at once" in note for note in made.notes)


def test_a_current_limit_holds_at_a_start_too(report):
    # Three amperes shared by two servos of 1.2 ohm, and half an ohm before each.
    found = values(report(limit="3 A"))
    assert found["source current, inrush"] == pytest.approx(3.0, rel=1e-6)
    assert found["receiver voltage, inrush"] == pytest.approx(1.5 * 1.7, rel=1e-6)


def test_a_receiver_that_browns_out_with_all_stalled_is_told(report):
    made = report(more="", inside="1.5 ohm")
    hand = divider(3.0, 2, 1.5)
    assert hand["receiver"] < 3.5
    assert any("the receiver browns out with all servos stalled" in note for note in made.notes)
