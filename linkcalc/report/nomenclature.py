"""Symbol, formula, inputs and source of everything that a report tells.

The words stand in `terms`; formulas are those of the page on the theory, written on one line.
"""

from __future__ import annotations

from typing import NamedTuple

__all__ = ["MODES", "SYMBOLS", "VALUES", "Entry", "entry_of"]

_PRACTICE = "common practice, no source"
_OWN = "definition of this library"
_ETKIN = (
    "B. Etkin and L. D. Reid, Dynamics of Flight: Stability and Control, 3rd ed., 1996, sec. 2.5"
)
_WORK = "principle of virtual work"
_MOTOR = f"straight lines of a permanent-magnet motor behind a gearbox ({_PRACTICE})"
_KIRCHHOFF = "Kirchhoff's laws; the greatest of several solutions is the answer"
_COLUMN = "J. E. Shigley, Mechanical Engineering Design, ch. 4 (from memory)"
_LOOP = "closure of the linkage's loop; R. L. Norton, Design of Machinery (from memory)"
_SEARCH = "root of the excess of demand over supply, every load and voltage computed anew"


class Entry(NamedTuple):
    """How something is computed.

    Attributes
    ----------
    symbol : str
        As the formulas write it; the part after an underscore is an index.
    formula : str
        On one line.
    inputs : str
        What goes in.
    source : str
        Where the formula comes from.
    """

    symbol: str
    formula: str
    inputs: str
    source: str


_MARGIN = "available / (required × factor) − 1"

MODES: dict[str, Entry] = {
    "torque": Entry("MS_T", "T_s(V*) / (T_move × f_T) − 1", "T_s, V*, T_move, f_T", _OWN),
    "travel": Entry("MS_δ", "δ_reached / (δ_commanded × f) − 1, the worse side", "reach of linkage, servo travel and compliance; range of the case", _OWN),
    "voltage": Entry("MS_V", "V_least / (V_min × f) − 1", "least of all states of the supply; least that servo and receiver work at", _OWN),
    "over-voltage": Entry("MS_OV", "V_rated / (V_oc × f) − 1", "rated maximum of the servo; supply without load", _OWN),
    "current": Entry("MS_I", "I_limit / (I_required × f_I) − 1", "limit of the source; demand with that limit lifted", _OWN),
    "speed": Entry("MS_ω", "ω_least / (ω_wanted × f) − 1", "least rate under load; range of the case in half a second, or as wanted", _OWN),
    "hold": Entry("MS_H", "h T_s(V) / (|T_hold| × f_H) − 1", "share h that may be held; T_s at the voltage at work", f"{_OWN}; the share: {_PRACTICE}"),
    "buckling": Entry("MS_B", "F_cr / (F × f_T × f_B) − 1", "critical load of the rod; its greatest compression", f"Euler and Johnson columns: {_COLUMN}"),
    "joint": Entry("MS_J", "F_rated / (F × f_T × f_J) − 1", "rating of the weakest joint; greatest force in the rod", "14 CFR 23.693 for the factor"),
    "source heat": Entry("MS_Q", "Q_shed / (Q × f) − 1, Q = V_in I_in − V I", "voltages and currents of the regulator at work", "conservation of energy"),
    "gear": Entry("MS_G", "T_gear / (|T_hold| × f_G) − 1", "stated strength of the gears; largest torque to hold", _OWN),
    "free play": Entry("MS_P", "limit / (play × f) − 1", "play of joints over the rod's lever, of gears times the slope", _OWN),
    "divergence": Entry("MS_D", "1 − f × C dM/dδ", "compliance C of the linkage; rise of the hinge moment", "static equilibrium of an elastic restraint"),
}  # fmt: skip
"""By the name of the mode."""

