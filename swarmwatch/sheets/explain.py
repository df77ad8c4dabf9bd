"""How is one colony's score read step by step, by a mentor and a beginner together?

Pure: the walk through the score and its row come in, plain words with the numbers behind them come
out. Nothing is told that the score did not reckon.
"""

import math
from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import pandas as pd

from swarmwatch.evidence import Evidence
from swarmwatch.sheets.round_facts import day_words
from swarmwatch.swarming.score import DRAWS
from swarmwatch.swarming.situation import FollowUp
from swarmwatch.swarming.walk_facts import Ahead, Belief, Factor, Walk
from swarmwatch.tables import TABLES
from swarmwatch.wording import one_line, per_cent

# a chance of cells below this leaves nothing to say of their age
_WORTH_A_WORD = 0.01
_LINES = (("today", "line_today"), ("act", "line_act"), ("look soon", "line_look_soon"))
_ASKED_FIRST = (
    *("oldest_queen_cell", "queen_cells_egg", "queen_cells_larva", "queen_cells_capped"),
    *("eggs_seen", "queen_seen", "combs_bees", "combs", "combs_brood", "combs_looked"),
)
_CELL_COLUMNS = tuple(c for c in _ASKED_FIRST if "queen_c" in c)
_COUNTED = tuple(c for c in _CELL_COLUMNS if c.startswith("queen_cells_"))
_QUEEN_AGE = ("reared this season", "in her first full season", "in her second season")


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One step: what is told, lines of a table if it has one, and the evidence keys behind it."""

    title: str
    said: tuple[str, ...]
    table: tuple[tuple[str, ...], ...] = ()
    keys: tuple[str, ...] = ()


def explain(walk: Walk, score: Mapping[Hashable, Any], evidence: Evidence) -> tuple[Step, ...]:
    """Tell the steps from what was seen to what to do.

    Parameters
    ----------
    walk
        Of `walk_through`.
    score
        The colony's row of ``scores`` on the same evening, with its words.
    evidence
        The numbers that both rest on.

    Returns
    -------
    The steps in order.
    """
    steps = [_known(walk), _told_by_the_look(walk)]
    if walk.swarmed_on is None:
        steps += [_season(walk), _room(walk), _start(walk), _cells(walk), _weather(walk)]
        steps.append(_together(walk, score))
    else:
        steps.append(_after_the_swarm(walk, walk.swarmed_on, score, evidence))
    steps += [_reasons(score), _to_do(score, evidence)]
    return tuple(s for s in steps if s is not None)


def _known(walk: Walk) -> Step:
    if not walk.looks:
        said = [
            (
                "No inspection is noted this season. What is usual for the time of year stands in "
                "for what nobody saw, so the range below is wide."
            )
        ]
    else:
        count, last = len(walk.looks), walk.looks[-1]
        looks = "1 inspection" if count == 1 else f"{count} inspections"
        said = [f"{looks} this season, the last on {day_words(last)}{_ago(walk.on, last)}."]
        noted = [_noted(n, v) for n, v in walk.looked.items() if n not in ("date", "visit", "note")]
        said.append(f"Noted then: {'; '.join(noted)}." if noted else "Nothing was noted then.")
        blank = [
            _meaning(c)
            for c in _ASKED_FIRST
            # the stage says as much as the counts do, and they as much as the stage
            if c not in walk.looked and not (c in _CELL_COLUMNS and _any(walk, _CELL_COLUMNS))
        ]
        if blank:
            said.append(f"Blank, so taken as not looked at: {'; '.join(blank)}.")
    if walk.events:
        told = ", ".join(f"{event} on {day.isoformat()}" for day, event in walk.events)
        said.append(f"What happened this season: {told}.")
    return Step(title="What is known", said=tuple(said))


def _any(walk: Walk, columns: Sequence[str]) -> bool:
    return any(c in walk.looked for c in columns)


def _meaning(column: str) -> str:
    text = TABLES["inspections"].column(column).meaning
    # the first name is enough: what follows it tells what to write, or how bars call it
    text = text.partition(":")[0].partition(",")[0]
    return text[0].lower() + text[1:]


def _noted(column: str, value: object) -> str:
    shown = f"{value:g}" if isinstance(value, int | float) else one_line(value)
    return f"{_meaning(column)}: {shown}"


def _ago(on: date, day: date) -> str:
    days = (on - day).days
    return "" if days == 0 else f", {days} {'day' if days == 1 else 'days'} before this evening"


def _told_by_the_look(walk: Walk) -> Step | None:
    if not walk.looks or walk.swarmed_on is not None:
        return None
    said = [
        f"Had nothing been noted on {walk.looks[-1].isoformat()}: {_belief(walk.without_look)}.",
        f"With what was seen then: {_belief(walk.with_look)}.",
    ]
    if walk.now != walk.with_look:
        said.append(f"By this evening, with nothing more seen: {_belief(walk.now)}.")
    said.append(
        "A look weighs by how often it sees such a thing where it is there, and where it is not."
    )
    keys: list[str] = []
    if _any(walk, (*_CELL_COLUMNS, "queen_cells_emerged")):
        keys += [f"seeing.find_{k}_cells" for k in ("egg", "larva", "sealed")]
        keys += ["seeing.false_cells", "seeing.other_cells", "seeing.other_cells_queenless"]
    if any(walk.looked.get(c, 0) for c in _COUNTED):
        kinds = ("swarm", "supersedure", "emergency", "false")
        keys += [f"seeing.cells_noted_{k}" for k in kinds]
    if "eggs_seen" in walk.looked:
        keys += ["seeing.eggs_seen_laying", "seeing.eggs_seen_cells", "seeing.eggs_seen_gone"]
    if "queen_seen" in walk.looked:
        keys += ["seeing.queen_seen_present", "seeing.queen_seen_gone"]
    if "combs_bees" in walk.looked and len(walk.looks) > 1:
        keys += ["seeing.share_leaving", "seeing.bees_log_sd"]
    return Step(title="What the look tells", said=tuple(said), keys=tuple(keys))


def _belief(belief: Belief) -> str:
    parts = [f"no swarm cells {per_cent(belief.idle)}", f"swarm cells {per_cent(belief.cells)}"]
    if belief.cells >= _WORTH_A_WORD:
        stages = (("egg", belief.egg), ("larva", belief.larva), ("sealed", belief.sealed))
        parts[-1] += f" (the oldest {', '.join(f'{n} {per_cent(p)}' for n, p in stages)})"
    parts.append(f"the prime swarm has left {per_cent(belief.gone)}")
    return ", ".join(parts)


def _season(walk: Walk) -> Step:
    days = (walk.on - walk.peak_on).days
    when = "today" if days == 0 else f"{abs(days)} days {'ago' if days > 0 else 'ahead'}"
    whose = "by your own note" if walk.own_peak else "by its warmth and light"
    said = (
        f"Most prime swarms leave {walk.apiary} about {day_words(walk.peak_on)} {whose}: {when}.",
        (
            "Swarm cells are started some days before a swarm leaves. Starting them today is "
            f"{per_cent(walk.start.season)} as likely as at the best time of the year."
        ),
    )
    side = "before" if days < 0 else "after"
    place = () if walk.own_peak else ("season.heat_to_peak", "season.light_to_peak")
    keys = (*place, f"season.sd_{side}", "preparation.lead_before_departure")
    return Step(title="The season", said=said, keys=keys)


def _room(walk: Walk) -> Step:
    crowding = walk.crowding
    usual = f"a usual colony fills {per_cent(crowding.usual)} of its own at this time of year"
    said: tuple[str, ...]
    if math.isnan(crowding.counted):
        said = (f"Nobody counted bees against the comfortable room; the usual stands in: {usual}.",)
    else:
        said = (
            (
                "Bees counted, the brood that has hatched since and the room that was given: they "
                f"fill {per_cent(crowding.counted)} of the comfortable room this evening; {usual}."
            ),
            (
                "A count is rough, so the score draws it towards the usual and takes "
                f"{per_cent(crowding.likely)}."
            ),
        )
    how = str(walk.looked.get("bees_how", "unstated"))
    keys = (
        *(() if "combs_bees" not in walk.looked else (f"strength.bees_per_cm2_{how}",)),
        "strength.bees_per_cm2_comfortable",
        "preparation.reference_crowding_peak",
        "preparation.crowding_spread",
    )
    return Step(title="How full the hive is", said=said, keys=keys)


def _start(walk: Walk) -> Step:
    start = walk.start
    rows = [
        (f"{_share(start.base)} a day", "a usual colony, at the best time of the year"),
        (f"x {start.season:.2f}", "the season today"),
        (f"x {start.usual:.2f}", "how full a usual hive is at this time of year"),
        *((f"x {f.ratio:.2f}", _factor(f, walk)) for f in start.factors),
    ]
    if f"{start.together:.2f}" != "1.00":
        rows.append((f"x {start.together:.2f}", "what two of these count twice"))
    rows.append((f"= {_share(start.p)} a day", "that a colony without swarm cells starts some"))
    said = ("One chance, made larger or smaller by what is known of the colony:",)
    keys = ("season.yearly_chance_inspected", *(k for f in start.factors for k in f.keys))
    return Step(title="How readily cells are started", said=said, table=tuple(rows), keys=keys)


def _share(chance: float) -> str:
    """Return a small chance with two figures, which whole per cent would hide."""
    return f"{chance * 100:.2g} %"


def _factor(factor: Factor, walk: Walk) -> str:
    words: dict[str, Callable[[float], str]] = {
        "crowding": lambda _: f"bees fill {per_cent(walk.crowding.likely)} of the room, as likely",
        "congestion": lambda x: f"{per_cent(x)} of the room to lay in is taken",
        "no drones": lambda _: "no drones seen",
        "bees outside": lambda _: "many bees hang outside",
        "queen's age": lambda x: f"queen {_queen(x)}",
        "swarmed last year": lambda x: "it swarmed last year" if x else "no swarm last year",
        "swarm of this season": lambda _: "a swarm hived this season",
        "made this season": lambda _: "a colony made this season",
        "done": lambda _: "done: " + factor.keys[0].partition(".")[2].removesuffix("_factor"),
    }
    return words[factor.name](factor.seen).replace("_", " ")


def _queen(age: float) -> str:
    return _QUEEN_AGE[int(age)] if age < len(_QUEEN_AGE) else "older than two seasons"


def _cells(walk: Walk) -> Step | None:
    cells = walk.cells
    if cells is None or walk.now.cells < _WORTH_A_WORD:
        return None
    age = f"{cells.age:.0f} days"
    span = f"8 in 10: {cells.age_low:.0f} to {cells.age_high:.0f}"
    left = math.ceil(cells.sealed_in)
    sealed = f"sealed within {'a day' if left == 1 else f'{left} days'}" if left else "sealed"
    said = [
        (
            f"If there are swarm cells ({per_cent(walk.now.cells)}), the oldest is {age} "
            f"from its egg ({span}); {sealed}."
        ),
        (
            f"At that age {per_cent(cells.leaves)} leave on a day of weather that holds nothing "
            f"back, and {per_cent(cells.given_up)} give their cells up."
        ),
    ]
    keys = [f"cells.{k}" for k in ("hatch_age", "sealing_age", "ripe_age", "emergence_age")]
    keys += ["departure.first_age", "departure.hazard_unsealed", "departure.hazard_sealed"]
    keys += [f"cells.abandon_{k}" for k in ("egg", "larva", "sealed")]
    if walk.clipped:
        said.append(
            "The queen is clipped: a swarm that leaves comes back without her and leaves with a "
            "young queen later, or stays."
        )
        keys += ["departure.clipped_delay", "departure.clipped_goes"]
    return Step(title="Queen cells and the days left", said=tuple(said), keys=tuple(keys))


def _weather(walk: Walk) -> Step:
    said = (
        (
            "The gate says how far a day's weather lets a ready swarm leave, from 0 to 100 %. A "
            "forecast counts as far as it reaches, then what is usual here."
        ),
    )
    heads = ("day", "weather", "warmest", "rain", "wind", "gate", "leaves", "left by then")
    rows = tuple(_day(day) for day in walk.ahead)
    keys = (
        *(f"weather.gate_{k}" for k in ("cool_c", "cool", "mild_c", "mild", "warm_c")),
        *("weather.rain_least", "weather.wind_strong_m_s", "weather.wind_least"),
        "departure.push_after_confined",
    )
    return Step(title="The weather, day by day", said=said, table=(heads, *rows), keys=keys)


def _day(day: Ahead) -> tuple[str, ...]:
    return (
        day_words(day.day),
        day.kind,
        _measured(day.temp_max_c, ".0f", "C"),
        _measured(day.rain_mm, ".1f", "mm"),
        _measured(day.wind_max_m_s, ".1f", "m/s"),
        per_cent(day.gate),
        per_cent(day.leaves),
        per_cent(day.left_by),
    )


def _measured(value: float, form: str, unit: str) -> str:
    return "-" if math.isnan(value) else f"{value:{form}} {unit}"


def _together(walk: Walk, score: Mapping[Hashable, Any]) -> Step:
    week, fortnight = (_spanned(score, f"p_{days}d") for days in (7, 14))
    own = f"Own outcomes make the odds of a swarm {walk.odds:.2f} times as large, in both."
    said = (
        (
            f"With every number at its middle: {per_cent(walk.p_within(7))} that the prime swarm "
            f"leaves within 7 days, {per_cent(walk.p_within(14))} within 14, if it is still here."
        ),
        (
            f"Then {DRAWS} tries, each with other values for every uncertain number and another "
            "course of the weather; a try counts for more the better it explains what was seen. "
            f"Over all: {week} within 7 days, {fortnight} within 14; eight in ten tries lie in the "
            "range."
        ),
        *((own,) if walk.odds != 1 else ()),
        (
            f"That it has swarmed already: {per_cent(float(score['p_gone']))}. That an afterswarm "
            f"leaves within 7 days: {per_cent(float(score['p_after_7d']))}."
        ),
    )
    return Step(title="Put together", said=said, keys=("calibration.odds",))


def _spanned(score: Mapping[Hashable, Any], name: str) -> str:
    p, low, high = (per_cent(float(score[f"{name}{end}"])) for end in ("", "_low", "_high"))
    return f"{p} ({low} to {high})"


def _after_the_swarm(
    walk: Walk, swarmed_on: date, score: Mapping[Hashable, Any], evidence: Evidence
) -> Step:
    due = FollowUp.after(swarmed_on, evidence.group("afterswarm"))
    said = (
        (
            f"A prime swarm left on {day_words(swarmed_on)}{_ago(walk.on, swarmed_on)}. Until the "
            "colony has a new queen no other prime swarm is reckoned with."
        ),
        (
            "An afterswarm with a young queen may leave within 7 days: "
            f"{per_cent(float(score['p_after_7d']))}."
        ),
        (
            f"Days to leave one cell: {due.thin_from.isoformat()} to {due.thin_until.isoformat()}. "
            f"Eggs of the new queen: {due.eggs_from.isoformat()} to {due.eggs_until.isoformat()}."
        ),
    )
    names = ("chance_first", "day_middle", "first_day", "last_day", "thin_from_day")
    more = ("thin_until_day", "eggs_from_day", "eggs_until_day")
    keys = tuple(f"afterswarm.{k}" for k in (*names, *more))
    return Step(title="After the swarm", said=said, keys=keys)


def _reasons(score: Mapping[Hashable, Any]) -> Step:
    reasons = [r for r in _text(score["because"]).split("; ") if r]
    said = (
        (
            "Each thing was set to that of a usual colony in turn; how far the chance moved by "
            "that is its share:"
        ),
        *(f"- {reason}" for reason in reasons),
    )
    return Step(title="What moved it most", said=said)


def _to_do(score: Mapping[Hashable, Any], evidence: Evidence) -> Step:
    still = (1 - float(score["p_gone"])) * float(score["p_7d"])
    after = float(score["p_after_7d"])
    lines = ", ".join(
        f"{word} from {per_cent(evidence.value(f'advice.{key}'))}" for word, key in _LINES
    )
    said = [
        (
            f"A prime swarm still to come within 7 days: {per_cent(still)}; an afterswarm: "
            f"{per_cent(after)}. The larger is held against the lines: {lines}. An open question, "
            "such as cells at the last look, is never below look soon."
        ),
        f"Level: {_text(score['level']).replace('-', ' ')}.",
    ]
    advice = _text(score["advice"])
    if advice:
        by = _by(score["do_by"])
        said.append(f"Do{by}: {advice}.")
    if _by(score["look_by"]):
        said.append(f"Open it next{_by(score['look_by'])}.")
    keys = (*(f"advice.{key}" for _, key in _LINES), "advice.tolerance")
    return Step(title="What to do", said=tuple(said), keys=keys)


def _text(cell: object) -> str:
    return "" if pd.isna(cell) else str(cell)  # type: ignore[call-overload]  # a scalar cell


def _by(cell: object) -> str:
    text = _text(cell)
    return f" by {day_words(pd.Timestamp(text).date())}" if text else ""
