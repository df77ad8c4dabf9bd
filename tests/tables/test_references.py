"""A name that nobody wrote down is told, with the closest ones."""

import pandas as pd

from swarmwatch.tables import TABLES, conform
from swarmwatch.tables.references import closest, unknown_names


def said(known, table="inspections", **cells):
    frame = conform(pd.DataFrame({k: [v] for k, v in cells.items()}), TABLES[table])
    return [str(p) for p in unknown_names(frame, TABLES[table], known)]


def test_an_unknown_colony_is_told_with_the_closest():
    (line,) = said({"colonies": {"Birch", "Oak"}}, colony="Brich", date="2026-05-01")
    assert line == (
        "inspections row 2, colony: there is no colony 'Brich'. Did you mean Birch? "
        "Mend the name, or add it to colonies."
    )


def test_a_known_name_and_a_blank_one_are_let_pass():
    assert said({"colonies": {"Birch"}}, colony="Birch", date="2026-05-01") == []
    cells = {"date": "2026-05-01", "temp_max_c": 9, "temp_min_c": 1}
    assert said({"apiaries": set()}, "weather", apiary=None, **cells) == []


def test_every_name_of_a_row_is_looked_at():
    known = {"apiaries": {"Home"}, "hives": {"top-bar", "warre"}}
    (line,) = said(known, "colonies", colony="a", apiary="Home", hive_type="topbar")
    assert "hive_type: there is no hive type 'topbar'. Did you mean top-bar?" in line


def test_closest_offers_up_to_three_in_any_case():
    assert closest("birch", {"Birch", "Birch 2", "Oak"}) == "Did you mean Birch or Birch 2? "
    assert closest("xyz", {"Birch"}) == ""
