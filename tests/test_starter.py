"""The starter file: it checks as it stands, never replaces a file, is never half there."""

import os
import resource
import stat
import subprocess
import sys
import tomllib

import pytest

import linkcalc
from linkcalc import starter
from linkcalc.cli import main
from linkcalc.starter import STARTER, write_starter


def run(*arguments, **more):
    command = [sys.executable, "-m", "linkcalc.cli", *map(str, arguments)]
    return subprocess.run(
        command, capture_output=True, text=True, check=False, encoding="utf-8", **more
    )


@pytest.fixture
def target(tmp_path):
    return tmp_path / "glider.toml"


def test_new_writes_a_file_that_checks_and_passes_as_it_stands(target):
    done = run("new", target)
    assert (done.returncode, done.stderr) == (0, "")
    assert "linkcalc check" in done.stdout
    assert run("check", target).returncode == 0
    assert linkcalc.check(target).verdict == "pass"


def test_starter_is_short_commented_and_says_that_it_is_invented():
    lines = STARTER.splitlines()
    content = [line for line in lines if line.strip() and not line.lstrip().startswith("#")]
    assert 25 <= len(content) <= 45
    assert sum("#" in line for line in lines) >= 12
    assert "invented" in STARTER.partition("format")[0]
    assert {case["kind"] for case in tomllib.loads(STARTER)["cases"]} == {"manoeuvre", "dive"}


def test_starter_turn_has_the_dynamic_pressure_worked_by_hand(target):
    # 90 km/h are 25 m/s; at sea level 1.225 kg/m^3 / 2 x 625 m^2/s^2 = 382.8 Pa.
    write_starter(target)
    value = linkcalc.check(target).runs[0].cases[0].values["dynamic pressure"]
    assert value.value == pytest.approx(382.8, abs=0.05)


def test_file_is_readable_as_the_users_other_files_are(target):
    old = os.umask(0o027)
    try:
        write_starter(target)
    finally:
        os.umask(old)
    assert stat.S_IMODE(target.stat().st_mode) == 0o640


def test_new_never_replaces_a_file(target):
    target.write_text("mine", encoding="utf-8")
    done = run("new", target)
    assert (done.returncode, done.stdout) == (2, "")
    assert "Nothing was written" in done.stderr
    assert "name that is free" in done.stderr
    assert target.read_text(encoding="utf-8") == "mine"
    assert list(target.parent.iterdir()) == [target]


def test_new_never_writes_through_a_link(target):
    target.symlink_to(target.with_name("elsewhere.toml"))
    assert main(["new", str(target)]) == 2
    assert not target.exists()
    assert list(target.parent.iterdir()) == [target]


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("no_such_folder/glider.toml", "no such file or directory"),
        ("file.txt/glider.toml", "not a directory"),
        ("glider", "without .toml"),
        ("glider.TOML.bak", "without .toml"),
        ("x" * 300 + ".toml", "file name too long"),
    ],
)
def test_a_place_that_cannot_be_written_is_told_and_nothing_is_left(name, words, tmp_path, capsys):
    (tmp_path / "file.txt").write_text("", encoding="utf-8")
    assert main(["new", str(tmp_path / name)]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert words in " ".join(told.err.split()).lower()
    assert [path.name for path in tmp_path.iterdir()] == ["file.txt"]


def test_a_name_that_no_file_can_have_is_refused(tmp_path):
    with pytest.raises(linkcalc.InputFaults, match="a name that no file can have"):
        write_starter(tmp_path / "gli\0der.toml")
    assert list(tmp_path.iterdir()) == []


def _hundred_bytes():
    resource.setrlimit(resource.RLIMIT_FSIZE, (100, 100))


def test_a_full_disk_leaves_nothing_behind(target):
    # The system lets this process write no more than 100 bytes into a file.
    done = run("new", target, preexec_fn=_hundred_bytes)
    assert done.returncode == 2
    assert "file too large" in done.stderr
    assert list(target.parent.iterdir()) == []


def _no_links(*_):
    raise PermissionError(1, "Operation not permitted")


def test_a_file_system_without_hard_links_will_do(target, monkeypatch):
    monkeypatch.setattr(starter.os, "link", _no_links)
    write_starter(target)
    assert target.read_text(encoding="utf-8") == STARTER
    assert list(target.parent.iterdir()) == [target]


def test_without_hard_links_a_file_is_not_replaced_either(target, monkeypatch):
    monkeypatch.setattr(starter.os, "link", _no_links)
    target.write_text("mine", encoding="utf-8")
    with pytest.raises(linkcalc.InputFaults, match="a name that is free"):
        write_starter(target)
    assert target.read_text(encoding="utf-8") == "mine"
    assert list(target.parent.iterdir()) == [target]


def test_the_dive_that_the_starter_has_in_comments_can_be_followed(tmp_path):
    begin, end = STARTER.index("# [airframe]"), STARTER.index("[[runs]] ")
    dive = STARTER[begin:end].replace("\n# ", "\n").removeprefix("# ")
    path = tmp_path / "mine.toml"
    path.write_text(STARTER[:begin] + dive + STARTER[end:], encoding="utf-8")
    report = linkcalc.check(path)
    assert report.aircraft_cases[-1].name == "out of a stall"
    assert report.aircraft_cases[-1].values["recovers"].value == 1
