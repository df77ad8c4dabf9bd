"""Which number stands where, and who says so."""

import json
import sys
from typing import TYPE_CHECKING, Annotated

import typer

from swarmwatch.cli.options import AsJson, OwnEvidence

if TYPE_CHECKING:
    from swarmwatch.evidence import Entry

_FIELDS = ("key", "value", "unit", "low", "high", "distribution", "grade", "source", "note")


def evidence(
    word: Annotated[
        str | None,
        typer.Argument(help="Show only entries whose key, source or note holds this word."),
    ] = None,
    own: OwnEvidence = None,
    as_json: AsJson = False,
) -> None:
    """Print the numbers behind the results: value, range, where from and how sure.

    Ranges hold the middle 80 of 100 of what the sources allow. Your own file (--evidence) may
    override any number: name its tables by whole keys.

    Example: swarmwatch evidence adult_life
    """
    from swarmwatch.evidence import load_evidence

    entries = list(load_evidence(own).values())
    shown = [e for e in entries if word is None or _holds(e, word)]
    if not shown and word is not None:
        _refuse(word, [e.key for e in entries])
    if as_json:
        rows = [{f: getattr(e, f) for f in _FIELDS} for e in shown]
        document = {"schema": "swarmwatch/evidence/1", "rows": rows}
        json.dump(document, sys.stdout, ensure_ascii=False, indent=2, allow_nan=False)
        sys.stdout.write("\n")
    else:
        typer.echo("\n\n".join(map(_in_words, shown)))


def _holds(entry: "Entry", word: str) -> bool:
    wanted = word.casefold()
    return any(wanted in text.casefold() for text in (entry.key, entry.source, entry.note))


def _refuse(word: str, keys: list[str]) -> None:
    import re
    from difflib import get_close_matches

    from swarmwatch.errors import UsageError

    # people write the part after the dot, or a word of it
    by_part: dict[str, str] = {}
    for key in keys:
        for part in (key, key.partition(".")[2], *re.split(r"[._-]", key)):
            by_part.setdefault(part, key)
    near = get_close_matches(word.casefold(), by_part, n=5, cutoff=0.6)
    hint = f"Near it: {', '.join(dict.fromkeys(by_part[n] for n in near))}. " if near else ""
    message = (
        f"no entry's key, source or note holds {word!r}. {hint}"
        "`swarmwatch evidence` without a word prints them all."
    )
    raise UsageError(message)


def _in_words(entry: "Entry") -> str:
    unit = "" if entry.unit in ("1", "text") else f" {entry.unit}"
    lines = [
        f"{entry.key} = {entry.value:g}{unit} ({entry.low:g} to {entry.high:g})",
        f"  {entry.grade}: {entry.source}",
    ]
    if entry.note:
        lines.append(f"  note: {entry.note}")
    return "\n".join(lines)
