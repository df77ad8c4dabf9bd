"""Draw the sheets of `maps/` anew from the invented scenario: ``python tests/draw_maps.py``.

Needs the extra `test` and a Chromium on the path, for the picture of the map in a browser.
"""

import shutil
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

import pandas as pd
from playwright.sync_api import sync_playwright

from demo_data import LAND_FILE, ON, folder
from swarmwatch.cli.main import main
from swarmwatch.evidence import load_evidence
from swarmwatch.mapping.land import read_land
from swarmwatch.mapping.sheet import map_picture
from swarmwatch.placement.wishes import Wishes
from swarmwatch.records import open_records
from swarmwatch.records.scoring import plan_tables
from swarmwatch.tables import TABLES, conform

MAPS = Path(__file__).parent.parent / "maps"
DESKTOP = {"width": 1280, "height": 900}
PHONE = {"width": 390, "height": 844}


def draw(into: Path) -> None:
    """Run the demo and keep its sheet, the sheet's map as a picture, and its page in a browser."""
    with TemporaryDirectory() as name:
        made = Path(name)
        try:
            main(["demo", "--to", str(made)])
        except SystemExit as ended:
            if ended.code:
                raise
        into.mkdir(exist_ok=True)
        shutil.copy(made / "map.pdf", into / "map.pdf")
        (into / "map.png").write_bytes(picture(made))
        photograph(made / "map.html", into / "map-page.png", DESKTOP)
        photograph(made / "map.html", into / "map-phone.png", PHONE)


def picture(made: Path) -> bytes:
    """Draw the sheet's map with its legend as PNG."""
    with open_records(made / "swarmwatch.sqlite") as records:
        frames = records.frames()
    scores = conform(pd.read_csv(made / "scores.csv", dtype=str), TABLES["scores"])
    sources, plan = plan_tables(frames, ON, load_evidence(), Wishes())
    return map_picture(
        plan,
        sources=sources,
        apiaries=frames["apiaries"],
        sites=frames["sites"],
        scores=scores,
        keep_out=frames["keep_out"],
        hangings=frames["hangings"],
        land=read_land((folder() / LAND_FILE).read_text(encoding="utf-8")),
    )


def photograph(page_file: Path, into: Path, size: dict[str, int]) -> None:
    """Open the map in Chromium without a network and keep what its window shows."""
    chromium = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "chrome"))))
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        context = browser.new_context(viewport=size, offline=True)
        page = context.new_page()
        page.goto(page_file.as_uri())
        page.wait_for_timeout(1500)
        page.screenshot(path=into)
        browser.close()


if __name__ == "__main__":
    draw(MAPS)
    sys.stdout.write("".join(f"{path}\n" for path in sorted(MAPS.iterdir())))
