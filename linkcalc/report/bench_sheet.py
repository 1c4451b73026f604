"""The bench sheet: proof loads, what to expect, limits for pass, and boxes for what was read."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

from linkcalc.model.value_classes import stated
from linkcalc.report.layout import WIDTH, cut, heading, printable, wrapped
from linkcalc.report.measures import METRIC, figure
from linkcalc.study.proof import READING

if TYPE_CHECKING:
    from collections.abc import Iterator

    from linkcalc.report.measures import Measures
    from linkcalc.study.proof import Proof, ProofRun, ProofSurface

__all__ = ["CAUTIONS", "METER", "STEPS", "Reading", "bench_html", "bench_text"]

METER = {"voltage": 0.02, "current": 0.10}
"""What a field meter may be wrong by, as a share (common practice, no source)."""

NAME = 120  # characters of a name that a sheet shows

STEPS = (
    (
        "Take the propeller off, and leave the motor's own battery or fuel disconnected throughout. A "
        "spinning propeller has no place at a bench."
    ),
    (
        "Tie the aircraft down in the attitude named below on stands that cannot tip; pad whatever a "
        "mass could fall on, and let it hang no more than a hand's breadth above that. Nobody under "
        "it, no feet, no children, no animals. Wear eye protection."
    ),
    (
        "Switch on as for flight: the supply, leads, plugs and other loads that will fly. Note the "
        "voltage at the servo's plug at rest, and the free play at the trailing edge."
    ),
    (
        "Without a load, command the deflection and read it on the throw card; back to neutral. Keep "
        "fingers out of the gap, off the horn and off the arm whenever the servo has power."
    ),
    (
        "At neutral, with the mass still on its rest, fix strap and batten on the chord line named; "
        "spread the load so that it dents nothing. Step back before anything moves."
    ),
    (
        "Start with a third of the load, then two thirds, then all of it: command the deflection "
        "slowly, from arm's length, and back. Film the throw card to read the rate."
    ),
    "With all of it, hold for the time named; read deflection, voltage and current meanwhile.",
    "Put the mass back on its rest, then command neutral, then switch off, then take the load off.",
    (
        "Look at hinges, horn, clevises, rod, arm and servo mount for cracks, bends and looseness; note "
        "neutral and free play again."
    ),
    (
        "Stop at once at a creak, a sag, a smell, a hot servo, or a voltage below the least named: "
        "support the mass, switch off, and find out why."
    ),
)
"""In an order that keeps fingers and propeller out of harm."""

CAUTIONS = (
    "These loads stand for an estimate of the air load on models and light unmanned aircraft; not "
    "for anything that carries a person. A proof that was passed shows that this installation "
    "held this load on this day, not that the aircraft is safe. Keep clear of moving parts. Follow "
    "local rules and licensed practice."
)
"""At the end of every sheet."""


class Reading(NamedTuple):
    """A line with a box.

    Attributes
    ----------
    what, expected, limit : str
        What to read, what the calculation expects, and what passes.
    """

    what: str
    expected: str
    limit: str


class _Words:
    """Words for one run, in the reader's units."""

    def __init__(self, run: ProofRun, measures: Measures) -> None:
        self.run, self.measures = run, measures

    def _says(self, value: float, unit: str) -> str:
        factor, symbol = self.measures.get(unit, (1.0, unit))
        return f"{figure(value * factor, 3)} {symbol}"  # a bench reads no more

    def _angle(self, angle: float) -> str:
        return self._says(math.degrees(angle), "deg")

    def _at_edge(self, angle: float, chord: float) -> str:
        return self._says(2 * chord * math.sin(abs(angle) / 2), "m")

    def _own(self, moment: float) -> str:
        if moment == 0.0:
            return "No weight of its own is counted."
        return f"Its own weight is counted with {self._says(moment, 'N*m')}."

    def load(self, surface: ProofSurface) -> list[str]:
        """Return the load in words: level with a mass or a scale, and vertical with a scale."""
        where = f"on the chord line at half span, {self._says(surface.lever, 'm')} aft of the hinge line"
        if surface.mass is None:
            level = f"no mass ({surface.mass_reason}); {self._pull(surface.pull_level, surface)}"
        else:
            level = (
                f"hang {self._says(surface.mass, 'kg')} {where}; or "
                f"{self._pull(surface.pull_level, surface)}"
            )
        stands = "hinge line plumb" if surface.upright else "nose up, hinge line level"
        return [
            (
                f"Hinge moment on the bench: {self._says(abs(surface.moment), 'N*m')}, the trailing edge "
                f"pushed {_way(surface, surface.moment)}."
            ),
            (
                f"Hold it at {self._angle(abs(surface.deflection))} {_way(surface, surface.deflection)}: "
                f"{self._says(surface.edge_travel, 'm')} from neutral at the trailing edge of a chord of "
                f"{self._says(surface.chord, 'm')}."
            ),
            (f"Surface level ({_attitude(surface)}): {level}. {self._own(surface.own_level)}"),
            (
                f"Or surface vertical ({stands}): {self._pull(surface.pull_vertical, surface)} {where}. "
                f"{self._own(surface.own_vertical)}"
            ),
            (
                f"The pushrod then bears {self._says(abs(surface.rod_force), 'N')} of "
                f"{'tension' if surface.rod_force >= 0 else 'compression'}."
            ),
        ]

    def _pull(self, force: float, surface: ProofSurface) -> str:
        towards = _side(surface, surface.moment * force)
        return (
            f"pull the surface towards {towards} with {self._says(abs(force), 'N')} "
            f"({abs(force) / 9.80665:.3g} kg on a luggage scale), square to it"
        )

    def readings(self) -> Iterator[Reading]:
        """Return the lines with boxes."""
        run, first = self.run, self.run.surfaces[0]
        for number, surface in enumerate(run.surfaces, start=1):
            named = f", surface {number}" if len(run.surfaces) > 1 else ""
            least, most = (abs(surface.deflection) + sign * run.tolerance for sign in (-1, 1))
            yield Reading(
                f"deflection under load{named}",
                self._angle(abs(surface.deflection)),
                f"{self._angle(max(least, 0.0))} to {self._angle(most)}",
            )
            yield self._give(surface, named)
        least = max(run.minimum_voltage, run.cautious.voltage * (1 - METER["voltage"]))
        yield Reading(
            "voltage at the servo's plug", self._says(run.likely.voltage, "V"),
            f"at least {self._says(least, 'V')}",
        )  # fmt: skip
        most = run.cautious.current * (1 + METER["current"])
        yield Reading(
            "current of one servo, moving", self._says(run.likely.current, "A"),
            f"at most {self._says(most, 'A')}",
        )  # fmt: skip
        yield self._rate()
        limit = (
            f"at most {self._at_edge(run.play_limit, first.chord)} ({self._angle(run.play_limit)})"
        )
        play = (
            "not given: read it"
            if math.isnan(run.play)
            else f"{self._at_edge(run.play, first.chord)} ({self._angle(run.play)})"
        )
        yield Reading("free play at the trailing edge", play, limit)
        yield Reading(
            "held for", self._says(round(run.time, 1), "s"), "without creeping away or getting hot"
        )
        slack = f"within {self._angle(run.tolerance)}"
        yield Reading("neutral afterwards", "where it was", f"{slack}, no crack, bend or new play")

    def _give(self, surface: ProofSurface, named: str) -> Reading:
        limit = surface.give + self.run.tolerance
        expected = (
            f"{self._angle(surface.give)} ({self._at_edge(surface.give, surface.chord)})"
            if surface.stiffness_known
            else "0 deg: no compliance given"
        )
        return Reading(
            f"gives way as the load goes on{named}", expected, f"at most {self._angle(limit)}"
        )

    def _rate(self) -> Reading:
        likely, least = (
            math.degrees(max(each.rate, 0.0)) for each in (self.run.likely, self.run.cautious)
        )
        slowest = f", 10 deg in {10 / least:.2g} s" if least > 0 else ""
        return Reading(
            "rate under load", self._says(likely, "deg/s"),
            f"at least {self._says(least, 'deg/s')}{slowest}",
        )  # fmt: skip

    def doubts(self) -> list[str]:
        """Return what has to be mended first."""
        run = self.run
        found = []
        if not run.holds:
            found.append(
                f"DO NOT LOAD IT YET: the calculation expects the servo to stall. Each servo needs "
                f"{self._says(run.move, 'N*m')} and gives {self._says(run.cautious.stall, 'N*m')} at the "
                "voltage that is left. Mend the run first, then make this sheet again."
            )
        elif run.time == run.warm_limit:
            found.append(
                f"The servo is expected to be too warm after {self._says(run.warm_limit, 's')}: let it "
                "cool before another try."
            )
        return found

    def summary(self) -> str:
        """Return the torques of one servo."""
        run = self.run
        each = f"Each of {run.servos} servos" if run.servos > 1 else "The servo"
        return (
            f"Governed by the case '{_name(run.case)}'. {each} holds {self._says(abs(run.hold), 'N*m')} "
            f"and moves {self._says(run.move, 'N*m')} with friction."
        )


