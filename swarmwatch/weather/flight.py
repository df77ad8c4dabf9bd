"""Does the day's weather let a swarm leave?"""

import numpy as np
import pandas as pd

from swarmwatch.evidence import Evidence, load_evidence
from swarmwatch.weather.arrays import Floats, Numbers, floats, like


def departure_weather(
    temp_max_c: Numbers,
    rain_mm: Numbers,
    wind_max_m_s: Numbers,
    *,
    evidence: Evidence | None = None,
) -> float | Floats | pd.Series:
    """Rate how far each day's weather lets a ready swarm leave.

    Parameters
    ----------
    temp_max_c
        Scalar, array or Series of any shape, the day's highest temperature [C].
    rain_mm
        The day's rain [mm].
    wind_max_m_s
        The day's greatest mean wind at 10 m, no gust [m/s].
    evidence
        Numbers to use; the shipped ones if None.

    Returns
    -------
    0 to 1 [-], 1 being a warm, dry, calm day: gate of the temperature x factor of the rain x
    factor of the wind. An unknown temperature takes the evidence's mean gate, unknown rain or
    wind their mean factor.

    Notes
    -----
    Every factor runs in straight pieces, or one exponential, between the evidence's points: it
    never falls while the day warms up to ``gate_heat_c``, never rises with rain or wind. Rain is
    weak because a day's sum does not say at which hour it fell. Wind is first multiplied by
    ``wind_flight_share``, because the day's greatest wind seldom blows in the hours that a swarm
    chooses, and it never shuts the gate.

    Source
    ------
    Evidence ``weather.gate_*``, ``weather.rain_*``, ``weather.wind_*``.
    """
    rules = (load_evidence() if evidence is None else evidence).group("weather")
    temp, rain, wind = np.broadcast_arrays(
        floats(temp_max_c), floats(rain_mm), floats(wind_max_m_s)
    )
    product = _gate(temp, rules) * _rain_factor(rain, rules) * _wind_factor(wind, rules)
    return like(temp_max_c, np.asarray(product))


def _gate(temp: Floats, rules: dict[str, float]) -> Floats:
    at = [rules[f"gate_{name}_c"] for name in ("cold", "chilly", "cool", "mild", "warm")]
    gate = [rules[f"gate_{name}"] for name in ("cold", "chilly", "cool", "mild")]
    # draws of neighbouring points may cross: keep both rows rising
    at, gate = list(np.maximum.accumulate(at)), list(np.maximum.accumulate(gate))
    value = np.interp(
        temp,
        [*at, rules["gate_heat_c"], rules["gate_scorch_c"]],
        [*gate, 1.0, 1.0, rules["gate_scorch"]],
    )
    return np.where(np.isnan(temp), rules["gate_unknown"], value)


def _rain_factor(rain: Floats, rules: dict[str, float]) -> Floats:
    wet = -np.expm1(-np.maximum(rain, 0.0) / rules["rain_scale_mm"])
    return np.where(np.isnan(rain), rules["rain_unknown"], 1.0 - (1.0 - rules["rain_least"]) * wet)


def _wind_factor(wind: Floats, rules: dict[str, float]) -> Floats:
    value = np.interp(
        wind * rules["wind_flight_share"],
        [rules["wind_calm_m_s"], rules["wind_strong_m_s"]],
        [1.0, rules["wind_least"]],
    )
    return np.where(np.isnan(wind), rules["wind_unknown"], value)
