"""What would help, as a flyer reads it, as a program reads it, and from the command line."""

from __future__ import annotations

import io
import json
import sys

import pytest

from linkcalc import cli
from linkcalc.errors import Fault, InputFaults
from linkcalc.report.advice import advice_document, advice_text
from linkcalc.report.text import CAUTION
from linkcalc.study.remedies import Effect, Futile, Place, Remedies, Remedy, Shortfall, remedies

HERE = Place("elevator", "dive", "torque")
SAME = Effect(0.5, 0.5)


def remedy(**parts):
    plain = Remedy(
        "arm hole", "'elevator'", "12 mm", "9 mm", 0.75, 0.004, Effect(80.0, 60.0),
        Effect(0.9, 0.4), Effect(1.2, 0.9), (), (3, 2),
    )  # fmt: skip
    return plain._replace(**parts)


def futile(**parts):
    plain = Futile("lead length", "trunk 'port'", "1 m", "0.1 m", "0.1 m", -0.2, "")
    return plain._replace(**parts)


def found(*, helps=(), useless=(), unknown=()):
    return Remedies(
        "glider", (Shortfall(HERE, -0.25, tuple(helps), tuple(useless)),), tuple(unknown)
    )


def joined(answer):
    return " ".join(advice_text(answer).split())


def test_a_remedy_is_told_with_what_it_costs():
    words = joined(found(helps=[remedy()]))
    assert "elevator, in 'dive'" in words
    assert "torque is short: margin -0.25" in words
    assert "arm hole: 12 mm -> 9 mm (x 0.75), margin +0.004" in words
    assert "surface rate under load 80 -> 60 deg/s" in words
    assert "travel margin +0.90 -> +0.40" in words
    assert "surface angle per servo angle 1.2 -> 0.9" in words
    assert "2 of 3 margins still short" in words


def test_what_stays_the_same_is_not_told():
    words = joined(found(helps=[remedy(rate=SAME, travel=SAME, resolution=SAME)]))
    for name in ("surface rate", "travel margin", "servo angle"):
        assert name not in words


def test_losses_are_told_by_run_and_mode():
    losses = (
        (Place("elevator", "turn", "travel"), Effect(0.2, -0.1)),
        (Place("elevator", "line", "travel"), Effect(3.0, 1.0)),
        (Place("rudder", "dive", "voltage"), Effect(0.3, 0.1)),
        (Place("elevator", "dive", "travel"), Effect(0.9, 0.4)),
    )
    words = joined(found(helps=[remedy(losses=losses)]))
    assert "but travel +0.20 -> -0.10 in 'turn', +3.00 -> +1.00 in 'line'" in words
    assert "but voltage of 'rudder' +0.30 -> +0.10 in 'dive'" in words
    assert words.count("+0.90 -> +0.40") == 1  # the travel of the case itself is a cost


def test_many_losses_are_counted():
    losses = tuple(
        (Place(f"run {number}", "dive", "torque"), Effect(1.0, 0.1)) for number in range(9)
    )
    words = joined(found(helps=[remedy(losses=losses)]))
    assert "of 'run 3'" in words
    assert "of 'run 4'" not in words
    assert "but 5 more kinds of margin lose as well" in words


def test_a_place_is_named_where_the_heading_does_not_say_it():
    for place, label in (
        ("trunk 'port'", "lead length, trunk 'port': "),
        ("lead of 'elevator'", "lead length: "),
        ("'dive'", "lead length: "),
        ("'elevator' in 'dive'", "lead length: "),
        ("servo of 'elevator'", "lead length: "),
    ):
        assert label in joined(found(helps=[remedy(kind="lead length", place=place)]))


def test_a_mode_that_no_longer_applies_is_told():
    assert "it no longer applies" in joined(found(helps=[remedy(margin=None)]))


