"""Read the keeper's files as tables of text: which table each is, and what its cells say."""

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace
from difflib import get_close_matches
from pathlib import Path

from swarmwatch.errors import Problem, RecordsError, UsageError
from swarmwatch.records.cells import Grid
from swarmwatch.records.csv_files import read_csv
from swarmwatch.records.drawings import read_geojson, read_geopackage
from swarmwatch.records.parquet_files import read_parquet
from swarmwatch.records.spreadsheets import read_xlsx
from swarmwatch.records.table_read import TableRead, as_table
from swarmwatch.tables import INPUTS

_READERS = {
    ".csv": read_csv,
    ".txt": read_csv,
    ".tsv": read_csv,
    ".xlsx": read_xlsx,
    ".xlsm": read_xlsx,
    ".parquet": read_parquet,
    ".geojson": read_geojson,
    ".json": read_geojson,
    ".gpkg": read_geopackage,
}
_NAMES = tuple(table.name for table in INPUTS)


def read_files(paths: Iterable[Path], *, table: str | None = None) -> list[TableRead]:
    """Read every table in files and folders.

    Parameters
    ----------
    paths
        CSV, XLSX, Parquet, GeoJSON and GeoPackage files; of a folder, every file that is named as
        a table.
    table
        The table that they are, whatever their names.

    Returns
    -------
    The tables in the order of the files.

    Raises
    ------
    UsageError
        A file isn't there, is of another kind, or no table has its name.
    RecordsError
        A file can't be read at all.
    """
    if table is not None and table not in _NAMES:
        raise UsageError(_unknown_table("--table", table))
    faults: list[str] = []
    problems: list[Problem] = []
    reads: list[TableRead] = []
    for path in paths:
        try:
            for file in _spread_out(path):
                reads += _read_file(file, table)
        except OSError as error:
            faults.append(f"{path}: {error.strerror or error}. Check that you may read it.")
        except UsageError as error:
            faults.append(str(error))
        except RecordsError as error:
            problems += error.problems
    if faults:
        raise UsageError("\n".join([*faults, *map(str, problems)]))
    if problems:
        raise RecordsError(problems)
    return _told_apart(reads)


def table_named(name: str) -> str | None:
    """Return the table that a file or sheet is named after, any case, a copy's number allowed."""
    plain = re.sub(r"[\s_-]*\(?\d[\d\s_-]*\)?$", "", name.strip().lower())
    plain = re.sub(r"[\s-]+", "_", plain.strip())
    return plain if plain in _NAMES else None


def _told_apart(reads: list[TableRead]) -> list[TableRead]:
    """Tell tables apart whose files have the same name in different folders."""
    seen: Counter[str] = Counter()
    apart = []
    for read in reads:
        seen[read.source] += 1
        nth = seen[read.source]
        source = read.source if nth == 1 else f"{read.source} ({nth})"
        problems = tuple(replace(p, table=source) for p in read.problems)
        apart.append(replace(read, source=source, problems=problems))
    return apart


def _spread_out(path: Path) -> list[Path]:
    """Return a file as it is, of a folder the files that are named as tables."""
    if not path.is_dir():
        return [path]
    known = [
        file
        for file in sorted(path.iterdir())
        if file.suffix.lower() in _READERS and table_named(file.stem) is not None
    ]
    if not known:
        message = f"{path}: no file in this folder is named as a table. {_TABLES}"
        raise UsageError(message)
    return known


def _read_file(path: Path, table: str | None) -> list[TableRead]:
    reader = _READERS.get(path.suffix.lower())
    if not path.exists():
        near = get_close_matches(path.name, _beside(path), n=1)
        hint = f"Did you mean {near[0]}?" if near else "Check the name and the folder."
        message = f"{path}: there is no such file. {hint}"
        raise UsageError(message)
    if reader is None:
        message = (
            f"{path.name}: files of this kind can't be read. "
            "Save it as CSV (.csv) or Excel workbook (.xlsx); keep_out as GeoJSON or GeoPackage."
        )
        raise UsageError(message)
    return _named(path, reader(path), table)


def _beside(path: Path) -> list[str]:
    return [f.name for f in path.parent.iterdir()] if path.parent.is_dir() else []


def _named(path: Path, grids: Sequence[Grid], table: str | None) -> list[TableRead]:
    """Give each sheet its table; a file with one sheet may also carry the name itself."""
    if len(grids) == 1:
        grid = grids[0]
        known = table or table_named(grid.name) or table_named(path.stem)
        if known is None:
            raise UsageError(_unknown_table(path.name, path.stem))
        return [as_table(grid, known, path.name)]
    if table is not None:
        message = (
            f"{path.name}: it has {len(grids)} sheets, so --table can't say which is meant. "
            "Name the sheets as the tables."
        )
        raise UsageError(message)
    named = [(grid, table_named(grid.name)) for grid in grids]
    if not any(known for _, known in named):
        message = f"{path.name}: no sheet is named as a table. {_TABLES}"
        raise UsageError(message)
    others = [grid.name for grid, known in named if known is None]
    remarks = [f"{path.name}: sheet {n!r} is no table and was left out." for n in others]
    reads = [as_table(g, k, f"{path.name}, {g.name}") for g, k in named if k is not None]
    reads[0] = replace(reads[0], remarks=(*remarks, *reads[0].remarks))
    return reads


_TABLES = f"The tables are {', '.join(_NAMES)}."


def _unknown_table(place: str, name: str) -> str:
    near = get_close_matches(re.sub(r"[\s-]+", "_", name.lower()), _NAMES, n=1, cutoff=0.5)
    if near:
        hint = f"Did you mean {near[0]}? Rename the file, or give --table {near[0]}."
    else:
        hint = f"Rename the file, or give --table with one of {', '.join(_NAMES)}."
    if place == "--table":
        hint = f"Did you mean {near[0]}?" if near else _TABLES
    return f"{place}: no table is called {name!r}. {hint}"
