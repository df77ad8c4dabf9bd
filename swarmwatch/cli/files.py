"""How does a file get written so that it is never half there, and never over another?"""

import os
import tempfile
from pathlib import Path

from swarmwatch.errors import UsageError


def refuse_existing(path: Path, *, force: bool) -> None:
    """Refuse a place where a file is already, before any work is done for it.

    Raises
    ------
    UsageError
        A file is there already and `force` is not set.
    """
    if path.exists() and not force:
        message = (
            f"{path}: this file is there already. Give another name, or --force to replace it."
        )
        raise UsageError(message)


def write_whole(path: Path, content: bytes, *, force: bool) -> Path:
    """Write a file beside its place and move it there in one step.

    Raises
    ------
    UsageError
        A file is there already and `force` is not set, or the place can't be written.
    """
    refuse_existing(path, force=force)
    beside = None
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}-")
        beside = Path(name)
        with os.fdopen(handle, "wb") as file:
            file.write(content)
        beside.chmod(0o644)
        beside.replace(path)
    except OSError as error:
        if beside is not None:
            beside.unlink(missing_ok=True)
        message = f"{path}: {error.strerror or error}. Check that you may write there."
        raise UsageError(message) from error
    return path
