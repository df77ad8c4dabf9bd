"""Is every word of the trade that the tool uses explained, each once and without a number?"""

import re
from importlib import import_module, resources

import pytest

from swarmwatch.cli.main import VERBS
from swarmwatch.sheets.glossary import glossary, near_words, word_for
from swarmwatch.sheets.inspection_fields import rows_of
from swarmwatch.tables import TABLES
from swarmwatch.tables.inputs import EVENTS, ORIGINS
from swarmwatch.tables.outputs import LEVELS

# everyday words of labels, events and choices; a word that is in neither list wants an entry
PLAIN_WORDS = """
    a at the in on of or and any as by to it its is was were them not with without no yes none
    some many other unknown for from what where how when who which would be will do did done now
    here there this that these first last again so than then if one two own few more most all each
    added removed lost moved out open tip side oldest old below above beside right heard hang hangs
    outside looks look normal unsure suspect seen viewed write normal drawn use in-use heavy empty
    lay left right small large kept straight health note anything else made day days year date name
    type number hives hive wax moth ants wasps bird bat bees bee hung taken wing counted
"""
PLAIN = set(PLAIN_WORDS.split())
# stems of the trade, written down without the glossary at hand
TRADE_STEMS = """
    afterswarm bait brood capped comb crowd drone excluder foundation inspect larva lure
mentor nectar nucleus peak piping pollen prime queen requeen ripe scout seams split supersed super
swarm tenant thinn torn virgin yard cluster gate range
"""
TRADE = TRADE_STEMS.split()


def entries_text():
    return " ".join(" ".join((w.word, *w.also)).casefold() for w in glossary())


def pieces(text):
    return set(re.findall(r"[a-z]+", text.casefold()))


def named():
    return pieces(entries_text())


def labels():
    fields = [f for bars in (False, True) for row in rows_of(bars=bars) for f in row.fields]
    return [f.label for f in fields] + [word for f in fields for word in f.words]


@pytest.mark.parametrize(
    "texts",
    [
        pytest.param(EVENTS, id="events"),
        pytest.param(ORIGINS, id="origins"),
        pytest.param(LEVELS, id="levels"),
        pytest.param(tuple(dict.fromkeys(labels())), id="the sheet's labels and choices"),
        pytest.param(TABLES["checks"].column("tenant").words, id="tenants"),
        pytest.param(TABLES["hangings"].column("lure").words, id="lures"),
    ],
)
def test_every_word_that_is_not_plain_is_explained(texts):
    unexplained = {text: missing for text in texts if (missing := pieces(text) - PLAIN - named())}
    assert unexplained == {}


@pytest.mark.parametrize("event", EVENTS)
def test_every_event_is_found_by_its_own_name(event):
    wanted = event if word_for(event) else event.partition("-")[0]
    assert word_for(wanted) is not None


def test_trade_words_of_help_page_and_advice_are_explained():
    helps = [import_module(f"swarmwatch.cli.{m}").__doc__ or "" for m in VERBS.values()]
    helps += [
        getattr(import_module(f"swarmwatch.cli.{m}"), m).__doc__ or "" for m in VERBS.values()
    ]
    sources = [
        resources.files("swarmwatch.swarming") / name for name in ("advice.py", "reasons.py")
    ]
    sources.append(resources.files("swarmwatch.sheets") / "round_page.py")
    used = pieces(" ".join([*helps, *(s.read_text(encoding="utf-8") for s in sources)]))
    found = {stem for stem in TRADE if any(word.startswith(stem) for word in used)}
    assert len(found) > 20
    assert {stem for stem in found if not any(w.startswith(stem) for w in named())} == set()


def test_the_check_would_see_a_new_word():
    assert pieces("varroa-count") - PLAIN - named() == {"varroa", "count"}


def test_a_name_leads_to_one_entry():
    names = [n.casefold() for w in glossary() for n in (w.word, *w.also)]
    assert sorted(names) == sorted(set(names))


def test_entries_are_sentences_without_bare_numbers():
    for word in glossary():
        assert re.fullmatch(r"[A-Z].*\.", word.means), word.word
        assert not re.search(r"\d", word.means), word.word


def test_words_are_found_by_any_name_and_case():
    assert word_for(" Cast ") == word_for("afterswarm")
    assert word_for("AFTERSWARM").word == "afterswarm"
    assert word_for("carburettor") is None


def test_near_words_are_offered():
    assert "supersedure" in near_words("supercedure")
    assert near_words("xylophone") == []
