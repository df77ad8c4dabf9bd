"""Read an Excel workbook: every sheet, each cell as the text that a CSV file would hold."""

import warnings
import zipfile
from pathlib import Path

from swarmwatch.records.cells import Fault, Grid, make_grid, refusal, text_of


def read_xlsx(path: Path) -> list[Grid]:
    """Read every sheet that isn't empty.

    A formula gives the result that the spreadsheet stored; one without a result is a fault.

    Raises
    ------
    RecordsError
        The file is no workbook.
    """
    values = _sheets(path, results=True)
    written = _sheets(path, results=False)
    grids = []
    for name, lines in values.items():
        if not any(cell is not None for line in lines for cell in line):
            continue
        faults = [
            Fault(
                row=i,
                what=f"cell {j} holds a formula without its result",
                mend="Open the file in a spreadsheet and save it, or write the value.",
            )
            for i, (line, formulas) in enumerate(zip(lines, written[name], strict=True), 1)
            for j, (value, formula) in enumerate(zip(line, formulas, strict=True), 1)
            if value is None and formula is not None
        ]
        texts = [[text_of(cell) for cell in line] for line in lines]
        grids.append(make_grid(name, texts, faults=faults))
    if not grids:
        raise refusal(path, "this workbook is empty", "Check that it is the right file")
    return grids


def _sheets(path: Path, *, results: bool) -> dict[str, list[list[object]]]:
    import openpyxl
    from openpyxl.utils.exceptions import InvalidFileException

    try:
        with warnings.catch_warnings():
            # it warns of styles and drop-down lists that it doesn't keep; we only read values
            warnings.simplefilter("ignore")
            book = openpyxl.load_workbook(path, data_only=results)
            sheets = {s.title: [list(row) for row in s.values] for s in book.worksheets}
            book.close()
    except (zipfile.BadZipFile, InvalidFileException, KeyError, ValueError, EOFError) as error:
        what = "this is not an Excel workbook"
        raise refusal(path, what, "Save it as .xlsx, or as 'CSV UTF-8'") from error
    return sheets
