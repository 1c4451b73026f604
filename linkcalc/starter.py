"""A commented aircraft file to start from."""

from __future__ import annotations

import os
from pathlib import Path

from linkcalc.errors import Fault, InputFaults
from linkcalc.saving import save

__all__ = ["STARTER", "write_starter"]

STARTER = """\
# An aircraft file to start from. Every number in it is invented, for a survey glider of a
# coastal mapping crew: put those of your own aircraft in their place, then run
#     linkcalc check THIS_FILE
# A quantity is a number and a unit in quotation marks: "12 mm", "0.5 in", "3.2 kg·cm",
# "45 oz·in", "0.12 s/60deg", "90 km/h". Leave out what you do not know: common practice
# stands in for it, and the report says where.
format = "linkcalc.aircraft/1"
name = "Plover survey glider (invented)"

[supply]                          # the battery or regulator that feeds the servos
voltage = "6.0 V"                 # without load
internal_resistance = "30 mohm"   # measured
current_limit = "8 A"             # its rating; "none" where you know of none

[servos.wing]                     # as the datasheet prints it, lowest voltage first
rows = [
    { voltage = "4.8 V", stall_torque = "2.6 kg·cm", no_load_speed = "0.15 s/60deg", stall_current = "1.0 A" },
    { voltage = "6.0 V", stall_torque = "3.2 kg·cm", no_load_speed = "0.12 s/60deg", stall_current = "1.3 A" },
]
maximum_voltage = "6.6 V"

[leads.wing]                      # from the receiver to the aileron servo
gauge = "22 AWG"                  # or a section such as "0.34 mm^2"
length = "1.2 m"                  # one way
contacts = 2                      # plugs and joints in each of the two conductors
contact_resistance = "8 mohm"

[[cases]]                         # what the air does: at least the turn and the dive
name = "turn over the survey line"
kind = "manoeuvre"                # asks for full throw; a dive for a third of it
speed = "90 km/h"
load_factor = 3

[[cases]]
name = "dive out of the cloud base"
kind = "dive"
speed = "140 km/h"
altitude = "400 m"

# To have a dive followed instead of guessing its speed, say what the aircraft is, and how it begins:
# [airframe]
# mass = "1.9 kg"
# wing_area = "0.36 m^2"
# aspect_ratio = 12
# maximum_lift = 1.1               # greatest lift coefficient
# limit_load_factor = 6
# drag = { zero_lift = 0.02 }      # or a polar by points, or parts with their areas
# [[cases]]
# name = "out of a stall"
# kind = "dive"
# entry = { preset = "stall", start_height = "120 m" }

[[runs]]                          # one for each servo: what moves which surface
name = "aileron, starboard"
servo = "wing"
lead = "wing"
arm = "9 mm"                      # servo shaft to the hole in use
horn = "14 mm"                    # hinge line to the hole in use
pushrod = { length = "90 mm", diameter = "2 mm", material = "steel wire" }
surface = { span = "520 mm", chord = "46 mm", chord_ratio = 0.24, throw_up = "18 deg", throw_down = "12 deg", mass = "16 g", mass_centre = "17 mm" }

[[runs]]                          # the elevator's servo sits beside the receiver: no lead
name = "elevator"
servo = "wing"
arm = "8 mm"
horn = "14 mm"
pushrod = { length = "700 mm", diameter = "3 mm", material = "carbon rod", free_length = "180 mm" }
surface = { span = "480 mm", chord = "42 mm", chord_ratio = 0.35, throw = "16 deg", section = "slab", mass = "13 g", mass_centre = "15 mm" }
"""
"""Checks as it stands."""


def write_starter(path: str | os.PathLike[str]) -> None:
    """Write the starter file, whole or not at all.

    Parameters
    ----------
    path : str or path
        A name that ends in ``.toml`` and does not exist yet.

    Raises
    ------
    InputFaults
        The name is taken or cannot be written; nothing is left behind.
    """
    target = Path(path)
    if target.suffix != ".toml":
        found = "a name without .toml"
        remedy = f"Call it {target.name}.toml."
        raise InputFaults([Fault(os.fspath(path), "", found, "a name such as glider.toml", remedy)])
    save(path, STARTER.encode(), remedy="Choose another name, or move the file away yourself.")
