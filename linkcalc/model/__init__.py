"""What a person describes: value classes that hold quantities.

Frozen value classes, one file for each part of an aircraft; `fields` says what
a field may hold. Imports errors, units and physics; computes nothing.
"""

from linkcalc.model.aircraft import Aircraft, ControlRun
from linkcalc.model.case import FlightCase, InputShare, RunDemand
from linkcalc.model.factors import SafetyFactors
from linkcalc.model.linkage import ControlHorn, Linkage, Pushrod, ServoArm
from linkcalc.model.servo import DatasheetRow, Servo
from linkcalc.model.supply import Battery, Lead, Load, Receiver, Regulator, Supply
from linkcalc.model.surface import ControlSurface, HingeMomentCoefficients, PilotInput
from linkcalc.model.surroundings import Propeller, Wing

__all__ = [
    "Aircraft",
    "Battery",
    "ControlHorn",
    "ControlRun",
    "ControlSurface",
    "DatasheetRow",
    "FlightCase",
    "HingeMomentCoefficients",
    "InputShare",
    "Lead",
    "Linkage",
    "Load",
    "PilotInput",
    "Propeller",
    "Pushrod",
    "Receiver",
    "Regulator",
    "RunDemand",
    "SafetyFactors",
    "Servo",
    "ServoArm",
    "Supply",
    "Wing",
]
