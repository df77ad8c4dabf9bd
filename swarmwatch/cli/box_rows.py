"""From what a keeper says of one bait box to the rows of the tables, and the words back."""

from datetime import date

import pandas as pd

from swarmwatch.cli.box_told import (
    Frames,
    Told,
    last_catch,
    named_box,
    one_row,
    open_catch,
    refuse_loose,
)
from swarmwatch.errors import UsageError
from swarmwatch.evidence import Evidence
from swarmwatch.placement.box_life import move_days, near_by_steps
from swarmwatch.placement.dispersal import distances_m
from swarmwatch.records.places import parse_place
from swarmwatch.records.table_read import TableRead
from swarmwatch.tables.references import closest

_AFRICANIZED = (
    "A yard of yours lies in an area with Africanized bees: no amateur catching. Keep away from "
    "the box and call trained, registered people."
)
_PROTECTED = {
    "bird": "Birds and their nests are protected by law in many places: leave it alone.",
    "bat": "Bats and where they roost are protected by law in many places: leave it alone.",
    "wasps": "They sting, and some are protected: keep away, no spray, don't close it.",
}


def notes_of(
    told: Told, stored: Frames, *, name: str, on: date, evidence: Evidence
) -> tuple[list[TableRead], list[str], list[str]]:
    """Turn what was said into rows, to be checked and stored like a file's.

    Parameters
    ----------
    told
        What the keeper said.
    stored
        The tables of the store.
    name
        The box, any case; a new one is made by hanging it.
    on
        The day.
    evidence
        The numbers.

    Returns
    -------
    The tables, the plain confirmations, and what to mind.

    Raises
    ------
    UsageError
        It does not go together, or with what is noted.
    """
    refuse_loose(told)
    notes = _Notes(stored=stored, on=on, evidence=evidence)
    if told.hang is not None:
        notes.hang(told, name)
        name = notes.box
    else:
        notes.box = named_box(stored["boxes"], name)
    if told.check:
        notes.check(told)
    if told.caught is not None:
        notes.catch(told)
    if told.new_colony is not None or told.moved:
        notes.settle(told)
    if told.take_down:
        notes.take_down()
    if (stored["apiaries"]["africanized_area"] == "yes").any():
        notes.minded.insert(0, _AFRICANIZED)
    return notes.reads(), notes.said, notes.minded


