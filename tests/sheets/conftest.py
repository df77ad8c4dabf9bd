from datetime import date
from io import BytesIO

import pandas as pd
import pytest
from pypdf import PdfReader

from swarmwatch.evidence import load_evidence
from swarmwatch.sheets import paper_files

ON = date(2026, 5, 14)


def _pages_of(pdf):
    return [" ".join(page.extract_text().split()) for page in PdfReader(BytesIO(pdf)).pages]


@pytest.fixture(scope="session")
def pages_of():
    """Return each page's text, white space made single."""
    return _pages_of


@pytest.fixture(scope="session")
def village_frames(map_tables):
    """The invented village's tables, with the boxes that its plan names."""
    boxes = pd.DataFrame(
        [
            {"box": "B1", "volume_l": 36, "entrance_cm2": 15, "entrance_place": "bottom"},
            {"box": "B2", "volume_l": 42, "old_combs": 1, "comb_source_inspected": "yes"},
            {"box": "B3"},
        ]
    )
    names = ("apiaries", "sites", "hangings")
    return {name: map_tables[name] for name in names} | {"boxes": boxes}


@pytest.fixture(scope="session")
def paper(map_tables, village_frames):
    """Draw the village's paper; keywords replace its plan or frames or are handed on."""

    def draw(*, plan=None, frames=None, **more):
        return paper_files(
            map_tables["plan"] if plan is None else plan,
            village_frames | (frames or {}),
            load_evidence(),
            on=ON,
            **more,
        )

    return draw


@pytest.fixture(scope="session")
def village_paper(paper):
    return paper()
