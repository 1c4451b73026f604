"""Sheets of paper in millimetres, with a check ruler, as PDF and SVG at true scale."""

from __future__ import annotations

import io
import math
import textwrap
import warnings
from functools import cache
from typing import TYPE_CHECKING, Any, NamedTuple

from linkcalc.report.layout import cut, printable

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.figure import Figure

__all__ = ["MARGIN", "PAPERS", "RULER", "Sheet", "pdf", "svg"]

PAPERS = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
"""Width and height [mm]: ISO 216; 8.5 x 11 in, ANSI/ASME Y14.1 A."""

MARGIN = 14.0
"""That is left free on every side, for printers that cannot print to the edge [mm]."""

RULER = 100.0
"""Length of the check ruler [mm]."""

NAME = 120  # characters of a name that a card shows
_INCH = 25.4
_POINT = 72 / _INCH  # points in a millimetre
_WIDE = 0.62  # of the size of letters, what one takes at most on average


class Sheet(NamedTuple):
    """A page that is being drawn on; all lengths in millimetres from its lower left corner.

    Attributes
    ----------
    figure : matplotlib Figure
        The page.
    axes : matplotlib Axes
        Over the whole page, one unit a millimetre.
    title : str
        What it is.
    width, height : float
        Of the paper [mm].
    """

    figure: Figure
    axes: Any
    title: str
    width: float
    height: float

    @classmethod
    def new(cls, title: str, paper: str = "A4") -> Sheet:
        """Return a page with its title and its check ruler.

        Parameters
        ----------
        title : str
            What it is.
        paper : str
            One of `PAPERS`.

        Returns
        -------
        Sheet
            To draw on.
        """
        from matplotlib.figure import Figure  # noqa: PLC0415 - heavy

        width, height = PAPERS[paper]
        figure = Figure(figsize=(width / _INCH, height / _INCH))
        axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
        axes.set(xlim=(0, width), ylim=(0, height))
        axes.set_axis_off()
        sheet = cls(figure, axes, cut(title, NAME), width, height)
        sheet.write(MARGIN, height - MARGIN, title, size=5.0, weight="bold", lines=2)
        sheet.rule(MARGIN, MARGIN + 12, RULER, name="ruler")
        sheet.write(
            MARGIN,
            MARGIN + 10,
            f"Measure this ruler before use: {RULER:g} mm. If it is not, print again at 100 %, not "
            f"fitted to the page. Paper {paper}.",
            size=3.0,
            lines=2,
        )
        return sheet

    def line(self, xs: Any, ys: Any, **style: Any) -> None:
        """Draw a line.

        Parameters
        ----------
        xs, ys : sequence of float
            Where it goes [mm].
        **style : object
            Of matplotlib's `plot`; black and thin without.
        """
        self.axes.plot(xs, ys, **({"color": "black", "linewidth": 0.7} | style))

    def write(
        self, x: float, y: float, words: str, *, size: float = 3.4, lines: int = 1, **style: Any
    ) -> float:
        """Write words from a point downwards, as many lines as allowed, the rest left out.

        Parameters
        ----------
        x, y : float
            Where the upper left corner goes [mm].
        words : str
            Any text; it is taken literally.
        size : float
            Of the letters [mm].
        lines : int
            At most; more are cut with dots.
        **style : object
            Of matplotlib's `text`.

        Returns
        -------
        float
            Height of the next line down [mm].
        """
        room = max(10, int((self.width - MARGIN - x) / (_WIDE * size)))
        found = textwrap.wrap(
            drawable(words), room, max_lines=lines, placeholder="...", break_on_hyphens=False
        )
        made = {"va": "top", "ha": "left", "parse_math": False} | style
        for number, row in enumerate(found):
            self.axes.text(x, y - 1.35 * size * number, row, fontsize=size * _POINT, **made)
        return y - 1.35 * size * len(found)

    def rule(self, x: float, y: float, length: float, *, name: str) -> None:
        """Draw a ruler with a mark at every millimetre.

        Parameters
        ----------
        x, y : float
            Its left end [mm].
        length : float
            A whole number of millimetres.
        name : str
            What the group of lines is called in an SVG.
        """
        self.line([x, x + length], [y, y], gid=name, solid_capstyle="butt")
        xs, ys = [], []  # nan lifts the pen
        for mark in range(round(length) + 1):
            high = 4.0 if mark % 10 == 0 else 2.8 if mark % 5 == 0 else 1.8
            xs += [x + mark, x + mark, math.nan]
            ys += [y, y + high, math.nan]
            if mark % 10 == 0:
                self.write(x + mark, y + 7, f"{mark}", size=2.4, ha="center")
        self.line(xs, ys, linewidth=0.35)

    def cross(self, x: float, y: float, *, name: str, size: float = 3.0) -> None:
        """Draw a centre to prick through.

        Parameters
        ----------
        x, y : float
            The centre [mm].
        name : str
            What it is called in an SVG.
        size : float
            Half the length of its lines [mm].
        """
        self.line([x - size, x + size], [y, y], gid=f"{name}-across", linewidth=0.4)
        self.line([x, x], [y - size, y + size], gid=f"{name}-up", linewidth=0.4)


def drawable(words: str) -> str:
    """Return words with what the drawing's font cannot show replaced.

    Parameters
    ----------
    words : str
        Any text.

    Returns
    -------
    str
        Printable, at most some hundreds of characters of it.
    """
    known = _letters()
    return "".join(letter if ord(letter) in known else "?" for letter in printable(words[:2000]))


@cache
def _letters() -> frozenset[int]:
    from matplotlib import font_manager  # noqa: PLC0415 - heavy

    font = font_manager.get_font(font_manager.findfont("DejaVu Sans"))
    return frozenset(font.get_charmap())


_STYLE: dict[Any, Any] = {
    "font.family": "DejaVu Sans",  # comes with matplotlib, so that pages are alike everywhere
    "svg.fonttype": "none",  # text stays text
    "svg.hashsalt": "linkcalc",  # the same card is the same file
    "pdf.fonttype": 42,
    "path.simplify": False,
    "path.snap": False,
}


def pdf(sheets: Sequence[Sheet]) -> bytes:
    """Return sheets as one PDF, a page for each.

    Parameters
    ----------
    sheets : sequence of Sheet
        At least one.

    Returns
    -------
    bytes
        The file, to be printed at 100 %.
    """
    import matplotlib as mpl  # noqa: PLC0415 - heavy
    from matplotlib.backends.backend_pdf import PdfPages  # noqa: PLC0415 - heavy

    buffer = io.BytesIO()
    known = {"Title": sheets[0].title, "Creator": "linkcalc", "CreationDate": None}
    with mpl.rc_context(_STYLE), PdfPages(buffer, metadata=known) as pages:
        for sheet in sheets:
            pages.savefig(sheet.figure)
    return buffer.getvalue()


def svg(sheet: Sheet) -> bytes:
    """Return a sheet as SVG, text as text, with its title.

    Parameters
    ----------
    sheet : Sheet
        The page.

    Returns
    -------
    bytes
        The file; width and height say its true size.
    """
    import matplotlib as mpl  # noqa: PLC0415 - heavy

    buffer = io.BytesIO()
    known = {"Title": sheet.title, "Creator": "linkcalc", "Date": None}
    with mpl.rc_context(_STYLE), warnings.catch_warnings():
        sheet.figure.savefig(buffer, format="svg", metadata=known)
    return buffer.getvalue()