def _way(surface: ProofSurface, sign: float) -> str:
    if surface.upright:
        return "to starboard" if sign > 0 else "to port"
    return "down" if sign > 0 else "up"


def _side(surface: ProofSurface, sign: float) -> str:
    """Name a side of the surface in words that hold however the aircraft lies."""
    if surface.upright:
        return _way(surface, sign).removeprefix("to ")
    return "its lower side" if sign > 0 else "its upper side"


def _attitude(surface: ProofSurface) -> str:
    """Say how the aircraft lies so that gravity acts in the sense of the load."""
    down = (surface.moment > 0) == surface.pulled_down
    if surface.upright:
        return f"aircraft on its {'starboard' if down else 'port'} side"
    lies = "upright" if down else "upside down"
    return f"aircraft {lies}" + (", banked until the panel is level" if surface.panel else "")


def _name(words: str) -> str:
    return cut(words, NAME)


def _preface(proof: Proof) -> str:
    asked = proof.asked
    usual = type(asked)()
    told = [
        words + (" (common practice, no source)" if own == given else "")
        for words, own, given in (
            (f"the governing hinge moment of its run x {asked.factor:g}", usual.factor, asked.factor),
            (
                f"It goes {asked.lever:g} of the mean chord aft of the hinge line",
                usual.lever, asked.lever,
            ),
            (f"is held for {stated(asked, 'time').text}", usual.time, asked.time),
        )
    ]  # fmt: skip
    return (
        f"Each load stands for {told[0]}. {told[1]} and {told[2]}. Expected are figures "
        "with the printed stall torque, limits have the datasheet factor in them and what is read "
        f"amiss: {math.degrees(READING):g} deg on a card, {METER['voltage']:.0%} of a voltage, "
        f"{METER['current']:.0%} of a current (common practice, no source), beside deadband and half "
        "the play where these are given. One run at a time; the others rest at neutral."
    )


