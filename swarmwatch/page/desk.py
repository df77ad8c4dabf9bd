"""What the pages stand on: the records as they are now, scored once for each change and evening."""

import datetime as dt
import threading
from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from concurrent.futures import Future
from contextlib import AbstractContextManager, suppress
from dataclasses import dataclass
from functools import partial

import pandas as pd

from swarmwatch.evening import last_evening
from swarmwatch.evidence import Evidence
from swarmwatch.mapping.page import interactive_map
from swarmwatch.page.history import Histories
from swarmwatch.page.rereading import Reading, read_frames
from swarmwatch.page.state import Prints, State, state_of_records
from swarmwatch.page.work import Kept, Urgency, Worker
from swarmwatch.placement.box_life import hung_boxes
from swarmwatch.placement.wishes import Wishes
from swarmwatch.records.scoring import (
    Frames,
    change_tables,
    only_of,
    plan_tables,
    score_tables,
)
from swarmwatch.records.store import Records
from swarmwatch.swarming.visits import order_of_visits
from swarmwatch.swarming.what_if import brood_in_doubt

Row = Mapping[Hashable, object]
Clock = Callable[[], dt.datetime]
# what-if answers that are kept
_ANSWERS = 500


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """The records at one moment and all that was worked out from them.

    `on` is the evening spoken of; `noted_today` says that it lies ahead, because something was
    noted today. `scores` is the table of that name; `rows` are its rows by colony, `visits` and
    `boxes` those of `order_of_visits` and `hung_boxes`. `sick` are the colonies whose brood last
    looked unsure or suspect, with the day. `prints` are fingerprints of what the scores rest on.
    """

    state: State
    on: dt.date
    noted_today: bool
    reading: Reading
    evidence: Evidence
    scores: pd.DataFrame
    rows: Mapping[str, Row]
    visits: Sequence[Row]
    boxes: Sequence[Row]
    sick: Mapping[str, dt.date]
    units: str
    prints: Prints

    @property
    def frames(self) -> Frames:
        """The input tables."""
        return self.reading.frames


