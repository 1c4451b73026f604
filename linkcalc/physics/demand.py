r"""What servos ask of a supply: their current at a voltage, in a form that solvers can take apart.

A supply solver needs no more than the current of every servo at its voltage. From a demand
that is known to be the lines of datasheets it can have more: the demand of some cases
alone, so that many go through in blocks; the slope of the current, so that nothing has to
be asked twice; and a bound of that slope, by which a solution is proved to be the only one.
"""

from __future__ import annotations

import functools
import math
from typing import TYPE_CHECKING, TypeAlias

import numpy as np
from numpy.typing import NDArray

from linkcalc.physics import servo

if TYPE_CHECKING:
    from collections.abc import Iterable

    from linkcalc.physics.servo import Curves

__all__ = ["Part", "ServoDemand", "cut"]

Array: TypeAlias = NDArray[np.float64]
Cases: TypeAlias = slice | NDArray[np.intp]


class ServoDemand:
    """Current of servos that move against torques, as a function of their voltages.

    Parameters
    ----------
    curves : Curves
        Datasheet curves, shape (..., servo, row).
    torque : float or array, shape (..., servo)
        Torque on each shaft, against the motion, zero or more [N m].
    share : float or array, shape (..., servo)
        Multiplies the current, zero or more [-]: 0 for a servo that is dead.

    Examples
    --------
    >>> row = {"voltage": 6.0, "stall_torque": 0.3, "no_load_speed": 6.0}
    >>> rows = servo.curves(
    ...     **{name: np.array([[value]]) for name, value in row.items()},
    ...     stall_current=np.array([[2.0]]),
    ...     no_load_current=np.array([[0.2]]),
    ... )
    >>> ServoDemand(rows, np.array([0.1]))(np.array([6.0]))
    array([0.8])
    """

    def __init__(
        self, curves: Curves, torque: float | Array, share: float | Array | NDArray[np.bool_] = 1.0
    ) -> None:
        self.curves = curves
        self.torque = np.atleast_1d(np.asarray(torque, dtype=np.float64))
        self.share = np.atleast_1d(np.asarray(share, dtype=np.float64))

    def __call__(self, voltage: Array) -> Array:
        """Current of every servo.

        Parameters
        ----------
        voltage : array, shape (..., servo)
            Voltage at each servo's plug, zero or more [V].

        Returns
        -------
        array, shape (..., servo)
            Current, as `linkcalc.physics.servo.current` has it, times the share [A].
        """
        return servo.current(self.curves, voltage, self.torque) * self.share

    @property
    def shape(self) -> tuple[int, ...]:
        """Axes before the servo to which curves, torque and share broadcast."""
        columns = (column.shape[:-1] for column in self.curves)
        return np.broadcast_shapes(*columns, self.torque.shape, self.share.shape)[:-1]

    def part(self, shape: tuple[int, ...], cases: Cases) -> Part:
        """Demand of some cases alone.

        Parameters
        ----------
        shape : tuple of int
            Axes before the servo to which curves, torque and share broadcast.
        cases : slice or array of int
            Which cases, counted along those axes made one.

        Returns
        -------
        Part
            Their demand, with the case as last axis.
        """
        level = np.zeros_like(self.curves.ramp_start)  # no current depends on the speed
        curves = self.curves._replace(no_load_speed_slope=level)
        columns = [cut(column, 2, shape, cases) for column in curves]
        torque, share = (cut(values, 1, shape, cases) for values in (self.torque, self.share))
        return Part(servo.Curves(*columns), torque, share)


def cut(values: Array, own: int, shape: tuple[int, ...], cases: Cases) -> Array:
    """Values of some cases alone, with the case as last axis.

    Parameters
    ----------
    values : array, shape (..., own)
        Any values; the axes before their own broadcast to `shape`.
    own : int
        Number of their own axes, which stay.
    shape : tuple of int
        Axes of the cases.
    cases : slice or array of int
        Which cases, counted along those axes made one.

    Returns
    -------
    array, shape (own, case)
        The values, laid out with the cases side by side; one case alone where the values
        are the same in all.

    Examples
    --------
    >>> cut(np.array([[1.0, 2.0], [3.0, 4.0], [5.0, 6.0]]), 1, (3,), slice(1, 3))
    array([[3., 5.],
           [4., 6.]])
    """
    lead, tail = values.shape[: values.ndim - own], values.shape[values.ndim - own :]
    if math.prod(lead) == 1:
        return values.reshape(*tail, 1)
    whole = math.prod(lead) == math.prod(shape)
    if whole and (max(lead) == math.prod(lead) or values.flags.c_contiguous):
        return np.ascontiguousarray(np.moveaxis(values.reshape(-1, *tail)[cases], 0, -1))
    if math.prod(shape) <= _WHOLE:
        places = _places(lead, shape)[cases]
    else:
        count = math.prod(shape)
        flat = np.arange(*cases.indices(count)) if isinstance(cases, slice) else cases
        # Axes that the values lack come first, axes of one have no index but zero.
        index = np.unravel_index(flat, shape)[len(shape) - len(lead) :]
        at = tuple(each if long > 1 else 0 * each for each, long in zip(index, lead, strict=True))
        places = np.ravel_multi_index(at, lead)
    return np.moveaxis(values.reshape(-1, *tail), 0, -1).take(places, axis=-1)


