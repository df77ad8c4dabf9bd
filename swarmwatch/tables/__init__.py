"""Say which tables come in and go out, and what may stand in each column.

The contract itself is plain Python; what reads frames is loaded on first use (PEP 562), so that a
command line made from the contract loads no pandas.
"""

from importlib import import_module
from typing import TYPE_CHECKING

from swarmwatch.tables.inputs import INPUTS
from swarmwatch.tables.model import Column, Table
from swarmwatch.tables.outputs import OUTPUTS

if TYPE_CHECKING:
    from swarmwatch.tables.checking import check, conform, empty
    from swarmwatch.tables.schemas import schema

TABLES: dict[str, Table] = {table.name: table for table in (*INPUTS, *OUTPUTS)}

_HOMES = {
    "check": "swarmwatch.tables.checking",
    "conform": "swarmwatch.tables.checking",
    "empty": "swarmwatch.tables.checking",
    "schema": "swarmwatch.tables.schemas",
}

__all__ = ["INPUTS", "OUTPUTS", "TABLES", "Column", "Table", "check", "conform", "empty", "schema"]


def __getattr__(name: str) -> object:
    if name not in _HOMES:
        message = f"module 'swarmwatch.tables' has no attribute {name!r}"
        raise AttributeError(message)
    return getattr(import_module(_HOMES[name]), name)
