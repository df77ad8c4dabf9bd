"""Read a Parquet file: one table, each value as the text that a CSV file would hold."""

from pathlib import Path

from swarmwatch.errors import UsageError
from swarmwatch.records.cells import Grid, make_grid, refusal, text_of


def read_parquet(path: Path) -> list[Grid]:
    """Read the table of a Parquet file.

    Raises
    ------
    UsageError
        The library that reads such files is not installed.
    RecordsError
        The file is no Parquet file.
    """
    try:
        import pyarrow as pa
        from pyarrow import parquet
    except ModuleNotFoundError as error:
        message = (
            f"{path.name}: reading Parquet needs one more library. "
            "Install it with: pip install 'swarmwatch[scale]', or save the table as CSV."
        )
        raise UsageError(message) from error
    try:
        table = parquet.read_table(path)
    except pa.ArrowException as error:
        what = "this is not a Parquet file, or it is damaged"
        raise refusal(path, what, "Write it again, or save the table as CSV") from error
    columns = [[text_of(value) for value in column.to_pylist()] for column in table.columns]
    return [make_grid(path.stem, [table.column_names, *zip(*columns, strict=True)])]