VALUES: dict[str, Entry] = {
    "servos at work": Entry("n", "servos of the run − dead ones", "the file", _OWN),
    "dead servos": Entry("n_d", "as the case says", "the file", _OWN),
    "share of each servo": Entry("s", "f_m / n for n > 1, else 1", "n, mismatch factor f_m", f"equal shares; the mismatch: {_PRACTICE}"),
    "datasheet factor": Entry("f_s", "T_s = printed stall torque / f_s", "the file, or 1.2", _PRACTICE),
    "dynamic pressure": Entry("q", "½ ρ V²", "density ρ, true airspeed V at the surface", "definition; density by the U.S. Standard Atmosphere, 1976, NOAA-S/T 76-1562"),
    "governing deflection": Entry("δ", "where T_move is largest over the range", "T_move(δ)", "search for the greatest value"),
    "hinge moment": Entry("M", "C_h q S_f c_f + M_w", "coefficient C_h of the air-load solver, area S_f and mean chord c_f aft of the hinge line, moment M_w of the weight", _ETKIN),
    "hold torque": Entry("T_hold", "−s Σ M dδ/dθ", "M, slope dδ/dθ of the linkage, s", _WORK),
    "moving torque": Entry("T_move", "|T_hold| + s (1/η − 1) Σ |M dδ/dθ| + friction", "T_hold, efficiency η, frictions", f"{_WORK}; the efficiency: {_PRACTICE}"),
    "torque available": Entry("T_s(V*)", "printed stall torque at V* / f_s", "datasheet rows, V*, f_s", _MOTOR),
    "torque margin": Entry("MS_T", "T_s(V*) / (T_move × f_T) − 1", "as the margin of this name, on the lowest air load", _OWN),
    "torque margin, best air load": Entry("MS_T", "T_s(V*) / (T_move × f_T) − 1", "as the margin of this name, on the best line", _OWN),
    "deadband": Entry("δ_d", "θ_d |dδ/dθ|", "deadband θ_d at the shaft, slope at neutral", _WORK),
    "ground rise": Entry("V_g", "Σ I R of the returns", "currents of the supply, resistance of each return", _KIRCHHOFF),
    "hold time": Entry("t", "first-order warming up to the steady torque", "share of the stall torque, time constant", _PRACTICE),
    "voltage at work": Entry("V", "V_oc − Σ I R along the way", "all servos at their T_move", _KIRCHHOFF),
    "voltage at limit": Entry("V*", "V_oc − Σ I R along the way", "this servo stalled, the others at T_move × f_T", _KIRCHHOFF),
    "current at work": Entry("I", "I_0 + (I_s − I_0) min(1, T / T_s)", "no-load current I_0, stall current I_s, load T", _MOTOR),
    "rod force": Entry("F", "s M × (force per unit moment)", "M at both ends of the band, geometry of the linkage", _WORK),
    "jam force": Entry("F_j", "printed T_s × |dθ/dδ| × (force per unit moment)", "voltage without load, neutral", _WORK),
    "held": Entry("δ_held", "least |δ| with T_move f_T = T_s(V*)", "T_move(δ), T_s(V*), f_T", "walk from neutral outward"),
    "blow-back": Entry("δ_bb", "least |δ| with T_move = T_s(V*)", "T_move(δ), T_s(V*)", "walk from neutral outward"),
    "surface rate under load": Entry("ω", "|dδ/dθ| ω_0(V) (1 − T_move / T_s(V))", "no-load speed ω_0, voltage at work", _MOTOR),
    "torque limit speed": Entry("V_T", "speed at which MS_T = 0", "the case at other speeds", _SEARCH),
    "freeze speed": Entry("V_F", "speed at which T_move = T_s(V*)", "the case at other speeds, torque factor 1", _SEARCH),
    "placard speed": Entry("V_P", "least speed at which any margin = 0", "the case at other speeds", _SEARCH),
}  # fmt: skip
"""By the name of the value; the two deflections by their first word."""

SYMBOLS: dict[str, str] = {
    "θ": "angle of the servo arm from neutral",
    "δ": "deflection of the surface, trailing edge down positive (on a fin: to starboard)",
    "f": "factor of safety of the mode; f_T of torque, f_s on the datasheet",
    "V*": "voltage at the servo's plug when it is itself about to stall",
    "V_oc": "voltage of the source without load",
}
"""Symbols that stand in formulas and are no value of their own."""


def entry_of(name: str) -> Entry | None:
    """Return how a value is computed.

    Parameters
    ----------
    name : str
        As a report has it.

    Returns
    -------
    Entry or None
        None for a value that is not in the table.

    Examples
    --------
    >>> entry_of("held deflection up").symbol
    'δ_held'
    """
    return VALUES.get(name) or VALUES.get(name.partition(" deflection")[0])
