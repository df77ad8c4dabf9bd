"""The tables that the tool gives back."""

from swarmwatch.tables.inputs import LATITUDE, LONGITUDE
from swarmwatch.tables.model import Column, Table, count, day, number, text, word, yes_no

LEVELS = ("quiet", "look-soon", "act", "today")


def _chance(name: str, meaning: str) -> Column:
    return number(name, meaning, high=1)


SCORES = Table(
    name="scores",
    meaning="Each colony's chance of swarming and what to do",
    key=("colony",),
    columns=(
        text("colony", "Colony", required=True),
        text("apiary", "Yard", required=True),
        day("on", "The evening the score speaks of", required=True),
        _chance("p_7d", "Chance of a prime swarm in the next 7 days, if it has not left"),
        _chance("p_7d_low", "10th percentile"),
        _chance("p_7d_high", "90th percentile"),
        _chance("p_14d", "Chance of a prime swarm in the next 14 days, if it has not left"),
        _chance("p_14d_low", "10th percentile"),
        _chance("p_14d_high", "90th percentile"),
        _chance("p_gone", "Chance that the prime swarm has left already"),
        _chance("p_after_7d", "Chance of an afterswarm in the next 7 days"),
        day("likely_date", "Likeliest day of the prime swarm, if one comes"),
        word("level", LEVELS, "How urgent"),
        text("because", "The reasons, joined by '; '"),
        text("advice", "What to do"),
        day("do_by", "Last day for it"),
        day("look_by", "Last day to open the hive next; blank out of season"),
        day("inspected_on", "Last inspection used"),
        number("inspection_age_d", "Days since then"),
        text("weather_kind", "What weather the score rests on"),
    ),
)
PLAN = Table(
    name="plan",
    meaning="The chosen bait-box sites, best first",
    key=("rank",),
    columns=(
        count("rank", "1 is the best", required=True),
        text("site", "Site", required=True),
        text("box", "Bait box"),
        LATITUDE,
        LONGITUDE,
        number("height_m", "Height to hang it at"),
        number("catches_low", "10th percentile"),
        number("catches", "Swarms expected here a season"),
        number("catches_high", "90th percentile"),
        _chance("p_any", "Chance of at least one"),
        number("gain", "What this box adds to the plan"),
        number("quality", "How attractive, a natural hole being 1"),
        text("because", "The reasons, joined by '; '"),
        text("nearest_source", "Nearest source of swarms"),
        number("distance_m", "Distance to it"),
        text("warnings", "What to mind, joined by '; '"),
        yes_no("robust", "It stays in the plan under the other assumptions"),
    ),
)
FORECAST = Table(
    name="forecast",
    meaning="Catches and swarms expected by date",
    key=("on",),
    columns=(
        day("on", "By this evening", required=True),
        number("catches_own", "Own swarms caught again"),
        number("catches_other", "Swarms of others caught"),
        number("catches_low", "10th percentile"),
        number("catches", "Catches"),
        number("catches_high", "90th percentile"),
        _chance("p_one_or_more", "Chance of at least one"),
        number("swarms_own", "Swarms of own colonies"),
        number("alive_in_autumn", "Catches likely alive in autumn"),
        number("hives_to_have_ready", "Empty hives to have ready"),
    ),
)
ALERTS = Table(
    name="alerts",
    meaning="What crossed a line and who was told",
    key=("alert",),
    columns=(
        text("alert", "Its key: one alert, one key", required=True),
        text("colony", "Colony"),
        text("box", "Bait box"),
        Column(name="raised_at", kind="instant", meaning="When it was raised, UTC"),
        word("level", LEVELS, "How urgent"),
        text("text", "What is said"),
        text("channel", "Where it goes"),
        Column(name="sent_at", kind="instant", meaning="When it was sent, UTC"),
        count("tries", "How often it was tried"),
        text("error", "The last fault"),
    ),
)

OUTPUTS = (SCORES, PLAN, FORECAST, ALERTS)
