"""Symbol, formula, inputs and source of everything that a report tells.

The words stand in `terms`; formulas are those of the page on the theory, written on one line.
"""

from __future__ import annotations

from typing import NamedTuple

__all__ = ["AIRCRAFT", "MODES", "SYMBOLS", "VALUES", "Entry", "entry_of", "explained_as"]

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
_DIVE = "equations of a point mass in still air; J. D. Anderson, Aircraft Performance and Design, 1999, ch. 6"
_HEAT = "S. W. Churchill and H. H. S. Chu, 1975, for a horizontal cylinder, with radiation"
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
    "incidence at the surface": Entry("α", "α of the case, with setting, downwash, gust and rate of turn", "the case and its flows", _ETKIN),
    "largest incidence at the surface": Entry("|α|max", "the largest that incidence and sideslip make together, no credit for what relieves", "the case and its flows", _OWN),
    "speed at the surface": Entry("V", "V of the case, or of the slipstream, and what is added to it", "the case and its flows", "conservation of momentum in a slipstream"),
    "governing deflection": Entry("δ", "where T_move is largest over the range", "T_move(δ)", "search for the greatest value"),
    "hinge moment": Entry("M", "C_h q S_f c_f + M_w", "coefficient C_h of the air-load solver, area S_f and mean chord c_f aft of the hinge line, moment M_w of the weight", _ETKIN),
    "hold torque": Entry("T_hold", "−s Σ M dδ/dθ", "M, slope dδ/dθ of the linkage, s", _WORK),
    "moving torque": Entry("T_move", "|T_hold| + s (1/η − 1) Σ |M dδ/dθ| + friction", "T_hold, efficiency η, frictions", f"{_WORK}; the efficiency: {_PRACTICE}"),
    "torque available": Entry("T_s(V*)", "printed stall torque at V* / f_s", "datasheet rows, V*, f_s", _MOTOR),
    "torque margin": Entry("MS_T", "T_s(V*) / (T_move × f_T) − 1", "as the margin of this name, on the lowest air load", _OWN),
    "torque margin, best air load": Entry("MS_T", "T_s(V*) / (T_move × f_T) − 1", "as the margin of this name, on the best line", _OWN),
    "deadband": Entry("δ_d", "θ_d |dδ/dθ|", "deadband θ_d at the shaft, slope at neutral", _WORK),
    "ground rise": Entry("V_g", "Σ I R of the returns", "currents of the supply, resistance of each return", _KIRCHHOFF),
    "copper temperature in free air": Entry("", "heat by the current at work = heat shed by one wire", "current at work, gauge, air temperature", _HEAT),
    "copper temperature in a bundle": Entry("", "heat by the current at work = heat shed by the bundle", "current at work, gauges, air temperature", _HEAT),
    "hold time": Entry("t", "first-order warming up to the steady torque", "share of the stall torque, time constant", _PRACTICE),
    "voltage at work": Entry("V", "V_oc − Σ I R along the way", "all servos at their T_move", _KIRCHHOFF),
    "voltage at limit": Entry("V*", "V_oc − Σ I R along the way", "this servo stalled, the others at T_move × f_T", _KIRCHHOFF),
    "current at work": Entry("I", "I_0 + (I_s − I_0) min(1, T / T_s)", "no-load current I_0, stall current I_s, load T", _MOTOR),
    "rod force": Entry("F", "s M × (force per unit moment)", "M at both ends of the band, geometry of the linkage", _WORK),
    "shaft load": Entry("F_s", "sum of the forces at the arm, square to the shaft", "force of rod or cables, layout of the linkage", "static equilibrium"),
    "bellcrank load": Entry("F_b", "sum of the forces of both rods, square to the pivot", "forces of the rods, layout of the linkage", "static equilibrium"),
    "hinge load": Entry("F_h", "sum of the forces at the horn, square to the hinge line", "force of rod or cables, layout of the linkage", "static equilibrium"),
    "jam force": Entry("F_j", "printed T_s × |dθ/dδ| × (force per unit moment)", "voltage without load, neutral", _WORK),
    "held": Entry("δ_held", "least |δ| with T_move f_T = T_s(V*)", "T_move(δ), T_s(V*), f_T", "walk from neutral outward"),
    "blow-back": Entry("δ_bb", "least |δ| with T_move = T_s(V*)", "T_move(δ), T_s(V*)", "walk from neutral outward"),
    "surface rate under load": Entry("ω", "|dδ/dθ| ω_0(V) (1 − T_move / T_s(V))", "no-load speed ω_0, voltage at work", _MOTOR),
    "torque limit speed": Entry("V_T", "speed at which MS_T = 0", "the case at other speeds", _SEARCH),
    "freeze speed": Entry("V_F", "speed at which T_move = T_s(V*)", "the case at other speeds, torque factor 1", _SEARCH),
    "placard speed": Entry("V_P", "least speed at which any margin = 0", "the case at other speeds", _SEARCH),
}  # fmt: skip
"""By the name of the value; the two deflections by their first word."""

