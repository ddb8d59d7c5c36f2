"""Air and moisture of the workshop: dew point, margin of a surface above it, caution for amine blush.

- :func:`saturation_pressure_hpa`, :func:`absolute_humidity_g_m3`: water in the air.
- :func:`dew_point_c`, :func:`dew_point_margin_k`: when a surface takes water.
- :func:`amine_blush_caution`: whether a mould is too near to it for an amine hardener.
- :func:`highest_humidity_pct`: the humidity up to which a surface keeps its margin.
- :func:`within_limits`: whether the air keeps the limits of a resin system.
"""

import math
from dataclasses import dataclass

from service.formulas.ranges import OutOfRange, within

__all__ = [
    "Caution",
    "absolute_humidity_g_m3",
    "amine_blush_caution",
    "dew_point_c",
    "dew_point_margin_k",
    "highest_humidity_pct",
    "saturation_pressure_hpa",
    "within_limits",
]

# The Magnus formula over water with the constants of WMO-No. 8.
MAGNUS_A = 17.62
MAGNUS_B_C = 243.12
MAGNUS_C_HPA = 6.112

LOWEST_C = -45.0
HIGHEST_C = 60.0

KELVIN_AT_0_C = 273.15
MOLAR_MASS_OF_WATER_G_MOL = 18.01528
GAS_CONSTANT_J_MOL_K = 8.314462618


@dataclass(frozen=True, slots=True)
class Caution:
    """Whether a surface is too near the dew point.

    Attributes
    ----------
    dew_point_c : float
        Dew point of the air [°C].
    margin_k : float
        Surface above the dew point; below zero if water condenses on it [K].
    caution : bool
        True if the margin is less than asked for [-].
    sentence : str
        The sentence to show [text].
    """

    dew_point_c: float
    margin_k: float
    caution: bool
    sentence: str


def _temperature(argument: str, value: float) -> float:
    return within(argument, value, LOWEST_C, HIGHEST_C, unit="°C")


def _humidity(argument: str, value: float) -> float:
    return within(argument, value, 0, 100, above=True, unit="%")


def saturation_pressure_hpa(*, temperature_c: float) -> float:
    """Saturation pressure of water vapour over water.

    Formula: ``e = 6.112*exp(17.62*t/(243.12 + t))``.

    Parameters
    ----------
    temperature_c : float
        Temperature of the air, t [°C].

    Returns
    -------
    float
        Saturation pressure [hPa].

    Raises
    ------
    OutOfRange
        If the temperature is outside its range.

    Valid range
    -----------
    -45 to 60 °C; within 0.3 % of the fuller formula by Sonntag from 0 to 40 °C.

    Examples
    --------
    >>> saturation_pressure_hpa(temperature_c=20)
    23.326

    Source
    ------
    WMO-No. 8 (2008), Magnus formula, as quoted under "Saturated vapour pressure" in hydro-wiki.
    """
    t = _temperature("temperature_c", temperature_c)
    return MAGNUS_C_HPA * math.exp(MAGNUS_A * t / (MAGNUS_B_C + t))


def absolute_humidity_g_m3(*, air_c: float, relative_humidity_pct: float) -> float:
    """Mass of water in a cubic metre of air.

    Formula: ``e*M/(R*T)``, with e the partial pressure of the vapour.

    Parameters
    ----------
    air_c : float
        Temperature of the air [°C].
    relative_humidity_pct : float
        Relative humidity [%].

    Returns
    -------
    float
        Water [g/m³].

    Raises
    ------
    OutOfRange
        If the temperature or the humidity is outside its range.

    Valid range
    -----------
    -45 to 60 °C; humidity above 0 and at most 100 %.

    Examples
    --------
    >>> absolute_humidity_g_m3(air_c=20, relative_humidity_pct=100)
    17.24

    Source
    ------
    Ideal gas law on the Magnus formula. A resin supplier's glossary prints 17.28 g/m³.
    """
    pressure_pa = 100 * saturation_pressure_hpa(temperature_c=_temperature("air_c", air_c))
    vapour_pa = pressure_pa * _humidity("relative_humidity_pct", relative_humidity_pct) / 100
    return vapour_pa * MOLAR_MASS_OF_WATER_G_MOL / (GAS_CONSTANT_J_MOL_K * (air_c + KELVIN_AT_0_C))


