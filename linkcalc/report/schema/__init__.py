"""The JSON Schemas of the documents that commands print with ``--json``, draft 2020-12.

Written by hand, not made from the code that prints: other programs rely on them.
"""

from __future__ import annotations

import json
from importlib import resources
from typing import Any

__all__ = ["DOCUMENTS", "document_schema"]

DOCUMENTS = ("report", "faults", "tolerance", "choice", "joint_choice")
"""What there is a schema of."""


def document_schema(name: str) -> dict[str, Any]:
    """Return the JSON Schema of a document.

    Parameters
    ----------
    name : str
        One of `DOCUMENTS`.

    Returns
    -------
    dict
        Of plain values.

    Examples
    --------
    >>> document_schema("faults")["properties"]["schema"]
    {'const': 'linkcalc.faults/1'}
    """
    content = resources.files(__name__).joinpath(f"{name}.json").read_text(encoding="utf-8")
    read: dict[str, Any] = json.loads(content)
    return read
