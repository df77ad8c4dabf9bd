"""Files are read as their makers meant them, and what can't be read is named with its mend."""

import json
import sys

import openpyxl
import pandas as pd
import pytest

from swarmwatch.errors import RecordsError, UsageError
from swarmwatch.records.reading import read_files, table_named

HEADER = "colony,date,combs_bees,note\n"


@pytest.fixture
def file(tmp_path):
    """Return a maker of files: a name and its text or bytes."""

    def make(name, content):
        path = tmp_path / name
        path.write_bytes(content if isinstance(content, bytes) else content.encode("utf-8"))
        return path

    return make


def one(path, **options):
    (read,) = read_files([path], **options)
    return read


def cells(read):
    return read.frame.astype(object).where(read.frame.notna(), None).to_numpy().tolist()


@pytest.mark.parametrize(
    "name", ["inspections", "Inspections", " INSPECTIONS ", "inspections (1)", "inspections 2026"]
)
def test_a_table_is_known_by_name_in_any_case_and_as_a_copy(name):
    assert table_named(name) == "inspections"


def test_spaces_in_a_name_are_underscores():
    assert table_named("Keep out") == "keep_out"


def test_an_unknown_name_offers_the_closest(file):
    path = file("inspektions.csv", HEADER)
    with pytest.raises(UsageError, match=r"Did you mean inspections\?.*--table inspections"):
        read_files([path])


def test_a_named_table_overrules_the_files_name(file):
    assert one(file("spring.csv", HEADER), table="inspections").table == "inspections"


def test_a_table_that_is_not_there_is_told(file):
    with pytest.raises(UsageError, match=r"--table: no table is called 'inspection'. Did you mean"):
        read_files([file("spring.csv", HEADER)], table="inspection")


def test_a_file_that_is_not_there_offers_the_closest(file):
    path = file("colonies.csv", "colony\n")
    with pytest.raises(UsageError, match=r"no such file\. Did you mean colonies\.csv\?"):
        read_files([path.with_name("colonys.csv")])


def test_a_kind_that_cannot_be_read_is_told(file):
    with pytest.raises(UsageError, match="Save it as CSV"):
        read_files([file("inspections.pdf", "x")])


def test_every_file_that_fails_is_told_at_once(file, tmp_path):
    with pytest.raises(UsageError) as told:
        read_files([file("inspections.pdf", "x"), tmp_path / "none.csv"])
    assert "inspections.pdf" in str(told.value)
    assert "none.csv" in str(told.value)


def test_a_folder_gives_the_files_that_are_named_as_tables(file, tmp_path):
    for name in ("colonies.csv", "inspections.csv", "shopping.csv", "README.md"):
        file(name, "colony\n")
    assert [r.table for r in read_files([tmp_path])] == ["colonies", "inspections"]


@pytest.mark.parametrize(
    ("encoding", "remarks"), [("utf-8", 0), ("utf-8-sig", 0), ("utf-16", 0), ("cp1252", 1)]
)
def test_letters_are_read_in_each_encoding(file, encoding, remarks):
    read = one(file("inspections.csv", f"{HEADER}Käfer,2026-05-01,7,é\n".encode(encoding)))
    assert cells(read) == [["Käfer", "2026-05-01", "7", "é"]]
    assert len(read.remarks) == remarks
    assert all("Windows-1252" in r for r in read.remarks)


def test_a_file_that_is_no_text_is_told(file):
    with pytest.raises(RecordsError, match=r"inspections\.csv: this is not a text file"):
        read_files([file("inspections.csv", b"PK\x03\x04\x00\x00")])


@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_the_separator_is_found(file, separator):
    text = f"{HEADER}Birch,2026-05-01,7.5,calm\n".replace(",", separator)
    assert cells(one(file("inspections.csv", text))) == [["Birch", "2026-05-01", "7.5", "calm"]]


def test_a_decimal_comma_is_understood_beside_semicolons(file):
    read = one(file("inspections.csv", "colony;date;combs_bees;note\nBirch;2026-05-01;7,5;1,5 l\n"))
    assert cells(read) == [["Birch", "2026-05-01", "7.5", "1,5 l"]]


