"""What do temperature, rain, wind and daylight say? Pure functions over arrays and frames."""

from swarmwatch.weather.book import WeatherBook, by_apiary, read_weather
from swarmwatch.weather.climate import climatology, monthly_means_c, place_climatology
from swarmwatch.weather.daily import daily_weather, weather_words
from swarmwatch.weather.daylight import day_length_h
from swarmwatch.weather.ensemble import ensemble_rows
from swarmwatch.weather.flight import departure_weather
from swarmwatch.weather.normals import normal_rows, years_seen
from swarmwatch.weather.traces import (
    WeatherTraces,
    expected_departure_weather,
    weather_traces,
)
from swarmwatch.weather.verification import own_error_ratio
from swarmwatch.weather.warmth import degree_days

__all__ = [
    "WeatherBook",
    "WeatherTraces",
    "by_apiary",
    "climatology",
    "daily_weather",
    "day_length_h",
    "degree_days",
    "departure_weather",
    "ensemble_rows",
    "expected_departure_weather",
    "monthly_means_c",
    "normal_rows",
    "own_error_ratio",
    "place_climatology",
    "read_weather",
    "weather_traces",
    "weather_words",
    "years_seen",
]
