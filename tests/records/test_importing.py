"""Files are held against one another and the store, then written whole or not at all."""

from datetime import date

import pytest

from swarmwatch.errors import RecordsError
from swarmwatch.records import Stored
from swarmwatch.records.importing import (
    check_reads,
    refuse_faults,
    remarks,
    store_checked,
    without_refused,
)
from swarmwatch.records.reading import read_files

TODAY = date(2026, 5, 20)
FILES = {
    "apiaries": "apiary,latitude,longitude\nHome,57.9,25.6\n",
    "colonies": "colony,apiary,hive_type\nBirch,Home,top-bar\nOak,Home,warre\n",
    "inspections": "colony,date,combs_bees\nBirch,2026-05-01,7.5\nOak,2026-05-01,\n",
}


@pytest.fixture
def read(tmp_path):
    """Return a reader of files made on the spot: texts by table, in the order given."""

    def make(**texts):
        paths = []
        for name, text in texts.items():
            paths.append(tmp_path / f"{name}.csv")
            paths[-1].write_text(text, encoding="utf-8")
        return read_files(paths)

    return make


def found(reads, stored=None):
    checked = check_reads(reads, stored or {}, today=TODAY)
    return [str(p) for p in checked.faults], [str(p) for p in checked.doubts]


def test_files_that_name_one_another_are_sound_in_any_order(read):
    assert found(read(**FILES)) == ([], [])
    assert found(read(**dict(reversed(FILES.items())))) == ([], [])


def test_a_name_in_the_store_is_known(read, opened, tables, at):
    opened.store(tables, at=at, by="test")
    reads = read(inspections="colony,date\nBirch,2026-05-02\n")
    assert found(reads, opened.frames()) == ([], [])


@pytest.mark.parametrize(
    ("table", "text", "line"),
    [
        (
            "inspections",
            "colony,date\nBrich,2026-05-01\n",
            (
                "inspections.csv row 2, colony: there is no colony 'Brich'. Did you mean Birch? "
                "Mend the name, or add it to colonies."
            ),
        ),
        (
            "colonies",
            "colony,apiary,hive_type\nBirch,Home,topbar\n",
            (
                "colonies.csv row 2, hive_type: there is no hive type 'topbar'. "
                "Did you mean top-bar? Mend the name, or add it to hives."
            ),
        ),
        (
            "inspections",
            "colony,date,queen_cells_egg\n\nBirch,2026-05-01,-2\n",
            (
                "inspections.csv row 3, queen_cells_egg: '-2' is below 0. "
                "Write the number you saw, 0 for none, or leave it blank."
            ),
        ),
        (
            "inspections",
            "colony,date,visit,combs\nBirch,2026-05-01,1,4\n\nBirch,2026-05-01,1,5\n",
            (
                "inspections.csv row 2, colony: 'Birch, 2026-05-01, 1' stands in row 4, too, "
                "with other values. Keep one of them, or put them into one."
            ),
        ),
        (
            "hives",
            "hive_type,comb_length_mm,combs_a_box\nmine,400,20\n",
            "hives.csv row 2, comb_height_mm: hive 'mine' lacks this measure.",
        ),
    ],
)
def test_a_fault_names_file_row_column_value_and_mend(read, table, text, line):
    faults, _ = found(read(**(FILES | {table: text})))
    assert any(told.startswith(line) for told in faults)


def test_a_doubt_says_how_to_keep_the_value(read):
    reads = read(**(FILES | {"inspections": "colony,date,combs\nBirch,2026-05-01,400\n"}))
    checked = check_reads(reads, {}, today=TODAY)
    with pytest.raises(RecordsError, match=r"'400' is unlikely.*--accept-unlikely"):
        refuse_faults(checked, accept_unlikely=False)
    refuse_faults(checked, accept_unlikely=True)


def test_faults_of_all_files_come_at_once_in_their_order(read):
    reads = read(
        inspections="colony,date\nBirch,x\nOak,y\n",
        apiaries="apiary,latitude,longitude\nHome,95,25\n",
        colonies=FILES["colonies"],
    )
    with pytest.raises(RecordsError) as told:
        refuse_faults(check_reads(reads, {}, today=TODAY), accept_unlikely=False)
    assert [(p.table, p.row) for p in told.value.problems] == [
        ("inspections.csv", 2),
        ("inspections.csv", 3),
        ("apiaries.csv", 2),
    ]


def test_an_own_hive_type_may_be_named(read):
    texts = FILES | {
        "hives": "hive_type,comb_length_mm,comb_height_mm,combs_a_box\nmine,400,250,20\n",
        "colonies": "colony,apiary,hive_type\nBirch,Home,mine\nOak,Home,warre\n",
    }
    assert found(read(**texts)) == ([], [])


def test_good_rows_leave_out_what_names_a_row_that_is_refused(read):
    texts = FILES | {"apiaries": "apiary,latitude,longitude\nHome,57.9,25.6\nFar,95,25\n"}
    texts["colonies"] += "Pine,Far,warre\n"
    texts["inspections"] += "Pine,2026-05-01,3\n"
    checked = check_reads(read(**texts), {}, today=TODAY)
    good, refused = without_refused(checked, {}, today=TODAY, accept_unlikely=False)
    assert [(p.table, p.row) for p in refused] == [
        ("apiaries.csv", 3),
        ("colonies.csv", 4),
        ("inspections.csv", 4),
    ]
    assert [len(frame) for frame in good.frames] == [1, 2, 2]
    assert good.faults == ()


def test_good_rows_leave_out_a_file_whose_header_is_at_fault(read):
    texts = FILES | {"inspections": "colony,day\nBirch,2026-05-01\n"}
    checked = check_reads(read(**texts), {}, today=TODAY)
    good, refused = without_refused(checked, {}, today=TODAY, accept_unlikely=False)
    assert {p.table for p in refused} == {"inspections.csv"}
    assert [len(frame) for frame in good.frames] == [1, 2, 0]


def test_two_files_of_one_table_are_both_stored(read, opened, at):
    texts = {"inspections 2025": "colony,date,combs\nBirch,2025-05-01,4\n", **FILES}
    checked = check_reads(read(**texts), {}, today=TODAY)
    assert store_checked(opened, checked, at=at, by="test")["inspections"] == Stored(new=3)
    assert opened.frame("inspections")["combs"].notna().sum() == 1


def test_a_trial_says_what_would_be_done_and_writes_nothing(read, opened, at):
    checked = check_reads(read(**FILES), {}, today=TODAY)
    done = store_checked(opened, checked, at=at, by="test", keep=False)
    assert done["colonies"] == Stored(new=2)
    assert all(frame.empty for frame in opened.frames().values())


def test_words_in_other_letters_are_told_as_they_were_read(read):
    text = "colony,date,eggs_seen,queen_seen\nBirch,2026-05-01,Y,yes\nOak,2026-05-01,Y,N\n"
    reads = read(**(FILES | {"inspections": text}))
    assert remarks(check_reads(reads, {}, today=TODAY)) == [
        "inspections.csv, eggs_seen: read 'Y' as yes, 2 cells.",
        "inspections.csv, queen_seen: read 'N' as no.",
    ]


def test_files_of_one_name_in_two_folders_are_told_apart(tmp_path):
    for year in ("2025", "2026"):
        (tmp_path / year).mkdir()
        (tmp_path / year / "boxes.csv").write_text("box,volume_l\nB,-1\n", encoding="utf-8")
    reads = read_files([tmp_path / "2025", tmp_path / "2026"])
    faults, _ = found(reads)
    assert [line.split(" row")[0] for line in faults] == ["boxes.csv", "boxes.csv (2)"]