def test_words_that_mean_missing_elsewhere_are_kept(file):
    read = one(file("inspections.csv", f"{HEADER}NA,2026-05-01,null,None\n"))
    assert cells(read) == [["NA", "2026-05-01", "null", "None"]]


def test_rows_are_numbered_as_a_spreadsheet_does(file):
    text = f'{HEADER}Birch,2026-05-01,7,"two\nlines"\n\n,,,\nOak,2026-05-01,8,\n'
    assert one(file("inspections.csv", text)).rows == (2, 5)


def test_header_names_are_read_in_any_case_and_with_spaces(file):
    read = one(file("inspections.csv", " Colony ,DATE,Combs bees\nBirch,2026-05-01,7\n"))
    assert list(read.frame.columns) == ["colony", "date", "combs_bees"]


@pytest.mark.parametrize(
    ("text", "row", "what"),
    [
        ("colony,date,Date\na,b,c\n", 1, "this column stands there twice"),
        ("colony,,date\na,b,c\n", 1, "column 2 has cells and no name"),
        ("colony,date\na,b,c\n", 2, "this row has 3 cells and the header 2"),
        ('colony,date\na,"b\n', 2, "a quote is opened and not closed"),
        ("", 0, "the file holds no header"),
    ],
)
def test_a_faulty_sheet_is_told(file, text, row, what):
    problems = one(file("inspections.csv", text)).problems
    assert [(p.row, p.what) for p in problems] == [(row, what)]


def test_an_unknown_column_is_kept_and_told(file):
    read = one(file("inspections.csv", "colony,date,mood\nBirch,2026-05-01,calm\n"))
    assert read.extra == ("mood",)
    assert read.remarks == (
        "inspections.csv: column 'mood' is not known and is kept as an extra note.",
    )


def test_a_misspelled_column_is_warned_of_loudly(file):
    read = one(file("inspections.csv", "colony,date,queen_cell_egg\nBirch,2026-05-01,2\n"))
    (remark,) = read.remarks
    assert remark.startswith("WARNING inspections.csv: column 'queen_cell_egg' looks like")
    assert "queen_cells_egg" in remark


def test_a_quote_that_guards_a_formula_is_taken_off(file):
    read = one(file("inspections.csv", f"{HEADER}'=1+1,2026-05-01,7,'tis ''@\n'',,-1,'-\n"))
    assert cells(read) == [["=1+1", "2026-05-01", "7", "'tis ''@"], ["'", None, "-1", "-"]]


@pytest.fixture
def workbook(tmp_path):
    """Return a maker of workbooks: sheets by name, each a list of rows."""

    def make(name, **sheets):
        book = openpyxl.Workbook()
        book.remove(book.active)
        for title, rows in sheets.items():
            sheet = book.create_sheet(title)
            for row in rows:
                sheet.append(row)
        book.save(tmp_path / name)
        return tmp_path / name

    return make


def test_every_sheet_named_as_a_table_is_read(workbook):
    path = workbook("bees.xlsx", Colonies=[["colony"], ["a"]], Boxes=[["box"], [1]], Plan=[["x"]])
    reads = read_files([path])
    assert [(r.table, r.source) for r in reads] == [
        ("colonies", "bees.xlsx, Colonies"),
        ("boxes", "bees.xlsx, Boxes"),
    ]
    assert reads[0].remarks == ("bees.xlsx: sheet 'Plan' is no table and was left out.",)


def test_cells_of_a_workbook_are_read_as_a_csv_file_would_hold_them(workbook):
    from datetime import date, datetime

    rows = [
        ["colony", "date", "combs_bees", "eggs_seen", "supers"],
        ["Birch", datetime(2026, 5, 1), 7.5, True, 2.0],  # noqa: DTZ001 - as Excel keeps it
        ["Oak", date(2026, 5, 2), 8, None, "1"],
    ]
    assert cells(one(workbook("bees.xlsx", inspections=rows))) == [
        ["Birch", "2026-05-01", "7.5", "yes", "2"],
        ["Oak", "2026-05-02", "8", None, "1"],
    ]


def test_a_formula_that_was_never_reckoned_is_a_fault(workbook):
    read = one(workbook("bees.xlsx", boxes=[["box", "volume_l"], ["B1", "=20*2"]]))
    assert [(p.row, p.what) for p in read.problems] == [
        (2, "cell 2 holds a formula without its result")
    ]


