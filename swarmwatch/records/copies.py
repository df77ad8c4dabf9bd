"""What are copies of the records called, and which is the newest?"""

from datetime import datetime
from pathlib import Path

from swarmwatch.errors import StoreError

# part of a name: later copies sort behind earlier ones
MOMENT = "%Y-%m-%d-%H%M%S"
_NAMES = "swarmwatch-[0-9]*.sqlite"


def backup_name(at: datetime) -> str:
    """Return the name of the copy made at a moment: later copies sort behind earlier ones."""
    return f"swarmwatch-{at.strftime(MOMENT)}.sqlite"


def newest_backup(folder: Path) -> Path:
    """Return the latest copy that `backup_name` named in a folder.

    Raises
    ------
    StoreError
        There is none.
    """
    found = sorted(folder.glob(_NAMES))
    if not found:
        message = f"{folder}: there is no copy in this folder. Give the file's path."
        raise StoreError(message)
    return found[-1]


def newest_near(records: Path) -> Path | None:
    """Return the latest copy beside the records or in a folder beside them, None for none."""
    try:
        found = [*records.parent.glob(_NAMES), *records.parent.glob(f"*/{_NAMES}")]
    except OSError:
        return None
    return max(found, key=lambda path: path.name, default=None)
