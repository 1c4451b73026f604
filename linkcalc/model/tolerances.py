"""What is said about tolerances as a whole: whether defaults stand in, and what moves together."""

from __future__ import annotations

from linkcalc.model.fields import choice, number, parts, text
from linkcalc.model.value_classes import ValueClass

__all__ = ["ToleranceGroup", "Tolerances"]


class ToleranceGroup(ValueClass):
    """Quantities whose errors go together, such as one batch of servos or one ruler."""

    name: str = text("What they have in common.")
    places: str = text(
        "Their keys, * for anything, such as 'runs[*].servo.rows[*].stall_torque' or 'runs[*].arm.radius'."
    )
    correlation: float = number(
        "Of the errors of any two of them, as of normal scores; 1 is one error in all.",
        default=1.0,
        least=-1,
        most=1,
    )


class Tolerances(ValueClass):
    """What a study of tolerances takes for granted; a check does not look at it."""

    defaults: str = choice(
        ("on", "off"),
        "Whether common tolerances stand in where a measured quantity states none.",
        default="on",
    )
    groups: tuple[ToleranceGroup, ...] = parts(
        ToleranceGroup, "Quantities whose errors go together.", least=0, most=32, default=()
    )
