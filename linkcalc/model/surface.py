"""A control surface: what the air and gravity take hold of."""

from __future__ import annotations

from typing import TYPE_CHECKING

from linkcalc.errors import InputError, told
from linkcalc.model.fields import QuantityField, choice, number, part, parts, quantity_field, text
from linkcalc.model.value_classes import given, rule, value_class

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = ["ControlSurface", "HingeMomentCoefficients", "PilotInput"]


@value_class
class HingeMomentCoefficients:
    """Hinge-moment coefficients that are known, referred to area and mean chord aft of the hinge.

    Signed, positive trailing edge down; both slopes are negative for an unbalanced surface.
    """

    C_h0: float = number(
        "Coefficient at zero incidence and deflection.", default=0.0, least=-10, most=10
    )
    C_h_alpha: QuantityField = quantity_field(
        "slope", "Slope with incidence, such as '-0.4 1/rad'."
    )
    C_h_delta: QuantityField = quantity_field(
        "slope", "Slope with deflection, such as '-0.9 1/rad'."
    )
    band_low: float = number(
        "Lowest load, as a multiple of the one computed.", default=1.0, least=0, most=1
    )
    band_high: float = number(
        "Highest load, as a multiple of the one computed.", default=1.0, least=1, most=10
    )


@value_class
class PilotInput:
    """A pilot input that is mixed on a surface, with the deflection it asks for by itself."""

    name: str = text("What it is: pitch, yaw, roll, flap.")
    rate: QuantityField = quantity_field(
        "angle",
        "Deflection for full input, both sides alike.",
        bound="not negative",
        default=None,
        default_words="rate_up and rate_down",
    )
    rate_up: QuantityField = quantity_field(
        "angle",
        "Deflection for full input trailing edge up.",
        bound="not negative",
        default=None,
        default_words="rate",
    )
    rate_down: QuantityField = quantity_field(
        "angle",
        "Deflection for full input trailing edge down.",
        bound="not negative",
        default=None,
        default_words="rate",
    )
    sense: str = choice(
        ("alike", "opposite"),
        "Whether the port panel goes the same way as the starboard one, or the other way.",
        default="alike",
    )

    @rule("rate", "rate_up", "rate_down")
    def _asks_for_something(self) -> Iterator[InputError]:
        if not given(self, "rate") and not given(self, "rate_up", "rate_down"):
            yield InputError(
                "rate",
                told("nothing"),
                "the deflection for full input, such as '15 deg'",
                "Give rate, or both rate_up and rate_down.",
            )


@value_class
class ControlSurface:
    """A control surface aft of its hinge line.

    Deflection and hinge moment are positive trailing edge down, on a fin trailing
    edge to starboard; `throw_up` is the negative side.
    """

    span: QuantityField = quantity_field("length", "Length along the hinge line.", bound="positive")
    chord: QuantityField = quantity_field(
        "length", "Mean chord aft of the hinge line.", bound="positive"
    )
    throw: QuantityField = quantity_field(
        "angle",
        "Full throw, both sides alike.",
        bound="not negative",
        default=None,
        default_words="throw_up and throw_down",
    )
    throw_up: QuantityField = quantity_field(
        "angle",
        "Full throw trailing edge up (on a fin: to port).",
        bound="not negative",
        default=None,
        default_words="throw",
    )
    throw_down: QuantityField = quantity_field(
        "angle",
        "Full throw trailing edge down (on a fin: to starboard).",
        bound="not negative",
        default=None,
        default_words="throw",
    )
    mixing: tuple[PilotInput, ...] = parts(
        PilotInput, "Pilot inputs that are mixed on this surface.", least=0, default=()
    )
    taper: float = number(
        "Tip chord over root chord, both aft of the hinge line.", default=1.0, least=0, most=10
    )
    chord_ratio: float | None = number(
        "Chord aft of the hinge line over the whole chord.",
        default=None,
        least=0.01,
        most=1,
        default_words="0.4 (common practice, no source)",
    )
    plane: str | None = choice(
        ("level", "fin", "vee"),
        "How the surface lies: level, upright, or a panel of a vee.",
        default=None,
        default_words="level; with a hinge line in space: as that lies",
    )
    side: str = choice(("starboard", "port"), "Which panel of a pair this is.", default="starboard")
    dihedral: QuantityField = quantity_field(
        "angle", "Dihedral of a vee panel.", default=None, default_words="none; required for a vee"
    )
    section: str = choice(
        ("aerofoil", "slab"),
        "A shaped section, or a flat slab with square edges.",
        default="aerofoil",
    )
    C_h0: float = number(
        "Hinge-moment coefficient of the section's camber at zero incidence and deflection.",
        default=0.0,
        least=-10,
        most=10,
    )
    solver: str | None = text(
        "Hinge-moment solver by name.",
        default=None,
        default_words="coefficients where these are given, else thin_aerofoil",
    )
    coefficients: HingeMomentCoefficients | None = part(
        HingeMomentCoefficients,
        "Hinge-moment coefficients that are known.",
        default=None,
        default_words="none",
    )
    mass: QuantityField = quantity_field(
        "mass",
        "Mass of the moving surface.",
        bound="not negative",
        default=None,
        default_words="weight not counted",
    )
    mass_centre: QuantityField = quantity_field(
        "length",
        "Its centre of mass aft of the hinge line (negative: ahead of it).",
        default=None,
        default_words="required where the mass is given",
    )

    hinge_friction: QuantityField = quantity_field(
        "torque",
        "Friction of the hinges, as a moment about the hinge line.",
        bound="not negative",
        default=None,
        default_words="0 N·m, stated in the report",
    )

    @rule("throw", "throw_up", "throw_down", "mixing")
    def _has_a_throw(self) -> Iterator[InputError]:
        sides = given(self, "throw") or given(self, "throw_up", "throw_down")
        if not sides and not self.mixing:
            yield InputError(
                "throw",
                told("nothing"),
                "the full throw, such as '20 deg'",
                "Give throw, or both throw_up and throw_down.",
            )

    @rule("plane", "dihedral")
    def _dihedral_is_of_a_vee(self) -> Iterator[InputError]:
        if self.plane == "vee" and not given(self, "dihedral"):
            yield InputError(
                "dihedral",
                told("nothing"),
                "the dihedral of the vee panel, such as '35 deg'",
                "Give the dihedral.",
            )
        if self.plane != "vee" and given(self, "dihedral"):
            yield InputError(
                "dihedral",
                told("a dihedral on a surface that is no vee"),
                "none",
                "Set plane = 'vee', or leave the dihedral out.",
            )

    @rule("mass", "mass_centre")
    def _mass_has_a_centre(self) -> Iterator[InputError]:
        if given(self, "mass") != given(self, "mass_centre"):
            yield InputError(
                "mass",
                told("mass without mass_centre, or the reverse"),
                "both or neither",
                "Give the mass and where its centre lies aft of the hinge line.",
            )

    @rule("solver", "coefficients")
    def _coefficients_have_their_solver(self) -> Iterator[InputError]:
        if self.solver == "coefficients" and self.coefficients is None:
            yield InputError(
                "coefficients",
                told("nothing"),
                "the table of coefficients",
                "Give coefficients, or choose another solver.",
            )
        if self.coefficients is not None and self.solver not in {None, "coefficients"}:
            yield InputError(
                "solver",
                self.solver,
                "'coefficients', as coefficients are given",
                "Leave one of the two out.",
            )
