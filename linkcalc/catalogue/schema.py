"""The JSON Schema of a catalogue in TOML, made from what the fields of parts say of themselves."""

from __future__ import annotations

from typing import Any

from linkcalc.catalogue.parts import KINDS_OF_PARTS, Catalogue
from linkcalc.catalogue.reading import FORMAT
from linkcalc.model.value_classes import fields
from linkcalc.schema import DRAFT, _Definitions

__all__ = ["catalogue_schema"]


def catalogue_schema() -> dict[str, Any]:
    """Return the JSON Schema of a catalogue, draft 2020-12.

    Returns
    -------
    dict
        Of plain values. It holds for a file that stands alone; rules that join several keys
        are the reader's.

    Examples
    --------
    >>> made = catalogue_schema()
    >>> made["required"]
    ['format']
    >>> made["$defs"]["ServoPart"]["properties"]["mass"]["$ref"]
    '#/$defs/mass'
    """
    definitions = _Definitions()
    own = [item for item in fields(Catalogue) if item.name not in KINDS_OF_PARTS]
    listed = {
        kind: definitions.named(cls, getattr(Catalogue, kind).spec.doc + " By name.")
        for kind, cls in KINDS_OF_PARTS.items()
    }
    version = {"const": FORMAT, "description": "What this file is, and of which version."}
    return {
        "$schema": DRAFT,
        "title": f"Catalogue of linkcalc, {FORMAT}",
        "$comment": "Rules that join several keys are checked by the reader alone.",
        "type": "object",
        "description": (Catalogue.__doc__ or "").split("\n", maxsplit=1)[0],
        "properties": {
            "format": version,
            **{item.name: definitions.key(item) for item in own},
            **listed,
        },
        "required": ["format"],
        "additionalProperties": False,
        "$defs": definitions.made,
    }
