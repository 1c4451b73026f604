"""Trees drawn at random against ngspice, a general-purpose circuit simulator.

The simulator gets both conductors of every lead as resistors of their own, servos as
current sources with the lines of their datasheets written out, and regulators as controlled
sources; what it finds is compared node by node. It is the Debian package `ngspice`.
"""

import os
import re
import shutil
import subprocess

import numpy as np
import pytest

from linkcalc.physics import servo
from linkcalc.physics.demand import ServoDemand
from linkcalc_wiring.tree import Tree

SIMULATOR = shutil.which("ngspice")
if SIMULATOR is None:
    if os.environ.get("CI", "") not in {"", "0", "false"}:
        pytest.fail("ngspice is not installed: apt-get install ngspice", pytrace=False)
    pytest.skip("ngspice is not installed", allow_module_level=True)

SOURCE, INTERNAL = 7.9, 0.03
COPPER, RISE = 1.7241e-8, 0.00393


def simulated(lines, names, folder):
    """Voltages of named nodes [V]."""
    deck = folder / "tree.cir"
    control = [
        ".options reltol=1e-9 abstol=1e-13 vntol=1e-12 gmin=1e-15 itl1=1000",
        ".control",
        "set numdgt=12",
        "op",
        *(f"print v({name})" for name in names),
        ".endc",
        ".end",
    ]
    deck.write_text("\n".join(["supply tree", *lines, *control]), encoding="utf-8")
    done = subprocess.run(
        [SIMULATOR, "-b", str(deck)], capture_output=True, text=True, check=False, timeout=60
    )
    found = dict(re.findall(r"^v\((\w+)\) = (\S+)", done.stdout, re.MULTILINE))
    assert len(found) == len(set(names)), done.stdout + done.stderr
    return np.array([float(found[name]) for name in names])


def column(volts, rows, values):
    """Write a column of a datasheet out, straight between its rows and down to zero."""
    text, last_volts, last = "0", 0.0, 0.0
    for row, value in zip(rows, values, strict=True):
        slope = (value - last) / (row - last_volts)
        text += f"+{slope!r}*min(max({volts}-{last_volts!r},0),{row - last_volts!r})"
        last_volts, last = row, value
    return f"({text})"


