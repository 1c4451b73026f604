"""What a person describes: value classes that hold quantities.

Frozen value classes, one file for each part of an aircraft; `fields` says what
a field may hold. Imports errors, units and physics; computes nothing.
"""

from linkcalc.model.aircraft import Aircraft, ControlRun
from linkcalc.model.airframe import (
    Airframe,
    DiveEntry,
    Drag,
    DragPart,
    ElevatorPower,
    PolarPoint,
    Propeller,
)
from linkcalc.model.case import FlightCase, InputShare, RunDemand
from linkcalc.model.factors import ProofLoad, SafetyFactors
from linkcalc.model.joint import Joint
from linkcalc.model.linkage import ControlHorn, Linkage, LinkageStage, Pushrod, ServoArm
from linkcalc.model.planform import Planform, PlanformStation
from linkcalc.model.servo import DatasheetRow, Servo
from linkcalc.model.supply import (
    Battery,
    Connection,
    Extension,
    Lead,
    Load,
    Receiver,
    Regulator,
    Supply,
)
from linkcalc.model.surface import (
    ControlSurface,
    HingeMomentCoefficients,
    PilotInput,
    SectionPoint,
)
from linkcalc.model.tolerances import ToleranceGroup, Tolerances

__all__ = [
    "Aircraft",
    "Airframe",
    "Battery",
    "Connection",
    "ControlHorn",
    "ControlRun",
    "ControlSurface",
    "DatasheetRow",
    "DiveEntry",
    "Drag",
    "DragPart",
    "ElevatorPower",
    "Extension",
    "FlightCase",
    "HingeMomentCoefficients",
    "InputShare",
    "Joint",
    "Lead",
    "Linkage",
    "LinkageStage",
    "Load",
    "PilotInput",
    "Planform",
    "PlanformStation",
    "PolarPoint",
    "ProofLoad",
    "Propeller",
    "Pushrod",
    "Receiver",
    "Regulator",
    "RunDemand",
    "SafetyFactors",
    "SectionPoint",
    "Servo",
    "ServoArm",
    "Supply",
    "ToleranceGroup",
    "Tolerances",
]
