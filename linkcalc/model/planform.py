"""The whole lifting surface: a trapezoid, or stations from root to tip."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from linkcalc.errors import InputError, told
from linkcalc.model.fields import QuantityField, choice, parts, quantity_field
from linkcalc.model.value_classes import ValueClass, given, refuse_samples, rule, si, stated
from linkcalc.solver_fields import MOST_STATIONS

if TYPE_CHECKING:
    from collections.abc import Iterator

    from linkcalc.model.surface import ControlSurface
    from linkcalc.physics.stations import Stations

__all__ = ["Planform", "PlanformStation", "misfits", "surveyed"]

_SIZES = ("half_span", "root_chord", "tip_chord")
_APART = 1e-4  # two stations that are nearer, over the span, are taken for one place
_AGREE = 0.15  # how far chord and chord ratio may be from what the planform has, over them


class PlanformStation(ValueClass):
    """A place along the span at which a lifting surface was measured."""

    y: QuantityField = quantity_field(
        "length", "How far out from the root, across the stream.", bound="not negative"
    )
    leading_edge: QuantityField = quantity_field(
        "length", "How far aft the leading edge lies, from one line across the stream for all."
    )
    chord: QuantityField = quantity_field(
        "length", "Whole chord there; only a tip may have none.", bound="not negative"
    )
    height: QuantityField = quantity_field(
        "length", "How high it lies, from one level for all: dihedral.", default="0 mm"
    )
    hinge: QuantityField = quantity_field(
        "length",
        "How far aft of the leading edge the hinge line lies there.",
        bound="not negative",
        default=None,
        default_words="straight through those that are given; with none of them, as chord_ratio has it",
    )


class Planform(ValueClass):
    """The lifting surface that a control surface belongs to: straight-tapered, or by stations."""

    half_span: QuantityField = quantity_field(
        "length",
        "From root to tip, along the surface.",
        bound="positive",
        default=None,
        default_words="stations",
    )
    root_chord: QuantityField = quantity_field(
        "length",
        "Whole chord at the root.",
        bound="positive",
        default=None,
        default_words="stations",
    )
    tip_chord: QuantityField = quantity_field(
        "length",
        "Whole chord at the tip.",
        bound="positive",
        default=None,
        default_words="stations",
    )
    sweep: QuantityField = quantity_field(
        "angle", "Sweep of the quarter-chord line, aft positive.", default="0 deg"
    )
    inboard_end: QuantityField = quantity_field(
        "length",
        "From the root to where the control surface begins.",
        bound="not negative",
        default="0 mm",
    )
    horn_span: QuantityField = quantity_field(
        "length",
        "Outer part of the control surface that moves with its whole chord: a horn balance.",
        bound="not negative",
        default="0 mm",
    )
    horn_lead: QuantityField = quantity_field(
        "length",
        "How far the horn stands out ahead of the leading edge.",
        bound="not negative",
        default="0 mm",
    )
    partner: str | None = choice(
        ("alike", "opposite", "still", "none"),
        "How the control surface on the other side moves; none: there is no other side.",
        default=None,
        default_words="alike; none on a fin",
    )
    stations: tuple[PlanformStation, ...] = parts(
        PlanformStation,
        "Stations from root to tip, straight between them, in place of half_span, root_chord and tip_chord.",
        least=0,
        most=MOST_STATIONS,
        default=(),
    )

    @rule("half_span", "root_chord", "tip_chord", "sweep", "stations")
    def _is_told_in_one_way(self) -> Iterator[InputError]:
        said = [name for name in _SIZES if given(self, name)]
        if self.stations:
            said += ["sweep"] if stated(self, "sweep").si else []
            if said:
                yield InputError(
                    "stations",
                    told(f"stations beside {', '.join(said)}"),
                    "one of the two",
                    "Leave out what the stations tell already, or leave the stations out.",
                )
            return
        for name in _SIZES:
            if name not in said:
                yield InputError(
                    name,
                    told("nothing"),
                    "length, such as '120 mm'",
                    "Give half_span, root_chord and tip_chord, or stations.",
                )

    @rule("stations")
    def _stations_make_a_surface(self) -> Iterator[InputError]:
        if self.stations:
            yield from _misplaced(self.stations)


def _misplaced(stations: tuple[PlanformStation, ...]) -> Iterator[InputError]:
    """Tell what is wrong with stations by themselves."""
    if len(stations) < 2:
        yield InputError(
            "stations",
            told("a single station"),
            "two at least",
            "Give one at the root and one at the tip.",
        )
        return
    y, z, chord = ([si(each, name) for each in stations] for name in ("y", "height", "chord"))
    if y[0] != 0:
        yield InputError(
            "stations[0].y",
            told(stated(stations[0], "y").text),
            "0 mm: the first station is the root, in the plane of symmetry",
            "Measure from there; carry the surface on through a fuselage.",
        )
    least = _APART * max(y)
    for index in range(1, len(stations)):
        out, up = y[index] - y[index - 1], z[index] - z[index - 1]
        if out < 0 or np.hypot(out, up) <= least:
            yield InputError(
                f"stations[{index}].y",
                told(stated(stations[index], "y").text),
                f"more than {stated(stations[index - 1], 'y').text}, where the station before it is",
                "Give stations in order from the root to the tip, none twice; a step in the chord "
                "takes two stations a little apart.",
            )
    for index, size in enumerate(chord):
        if size == 0 and index < len(chord) - 1:
            yield InputError(
                f"stations[{index}].chord",
                told(stated(stations[index], "chord").text),
                "more than zero; only the tip may come to a point",
                "Give the chord as measured.",
            )
    yield from _hinges(stations)


def _hinges(stations: tuple[PlanformStation, ...]) -> Iterator[InputError]:
    """Tell what is wrong with the hinge line where it was measured."""
    known = [index for index, each in enumerate(stations) if given(each, "hinge")]
    if len(known) == 1:
        yield InputError(
            "stations",
            told(f"a hinge at stations[{known[0]}] alone"),
            "a hinge at two stations or more, or at none",
            "Measure the hinge line at both ends of the control surface, or leave it to chord_ratio.",
        )
    for index in known:
        hinge, chord = (stated(stations[index], name) for name in ("hinge", "chord"))
        if hinge.si > chord.si * (1 + 1e-9):
            yield InputError(
                f"stations[{index}].hinge",
                told(hinge.text),
                f"at most the chord there, {chord.text}",
                "Measure it from the leading edge of this station.",
            )


def surveyed(planform: Planform, chord_ratio: float) -> Stations:
    """Return the stations of a planform, those of a trapezoid too.

    Parameters
    ----------
    planform : Planform
        As described.
    chord_ratio : float
        Chord aft of the hinge line over the whole chord, where the hinge was not measured [1].

    Returns
    -------
    Stations
        From root to tip [m].
    """
    from linkcalc.physics.stations import Stations, distances, hinge_line  # noqa: PLC0415 - few files have a planform

    names = ("y", "height", "leading_edge", "chord", "hinge")
    if planform.stations:
        rows = [[si(each, name, np.nan) for name in names] for each in planform.stations]
    else:
        half_span, root, tip = (si(planform, name) for name in _SIZES)
        back = half_span * np.tan(si(planform, "sweep")) + 0.25 * (root - tip)
        rows = [[0.0, 0.0, 0.0, root, np.nan], [half_span, 0.0, back, tip, np.nan]]
    y, z, leading, chord, measured = np.array(rows).T
    hinge = hinge_line(distances(y, z), leading, chord, measured, chord_ratio=chord_ratio)
    return Stations(y, z, leading, chord, hinge)


def misfits(surface: ControlSurface, planform: Planform) -> Iterator[InputError]:
    """Tell where a control surface and the whole surface that it belongs to do not agree.

    Parameters
    ----------
    surface : ControlSurface
        As described.
    planform : Planform
        That it lies on.

    Yields
    ------
    InputError
        The chord ratio is missing, the control surface is not on the surface, its hinge line is
        bent or off the chord, or its chord is another.
    """
    refuse_samples(surface)  # a lattice is laid out for one surface at a time
    ratio = surface.chord_ratio
    if ratio is None:
        yield InputError(
            "chord_ratio",
            told("nothing"),
            "chord aft of the hinge line over the whole chord, such as 0.3",
            "Give the chord ratio beside the planform.",
        )
        return
    if surface.plane == "vee":
        yield from _raised(planform)
    stations = surveyed(planform, ratio)
    begins = si(planform, "inboard_end")
    ends = begins + si(surface, "span")
    part, tip = _part(stations, begins, ends)
    if ends > tip * (1 + 1e-6):
        yield InputError(
            "planform",
            told(f"a control surface that ends {ends:.4g} m from the root"),
            f"an end at most {tip:.4g} m from it, where the tip is",
            f"Check {'stations' if planform.stations else 'half_span'}, inboard_end, and the span of the control surface.",
        )
        return
    yield from _turns(part)
    yield from _chords(surface, ratio, part)


def _raised(planform: Planform) -> Iterator[InputError]:
    for index, each in enumerate(planform.stations):
        if si(each, "height") != 0:
            yield InputError(
                f"planform.stations[{index}].height",
                told(stated(each, "height").text),
                "none on a panel of a vee, whose dihedral says how it lies",
                "Leave the heights out, and measure y along the panel.",
            )


def _part(stations: Stations, begins: float, ends: float) -> tuple[Stations, float]:
    """Return the stations of the control surface, its ends among them, and where the tip is."""
    from linkcalc.physics.stations import between, distances  # noqa: PLC0415 - few files have a planform

    along = distances(stations.y, stations.z)
    inside = along[(along > begins) & (along < ends)]
    return between(stations, [begins, *inside, ends]), float(along[-1])


def _turns(part: Stations) -> Iterator[InputError]:
    """Tell where a hinge line is bent, or leaves the chord."""
    from linkcalc.physics.stations import STRAIGHT, off_line  # noqa: PLC0415 - few files have a planform

    off = np.maximum(-part.hinge, part.hinge - part.chord)
    worst = int(np.argmax(off))
    if off[worst] > 1e-9 * part.chord.max():
        yield InputError(
            "planform.stations",
            told(
                f"a hinge line {_millimetres(off[worst])} off the chord at y = {_millimetres(part.y[worst])}"
            ),
            "a hinge line on the chord from end to end of the control surface",
            "Check hinge at the stations around; beyond the last it goes straight on.",
        )
    points = np.stack([part.leading + part.hinge, part.y, part.z], axis=-1)
    away = off_line(points, points[[0, -1]])
    worst = int(np.argmax(away))
    most = STRAIGHT * float(np.mean(part.chord))
    if away[worst] > most:
        yield InputError(
            "planform.stations",
            told(
                f"a hinge line that is {_millimetres(away[worst])} from straight at y = {_millimetres(part.y[worst])}"
            ),
            f"at most {_millimetres(most)}, {100 * STRAIGHT:.4g} % of the chord: a surface turns about one straight line",
            "Check hinge and height there, or measure hinge where chord_ratio stood for it; where the "
            "line is bent, describe each straight piece as a surface of its own.",
        )


def _chords(surface: ControlSurface, ratio: float, part: Stations) -> Iterator[InputError]:
    """Tell where chord and chord ratio are not those of the planform."""
    from linkcalc.physics.stations import distances  # noqa: PLC0415 - few files have a planform

    width = np.diff(distances(part.y, part.z))
    whole, aft = (
        float(np.sum(width * 0.5 * (each[:-1] + each[1:])) / np.sum(width))
        for each in (part.chord, part.chord - part.hinge)
    )
    if abs(aft / si(surface, "chord") - 1) >= _AGREE:
        yield InputError(
            "chord",
            stated(surface, "chord").text,
            f"about {_millimetres(aft)}, which the planform and the chord ratio have there",
            "Make chord, chord_ratio and planform agree.",
        )
    if abs(aft / whole / ratio - 1) >= _AGREE:
        yield InputError(
            "chord_ratio",
            ratio,
            f"about {aft / whole:.3g}, which the stations have there",
            "Make chord_ratio and the hinge of the stations agree.",
        )


def _millimetres(length: float) -> str:
    return f"{1000 * length:.4g} mm"