class Drawn:
    """A tree with one to eight servos, its fields and the simulator's lines."""

    def __init__(self, seed, servos):
        random = np.random.default_rng(seed)
        self.servos, self.nodes = servos, servos + int(random.integers(0, 4))
        self.parent = [int(random.integers(-1, node)) for node in range(self.nodes)]
        self.at = random.permutation(np.arange(self.nodes))[:servos]
        count = self.nodes
        self.length = random.uniform(0.05, 1.5, count)
        self.areas = random.uniform(0.1e-6, 0.6e-6, (2, count))
        self.celsius = random.uniform(-10.0, 70.0, count)
        self.contacts = random.integers(0, 4, (2, count)).astype(float)
        self.ohms = random.uniform(0.001, 0.01, count)
        self.load = random.choice([0.0, 0.05, 0.2], count)
        volts = np.cumsum(random.uniform(2.0, 3.5, (servos, 2)), axis=1)
        idle = np.cumsum(random.uniform(0.02, 0.1, (servos, 2)), axis=1)
        self.rows = {
            "voltage": volts,
            "stall_torque": np.cumsum(random.uniform(0.1, 0.4, (servos, 2)), axis=1),
            "no_load_speed": volts,
            "stall_current": idle + np.cumsum(random.uniform(0.2, 0.8, (servos, 2)), axis=1),
            "no_load_current": idle,
        }
        self.torque = random.uniform(0.0, 1.6, servos) * self.rows["stall_torque"][:, 0]
        self.regulators = {}

    def conductors(self):
        """Resistance of the conductor out and of the one back, shape (2, node) [ohm]."""
        warm = COPPER * (1.0 + RISE * (self.celsius - 20.0))
        return 1.1 * warm * self.length / self.areas + self.contacts * self.ohms

    def fields(self, circuits):
        """Fields for the solver."""
        regulators = {
            name: np.array(
                [self.regulators.get(node, {}).get(name, other) for node in range(self.nodes)]
            )
            for name, other in (
                ("regulated_voltage", np.nan),
                ("dropout", 0.0),
                ("output_resistance", 0.0),
                ("efficiency", np.nan),
                ("quiescent_current", 0.0),
            )
        }
        return circuits.fields(
            self.parent,
            np.full(self.nodes, np.nan),
            length=self.length,
            conductor_area=self.areas[0],
            return_area=self.areas[1],
            copper_temperature=self.celsius + 273.15,
            strand_factor=np.array(1.1),
            contacts=self.contacts[0],
            return_contacts=self.contacts[1],
            contact_resistance=self.ohms,
            load=self.load,
            servo_node=self.at,
            open_circuit_voltage=np.array(SOURCE),
            internal_resistance=np.array(INTERNAL),
            seek_details=np.array(1.0),
            **regulators,
        )

    def lines(self):
        """Elements for the simulator: node n has the conductors pn and mn."""
        lines = [f"Vsource s 0 {SOURCE!r}", f"Rsource s p {INTERNAL!r}", "Rground m 0 1e-9"]
        for node, (out, back) in enumerate(self.conductors().T):
            above = str(self.parent[node]) if self.parent[node] >= 0 else ""
            end = f"q{node}" if node in self.regulators else f"p{node}"
            lines += [f"Rp{node} p{above} {end} {out!r}", f"Rm{node} m{node} m{above} {back!r}"]
            lines += [f"Iload{node} p{node} m{node} {self.load[node]!r}"]
            if node in self.regulators:
                lines += self.regulator(node, **self.regulators[node])
        for number, node in enumerate(self.at):
            volts = f"v(p{node},m{node})"
            rows, values = self.rows["voltage"][number], self.rows
            torque, stalled, idle = (
                column(volts, rows, values[name][number])
                for name in ("stall_torque", "stall_current", "no_load_current")
            )
            share = f"min(1,{self.torque[number]!r}/max({torque},1e-9))"
            lines.append(f"Bservo{number} p{node} m{node} I={idle}+({stalled}-{idle})*{share}")
        return [line.replace("np.float64(", "(") for line in lines]

    @staticmethod
    def regulator(
        node, *, regulated_voltage, dropout, output_resistance, quiescent_current, efficiency=np.nan
    ):
        """Write a regulator between the end of a lead, q, and its node out."""
        into, out = f"v(q{node},m{node})", f"v(p{node},m{node})"
        passed = f"i(Vsense{node})"
        if not np.isnan(efficiency):
            passed = f"{out}*{passed}/({efficiency!r}*max({into},0.1))"
        return [
            f"Bset{node} r{node} m{node} V=min({regulated_voltage!r},{into}-{dropout!r})",
            f"Vsense{node} r{node} t{node} 0",
            f"Rout{node} t{node} p{node} {output_resistance!r}",
            f"Btaken{node} q{node} m{node} I={passed}+{quiescent_current!r}",
        ]

    def compare(self, circuits, folder):
        """Solve both ways, and hold every node to a millionth."""
        demand = ServoDemand(servo.curves(**self.rows), self.torque)
        answers = [Tree()(self.fields(circuits), each) for each in (demand, demand.__call__)]
        names = [f"{wire}{node}" for wire in "pm" for node in range(self.nodes)]
        out, back = simulated(self.lines(), names, folder).reshape(2, -1)
        for answer in answers:
            assert answer["reason"] == 0
            assert answer["node_voltage"] == pytest.approx(out - back, rel=1e-6)
            assert answer["ground_rise"] == pytest.approx(back, rel=1e-6, abs=1e-8)
        return answers[0]


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("servos", range(1, 9))
def test_every_node_of_a_tree_agrees_with_the_simulator(circuits, tmp_path, servos, seed):
    tree = Drawn(100 * servos + seed, servos)
    answer = tree.compare(circuits, tmp_path)
    assert answer["node_voltage"].max() < SOURCE - 1e-3  # something is lost on the way


@pytest.mark.parametrize("efficiency", [np.nan, 0.88])
@pytest.mark.parametrize("seed", range(6))
def test_trees_with_regulators_agree_with_the_simulator(circuits, tmp_path, seed, efficiency):
    # Regulated down, and in dropout; the second stands behind the first where it can.
    tree = Drawn(7000 + seed, 4)
    behind = [node for node in range(tree.nodes) if tree.parent[node] >= 0]
    node = behind[-1] if behind else tree.nodes - 1
    tree.regulators[node] = {
        "regulated_voltage": [5.0, 7.9][seed % 2],
        "dropout": 0.35,
        "output_resistance": 0.04,
        "quiescent_current": 0.006,
        "efficiency": efficiency,
    }
    if tree.parent[node] >= 0:
        tree.regulators[tree.parent[node]] = tree.regulators[node] | {"regulated_voltage": 6.6}
    answer = tree.compare(circuits, tmp_path)
    own = list(tree.regulators)
    assert np.isfinite(answer["regulator_heat"][own]).all()
    assert np.isnan(np.delete(answer["regulator_heat"], own)).all()
