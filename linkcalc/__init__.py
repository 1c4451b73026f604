"""Servo and linkage sizing for builders of models and light unmanned aircraft.

For every control surface, at the worst speed the airframe will see and with the
voltage that really arrives: the torque that is needed and the torque there is,
with every factor on the table. Names are loaded when they are first used, so
importing the library is quick and quiet.

Examples
--------
>>> import linkcalc
>>> report = linkcalc.check("examples/sandpiper.toml")
>>> report.verdict
'short'
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

from linkcalc.version import __version__ as __version__

if TYPE_CHECKING:
    from linkcalc.catalogue import Catalogue, catalogue_of, read_catalogue
    from linkcalc.checking import check
    from linkcalc.choosing.choice import Choice, choose
    from linkcalc.choosing.joint_choice import JointChoice, choose_each
    from linkcalc.errors import (
        Fault,
        InputError,
        InputFaults,
        LinkcalcError,
        SolverError,
        UnitError,
    )
    from linkcalc.files import read_aircraft
    from linkcalc.model import (
        Aircraft,
        Airframe,
        Battery,
        Connection,
        ControlHorn,
        ControlRun,
        ControlSurface,
        DatasheetRow,
        DiveEntry,
        Drag,
        DragPart,
        ElevatorPower,
        Extension,
        FlightCase,
        HingeMomentCoefficients,
        InputShare,
        Joint,
        Lead,
        Linkage,
        LinkageStage,
        Load,
        PilotInput,
        Planform,
        PlanformStation,
        PolarPoint,
        ProofLoad,
        Propeller,
        Pushrod,
        Receiver,
        Regulator,
        RunDemand,
        SafetyFactors,
        SectionPoint,
        Servo,
        ServoArm,
        Supply,
        ToleranceGroup,
        Tolerances,
    )
    from linkcalc.model.value_classes import replace
    from linkcalc.results import (
        AircraftCase,
        CaseReport,
        Caution,
        Margin,
        Report,
        RunReport,
        Value,
    )
    from linkcalc.solvers import available as available_solvers
    from linkcalc.study.curves import Curves, curves
    from linkcalc.study.sweep import sweep
    from linkcalc.study.tolerance import ToleranceReport, tolerance

__all__ = [
    "Aircraft",
    "AircraftCase",
    "Airframe",
    "Battery",
    "CaseReport",
    "Catalogue",
    "Caution",
    "Choice",
    "Connection",
    "ControlHorn",
    "ControlRun",
    "ControlSurface",
    "Curves",
    "DatasheetRow",
    "DiveEntry",
    "Drag",
    "DragPart",
    "ElevatorPower",
    "Extension",
    "Fault",
    "FlightCase",
    "HingeMomentCoefficients",
    "InputError",
    "InputFaults",
    "InputShare",
    "Joint",
    "JointChoice",
    "Lead",
    "Linkage",
    "LinkageStage",
    "LinkcalcError",
    "Load",
    "Margin",
    "PilotInput",
    "Planform",
    "PlanformStation",
    "PolarPoint",
    "ProofLoad",
    "Propeller",
    "Pushrod",
    "Receiver",
    "Regulator",
    "Report",
    "RunDemand",
    "RunReport",
    "SafetyFactors",
    "SectionPoint",
    "Servo",
    "ServoArm",
    "SolverError",
    "Supply",
    "ToleranceGroup",
    "ToleranceReport",
    "Tolerances",
    "UnitError",
    "Value",
    "available_solvers",
    "catalogue_of",
    "check",
    "choose",
    "choose_each",
    "curves",
    "read_aircraft",
    "read_catalogue",
    "replace",
    "sweep",
    "tolerance",
]

_RESULTS = ("AircraftCase", "CaseReport", "Caution", "Margin", "Report", "RunReport", "Value")
_ERRORS = ("Fault", "InputError", "InputFaults", "LinkcalcError", "SolverError", "UnitError")
_CATALOGUES = ("Catalogue", "catalogue_of", "read_catalogue")
_HOME = (
    dict.fromkeys(_RESULTS, "linkcalc.results")
    | dict.fromkeys(_ERRORS, "linkcalc.errors")
    | dict.fromkeys(_CATALOGUES, "linkcalc.catalogue")
    | {
        "check": "linkcalc.checking",
        "Choice": "linkcalc.choosing.choice",
        "choose": "linkcalc.choosing.choice",
        "choose_each": "linkcalc.choosing.joint_choice",
        "JointChoice": "linkcalc.choosing.joint_choice",
        "Curves": "linkcalc.study.curves",
        "curves": "linkcalc.study.curves",
        "read_aircraft": "linkcalc.files",
        "available_solvers": "linkcalc.solvers",
        "replace": "linkcalc.model.value_classes",
        "sweep": "linkcalc.study.sweep",
        "tolerance": "linkcalc.study.tolerance",
        "ToleranceReport": "linkcalc.study.tolerance",
    }
)


def __getattr__(name: str) -> Any:
    if name not in __all__:
        raise AttributeError(f"module 'linkcalc' has no attribute {name!r}")
    home = importlib.import_module(_HOME.get(name, "linkcalc.model"))
    value = getattr(home, "available" if name == "available_solvers" else name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted(__all__)
