"""What may be bought: catalogues of servos, arms, horns, rods, joints, wires and connectors.

Value classes for parts, their strict reading from TOML, CSV and data frames, the schema of
a file, and a look at datasheets that cannot be true. Knows the model and its files; evaluates
nothing.
"""

from linkcalc.catalogue.parts import (
    ArmPart,
    Catalogue,
    ConnectorPart,
    HornPart,
    JointPart,
    RodPart,
    ServoPart,
    WirePart,
)
from linkcalc.catalogue.reading import catalogue_of, read_catalogue

__all__ = [
    "ArmPart",
    "Catalogue",
    "ConnectorPart",
    "HornPart",
    "JointPart",
    "RodPart",
    "ServoPart",
    "WirePart",
    "catalogue_of",
    "read_catalogue",
]
