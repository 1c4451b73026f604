"""Small tables of HTML, for notebooks that show the last value of a cell."""

from __future__ import annotations

import html
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

__all__ = ["margin_words", "table"]

_LONGEST = 200  # characters of a cell


def table(caption: str, heads: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Return a table, with whatever a file brought as text.

    Parameters
    ----------
    caption : str
        Above the table.
    heads : sequence of str
        Of the columns.
    rows : iterable of sequence of str
        The first cell of each is its heading.

    Returns
    -------
    str
        HTML without styles of its own, so that a notebook's light and dark ones fit.

    Examples
    --------
    >>> table("a <b>", ["run"], [["elevator"]])
    '<table><caption>a &lt;b&gt;</caption><thead><tr><th>run</th></tr></thead><tbody><tr><th>elevator</th></tr></tbody></table>'
    """
    head = "".join(f"<th>{_text(words)}</th>" for words in heads)
    body = "".join(
        f"<tr><th>{_text(first)}</th>{''.join(f'<td>{_text(cell)}</td>' for cell in rest)}</tr>"
        for first, *rest in rows
    )
    return (
        f"<table><caption>{_text(caption)}</caption><thead><tr>{head}</tr></thead>"
        f"<tbody>{body}</tbody></table>"
    )


def margin_words(margin: float | None) -> str:
    """Return a margin in words.

    Parameters
    ----------
    margin : float or None
        None where it could not be computed.

    Returns
    -------
    str
        With its sign, and whether it is short.

    Examples
    --------
    >>> [margin_words(margin) for margin in (0.2, -0.001, None)]
    ['+0.20', '-0.001 short', 'not computed']
    """
    if margin is None:
        return "not computed"
    words = f"{margin:+.2f}" if abs(margin) >= 0.005 or margin == 0 else f"{margin:+.1g}"
    return words + " short" * (margin < 0)


def _text(words: str) -> str:
    """Return text that is neither markup nor steers the direction of what stands beside it."""
    seen = "".join(letter if letter.isprintable() else "?" for letter in words)
    shown = seen if len(seen) <= _LONGEST else seen[: _LONGEST - 3] + "..."
    return html.escape(shown)
