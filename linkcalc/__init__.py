"""Servo and linkage sizing for people who build their own aircraft.

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

if TYPE_CHECKING:
    from linkcalc.checking import (
        AircraftCase,
        CaseReport,
        Margin,
        Report,
        RunReport,
        Value,
        check,
    )
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
        ControlHorn,
        ControlRun,
        ControlSurface,
        DatasheetRow,
        FlightCase,
        HingeMomentCoefficients,
        Lead,
        Linkage,
        Load,
        Pushrod,
        Receiver,
        RunDemand,
        SafetyFactors,
        Servo,
        ServoArm,
        Supply,
    )
    from linkcalc.solvers import available as available_solvers

__version__ = "0.1.0.dev0"

__all__ = [
    "Aircraft",
    "AircraftCase",
    "CaseReport",
    "ControlHorn",
    "ControlRun",
    "ControlSurface",
    "DatasheetRow",
    "Fault",
    "FlightCase",
    "HingeMomentCoefficients",
    "InputError",
    "InputFaults",
    "Lead",
    "Linkage",
    "LinkcalcError",
    "Load",
    "Margin",
    "Pushrod",
    "Receiver",
    "Report",
    "RunDemand",
    "RunReport",
    "SafetyFactors",
    "Servo",
    "ServoArm",
    "SolverError",
    "Supply",
    "UnitError",
    "Value",
    "available_solvers",
    "check",
    "read_aircraft",
]

_CHECK = ("AircraftCase", "CaseReport", "Margin", "Report", "RunReport", "Value", "check")
_ERRORS = ("Fault", "InputError", "InputFaults", "LinkcalcError", "SolverError", "UnitError")
_HOME = (
    dict.fromkeys(_CHECK, "linkcalc.checking")
    | dict.fromkeys(_ERRORS, "linkcalc.errors")
    | {"read_aircraft": "linkcalc.files", "available_solvers": "linkcalc.solvers"}
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
