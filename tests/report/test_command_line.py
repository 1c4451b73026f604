"""What the options of `linkcalc check` show, and how they refuse."""

import json
import os
import pty
import re
import subprocess
import sys
from pathlib import Path

import jsonschema
import pytest

from linkcalc.cli import main
from linkcalc.report.schema import document_schema
from linkcalc.report.text import CAUTION
from linkcalc.starter import STARTER

ROOT = Path(__file__).resolve().parents[2]
FAULTS = jsonschema.Draft202012Validator(document_schema("faults"))


@pytest.fixture(scope="module")
def plover(tmp_path_factory):
    path = tmp_path_factory.mktemp("aircraft") / "plover.toml"
    path.write_text(STARTER, encoding="utf-8")
    return str(path)


@pytest.fixture
def check(plover, capsys):
    def run(*options):
        code = main(["check", plover, *options])
        told = capsys.readouterr()
        return code, told.out, told.err

    return run


def test_brief_tells_verdict_summary_and_caution(check):
    code, out, err = check("--brief")
    assert (code, err) == (0, "")
    assert out.startswith("PASS: Plover survey glider")
    assert "aileron, starboard" in out
    assert "WHAT STOOD IN" not in out
    assert " ".join(out.split()).endswith(CAUTION)


def test_one_run_in_one_case_is_shown_with_the_verdict_of_the_whole(capsys):
    # The rudder passes, the aircraft does not.
    file = str(ROOT / "examples/sandpiper.toml")
    code = main(["check", file, "--run", "rudder", "--case", "survey line"])
    out = capsys.readouterr().out
    assert code == 1
    assert out.startswith("SHORT")
    assert "elevator" not in out
    assert "dive from the cloud edge" not in out
    assert "In 'survey line' the least margin is" in out


@pytest.mark.parametrize(
    ("option", "name", "nearest"),
    [
        ("--run", "elevater", "elevator"),
        ("--run", "AILERON, STARBOARD", "aileron, starboard"),
        ("--run", "zzz", None),
        ("--case", "dive", "dive out of the cloud base"),
    ],
)
def test_an_unknown_name_is_refused_with_the_nearest_that_is_known(option, name, nearest, check):
    code, out, err = check(option, name)
    assert (code, out) == (2, "")
    told = " ".join(err.split())
    assert f"{option} found '{name}'" in told
    assert re.search(r"Did you mean '[^']+'\?", told)
    if nearest:
        assert f"Did you mean '{nearest}'?" in told
    assert "Nothing was evaluated." in told


@pytest.mark.parametrize("option", [["--brief"], ["--run", "elevator"], ["--units", "metric"]])
def test_json_is_whole_or_refused(option, check):
    code, out, err = check("--json", *option)
    assert (code, err) == (2, "")
    FAULTS.validate(json.loads(out))


@pytest.mark.parametrize(
    ("units", "torque", "speed"),
    [
        (["--units", "metric"], "N·m", "m/s"),
        (["--units", "imperial"], "oz·in", "mph"),
        (["--units", "file"], "kg·cm", "km/h"),
        ([], "kg·cm", "km/h"),
    ],
)
def test_units_are_chosen_and_by_default_those_of_the_file(units, torque, speed, check):
    _, out, _ = check(*units)
    assert f"moving torque [{torque}]" in out
    assert f"placard speed [{speed}]" in out


def test_an_unknown_system_of_units_is_refused(plover, capsys):
    with pytest.raises(SystemExit) as caught:
        main(["check", plover, "--units", "furlongs"])
    assert caught.value.code == 2
    assert "metric" in capsys.readouterr().err


def on_terminal(file, **environment):
    """Run a brief check on a terminal and return what it shows."""
    ours, theirs = pty.openpty()
    command = [sys.executable, "-m", "linkcalc.cli", "check", file, "--brief"]
    inherited = {key: value for key, value in os.environ.items() if key != "NO_COLOR"}
    with subprocess.Popen(command, stdout=theirs, env=inherited | environment) as process:
        os.close(theirs)
        shown = b""
        while True:
            try:
                part = os.read(ours, 65536)
            except OSError:  # the other end is closed
                break
            if not part:
                break
            shown += part
    os.close(ours)
    assert process.returncode == 0
    return shown.decode().replace("\r\n", "\n")


def test_a_terminal_gets_bold_headings_and_no_color_none(plover, check):
    bold = on_terminal(plover, TERM="xterm")
    assert bold.startswith("\x1b[1mPASS: Plover survey glider (invented)\x1b[0m\n")
    plain = on_terminal(plover, TERM="xterm", NO_COLOR="1")
    assert "\x1b" not in plain
    assert re.sub("\x1b\\[[01]m", "", bold) == plain
    _, piped, _ = check("--brief")
    assert piped == plain


def test_a_terminal_that_knows_ascii_only_gets_units_that_can_be_read(plover):
    command = [sys.executable, "-m", "linkcalc.cli", "check", plover]
    environment = os.environ | {"PYTHONIOENCODING": "ascii"}
    done = subprocess.run(command, capture_output=True, check=False, env=environment)
    assert done.returncode == 0
    told = done.stdout.decode("ascii")
    assert "moving torque [kg*cm]" in told
    assert "kg?cm" not in told
