"""The first schema.

Written out, not made from the contract of today: what a store of this version holds never changes.
"""

from typing import Any

import sqlalchemy as sa
from alembic import op
from sqlalchemy.types import TypeEngine

revision = "0001"
down_revision = None


def _column(name: str, kind: type[TypeEngine[Any]], *, needed: bool) -> sa.Column[Any]:
    return sa.Column(name, kind(), nullable=not needed)


def _texts(*names: str, needed: bool = False) -> list[sa.Column[Any]]:
    return [_column(n, sa.Text, needed=needed) for n in names]


def _numbers(*names: str, needed: bool = False) -> list[sa.Column[Any]]:
    return [_column(n, sa.Double, needed=needed) for n in names]


def _counts(*names: str, needed: bool = False) -> list[sa.Column[Any]]:
    return [_column(n, sa.BigInteger, needed=needed) for n in names]


def _days(*names: str, needed: bool = False) -> list[sa.Column[Any]]:
    return [_column(n, sa.Date, needed=needed) for n in names]


def _instants(*names: str, needed: bool = False) -> list[sa.Column[Any]]:
    return [sa.Column(n, sa.DateTime(timezone=True), nullable=not needed) for n in names]


def _check(table: str, column: str, rule: str) -> sa.CheckConstraint:
    return sa.CheckConstraint(f'"{column}" {rule}', name=op.f(f"ck_{table}_{column}"))


def _not_negative(table: str, *columns: str) -> list[sa.CheckConstraint]:
    return [_check(table, c, ">= 0") for c in columns]


def _words(table: str, column: str, words: str) -> sa.CheckConstraint:
    return _check(table, column, f"IN ({', '.join(map(repr, words.split()))})")


def _between(table: str, column: str, low: int, high: int) -> sa.CheckConstraint:
    return _check(table, column, f'>= {low} AND "{column}" <= {high}')


def _yes_no(table: str, *columns: str) -> list[sa.CheckConstraint]:
    return [_words(table, c, "yes no") for c in columns]


def _link(table: str, column: str, parent: str) -> sa.ForeignKeyConstraint:
    name = op.f(f"fk_{table}_{column}")
    return sa.ForeignKeyConstraint([column], [f"{parent}.{column}"], name=name)


def _key(table: str, *columns: str) -> sa.PrimaryKeyConstraint:
    return sa.PrimaryKeyConstraint(*columns, name=f"pk_{table}")


def upgrade() -> None:
    """Make every table."""
    _yards_and_colonies()
    _inspections()
    _events_and_outcomes()
    _weather()
    _sites()
    _boxes()
    _catches()
    _alerts()
    _settings_and_history()


def _yards_and_colonies() -> None:
    op.create_table(
        "apiaries",
        *_texts("apiary", needed=True),
        *_numbers("latitude", "longitude", needed=True),
        *_numbers("elevation_m"),
        *_texts("season_peak", "africanized_area", "used_comb_allowed", "registration", "note"),
        *_yes_no("apiaries", "africanized_area", "used_comb_allowed"),
        _between("apiaries", "latitude", -90, 90),
        _between("apiaries", "longitude", -180, 180),
        _check("apiaries", "elevation_m", ">= -500"),
        _key("apiaries", "apiary"),
    )
    op.create_table(
        "hives",
        *_texts("hive_type", needed=True),
        *_numbers("comb_length_mm", "comb_bottom_mm", "comb_height_mm", "combs_a_box", "volume_l"),
        *_texts("frames"),
        *_not_negative(
            "hives", "comb_length_mm", "comb_bottom_mm", "comb_height_mm", "combs_a_box", "volume_l"
        ),
        *_yes_no("hives", "frames"),
        _key("hives", "hive_type"),
    )
    op.create_table(
        "colonies",
        *_texts("colony", "apiary", "hive_type", needed=True),
        *_texts("super_type"),
        *_numbers("combs_max"),
        *_counts("queen_year"),
        *_texts("queen_clipped", "origin"),
        *_days("started"),
        *_texts("swarmed_last_year", "note"),
        *_not_negative("colonies", "combs_max", "queen_year"),
        *_yes_no("colonies", "queen_clipped", "swarmed_last_year"),
        _words("colonies", "origin", "package nucleus swarm split unknown"),
        _link("colonies", "apiary", "apiaries"),
        _key("colonies", "colony"),
    )


