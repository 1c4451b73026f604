r"""What a datasheet leaves out: missing currents, deadband, heat while holding, signal levels.

A servo is taken as a permanent-magnet motor with friction behind a gearbox of efficiency
:math:`\eta`. With the stall current I_s and the no-load current I_0 at the voltage V its stall
torque and no-load speed, both at the output shaft, satisfy

.. math:: T_s \, \omega_0 = \eta V \frac{(I_s - I_0)^2}{I_s}

for the torque is in proportion to the current without that of friction, and the speed to the
voltage without that lost in the winding, V I_0 / I_s, with one constant for both.

References
----------
.. [1] Power balance of the permanent-magnet direct-current motor (any textbook on electric
   machines).
"""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING, NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = [
    "LOGIC_LEVELS",
    "Estimate",
    "LogicLevels",
    "deadband_angle",
    "estimated_no_load_current",
    "estimated_stall_current",
    "hold_time",
    "implied_efficiency",
    "pulse_angle",
    "signal_margins",
    "temperature_share",
]

Floats: TypeAlias = float | NDArray[np.float64]

# Gearbox, brushes and driver of a servo (common practice, no source).
_LEAST_EFFICIENCY, _EFFICIENCY, _MOST_EFFICIENCY = 0.45, 0.65, 0.9
# No-load current over stall current (common practice, no source).
_LEAST_SHARE, _SHARE, _MOST_SHARE = 0.05, 0.1, 0.2


class Estimate(NamedTuple):
    """A figure that stands in for one that is not printed, and how wide it is."""

    low: Floats
    """Least value that is likely."""
    best: Floats
    """The value to go on with."""
    high: Floats
    """Greatest value that is likely."""


class LogicLevels(NamedTuple):
    """Voltages by which one circuit tells another high from low [V]."""

    output_high: float
    """Least voltage of a high output."""
    output_low: float
    """Greatest voltage of a low output."""
    input_high: float
    """Least voltage that an input takes for high."""
    input_low: float
    """Greatest voltage that an input takes for low."""


LOGIC_LEVELS: Mapping[str, LogicLevels] = MappingProxyType(
    {
        # JEDEC JESD8C for 3.3 V, the classic levels of TTL, and shares of 0.7 and 0.3 of the
        # supply for CMOS inputs with outputs within half a volt of it (all from memory).
        "3.3 V": LogicLevels(2.4, 0.4, 2.0, 0.8),
        "5 V TTL": LogicLevels(2.4, 0.4, 2.0, 0.8),
        "5 V CMOS": LogicLevels(4.5, 0.5, 3.5, 1.5),
    }
)
"""Levels by name. An output of one kind may feed an input of another: mix them by field."""


def _motor_current(power: Floats, voltage: Floats, idle: Floats, efficiency: float) -> Floats:
    """Greater root I_s of (I_s - I_0)^2 = T omega / (eta V) I_s [A]."""
    ideal = power / (efficiency * np.asarray(voltage, dtype=np.float64))
    half = np.asarray(idle + 0.5 * ideal)
    return np.asarray(half + np.sqrt(np.square(half) - np.square(idle)))


def estimated_stall_current(
    *,
    voltage: Floats,
    stall_torque: Floats,
    no_load_speed: Floats,
    no_load_current: Floats = np.nan,
) -> Estimate:
    r"""Stall current of a servo whose datasheet does not print it.

    .. math:: I_s = \frac{T_s \omega_0}{\eta V (1 - f)^2}

    with f = I_0 / I_s, or the greater root of the power balance where I_0 is known.

    Parameters
    ----------
    voltage : float or array, shape (...)
        Voltage V of the row, more than zero [V].
    stall_torque : float or array, shape (...)
        Printed stall torque T_s [N m].
    no_load_speed : float or array, shape (...)
        Printed no-load speed, at the same voltage [rad/s].
    no_load_current : float or array, shape (...)
        No-load current I_0 [A]; nan if it is not printed either, then f is taken
        as 0.1, and as 0.05 and 0.2 for the ends.

    Returns
    -------
    Estimate
        low, best and high [A], of the shape to which the arguments broadcast; nan in
        any other argument gives nan out.

    Notes
    -----
    Efficiencies of 0.9, 0.65 and 0.45 give the three values (common practice, no
    source). A printed torque that is too good to be true gives a current that is
    too high with it, which is on the safe side for the supply.

    References
    ----------
    .. [1] The power balance, as for the module.

    Examples
    --------
    >>> found = estimated_stall_current(voltage=6.0, stall_torque=0.4, no_load_speed=7.5)
    >>> [round(float(value), 2) for value in found]
    [0.62, 0.95, 1.74]
    """
    power = np.asarray(stall_torque * np.asarray(no_load_speed, dtype=np.float64))
    known = ~np.isnan(no_load_current)
    idle = np.where(known, no_load_current, 0.0)
    values = []
    for efficiency, share in (
        (_MOST_EFFICIENCY, _LEAST_SHARE),
        (_EFFICIENCY, _SHARE),
        (_LEAST_EFFICIENCY, _MOST_SHARE),
    ):
        balanced = _motor_current(power, voltage, idle, efficiency)
        shared = power / (efficiency * np.asarray(voltage) * (1.0 - share) ** 2)
        values.append(np.where(known, balanced, shared)[()])
    return Estimate(*values)


