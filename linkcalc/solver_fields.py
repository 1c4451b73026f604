"""Fields that solvers may declare, with the unit of each, by kind of solver."""

from __future__ import annotations

__all__ = [
    "DIVE_FIELDS",
    "DIVE_TABLES",
    "MOST_STATIONS",
    "MOTION_FIELDS",
    "STATION",
    "STATION_FIELDS",
    "SUPPLY_FIELDS",
    "SURFACE_FIELDS",
]

SURFACE_FIELDS: dict[str, str] = {
    "dynamic_pressure": "Pa",
    "incidence": "rad",
    "largest_incidence": "rad",
    "deflection": "rad",
    "area": "m^2",
    "chord": "m",
    "taper": "1",
    "chord_ratio": "1",
    "aspect_ratio": "1",
    "span_credit": "1",
    "incidence_credit": "1",
    "overhang": "1",
    "hinge_position": "1",
    "square_edged_slab": "1",
    "C_h0": "1",
    "c_l0": "1",
    "thickness_ratio": "1",
    "lift_slope_ratio": "1",
    "open_gap": "1",
    "density": "kg/m^3",
    "viscosity": "Pa*s",
    "half_span": "m",
    "root_chord": "m",
    "tip_chord": "m",
    "sweep": "rad",
    "dihedral": "rad",
    "inboard_end": "m",
    "outboard_end": "m",
    "horn_span": "m",
    "horn_lead": "m",
    "paired": "1",
    "partner": "1",
    "C_h_alpha": "1/rad",
    "C_h_delta": "1/rad",
    "band_low": "1",
    "band_high": "1",
    "given_moment": "N*m",
}
"""The fields a hinge-moment solver may declare: what is offered for each surface, and its unit."""

MOST_STATIONS = 12
"""Stations from root to tip that a whole surface may have."""

STATION = ("y", "z", "leading_edge", "chord", "hinge")
"""What is told of a station: outwards from the root, up, x of the leading edge, aft positive, whole
chord, hinge line aft of the leading edge [m]; the last may leave the chord beside the control surface."""

STATION_FIELDS: dict[str, str] = {"stations": "1"} | {
    f"station_{number}_{name}": "m" for number in range(1, MOST_STATIONS + 1) for name in STATION
}
"""Fields that a hinge-moment solver may name in `optional`: offered where a surface of the aircraft
is given by stations. `stations` is how many it has, 0 for one that is not; what is beyond them is 0."""

MOTION_FIELDS: dict[str, str] = {
    "aside_incidence": "rad",
    "roll_incidence": "rad",
    "incidence_per_span": "rad/m",
    "incidence_per_chord": "rad/m",
}
"""Fields that a hinge-moment solver may name in `optional`: how the `incidence` of a case varies over
the whole surface. What of it sideslip, a side gust and a rate of yaw make, opposite on the other side
of a pair; what of it a rate of roll makes at the surface's station; how much more there is outwards
along the surface by the roll, and aft by pitch and yaw."""

SUPPLY_FIELDS: dict[str, str] = {
    "parent": "1",
    "length": "m",
    "conductor_area": "m^2",
    "return_area": "m^2",
    "resistivity": "ohm m",
    "temperature_coefficient": "1/K",
    "copper_temperature": "K",
    "strand_factor": "1",
    "contacts": "1",
    "return_contacts": "1",
    "contact_resistance": "ohm",
    "loop_resistance": "ohm",
    "load": "A",
    "regulated_voltage": "V",
    "dropout": "V",
    "output_resistance": "ohm",
    "output_limit": "A",
    "efficiency": "1",
    "quiescent_current": "A",
    "servo_node": "1",
    "open_circuit_voltage": "V",
    "internal_resistance": "ohm",
    "current_limit": "A",
    "seek_latch_up": "1",
    "seek_details": "1",
}
"""The fields a supply solver may declare."""

DIVE_FIELDS: dict[str, str] = {
    "mass": "kg",
    "wing_area": "m^2",
    "zero_lift_drag": "1",
    "induced_factor": "1",
    "polar_lift": "1",
    "polar_drag": "1",
    "propeller_speed": "m/s",
    "propeller_drag_area": "m^2",
    "maximum_lift": "1",
    "limit_load_factor": "1",
    "trim_dynamic_pressure": "Pa",
    "trim_deflection": "rad",
    "load_factor_slope": "1/rad",
    "static_margin": "1",
    "tail_volume": "1",
    "tail_lift_slope": "1/rad",
    "tail_arm": "m",
    "elevator_effectiveness": "1",
    "field_altitude": "m",
    "start_height": "m",
    "start_speed": "m/s",
    "dive_angle": "rad",
    "drop": "m",
    "delay": "s",
    "ceiling": "m",
}
"""The fields a dive solver may declare; all but those of `DIVE_TABLES` broadcast together."""

DIVE_TABLES = ("polar_lift", "polar_drag", "propeller_speed", "propeller_drag_area")
"""Fields of a dive whose one axis is the point of a table for all dives; they may be empty."""
