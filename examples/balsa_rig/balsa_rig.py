"""Hinge moments of sheet balsa surfaces, as measured in a rig (invented figures)."""

import numpy as np


class Rig:
    """Surfaces of sheet balsa with a taped hinge, of a coastal mapping crew (invented)."""

    name = "rig"
    description = "sheet surfaces with a taped hinge, measured slopes"
    sources = ("our own rig, invented for this example",)
    validity = {"deflection": (-0.5, 0.5), "chord_ratio": (0.2, 0.5)}
    fields = {
        "dynamic_pressure": "Pa",
        "incidence": "rad",
        "deflection": "rad",
        "area": "m^2",
        "chord": "m",
        "chord_ratio": "1",
    }

    def __call__(self, fields):
        """Return the three lines of the hinge moment and the coefficients of the best one."""
        slope_incidence = -0.45 + 0.10 * fields["chord_ratio"]
        slope_deflection = -0.80 + 0.15 * fields["chord_ratio"]
        load = fields["dynamic_pressure"] * fields["area"] * fields["chord"]
        best = load * (
            slope_incidence * fields["incidence"] + slope_deflection * fields["deflection"]
        )
        scatter = 0.1 * np.abs(best)  # the rig repeats to a tenth
        side = np.where(fields["deflection"] < 0, 1.0, -1.0)  # the sense that opposes
        shape = best.shape
        return {
            "low": best - side * scatter,
            "best": best,
            "high": best + side * scatter,
            "C_h0": np.zeros(shape),
            "C_h_alpha": np.broadcast_to(slope_incidence, shape),
            "C_h_delta": np.broadcast_to(slope_deflection, shape),
            "k_s": np.full(shape, 1.1),
        }
