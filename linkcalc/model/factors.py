"""Every factor of safety, with its default and its source."""

from __future__ import annotations

from linkcalc.model.fields import number, value_class

__all__ = ["SafetyFactors"]

_PRACTICE = "common practice, no source"
_LIMIT = "the limit itself is the criterion"


@value_class
class SafetyFactors:
    """Factors of safety; each is printed beside the number that it changed."""

    torque: float = number(
        "On the torque needed to move the surface.",
        default=1.25,
        least=1,
        most=10,
        default_words="1.25 (14 CFR 23 App. A, A23.13(a)(1); 14 CFR 25.395(a): on computed hinge moments, for the whole control system)",
    )
    datasheet: float = number(
        "Divides the printed stall torque.",
        default=1.2,
        least=1,
        most=10,
        default_words=f"1.2 ({_PRACTICE})",
    )
    current: float = number(
        "On the current that the source has to give.",
        default=1.2,
        least=1,
        most=10,
        default_words=f"1.2 ({_PRACTICE})",
    )
    voltage: float = number(
        "On the minimum voltages.", default=1.0, least=1, most=10, default_words=f"1.0 ({_LIMIT})"
    )
    over_voltage: float = number(
        "On the voltage without load.",
        default=1.0,
        least=1,
        most=10,
        default_words=f"1.0 ({_LIMIT})",
    )
    travel: float = number(
        "On the deflection asked for.",
        default=1.0,
        least=1,
        most=10,
        default_words=f"1.0 ({_LIMIT})",
    )