_WHOLE = 2**18  # cases of which all places are worth keeping


@functools.lru_cache(maxsize=8)  # all columns of a demand ask alike
def _places(lead: tuple[int, ...], shape: tuple[int, ...]) -> NDArray[np.intp]:
    """Return where all cases are, counted along the axes that some values have."""
    places = np.broadcast_to(np.arange(math.prod(lead)).reshape(lead), shape).reshape(-1)
    places.flags.writeable = False
    return places


class Part:
    """Demand of a block of cases, with the case as last axis.

    Parameters
    ----------
    curves : Curves
        Datasheet curves, shape (servo, row, case).
    torque : array, shape (servo, case)
        Torque on each shaft [N m].
    share : array, shape (servo, case)
        Multiplies the current [-].
    """

    def __init__(self, curves: Curves, torque: Array, share: Array) -> None:
        self.torque = torque
        self.share = None if (share == 1.0).all() else share
        if curves.ramp_width.shape[0] > 1 and _alike(curves):
            curves = servo.Curves(*(column[:1] for column in curves))  # servos of one kind
        self._rows = []
        self._bends = curves.ramp_width.shape[1] > 1  # a first ramp goes through no current
        stall = span = flattest = np.zeros(())
        for row in range(curves.ramp_width.shape[1]):
            start, width, torques, _, stalled, free = (column[:, row] for column in curves)
            spans = stalled - free
            # Of D / T_s within the ramp, D = I_s - I_0: its slope is this bend over T_s^2.
            bend = spans * stall - torques * span if self._bends else np.zeros(())
            steps = (stalled, free, bend) if self._bends else (stalled, free)
            self._rows.append((start, width, (torques, spans, free), steps))
            flattest = np.minimum(flattest, np.minimum(free, stalled))
            if np.any(bend < 0.0):
                # It counts most where T_s is least, which is where the ramp begins or where
                # the servo just does not stall.
                least = np.maximum(torque, np.maximum(stall, np.finfo(np.float64).tiny))
                falls = torque / least
                falls *= bend
                falls /= least
                falls += free
                flattest = np.minimum(flattest, falls)
            stall, span = stall + torques * width, span + spans * width
        self.least_slope = flattest if self.share is None else flattest * self.share

    def line(self, voltage: Array) -> tuple[Array, Array]:
        r"""Current of every servo, and its slope.

        .. math:: \frac{dI}{dV} = \frac{dI_0}{dV} + T \frac{d}{dV} \frac{I_s - I_0}{T_s}
                  \quad (T < T_s), \qquad \frac{dI}{dV} = \frac{dI_s}{dV} \quad (T \ge T_s)

        Parameters
        ----------
        voltage : array, shape (servo, case)
            Voltage at each servo's plug, more than zero [V].

        Returns
        -------
        current : array, shape (servo, case)
            Current [A].
        slope : array, shape (servo, case)
            Its slope, to the left where there is a bend [A/V].
        """
        (stall, span, free), rises = self._sums(voltage, rising=True)
        stalled, slope, *bends = rises
        share = np.minimum(self.torque, stall)
        share /= stall
        for bend in bends:
            bent = bend / stall
            slope = slope + bent * share
        slope = np.where(self.torque >= stall, stalled, slope)
        share *= span
        share += free
        if self.share is not None:
            return share * self.share, slope * self.share
        return share, slope

    def current(self, voltage: Array) -> Array:
        """Current of every servo.

        Parameters
        ----------
        voltage : array, shape (..., servo, case)
            Voltage at each servo's plug, more than zero [V].

        Returns
        -------
        array, shape (..., servo, case)
            Current [A].
        """
        (stall, span, free), _ = self._sums(voltage, rising=False)
        share = np.minimum(self.torque, stall)
        share /= stall
        share *= span
        share += free
        return share if self.share is None else share * self.share

    def _sums(self, voltage: Array, *, rising: bool) -> tuple[list[Array], list[Array]]:
        """Stall torque, I_s - I_0 and I_0 at a voltage, and the slopes of the currents if wanted.

        These are of the stall current, of I_0, and what the share bends by where it can.
        """
        values: list[Array] = []
        rises: list[Array] = []
        for start, width, slopes, steps in self._rows:
            first = not values
            past = voltage if first else voltage - start
            climbed = np.minimum(past, width)
            if not first:
                np.maximum(climbed, 0.0, out=climbed)
            values = _with(values, slopes, climbed)
            if rising:
                within = climbed == past
                single = not self._bends and within.all()
                rises = list(steps) if single else _with(rises, steps, within)
        return values, rises


def _with(
    totals: list[Array], slopes: Iterable[Array], along: Array | NDArray[np.bool_]
) -> list[Array]:
    """Totals with what each slope comes to on the next ramp; the first ramp begins them."""
    if not totals:
        return [slope * along for slope in slopes]
    term = np.empty_like(totals[0])
    for total, slope in zip(totals, slopes, strict=True):
        np.multiply(slope, along, out=term)
        np.add(total, term, out=total)
    return totals


def _alike(curves: servo.Curves) -> bool:
    """Tell whether all servos are of one kind; a look at the first case mostly tells."""
    return all((each[..., :1] == each[:1, :, :1]).all() for each in curves) and all(
        (each == each[:1]).all() for each in curves
    )