def dew_point_c(*, air_c: float, relative_humidity_pct: float) -> float:
    """Dew point over water.

    Formula: ``243.12*g/(17.62 - g)`` with ``g = ln(RH/100) + 17.62*t/(243.12 + t)``.

    Parameters
    ----------
    air_c : float
        Temperature of the air, t [°C].
    relative_humidity_pct : float
        Relative humidity, RH [%].

    Returns
    -------
    float
        Dew point [°C].

    Raises
    ------
    OutOfRange
        If the temperature or the humidity is outside its range, or the air so dry that the dew point is below -45 °C.

    Valid range
    -----------
    Air and dew point -45 to 60 °C; humidity above 0 and at most 100 %. Below 0 °C this is the dew point over water;
    frost forms a little earlier.

    Examples
    --------
    >>> dew_point_c(air_c=20, relative_humidity_pct=60)
    12.00

    Source
    ------
    WMO-No. 8 (2008), Magnus formula turned round; a published dew-point table prints 12.0.
    """
    t = _temperature("air_c", air_c)
    humidity = _humidity("relative_humidity_pct", relative_humidity_pct)
    g = math.log(humidity) - math.log(100) + MAGNUS_A * t / (MAGNUS_B_C + t)
    dew = MAGNUS_B_C * g / (MAGNUS_A - g)
    if dew < LOWEST_C and humidity < 100:
        raise OutOfRange(
            "relative_humidity_pct",
            f"{humidity:g}",
            f"so high at {t:g} °C that the dew point is {LOWEST_C:g} °C or more",
        )
    return dew


def dew_point_margin_k(*, surface_c: float, air_c: float, relative_humidity_pct: float) -> float:
    """How far a surface is above the dew point of the air.

    Formula: surface temperature less dew point.

    Parameters
    ----------
    surface_c : float
        Temperature of the surface [°C].
    air_c : float
        Temperature of the air [°C].
    relative_humidity_pct : float
        Relative humidity [%].

    Returns
    -------
    float
        Margin; below zero, water condenses [K].

    Raises
    ------
    OutOfRange
        If a temperature or the humidity is outside its range.

    Valid range
    -----------
    Surface -45 to 200 °C; air and dew point -45 to 60 °C; humidity above 0 and at most 100 %.

    Examples
    --------
    >>> dew_point_margin_k(surface_c=17.4, air_c=20, relative_humidity_pct=70)
    3.0

    Source
    ------
    Definition. A published dew-point table asks for 17.4 °C at 20 °C and 70 %, three above a dew point of 14.4 °C.
    """
    surface = within("surface_c", surface_c, LOWEST_C, 200, unit="°C")
    return surface - dew_point_c(air_c=air_c, relative_humidity_pct=relative_humidity_pct)


def amine_blush_caution(
    *, surface_c: float, air_c: float, relative_humidity_pct: float, least_margin_k: float
) -> Caution:
    """Whether a surface is too near the dew point for an amine hardener.

    Formula: caution where ``surface - dew point < least margin``.

    Amines take up water and carbon dioxide from the air and leave a greasy film, which spoils the next bond and the
    paint. This looks at water alone. It says when to wait; that no blush has formed, only a wash and an eye can say.

    Parameters
    ----------
    surface_c : float
        Temperature of the mould or the laminate [°C].
    air_c : float
        Temperature of the air [°C].
    relative_humidity_pct : float
        Relative humidity [%].
    least_margin_k : float
        Margin that the shop or the data sheet asks for [K].

    Returns
    -------
    Caution
        Dew point [°C], margin [K], whether to take care, and the sentence.

    Raises
    ------
    OutOfRange
        If a temperature, the humidity or the margin is outside its range.

    Valid range
    -----------
    Surface -45 to 200 °C; air and dew point -45 to 60 °C; humidity above 0 and at most 100 %; margin 0 to 20 K.

    Examples
    --------
    >>> amine_blush_caution(surface_c=14, air_c=18, relative_humidity_pct=70, least_margin_k=3).sentence
    'The surface is 1.5 K above the dew point of 12.4 °C; 3.0 K is asked for. Warm it or dry the air before laying up.'

    Source
    ------
    The 3 K rule: a galvanising manual, chapter 13, and a maker of coating gauges (both read). ISO 8502-4:2017 covers
    the estimate; its clauses were not read.
    """
    least = within("least_margin_k", least_margin_k, 0, 20, unit="K")
    dew = dew_point_c(air_c=air_c, relative_humidity_pct=relative_humidity_pct)
    margin = dew_point_margin_k(surface_c=surface_c, air_c=air_c, relative_humidity_pct=relative_humidity_pct)
    # Rounded down, so that 2.97 K never reads as the 3.0 K that were asked for.
    sentence = f"The surface is {math.floor(margin * 10) / 10:.1f} K above the dew point of {dew:.1f} °C"
    if margin >= least:
        sentence += "."
    elif margin > 0:
        sentence += f"; {least:.1f} K is asked for. Warm it or dry the air before laying up."
    else:
        sentence = (
            f"Water condenses on the surface: it is not above the dew point of {dew:.1f} °C. Warm it and wipe it dry."
        )
    return Caution(dew_point_c=dew, margin_k=margin, caution=margin < least, sentence=sentence)


