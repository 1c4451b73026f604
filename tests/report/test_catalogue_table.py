"""The list of a catalogue: every servo, every doubt, in 80 columns, and the same for programs."""

import json
from pathlib import Path

import pytest

from linkcalc.catalogue import catalogue_of, read_catalogue
from linkcalc.catalogue.plausibility import doubts
from linkcalc.cli import main
from linkcalc.report.catalogue_table import catalogue_document, catalogue_text

PARTS = str(Path(__file__).resolve().parents[2] / "examples/catalogue/parts.toml")


def test_text_names_every_servo_and_every_doubt_in_80_columns():
    found = read_catalogue(PARTS)
    doubtful = doubts(found.servos)
    text = catalogue_text(found, doubtful)
    assert max(map(len, text.splitlines())) <= 80
    assert all(f"\n  {servo.name} " in text for servo in found.servos)
    assert all(f"{doubt.part}: {doubt.found}" in text for doubt in doubtful)
    assert text.count("doubts\n") == 1


def test_a_figure_is_shown_in_the_units_of_its_column():
    # 10 kg·cm are 0.981 N·m, 60 degrees in 0.1 s are 600 deg/s.
    columns = {
        "servo": ["s", "s"],
        "source": ["x", "x"],
        "mass [oz]": [1, 1],
        "voltage [V]": [4.8, 6],
        "stall_torque [kg·cm]": [8, 10],
        "no_load_speed [s/60deg]": [0.12, 0.1],
    }
    text = catalogue_text(catalogue_of(name="c", servos=columns), [])
    assert " 28.3 g   0.981 N·m  600 deg/s  6.0 V        -\n" in text
    assert "No datasheet raises a doubt." in text


def test_an_empty_catalogue_has_no_parts():
    text = catalogue_text(catalogue_of(name="nothing"), [])
    assert "No parts." in text


def test_names_cannot_steer_a_terminal():
    name = "s\N{RIGHT-TO-LEFT OVERRIDE}t"
    with pytest.raises(ValueError, match="printable"):
        catalogue_of(name=name)


def test_command_prints_the_document_and_nothing_else(capsys):
    assert main(["catalogue", PARTS, "--json"]) == 0
    printed = json.loads(capsys.readouterr().out)
    found = read_catalogue(PARTS)
    assert printed == json.loads(json.dumps(catalogue_document(found, doubts(found.servos))))
    assert len(printed["servos"]) == len(found.servos)
    assert printed["servos"][0]["rows"][0]["voltage"] == {"value": 4.8, "unit": "V"}
    assert len(printed["doubts"]) >= 36


def test_command_tells_faults_with_exit_code_2(capsys, tmp_path):
    path = tmp_path / "parts.csv"
    path.write_text("servo,mass\n", encoding="utf-8")
    assert main(["catalogue", PARTS, str(path)]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert f"{path}: line 1" in said.err
    assert main(["catalogue", str(path), "--json"]) == 2
    assert json.loads(capsys.readouterr().out)["schema"] == "linkcalc.faults/1"
