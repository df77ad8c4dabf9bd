"""CSV > store > CSV is the identity: nothing is lost, doubled or run as a formula."""

import string
from datetime import UTC, date, datetime

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from swarmwatch.errors import StoreError
from swarmwatch.records import open_records
from swarmwatch.records.exporting import csv_text, write_folder
from swarmwatch.records.importing import check_reads, store_checked
from swarmwatch.records.reading import read_files
from swarmwatch.tables import INPUTS, TABLES, Column, conform, empty

# what a keeper can type into a cell: letters of any script, quotes, separators, formula signs
TEXT = st.text(
    alphabet=st.characters(exclude_categories=("Cs", "Cc", "Cn"))
    | st.sampled_from(string.punctuation + "\n\r"),
    min_size=1,
    max_size=8,
).filter(lambda t: t.strip() == t)
DAYS = st.dates(date(2000, 1, 1), date(2026, 5, 20))
# tables without a shape to draw or a measure that another must fit
PLAIN = ("apiaries", "colonies", "inspections", "weather", "boxes")


def cell(column: Column) -> st.SearchStrategy[object]:
    high = 300.0 if column.high is None else column.high
    low = 0.0 if column.low is None else column.low
    values = {
        "text": TEXT,
        "word": st.sampled_from(column.words or ("",)),
        "number": st.floats(low, high, allow_nan=False, allow_subnormal=False),
        "count": st.integers(max(int(low), 1), 9),
        "date": DAYS,
        "instant": st.datetimes(datetime(2000, 1, 1), timezones=st.just(UTC)),  # noqa: DTZ001
        "month-day": DAYS.map(lambda d: d.strftime("%m-%d")),
    }[column.kind]
    return values if column.required else st.none() | values


def rows(name: str, **fixed: str) -> st.SearchStrategy[pd.DataFrame]:
    table = TABLES[name]
    cells = {c.name: cell(c) for c in table.columns}
    one = st.fixed_dictionaries(cells | {k: st.just(v) for k, v in fixed.items()})
    return st.lists(one, min_size=1, max_size=4).map(
        lambda found: conform(pd.DataFrame(found, columns=list(table.names)), table)
    )


def without_clashes(frame: pd.DataFrame, name: str) -> pd.DataFrame:
    return frame.drop_duplicates(list(TABLES[name].key), ignore_index=True)


@given(data=st.data())
@settings(max_examples=15, deadline=None)
def test_csv_to_store_to_csv_is_the_identity(tmp_path_factory, data):
    folder = tmp_path_factory.mktemp("trip")
    yard = data.draw(rows("apiaries").map(lambda f: f.head(1)))
    home = yard["apiary"].iloc[0]
    colony = data.draw(rows("colonies", apiary=home, hive_type="warre").map(lambda f: f.head(1)))
    name = colony["colony"].iloc[0]
    frames = {
        "apiaries": yard,
        "colonies": colony.assign(super_type=None).astype({"super_type": "str"}),
        "inspections": data.draw(rows("inspections", colony=name)),
        "weather": data.draw(rows("weather", apiary=home)),
        "boxes": data.draw(rows("boxes")),
    }
    frames = {n: without_clashes(f, n) for n, f in frames.items()}
    frames["inspections"]["visit"] = range(1, len(frames["inspections"]) + 1)
    for n, frame in frames.items():
        (folder / f"{n}.csv").write_text(csv_text(frame, TABLES[n]), encoding="utf-8", newline="")
    reads = read_files([folder])
    checked = check_reads(reads, {}, today=date(2026, 5, 20))
    with open_records(folder / "swarmwatch.sqlite", create=True) as records:
        store_checked(records, checked, at=datetime(2026, 5, 20, tzinfo=UTC), by="test")
        stored = records.frames()
    for n in PLAIN:
        want = frames[n].sort_values(list(TABLES[n].key), kind="stable", ignore_index=True)
        assert csv_text(stored[n], TABLES[n]) == csv_text(conform(want, TABLES[n]), TABLES[n])


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@a", "'", "'=1", "''", "'a", '="a"&"b"'])
def test_a_text_that_a_spreadsheet_would_run_is_written_as_text_and_read_back(tmp_path, text):
    frame = conform(pd.DataFrame({"box": ["B1"], "note": [text]}), TABLES["boxes"])
    path = tmp_path / "boxes.csv"
    path.write_text(csv_text(frame, TABLES["boxes"]), encoding="utf-8", newline="")
    (read,) = read_files([path])
    written = path.read_text(encoding="utf-8").splitlines()[1].split(",")[-1].strip('"')
    assert written[0] not in "=+-@"
    assert read.frame["note"].iloc[0] == text


def test_whole_numbers_have_no_point_and_negative_numbers_no_quote():
    frame = conform(
        pd.DataFrame({"date": ["2026-05-01"], "temp_max_c": [14.0], "temp_min_c": [-2.5]}),
        TABLES["weather"],
    )
    assert csv_text(frame, TABLES["weather"]).splitlines()[1] == ",2026-05-01,14,-2.5,,,,,,"


def everything_empty():
    return {t.name: empty(t) for t in INPUTS}


def test_an_empty_table_is_written_with_its_header(tmp_path):
    files = write_folder(everything_empty(), tmp_path / "out")
    assert [f.stem for f in files] == [t.name for t in INPUTS]
    for file, table in zip(files, INPUTS, strict=True):
        assert file.read_text(encoding="utf-8").splitlines() == [",".join(table.names)]


def test_the_same_export_twice_is_no_fault_and_leaves_nothing_beside_it(tmp_path):
    write_folder(everything_empty(), tmp_path)
    write_folder(everything_empty(), tmp_path)
    assert sorted(f.name for f in tmp_path.iterdir()) == sorted(f"{t.name}.csv" for t in INPUTS)


def test_a_file_that_says_something_else_is_not_written_over(tmp_path):
    own = tmp_path / "colonies.csv"
    own.write_text("my own list", encoding="utf-8")
    with pytest.raises(StoreError, match=r"colonies\.csv are there already.*--force"):
        write_folder(everything_empty(), tmp_path)
    assert [f.name for f in tmp_path.iterdir()] == ["colonies.csv"]
    assert own.read_text(encoding="utf-8") == "my own list"
    write_folder(everything_empty(), tmp_path, force=True)
    assert own.read_text(encoding="utf-8").startswith("colony,")


def test_a_folder_that_cannot_be_made_is_told(tmp_path):
    (tmp_path / "file").write_text("x", encoding="utf-8")
    with pytest.raises(StoreError, match="Check that you may write there"):
        write_folder(everything_empty(), tmp_path / "file" / "out")