AIRCRAFT: dict[str, Entry] = {
    "manoeuvre placard speed": Entry("V_P", "least placard speed of the runs in manoeuvre cases", "placard speeds", _OWN),
    "stall speed": Entry("V_S", "√(2 m g / (ρ S C_L,max)), or as given", "mass, wing area, greatest lift coefficient; sea level", "level flight at the greatest lift coefficient"),
    "cruise speed": Entry("V_C", "as given", "the file", _OWN),
    "dive speed": Entry("V_D", "the greatest of those given and reached", "the file, the dives that are followed", _DIVE),
    "margin of the placard over": Entry("", "V_P / that speed − 1", "placard speed, the other speed", _OWN),
    "source current": Entry("I_src", "Σ I of servos and loads", "state of the supply", _KIRCHHOFF),
    "least servo voltage": Entry("V_least", "least over the servos of V_oc − Σ I R", "state of the supply", _KIRCHHOFF),
    "receiver voltage": Entry("V_rx", "V_oc − Σ I R along the way", "state of the supply", _KIRCHHOFF),
    "terminal speed": Entry("V_t", "drag = m g sin γ", "mass, drag, density at the start", _DIVE),
    "pull-out speed": Entry("V_p", "V where the pull-out begins", "the dive", _DIVE),
    "peak dynamic pressure": Entry("q_max", "greatest ½ ρ V² on the way", "the dive", _DIVE),
    "greatest Mach number": Entry("Ma", "greatest V / a on the way", "the dive, speed of sound", _DIVE),
    "greatest load factor": Entry("n_max", "greatest n on the way", "the dive", _DIVE),
    "height lost": Entry("h_l", "height of the start − lowest height", "the dive", _DIVE),
    "lowest height": Entry("", "height over the field where the path is level", "the dive", _DIVE),
    "least height to recover": Entry("", "least start from which, and from all above it, the aircraft recovers", "dives from many heights", _SEARCH),
    "share of the pull-out limited by the servo": Entry("", "time in which the reach of the elevator sets n / time of the pull-out", "the dive, reach of the elevator", _DIVE),
    "recovers": Entry("", "1 if it does", "the dive", _OWN),
}  # fmt: skip
"""By the name of a value of the aircraft, or of a case as a whole, up to its comma."""

SYMBOLS: dict[str, str] = {
    "θ": "angle of the servo arm from neutral",
    "δ": "deflection of the surface, trailing edge down positive (on a fin: to starboard)",
    "f": "factor of safety of the mode; f_T of torque, f_s on the datasheet",
    "V*": "voltage at the servo's plug when it is itself about to stall",
    "V_oc": "voltage of the source without load",
}
"""Symbols that stand in formulas and are no value of their own."""


def explained_as(name: str) -> str:
    """Return the name under which a value is explained.

    Parameters
    ----------
    name : str
        As a report has it.

    Returns
    -------
    str
        The same, or what it has in common with its likes: up and down, several lines of the air
        load or states of the supply are explained once.

    Examples
    --------
    >>> explained_as("held deflection up"), explained_as("source current, all stalled")
    ('held', 'source current')
    """
    if name in VALUES or name in AIRCRAFT:
        return name
    before, over, _ = name.partition(" over ")
    if over:
        return before + over.rstrip()
    return name.partition(",")[0].partition(" deflection")[0].removesuffix(" at work")


def entry_of(name: str) -> Entry | None:
    """Return how a value is computed.

    Parameters
    ----------
    name : str
        As a report has it.

    Returns
    -------
    Entry or None
        None for a value that is not in the tables.

    Examples
    --------
    >>> entry_of("held deflection up").symbol
    'δ_held'
    """
    known = explained_as(name)
    return VALUES.get(known) or AIRCRAFT.get(known)
