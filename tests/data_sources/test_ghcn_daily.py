from datetime import UTC, date, datetime
from pathlib import Path

import numpy as np
import pytest

from data_sources.errors import SourceMalformed, SourceUnavailable
from data_sources.weather.ghcn_daily import CREDIT, fetch_ghcn_daily, read_ghcn_daily
from data_sources.weather.ghcn_stations import find_stations

ANSWERS = Path(__file__).parent / "answers"
NOW = datetime(2026, 5, 5, 12, tzinfo=UTC)
FORMS = ["ghcn.dly", "ghcn_wide.csv", "ghcn_long.csv"]


def text(name):
    return (ANSWERS / name).read_text(encoding="utf-8")


def read(payload, **days):
    return read_ghcn_daily(payload, fetched_at=NOW, **days)


@pytest.fixture(params=FORMS)
def table(request):
    return read(text(request.param))


def test_tenths_become_degrees(table):
    assert table["temp_max_c"].tolist()[:2] == [14.8, 17.1]
    assert table["temp_min_c"].tolist() == [3.1, -0.4, 6.2]


def test_a_trace_of_rain_is_nought_and_presumed_nought_is_blank(table):
    np.testing.assert_allclose(table["rain_mm"], [0.0, 5.6, np.nan], rtol=0, atol=1e-12)


def test_a_value_that_failed_a_check_is_blank(table):
    # 41.2 was found out of bounds
    assert table["temp_max_c"].isna().tolist() == [False, False, True]


def test_wind_is_the_fastest_two_minutes_and_sun_is_minutes(table):
    assert table["wind_max_m_s"][0] == pytest.approx(6.2)
    assert table["sunshine_h"][0] == pytest.approx(5.0)


def test_the_three_forms_say_the_same():
    tables = [read(text(form)) for form in FORMS]
    assert all(t.equals(tables[0]) for t in tables)


@pytest.mark.parametrize("form", FORMS)
def test_days_outside_the_wanted_are_passed_over(form):
    day = date(2026, 4, 2)
    assert read(text(form), first_day=day, last_day=day)["date"].dt.day.tolist() == [2]


def test_a_slip_of_long_ago_does_not_cost_todays_days():
    slip = text("ghcn.dly").splitlines()[0].replace("202604", "189001").replace("  148", " 9999")
    with pytest.raises(SourceMalformed, match=r"1890-01-01: temp_max_c 999.9"):
        read(slip)
    assert len(read(slip + "\n" + text("ghcn.dly"), first_day=date(2026, 4, 1))) == 3


def test_a_day_the_month_does_not_have_is_never_read():
    line = text("ghcn.dly").splitlines()[0]
    february = line.replace("202604", "202602")
    february = february[: 21 + 8 * 28] + "  100  E" + february[21 + 8 * 29 :]
    assert read(february)["date"].dt.day.tolist() == [1, 2]


@pytest.mark.parametrize(
    ("form", "old", "new", "says"),
    [
        ("ghcn.dly", "202604TMIN", "202613TMIN", "year and month"),
        ("ghcn.dly", "  148", " 14.8", "whole number"),
        ("ghcn.dly", "TMIN", "TMAX", "two values of TMAX"),
        ("ghcn.dly", "ZZE00000001202604PRCP", "ZZE00000009202604PRCP", "two stations"),
        ("ghcn.dly", "  148  E", "  148  E ", "none of a station's file"),
        ("ghcn_wide.csv", '"TMAX_ATTRIBUTES"', '"X"', "TMAX_ATTRIBUTES"),
        ("ghcn_wide.csv", '"  148",",,E,0700"', '"  148",""', "without its flags"),
        ("ghcn_wide.csv", '"  148"', '"14.8"', "'14.8' in 'TMAX'"),
        ("ghcn_wide.csv", '"2026-04-01",', "", "another length"),
        ("ghcn_long.csv", "TMAX,148,", "TMAX,148", "date should be|none of a station's"),
        ("ghcn_long.csv", "20260401,TMAX", "2026-13-01,TMAX", "date should be"),
    ],
)
def test_a_damaged_file_is_refused_by_name(form, old, new, says):
    with pytest.raises(SourceMalformed, match=says):
        read(text(form).replace(old, new, 1))


def find(first=2020, last=2026, **how):
    return find_stations(
        text("ghcnd-stations.txt"),
        text("ghcnd-inventory.txt"),
        latitude=51.55,
        longitude=-0.12,
        first_year=first,
        last_year=last,
        **how,
    )


