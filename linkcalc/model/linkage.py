"""One surface and what moves it: a pushrod, or a chain of stages."""

from __future__ import annotations

from typing import TYPE_CHECKING

from linkcalc.errors import InputError, told
from linkcalc.model.fields import QuantityField, choice, part, parts, quantity_field
from linkcalc.model.joint import Joint
from linkcalc.model.pushrod import ControlHorn, Pushrod, ServoArm
from linkcalc.model.stage import LinkageStage
from linkcalc.model.surface import ControlSurface
from linkcalc.model.value_classes import ValueClass, given, rule

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = ["ControlHorn", "Linkage", "LinkageStage", "Pushrod", "ServoArm"]

_OF_A_STAGE = (
    "joint_rating",
    "joint_play",
    "horn_stiffness",
    "mount_stiffness",
    "rod_stiffness",
)


class Linkage(ValueClass):
    """One surface and what moves it from the servo shaft."""

    surface: ControlSurface = part(ControlSurface, "The surface.")
    arm: ServoArm | None = part(
        ServoArm,
        "The servo arm; a length is its radius.",
        default=None,
        default_words="required unless there are stages",
        shorthand="radius",
    )
    horn: ControlHorn | None = part(
        ControlHorn,
        "The control horn; a length is its radius.",
        default=None,
        default_words="required unless there are stages",
        shorthand="radius",
    )
    pushrod: Pushrod = part(
        Pushrod,
        "The pushrod; a length is hole to hole.",
        default=Pushrod(),
        default_words="see pushrod",
        shorthand="length",
    )
    stages: tuple[LinkageStage, ...] = parts(
        LinkageStage,
        "A chain from servo to surface, in place of arm, pushrod and horn.",
        least=0,
        most=8,
        default=(),
    )

    compliance: QuantityField = quantity_field(
        "angular compliance",
        "Deflection of the surface per hinge moment with the servo held, beside what stages and parts tell.",
        bound="not negative",
        default=None,
        default_words="0 deg/(N·m), stated in the report",
    )
    horn_stiffness: QuantityField = quantity_field(
        "stiffness",
        "Force along the rod per movement of the horn's hole against the surface.",
        bound="positive",
        default=None,
        default_words="a stiff horn",
    )
    mount_stiffness: QuantityField = quantity_field(
        "stiffness",
        "Force along the rod per movement of the arm's hole: arm, shaft and mount of the servo.",
        bound="positive",
        default=None,
        default_words="a stiff arm on a stiff mount",
    )
    rod_stiffness: QuantityField = quantity_field(
        "stiffness",
        "Force in the rod per stretch, where it is measured.",
        bound="positive",
        default=None,
        default_words="a stiff rod, or see rod_stretch",
    )
    rod_stretch: str = choice(
        ("not counted", "computed"),
        "Whether the rod's stretch follows from its length, diameters and material.",
        default="not counted",
        default_words="not counted",
    )
    joint_rating: QuantityField = quantity_field(
        "force",
        "What the weakest joint of the rod is rated for.",
        bound="positive",
        default=None,
        default_words="not given, not checked",
    )
    joints: tuple[Joint, ...] = parts(
        Joint,
        "Joints of the rod; the weakest counts, the joint rating among them.",
        least=0,
        most=8,
        default=(),
    )
    joint_play: QuantityField = quantity_field(
        "length",
        "Play of all joints of the rod together, along the rod.",
        bound="not negative",
        default=None,
        default_words="not given, not checked",
    )

    @rule("rod_stiffness", "rod_stretch")
    def _knows_its_rod_one_way(self) -> Iterator[InputError]:
        if self.rod_stretch == "computed" and given(self, "rod_stiffness"):
            yield InputError(
                "rod_stretch",
                told("computed, beside a rod_stiffness"),
                "one of the two",
                "Leave one of them out; a measured stiffness is the better one.",
            )

    @rule("arm", "horn", "stages", "pushrod", "joints", "rod_stretch", *_OF_A_STAGE)
    def _is_a_pushrod_or_a_chain(self) -> Iterator[InputError]:
        ends = {"arm": self.arm, "horn": self.horn}
        if not self.stages:
            for name in (name for name, end in ends.items() if end is None):
                yield InputError(
                    name,
                    told("nothing"),
                    "a table or a radius, such as '12 mm'",
                    "Add it, or give stages.",
                )
            return
        named = [name for name, end in ends.items() if end is not None]
        named += [name for name in _OF_A_STAGE if given(self, name)]
        named += ["joints"] if self.joints else []
        named += ["rod_stretch"] if self.rod_stretch != "not counted" else []
        named += ["pushrod"] if self.pushrod != Pushrod() else []
        for name in named:
            yield InputError(
                name,
                told(f"{name} beside stages"),
                f"{name} in the stage that it belongs to",
                "Move it into the stage, or leave the stages out.",
            )

    @rule("arm", "horn")
    def _has_ends_of_one_sort(self) -> Iterator[InputError]:
        if self.arm and self.horn and (self.arm.pivot is None) != (self.horn.pivot is None):
            yield InputError(
                "horn",
                told("one end in space, the other as a radius"),
                "both ends the same way",
                "Give pivot, axis and vector for arm and horn, or a radius for each.",
            )

    @rule("stages")
    def _is_drawn_one_way(self) -> Iterator[InputError]:
        ends = [end for stage in self.stages for end in (stage.arm, stage.horn) if end]
        if len({end.pivot is None for end in ends}) > 1:
            yield InputError(
                "stages",
                told("some stages in space, others by radii"),
                "all stages the same way",
                "Give pivot, axis and vector everywhere, or radii everywhere.",
            )
        axis = ends[-1].axis if ends else None
        if axis is not None and not (axis[1] > 0 or (axis[1] == 0 and axis[2] > 0)):
            yield InputError(
                "stages",
                told("a hinge line that points to port, down or aft"),
                "a last horn whose axis points to starboard, on a fin upwards",
                "Turn the three numbers round; deflection is then positive trailing edge down.",
            )
