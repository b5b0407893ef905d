"""Numbers as words for people: rounded so that nothing looks surer than it is. Pure.

A value has three decimals of a litre or quart, a millilitre's worth; its U is rounded up.
"""

from datetime import UTC, tzinfo
from math import ceil

from drainscale.quantities.units import celsius_to_fahrenheit, kelvin_to_fahrenheit_steps
from drainscale_server.record.model import Reading, Volume
from drainscale_server.settings.shop_time import moment

NOT_MEASURED = "not measured"
NOT_TOLD = "not told"
SMALL_L = 1.0  # below that in mL too
_SLACK = 1e-9


def rounded_up(value: float, decimals: int) -> float:
    """Round away from zero, so that an uncertainty is never told too small.

    Example:
        >>> rounded_up(0.0081, 3)
        0.009
    """
    steps = 10.0**decimals
    return ceil(value * steps - _SLACK) / steps


def with_u(value: float | None, U: float | None, unit: str, decimals: int) -> str:
    """Write a value with its expanded uncertainty.

    Example:
        >>> with_u(2.51444, 0.00871, "L", 3)
        '2.514 ± 0.009 L'
    """
    if value is None:
        return NOT_MEASURED
    shown = f"{value:.{decimals}f}"
    if shown.strip("-0.") == "":
        shown = f"{0.0:.{decimals}f}"  # no -0.000
    if U is None:
        return f"{shown} {unit}"
    return f"{shown} ± {rounded_up(U, decimals):.{decimals}f} {unit}"


def litres(volume: Volume) -> str:
    """Write a volume in litres."""
    return with_u(volume.value_L, volume.U_L, "L", 3)


def quarts(volume: Volume) -> str:
    """Write a volume in US liquid quarts."""
    return with_u(volume.value_qt, volume.U_qt, "US qt", 3)


def millilitres(volume: Volume) -> str:
    """Write a small volume in millilitres; nothing for a large one or none."""
    if volume.value_L is None or abs(volume.value_L) >= SMALL_L:
        return ""
    return with_u(volume.value_L * 1e3, None if volume.U_L is None else volume.U_L * 1e3, "mL", 0)


def temperature(reading: Reading) -> str:
    """Write an estimated fluid temperature."""
    return with_u(reading.fluid_C, reading.U_fluid_C, "°C", 1)


def temperature_F(reading: Reading) -> str:
    """Write an estimated fluid temperature in °C and in °F."""
    if reading.fluid_C is None:
        return NOT_MEASURED
    U_F = None
    if reading.U_fluid_C is not None:
        U_F = kelvin_to_fahrenheit_steps(reading.U_fluid_C)
    in_F = with_u(celsius_to_fahrenheit(reading.fluid_C), U_F, "°F", 1)
    return f"{temperature(reading)} ({in_F})"


def grouped(value: float) -> str:
    """Write a large number in groups of three, as ISO 80000-1 has them.

    Example:
        >>> grouped(128400.0)
        '128 400'
    """
    return f"{value:,.0f}".replace(",", " ")


def number(value: float | None, unit: str, decimals: int) -> str:
    """Write a number with its unit."""
    return with_u(value, None, unit, decimals)


def clock(t_s: float | None) -> str:
    """Write a time of the job: minutes and seconds, from an hour on hours too.

    Example:
        >>> clock(1483.3), clock(3725.0)
        ('24:43', '1:02:05')
    """
    if t_s is None:
        return NOT_MEASURED
    minutes, seconds = divmod(round(t_s), 60)
    hours, of_hour = divmod(minutes, 60)
    return f"{hours}:{of_hour:02d}:{seconds:02d}" if hours else f"{minutes}:{seconds:02d}"


def date_and_time(at_s: float | None, zone: tzinfo = UTC) -> str:
    """Write an instant with the name of its zone."""
    shown = None if at_s is None else moment(at_s, zone)
    return NOT_TOLD if shown is None else shown


def told(text: str | None) -> str:
    """Write a text that somebody typed in, or that nobody did."""
    return NOT_TOLD if text is None else text
