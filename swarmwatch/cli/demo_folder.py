"""Which files may a verb replace? Only those it wrote and nobody changed since."""

import hashlib
import json
import os
import tempfile
from collections.abc import Iterable, Mapping
from pathlib import Path

from swarmwatch.errors import UsageError

_DEMO = "demo"
MANIFEST = f".swarmwatch-{_DEMO}.json"
_SCHEMA = "swarmwatch/demo-files/1"
# SQLite keeps what is not yet in the file in these; with content, a program is writing there
_OPEN_ENDINGS = ("-wal", "-journal")


def refuse_foreign(
    folder: Path, names: Iterable[str], *, verb: str = _DEMO
) -> dict[str, list[str]]:
    """Look at the files that are in the way; write nothing.

    Parameters
    ----------
    folder
        Where the files are to go; it need not exist.
    names
        The files that the verb writes.
    verb
        Who writes them; each verb knows its own files.

    Returns
    -------
    The fingerprints of the files that an earlier run wrote there, by name.

    Raises
    ------
    UsageError
        A file there is of somebody else or was changed since: every one is named.
    """
    if folder.exists() and not folder.is_dir():
        message = f"{folder}: this is a file. Give another folder with --to."
        raise UsageError(message)
    manifest = _manifest_name(verb)
    ours, readable = _manifest(folder / manifest)
    foreign = [] if readable else [manifest]
    for name in names:
        path = folder / name
        if _there(path) and (not path.is_file() or fingerprint(path) not in ours.get(name, [])):
            foreign.append(name)
        foreign += [
            name + ending
            for ending in _OPEN_ENDINGS
            if (beside := path.with_name(name + ending)).is_file() and beside.stat().st_size
        ]
    if foreign:
        found = ", ".join(str(folder / name) for name in foreign)
        message = (
            f"{found}: not written by `swarmwatch {verb}`, or changed since, so nothing was "
            "touched. Move what you want to keep, or give another folder with --to."
        )
        raise UsageError(message)
    return ours


def replace_files(
    made: Path,
    folder: Path,
    names: Iterable[str],
    ours: dict[str, list[str]],
    *,
    verb: str = _DEMO,
) -> None:
    """Move the files `names` from the folder `made` into `folder`, each whole or not at all.

    The manifest first names the old and the new fingerprints: a run that was interrupted here
    still knows its files at the next run.
    """
    names = list(names)
    new = {name: [fingerprint(made / name)] for name in names}
    both = {name: sorted({*ours.get(name, []), *new[name]}) for name in names}
    folder.mkdir(parents=True, exist_ok=True)
    _write_manifest(folder / _manifest_name(verb), both)
    for name in names:
        (made / name).replace(folder / name)
    _write_manifest(folder / _manifest_name(verb), new)


def fingerprint(path: Path) -> str:
    """Return the SHA-256 of a file."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _manifest_name(verb: str) -> str:
    return f".swarmwatch-{verb}.json"


def _there(path: Path) -> bool:
    return path.exists() or path.is_symlink()


def _manifest(path: Path) -> tuple[dict[str, list[str]], bool]:
    """Return the fingerprints by name, and whether the manifest is absent or one of ours."""
    if not _there(path):
        return {}, True
    try:
        document = json.loads(path.read_text(encoding="utf-8"))
        if document["schema"] != _SCHEMA:
            return {}, False
        return {
            str(name): [str(p) for p in prints] for name, prints in document["files"].items()
        }, True
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return {}, False


def _write_manifest(path: Path, prints: Mapping[str, list[str]]) -> None:
    text = json.dumps({"schema": _SCHEMA, "files": dict(prints)}, indent=1) + "\n"
    handle, beside = tempfile.mkstemp(dir=path.parent, prefix=path.name)
    with os.fdopen(handle, "w", encoding="utf-8", newline="\n") as file:
        file.write(text)
    Path(beside).chmod(0o644)
    Path(beside).replace(path)
