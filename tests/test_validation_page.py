"""The page of validation and the code say the same."""

import importlib.util
import math
from pathlib import Path

import numpy as np
import pytest

from linkcalc_hinge_moment import all_moving, band
from linkcalc_hinge_moment.thin_aerofoil import (
    DEFLECTION_SHARE,
    INCIDENCE_SHARE,
    ThinAerofoil,
)

_SPEC = importlib.util.spec_from_file_location(
    "validation_page", Path(__file__).with_name("validation_page.py")
)
validation = importlib.util.module_from_spec(_SPEC)
_SPEC.loader.exec_module(validation)
rows = validation.validation_rows


def number(word):
    try:
        return float(word)
    except ValueError:
        return None


def test_the_page_is_what_the_code_makes_of_the_references():
    # numbers within one of their last printed digit: machines round differently
    written, made = validation.PAGE.read_text(encoding="utf-8").split(), validation.page().split()
    remedy = "run python tests/validation_page.py and read what has changed"
    assert len(written) == len(made), remedy
    for old, new in zip(written, made, strict=True):
        if number(old) is None or "." not in old:
            assert old == new, remedy
        else:
            digit = 10.0 ** -len(old.rstrip(".").partition(".")[2])
            assert number(new) == pytest.approx(number(old), rel=0, abs=1.01 * digit), remedy


CASES = [case for cases in rows.by_source().values() for case in cases]


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.row["id"])
def test_a_published_value_is_met_or_said_not_to_be_computed(case):
    if math.isnan(case.got):
        assert case.why
        material = case.row["quantity"] == "modulus of elasticity"
        assert material or case.row["quantity"] in rows.NOT_COMPUTED
    else:
        assert abs(case.got - case.expected) <= case.allowed


def test_every_reference_is_among_the_cases_and_nothing_is_named_in_vain():
    quantities = {case.row["quantity"] for case in CASES}
    assert set(rows.MADE) | set(rows.NOT_COMPUTED) == quantities
    assert not set(rows.MADE) & set(rows.NOT_COMPUTED)
    assert set(rows.WIDER) <= set(rows.MADE)
    assert {path.stem for path in rows.REFERENCES.iterdir()} == {*rows.FILES, "hinge_viscous"}
    assert len(CASES) == sum(len(rows.rows(name)) for name in rows.FILES)


def test_widths_in_the_code_follow_from_the_residuals():
    facts = validation.facts()
    assert facts["width"] == band.LOW_REYNOLDS_WIDTH
    assert facts["whole width"] == all_moving.LOW_REYNOLDS_WIDTH
    # the shares are those of the charts, and on the safe side of what computed sections ask for
    assert facts["charted incidence share"] == INCIDENCE_SHARE
    assert facts["charted deflection share"] == DEFLECTION_SHARE
    # the best line keeps at least what sections ask for, the low line at most what they kept
    assert facts["incidence share"] <= INCIDENCE_SHARE
    assert facts["deflection share"] <= DEFLECTION_SHARE
    assert facts["least share"] >= band.LOW_SHARE


def test_the_coverage_that_is_promised_is_told_wherever_the_width_is():
    percent = f"{validation.facts()['coverage']:.0f} %"
    root = Path(__file__).resolve().parent.parent
    for place in ("docs/limits.md", "docs/theory.md"):
        assert percent in (root / place).read_text(encoding="utf-8"), place
    assert percent in band.low_reynolds_widening.__doc__
    assert percent in " ".join(ThinAerofoil.__doc__.split())


def test_how_far_the_best_line_is_on_the_safe_side_is_told_where_it_is_used():
    facts = validation.facts()
    root = Path(__file__).resolve().parent.parent
    for fit in (facts["incidence share"], facts["deflection share"]):
        told = f"{fit:.2f}"
        assert told in (root / "docs" / "theory.md").read_text(encoding="utf-8")
        assert told in ThinAerofoil.__doc__


def test_sections_that_move_as_a_whole_lie_inside_the_band():
    cases = validation.whole_sections()
    reynolds = np.where(cases.reynolds == 0, validation.INVISCID, cases.reynolds)
    for hinge in validation.HINGES:
        made = validation.as_a_whole(cases, hinge, reynolds)
        assert (made.low <= made.reference + 1e-9).all()
        assert (made.reference <= made.high + 1e-9).all()


def test_no_computed_section_bears_more_than_the_high_line():
    cases = validation.sections()
    high = validation.predicted(ThinAerofoil(), cases)["high"]
    reference = validation.against(cases) * cases.C_h
    size = np.where(cases.delta == 0, np.abs(reference), reference)
    assert (size <= high + 1e-9).all()


def test_attached_sections_lie_inside_the_band():
    cases = validation.sections()
    taken = cases.where(validation.attached(cases))
    lines = validation.predicted(ThinAerofoil(), taken)
    assert (lines["low"] <= validation.against(taken) * taken.C_h + 1e-9).all()
