"""Every factor of safety, and the proof load on the bench, with defaults and sources."""

from __future__ import annotations

from linkcalc.model.fields import QuantityField, number, quantity_field
from linkcalc.model.value_classes import ValueClass

__all__ = ["ProofLoad", "SafetyFactors"]

_PRACTICE = "common practice, no source"
_LIMIT = "the limit itself is the criterion"


class SafetyFactors(ValueClass):
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
    mismatch: float = number(
        "On the share of each of several servos on one surface.",
        default=1.2,
        least=1,
        most=10,
        default_words=f"1.2 ({_PRACTICE})",
    )
    hold: float = number(
        "On the torque held for long.",
        default=1.0,
        least=1,
        most=10,
        default_words=f"1.0 ({_PRACTICE})",
    )
    hold_fraction: float = number(
        "Share of the stall torque that a servo may hold for long.",
        default=1 / 3,
        least=0.01,
        most=1,
        default_words=f"1/3 ({_PRACTICE})",
    )
    speed: float = number(
        "On the rate that is wanted.",
        default=1.0,
        least=1,
        most=10,
        default_words=f"1.0 ({_LIMIT})",
    )
    buckling: float = number(
        "On the compression of a rod, beside the factor on torque.",
        default=1.5,
        least=1,
        most=10,
        default_words="1.5 (limit to ultimate, 14 CFR 23.303)",
    )
    joint: float = number(
        "On the force in a joint, beside the factor on torque.",
        default=3.33,
        least=1,
        most=10,
        default_words="3.33 (push-pull joints, 14 CFR 23.693)",
    )
    cable_joint: float = number(
        "On the force in a joint of cables, beside the factor on torque.",
        default=2.0,
        least=1,
        most=10,
        default_words="2.0 (joints of cable systems, 14 CFR 23.693)",
    )
    source_heat: float = number(
        "On the heat of a linear regulator.",
        default=1.0,
        least=1,
        most=10,
        default_words=f"1.0 ({_LIMIT})",
    )
    gear: float = number(
        "On the torque that the gears hold.",
        default=1.5,
        least=1,
        most=10,
        default_words=f"1.5 ({_PRACTICE})",
    )
    free_play: float = number(
        "On the play at the surface.",
        default=1.0,
        least=1,
        most=10,
        default_words=f"1.0 ({_LIMIT})",
    )
    free_play_limit: QuantityField = quantity_field(
        "angle",
        "Total play at the surface that is allowed.",
        bound="positive",
        default="1 deg",
        default_words="1 deg (common practice, no source; stricter published limits exist)",
    )
    divergence: float = number(
        "On the static divergence of an elastic linkage.",
        default=1.0,
        least=1,
        most=10,
        default_words=f"1.0 ({_LIMIT})",
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


class ProofLoad(ValueClass):
    """What the bench sheet asks for; a check does not look at it."""

    factor: float = number(
        "On the governing hinge moment.",
        default=1.25,
        least=0.1,
        most=10,
        default_words=f"1.25, that of the factor on torque ({_PRACTICE})",
    )
    lever: float = number(
        "Where the load goes: share of the mean chord aft of the hinge line.",
        default=0.5,
        least=0.1,
        most=1,
        default_words=f"0.5 ({_PRACTICE})",
    )
    time: QuantityField = quantity_field(
        "time",
        "How long it is held.",
        bound="positive",
        default="10 s",
        default_words=f"10 s ({_PRACTICE})",
    )
