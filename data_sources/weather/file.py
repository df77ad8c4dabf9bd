"""What did a keeper's own weather station write down?"""

import csv
import io
import math
import zipfile
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from pathlib import Path
from typing import TypeAlias

import openpyxl
import pandas as pd

from data_sources.errors import SourceMalformed, SourceUnavailable
from data_sources.weather.table import BOUNDS, listed, weather_table
from data_sources.weather.units import OURS, converter

Cells: TypeAlias = Sequence[object]
_BLANK = frozenset(("", "-", "--", "---", "na", "n/a", "nan", "null", "none"))


def read_weather_file(
    path: Path | str,
    *,
    columns: Mapping[str, str] | None = None,
    units: Mapping[str, str] | None = None,
    date_format: str = "%Y-%m-%d",
    decimal: str = ".",
    separator: str | None = None,
    sheet: str | None = None,
    provider: str = "own station",
) -> pd.DataFrame:
    """Read daily rows of a CSV or XLSX file.

    Parameters
    ----------
    path
        A ``.csv`` (or any other text) file, or a ``.xlsx`` workbook. The first row names columns.
    columns
        Our name: the file's name, such as ``{"date": "Day", "temp_max_c": "High"}``. Names left
        out must stand in the file as they are; only ``date`` must be there.
    units
        Our name: the file's unit, such as ``{"temp_max_c": "F", "wind_max_m_s": "mph"}``; known
        are C, F; mm, cm, in; m/s, km/h, mph, kn; h, min, s. Units left out are ours.
    date_format
        How days are written, as for `datetime.strptime`. Days of a workbook may be real dates.
    decimal
        ``.`` or ``,``.
    separator
        Of a text file's columns; None takes the semicolon or tab if the first row has one, else
        the comma.
    sheet
        Of a workbook; None takes the first.
    provider
        Name of the station.

    Returns
    -------
    The table of `data_sources.weather.table`, every row ``observed``, in the file's order; a
    blank cell stays blank. Rows without any cell are passed over.

    Raises
    ------
    SourceUnavailable
        The file can't be opened.
    SourceMalformed
        With every faulty cell, its row counted as a spreadsheet does.
    """
    path = Path(path)
    names = {our: (columns or {}).get(our, our) for our in ("date", *BOUNDS)}
    scale = {c: converter(c, (units or {}).get(c, OURS[c]), path.name) for c in BOUNDS}
    header, *rows = _rows(path, separator, sheet)
    place = _places(header, names, columns or {}, path.name)
    kept = [(i + 2, row) for i, row in enumerate(rows) if any(not _blank(c) for c in row)]
    faults: list[str] = []
    days, values = _read_cells(kept, place, date_format, decimal, faults, titles=names)
    if faults:
        raise SourceMalformed(listed(f"{path.name} {fault}" for fault in faults))
    return weather_table(
        days,
        {c: [(v - scale[c][1]) * scale[c][0] for v in cells] for c, cells in values.items()},
        kind="observed",
        provider=provider,
        fetched_at=None,
        where=lambda i: f"{path.name} row {kept[i][0]} ({days[i]})",
    )


def _read_cells(
    kept: Sequence[tuple[int, Cells]],
    place: Mapping[str, int],
    date_format: str,
    decimal: str,
    faults: list[str],
    *,
    titles: Mapping[str, str],
) -> tuple[list[date], dict[str, list[float]]]:
    """Read numbered rows into days and values; a fault is added for each cell that can't be."""
    days: list[date] = []
    values: dict[str, list[float]] = {c: [] for c in place if c != "date"}
    for number, row in kept:
        cells = {our: row[at] if at < len(row) else None for our, at in place.items()}
        day = _day(cells.pop("date"), date_format)
        if day is None:
            example = date(2026, 5, 14).strftime(date_format)
            faults.append(
                f"row {number}, {titles['date']}: no day written as {example}. "
                "Mend it, or say how days are written."
            )
        days.append(day or date.min)
        for our, cell in cells.items():
            read = _number(cell, decimal)
            if read is None:
                faults.append(
                    f"row {number}, {titles[our]}: {str(cell)[:40]!r} is not a number. "
                    "Write a number or leave it blank."
                )
            values[our].append(math.nan if read is None else read)
    return days, values


