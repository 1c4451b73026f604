"""Parts that contradict themselves are refused, each with what was found."""

import pytest

from linkcalc.errors import InputError, InputFaults
from linkcalc.model import Battery, LinkageStage, Pushrod, ServoArm, Supply

SPACE = {"pivot": ["0 m", "0 m", "0 m"], "axis": [0, 1, 0], "vector": ["0 m", "0 m", "9 mm"]}
ELSEWHERE = SPACE | {"pivot": ["9 mm", "0 m", "0 m"]}
CELLS = {"chemistry": "lithium ion", "cells": 2, "cell_resistance": "9 mohm"}
LINEAR = {"input_voltage": "8.4 V", "heat_rating": "3 W"}


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (ServoArm, "the hole's radius"),
        (lambda: ServoArm(radius="9 mm", **SPACE), "a radius and a layout in space"),
        (lambda: ServoArm(pivot=SPACE["pivot"]), "part of a layout in space"),
        (
            lambda: Pushrod(length="90 mm", diameter="2 mm", inner_diameter="2 mm"),
            "less than the outer diameter",
        ),
        (
            lambda: LinkageStage(
                kind="pushrod", arm=ServoArm(radius="9 mm"), horn=ServoArm(**SPACE)
            ),
            "one end in space, another as a radius",
        ),
        (
            lambda: LinkageStage(
                kind="cables",
                arm=ServoArm(**SPACE),
                horn=ServoArm(**ELSEWHERE),
                other_arm=ServoArm(**ELSEWHERE),
            ),
            "another pivot or axis than that of the first cable",
        ),
        (
            lambda: Supply(
                current_limit="none", battery=Battery(**CELLS), internal_resistance="9 mohm"
            ),
            "a battery with an internal resistance",
        ),
        (
            lambda: Supply(current_limit="none", voltage="6 V", regulator="linear"),
            "without its input voltage",
        ),
        (
            lambda: Supply(current_limit="none", voltage="6 V", **LINEAR),
            "as its input voltage or heat rating is given",
        ),
        (
            lambda: Supply(current_limit="none", voltage="9 V", regulator="linear", **LINEAR),
            "8.4 V",
        ),
    ],
)
def test_a_part_that_contradicts_itself_is_refused(make, words):
    with pytest.raises((InputError, InputFaults), match=words):
        make()
