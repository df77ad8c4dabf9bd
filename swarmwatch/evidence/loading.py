"""Read the evidence files that ship with the package, and a keeper's own on top."""

import tomllib
from functools import cache
from importlib import resources
from pathlib import Path
from typing import Any, TypeGuard

from swarmwatch.errors import EvidenceError
from swarmwatch.evidence.model import Entry, Evidence

_FIELDS = ("value", "unit", "low", "high", "distribution", "source", "grade")


def load_evidence(own: Path | str | None = None, *, base: Evidence | None = None) -> Evidence:
    """Load every number with its unit, range, source and grade.

    Parameters
    ----------
    own
        A keeper's own TOML file whose entries override the shipped ones. Its tables are named by
        whole keys, such as ``[season.peak_error]``; fields left out keep those of `base`.
    base
        The entries that `own` overrides; the shipped ones by default.

    Returns
    -------
    The entries by key.

    Raises
    ------
    EvidenceError
        A field is missing, a unit or grade unknown, a value outside its own range, or a key of
        `own` does not exist.
    """
    base = base or _shipped()
    return base if own is None else _with_own(base, Path(own))


@cache
def _shipped() -> Evidence:
    entries: dict[str, Entry] = {}
    folder = resources.files("swarmwatch.evidence")
    for file in sorted(folder.iterdir(), key=lambda f: f.name):
        if file.name.endswith(".toml"):
            subject = file.name.removesuffix(".toml")
            for name, fields in _parse(file.read_text(encoding="utf-8"), file.name).items():
                key = f"{subject}.{name}"
                entries[key] = _entry(key, fields)
    return Evidence(entries)


def _with_own(base: Evidence, path: Path) -> Evidence:
    try:
        text = path.read_text(encoding="utf-8")
    except OSError as error:
        message = f"evidence file {path.name}: {error.strerror}. Check the path."
        raise EvidenceError(message) from error
    entries = dict(base)
    for subject, group in _parse(text, path.name).items():
        if not isinstance(group, dict) or not all(isinstance(g, dict) for g in group.values()):
            message = f"{path.name}, {subject}: not a table of entries. Write [subject.entry]."
            raise EvidenceError(message)
        for name, fields in group.items():
            key = f"{subject}.{name}"
            value = fields.get("value")
            # what is no number is refused below, with the file's other faults
            old = base[key].moved_to(value) if _is_number(value) else base[key]
            merged = {f: getattr(old, f) for f in (*_FIELDS, "note")} | fields
            entries[key] = _entry(key, merged)
    return Evidence(entries)


def _parse(text: str, name: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        message = f"evidence file {name}: {error}. Mend the line or take the file away."
        raise EvidenceError(message) from error


def _entry(key: str, fields: dict[str, Any]) -> Entry:
    missing = [f for f in _FIELDS if f not in fields]
    unknown = [f for f in fields if f not in (*_FIELDS, "note")]
    if missing or unknown:
        what = "; ".join(
            [f"field {f} is missing" for f in missing]
            + [f"field {f} is not known" for f in unknown]
        )
        message = f"evidence {key}: {what}. An entry has {', '.join(_FIELDS)} and note."
        raise EvidenceError(message)
    numbers = {}
    for f in ("value", "low", "high"):
        if not _is_number(fields[f]):
            message = f"evidence {key}: {f} is {fields[f]!r}. Write a number."
            raise EvidenceError(message)
        numbers[f] = float(fields[f])
    return Entry(key=key, **{**fields, **numbers})


def _is_number(value: object) -> TypeGuard[float]:
    return isinstance(value, int | float) and not isinstance(value, bool)
