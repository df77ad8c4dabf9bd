"""What the shells share: one colony's tables, the keeper's own numbers."""

import datetime as dt

import pandas as pd
import pytest

from swarmwatch.errors import UsageError
from swarmwatch.placement.wishes import Wishes
from swarmwatch.records.scoring import evidence_for, only_of, plan_tables

SHARE = "season.yearly_chance_inspected"


def test_the_records_share_of_swarms_goes_before_the_shipped_and_the_keepers_file_before_both(
    tmp_path,
):
    own = tmp_path / "own.toml"
    own.write_text(f"[{SHARE}]\nvalue = 0.1\n", encoding="utf-8")
    assert evidence_for(None, "0.6").value(SHARE) == 0.6
    assert evidence_for(own, "0.6").value(SHARE) == 0.1
    assert evidence_for(None, None).value(SHARE) == 0.3


def test_a_share_told_is_as_rough_as_the_published_one_and_no_rougher():
    # nobody who says eight in ten means that it may be two
    told = evidence_for(None, "0.8")[SHARE]
    assert 0.5 < told.low < 0.8 < told.high < 1


def test_one_colonys_tables_keep_what_all_share():
    rows = pd.DataFrame({"colony": ["A", "B"]})
    frames = dict.fromkeys(("colonies", "inspections", "events"), rows) | {"weather": rows}
    only = only_of(frames, ["B"])
    assert [len(only[n]) for n in ("colonies", "inspections", "events", "weather")] == [1, 1, 1, 2]


def test_without_a_site_there_is_no_plan(opened):
    with pytest.raises(UsageError, match="No sites yet"):
        plan_tables(opened.frames(), dt.date(2026, 6, 5), evidence_for(None, None), Wishes())
