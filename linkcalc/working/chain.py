"""The chain from speed to margin as formulas in sympy's symbols.

Each formula is one line of the written-out calculation: what it is called, its symbol, the
expression, what each symbol in it means and in which unit it counts, and where it comes from.
The tests hold every expression to the kernel that computes the same.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

__all__ = [
    "Formula",
    "air_load",
    "coefficient",
    "current",
    "dynamic_pressure",
    "evaluated",
    "hinge_moment",
    "hold_torque",
    "lever",
    "margin",
    "moving_torque",
    "node_voltage",
    "resistance",
    "slope",
    "stall_torque",
    "stiff_angle",
    "weight_moment",
]


class Formula(NamedTuple):
    """One line of a calculation.

    Attributes
    ----------
    name : str
        What it gives.
    symbol : str
        Its symbol.
    unit : str
        Its unit.
    words : str
        Its right side as it is written.
    expression : expression
        What sympy reads in these words, in the symbols of `terms`.
    terms : dict of str to tuple of str
        Meaning and unit of every symbol in it.
    source : str
        Where it comes from.
    """

    name: str
    symbol: str
    unit: str
    words: str
    expression: Any
    terms: dict[str, tuple[str, str]]
    source: str


def _made(  # noqa: PLR0917 - the parts of a line in their order
    name: str, symbol: str, unit: str, words: str, terms: Mapping[str, tuple[str, str]], source: str
) -> Formula:
    """Make a formula from the words of its expression; every symbol in it has its term."""
    import sympy  # noqa: PLC0415 - heavy

    known = {term: sympy.Symbol(term, real=True) for term in terms}
    expression = sympy.parsing.sympy_parser.parse_expr(words, local_dict=known)
    used = {str(each) for each in expression.free_symbols}
    return Formula(
        name,
        symbol,
        unit,
        words,
        expression,
        {each: terms[each] for each in terms if each in used},
        source,
    )


def evaluated(formula: Formula, values: Mapping[str, float]) -> float:
    """Return the value of a formula.

    Parameters
    ----------
    formula : Formula
        The line.
    values : mapping of str to float
        A number for each of its terms, in their units.

    Returns
    -------
    float
        In its unit.

    Examples
    --------
    >>> evaluated(dynamic_pressure(), {"rho": 1.225, "V": 25.0})
    382.8125
    """
    put = {each: values[str(each)] for each in formula.expression.free_symbols}
    return float(formula.expression.evalf(17, subs=put))


def dynamic_pressure() -> Formula:
    """Return the dynamic pressure at the surface.

    Returns
    -------
    Formula
        In density and true airspeed.
    """
    return _made(
        "Dynamic pressure", "q", "Pa", "rho*V**2/2",
        {"rho": ("air density", "kg/m^3"), "V": ("true airspeed at the surface", "m/s")},
        "definition; incompressible",
    )  # fmt: skip


def coefficient(mark: str = "") -> Formula:
    """Return the hinge-moment coefficient of the best line.

    Parameters
    ----------
    mark : str
        Added to the symbols that belong to one of several surfaces.

    Returns
    -------
    Formula
        In the coefficients of the solver, incidence and deflection.
    """
    terms = {
        f"C_h0{mark}": ("coefficient at zero incidence and deflection", "1"),
        f"C_h_alpha{mark}": ("its slope with incidence", "1/rad"),
        f"alpha{mark}": ("incidence of the surface", "rad"),
        f"C_h_delta{mark}": ("its slope with deflection", "1/rad"),
        f"delta{mark}": ("deflection, positive trailing edge down", "rad"),
    }
    words = f"C_h0{mark} + C_h_alpha{mark}*alpha{mark} + C_h_delta{mark}*delta{mark}"
    return _made(
        "Hinge-moment coefficient, best line", f"C_best{mark}", "1", words, terms,
        "linear in incidence and deflection; the slopes are the solver's",
    )  # fmt: skip


def air_load(line: str, source: str, mark: str = "") -> Formula:
    """Return the hinge moment of the air.

    Parameters
    ----------
    line : str
        Which line of the air load: low, best or high.
    source : str
        The solver, and where it comes from.
    mark : str
        Added to the symbols that belong to one of several surfaces.

    Returns
    -------
    Formula
        In dynamic pressure, area, chord and coefficient.
    """
    terms = {
        f"q{mark}": ("dynamic pressure", "Pa"),
        f"S{mark}": ("surface area aft of the hinge line", "m^2"),
        f"c{mark}": ("mean chord aft of the hinge line", "m"),
        f"C_{line}{mark}": (f"hinge-moment coefficient, {line} line", "1"),
    }
    words = f"q{mark}*S{mark}*c{mark}*C_{line}{mark}"
    title = f"Hinge moment of the air, {line} line"
    return _made(title, f"M_{line}{mark}", "N*m", words, terms, source)


def weight_moment(mark: str = "") -> Formula:
    """Return the moment of the surface's own weight about its hinge line.

    Parameters
    ----------
    mark : str
        Added to the symbols that belong to one of several surfaces.

    Returns
    -------
    Formula
        In mass, deflection, and the lever at neutral and a quarter turn on.
    """
    terms = {
        f"m{mark}": ("mass of the surface", "kg"),
        "g": ("standard gravity", "m/s^2"),
        f"a{mark}": ("lever of its weight at neutral, times the load factor", "m"),
        f"b{mark}": ("the same a quarter turn on", "m"),
        f"delta{mark}": ("deflection, positive trailing edge down", "rad"),
    }
    words = f"m{mark}*g*(a{mark}*cos(delta{mark}) + b{mark}*sin(delta{mark}))"
    return _made(
        "Moment of the surface's weight", f"M_w{mark}", "N*m", words, terms,
        "statics: force times lever about the hinge line",
    )  # fmt: skip


def hinge_moment(line: str, mark: str = "") -> Formula:
    """Return air load and weight together.

    Parameters
    ----------
    line : str
        Which line of the air load.
    mark : str
        Added to the symbols that belong to one of several surfaces.

    Returns
    -------
    Formula
        Their sum.
    """
    terms = {
        f"M_{line}{mark}": (f"hinge moment of the air, {line} line", "N*m"),
        f"M_w{mark}": ("moment of the surface's weight", "N*m"),
    }
    words = f"M_{line}{mark} + M_w{mark}"
    return _made("Hinge moment", f"M{mark}", "N*m", words, terms, "statics")


def stiff_angle(mark: str = "") -> Formula:
    """Return where the surface would be if its linkage did not give way.

    Parameters
    ----------
    mark : str
        Added to the symbols that belong to one of several surfaces.

    Returns
    -------
    Formula
        In deflection, compliance and hinge moment.
    """
    terms = {
        f"delta{mark}": ("deflection, positive trailing edge down", "rad"),
        f"C{mark}": ("compliance of the linkage", "rad/(N*m)"),
        f"M{mark}": ("hinge moment", "N*m"),
    }
    words = f"delta{mark} - C{mark}*M{mark}"
    title = "Angle of the horn without give"
    return _made(title, f"phi{mark}", "rad", words, terms, "linear elasticity")


def lever(end: str, axis: Sequence[float], mark: str = "") -> Formula:
    """Return the lever of the rod's line about an axis.

    Parameters
    ----------
    end : str
        ``"s"`` for the servo shaft, ``"h"`` for the hinge line.
    axis : sequence of float
        Unit vector; what is exactly zero in it does not appear.
    mark : str
        Added to the symbols that belong to one of several surfaces.

    Returns
    -------
    Formula
        The triple product of rod, axis and hole, over the rod's length.
    """
    what = {"s": "servo shaft", "h": "hinge line"}[end]
    e, r, d = (
        [f"{letter}_{part}{mark}" for part in "xyz"] for letter in (f"e{end}", f"r{end}", "d")
    )
    terms = {f"L{mark}": ("length of the rod, hole to hole", "m")}
    terms |= dict.fromkeys(e, (f"axis of the {what}, a unit vector", "1"))
    terms |= dict.fromkeys(r, (f"from the {what} to its hole, turned", "m"))
    terms |= dict.fromkeys(d, ("from the arm's hole to the horn's, turned", "m"))
    parts = []
    for i, j, k in ((0, 1, 2), (1, 2, 0), (2, 0, 1)):
        parts += [f"{d[i]}*{e[j]}*{r[k]}"] if axis[j] else []
        parts += [f"-{d[i]}*{e[k]}*{r[j]}"] if axis[k] else []
    words = "(" + " + ".join(parts).replace(" + -", " - ") + f")/L{mark}"
    return _made(
        f"Lever of the rod about the {what}", f"l_{end}{mark}", "m", words,
        terms, "triple product: the rod's direction, the axis, the way to the hole",
    )  # fmt: skip


def slope(mark: str = "") -> Formula:
    """Return the slope of the linkage.

    Parameters
    ----------
    mark : str
        Added to the symbols that belong to one of several surfaces.

    Returns
    -------
    Formula
        The lever at the servo over that at the hinge line.
    """
    terms = {
        f"l_s{mark}": ("lever of the rod about the servo shaft", "m"),
        f"l_h{mark}": ("lever of the rod about the hinge line", "m"),
    }
    return _made(
        "Slope of the linkage, d(deflection)/d(servo angle)", f"G{mark}", "1",
        f"l_s{mark}/l_h{mark}", terms,
        "the rod keeps its length: both ends have the same speed along it",
    )  # fmt: skip


def _sums(marks: Sequence[str]) -> dict[str, tuple[str, str]]:
    terms = {f"M{mark}": ("hinge moment", "N*m") for mark in marks}
    return terms | {f"G{mark}": ("slope of the linkage", "1") for mark in marks}


def hold_torque(marks: Sequence[str] = ("",)) -> Formula:
    """Return the torque of one servo that holds its surfaces.

    Parameters
    ----------
    marks : sequence of str
        Of the surfaces.

    Returns
    -------
    Formula
        By virtual work.
    """
    work = " + ".join(f"M{mark}*G{mark}" for mark in marks)
    terms = {"s": ("share of each servo, mismatch included", "1")} | _sums(marks)
    words = f"-s*({work})"
    return _made("Hold torque of one servo", "T_hold", "N*m", words, terms, "virtual work")


def moving_torque(marks: Sequence[str] = ("",)) -> Formula:
    """Return the torque of one servo that moves its surfaces against load and friction.

    Parameters
    ----------
    marks : sequence of str
        Of the surfaces.

    Returns
    -------
    Formula
        To hold, and what is lost in linkage and hinges.
    """
    each = [f"M{mark}*G{mark}" for mark in marks]
    lost = " + ".join(f"Abs({work})" for work in each)
    hinges = " + ".join(f"M_f{mark}*Abs(G{mark})" for mark in marks)
    terms = {
        "s": ("share of each servo, mismatch included", "1"),
        "eta": ("efficiency of the linkage", "1"),
        "T_f": ("friction at the servo shaft", "N*m"),
    }
    terms |= _sums(marks)
    terms |= {f"M_f{mark}": ("friction of the hinges", "N*m") for mark in marks}
    words = f"s*(Abs({' + '.join(each)}) + (1/eta - 1)*({lost}) + {hinges}) + T_f"
    return _made(
        "Moving torque of one servo", "T_move", "N*m", words, terms,
        "virtual work; efficiency divides the work that gets through",
    )  # fmt: skip


def current(place: str, names: Mapping[str, str]) -> Formula:
    """Return the current in a lead or of the source.

    Parameters
    ----------
    place : str
        Where, as it marks the symbol.
    names : mapping of str to str
        What each current behind it is, by its symbol.

    Returns
    -------
    Formula
        Their sum.
    """
    terms = {symbol: (words, "A") for symbol, words in names.items()}
    words = " + ".join(names) if names else "0"
    title = f"Current of {place.replace('_', ' ')}"
    return _made(title, f"I_{place}", "A", words, terms, "Kirchhoff's first law")


def resistance(place: str, *, one_return: bool = True) -> Formula:
    """Return the resistance of a lead, both conductors and their contacts.

    Parameters
    ----------
    place : str
        Which, as it marks the symbol.
    one_return : bool
        Whether the conductor back is like the one out.

    Returns
    -------
    Formula
        In length, section, copper and contacts.
    """
    terms = {
        "k": ("resistance of the stranded conductor over that of its nominal section", "1"),
        "rho_20": ("resistivity at 20 degrees Celsius", "ohm*m"),
        "alpha_20": ("its rise with temperature", "1/K"),
        "t": ("temperature of the conductor", "K"),
        "l": ("length of the lead, one way", "m"),
        "A": ("section of the conductor out", "m^2"),
        "A_b": ("section of the conductor back", "m^2"),
        "n": ("contacts in both conductors together", "1"),
        "R_c": ("resistance of each contact", "ohm"),
    }
    terms = {f"{symbol}_{place}": words for symbol, words in terms.items()}
    k, rho, rise, t, length, out, back, n, contact = terms
    sections = f"2/{out}" if one_return else f"1/{out} + 1/{back}"
    words = f"{k}*{rho}*(1 + {rise}*({t} - 293.15))*{length}*({sections}) + {n}*{contact}"
    return _made(
        f"Resistance of {place.replace('_', ' ')}", f"R_{place}", "ohm", words, terms,
        "resistivity of the metal, linear with temperature; contacts in series",
    )  # fmt: skip


def node_voltage(place: str, before: str, what: str) -> Formula:
    """Return the voltage at the end of a lead or at the terminals of the source.

    Parameters
    ----------
    place, before : str
        As they mark the symbols: where, and what feeds it.
    what : str
        What the voltage before is.

    Returns
    -------
    Formula
        Less the drop.
    """
    terms = {
        before: (what, "V"),
        f"R_{place}": ("resistance of this piece", "ohm"),
        f"I_{place}": ("current through it", "A"),
    }
    words = f"{before} - R_{place}*I_{place}"
    title = f"Voltage behind {place.replace('_', ' ')}"
    return _made(title, f"V_{place}", "V", words, terms, "Ohm's law")


def stall_torque(rows: int, *, between: bool) -> Formula:
    """Return what a servo gives at its limit, from the datasheet rows next to its voltage.

    Parameters
    ----------
    rows : int
        1 below the first row and above the last, where one row counts; 2 between two.
    between : bool
        With one row: whether the voltage is below it, so that its torque is scaled.

    Returns
    -------
    Formula
        In torque and voltage of the rows, and the datasheet factor.
    """
    terms = {
        "T_1": ("stall torque of the row", "N*m"),
        "V_1": ("voltage of the row", "V"),
        "T_2": ("stall torque of the row above", "N*m"),
        "V_2": ("voltage of the row above", "V"),
        "V_s": ("voltage at the servo, itself at its limit", "V"),
        "f_d": ("datasheet factor", "1"),
    }
    if rows > 1:
        words, source = "(T_1 + (T_2 - T_1)*(V_s - V_1)/(V_2 - V_1))/f_d", "linear between rows"
    elif between:
        words, source = "T_1*V_s/V_1/f_d", "below the first row in proportion to the voltage"
    else:
        words, source = "T_1/f_d", "at the last row and above its figures stand"
    return _made(
        "Torque available of one servo", "T_s", "N*m", words, terms,
        f"datasheet rows, {source}; the factor is common practice, no source",
    )  # fmt: skip


def margin() -> Formula:
    """Return the torque margin.

    Returns
    -------
    Formula
        Available over required with its factor, less one.
    """
    terms = {
        "T_s": ("torque available of one servo", "N*m"),
        "T_move": ("moving torque of one servo", "N*m"),
        "f": ("factor on torque", "1"),
    }
    return _made(
        "Torque margin", "margin", "1", "T_s/(T_move*f) - 1", terms,
        "definition; the factor's default is from 14 CFR 23 App. A, A23.13(a)(1)",
    )  # fmt: skip
