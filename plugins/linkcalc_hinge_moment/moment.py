"""A hinge moment that is given as it is: a rudder in water, a steerable wheel."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np

from linkcalc_hinge_moment.lines import common_shape, declared, opposing_sign

if TYPE_CHECKING:
    from collections.abc import Mapping

    from linkcalc_hinge_moment.lines import Array

__all__ = ["Moment"]


class Moment:
    r"""A given moment about the hinge line, either way, whatever the speed and the deflection.

    Best and high act against the deflection, low acts with it; the size is the same.

    Attributes
    ----------
    name, description, sources
        What the solver is called, what it does, and where it is from.
    validity
        Empty: only the source of the moment knows where it stands.
    fields
        Fields needed, with the unit of each.

    References
    ----------
    .. [1] The source of the given moment.

    Examples
    --------
    >>> moment = Moment()({"given_moment": 0.2, "deflection": np.array([-0.1, 0.1])})
    >>> moment["high"].tolist(), moment["low"].tolist()
    ([0.2, -0.2], [-0.2, 0.2])
    """

    name: str = "moment"
    description: str = "moment as given, either way: a rudder in water, a steerable wheel"
    sources: tuple[str, ...] = ("the source of the given moment",)
    validity: Mapping[str, tuple[float, float]] = MappingProxyType({})
    fields: Mapping[str, str] = MappingProxyType({"deflection": "rad", "given_moment": "N*m"})

    def __call__(self, fields: Mapping[str, Array]) -> Mapping[str, Array]:
        """Evaluate the three lines.

        Parameters
        ----------
        fields : mapping of str to array
            The declared fields in their declared units; they broadcast together. They are
            not changed. nan gives nan in what depends on it.

        Returns
        -------
        mapping of str to array
            All of the fields' common shape, read-only: "low", "best", "high" and "other_high"
            [N m], positive trailing edge down; coefficients of 0 and a "k_s" of 1.

        Raises
        ------
        KeyError
            A declared field is missing.
        """
        f = declared(fields, self.fields)
        size = np.where(np.isnan(f["deflection"]), np.nan, np.abs(f["given_moment"]))
        against = -opposing_sign(f["deflection"]) * size
        nothing = np.zeros(())
        return common_shape(
            f,
            {
                "low": -against,
                "best": against,
                "high": against,
                "other_high": np.where(f["deflection"] == 0.0, -against, against),
                "C_h0": nothing,
                "C_h_alpha": nothing,
                "C_h_delta": nothing,
                "k_s": np.ones(()),
            },
        )
