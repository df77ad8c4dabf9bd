"""A form as it is shown: empty, filled, at fault, or met by what another phone wrote meanwhile."""

import secrets
from collections.abc import Mapping
from dataclasses import dataclass, field

from swarmwatch.page.field_words import Group
from swarmwatch.page.writing import Verdict

_SUMMARY = {
    "faulty": "Not noted yet: something does not fit",
    "unlikely": "Not noted yet: something is unlikely",
    "changed": "Not noted yet: somebody else wrote here since you opened this form",
}
_TOLD = {
    "faulty": "All that you typed is still below.",
    "unlikely": "Mend it, or say at the end of the form that it is right.",
    "changed": (
        "All that you typed is still below; what you left blank took what they noted. Look at the "
        "fields marked with 'noted meanwhile', then note again: yours is then kept over theirs, "
        "and theirs with the corrections."
    ),
}
_AGAIN = "Not noted yet: serve was started anew since you opened this form"


@dataclass(frozen=True, slots=True, kw_only=True)
class FormView:
    """All that the form's template shows.

    `key` and `values` are text by column, `name` the name that this form was given, `seen` the
    fingerprint of what was noted when it was opened. `pointers` are pairs of a field and its fault.
    """

    action: str
    lead: str
    button: str
    groups: tuple[Group, ...]
    key: Mapping[str, str]
    values: Mapping[str, str]
    seen: str
    name: str
    summary: str = ""
    told: str = ""
    pointers: tuple[tuple[str, str], ...] = ()
    problems: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    theirs: Mapping[str, str] = field(default_factory=dict)
    unlikely: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """What a form asks, before anything is filled in, and what its page says round it.

    `back` is the address and the name of the page that it came from, `other` what the part says
    that opens another day, `which` what a second row of that day is called, "" where there is none.
    `bare` says that the key alone is worth noting.
    """

    table: str
    action: str
    title: str
    lead: str
    button: str
    groups: tuple[Group, ...]
    key: Mapping[str, str]
    back: tuple[str, str]
    other: str
    which: str = ""
    caution: str = ""
    bare: bool = False


def opened_form(sheet: Sheet, noted: Mapping[str, str], seen: str) -> FormView:
    """Return a form with what is noted already, under a name of its own."""
    return _form(sheet, values=noted, seen=seen, name=secrets.token_urlsafe(9))


def answered_form(
    sheet: Sheet, typed: Mapping[str, str], verdict: Verdict, *, seen: str, name: str
) -> FormView:
    """Return a form that could not be noted, with all that was typed and why."""
    shown = {f.name: f.label for g in sheet.groups for f in g.fields}
    changed = verdict.kind == "changed"
    values = dict(typed)
    for column, theirs in verdict.theirs.items():
        if not values.get(column, "").strip():
            values[column] = theirs
    whole = [t for n, texts in verdict.problems.items() if n not in shown for t in texts]
    return _form(
        sheet,
        values=values,
        seen=verdict.seen if changed else seen,
        name=name,
        summary=_SUMMARY[verdict.kind],
        told=" ".join([*whole, _TOLD[verdict.kind]]),
        pointers=tuple(
            (n, f"{shown[n]}: {t}")
            for n, texts in verdict.problems.items()
            if n in shown
            for t in texts
        )
        + tuple((n, f"{shown[n]}: noted meanwhile") for n in verdict.theirs if n in shown),
        problems=verdict.problems,
        theirs=verdict.theirs,
        unlikely=verdict.kind == "unlikely",
    )


def unsent_form(
    sheet: Sheet, typed: Mapping[str, str], why: str = "", *, seen: str, name: str
) -> FormView:
    """Return a form that did not get as far as being looked at, with all that was typed."""
    told = why or "All that you typed is still below: note it again."
    return _form(
        sheet,
        values=typed,
        seen=seen,
        name=name,
        summary="Not noted: the records can't be written" if why else _AGAIN,
        told=told,
    )


def _form(
    sheet: Sheet,
    *,
    values: Mapping[str, str],
    seen: str,
    name: str,
    summary: str = "",
    told: str = "",
    pointers: tuple[tuple[str, str], ...] = (),
    problems: Mapping[str, tuple[str, ...]] | None = None,
    theirs: Mapping[str, str] | None = None,
    unlikely: bool = False,
) -> FormView:
    return FormView(
        action=sheet.action,
        lead=sheet.lead,
        button=sheet.button,
        groups=sheet.groups,
        key=sheet.key,
        values=values,
        seen=seen,
        name=name,
        summary=summary,
        told=told,
        pointers=pointers,
        problems=problems or {},
        theirs=theirs or {},
        unlikely=unlikely,
    )
