r"""A pushrod derived from the distance of its joints, and nothing else.

With both joints turned about their axes, the rod keeps its length L where

.. math:: F(x, y) = \tfrac12 \left( L^2 - |p(x) - q(y)|^2 \right)

is zero. All that the kernels of `linkcalc.mechanism` compute follows from F by algebra and
differentiation, which is done here by sympy.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

__all__ = ["Derivation", "HalfAngles", "derive", "evaluate", "in_half_angles"]


class Derivation(NamedTuple):
    """Expressions of a pushrod, in sympy's symbols.

    Attributes
    ----------
    symbols : dict of str to symbol
        Of the geometry: `offset_x` (from the hinge pivot to the servo's) and so on for
        `servo_axis`, `arm`, `hinge_axis` and `horn`, axes being unit vectors; `rod` is L.
    servo_angle, surface_angle : symbol
        x and y [rad].
    closure : expression
        F(x, y) [m^2].
    a, b, c : expression
        With them F is A cos y + B sin y - C [m^2].
    solutions : tuple of two expressions
        The surface angles at which F is zero, up to whole turns: for positive and for
        negative dF/dy [rad].
    slope : expression
        dy/dx where F stays zero [-].
    rod_force : expression
        Tension that balances a moment of one about the hinge axis [1/m].
    """

    symbols: dict[str, Any]
    servo_angle: Any
    surface_angle: Any
    closure: Any
    a: Any
    b: Any
    c: Any
    solutions: tuple[Any, Any]
    slope: Any
    rod_force: Any


class HalfAngles(NamedTuple):
    """The same in half-angle tangents.

    Attributes
    ----------
    tangent, output : symbol
        t of the servo angle and v of the surface angle.
    n, b, g : expression
        Polynomials in t; the closure is G v^2 - 2 B v + N = 0 [m^2].
    """

    tangent: Any
    output: Any
    n: Any
    b: Any
    g: Any


def derive() -> Derivation:
    """Derive closure, solution, slope and rod force.

    Returns
    -------
    Derivation
        Expressions in symbols.

    Notes
    -----
    The force is that of virtual work: a moment M that turns the surface by dy does the work of
    the tension over the way by which the joints part, so that the tension is M over dd/dy, d the
    distance of the joints, with F = (L^2 - d^2) / 2.

    Examples
    --------
    >>> found = derive()
    >>> found.closure.subs({found.servo_angle: 0, found.surface_angle: 0}).has(found.symbols["rod"])
    True
    """
    import sympy  # noqa: PLC0415 - heavy

    x, y = sympy.symbols("x y", real=True)
    rod = sympy.Symbol("rod", positive=True)
    symbols: dict[str, Any] = {"rod": rod}

    def vector(name: str) -> Any:
        parts = sympy.symbols(f"{name}_x {name}_y {name}_z", real=True)
        symbols.update({part.name: part for part in parts})
        return sympy.Matrix(parts)

    offset, servo_axis, arm = vector("offset"), vector("servo_axis"), vector("arm")
    hinge_axis, horn = vector("hinge_axis"), vector("horn")
    apart = offset + _turned(sympy, arm, servo_axis, x) - _turned(sympy, horn, hinge_axis, y)
    closure = (rod**2 - apart.dot(apart)) / 2
    # F is A cos y + B sin y - C: three values of y tell the three. Axes are unit vectors, which
    # the symbols do not know; it takes the squares of their components out.
    at_zero, opposite = closure.subs(y, 0), closure.subs(y, sympy.pi)
    square = closure.subs(y, sympy.pi / 2)
    a, c = (at_zero - opposite) / 2, -(at_zero + opposite) / 2
    b = square + c
    root = sympy.sqrt(a**2 + b**2 - c**2)
    middle = sympy.atan2(b, a)
    solutions = tuple(middle - sign * sympy.atan2(root, c) for sign in (1, -1))
    held = a * sympy.cos(y) + b * sympy.sin(y) - c
    slope = -sympy.diff(held, x) / sympy.diff(held, y)
    force = -rod / sympy.diff(held, y)
    return Derivation(symbols, x, y, closure, a, b, c, (solutions[0], solutions[1]), slope, force)


def in_half_angles(derivation: Derivation) -> HalfAngles:
    """Write the closure in half-angle tangents.

    Parameters
    ----------
    derivation : Derivation
        From `derive`.

    Returns
    -------
    HalfAngles
        Polynomials N, B and G.

    Examples
    --------
    >>> found = in_half_angles(derive())
    >>> import sympy
    >>> [sympy.degree(part, found.tangent) for part in (found.n, found.b, found.g)]
    [2, 2, 2]
    """
    import sympy  # noqa: PLC0415 - heavy

    t, v = sympy.symbols("t v", real=True)
    x = derivation.servo_angle
    whole = 1 + t**2

    def polynomial(expression: Any) -> Any:
        put = sympy.expand(expression).subs(
            {sympy.cos(x): (1 - t**2) / whole, sympy.sin(x): 2 * t / whole}
        )
        return sympy.collect(sympy.expand(sympy.cancel(sympy.together(put * whole))), t)

    # The squares of the turned arm are those of the arm only for a unit axis: linear terms alone
    # stay if the length of p is taken at x = 0, where the arm has not turned.
    linear = derivation._replace(c=_unit_axes(sympy, derivation))
    a, b, c = (polynomial(part) for part in (linear.a, linear.b, linear.c))
    return HalfAngles(t, v, sympy.expand(c - a), b, sympy.expand(c + a))


def evaluate(
    expressions: Sequence[Any], values: Mapping[Any, float], *, digits: int = 30
) -> list[Any]:
    """Evaluate expressions to many digits.

    Parameters
    ----------
    expressions : sequence of expression
        In sympy's symbols.
    values : mapping of symbol to float
        A value for every symbol, taken as the binary number that it is.
    digits : int, optional
        Decimal digits to work with.

    Returns
    -------
    list of mpmath numbers
        The values.

    Examples
    --------
    >>> import sympy
    >>> x = sympy.Symbol("x")
    >>> float(evaluate([sympy.sqrt(x) ** 2 - x], {x: 3.0}, digits=40)[0]) < 1e-39
    True
    """
    import mpmath  # noqa: PLC0415 - comes with sympy
    import sympy  # noqa: PLC0415 - heavy

    function = sympy.lambdify(list(values), list(expressions), modules="mpmath", cse=True)
    with mpmath.workdps(digits):
        return list(function(*(mpmath.mpf(value) for value in values.values())))


def _turned(sympy: Any, vector: Any, axis: Any, angle: Any) -> Any:
    """Turn a vector about a unit vector."""
    along = axis * axis.dot(vector)
    return along + (vector - along) * sympy.cos(angle) + axis.cross(vector) * sympy.sin(angle)


def _unit_axes(sympy: Any, derivation: Derivation) -> Any:
    """C with the squares of turned arm and horn replaced by those at neutral."""
    names = derivation.symbols
    offset, axis, arm, line, horn = (
        sympy.Matrix([names[f"{name}_{part}"] for part in "xyz"])
        for name in ("offset", "servo_axis", "arm", "hinge_axis", "horn")
    )
    turned = _turned(sympy, arm, axis, derivation.servo_angle)
    above = line.dot(horn)
    squares = offset.dot(offset) + arm.dot(arm) + horn.dot(horn) - names["rod"] ** 2
    return squares / 2 + offset.dot(turned) - above * line.dot(offset + turned)
