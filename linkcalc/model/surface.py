"""A control surface: what the air and gravity take hold of."""

from __future__ import annotations

from typing import TYPE_CHECKING

from linkcalc.errors import InputError, told
from linkcalc.model.fields import (
    QuantityField,
    choice,
    number,
    part,
    parts,
    quantity_field,
    text,
    vector,
)
from linkcalc.model.planform import Planform, misfits
from linkcalc.model.value_classes import ValueClass, given, rule

if TYPE_CHECKING:
    from collections.abc import Iterator

    from linkcalc.physics.camber import Camber

__all__ = [
    "ControlSurface",
    "HingeMomentCoefficients",
    "PilotInput",
    "SectionPoint",
    "section_camber",
]


class HingeMomentCoefficients(ValueClass):
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


class PilotInput(ValueClass):
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


class SectionPoint(ValueClass):
    """A point of a section, in chords or in any other unit that all its points share."""

    x: float = number("How far aft.", least=-1e4, most=1e4)
    z: float = number("How far up.", least=-1e4, most=1e4)


class ControlSurface(ValueClass):
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
    behind: str = choice(
        ("nothing", "wing", "propeller", "wing and propeller"),
        "What shapes the stream here: the wing's downwash, the propeller's slipstream.",
        default="nothing",
    )
    setting: QuantityField = quantity_field(
        "angle",
        "Setting against the line that incidence is measured from, leading edge up positive (on a fin: to port).",
        default="0 deg",
    )
    station: tuple[float, float, float] | None = vector(
        "length",
        "Middle of the surface from the centre of gravity, for rates of roll, pitch and yaw.",
        default=None,
        default_words="none: rates of turn are not counted here",
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
    c_l0: float = number(
        "Lift coefficient of the section's camber at zero incidence and deflection.",
        default=0.0,
        least=-5,
        most=5,
    )
    camber_line: tuple[SectionPoint, ...] = parts(
        SectionPoint,
        "Points of the section's mean line from leading to trailing edge; C_h0 and c_l0 follow.",
        least=0,
        default=(),
        most=400,
    )
    coordinates: tuple[SectionPoint, ...] = parts(
        SectionPoint,
        "Points of the section's outline, from the trailing edge once round; C_h0 and c_l0 follow.",
        least=0,
        default=(),
        most=400,
    )
    thickness_ratio: float | None = number(
        "Thickness of the section over its chord, for the solver handbook.",
        default=None,
        least=0,
        most=0.3,
        default_words="none; the handbook needs it",
    )
    lift_slope_ratio: float | None = number(
        "Lift slope of the section over that of theory, for the solver handbook.",
        default=None,
        least=0.3,
        most=1.2,
        default_words="0.90 + 0.03 log10(Re / 1e6), 0.85 to 0.95 (common practice, no source)",
    )
    gap: str = choice(
        ("sealed", "open"), "Whether air can pass through the gap at the hinge.", default="sealed"
    )
    overhang: float = number(
        "Chord of the surface ahead of the hinge line over that aft of it.",
        default=0.0,
        least=0,
        most=1,
    )
    hinge_position: float | None = number(
        "Of a surface that moves as a whole: hinge aft of the leading edge over the chord; chord is then the whole chord.",
        default=None,
        least=0,
        most=1,
        default_words="none: a flap with the hinge at its leading edge",
    )
    aspect_ratio: float | None = number(
        "Aspect ratio of the whole surface: wing, tailplane or fin with what it is hinged to.",
        default=None,
        least=0.1,
        most=100,
        default_words="infinite: no relief by finite span is counted",
    )
    published_play_limit: str | None = choice(
        (
            "aileron beyond 75 % of the span",
            "aileron at 50 to 75 % of the span",
            "aileron inboard of 50 % of the span",
            "tab, span under 35 % of the surface",
            "tab, span 35 % of the surface or more",
            "all-moving surface",
        ),
        "Kind of surface whose published limit of free play the cautions about flutter hold against it.",
        default=None,
        default_words="all-moving surface where hinge_position is given, else none",
    )
    planform: Planform | None = part(
        Planform,
        "The whole surface, for the solver lattice.",
        default=None,
        default_words="none; the lattice needs it",
    )
    credit: str = choice(
        ("none", "span", "incidence", "span and incidence"),
        "What the high line takes credit for: the relief of a finite span by aspect_ratio, an incidence that helps to deflect.",
        default="none",
    )
    solver: str | None = text(
        "Hinge-moment solver by name.",
        default=None,
        default_words="coefficients where these are given, moment where that is, all_moving where hinge_position is, else thin_aerofoil",
    )
    coefficients: HingeMomentCoefficients | None = part(
        HingeMomentCoefficients,
        "Hinge-moment coefficients that are known.",
        default=None,
        default_words="none",
    )
    moment: QuantityField = quantity_field(
        "torque",
        "Moment about the hinge line that is known, either way, at any speed: a rudder in water, a steerable wheel.",
        bound="not negative",
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

    @rule("chord_ratio", "overhang", "hinge_position")
    def _hinge_is_in_the_surface(self) -> Iterator[InputError]:
        if self.chord_ratio is None or self.hinge_position is not None:
            return
        if self.chord_ratio * (1 + self.overhang) > 1 + 1e-9:
            yield InputError(
                "overhang",
                told(
                    f"an overhang of {self.overhang:g} beside a chord_ratio of {self.chord_ratio:g}"
                ),
                f"at most {1 / self.chord_ratio - 1:.3g}, where the leading edge of the whole chord is",
                "Check overhang (ahead of the hinge over aft of it) and chord_ratio.",
            )

    @rule("chord_ratio", "hinge_position", "coefficients", "moment")
    def _all_moving_turns_somewhere(self) -> Iterator[InputError]:
        known = self.hinge_position is not None or self.coefficients or given(self, "moment")
        if self.chord_ratio == 1 and not known:
            yield InputError(
                "hinge_position",
                told("nothing, beside a chord_ratio of 1: a surface that moves as a whole"),
                "where it pivots, aft of its leading edge over its chord, such as 0.25",
                "Leave chord_ratio out and give hinge_position (chord is then the whole chord), or coefficients or the moment if you know them.",
            )

    @rule("solver", "moment", "coefficients")
    def _moment_stands_alone(self) -> Iterator[InputError]:
        known, name = given(self, "moment"), self.solver
        if known and (self.coefficients is not None or name not in {None, "moment"}):
            yield InputError(
                "moment",
                told("a moment beside another way to tell it"),
                "one of the two",
                "Leave one out.",
            )
        if name == "moment" and not known:
            yield InputError(
                "moment",
                told("nothing"),
                "the moment about the hinge line, such as '0.2 N*m'",
                "Give the moment, or choose another solver.",
            )

    @rule("camber_line", "coordinates", "C_h0", "c_l0", "overhang")
    def _section_is_drawn_once(self) -> Iterator[InputError]:
        given_as = [bool(self.camber_line), bool(self.coordinates), bool(self.C_h0 or self.c_l0)]
        if sum(given_as) > 1:
            yield InputError(
                "camber_line",
                told("more than one of camber_line, coordinates, and C_h0 or c_l0"),
                "one of them",
                "Leave the others out: C_h0 and c_l0 follow from the points.",
            )
        try:
            section_camber(self, 0.5)
        except InputError as error:
            yield error

    @rule("solver", "planform", "thickness_ratio", "hinge_position")
    def _solver_has_what_it_needs(self) -> Iterator[InputError]:
        needs = {
            "lattice": (
                "planform",
                "the whole surface: half_span, root_chord and tip_chord, or stations",
            ),
            "handbook": ("thickness_ratio", "thickness over chord of the section, such as 0.09"),
            "all_moving": (
                "hinge_position",
                "hinge aft of the leading edge over the chord, such as 0.25",
            ),
        }
        name, wanted = needs.get(self.solver or "", ("", ""))
        if name and getattr(self, name) is None:
            yield InputError(
                name, told("nothing"), wanted, f"Give {name}, or choose another solver."
            )
        if self.hinge_position is not None and self.solver not in {
            None,
            "all_moving",
            "coefficients",
        }:
            yield InputError(
                "hinge_position",
                told(f"a hinge_position beside the solver {self.solver!r}"),
                "the solver all_moving",
                "Leave the solver out, or leave hinge_position out.",
            )

    @rule("credit", "aspect_ratio")
    def _credit_has_a_span(self) -> Iterator[InputError]:
        if "span" in self.credit and self.aspect_ratio is None:
            yield InputError(
                "aspect_ratio",
                told("nothing"),
                "the aspect ratio of the whole surface, such as 5",
                "Give the aspect ratio, or leave credit out.",
            )

    @rule("planform", "span", "chord", "chord_ratio", "plane")
    def _planform_holds_the_surface(self) -> Iterator[InputError]:
        if self.planform is not None:
            yield from misfits(self, self.planform)


def section_camber(surface: ControlSurface, chord_ratio: float) -> Camber:
    """Return what the camber of a surface's section does to its hinge and lift.

    Parameters
    ----------
    surface : ControlSurface
        As described: by points of the mean line, by its outline, or by coefficients.
    chord_ratio : float
        Chord aft of the hinge line over the whole chord [1].

    Returns
    -------
    Camber
        Coefficients at zero incidence and deflection.

    Raises
    ------
    InputError
        Points that are no line and no outline.
    """
    from linkcalc.physics.camber import Camber, camber_coefficients, mean_line  # noqa: PLC0415 - most files have no points

    points = surface.camber_line or surface.coordinates
    if not points:
        return Camber(surface.C_h0, surface.c_l0)
    x, z = [point.x for point in points], [point.z for point in points]
    line = (x, z) if surface.camber_line else mean_line(x, z)
    return camber_coefficients(*line, chord_ratio=chord_ratio, overhang=surface.overhang)
