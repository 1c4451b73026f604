"""What stood in for what a description leaves open, to be told beside the figures."""

from __future__ import annotations

from typing import NamedTuple

__all__ = ["Notes"]


class Notes(NamedTuple):
    """What stands in for what was not given.

    Attributes
    ----------
    aircraft : list of str
        Of the supply, the receiver and the leads.
    runs, cases : tuple of list of str
        Of each run and each case.
    """

    aircraft: list[str]
    runs: tuple[list[str], ...]
    cases: tuple[list[str], ...]
