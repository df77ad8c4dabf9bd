"""The SQL tables that hold the records: one for each input table, made from its contract."""

from datetime import UTC, datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy.types import TypeEngine

from swarmwatch.tables import INPUTS, OUTPUTS, Column, Table

# the migration that makes exactly these tables
VERSION = "0002"

_NAMES = {
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_name)s",
    "pk": "pk_%(table_name)s",
}


class Instant(sa.types.TypeDecorator[datetime]):
    """A moment in UTC; comes back with its zone from databases that keep none, too."""

    impl = sa.DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: sa.Dialect) -> datetime | None:
        """Turn a moment of any zone into UTC."""
        if value is None:
            return None
        if value.tzinfo is None:
            message = f"{value} has no time zone"
            raise ValueError(message)
        utc = value.astimezone(UTC)
        return utc.replace(tzinfo=None) if dialect.name == "sqlite" else utc

    def process_result_value(self, value: datetime | None, dialect: sa.Dialect) -> datetime | None:  # noqa: ARG002
        """Give a moment its zone back."""
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


_TYPES: dict[str, TypeEngine[Any]] = {
    "text": sa.Text(),
    "word": sa.Text(),
    "number": sa.Double(),
    "count": sa.BigInteger(),
    "date": sa.Date(),
    "instant": Instant(),
    "month-day": sa.Text(),
}
metadata = sa.MetaData(naming_convention=_NAMES)


def _checks(table: Table) -> list[sa.CheckConstraint]:
    checks = []
    for column in table.columns:
        cell: sa.ColumnClause[object] = sa.column(column.name)
        rules: list[sa.ColumnElement[bool]] = []
        if column.low is not None:
            rules.append(cell >= sa.literal_column(f"{column.low:g}"))
        if column.high is not None:
            rules.append(cell <= sa.literal_column(f"{column.high:g}"))
        if column.words:
            rules.append(cell.in_([sa.literal_column(f"'{w}'") for w in column.words]))
        if rules:
            checks.append(sa.CheckConstraint(sa.and_(*rules), name=column.name))
    return checks


def _column(column: Column, table: Table, parents: frozenset[str]) -> sa.Column[object]:
    links = []
    # a hive type may be a built-in one, which no table holds
    if column.refers_to in parents and column.refers_to != "hives":
        links.append(sa.ForeignKey(f"{column.refers_to}.{column.name}"))
    needed = column.required or (column.name == "visit" and column.name in table.key)
    return sa.Column(column.name, _TYPES[column.kind], *links, nullable=not needed)


def _sql_table(table: Table, parents: frozenset[str]) -> sa.Table:
    columns = [_column(c, table, parents) for c in table.columns]
    made = sa.Table(table.name, metadata, *columns, *_checks(table))
    key = [made.c[name] for name in table.key]
    if any(c.nullable for c in key):
        # blanks differ from one another in a plain unique key, so they are compared as ''
        parts = [sa.func.coalesce(c, sa.literal_column("''")) if c.nullable else c for c in key]
        sa.Index(f"uq_{table.name}", *parts, unique=True)
    else:
        made.append_constraint(sa.PrimaryKeyConstraint(*key))
    return made


inputs: dict[str, sa.Table] = {}
for _table in INPUTS:
    inputs[_table.name] = _sql_table(_table, frozenset(inputs))

alerts = _sql_table(next(t for t in OUTPUTS if t.name == "alerts"), frozenset())

alert_levels = sa.Table(
    "alert_levels",
    metadata,
    sa.Column("subject", sa.Text, primary_key=True),
    sa.Column("level", sa.Text, nullable=False),
    sa.Column("on_day", sa.Text, nullable=False),
)
settings = sa.Table(
    "settings",
    metadata,
    sa.Column("name", sa.Text, primary_key=True),
    sa.Column("value", sa.Text, nullable=False),
)
corrections = sa.Table(
    "corrections",
    metadata,
    sa.Column("correction", sa.Integer, primary_key=True),
    sa.Column("table", sa.Text, nullable=False),
    sa.Column("key", sa.Text, nullable=False),
    sa.Column("earlier", sa.Text, nullable=False),
    sa.Column("at", Instant, nullable=False),
    sa.Column("by", sa.Text, nullable=False),
)
# rows that were not there before, or, where `column` is named, extra notes
additions = sa.Table(
    "additions",
    metadata,
    sa.Column("addition", sa.Integer, primary_key=True),
    sa.Column("table", sa.Text, nullable=False),
    sa.Column("key", sa.Text, nullable=False),
    sa.Column("column", sa.Text),
    sa.Column("at", Instant, nullable=False),
    sa.Column("by", sa.Text, nullable=False),
)
extra_notes = sa.Table(
    "extra_notes",
    metadata,
    sa.Column("table", sa.Text, primary_key=True),
    sa.Column("key", sa.Text, primary_key=True),
    sa.Column("column", sa.Text, primary_key=True),
    sa.Column("value", sa.Text),
)
imports = sa.Table(
    "imports",
    metadata,
    sa.Column("import", sa.Integer, primary_key=True),
    sa.Column("at", Instant, nullable=False),
    sa.Column("by", sa.Text, nullable=False),
    sa.Column("table", sa.Text, nullable=False),
    sa.Column("new", sa.BigInteger, nullable=False),
    sa.Column("corrected", sa.BigInteger, nullable=False),
    sa.Column("unchanged", sa.BigInteger, nullable=False),
)
# which rows of `imports` were taken back, and when
undone = sa.Table(
    "undone",
    metadata,
    sa.Column("import", sa.Integer, primary_key=True),
    sa.Column("at", Instant, nullable=False),
)