def test_the_nearest_with_most_of_the_years_comes_first():
    found = find()
    assert found["station"].tolist() == ["ZZE00000001", "ZZE00000002"]
    assert found["covered"].tolist() == pytest.approx([1.0, 2 / 3 * 5 / 7])


def test_long_ago_the_older_station_comes_first():
    assert find(1990, 2019)["station"].tolist()[0] == "ZZE00000002"


def test_a_gauge_without_temperatures_is_no_station():
    assert "ZZE00000003" not in find()["station"].tolist()


def test_a_distance_is_that_on_the_sphere():
    # a twentieth of a degree of latitude: 111.195 km / 20 on a sphere of 6371.0088 km
    assert find()["distance_km"][0] == pytest.approx(111.195 / 20, rel=1e-4)
    assert len(find(within_km=5.0)) == 0


def test_a_station_of_unknown_height_has_none():
    assert find()["elevation_m"].isna().tolist() == [False, True]


def test_a_station_still_telling_is_taken_to_go_on_into_a_new_year():
    assert find(2027, 2027)["station"].tolist() == ["ZZE00000001"]


@pytest.mark.parametrize("damage", ["", "<html>", "ZZE00000001  51.5x00   -0.1200   31.5"])
def test_a_list_of_another_shape_is_refused(damage):
    with pytest.raises(SourceMalformed, match="no list of stations"):
        find_stations(damage, damage, latitude=1, longitude=1, first_year=2020, last_year=2020)


@pytest.fixture
def archive(server):
    """Serve the lists and two stations' files, and keep the paths that were asked for."""
    server.paths = []
    server.files = {
        "/ghcnd-stations.txt": text("ghcnd-stations.txt"),
        "/ghcnd-inventory.txt": text("ghcnd-inventory.txt"),
        "/all/ZZE00000001.dly": text("ghcn.dly"),
        "/all/ZZE00000002.dly": text("ghcn.dly").replace("ZZE00000001", "ZZE00000002"),
    }

    def good(h):
        path = h.path.removeprefix("/v1/forecast")
        server.paths.append(path)
        if path in server.files:
            server._send(h, 200, server.files[path].encode())
        else:
            server._error_404(h)

    server._good = good
    return server


def fetch(session, server, *, last=date(2026, 4, 2), today=date(2026, 4, 5)):
    return fetch_ghcn_daily(
        session,
        latitude=51.55,
        longitude=-0.12,
        first_day=date(2026, 4, 1),
        last_day=last,
        today=today,
        base_url=server.url,
    )


def test_the_nearest_station_answers_and_is_named_in_the_credit(quick, archive):
    fetched = fetch(quick(), archive)
    assert len(fetched.table) == 2
    assert fetched.notice == ""
    assert fetched.credit == f"{CREDIT}: INVENTED APIARY (ZZE00000001), 6 km away"


def test_no_place_leaves_the_machine(quick, archive):
    fetch(quick(), archive)
    assert not any("51.5" in path or "0.12" in path for path in archive.paths)
    assert all(call == {} for call in archive.calls)


def test_a_station_that_ended_is_warned_of(quick, archive):
    fetched = fetch(quick(), archive, last=date(2026, 4, 30), today=date(2026, 5, 1))
    assert "the newest day of INVENTED APIARY (ZZE00000001) is 2026-04-03" in fetched.notice
    assert "28 days ago" in fetched.notice


@pytest.mark.parametrize("fault", [None, "<html>"])
def test_a_station_that_fails_is_replaced_by_the_next(quick, archive, fault):
    archive.files["/ghcnd-inventory.txt"] = text("ghcnd-inventory.txt").replace(" 2024", " 2026")
    if fault is None:
        del archive.files["/all/ZZE00000001.dly"]
    else:
        archive.files["/all/ZZE00000001.dly"] = fault
    assert "ZZE00000002" in fetch(quick(), archive).credit


def test_no_station_with_the_days_is_said_with_a_way_out(quick, archive):
    archive.files["/ghcnd-stations.txt"] = text("ghcnd-stations.txt").splitlines()[3]
    with pytest.raises(SourceUnavailable, match=r"no station within 100 km .* import a table"):
        fetch(quick(), archive)


def test_days_to_come_are_refused_unasked(quick, archive):
    with pytest.raises(SourceUnavailable, match="no days to come"):
        fetch(quick(), archive, today=date(2026, 4, 1))
    assert archive.calls == []
