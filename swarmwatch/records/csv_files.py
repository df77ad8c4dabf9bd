"""Read a CSV file: encoding, separator, quotes."""

import csv
import io
from pathlib import Path
from typing import NoReturn

from swarmwatch.errors import Problem, RecordsError
from swarmwatch.records.cells import Fault, Grid, make_grid

_LONGEST_CELL = 50_000_000  # a keep-out area drawn by hand is long; the csv module stops at 131,072


def read_csv(path: Path) -> list[Grid]:
    """Read one CSV file.

    UTF-8 with or without its mark, UTF-16 with it, else Windows-1252, which is said. The
    separator is the one of comma, semicolon and tab that the header holds most of; with the
    semicolon a decimal comma is understood.

    Raises
    ------
    RecordsError
        The file is no text.
    """
    text, said = _decoded(path)
    header = text.lstrip("\r\n").split("\n", maxsplit=1)[0]
    separator = max(",;\t", key=header.count)
    lines: list[list[str]] = []
    faults: list[Fault] = []
    before = csv.field_size_limit(_LONGEST_CELL)
    try:
        for line in csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True):
            lines.append(line)  # noqa: PERF402 - the lines before a fault are kept
    except csv.Error as error:
        what = "a quote is opened and not closed" if "end of data" in str(error) else str(error)
        mend = 'Close it, and write a quote inside a text twice: "the ""big"" hive".'
        faults.append(Fault(row=len(lines) + 1, what=what, mend=mend))
    finally:
        csv.field_size_limit(before)
    comma = separator == ";"
    return [make_grid(path.stem, lines, faults=faults, said=said, decimal_comma=comma)]


def _decoded(path: Path) -> tuple[str, list[str]]:
    raw = path.read_bytes()
    marked = raw[:2] in (b"\xff\xfe", b"\xfe\xff")
    if b"\x00" in raw and not marked:
        _refuse(path)
    said: list[str] = []
    try:
        return raw.decode("utf-16" if marked else "utf-8-sig"), said
    except UnicodeDecodeError:
        if marked:
            _refuse(path)
    try:
        text = raw.decode("cp1252")
    except UnicodeDecodeError:
        _refuse(path)
    said.append(
        "it is not UTF-8 and was read as Windows-1252. Check names with letters such as ä or é, "
        "and save it as 'CSV UTF-8' if they look wrong."
    )
    return text, said


def _refuse(path: Path) -> NoReturn:
    raise RecordsError(
        [
            Problem(
                table=path.name,
                row=0,
                column="",
                what="this is not a text file",
                mend="Save it as 'CSV UTF-8' or as an Excel workbook (.xlsx).",
            )
        ]
    )
