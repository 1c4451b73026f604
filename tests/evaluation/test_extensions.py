"""Extensions and connections of a lead: resistances in series, by hand on one servo."""

import pytest

import linkcalc
from linkcalc.errors import InputFaults
from linkcalc.files import read_aircraft
from linkcalc.model.supply import Connection
from linkcalc.physics.conductors import CONTACTS
from linkcalc.study.drops import voltage_drops
from tests.evaluation.test_supply_fields import FILE, LOOP, WIRE, alone, at_limit

SOURCE = 'voltage = "6 V"\ninternal_resistance = "0 ohm"'


@pytest.fixture
def path(tmp_path):
    def of(lead):
        file = tmp_path / "pieces.toml"
        file.write_text(FILE.format(supply=SOURCE, lead=lead), encoding="utf-8")
        return file

    return of


def volts(path, lead):
    return at_limit(linkcalc.check(path(lead)))


def test_extensions_are_resistances_in_series(path):
    # Half a metre of 0.5 mm^2 is 34.482 mohm out and back; a metre of 0.25 mm^2 with a return of
    # 1 mm^2 is 68.964 and 17.241 (copper at 20 degC: 17.241 mohm mm^2/m, NBS Handbook 100).
    lead = WIRE + (
        'extensions = [{ gauge = "0.5 mm^2", length = "0.5 m" }, '
        '{ gauge = "0.25 mm^2", return_gauge = "1 mm^2", length = "1 m" }]'
    )
    ohms = LOOP + 0.034482 + 0.068964 + 0.017241
    assert volts(path, lead) == pytest.approx(alone(6.0, ohms), rel=1e-6)


def test_a_measured_lead_may_have_an_extension(path):
    lead = (
        'loop_resistance = "0.2 ohm"\ncopper_temperature = "20 degC"\nstrand_factor = 1.0\n'
        'extensions = [{ gauge = "1 mm^2", length = "5 m", metal = "copper-clad aluminium" }]'
    )
    assert volts(path, lead) == pytest.approx(alone(6.0, 0.2 + 0.2743), rel=1e-6)


def test_connections_count_in_both_conductors_beside_plain_contacts(path):
    # By hand: 2 x (3 x 10 mohm + 4 x 0.2 mohm + 2 x 7 mohm), and 2 x 5 mohm in the extension.
    lead = WIRE + (
        'contacts = 2\ncontact_resistance = "7 mohm"\n'
        'connections = [{ kind = "servo plug", number = 3 }, { kind = "solder joint", number = 4 }]\n'
        'extensions = [{ gauge = "1 mm^2", length = "5 m", '
        'connections = [{ kind = "switch", resistance = "5 mohm" }] }]'
    )
    ohms = 2 * LOOP + 2 * (0.03 + 0.0008 + 0.014) + 2 * 0.005
    made = linkcalc.check(path(lead))
    assert at_limit(made) == pytest.approx(alone(6.0, ohms), rel=1e-6)
    assert any("servo plug not given: 10 mohm (common practice" in note for note in made.notes)
    assert not any("switch" in note for note in made.notes)


def test_connections_alone_leave_no_caution_that_contacts_are_missing(path):
    made = linkcalc.check(path(WIRE + 'connections = [{ kind = "crimp" }]'))
    assert not any("contact resistance" in note for note in made.notes)
    assert at_limit(made) == pytest.approx(alone(6.0, LOOP + 0.002), rel=1e-6)


def test_a_regulator_stands_at_the_end_of_the_last_extension(path):
    lead = WIRE + (
        'extensions = [{ gauge = "0.25 mm^2", length = "2 m" }]\n'
        'regulator = { kind = "linear", voltage = "4.8 V", current_limit = "none", dropout = "0.1 V" }'
    )
    assert volts(path, lead) == pytest.approx(4.8, rel=1e-9)
    (drops,) = voltage_drops(read_aircraft(path(lead)))
    places = [(drop.place, drop.element) for drop in drops.drops]
    assert places[-1] == ("l, extension 1", "regulator")
    assert ("l", "regulator") not in places


def test_the_kinds_of_connection_are_those_whose_resistance_is_known():
    assert Connection.kind.spec.choices == tuple(CONTACTS)


@pytest.mark.parametrize(
    ("lead", "told"),
    [
        (WIRE + 'connections = [{ kind = "glue" }]', "glue"),
        (WIRE + 'extensions = [{ gauge = "99 AWG", length = "1 m" }]', "99 AWG"),
        (WIRE + 'extensions = [{ gauge = "24 AWG" }]', "extensions[0]"),
        (WIRE + 'connections = [{ kind = "crimp", resistance = "-1 mohm" }]', "zero or more"),
        (
            'loop_resistance = "0.2 ohm"\nconnections = [{ kind = "crimp" }]',
            "connections of a lead whose resistance was measured",
        ),
    ],
)
def test_what_cannot_be_meant_is_refused(path, lead, told):
    with pytest.raises(InputFaults) as error:
        linkcalc.check(path(lead))
    assert told in str(error.value)