def bench_text(proof: Proof, *, measures: Measures = METRIC, bold: bool = False) -> str:
    """Return the bench sheet as text.

    Parameters
    ----------
    proof : Proof
        From `linkcalc.study.proof.proof`.
    measures : Measures
        Units to show.
    bold : bool
        Whether headings are set in bold, for a terminal.

    Returns
    -------
    str
        Lines of at most 80 columns.

    Examples
    --------
    >>> from linkcalc.study.proof import proof
    >>> print(bench_text(proof("examples/sandpiper_rewired.toml")))
    BENCH SHEET: ...
    """
    lines = [*heading(f"BENCH SHEET: {_name(proof.aircraft)}", bold=bold)]
    lines += [
        *wrapped(_preface(proof), 0),
        "",
        "Date ____________________  By ____________________",
        "",
    ]
    lines += heading("ORDER OF STEPS", bold=bold)
    for number, step in enumerate(STEPS, start=1):
        lines += wrapped(f"{number}. {step}")
    for run in proof.runs:
        lines += ["", *_run_text(run, measures, bold=bold)]
    return "\n".join([*lines, "", *wrapped(CAUTIONS, 0)]) + "\n"


def _run_text(run: ProofRun, measures: Measures, *, bold: bool) -> Iterator[str]:
    yield from heading(_name(run.name), bold=bold)
    if run.reason:
        yield from wrapped(f"No proof load: {run.reason.rstrip('.')}.")
        return
    words = _Words(run, measures)
    for doubt in words.doubts():
        yield from wrapped(doubt)
    yield from wrapped(words.summary())
    for number, surface in enumerate(run.surfaces, start=1):
        if len(run.surfaces) > 1:
            yield f"  Surface {number}"
        for sentence in words.load(surface):
            yield from wrapped(sentence)
    if not run.holds:
        return
    yield f"  {'to read':31} {'expected':>16}  box"
    for reading in words.readings():
        box = "[" + "_" * (WIDTH - 55) + "]"
        if len(reading.what) > 31 or len(reading.expected) > 16:
            yield f"  {reading.what}"
            yield f"  {reading.expected:>48}  {box}"
        else:
            yield f"  {reading.what:31} {reading.expected:>16}  {box}"
        yield from wrapped(f"pass: {reading.limit}", 6)


def bench_html(proof: Proof, *, measures: Measures = METRIC) -> str:
    """Return the bench sheet as one self-contained HTML page, to print.

    Parameters
    ----------
    proof : Proof
        From `linkcalc.study.proof.proof`.
    measures : Measures
        Units to show.

    Returns
    -------
    str
        HTML without scripts and without anything to fetch; what a file brought is escaped.

    Examples
    --------
    >>> from linkcalc.study.proof import proof
    >>> page = bench_html(proof("examples/sandpiper_rewired.toml"))
    >>> page.count("<section"), "<script" in page
    (6, False)
    """
    from linkcalc.report.pages import page  # noqa: PLC0415 - jinja2 is for pages only

    runs = [_run_page(run, measures) for run in proof.runs]
    return page(
        "bench_sheet.html",
        aircraft=_name(proof.aircraft),
        preface=_preface(proof),
        steps=STEPS,
        runs=runs,
        cautions=CAUTIONS,
    )


def _run_page(run: ProofRun, measures: Measures) -> dict[str, object]:
    words = _Words(run, measures)
    if run.reason:
        return {"name": _name(run.name), "reason": printable(run.reason.rstrip("."))}
    return {
        "name": _name(run.name),
        "reason": "",
        "doubts": words.doubts(),
        "summary": words.summary(),
        "loads": [words.load(surface) for surface in run.surfaces],
        "readings": list(words.readings()) if run.holds else [],
    }
