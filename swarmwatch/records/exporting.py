"""Write the records as files that an import reads back as they were."""

import csv
import io
import os
from collections.abc import Mapping
from pathlib import Path

import pandas as pd

from swarmwatch.errors import StoreError
from swarmwatch.tables import INPUTS, Table
from swarmwatch.tables.keys import as_text

# a spreadsheet runs a cell that begins so; a quote before it makes it text, also before a quote,
# so that the import knows which quote to take off
_RUNS = ("=", "+", "-", "@", "'")


def csv_text(frame: pd.DataFrame, table: Table) -> str:
    """Write one conformed table as CSV text, a header always.

    Parameters
    ----------
    frame
        A conformed frame.
    table
        Its table.

    Returns
    -------
    The text; blank cells are empty, whole numbers have no point, texts are safe in a spreadsheet.
    """
    columns = [_safe(as_text(frame[c.name]), c.kind == "text") for c in table.columns]
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(table.names)
    writer.writerows(zip(*columns, strict=True))
    return text.getvalue()


def _safe(cells: pd.Series, is_text: bool) -> list[str]:
    return [f"'{c}" if is_text and c.startswith(_RUNS) else c for c in cells]


def write_folder(
    frames: Mapping[str, pd.DataFrame], folder: Path, *, force: bool = False
) -> list[Path]:
    """Write one CSV file for each input table into `folder`, all or none.

    Parameters
    ----------
    frames
        Conformed tables by name.
    folder
        Where to; made where it is not there.
    force
        Write over files that say something else.

    Returns
    -------
    The files, in the order of the contract.

    Raises
    ------
    StoreError
        A file is there and says something else, or the folder can't be written.
    """
    texts = {folder / f"{t.name}.csv": csv_text(frames[t.name], t) for t in INPUTS}
    try:
        folder.mkdir(parents=True, exist_ok=True)
        if not force:
            _refuse_others(texts)
        beside = {path: path.with_name(f".{path.name}.{os.getpid()}.part") for path in texts}
        try:
            for path, part in beside.items():
                part.write_text(texts[path], encoding="utf-8", newline="")
            for path, part in beside.items():
                part.replace(path)
        finally:
            for part in beside.values():
                part.unlink(missing_ok=True)
    except OSError as error:
        message = f"{folder}: {error.strerror}. Check that you may write there."
        raise StoreError(message) from error
    return list(texts)


def _refuse_others(texts: Mapping[Path, str]) -> None:
    others = [
        path.name
        for path, text in texts.items()
        if path.exists() and path.read_bytes() != text.encode("utf-8")
    ]
    if others:
        folder = next(iter(texts)).parent
        message = (
            f"{folder}: {', '.join(others)} are there already and say something else. "
            "Nothing was written. Give another folder, or --force to write over them."
        )
        raise StoreError(message)