def _inspections() -> None:
    op.create_table(
        "inspections",
        *_texts("colony", needed=True),
        *_days("date", needed=True),
        *_counts("visit", needed=True),
        *_numbers("combs", "combs_foundation", "supers", "combs_bees"),
        *_texts("bees_how"),
        *_numbers(
            "combs_brood",
            "combs_brood_capped",
            "combs_drone",
            "combs_honey",
            "combs_empty",
            "combs_looked",
        ),
        *_texts("nectar_in_brood", "eggs_seen", "queen_seen"),
        *_counts(
            "queen_cups",
            "queen_cells_egg",
            "queen_cells_larva",
            "queen_cells_capped",
            "queen_cells_emerged",
            "queen_cells_torn",
        ),
        *_texts(
            "oldest_queen_cell",
            "queen_cell_place",
            "piping",
            "bees_outside",
            "drones",
            "brood_health",
            "comb_straight",
            "note",
        ),
        *_not_negative(
            "inspections",
            "combs",
            "combs_foundation",
            "supers",
            "combs_bees",
            "combs_brood",
            "combs_brood_capped",
            "combs_drone",
            "combs_honey",
            "combs_empty",
            "combs_looked",
            "queen_cups",
            "queen_cells_egg",
            "queen_cells_larva",
            "queen_cells_capped",
            "queen_cells_emerged",
            "queen_cells_torn",
        ),
        *_yes_no("inspections", "eggs_seen", "queen_seen", "piping", "comb_straight"),
        _check("inspections", "visit", ">= 1"),
        _words("inspections", "bees_how", "seams packed loose"),
        _words("inspections", "nectar_in_brood", "none some heavy"),
        _words(
            "inspections", "oldest_queen_cell", "egg small-larva large-larva capped ripe emerged"
        ),
        _words("inspections", "queen_cell_place", "edge face both"),
        _words("inspections", "bees_outside", "none some many"),
        _words("inspections", "drones", "none some many"),
        _words("inspections", "brood_health", "normal unsure suspect"),
        _link("inspections", "colony", "colonies"),
        _key("inspections", "colony", "date", "visit"),
    )


def _events_and_outcomes() -> None:
    op.create_table(
        "events",
        *_texts("colony", needed=True),
        *_days("date", needed=True),
        *_days("date_from"),
        *_texts("event", needed=True),
        *_counts("visit", needed=True),
        *_numbers("amount"),
        *_texts("where", "queen_went", "queen_kind"),
        *_counts("cells_left"),
        *_texts("other_colony", "how_known", "note"),
        *_not_negative("events", "amount", "cells_left"),
        _words(
            "events",
            "event",
            "room-added combs-added split queen-cells-removed queen-cells-thinned "
            "queen-removed queen-lost requeened brood-removed queen-confined "
            "excluder-on excluder-off honey-removed fed treated swarmed "
            "afterswarmed swarm-returned swarm-hived superseded united absconded "
            "died moved",
        ),
        _check("events", "visit", ">= 1"),
        _words("events", "where", "in-nest nest-edge far-end above below"),
        _words("events", "queen_went", "stayed moved unknown"),
        _words("events", "queen_kind", "mated virgin cell"),
        _words("events", "how_known", "seen inferred guess"),
        _link("events", "colony", "colonies"),
        _key("events", "colony", "date", "event", "visit"),
    )
    op.create_table(
        "outcomes",
        *_texts("colony", needed=True),
        *_counts("season", needed=True),
        *_texts("outcome", needed=True),
        *_days("date", "date_from"),
        *_texts("note"),
        *_not_negative("outcomes", "season"),
        _words("outcomes", "outcome", "no-swarm swarmed superseded treated died unknown"),
        _link("outcomes", "colony", "colonies"),
        _key("outcomes", "colony", "season"),
    )


def _weather() -> None:
    op.create_table(
        "weather",
        *_texts("apiary"),
        *_days("date", needed=True),
        *_numbers("temp_max_c", "temp_min_c", needed=True),
        *_numbers("rain_mm", "wind_max_m_s", "sunshine_h"),
        *_texts("kind", "provider"),
        *_instants("fetched_at"),
        *_not_negative("weather", "rain_mm", "wind_max_m_s"),
        _between("weather", "sunshine_h", 0, 24),
        _words("weather", "kind", "observed forecast normal"),
        _link("weather", "apiary", "apiaries"),
    )
    blank = "coalesce({}, '')"
    key = [sa.text(blank.format(c)) for c in ("apiary", "provider", "kind")]
    op.create_index("uq_weather", "weather", [key[0], "date", *key[1:]], unique=True)