def estimated_no_load_current(*, stall_current: Floats) -> Estimate:
    """No-load current of a servo whose datasheet does not print it.

    Parameters
    ----------
    stall_current : float or array, shape (...)
        Stall current, printed or estimated [A].

    Returns
    -------
    Estimate
        A twentieth, a tenth and a fifth of it [A] (common practice, no source). nan
        in gives nan out.

    Examples
    --------
    >>> estimated_no_load_current(stall_current=2.0)
    Estimate(low=0.1, best=0.2, high=0.4)
    """
    return Estimate(
        _LEAST_SHARE * stall_current, _SHARE * stall_current, _MOST_SHARE * stall_current
    )


def implied_efficiency(
    *,
    voltage: Floats,
    stall_torque: Floats,
    no_load_speed: Floats,
    stall_current: Floats,
    no_load_current: Floats,
) -> Floats:
    r"""Efficiency of gearbox and driver that a row of a datasheet asks for.

    .. math:: \eta = \frac{T_s \, \omega_0 I_s}{V (I_s - I_0)^2}

    Parameters
    ----------
    voltage : float or array, shape (...)
        Voltage V of the row [V].
    stall_torque : float or array, shape (...)
        Stall torque T_s [N m].
    no_load_speed : float or array, shape (...)
        No-load speed [rad/s].
    stall_current, no_load_current : float or array, shape (...)
        Currents, the first more than the second [A].

    Returns
    -------
    float or array, shape (...)
        Efficiency [-]. Above 1 the row gives more than it takes: a figure on it is
        wrong, or its current is limited by the driver. nan in gives nan out.

    References
    ----------
    .. [1] The power balance, as for the module.

    Examples
    --------
    >>> implied_efficiency(
    ...     voltage=6.0,
    ...     stall_torque=0.4,
    ...     no_load_speed=6.0,
    ...     stall_current=1.0,
    ...     no_load_current=0.2,
    ... )
    0.625
    """
    driving = stall_current - no_load_current
    return stall_torque * no_load_speed * stall_current / (voltage * driving**2)


def pulse_angle(
    *, pulse: Floats, neutral_pulse: Floats, travel: Floats, pulse_span: Floats
) -> Floats:
    r"""Angle to which a pulse sends a servo.

    .. math:: \theta = \frac{\theta_{span}}{t_{span}} (t - t_0)

    Parameters
    ----------
    pulse : float or array, shape (...)
        Width t of the pulse [s].
    neutral_pulse : float or array, shape (...)
        Width t_0 at neutral, mostly 1.5 ms [s].
    travel : float or array, shape (...)
        Angle between two stated pulses [rad].
    pulse_span : float or array, shape (...)
        Difference of these pulses, more than zero [s].

    Returns
    -------
    float or array, shape (...)
        Angle from neutral, positive for a longer pulse [rad]. The arguments
        broadcast together; nan in gives nan out. End stops are not in here.

    References
    ----------
    .. [1] Proportional control by the width of a pulse (common practice, no source).

    Examples
    --------
    Ninety degrees for 1 to 2 ms: 1.75 ms is 22.5 degrees.

    >>> angle = pulse_angle(
    ...     pulse=1.75e-3, neutral_pulse=1.5e-3, travel=np.pi / 2, pulse_span=1e-3
    ... )
    >>> round(float(np.degrees(angle)), 6)
    22.5
    """
    return travel / pulse_span * (pulse - neutral_pulse)


def deadband_angle(*, deadband: Floats, travel: Floats, pulse_span: Floats) -> Floats:
    r"""Whole angle within which a servo does not answer.

    .. math:: \Delta\theta = \frac{\theta_{span}}{t_{span}} \Delta t

    Parameters
    ----------
    deadband : float or array, shape (...)
        Whole width of pulses that the servo takes for one: 2 microseconds for a
        digital one and 6 for an analogue one are common practice, no source [s].
    travel, pulse_span : float or array, shape (...)
        As for `pulse_angle` [rad] and [s].

    Returns
    -------
    float or array, shape (...)
        Angle at the servo's shaft, from end to end, to be added to its play [rad]. nan
        in gives nan out.

    Notes
    -----
    A datasheet that prints plus or minus half of it has to be doubled.

    References
    ----------
    .. [1] Proportional control, as for `pulse_angle`.

    Examples
    --------
    >>> angle = deadband_angle(deadband=6e-6, travel=np.pi / 2, pulse_span=1e-3)
    >>> round(float(np.degrees(angle)), 6)
    0.54
    """
    return travel / pulse_span * deadband


