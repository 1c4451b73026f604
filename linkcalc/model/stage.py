"""One stage of a linkage that is a chain: pushrod, pull-pull cables, torque rod or direct drive."""

from __future__ import annotations

from typing import TYPE_CHECKING

from linkcalc.errors import InputError, told
from linkcalc.model.fields import QuantityField, choice, number, part, parts, quantity_field
from linkcalc.model.joint import Joint
from linkcalc.model.pushrod import Pushrod, ServoArm
from linkcalc.model.value_classes import ValueClass, given, rule, stated

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = ["LinkageStage"]

_ROD, _CABLES, _TORQUE_ROD, _DRIVE = KINDS = ("pushrod", "cables", "torque rod", "direct drive")

_KEYS = {
    "arm": (_ROD, _CABLES),
    "horn": (_ROD, _CABLES),
    "turn": (_ROD, _CABLES),
    "joint_rating": (_ROD, _CABLES),
    "joint_limit": (_ROD, _CABLES),
    "joint_play": (_ROD,),
    "pushrod": (_ROD,),
    "other_arm": (_CABLES,),
    "other_horn": (_CABLES,),
    "slack": (_CABLES,),
    "preload": (_CABLES,),
    "bearing_friction": (_CABLES,),
    "bearing_diameter": (_CABLES,),
    "stiffness": (_ROD, _CABLES),
    "length": (_CABLES, _TORQUE_ROD),
    "diameter": (_TORQUE_ROD,),
    "bent_length": (_TORQUE_ROD,),
    "shear_modulus": (_TORQUE_ROD,),
    "modulus": (_TORQUE_ROD,),
}