class Desk:
    """Keeps one `Standing` and hands it out; works a new one out where records or evening change.

    Parameters
    ----------
    records
        The open store.
    clock
        Tells the local time, with its zone.
    evidence_of
        Makes the numbers of the setting ``yearly_swarm_chance``.
    on
        The evening to speak of; the last one that passed if None.
    ahead
        Work out beforehand what the pages will ask for: past evenings, the map, what ifs.
    """

    def __init__(
        self,
        records: Records,
        *,
        clock: Clock,
        evidence_of: Callable[[str | None], Evidence],
        on: dt.date | None = None,
        ahead: bool = False,
    ) -> None:
        self.records, self.clock, self._evidence_of = records, clock, evidence_of
        self._on, self._ahead = on, ahead
        # one writer at a time: what was read before a write is what the write is held against
        self.writing = threading.Lock()
        self._worker = Worker()
        self.histories = Histories(self._worker)
        self._now: Standing | None = None
        self._renewing: Future[None] | None = None
        self._answers: dict[tuple[object, ...], Kept[pd.DataFrame]] = {}
        self._map: tuple[Standing, Kept[str]] | None = None
        self._lock = threading.Lock()

    @property
    def today(self) -> dt.date:
        """The day on which a keeper writes: the clock's, or the evening asked for."""
        return self._on or self.clock().date()

    @property
    def evidence(self) -> Evidence:
        """The numbers that scores rest on, with the keeper's own share of swarms."""
        return self._evidence_of(self.records.setting("yearly_swarm_chance"))

    def standing(self, *, patience_s: float | None = None) -> tuple[Standing, bool]:
        """Return what the pages show, and whether it is of the records as they are now.

        Parameters
        ----------
        patience_s
            How long to wait where records or evening changed, before the one from before is
            returned [s]; as long as it takes if None, or if there is none from before.

        Raises
        ------
        StoreError
            The records can't be read.
        """
        before = self._now
        if before is not None and self._holds(before):
            return before, True
        with self._lock:
            if self._renewing is None or self._renewing.done():
                self._renewing = self._worker.ask(Urgency.NOW, self._renew)
            renewing = self._renewing
        with suppress(TimeoutError):
            renewing.result(timeout=None if before is None else patience_s)
        now = self._now
        assert now is not None  # noqa: S101 - the first one is waited for, or has raised
        return now, self._holds(now)

    def _holds(self, standing: Standing) -> bool:
        same_day = standing.on == self._evening(standing.frames)[0]
        return same_day and standing.state == state_of_records(self.records)

    def _evening(self, frames: Frames) -> tuple[dt.date, bool]:
        """Return the evening to speak of, and whether it lies ahead.

        A note of today counts at once: the keeper who just closed the hive asks what now.
        """
        if self._on is not None:
            return self._on, False
        now = self.clock()
        today = pd.Timestamp(now.date())
        noted = any((frames[n]["date"] == today).any() for n in ("inspections", "events"))
        evening = last_evening(now)
        return (now.date(), True) if noted and evening != now.date() else (evening, False)

    def _renew(self) -> None:
        self._now = standing = self._read(self._now)
        if self._ahead:
            self.histories.prepare(standing)
            self.map_page(standing, Urgency.LIKELY)

    def _read(self, before: Standing | None) -> Standing:
        state = state_of_records(self.records)
        reading = read_frames(self.records, None if before is None else before.reading)
        frames = reading.frames
        evidence = self.evidence
        on, ahead = self._evening(frames)
        prints = Prints.read(
            frames,
            frozenset(evidence.values()),
            before=None if before is None else before.prints,
            written=reading.written,
        )
        scores = _scored(frames, on, evidence, prints, before)
        looks = _last_looks(frames["inspections"], on)
        visits = order_of_visits(
            scores,
            max(1, len(scores)),
            inspections=looks,
            events=frames["events"],
            evidence=evidence,
        )
        return Standing(
            state=state,
            on=on,
            noted_today=ahead,
            reading=reading,
            evidence=evidence,
            scores=scores,
            rows={str(r["colony"]): r for r in scores.to_dict("records")},
            visits=visits.to_dict("records"),
            # without a yard no season is known, nor when a box is due
            boxes=[]
            if frames["apiaries"].empty
            else hung_boxes(frames, on=on, evidence=evidence, rates=False).to_dict("records"),
            sick=brood_in_doubt(looks, on),
            units=self.records.setting("units") or "metric",
            prints=prints,
        )

    def change(
        self, standing: Standing, colony: str, change: str, urgency: Urgency = Urgency.ASKED
    ) -> Future[pd.DataFrame]:
        """Return what a change would do to one colony, once it is worked out.

        An answer is kept while nothing it rests on changes.
        """
        rests_on = (standing.on, standing.prints.together, standing.prints.own(colony))
        key = (*rests_on, colony, change)
        with self._lock:
            found = self._answers.get(key)
            if found is None:
                if len(self._answers) >= _ANSWERS:
                    self._answers.clear()
                frames = only_of(standing.frames, [colony])
                job = partial(change_tables, frames, standing.on, change, standing.evidence)
                found = self._answers[key] = Kept(self._worker, job)
        return found.ask(urgency)

    def expect(self, standing: Standing, colony: str, changes: Iterable[str]) -> None:
        """Have a colony's past evenings worked out, and what it may be asked for next."""
        self.histories.ask(standing, colony)
        for change in changes if self._ahead else ():
            self.change(standing, colony, change, Urgency.LIKELY)

    def map_page(self, standing: Standing, urgency: Urgency = Urgency.ASKED) -> Future[str]:
        """Return the map of the box plan, once it is drawn; drawn once for a standing.

        The future raises UsageError or PlanInfeasible where there is no site, or none that may
        bear a box.
        """
        with self._lock:
            if self._map is None or self._map[0] is not standing:
                self._map = (standing, Kept(self._worker, partial(_drawn, standing)))
            kept = self._map[1]
        return kept.ask(urgency)

    def page(self) -> AbstractContextManager[None]:
        """Stand back with what no page waits for, while a page is made."""
        return self._worker.page()

    def close(self) -> None:
        """Stop working; the records stay open."""
        self._worker.close()


def _drawn(standing: Standing) -> str:
    frames = standing.frames
    sources, plan = plan_tables(frames, standing.on, standing.evidence, Wishes())
    return interactive_map(
        plan,
        sources=sources,
        apiaries=frames["apiaries"],
        sites=frames["sites"],
        scores=standing.scores if len(standing.scores) else None,
        keep_out=frames["keep_out"],
        hangings=frames["hangings"],
        made_on=standing.on,
        evidence=standing.evidence,
    )


def _last_looks(inspections: pd.DataFrame, on: dt.date) -> pd.DataFrame:
    """Return of each colony the last look, and the last that noted the brood's health.

    No earlier one bears on the order of visits or on brood in doubt, and five seasons are many.
    """
    known = inspections[inspections["date"] <= pd.Timestamp(on)]
    told = known[known["brood_health"].notna()]
    last = [rows.drop_duplicates("colony", keep="last").index for rows in (known, told)]
    return known.loc[last[0].union(last[1])]


def _scored(
    frames: Frames, on: dt.date, evidence: Evidence, prints: Prints, before: Standing | None
) -> pd.DataFrame:
    """Score the colonies whose rows changed; a score depends on no colony beside it."""
    if before is None or (before.on, before.prints.together) != (on, prints.together):
        return score_tables(frames, on, evidence)
    names = [str(c) for c in frames["colonies"]["colony"]]
    changed = [n for n in names if before.prints.own(n) != prints.own(n)]
    kept = before.scores[before.scores["colony"].isin(set(names) - set(changed))]
    if not changed:
        return kept.reset_index(drop=True)
    fresh = score_tables(only_of(frames, changed), on, evidence)
    place = {name: i for i, name in enumerate(names)}
    together = pd.concat([p for p in (kept, fresh) if len(p)] or [fresh], ignore_index=True)
    return together.sort_values("colony", key=lambda c: c.map(place), ignore_index=True)