class _Notes:
    """The rows of one call; later parts see what earlier ones noted."""

    def __init__(self, *, stored: Frames, on: date, evidence: Evidence) -> None:
        self.stored, self.on, self.evidence = stored, on, evidence
        self.box = ""
        self.said: list[str] = []
        self.minded: list[str] = []
        self.rows: dict[str, dict[str, str]] = {}

    def reads(self) -> list[TableRead]:
        return [one_row(table, self.stored, cells) for table, cells in self.rows.items()]

    def hang(self, told: Told, name: str) -> None:
        assert told.hang is not None  # noqa: S101 - the caller looked
        boxes = self.stored["boxes"]
        same = boxes["box"].str.casefold() == name.casefold()
        self.box = str(boxes.loc[same, "box"].iloc[0]) if same.sum() == 1 else name
        up = self._up()
        if up is not None:
            message = (
                f"{self.box} hangs at {up['site']} since {up['hung_on']:%Y-%m-%d}. Take it down "
                f"first: swarmwatch box {self.box} --take-down"
            )
            raise UsageError(message)
        if not same.any():
            self.rows["boxes"] = {"box": self.box}
            self.said.append(f"{self.box}: a new bait box, noted.")
        site = self._site(told)
        cells = {"box": self.box, "site": site, "hung_on": self.on.isoformat()}
        if told.lure is not None:
            cells |= {"lure": told.lure}
            cells |= {} if told.lure.strip().lower() == "none" else {"lure_on": self.on.isoformat()}
        self.rows["hangings"] = cells
        self.said.append(f"{self.box} hangs at {site} since {self.on}: noted.")
        self._mind_site(site)

    def _site(self, told: Told) -> str:
        sites = self.stored["sites"]
        wanted = str(told.hang)
        same = sites[sites["site"].str.casefold() == wanted.casefold()]
        if len(same) == 1:
            if told.place is not None:
                message = f"the site {same['site'].iloc[0]} is noted already: leave --place out."
                raise UsageError(message)
            return str(same["site"].iloc[0])
        if told.place is None:
            message = (
                f"there is no site '{wanted}'. {closest(wanted, set(sites['site']))}Say where a "
                "new one lies: --place LAT,LON, such as --place 60.17,24.94"
            )
            raise UsageError(message)
        spot = parse_place(told.place)
        self.rows["sites"] = {
            "site": wanted,
            "latitude": f"{spot.latitude:.10g}",
            "longitude": f"{spot.longitude:.10g}",
        }
        self.said.append(f"{wanted}: a new site at {spot}, noted.")
        return wanted

    def _mind_site(self, site: str) -> None:
        known = self.stored["sites"]
        row = known[known["site"] == site]
        if row.empty or row["permission"].iloc[0] != "yes":
            self.minded.append("The owner's yes is not noted for this site: ask, or take it down.")
        others = self.stored["hangings"]
        there = others[(others["site"] == site) & others["taken_on"].isna()]
        if len(there):
            self.minded.append(f"{', '.join(there['box'])} hangs there, too.")
        self.minded.append(
            "No ladder or pole near an overhead line. Put your name and number on the box, strap "
            "it, no old comb unless law and an inspected source allow it."
        )

    def check(self, told: Told) -> None:
        if self._up() is None:
            message = (
                f"{self.box} hangs nowhere on {self.on}. Note where first: "
                f"swarmwatch box {self.box} --hang SITE --date DATE"
            )
            raise UsageError(message)
        self.rows["checks"] = {"box": self.box, "date": self.on.isoformat(), **told.check}
        self.said.append(f"{self.box}, {self.on}: check noted.")
        quorum = self.evidence.value("levels.scouts_quorum")
        count = told.check.get("scouts", "")
        if count.isdecimal() and int(count) >= quorum:
            self.minded.append(
                f"{count} scouts at once: a swarm may move in within a day. Look from outside, "
                "don't open or move the box."
            )
        tenant = told.check.get("tenant", "").strip().lower()
        if tenant in _PROTECTED:
            self.minded.append(_PROTECTED[tenant])
        if told.check.get("occupied", "").strip().lower() in {"yes", "y"} and not told.caught:
            self.minded.append(
                "A swarm lives there: note the catch and its kind, so that its move can be told: "
                f"swarmwatch box {self.box} --caught prime (or afterswarm, or unknown)"
            )

    def catch(self, told: Told) -> None:
        up = self._up()
        if up is None:
            message = f"{self.box} hangs nowhere on {self.on}. Note where first: --hang SITE"
            raise UsageError(message)
        kind = str(told.caught).strip().lower()
        before = open_catch(self.stored, self.box, self.on)
        caught_on = self.on if before is None else before["caught_on"].date()
        cells = {
            "box": self.box,
            "site": str(up["site"]),
            "caught_on": caught_on.isoformat(),
            "kind": kind,
        }
        if told.from_colony is not None:
            cells["from_colony"] = told.from_colony
        self.rows["catches"] = cells
        self.said.append(f"{self.box} at {up['site']}: swarm of {caught_on} noted ({kind}).")
        if not told.moved:
            self._mind_move(kind, caught_on)

    def _mind_move(self, kind: str, caught_on: date) -> None:
        first, last = move_days(caught_on, self.evidence)
        if kind == "afterswarm":
            text = "Leave it in place until eggs are seen: its young queen mates from there."
        else:
            text = f"Move it between {first} and {last}, at dusk; not alone, it is heavy."
        self.minded.append(f"{text} How: swarmwatch box {self.box}")

    def settle(self, told: Told) -> None:
        """Give the catch its colony, and note that it was moved."""
        cells = self.rows.get("catches") or self._noted_catch(told)
        self.rows["catches"] = cells
        caught_on = date.fromisoformat(cells["caught_on"])
        if told.moved:
            cells["moved_on"] = self.on.isoformat()
            self._down()
            self.said.append(f"{self.box}: moved with its swarm on {self.on}, noted as down.")
            self._mind_moved(cells.get("kind", "unknown"), caught_on)
        if told.new_colony is not None:
            self._colony(told, cells, caught_on)
        elif "to_colony" not in cells:
            self.minded.append(
                "The colony it became has no name yet: "
                f"swarmwatch box {self.box} --moved --new-colony NAME --apiary YARD "
                "--hive-type TYPE"
            )

    def _noted_catch(self, told: Told) -> dict[str, str]:
        row = open_catch(self.stored, self.box, self.on)
        if row is None and told.new_colony is not None:
            # moved before, and named only now
            row = last_catch(self.stored, self.box, self.on)
            row = None if row is None or not pd.isna(row["to_colony"]) else row
        if row is None:
            message = (
                f"no swarm is noted in {self.box}. Note the catch first: "
                f"swarmwatch box {self.box} --caught prime --date DATE"
            )
            raise UsageError(message)
        cells = {n: str(row[n]) for n in ("box", "site", "kind") if not pd.isna(row[n])}
        cells["caught_on"] = row["caught_on"].date().isoformat()
        if not pd.isna(row["to_colony"]):
            cells["to_colony"] = str(row["to_colony"])
        return cells

    def _colony(self, told: Told, cells: dict[str, str], caught_on: date) -> None:
        if told.apiary is None or told.hive_type is None:
            message = "a new colony needs its yard and hive: give --apiary YARD --hive-type TYPE."
            raise UsageError(message)
        if told.new_colony in set(self.stored["colonies"]["colony"]):
            message = f"there is a colony '{told.new_colony}' already. Give the new one a name."
            raise UsageError(message)
        cells["to_colony"] = str(told.new_colony)
        row = {
            "colony": str(told.new_colony),
            "apiary": told.apiary,
            "hive_type": told.hive_type,
            "origin": "swarm",
            "started": (self.on if told.moved else caught_on).isoformat(),
            "note": f"swarm from the bait box {self.box} at {cells['site']}",
        }
        if cells.get("kind") == "afterswarm":
            row["queen_year"] = str(caught_on.year)
        self.rows["colonies"] = row
        self.said.append(f"{told.new_colony} at {told.apiary}: a colony of its own, noted.")
        self._mind_apart(told, cells)

    def _mind_apart(self, told: Told, cells: dict[str, str]) -> None:
        sites, yards = self.stored["sites"], self.stored["apiaries"]
        site = sites[sites["site"] == cells["site"]]
        yard = yards[yards["apiary"] == told.apiary]
        if len(site) and len(yard):
            away_m = distances_m(
                from_latitude=site["latitude"].to_numpy(dtype=float),
                from_longitude=site["longitude"].to_numpy(dtype=float),
                to_latitude=yard["latitude"].to_numpy(dtype=float),
                to_longitude=yard["longitude"].to_numpy(dtype=float),
            )
            near = near_by_steps(float(away_m[0, 0]), self.evidence)
            self.minded += [near] if near else []
        first, last, again = (
            pd.Timestamp(cells["caught_on"]).date()
            + pd.Timedelta(days=self.evidence.value(f"boxes.brood_check_{end}_d"))
            for end in ("from", "until", "again")
        )
        self.minded.append(
            f"Keep {told.new_colony} apart: no comb or tools shared before its brood was looked at "
            f"between {first} and {last} and again from {again} on (common practice, no source)."
        )

    def _mind_moved(self, kind: str, caught_on: date) -> None:
        first, last = move_days(caught_on, self.evidence)
        if kind == "afterswarm":
            self.minded.append(
                "An afterswarm: if no eggs were seen before the move, its queen may fail to mate "
                "or to find home; look for eggs."
            )
        elif self.on < first:
            self.minded.append(
                f"Moved before day {(first - caught_on).days}: it may leave again, look tomorrow."
            )
        elif self.on > last:
            self.minded.append("Moved late: comb is heavy and soft, look for broken combs.")

    def take_down(self) -> None:
        if self._up() is None:
            message = f"{self.box} hangs nowhere on {self.on}."
            raise UsageError(message)
        if open_catch(self.stored, self.box, self.on) is not None or "catches" in self.rows:
            message = (
                f"a swarm is noted in {self.box}: say --moved when it was taken away with its box."
            )
            raise UsageError(message)
        self._down()
        self.said.append(f"{self.box}: taken down on {self.on}, noted.")

    def _down(self) -> None:
        up = self._up()
        if up is None:
            return
        self.rows["hangings"] = {
            "box": self.box,
            "site": str(up["site"]),
            "hung_on": up["hung_on"].date().isoformat(),
            **self.rows.get("hangings", {}),
            "taken_on": self.on.isoformat(),
        }

    def _up(self) -> pd.Series | None:
        """Return where the box hangs on the day."""
        if "hangings" in self.rows:
            cells = self.rows["hangings"]
            return pd.Series(cells | {"hung_on": pd.Timestamp(cells["hung_on"])})
        hung = self.stored["hangings"]
        stamp = pd.Timestamp(self.on)
        mine = hung[(hung["box"] == self.box) & (hung["hung_on"] <= stamp)]
        mine = mine[mine["taken_on"].isna() | (mine["taken_on"] > stamp)]
        return None if mine.empty else mine.sort_values("hung_on").iloc[-1]