def temperature_share(
    *,
    torque_share: Floats,
    continuous_share: Floats,
    time: Floats,
    time_constant: Floats,
    start: Floats = 0.0,
) -> Floats:
    r"""Temperature rise of a servo that holds a load, as a share of the rise that it stands.

    .. math:: u(t) = r^2 + (u_0 - r^2) e^{-t / \tau}, \quad r = x / x_c

    Parameters
    ----------
    torque_share : float or array, shape (...)
        Torque held over stall torque, x [-].
    continuous_share : float or array, shape (...)
        The share x_c that it can hold for good, more than zero [-]; a third is common
        practice, no source.
    time : float or array, shape (...)
        Time since the load came on, zero or more [s].
    time_constant : float or array, shape (...)
        Thermal time constant, more than zero [s]: 60 s for a servo of 10 g and 180 s
        for one of 60 g are common practice, no source.
    start : float or array, shape (...)
        Share of the rise that it had at first [-].

    Returns
    -------
    float or array, shape (...)
        Share u of the rise that the winding stands [-]; 1 is the limit. nan in gives nan
        out.

    Notes
    -----
    One mass that is heated by the square of the current, which is in proportion to
    the torque held, and that sheds heat in proportion to its rise. The winding itself
    runs ahead of the case within the first seconds of a stall, and is not in here;
    neither is that warm copper makes more heat.

    References
    ----------
    .. [1] First-order thermal model, heat balance of one mass (any textbook on heat
       transfer).

    Examples
    --------
    At the continuous load the limit is reached to 63 % after one time constant:

    >>> rise = temperature_share(
    ...     torque_share=0.3, continuous_share=0.3, time=60.0, time_constant=60.0
    ... )
    >>> round(float(rise), 3)
    0.632
    """
    settled = np.square(torque_share / np.asarray(continuous_share, dtype=np.float64))
    return np.asarray(settled + (start - settled) * np.exp(-np.asarray(time) / time_constant))[()]


def hold_time(
    *,
    torque_share: Floats,
    continuous_share: Floats,
    time_constant: Floats,
    start: Floats = 0.0,
) -> Floats:
    r"""How long a servo may hold a load before it is too warm.

    .. math:: t = \tau \ln \frac{r^2 - u_0}{r^2 - 1}, \quad r = x / x_c

    Parameters
    ----------
    torque_share, continuous_share, time_constant, start : float or array, shape (...)
        As for `temperature_share`.

    Returns
    -------
    float or array, shape (...)
        Time [s]: infinite up to the continuous share, and zero for a servo that is too
        warm already. nan in gives nan out.

    Notes
    -----
    The same model as `temperature_share`, solved for the time at which u is 1.

    References
    ----------
    .. [1] First-order thermal model, as for `temperature_share`.

    Examples
    --------
    Twice the continuous load, from cold: ln(4/3) of the time constant.

    >>> time = hold_time(torque_share=0.6, continuous_share=0.3, time_constant=60.0)
    >>> round(float(time), 2)
    17.26
    """
    share, limit, constant, warm = np.broadcast_arrays(
        *(
            np.asarray(value, dtype=np.float64)
            for value in (torque_share, continuous_share, time_constant, start)
        )
    )
    settled = np.square(share / limit)
    late = settled > 1.0
    ratio = np.where(late, settled - warm, 1.0) / np.where(late, settled - 1.0, 1.0)
    time = constant * np.log(np.maximum(ratio, 1.0))
    time = np.where(late, time, np.where(warm >= 1.0, 0.0, np.inf))
    unknown = np.isnan(settled) | np.isnan(constant) | np.isnan(warm)
    return np.where(unknown, np.nan, time)[()]


def signal_margins(
    *,
    ground_rise: Floats,
    output_high: Floats,
    output_low: Floats,
    input_high: Floats,
    input_low: Floats,
) -> tuple[Floats, Floats]:
    r"""What a raised ground leaves of a signal's levels at the servo.

    .. math:: m_{high} = V_{OH} - \Delta V - V_{IH}, \qquad m_{low} = V_{IL} - (V_{OL} - \Delta V)

    Parameters
    ----------
    ground_rise : float or array, shape (...)
        Voltage of the servo's ground over that of the receiver [V].
    output_high, output_low : float or array, shape (...)
        Levels of the receiver's output, over its own ground [V].
    input_high, input_low : float or array, shape (...)
        Thresholds of the servo's input, over its own ground [V].

    Returns
    -------
    high, low : float or array, shape (...)
        Margins of a high and of a low signal [V]; negative where the servo may read it
        wrong. nan in gives nan out.

    Notes
    -----
    Steady levels only. What the edges of a motor's current and a radio nearby add is not
    in here, so that a margin of zero is none.

    References
    ----------
    .. [1] Kirchhoff's voltage law; the levels of a kind stand in `LOGIC_LEVELS`.

    Examples
    --------
    A ground half a volt up leaves nothing of a 3.3 V signal's guaranteed 0.4 V:

    >>> levels = LOGIC_LEVELS["3.3 V"]._asdict()
    >>> [round(float(value), 3) for value in signal_margins(ground_rise=0.5, **levels)]
    [-0.1, 0.9]
    """
    return output_high - ground_rise - input_high, input_low - output_low + ground_rise