class LinkageStage(ValueClass):
    """One stage of a chain; each turns what the one before it has turned."""

    kind: str = choice(KINDS, "What it is made of.")
    arm: ServoArm | None = part(
        ServoArm,
        "Arm that drives it, the servo's or a bellcrank's; a length is its radius.",
        default=None,
        default_words="required of pushrod and cables",
        shorthand="radius",
    )
    horn: ServoArm | None = part(
        ServoArm,
        "Arm that it drives, a bellcrank's or the horn; a length is its radius.",
        default=None,
        default_words="required of pushrod and cables",
        shorthand="radius",
    )
    pushrod: Pushrod | None = part(
        Pushrod,
        "The rod; a length is hole to hole.",
        default=None,
        default_words="see pushrod",
        shorthand="length",
    )
    turn: QuantityField = quantity_field(
        "angle",
        "Direction of its rod or cables from that of the stage before, for the load on the bellcrank.",
        default=None,
        default_words="0 deg",
    )
    other_arm: ServoArm | None = part(
        ServoArm,
        "Arm of the second cable.",
        default=None,
        default_words="as arm, on the other side of the axis",
        shorthand="radius",
    )
    other_horn: ServoArm | None = part(
        ServoArm,
        "Horn of the second cable.",
        default=None,
        default_words="as horn, on the other side of the axis",
        shorthand="radius",
    )
    slack: QuantityField = quantity_field(
        "length",
        "What each cable is too long at neutral.",
        bound="not negative",
        default=None,
        default_words="0 mm",
    )
    preload: QuantityField = quantity_field(
        "force",
        "Tension of each cable at neutral without load.",
        bound="not negative",
        default=None,
        default_words="0 N",
    )
    bearing_friction: float | None = number(
        "Coefficient of friction in the bearings of the shaft that drives the cables.",
        default=None,
        least=0,
        most=1.5,
        default_words="friction from preload not counted",
    )
    bearing_diameter: QuantityField = quantity_field(
        "length",
        "Diameter of that shaft in its bearings.",
        bound="positive",
        default=None,
        default_words="required beside bearing_friction",
    )
    stiffness: QuantityField = quantity_field(
        "stiffness",
        "Tension of the rod or of a cable per stretch.",
        bound="positive",
        default=None,
        default_words="does not stretch",
    )
    length: QuantityField = quantity_field(
        "length",
        "Of cables hole to hole; of a torque rod between driven end and bend.",
        bound="positive",
        default=None,
        default_words="cables: 10 x the longer radius; in space: as drawn; required of a torque rod",
    )
    diameter: QuantityField = quantity_field(
        "length",
        "Of a torque rod.",
        bound="positive",
        default=None,
        default_words="required of a torque rod",
    )
    bent_length: QuantityField = quantity_field(
        "length",
        "Of a torque rod, from the hinge line to where its bent end bears.",
        bound="not negative",
        default=None,
        default_words="0 mm",
    )
    shear_modulus: QuantityField = quantity_field(
        "pressure",
        "Of a torque rod.",
        bound="positive",
        default=None,
        default_words="79 GPa, steel wire (standard handbook value, from memory)",
    )
    modulus: QuantityField = quantity_field(
        "pressure",
        "Modulus of elasticity of a torque rod.",
        bound="positive",
        default=None,
        default_words="203 GPa, steel wire (standard handbook value, from memory)",
    )
    joint_rating: QuantityField = quantity_field(
        "force",
        "What the weakest joint of this stage is rated for.",
        bound="positive",
        default=None,
        default_words="not given, not checked",
    )
    joints: tuple[Joint, ...] = parts(
        Joint,
        "Its joints; the weakest counts, the joint rating among them.",
        least=0,
        most=8,
        default=(),
    )
    joint_play: QuantityField = quantity_field(
        "length",
        "Play of both joints together, along the rod.",
        bound="not negative",
        default=None,
        default_words="not given, not checked",
    )
    joint_limit: QuantityField = quantity_field(
        "angle",
        "Greatest lean of its joints, clevis or ball link, out of the plane square to their pins.",
        bound="positive",
        default=None,
        default_words="not given, not checked",
    )

    @rule("kind", "joints", *_KEYS)
    def _has_what_its_kind_has(self) -> Iterator[InputError]:
        for name, kinds in _KEYS.items():
            if stated(self, name) is not None and self.kind not in kinds:
                yield InputError(
                    name,
                    told(f"{name} in a stage of the kind {self.kind!r}"),
                    f"{name} in a stage of the kind {' or '.join(map(repr, kinds))}",
                    "Leave it out, or check the kind.",
                )
        if self.joints and self.kind not in {_ROD, _CABLES}:
            yield InputError(
                "joints",
                told(f"joints in a stage of the kind {self.kind!r}"),
                "joints in a stage of pushrod or cables",
                "Leave them out, or check the kind.",
            )
        needed = ("arm", "horn") if self.kind in {_ROD, _CABLES} else ()
        needed = ("length", "diameter") if self.kind == _TORQUE_ROD else needed
        for name in needed:
            if stated(self, name) is None:
                yield InputError(
                    name,
                    told("nothing"),
                    f"{name}, which a stage of the kind {self.kind!r} needs",
                    "Give it at this stage, or choose another kind.",
                )

    @rule("arm", "horn", "other_arm", "other_horn")
    def _has_ends_of_one_sort(self) -> Iterator[InputError]:
        ends = [end for end in (self.arm, self.horn, self.other_arm, self.other_horn) if end]
        if len({end.pivot is None for end in ends}) > 1:
            yield InputError(
                "horn",
                told("one end in space, another as a radius"),
                "all ends the same way",
                "Give pivot, axis and vector for each, or a radius for each.",
            )
        for name, first, other in (
            ("other_arm", self.arm, self.other_arm),
            ("other_horn", self.horn, self.other_horn),
        ):
            if first and other and (first.pivot, first.axis) != (other.pivot, other.axis):
                yield InputError(
                    name,
                    told("another pivot or axis than that of the first cable"),
                    "the same pivot and axis",
                    "Both cables work on one body; only the vectors differ.",
                )

    @rule("bearing_friction", "bearing_diameter")
    def _has_a_shaft_that_rubs(self) -> Iterator[InputError]:
        if self.bearing_friction is not None and not given(self, "bearing_diameter"):
            yield InputError(
                "bearing_diameter",
                told("nothing beside bearing_friction"),
                "the diameter of the shaft that drives the cables, such as '6 mm'",
                "Give both, or shaft_friction of the run if it is measured.",
            )

    @rule("slack", "preload")
    def _is_slack_or_tight(self) -> Iterator[InputError]:
        if given(self, "slack", "preload") and min(
            stated(self, "slack").si, stated(self, "preload").si
        ):
            yield InputError(
                "slack",
                told("slack and preload at once"),
                "one of the two",
                "Cables that are slack at neutral have no preload.",
            )
