"""The tables that the keeper brings."""

from swarmwatch.tables.model import Column, Table, count, day, number, text, word, yes_no

LATITUDE = number("latitude", "WGS 84, degrees north", required=True, low=-90, high=90)
LONGITUDE = number("longitude", "WGS 84, degrees east", required=True, low=-180, high=180)
NOTE = text("note", "Anything else")
ORIGINS = ("package", "nucleus", "swarm", "split", "unknown")
SOME = ("none", "some", "many")
EVENTS = (
    "room-added",
    "combs-added",
    "split",
    "queen-cells-removed",
    "queen-cells-thinned",
    "queen-removed",
    "queen-lost",
    "requeened",
    "brood-removed",
    "queen-confined",
    "excluder-on",
    "excluder-off",
    "honey-removed",
    "fed",
    "treated",
    "swarmed",
    "afterswarmed",
    "swarm-returned",
    "swarm-hived",
    "superseded",
    "united",
    "absconded",
    "died",
    "moved",
)

APIARIES = Table(
    name="apiaries",
    meaning="The yards",
    key=("apiary",),
    columns=(
        text("apiary", "Name of the yard", required=True),
        LATITUDE,
        LONGITUDE,
        number("elevation_m", "Height above the sea", low=-500, least=-450, most=5000),
        Column(
            name="season_peak",
            kind="month-day",
            meaning="Your own peak of the swarm season, MM-DD",
        ),
        yes_no("africanized_area", "Africanized bees live here"),
        yes_no("used_comb_allowed", "Local law allows used comb in a bait box"),
        text("registration", "Registration of the yard"),
        NOTE,
    ),
)
COLONIES = Table(
    name="colonies",
    meaning="The colonies and what they live in",
    key=("colony",),
    columns=(
        text("colony", "Name of the colony", required=True),
        text("apiary", "Yard it stands in", required=True, refers_to="apiaries"),
        text("hive_type", "Type of its brood boxes", required=True, refers_to="hives"),
        text("super_type", "Type of its honey boxes", refers_to="hives"),
        number("combs_max", "Combs or bars that the brood boxes can hold", most=300),
        count("queen_year", "Year in which the queen emerged", least=1990, most=2100),
        yes_no("queen_clipped", "The queen's wing is clipped"),
        word("origin", ORIGINS, "Where the colony came from"),
        day("started", "Day on which it was hived"),
        yes_no("swarmed_last_year", "It swarmed last year"),
        NOTE,
    ),
)
HIVES = Table(
    name="hives",
    meaning="Hive types with the keeper's own measures",
    key=("hive_type",),
    columns=(
        text("hive_type", "A name of your own", required=True),
        number("comb_length_mm", "Comb length, at the top", least=100, most=1000),
        number("comb_bottom_mm", "Comb length at the bottom, if it tapers", least=0, most=1000),
        number("comb_height_mm", "Comb height", least=50, most=1000),
        number("combs_a_box", "Combs that one box holds", most=300),
        number("volume_l", "Inner volume of one box", most=2000),
        yes_no("frames", "The combs hang in frames"),
    ),
)
INSPECTIONS = Table(
    name="inspections",
    meaning="What was seen in a hive",
    key=("colony", "date", "visit"),
    columns=(
        text("colony", "Colony opened", required=True, refers_to="colonies"),
        day("date", "Day it was opened", required=True),
        count("visit", "1 for the day's first inspection, 2 for the second", low=1, most=9),
        number("combs", "Drawn combs in the brood boxes, or drawn bars in use", most=300),
        number("combs_foundation", "Foundation, or empty bars inside the follower board", most=300),
        number("supers", "Honey boxes on", most=20),
        number("combs_bees", "Combs covered with bees in the whole hive", most=300),
        word("bees_how", ("seams", "packed", "loose"), "How the bees were counted"),
        number("combs_brood", "Combs with brood", most=300),
        number("combs_brood_capped", "Of them capped", most=300),
        number("combs_drone", "Of them drone", most=300),
        number("combs_honey", "Combs of honey", most=300),
        number("combs_empty", "Drawn combs with room to lay", most=300),
        number("combs_looked", "Brood combs actually viewed", most=300),
        word("nectar_in_brood", ("none", "some", "heavy"), "Nectar where brood should be"),
        yes_no("eggs_seen", "Worker eggs were seen"),
        yes_no("queen_seen", "The queen was seen"),
        count("queen_cups", "Empty cups: no egg, no larva, no jelly", most=300),
        count("queen_cells_egg", "Queen cells with an egg", most=300),
        count("queen_cells_larva", "Queen cells with a larva", most=300),
        count("queen_cells_capped", "Capped queen cells", most=300),
        count("queen_cells_emerged", "Queen cells open at the tip, queen out", most=300),
        count("queen_cells_torn", "Queen cells opened at the side by bees", most=300),
        word(
            "oldest_queen_cell",
            ("egg", "small-larva", "large-larva", "capped", "ripe", "emerged"),
            "Oldest stage seen in a queen cell",
        ),
        word("queen_cell_place", ("edge", "face", "both"), "Where on the comb the cells are"),
        yes_no("piping", "Queens were heard piping"),
        word("bees_outside", SOME, "Bees hanging outside"),
        word("drones", SOME, "Drones"),
        word("brood_health", ("normal", "unsure", "suspect"), "How the brood looks"),
        yes_no("comb_straight", "Combs are straight"),
        NOTE,
    ),
)
EVENTS_TABLE = Table(
    name="events",
    meaning="What was done or happened",
    key=("colony", "date", "event", "visit"),
    columns=(
        text("colony", "Colony", required=True, refers_to="colonies"),
        day("date", "Day, or last day of the span", required=True),
        day("date_from", "First day of the span, where only that is known"),
        word("event", EVENTS, "What", required=True),
        count("visit", "2 for the same event a second time that day", low=1, most=9),
        number("amount", "Combs or boxes; for a split the share of bees that left", most=300),
        word("where", ("in-nest", "nest-edge", "far-end", "above", "below"), "Where in the hive"),
        word("queen_went", ("stayed", "moved", "unknown"), "Where the queen is after a split"),
        word("queen_kind", ("mated", "virgin", "cell"), "Kind of queen given"),
        count("cells_left", "Queen cells left on purpose", most=300),
        text("other_colony", "The other colony of a split or union"),
        word("how_known", ("seen", "inferred", "guess"), "How it is known"),
        NOTE,
    ),
)
OUTCOMES = Table(
    name="outcomes",
    meaning="How a season ended for a colony",
    key=("colony", "season"),
    columns=(
        text("colony", "Colony", required=True, refers_to="colonies"),
        count("season", "Year", required=True, least=1950, most=2100),
        word(
            "outcome",
            ("no-swarm", "swarmed", "superseded", "treated", "died", "unknown"),
            "How it ended",
            required=True,
        ),
        day("date", "Day, or last day of the span"),
        day("date_from", "First day of the span"),
        NOTE,
    ),
)
WEATHER = Table(
    name="weather",
    meaning="Daily weather",
    key=("apiary", "date", "provider", "kind"),
    columns=(
        text("apiary", "Yard; blank serves every yard", refers_to="apiaries"),
        day("date", "The yard's local day", required=True),
        number("temp_max_c", "Highest temperature", required=True, low=None, least=-60, most=60),
        number("temp_min_c", "Lowest temperature", required=True, low=None, least=-60, most=60),
        number("rain_mm", "Rain and snow water of the day", most=500),
        number("wind_max_m_s", "Greatest mean wind at 10 m, no gust", most=75),
        number("sunshine_h", "Hours of sunshine", high=24),
        word("kind", ("observed", "forecast", "normal"), "Kind of row"),
        text("provider", "Who measured or forecast it"),
        Column(name="fetched_at", kind="instant", meaning="When it was fetched, UTC"),
    ),
)
SOURCES = Table(
    name="sources",
    meaning="Where swarms come from",
    key=("source",),
    columns=(
        text("source", "Name", required=True),
        LATITUDE,
        LONGITUDE,
        number("swarms_expected", "Swarms a season", required=True),
        number("swarms_low", "10th percentile"),
        number("swarms_high", "90th percentile"),
    ),
)
SITES = Table(
    name="sites",
    meaning="Places where a bait box may hang",
    key=("site",),
    columns=(
        text("site", "Name", required=True),
        LATITUDE,
        LONGITUDE,
        number("height_m", "Height of the box above the ground", most=30),
        number("facing_deg", "Compass direction that the entrance faces", high=360),
        word("shade", ("none", "part", "full"), "Shade"),
        word("kind", ("tree", "building", "post", "stand", "roof"), "What it hangs on"),
        word("permission", ("yes", "asked", "no"), "The owner's word"),
        text("owner", "Whose ground it is"),
        yes_no("used_before", "A box hung here before"),
        count("catches_before", "Swarms caught here before", most=300),
        count("seasons_before", "Seasons a box hung here", most=100),
        NOTE,
    ),
)
BOXES = Table(
    name="boxes",
    meaning="The bait boxes",
    key=("box",),
    columns=(
        text("box", "Name", required=True),
        number("volume_l", "Inner volume", most=2000),
        number("entrance_cm2", "Area of the entrance", most=1000),
        word("entrance_place", ("bottom", "middle", "top"), "Where the entrance is"),
        number("old_combs", "Old brood combs inside", most=20),
        yes_no("comb_source_inspected", "The comb is from an inspected, healthy colony"),
        NOTE,
    ),
)
HANGINGS = Table(
    name="hangings",
    meaning="Which box hangs where and since when",
    key=("box", "site", "hung_on"),
    columns=(
        text("box", "Bait box", required=True, refers_to="boxes"),
        text("site", "Site", required=True, refers_to="sites"),
        day("hung_on", "Day it was hung", required=True),
        day("taken_on", "Day it was taken down"),
        word("lure", ("none", "nasonov-lure", "lemongrass-oil", "other"), "Lure"),
        day("lure_on", "Day the lure was renewed"),
    ),
)
CHECKS = Table(
    name="checks",
    meaning="What was seen at a bait box",
    key=("box", "date"),
    columns=(
        text("box", "Bait box", required=True, refers_to="boxes"),
        day("date", "Day", required=True),
        count("scouts", "Scouts at once", most=1000),
        yes_no("pollen_in", "Bees carry pollen in"),
        yes_no("occupied", "A swarm lives there"),
        word(
            "tenant", ("none", "ants", "wasps", "wax-moth", "bird", "bat", "other"), "Other tenant"
        ),
        NOTE,
    ),
)
CATCHES = Table(
    name="catches",
    meaning="The swarms caught",
    key=("box", "site", "caught_on"),
    columns=(
        text("box", "Bait box", required=True, refers_to="boxes"),
        text("site", "Site", required=True, refers_to="sites"),
        day("caught_on", "Day", required=True),
        word("kind", ("prime", "afterswarm", "unknown"), "Kind of swarm"),
        text("from_colony", "Colony it came from"),
        day("moved_on", "Day it was moved"),
        text("to_colony", "Colony it became"),
        NOTE,
    ),
)
KEEP_OUT = Table(
    name="keep_out",
    meaning="Ground where no box may hang",
    key=("kind", "geometry"),
    columns=(
        word(
            "kind",
            (
                "power-line",
                "path",
                "play-area",
                "road",
                "water",
                "no-permission",
                "disease-zone",
            ),
            "Why",
            required=True,
        ),
        text("geometry", "GeoJSON geometry in WGS 84", required=True),
        number("buffer_m", "Distance to keep; blank takes the usual one", most=10000),
    ),
)

INPUTS = (
    APIARIES,
    HIVES,
    COLONIES,
    INSPECTIONS,
    EVENTS_TABLE,
    OUTCOMES,
    WEATHER,
    SOURCES,
    SITES,
    BOXES,
    HANGINGS,
    CHECKS,
    CATCHES,
    KEEP_OUT,
)
