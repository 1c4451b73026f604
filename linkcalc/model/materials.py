"""What rods are made of: modulus and strength, with the words that say by what authority.

The strengths are deliberately low. They matter only to a stubby rod; the critical load of a
slender one depends on the modulus alone.
"""

from __future__ import annotations

from typing import NamedTuple

__all__ = ["MATERIALS", "Material"]


class Material(NamedTuple):
    """A material that rods are made of.

    Attributes
    ----------
    name : str
        As it is written in an aircraft file.
    modulus : float
        Modulus of elasticity along the rod [Pa].
    yield_strength : float
        Yield strength in compression; for wood and laminates, which do not yield, the
        compressive strength along the grain or the fibres [Pa].
    words : str
        What the figures are, and by what authority.
    """

    name: str
    modulus: float
    yield_strength: float
    words: str


_LISTED = (
    Material(
        "steel wire",
        203e9,
        400e6,
        "modulus of music wire ASTM A228: standard handbook value, from memory; "
        "yield strength of cold-drawn low-carbon steel, from memory, "
        "low for music wire and too high for annealed wire",
    ),
    Material(
        "aluminium tube",
        68.9e9,
        276e6,
        "modulus of 6061-T6: standard handbook value, from memory; "
        "typical yield strength of 6061-T6, from memory",
    ),
    Material(
        "carbon rod",
        130e9,
        600e6,
        "modulus of pultruded standard-modulus rod: standard handbook value, from memory, "
        "120 to 140 GPa by maker; compressive strength from memory, on the low side",
    ),
    Material(
        "glass rod",
        40e9,
        200e6,
        "modulus of pultruded E-glass rod: standard handbook value, from memory, "
        "35 to 45 GPa by maker; compressive strength from memory, on the low side",
    ),
    Material(
        "spruce",
        10.8e9,
        30e6,
        "modulus of Sitka spruce at 12 % moisture: standard handbook value, from memory; "
        "compressive strength four fifths of the mean for the species, from memory",
    ),
    Material(
        "balsa",
        3.4e9,
        7.5e6,
        "modulus: Wood Handbook (imported species), quoted in a discussion, "
        "depends strongly on density; "
        "compressive strength half of the mean for the species, from memory",
    ),
    Material(
        "beech",
        11.859e9,
        40e6,
        "modulus of American beech: USDA Wood Handbook table 5-3b values, 12 % moisture, "
        "22 percent scatter between pieces; "
        "compressive strength four fifths of the mean for the species, from memory",
    ),
)

MATERIALS: dict[str, Material] = {material.name: material for material in _LISTED}
"""By name. The moduli are means or typical figures: give a measured one where it is close."""