def _sites() -> None:
    op.create_table(
        "sources",
        *_texts("source", needed=True),
        *_numbers("latitude", "longitude", "swarms_expected", needed=True),
        *_numbers("swarms_low", "swarms_high"),
        *_not_negative("sources", "swarms_expected", "swarms_low", "swarms_high"),
        _between("sources", "latitude", -90, 90),
        _between("sources", "longitude", -180, 180),
        _key("sources", "source"),
    )
    op.create_table(
        "sites",
        *_texts("site", needed=True),
        *_numbers("latitude", "longitude", needed=True),
        *_numbers("height_m", "facing_deg"),
        *_texts("shade", "kind", "permission", "owner", "used_before"),
        *_counts("catches_before", "seasons_before"),
        *_texts("note"),
        *_not_negative("sites", "height_m", "catches_before", "seasons_before"),
        *_yes_no("sites", "used_before"),
        _between("sites", "latitude", -90, 90),
        _between("sites", "longitude", -180, 180),
        _between("sites", "facing_deg", 0, 360),
        _words("sites", "shade", "none part full"),
        _words("sites", "kind", "tree building post stand roof"),
        _words("sites", "permission", "yes asked no"),
        _key("sites", "site"),
    )


def _boxes() -> None:
    op.create_table(
        "boxes",
        *_texts("box", needed=True),
        *_numbers("volume_l", "entrance_cm2"),
        *_texts("entrance_place"),
        *_numbers("old_combs"),
        *_texts("comb_source_inspected", "note"),
        *_not_negative("boxes", "volume_l", "entrance_cm2", "old_combs"),
        *_yes_no("boxes", "comb_source_inspected"),
        _words("boxes", "entrance_place", "bottom middle top"),
        _key("boxes", "box"),
    )
    op.create_table(
        "hangings",
        *_texts("box", "site", needed=True),
        *_days("hung_on", needed=True),
        *_days("taken_on"),
        *_texts("lure"),
        *_days("lure_on"),
        _words("hangings", "lure", "none nasonov-lure lemongrass-oil other"),
        _link("hangings", "site", "sites"),
        _link("hangings", "box", "boxes"),
        _key("hangings", "box", "site", "hung_on"),
    )
    op.create_table(
        "checks",
        *_texts("box", needed=True),
        *_days("date", needed=True),
        *_counts("scouts"),
        *_texts("pollen_in", "occupied", "tenant", "note"),
        *_not_negative("checks", "scouts"),
        *_yes_no("checks", "pollen_in", "occupied"),
        _words("checks", "tenant", "none ants wasps wax-moth bird bat other"),
        _link("checks", "box", "boxes"),
        _key("checks", "box", "date"),
    )


def _catches() -> None:
    op.create_table(
        "catches",
        *_texts("box", "site", needed=True),
        *_days("caught_on", needed=True),
        *_texts("kind", "from_colony"),
        *_days("moved_on"),
        *_texts("to_colony", "note"),
        _words("catches", "kind", "prime afterswarm unknown"),
        _link("catches", "site", "sites"),
        _link("catches", "box", "boxes"),
        _key("catches", "box", "site", "caught_on"),
    )
    op.create_table(
        "keep_out",
        *_texts("kind", "geometry", needed=True),
        *_numbers("buffer_m"),
        *_not_negative("keep_out", "buffer_m"),
        _words(
            "keep_out", "kind", "power-line path play-area road water no-permission disease-zone"
        ),
        _key("keep_out", "kind", "geometry"),
    )


def _alerts() -> None:
    op.create_table(
        "alerts",
        *_texts("alert", needed=True),
        *_texts("colony", "box"),
        *_instants("raised_at"),
        *_texts("level", "text", "channel"),
        *_instants("sent_at"),
        *_counts("tries"),
        *_texts("error"),
        *_not_negative("alerts", "tries"),
        _words("alerts", "level", "quiet look-soon act today"),
        _key("alerts", "alert"),
    )
    op.create_table(
        "alert_levels",
        *_texts("subject", "level", "on_day", needed=True),
        _key("alert_levels", "subject"),
    )


def _settings_and_history() -> None:
    op.create_table(
        "settings",
        *_texts("name", "value", needed=True),
        _key("settings", "name"),
    )
    op.create_table(
        "corrections",
        sa.Column("correction", sa.Integer(), nullable=False),
        *_texts("table", "key", "earlier", needed=True),
        *_instants("at", needed=True),
        *_texts("by", needed=True),
        _key("corrections", "correction"),
    )
    op.create_table(
        "extra_notes",
        *_texts("table", "key", "column", needed=True),
        *_texts("value"),
        _key("extra_notes", "table", "key", "column"),
    )
    op.create_table(
        "imports",
        sa.Column("import", sa.Integer(), nullable=False),
        *_instants("at", needed=True),
        *_texts("by", "table", needed=True),
        *_counts("new", "corrected", "unchanged", needed=True),
        _key("imports", "import"),
    )
