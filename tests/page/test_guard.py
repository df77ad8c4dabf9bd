"""Who may ask, how much may be sent, and what a browser is told: nothing else comes in."""

import asyncio
import http.client
import re
from concurrent.futures import ThreadPoolExecutor

import httpx
import pytest
from served import hidden, noted, send, serving

from swarmwatch.page.app import make_app
from swarmwatch.page.guard import BODY_MOST, COOKIE
from swarmwatch.page.house import House
from swarmwatch.page.pairing import Pairing

INSPECT = {"colony": "Birch"}
PHONE, ANOTHER = ("192.168.1.7", 5000), ("192.168.1.8", 5000)


@pytest.fixture(scope="module")
def served(small_template, tmp_path_factory):
    path = tmp_path_factory.mktemp("guard") / "bees.sqlite"
    path.write_bytes(small_template.read_bytes())
    with serving(path) as running:
        yield running


@pytest.fixture
def form(served):
    """A phone and the form that it opened."""
    phone = served.phone()
    return phone, phone.get("/inspect", params=INSPECT)


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1:1", "127.0.0.1", "", "localhost:80"])
def test_a_name_that_is_not_ours_is_refused(served, host):
    page = served.phone().get("/", headers={"host": host})
    assert page.status_code == 400


def test_two_hosts_are_refused(served):
    asking = http.client.HTTPConnection(served.host)
    asking.putrequest("GET", "/", skip_host=True)
    asking.putheader("Host", served.host)
    asking.putheader("Host", "evil.example")
    asking.endheaders()
    assert asking.getresponse().status == 400
    asking.close()


def test_localhost_is_ours(served):
    port = served.host.rpartition(":")[2]
    page = served.phone().get("/settings", headers={"host": f"LocalHost:{port}"})
    assert page.status_code == 200


def test_every_page_comes_with_a_policy_under_which_no_script_runs(form):
    _, page = form
    policy = page.headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "script-src" not in policy
    assert "unsafe" not in policy
    assert "form-action 'self'" in policy
    assert "frame-ancestors 'none'" in policy
    assert page.headers["x-content-type-options"] == "nosniff"
    assert page.headers["referrer-policy"] == "same-origin"
    assert "<script" not in page.text
    assert " style=" not in page.text
    assert re.search(r"\son\w+=", page.text) is None


def test_refusals_come_with_the_policy_too(served):
    page = served.phone().get("/", headers={"host": "evil.example"})
    assert "default-src 'none'" in page.headers["content-security-policy"]


def test_the_cookie_is_out_of_reach_of_script_and_of_strangers(form):
    _, page = form
    cookie = page.headers["set-cookie"]
    assert cookie.startswith(f"{COOKIE}=")
    assert "HttpOnly" in cookie
    assert "SameSite=Lax" in cookie
    assert "Path=/" in cookie


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://evil.example"},
        {"origin": "null"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
    ],
)
@pytest.mark.parametrize("path", ["/inspect", "/event", "/settings"])
def test_a_form_from_a_strangers_page_does_nothing(served, form, headers, path):
    phone, page = form
    data = hidden(page) | {"combs_bees": "7", "event": "split", "units": "us"}
    assert phone.post(path, data=data, headers=headers).status_code == 403
    assert noted(served, date="2026-06-05").empty
    assert noted(served, "events").empty
    assert served.records.setting("units") is None


@pytest.mark.parametrize("token", ["", "0" * 64, "é"])
def test_a_form_without_its_token_does_nothing(served, form, token):
    phone, page = form
    again = send(phone, page, combs_bees="7", token=token)
    assert again.status_code == 409
    assert 'value="7"' in again.text
    assert noted(served, date="2026-06-05").empty


def test_the_token_of_another_session_does_nothing(served, form):
    _, page = form
    stranger = served.phone()
    stranger.get("/settings")
    assert send(stranger, page, combs_bees="7").status_code == 409
    assert noted(served, date="2026-06-05").empty


def test_more_than_a_form_holds_is_refused(served, form):
    phone, page = form
    answer = send(phone, page, note="n" * (BODY_MOST + 1))
    assert answer.status_code == 413
    assert noted(served, date="2026-06-05").empty


