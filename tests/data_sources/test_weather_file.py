from datetime import date, datetime

import numpy as np
import openpyxl
import pandas as pd
import pytest

from data_sources.errors import SourceMalformed, SourceUnavailable
from data_sources.weather.file import read_weather_file
from data_sources.weather.table import COLUMNS

PLAIN = "date,temp_max_c,temp_min_c,rain_mm,wind_max_m_s\n"


@pytest.fixture
def write(tmp_path):
    def go(text, name="station.csv", encoding="utf-8"):
        path = tmp_path / name
        path.write_bytes(text.encode(encoding))
        return path

    return go


def test_our_own_names_need_no_mapping(write):
    table = read_weather_file(write(PLAIN + "2026-05-14,19.5,7,0,3\n"))
    assert tuple(table.columns) == COLUMNS
    assert table.loc[0, ["temp_max_c", "rain_mm"]].tolist() == [19.5, 0.0]


def test_rows_of_a_station_are_observed(write):
    table = read_weather_file(write(PLAIN + "2026-05-14,19.5,7,0,3\n"), provider="shed")
    assert table.loc[0, ["kind", "provider"]].tolist() == ["observed", "shed"]


@pytest.mark.parametrize("blank", ["", "--", "NA", " "])
def test_a_blank_stays_blank_and_is_never_zero(write, blank):
    table = read_weather_file(write(PLAIN + f"2026-05-14,19.5,7,{blank},3\n"))
    assert np.isnan(table.loc[0, "rain_mm"])


@pytest.mark.parametrize(
    ("column", "unit", "cell", "want"),
    [
        ("temp_max_c", "F", "68", 20.0),
        ("temp_max_c", "°C", "20", 20.0),
        ("rain_mm", "in", "0.5", 12.7),
        ("rain_mm", "cm", "0.5", 5.0),
        ("wind_max_m_s", "km/h", "36", 10.0),
        ("wind_max_m_s", "mph", "10", 4.4704),
        ("wind_max_m_s", "kn", "10", 5.14444),
        ("sunshine_h", "min", "90", 1.5),
    ],
)
def test_a_unit_is_turned_into_ours(write, column, unit, cell, want):
    path = write(f"date,{column}\n2026-05-14,{cell}\n")
    got = read_weather_file(path, units={column: unit})[column][0]
    np.testing.assert_allclose(got, want, rtol=1e-5, atol=0)


def test_decimal_commas_between_semicolons_are_read(write):
    path = write("date;temp_max_c\n2026-05-14;19,5\n")
    assert read_weather_file(path, decimal=",")["temp_max_c"][0] == 19.5


def test_a_byte_order_mark_is_no_part_of_the_name(write):
    path = write("date,temp_max_c\n2026-05-14,19\n", encoding="utf-8-sig")
    assert read_weather_file(path)["temp_max_c"][0] == 19.0


def test_a_workbook_reads_as_its_text_twin(tmp_path, write):
    book = openpyxl.Workbook()
    book.active.append(["date", "temp_max_c", "rain_mm"])
    book.active.append([datetime(2026, 5, 14), 19.5, None])  # noqa: DTZ001 - a cell has no zone
    book.active.append([date(2026, 5, 15), 21, 0])
    path = tmp_path / "station.xlsx"
    book.save(path)
    text = write("date,temp_max_c,rain_mm\n2026-05-14,19.5,\n2026-05-15,21,0\n")
    pd.testing.assert_frame_equal(read_weather_file(path), read_weather_file(text))


def test_every_fault_is_told_with_the_row_a_spreadsheet_shows(write):
    path = write(PLAIN + "2026-05-14,warm,7,0,3\n\n14.5.2026,19,7,wet,3\n")
    with pytest.raises(SourceMalformed) as caught:
        read_weather_file(path)
    lines = str(caught.value).splitlines()
    assert [line.split(":")[0] for line in lines] == [
        "station.csv row 2, temp_max_c",
        "station.csv row 4, date",
        "station.csv row 4, rain_mm",
    ]


@pytest.mark.parametrize(
    ("row", "says"),
    [
        ("2026-05-14,19,7,0,90", r"row 2 \(2026-05-14\): wind_max_m_s 90 is outside 0 to 75"),
        ("2026-05-14,7,19,0,3", r"row 2 \(2026-05-14\): temp_max_c is below temp_min_c"),
        ("2026-05-14,66,40,0,3", r"temp_max_c 66 is outside -60 to 60"),
    ],
)
def test_what_can_not_be_weather_is_refused_by_name(write, row, says):
    with pytest.raises(SourceMalformed, match=says):
        read_weather_file(write(PLAIN + row + "\n"))


def test_a_day_that_comes_twice_is_refused(write):
    with pytest.raises(SourceMalformed, match=r"row 3 .* comes twice"):
        read_weather_file(write(PLAIN + "2026-05-14,19,7,0,3\n" * 2))


def test_very_many_faults_are_cut_short(write):
    rows = "".join(f"2026-05-{d:02d},x,7,0,3\n" for d in range(1, 32))
    with pytest.raises(SourceMalformed, match=r"and 11 more$"):
        read_weather_file(write(PLAIN + rows))


@pytest.mark.parametrize(
    ("text", "how", "says"),
    [
        ("", {}, "the file is empty"),
        ("day,temp_max_c\n", {}, "no column 'date'. It has day, temp_max_c"),
        ("date,a\n", {"columns": {"temp_max_c": "High"}}, "no column 'High'"),
        ("date,a\n", {"columns": {"heat": "a"}}, "'heat' is none of our columns"),
        ("date,rain_mm,rain_mm\n", {}, "comes twice"),
        ("date\n" + "x" * 200_000 + "\n", {}, "not a table of text"),
        ("date,rain_mm\n", {"units": {"rain_mm": "buckets"}}, "'buckets'"),
    ],
)
def test_a_file_of_another_shape_is_one_plain_line(write, text, how, says):
    with pytest.raises(SourceMalformed, match=says):
        read_weather_file(write(text), **how)


def test_a_file_in_another_encoding_says_how_to_save_it(write):
    with pytest.raises(SourceMalformed, match="UTF-8"):
        read_weather_file(write("date,note\n2026-05-14,Süd\n", encoding="latin-1"))


def test_a_text_file_called_a_workbook_is_refused(write):
    with pytest.raises(SourceMalformed, match="can't be read as a workbook"):
        read_weather_file(write(PLAIN, name="station.xlsx"))


def test_a_sheet_that_is_not_there_is_named(tmp_path):
    path = tmp_path / "station.xlsx"
    openpyxl.Workbook().save(path)
    with pytest.raises(SourceMalformed, match=r"no sheet 'May'\. It has Sheet"):
        read_weather_file(path, sheet="May")


def test_a_tick_in_a_workbook_is_no_number(tmp_path):
    book = openpyxl.Workbook()
    book.active.append(["date", "rain_mm"])
    book.active.append(["2026-05-14", True])
    book.save(tmp_path / "station.xlsx")
    with pytest.raises(SourceMalformed, match="rain_mm: 'True' is not a number"):
        read_weather_file(tmp_path / "station.xlsx")


def test_a_missing_file_is_one_plain_line(tmp_path):
    with pytest.raises(SourceUnavailable, match=r"absent\.csv: No such file"):
        read_weather_file(tmp_path / "absent.csv")