def test_what_does_not_help_is_told_with_its_bound():
    words = joined(
        found(
            useless=[
                futile(),
                futile(
                    kind="no-load speed",
                    place="servo of 'elevator'",
                    bound="5000 deg/s",
                    best="",
                    margin=None,
                ),
                futile(
                    kind="supply voltage", place="supply", bound="12 V", best="8.4 V", margin=-0.1
                ),
                futile(
                    kind="wire gauge",
                    place="lead of 'elevator'",
                    before="10 AWG",
                    bound="",
                    best="",
                    margin=None,
                ),
                futile(
                    kind="throw",
                    place="'elevator'",
                    bound="2 deg",
                    best="",
                    margin=None,
                    reason="no deflection",
                ),
            ]
        )
    )
    assert "no single change that was tried clears it" in words
    assert "does not clear it: lead length, trunk 'port' to 0.1 m (at best -0.20)" in words
    assert "no-load speed to 5000 deg/s (no better)" in words
    assert "supply voltage to 12 V (at best -0.10 at 8.4 V)" in words
    assert "wire gauge is at its end with 10 AWG" in words
    assert "throw to 2 deg (no better; there: no deflection)" in words


def test_both_directions_of_a_hole_are_told_as_one_and_not_where_one_of_them_helps():
    holes = [
        futile(kind="arm hole", place="'elevator'", bound=bound, best="", margin=None)
        for bound in ("4 mm", "36 mm")
    ]
    assert "arm hole to 4 mm or 36 mm (no better)" in joined(found(useless=holes))
    assert "arm hole to" not in joined(found(helps=[remedy()], useless=holes))


def test_what_cannot_be_computed_is_told_with_its_reason():
    words = joined(found(unknown=[(HERE, "no voltage satisfies the supply")]))
    assert "torque of 'elevator' in 'dive': no voltage satisfies the supply" in words


def test_text_has_80_columns_and_ends_with_the_caution():
    long = Place("r" * 120, "c" * 120, "torque")
    losses = ((long, Effect(1.0, -1.0)),)
    answer = found(
        helps=[remedy(losses=losses, before="x" * 60, after="y" * 60)], useless=[futile()] * 3
    )
    lines = advice_text(answer).splitlines()
    assert max(map(len, lines)) <= 80
    assert " ".join(advice_text(answer).split()).endswith(CAUTION)


def test_names_of_a_file_cannot_steer_the_terminal():
    evil = Remedies("glider\x1b[2J", (Shortfall(HERE._replace(run="a\x1b[2J"), -0.1, (), ()),), ())
    assert "\x1b" not in advice_text(evil)
    assert advice_text(evil, bold=True).startswith("\x1b[1m")


def test_the_document_has_everything_as_plain_values():
    losses = ((Place("rudder", "dive", "voltage"), Effect(0.3, None)),)
    answer = found(helps=[remedy(losses=losses)], useless=[futile()], unknown=[(HERE, "why")])
    tree = json.loads(json.dumps(advice_document(answer), allow_nan=False))
    assert tree["schema"] == "linkcalc.remedies/1"
    assert tree["verdict"] == "short"
    shortfall = tree["shortfalls"][0]
    assert [shortfall[name] for name in ("run", "case", "mode", "margin")] == [
        "elevator",
        "dive",
        "torque",
        -0.25,
    ]
    told = shortfall["remedies"][0]
    assert (told["before"], told["after"], told["factor"]) == ("12 mm", "9 mm", 0.75)
    assert told["rate"] == {"before": 80.0, "after": 60.0}
    assert told["short"] == {"before": 3, "after": 2}
    assert told["losses"] == [
        {"run": "rudder", "case": "dive", "mode": "voltage", "before": 0.3, "after": None}
    ]
    assert shortfall["futile"][0]["bound"] == "0.1 m"
    assert tree["unknown"] == [
        {"run": "elevator", "case": "dive", "mode": "torque", "reason": "why"}
    ]


def test_the_document_of_a_sound_aircraft_says_pass():
    assert advice_document(Remedies("glider", (), ()))["verdict"] == "pass"
    assert "nothing needs help" in advice_text(Remedies("glider", (), ()))


# the command line ---------------------------------------------------------------------------