def _rows(path: Path, separator: str | None, sheet: str | None) -> list[Cells]:
    try:
        content = path.read_bytes()
    except OSError as error:
        message = f"{path.name}: {error.strerror}. Check the path."
        raise SourceUnavailable(message) from error
    rows = (
        _workbook_rows(content, path.name, sheet)
        if path.suffix.lower() in (".xlsx", ".xlsm")
        else _text_rows(content, path.name, separator)
    )
    if not rows:
        message = f"{path.name}: the file is empty. Export it again with a row of column names."
        raise SourceMalformed(message)
    return rows


def _text_rows(content: bytes, name: str, separator: str | None) -> list[Cells]:
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        message = f"{name}: not written in UTF-8. Save it as 'CSV UTF-8'."
        raise SourceMalformed(message) from error
    if separator is None:
        first = text.partition("\n")[0]
        separator = next((s for s in (";", "\t") if s in first), ",")
    try:
        return [
            tuple(row) for row in csv.reader(io.StringIO(text, newline=""), delimiter=separator)
        ]
    except csv.Error as error:
        message = f"{name}: not a table of text ({error}). Export it again as CSV."
        raise SourceMalformed(message) from error


def _workbook_rows(content: bytes, name: str, sheet: str | None) -> list[Cells]:
    try:
        book = openpyxl.load_workbook(io.BytesIO(content), read_only=True, data_only=True)
        if sheet is not None and sheet not in book.sheetnames:
            message = f"{name}: no sheet {sheet!r}. It has {', '.join(book.sheetnames)}."
            raise SourceMalformed(message)
        page = book[sheet if sheet is not None else book.sheetnames[0]]
        return [tuple(row) for row in page.iter_rows(values_only=True)]
    except (zipfile.BadZipFile, KeyError, ValueError, OSError) as error:
        message = f"{name}: can't be read as a workbook. Save it again as .xlsx."
        raise SourceMalformed(message) from error


def _places(
    header: Cells, names: Mapping[str, str], asked: Mapping[str, str], name: str
) -> dict[str, int]:
    """Return where each of our columns stands; absent ones are left out."""
    unknown = [our for our in asked if our not in names]
    titles = ["" if _blank(c) else str(c).strip() for c in header]
    missing = [t for our, t in names.items() if t not in titles and (our in asked or our == "date")]
    twice = [t for t in names.values() if titles.count(t) > 1]
    faults = [f"{name}: {our!r} is none of our columns {', '.join(names)}." for our in unknown]
    faults += [
        f"{name}: no column {t!r}. It has {', '.join(filter(None, titles))}." for t in missing
    ]
    faults += [f"{name}: the column {t!r} comes twice. Rename one." for t in twice]
    if faults:
        raise SourceMalformed(listed(faults))
    return {our: titles.index(title) for our, title in names.items() if title in titles}


def _blank(cell: object) -> bool:
    return cell is None or str(cell).strip().lower() in _BLANK


def _day(cell: object, date_format: str) -> date | None:
    if isinstance(cell, datetime):
        return cell.date()
    if isinstance(cell, date):
        return cell
    try:
        # a day of the place: it has no zone
        return datetime.strptime(str(cell).strip(), date_format).date()  # noqa: DTZ007
    except ValueError:
        return None


def _number(cell: object, decimal: str) -> float | None:
    """Return the number, NaN for a blank cell, None for anything else."""
    if _blank(cell):
        return math.nan
    if isinstance(cell, bool):
        return None
    text = str(cell).strip()
    try:
        number = float(text if isinstance(cell, int | float) else text.replace(decimal, "."))
    except ValueError:
        return None
    return number if math.isfinite(number) else None