def test_a_lone_sheet_may_take_its_table_from_the_file(workbook):
    assert one(workbook("boxes.xlsx", Sheet1=[["box"], ["B1"]])).table == "boxes"


@pytest.mark.parametrize("content", [b"PK\x03\x04", b"text"])
def test_a_broken_workbook_is_told(file, content):
    with pytest.raises(RecordsError, match="not an Excel workbook"):
        read_files([file("boxes.xlsx", content)])


SHAPE = {"type": "Point", "coordinates": [25.6, 57.9]}


def test_keep_out_ground_is_read_from_geojson(file):
    feature = {"type": "Feature", "properties": {"kind": "path", "buffer_m": 5}, "geometry": SHAPE}
    document = {"type": "FeatureCollection", "features": [feature]}
    read = one(file("keep_out.geojson", json.dumps(document)))
    assert cells(read) == [['{"type":"Point","coordinates":[25.6,57.9]}', "path", "5"]]


@pytest.mark.parametrize(
    ("document", "what"),
    [
        ("{", "this is not GeoJSON"),
        ("[]", "this is not GeoJSON"),
        ({"features": [{"properties": {}}]}, "a feature has no geometry"),
        ({"crs": {"properties": {"name": "EPSG:3301"}}, "features": []}, "not WGS 84"),
    ],
)
def test_a_faulty_drawing_is_told(file, document, what):
    text = document if isinstance(document, str) else json.dumps(document)
    with pytest.raises(RecordsError, match=what):
        read_files([file("keep_out.geojson", text)])


@pytest.mark.parametrize("system", [4326, 3301])
def test_keep_out_ground_is_read_from_a_geopackage_in_any_system(tmp_path, system):
    import geopandas
    from shapely.geometry import Point

    drawn = geopandas.GeoDataFrame(
        {"kind": ["path"], "buffer_m": [5.0]}, geometry=[Point(25.6, 57.9)], crs=4326
    )
    drawn.to_crs(system).to_file(tmp_path / "keep_out.gpkg", layer="keep_out")
    read = one(tmp_path / "keep_out.gpkg")
    ((shape, kind, buffer_m),) = cells(read)
    assert (kind, float(buffer_m)) == ("path", 5)
    assert json.loads(shape)["coordinates"] == pytest.approx([25.6, 57.9], rel=0, abs=1e-6)


def test_a_broken_geopackage_is_told(file):
    with pytest.raises(RecordsError, match="this is not a GeoPackage"):
        read_files([file("keep_out.gpkg", b"nothing of the kind")])


def test_a_folder_that_may_not_be_read_is_told(tmp_path, monkeypatch):
    def refuse(_):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(type(tmp_path), "iterdir", refuse)
    with pytest.raises(UsageError, match=r"Permission denied\. Check that you may read it"):
        read_files([tmp_path])


def test_parquet_reads_as_the_same_table_in_csv(tmp_path, file):
    frame = pd.DataFrame(
        {
            "colony": ["Birch", "Candle"],
            "date": pd.to_datetime(["2026-05-14", "2026-05-15"]),
            "combs_bees": [9.0, 7.25],
            "queen_cups": [3, None],
            "eggs_seen": [True, None],
        }
    )
    path = tmp_path / "inspections.parquet"
    frame.to_parquet(path)
    text = file(
        "inspections.csv",
        "colony,date,combs_bees,queen_cups,eggs_seen\n"
        "Birch,2026-05-14,9,3,yes\nCandle,2026-05-15,7.25,,\n",
    )
    pd.testing.assert_frame_equal(one(path).frame, one(text).frame)


def test_a_file_that_is_no_parquet_is_refused(file):
    path = file("inspections.parquet", "colony,date\n")
    with pytest.raises(RecordsError, match="not a Parquet file"):
        read_files([path])


def test_without_its_library_parquet_says_how_to_get_it(file, monkeypatch):
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    path = file("inspections.parquet", b"PAR1")
    with pytest.raises(UsageError, match=r"pip install 'swarmwatch\[scale\]'"):
        read_files([path])