def highest_humidity_pct(*, air_c: float, surface_c: float, margin_k: float) -> float:
    """Highest relative humidity at which a surface keeps its margin above the dew point.

    Formula: ``100*e(surface - margin)/e(air)``, and 100 where the surface is warmer than the air by the margin or more.

    Parameters
    ----------
    air_c : float
        Temperature of the air [°C].
    surface_c : float
        Temperature of the surface [°C].
    margin_k : float
        Margin to keep [K].

    Returns
    -------
    float
        Relative humidity [%].

    Raises
    ------
    OutOfRange
        If a temperature or the margin is outside its range.

    Valid range
    -----------
    Air -45 to 60 °C; surface -25 to 200 °C; margin 0 to 20 K.

    Examples
    --------
    >>> highest_humidity_pct(air_c=20, surface_c=20, margin_k=3)
    82.9

    Source
    ------
    WMO-No. 8 (2008), Magnus formula; hand calculation.
    """
    air = _temperature("air_c", air_c)
    dew = within("surface_c", surface_c, -25, 200, unit="°C") - within("margin_k", margin_k, 0, 20, unit="K")
    if dew >= air:
        return 100.0
    return 100 * saturation_pressure_hpa(temperature_c=dew) / saturation_pressure_hpa(temperature_c=air)


def within_limits(
    *, air_c: float, relative_humidity_pct: float, lowest_c: float, highest_c: float, highest_humidity_pct: float
) -> tuple[str, ...]:
    """What speaks against the air for a resin system; nothing if it keeps the limits.

    Formula: ``lowest <= air <= highest`` and ``RH <= highest humidity``.

    Parameters
    ----------
    air_c : float
        Temperature of the air [°C].
    relative_humidity_pct : float
        Relative humidity [%].
    lowest_c : float
        Lowest temperature of the system [°C].
    highest_c : float
        Highest temperature of the system [°C].
    highest_humidity_pct : float
        Highest relative humidity of the system [%].

    Returns
    -------
    tuple of str
        A sentence for each limit that is not kept.

    Raises
    ------
    OutOfRange
        If a temperature or a humidity is outside its range, or the highest temperature is below the lowest.

    Valid range
    -----------
    Temperatures -45 to 60 °C; humidities above 0 and at most 100 %.

    Examples
    --------
    >>> within_limits(air_c=14, relative_humidity_pct=72, lowest_c=16, highest_c=25, highest_humidity_pct=70)
    ('The air is at 14 °C; at least 16 °C is asked for.', 'The humidity is 72 %; at most 70 % is asked for.')

    Source
    ------
    Limits come from the data sheet of each system; comparing them is common practice, no source.
    """
    air = _temperature("air_c", air_c)
    humidity = _humidity("relative_humidity_pct", relative_humidity_pct)
    lowest = _temperature("lowest_c", lowest_c)
    highest = within("highest_c", highest_c, lowest, HIGHEST_C, unit="°C")
    most_humid = _humidity("highest_humidity_pct", highest_humidity_pct)
    reasons = []
    if air < lowest:
        reasons.append(f"The air is at {air:.10g} °C; at least {lowest:.10g} °C is asked for.")
    if air > highest:
        reasons.append(f"The air is at {air:.10g} °C; at most {highest:.10g} °C is asked for.")
    if humidity > most_humid:
        reasons.append(f"The humidity is {humidity:.10g} %; at most {most_humid:.10g} % is asked for.")
    return tuple(reasons)
