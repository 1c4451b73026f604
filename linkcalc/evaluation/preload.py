"""What the preload of cables costs at the servo's shaft, and what is left of it over the travel."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from linkcalc.mechanism.cables import Cables
from linkcalc.mechanism.rods import reaction
from linkcalc.model.defaults import DEFAULTS
from linkcalc.model.value_classes import given, si

if TYPE_CHECKING:
    from collections.abc import Sequence

    from linkcalc.evaluation.gather_chains import Made
    from linkcalc.evaluation.inputs import Cases, Runs
    from linkcalc.evaluation.notes import Notes
    from linkcalc.mechanism.chain import Chain
    from linkcalc.model import ControlRun, LinkageStage

__all__ = ["with_preload"]

_ANGLES = 41  # servo angles at which tensions are looked at


def with_preload(
    made: Runs, runs: Sequence[ControlRun], chains: dict[int, Made], cases: Cases, notes: Notes
) -> Runs:
    r"""Add the friction that preload makes, and tell what is left of the preload.

    Cables that pull a shaft of radius r with a resultant force N rub in its bearings by
    :math:`\mu N r`; a shaft that turns at a rate m of the servo's costs the servo m times that.
    At neutral, without load.

    Parameters
    ----------
    made : Runs
        With the shaft friction that is given.
    runs : sequence of ControlRun
        Of an aircraft.
    chains : dict of int to Made
        Surfaces that have stages.
    cases : Cases
        Whose throws are the travel.
    notes : Notes
        Receives what was counted, and what was not.

    Returns
    -------
    Runs
        With the friction of every servo's shaft; the same if no cable has a preload.
    """
    friction = made.shaft_friction.copy()
    surface = -1
    for number, run in enumerate(runs):
        for place, linkage in enumerate(run.linkages):
            surface += 1
            for index, stage in enumerate(linkage.stages):
                if not si(stage, "preload", 0.0) > 0:
                    continue
                chain = chains[surface].chain
                told = notes.runs[number]
                friction[number] += _friction(chain, index, stage, run, told)
                throws = cases.throw_low[..., number].min(), cases.throw_high[..., number].max()
                _tell_what_is_left(chain, index, None if place else throws, run, told)
    return made._replace(shaft_friction=friction)


def _friction(
    chain: Chain, index: int, stage: LinkageStage, run: ControlRun, told: list[str]
) -> float:
    """Return what a pair of cables adds at each servo's shaft [N m]."""
    if stage.bearing_friction is None:
        if not given(run, "shaft_friction"):
            told.append("friction from preload not given, not counted")
        return 0.0
    if given(run, "shaft_friction"):
        told.append("friction from preload: shaft_friction as given, none computed beside it")
        return 0.0
    hold = chain.statics(0.0, 0.0).holds[index]
    pull = (hold.tension[..., None] * hold.direction).sum(axis=0)
    force = float(reaction(pull, chain.stages[index].input_axis).radial)
    rate = abs(float(np.prod(chain.follow(0.0).slopes[:index])))
    rubbed = stage.bearing_friction * force * 0.5 * si(stage, "bearing_diameter") * rate
    rubbed /= run.servo_count
    told.append(
        f"friction from preload: {rubbed * 1000:.3g} mN m at the servo's shaft, from {force:.3g} N "
        "on the shaft that drives the cables"
    )
    return rubbed


def _tell_what_is_left(
    chain: Chain, index: int, throws: tuple[float, float] | None, run: ControlRun, told: list[str]
) -> None:
    """Tell the least tension of either cable over the travel, without load."""
    stage = chain.stages[index]
    if not isinstance(stage, Cables):
        raise AssertionError  # noqa: TRY004 - the model's rules let no other stage have a preload
    start = float(stage.preload.min())
    if not np.isfinite(stage.stiffness).all():
        told.append(
            f"loss of the preload of {start:.3g} N over the travel not known: stiffness not given"
        )
        return
    ends = np.array([-1.0, 1.0]) * si(run.servo, "travel", DEFAULTS["servo travel"].value)
    if throws is not None:
        turned = chain.invert(np.array(throws)).input_angle
        ends = np.where(np.isnan(turned), ends, turned)
    angles = np.linspace(ends[0], ends[1], _ANGLES)
    here = chain.follow(angles).angles[index]
    least = stage.stretched(here, 0.0).tension.min(axis=0)
    if np.isnan(least).all():
        told.append("loss of preload over the travel not known: the cables reach no rest there")
        return
    where = int(np.nanargmin(least))
    left = float(least[where])
    told.append(
        f"preload of {start:.3g} N at neutral: without load at least {left:.3g} N over the travel, "
        f"a loss of {max(start - left, 0.0):.3g} N, at {math.degrees(angles[where]):.3g} deg of the servo"
    )