def test_more_than_a_form_holds_is_refused_where_no_length_is_told(form):
    phone, _ = form
    parts = (b"note=" + b"n" * 1000 for _ in range(2 + BODY_MOST // 1000))
    kind = {"content-type": "application/x-www-form-urlencoded"}
    answer = phone.post("/inspect", content=parts, headers=kind)
    assert answer.status_code == 413


@pytest.mark.parametrize("name", ["../../evil.html", "..\\evil.html", "/etc/evil"])
def test_a_file_that_is_sent_along_is_refused_and_written_nowhere(served, form, tmp_path, name):
    phone, page = form
    before = sorted(tmp_path.parent.rglob("*evil*"))
    files = {"note": (name, b"evil", "text/html")}
    answer = phone.post("/inspect", data=hidden(page), files=files)
    assert answer.status_code == 422
    assert sorted(tmp_path.parent.rglob("*evil*")) == before
    assert noted(served, date="2026-06-05").empty


@pytest.mark.parametrize(
    "path", ["/../pyproject.toml", "/%2e%2e/%2e%2e/etc/passwd", "/page.css/../x", "/static/x", "//"]
)
def test_no_path_leads_to_a_file(served, path):
    answer = served.phone().get(f"http://{served.host}{path}")
    assert answer.status_code == 404


def test_the_list_of_all_routes_is_not_served(served):
    assert served.phone().get("/openapi.json").status_code == 404
    assert served.phone().get("/docs").status_code == 404


def asked(house, requests, client):
    """Ask the pages as from another machine; return the answers, one browser after all."""

    async def asking():
        transport = httpx.ASGITransport(app=make_app(house), client=client)
        async with httpx.AsyncClient(transport=transport, base_url="http://10.0.0.2:8765") as phone:
            return [await request(phone) for request in requests]

    # the browser of other tests keeps a loop running in this thread
    with ThreadPoolExecutor(max_workers=1) as thread:
        return thread.submit(asyncio.run, asking()).result()


def lan_house(served, **more):
    return House(desk=served.house.desk, hosts=frozenset({"10.0.0.2:8765"}), **more)


def test_without_lan_another_machine_is_refused(served):
    (answer,) = asked(lan_house(served), [lambda phone: phone.get("/settings")], PHONE)
    assert answer.status_code == 403
    assert "Only this machine" in answer.text


def test_a_phone_is_asked_for_the_code_that_is_shown_and_let_in_once(served):
    shown = []
    house = lan_house(served, pairing=Pairing(clock=lambda: 100.0, show=shown.append))
    before = asked(house, [lambda p: p.get("/settings"), lambda p: p.post("/inspect")], PHONE)
    assert [a.status_code for a in before] == [303, 303]
    assert {a.headers["location"] for a in before} == {"/pair"}
    assert shown == []

    async def pair(phone):
        page = await phone.get("/pair")
        assert "http" in page.text
        assert "Whoever is on this network can read" in page.text.replace("\n", " ")
        assert shown[-1] not in page.text
        data = {"token": re.search(r'name="token" value="(\w+)"', page.text)[1]}
        wrong = await phone.post("/pair", data=data | {"code": "AAAAAAAA"})
        assert wrong.status_code == 403
        return await phone.post("/pair", data=data | {"code": shown[-1].lower()})

    let_in, page = asked(house, [pair, lambda p: p.get("/settings")], PHONE)
    assert let_in.status_code == 303
    assert page.status_code == 200
    assert "over http" in page.text
    assert len(shown) == 1

    (again,) = asked(house, [pair_with(shown[0])], ANOTHER)
    assert again.status_code == 403
    (still_out,) = asked(house, [lambda p: p.get("/settings")], ANOTHER)
    assert still_out.status_code == 303


def pair_with(code):
    async def pair(phone):
        page = await phone.get("/pair")
        data = {"token": re.search(r'name="token" value="(\w+)"', page.text)[1], "code": code}
        return await phone.post("/pair", data=data)

    return pair


def test_a_header_does_not_make_another_machine_this_one(served):
    house = lan_house(served)
    headers = {"x-forwarded-for": "127.0.0.1", "forwarded": "for=127.0.0.1"}
    (answer,) = asked(house, [lambda p: p.get("/settings", headers=headers)], PHONE)
    assert answer.status_code == 403
