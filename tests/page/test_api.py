"""Whatever is asked, the pages answer as they say they do: schemathesis over their description."""

from contextlib import suppress

import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from hypothesis.errors import Unsatisfiable
from schemathesis import GenerationMode
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_headers_conformance,
    status_code_conformance,
    unsupported_method,
)
from served import serving

from swarmwatch.page.app import make_pages
from swarmwatch.page.pairing import Pairing
from swarmwatch.tables import TABLES

CHECKS = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_headers_conformance,
    unsupported_method,
]
# a session of our own making: its token is worked out below, so that forms get past the door
SESSION = "s" * 43
COOKIE = f"swarmwatch_session={SESSION}"
KNOWN = {
    "name": "Birch",
    "change": "split",
    "colony": "Birch",
    "box": "B1",
    "event": "split",
    "date": "2026-06-04",
    "visit": "1",
    "accept": "yes",
}
# text is rarely a number or a word of the table: fields left blank let the others through
_NOTES = {n for t in ("inspections", "events", "checks") for n in TABLES[t].names} - {
    *KNOWN,
    "note",
}
EXAMPLES = settings(
    max_examples=5,
    deadline=None,
    derandomize=True,
    suppress_health_check=list(HealthCheck),
    phases=[Phase.explicit, Phase.generate],
)


@pytest.fixture(scope="module")
def pages(small_template, tmp_path_factory):
    """The pages of small records with their description and the headers of a session."""
    path = tmp_path_factory.mktemp("api") / "bees.sqlite"
    path.write_bytes(small_template.read_bytes())
    pairing = Pairing(clock=lambda: 0.0, show=lambda _: None)
    with serving(path, pairing=pairing) as served:
        served.house.desk.standing()
        schema = schemathesis.openapi.from_dict(make_pages(served.house).openapi())
        schema.config.update(base_url=f"http://{served.host}")
        yield schema, served


def answered(case):
    """Ask, hold the answer against the description, and return it."""
    answer = case.call(headers={"Cookie": COOKIE}, allow_redirects=False, timeout=60)
    case.validate_response(answer, checks=CHECKS)
    return answer


def test_the_description_names_every_page(pages):
    schema, _ = pages
    paths = {operation.ok().path for operation in schema.get_all_operations()}
    assert paths >= {"/", "/colony", "/what-if", "/boxes", "/map", "/inspect", "/event", "/check"}


def test_every_answer_is_as_described(pages):
    schema, _ = pages
    seen = set()
    for found in schema.get_all_operations():

        @given(case=found.ok().as_strategy(), known=st.booleans())
        @EXAMPLES
        def every_answer_fits(case, known):
            if known:
                case.query |= {n: v for n, v in KNOWN.items() if n in case.query}
            seen.add((case.operation.path, answered(case).status_code))

        every_answer_fits()
    assert seen >= {
        (path, 200) for path in ("/", "/colony", "/what-if", "/inspect", "/event", "/check")
    }
    assert seen >= {(path, 404) for path in ("/colony", "/what-if", "/inspect", "/event", "/check")}


def test_what_does_not_fit_the_description_is_answered_as_described(pages):
    schema, _ = pages
    seen = set()
    for found in schema.get_all_operations():

        @given(case=found.ok().as_strategy(generation_mode=GenerationMode.NEGATIVE))
        @EXAMPLES
        def every_answer_fits(case):
            seen.add((case.operation.path, answered(case).status_code))

        # of a page that takes anything nothing can be asked amiss
        with suppress(Unsatisfiable):
            every_answer_fits()
    assert seen >= {
        (path, 422) for path in ("/", "/colony", "/what-if", "/inspect", "/event", "/check")
    }


def test_forms_that_pass_the_door_are_answered_as_described(pages):
    schema, served = pages
    token = served.house.tokens.of(SESSION)
    led_to = set()
    for path in ("/inspect", "/event", "/check"):
        operation = schema[path]["POST"]

        @given(
            case=operation.as_strategy(),
            filled=st.sets(st.sampled_from(sorted(_NOTES)), max_size=2),
        )
        @settings(EXAMPLES, max_examples=10)
        def every_answer_fits(case, filled):
            # the right token and names: what else the form holds gets to the door of the records
            case.body |= KNOWN | {"token": token, "form": "f", "seen": ""}
            case.body |= dict.fromkeys(_NOTES - filled, "")
            led_to.add(answered(case).status_code)

        every_answer_fits()
    assert led_to >= {303, 422}