FILE = """
format = "linkcalc.aircraft/1"
name = "invented glider"
supply = {{ voltage = "6 V", current_limit = "none" }}

[servos.tail]
rows = [{{ voltage = "6 V", stall_torque = "3 kg·cm", no_load_speed = "0.12 s/60deg", stall_current = "1 A" }}]

[[cases]]
name = "turn"
kind = "manoeuvre"
speed = "{speed}"

[[runs]]
name = "rudder"
servo = "tail"
linkages = [{{ arm = "10 mm", horn = "14 mm", joint_rating = "{rating}", surface = {{ span = "200 mm", chord = "50 mm", throw = "20 deg" }} }}]
"""


@pytest.fixture
def file(tmp_path):
    def write(speed="15 m/s", rating="20 N"):
        path = tmp_path / "aircraft.toml"
        path.write_text(FILE.format(speed=speed, rating=rating), encoding="utf-8")
        return str(path)

    return write


def test_the_command_tells_what_would_help_and_says_short(file, capsys):
    assert cli.main(["remedy", file(rating="4 N")]) == 1
    told = capsys.readouterr()
    assert "joint rating: 4 N -> " in told.out
    assert told.err == ""


def test_the_document_of_the_command_is_that_of_the_library(file, capsys):
    path = file(rating="4 N")
    assert cli.main(["remedy", path, "--json", "--run", "rudder", "--case", "turn"]) == 1
    told = capsys.readouterr()
    assert json.loads(told.out) == json.loads(json.dumps(advice_document(remedies(path))))


def test_the_command_says_pass_where_nothing_is_short(file, capsys):
    assert cli.main(["remedy", file()]) == 0
    assert "NOTHING IS SHORT" in capsys.readouterr().out


@pytest.mark.parametrize("option", ["--run", "--case"])
def test_the_command_refuses_an_unknown_name_with_the_nearest(file, capsys, option):
    assert cli.main(["remedy", file(), option, "ruder"]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert f"Did you mean {'rudder' if option == '--run' else 'turn'!r}?" in told.err
    assert cli.main(["remedy", file(), option, "ruder", "--json"]) == 2
    assert json.loads(capsys.readouterr().out)["schema"] == "linkcalc.faults/1"


def test_the_command_refuses_a_file_that_cannot_be_used(tmp_path, capsys):
    assert cli.main(["remedy", str(tmp_path / "none.toml")]) == 2
    assert "no such file" in capsys.readouterr().err


class Terminal(io.StringIO):
    encoding = "utf-8"

    def isatty(self):
        return True


def test_a_terminal_sees_shortfalls_counted_and_the_count_taken_away(file, monkeypatch, capsys):
    monkeypatch.setattr(sys, "stderr", terminal := Terminal())
    assert cli.main(["remedy", file(rating="4 N")]) == 1
    assert terminal.getvalue() == "\rshortfall 1 of 1 \rshortfall 1 of 1 \r\x1b[K"
    assert "joint rating" in capsys.readouterr().out


def test_an_interruption_leaves_a_clean_line_and_the_usual_exit_code(file, monkeypatch):
    def interrupted(*_, progress, **__):
        progress(0, 3)
        raise KeyboardInterrupt

    monkeypatch.setattr("linkcalc.study.remedies.remedies", interrupted)
    monkeypatch.setattr(sys, "stderr", terminal := Terminal())
    assert cli.main(["remedy", file()]) == 130
    assert terminal.getvalue() == "\rshortfall 1 of 3 \r\x1b[K"


def test_a_fault_is_told_after_the_count_is_taken_away(file, monkeypatch):
    def refused(*_, progress, **__):
        progress(0, 3)
        raise InputFaults([Fault("", "somewhere", "this", "that", "Mend it.")])

    monkeypatch.setattr("linkcalc.study.remedies.remedies", refused)
    monkeypatch.setattr(sys, "stderr", terminal := Terminal())
    assert cli.main(["remedy", file()]) == 2
    count, _, words = terminal.getvalue().partition("\r\x1b[K")
    assert count == "\rshortfall 1 of 3 "
    assert "Mend it." in words
