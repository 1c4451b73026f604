"""What the words of a report mean, for somebody who has never seen one."""

from __future__ import annotations

__all__ = ["AIRCRAFT", "MARGIN", "MODES", "VALUES"]

MARGIN = (
    "A margin is available / (required x factor) - 1: zero is just enough, +0.25 a quarter "
    "to spare, below zero too little. Plain is the same on the best estimate of the air load "
    "with every factor 1, so the difference of the two is reserve."
)
"""How to read a margin."""

MODES: dict[str, str] = {
    "torque": "the servo moves the surface against air load, weight and friction, even where that "
    "takes most, with the voltage that is left when it is itself about to stall",
    "travel": "linkage and servo reach the deflection that the case asks for, under load",
    "voltage": "what arrives at servo and receiver stays above the least they work at",
    "over-voltage": "the supply without load stays below the servo's rated maximum",
    "current": "the source can give what all servos and other loads draw",
    "speed": "the surface turns fast enough against its load",
    "hold": "the servo may hold this torque for long without overheating",
    "buckling": "the pushrod does not bow out under compression",
    "joint": "clevises, ball links and pins bear the force in the rod",
    "source heat": "a regulator can shed its heat",
    "gear": "the servo's gears bear the torque",
    "free play": "joints and gears together leave the surface little enough slack",
    "divergence": "an elastic linkage is stiff enough that the air cannot carry the surface away "
    "(margin: 1 - factor x required)",
}
"""What each mode asks, by its name."""

VALUES: dict[str, str] = {
    "servos at work": "that work the same surfaces together, without those taken as dead",
    "dead servos": "of the run that the case takes as dead: they neither help nor draw current",
    "share of each servo": "of the load of the run, more than its equal part by the mismatch of "
    "several; required torques are those of one servo",
    "datasheet factor": "that a printed stall torque was divided by; 1 where the rows were measured",
    "dynamic pressure": "half the air density times the square of the speed",
    "incidence at the surface": "as the best line takes it, with setting, downwash, gusts and rates of "
    "turn; on a fin the sideslip there",
    "largest incidence at the surface": "as the high line takes it, without credit for what relieves",
    "speed at the surface": "of flight, or of the slipstream with what is added to it",
    "governing deflection": "where moving the surface takes most torque; negative is trailing "
    "edge up, on a fin to port",
    "hinge moment": "of air load and weight about the hinge line there; positive turns the "
    "trailing edge down",
    "hold torque": "at the servo shaft to keep the surface there, with its sign",
    "moving torque": "the same with friction, to drive it on",
    "torque margin": "with every factor, on the lowest air load at the governing deflection; that "
    "of the verdict stands among the margins",
    "torque margin, best air load": "with every factor, where the best estimate of the air load "
    "asks for most",
    "deadband": "of the servo, seen at the surface from end to end",
    "ground rise": "greatest voltage of the servo's ground over the receiver's; it is taken from the "
    "signal",
    "copper temperature in free air": "of the warmest wire on the way to the servo, alone, if the "
    "current at work lasted",
    "copper temperature in a bundle": "the same within the bundle of its lead, or of several leads",
    "hold time": "how long a servo may hold the largest load of a sustained case before it is too "
    "warm, by a first-order model from cold",
    "torque available": "what one servo gives at 'voltage at limit'",
    "voltage at work": "at the servo's plug with every servo at its largest load",
    "voltage at limit": "there when this servo is about to stall and the others work with their "
    "torque factor",
    "current at work": "that one servo draws",
    "rod force": "the largest in the pushrod; negative is compression",
    "shaft load": "square to the servo's output shaft, from its rod or cables, where their force is "
    "largest",
    "bellcrank load": "on the bearing of the bellcrank that carries most, there",
    "hinge load": "from rod or cables on the hinges, there; the air load comes on top",
    "jam force": "that the servo would put into the pushrod of a jammed surface",
    "held": "how far the surface can be held with the torque factor, starting from neutral",
    "blow-back": "how far it can be held at all; beyond, the air pushes it back",
    "surface rate under load": "the least over the range that the case asks for",
    "torque limit speed": "up to which the servo holds all that is asked for, with the torque "
    "factor; density, incidence and load factor stay those of the case",
    "freeze speed": "the same with a torque factor of 1: above, the surface does not move",
    "placard speed": "up to which no margin of the run is below zero",
}
"""What each value is, by its name; the two deflections by their first word."""

AIRCRAFT: dict[str, str] = {
    "manoeuvre placard speed": "the least placard speed of the runs in manoeuvre cases",
    "stall speed": "of level flight, at sea level",
    "cruise speed": "as the file gives it",
    "dive speed": "the greatest of the file's own and of what its dives come to",
    "margin of the placard over": "how far the placard speed is above it",
    "source current": "with every servo at its largest load; with all of them stalled; with all of them "
    "starting at once",
    "least servo voltage": "at the plug of the servo that gets least, in these states",
    "receiver voltage": "at the receiver, in these states",
    "terminal speed": "at which the dive no longer changes, in the air of its start",
    "pull-out speed": "where the pull-out begins",
    "peak dynamic pressure": "the greatest on the way",
    "greatest Mach number": "on the way; above 0.3 the air is no longer incompressible",
    "greatest load factor": "of the pull-out",
    "height lost": "from the start to where the path is level; beside it with a servo that holds all",
    "lowest height": "above the field, where the path is level",
    "least height to recover": "from which, and from everything up to the ceiling above it, it recovers",
    "share of the pull-out limited by the servo": "of its time",
    "recovers": "1, or none with the reason",
}
"""What each value of the aircraft, or of a case as a whole, is, by its name up to the comma."""
