import json
import re
from pathlib import Path

import pytest

from data_sources.land.files import read_land_file

README = Path(__file__).parents[2] / "data_sources" / "README.md"
ANSWERS = Path(__file__).parent / "answers"
# title: code of its example
BLOCKS = dict(
    re.findall(
        r"^###? ([^\n]+)\n(?:(?!^##).)*?```python\n(.*?)```",
        README.read_text(encoding="utf-8"),
        re.DOTALL | re.MULTILINE,
    )
)
OUTPUTS = re.findall(r"```text\n(.*?)```", README.read_text(encoding="utf-8"), re.DOTALL)
# adapter's module: what its service answers, by the end of the path; "" answers the rest. No file
# is the usual answer of the server of the tests
SERVED = {
    "asking": {},
    "open_meteo": {},
    "open_meteo_ensemble": {"": "open_meteo_ensemble.json"},
    "ghcn_daily": {
        "": "ghcn.dly",
        "ghcnd-stations.txt": "ghcnd-stations.txt",
        "ghcnd-inventory.txt": "ghcnd-inventory.txt",
    },
    "nasa_power": {"": "nasa_power.json"},
    "us_weather_service": {"": "us_grid.json", "/points/51.50,-0.12": "us_points.json"},
    "met_norway": {"": "met_norway.json"},
    "place_facts": {},
    "overpass": {"": "overpass.json"},
}


def adapter_of(block):
    return re.findall(r"from data_sources\.(?:weather|land)\.(\w+) import", block)[0]


@pytest.fixture
def run(tmp_path, monkeypatch, server, capsys):
    def go(block):
        monkeypatch.chdir(tmp_path)
        block = re.sub(r'service = ".*"', f"service = {server.url!r}", block)
        exec(compile(block, str(README), "exec"), {})  # noqa: S102 - our own page
        return capsys.readouterr().out

    return go


@pytest.fixture
def serve(server):
    """Make the server answer by the path that is asked for."""

    def go(files):
        def answer(h):
            path = h.path.partition("?")[0]
            name = next(
                (f for end, f in files.items() if end and path.endswith(end)), files.get("")
            )
            body = (ANSWERS / name).read_bytes() if name else json.dumps(server.payload).encode()
            server._send(h, 200, body)

        server._good = answer

    return go


def test_the_file_example_prints_what_the_page_shows(run):
    assert run(BLOCKS["A station's own file"]).split() == OUTPUTS[0].split()


def test_the_land_example_prints_what_the_page_shows(run):
    assert run(BLOCKS["Land"]).split() == OUTPUTS[1].split()


@pytest.mark.parametrize("title", [t for t in BLOCKS if "service =" in BLOCKS[t]])
def test_the_example_of_an_adapter_runs(title, run, serve):
    adapter = adapter_of(BLOCKS[title])
    serve(SERVED[adapter])
    said = run(BLOCKS[title]).strip()
    if adapter == "place_facts":
        assert said.split() == ["31.0", "Europe/London", "True"]
    elif adapter == "overpass":
        assert re.search(r"tree +2\b", said)
        assert said.endswith("https://www.openstreetmap.org/copyright)")
        assert len(read_land_file("land.geojson").table) == 3
    else:
        assert re.search(r"\d+\.\d", said)
        assert said.endswith(("CC BY 4.0", "km away", "public domain", "larc.nasa.gov/)"))


def test_there_is_an_example_for_each_adapter():
    inner = {"fetched", "ghcn_stations", "kept_rows", "local_days", "providers", "shape", "table"}
    folder = README.parent / "weather"
    modules = {p.stem for p in folder.glob("*.py")} - inner - {"__init__", "units"}
    assert {adapter_of(b) for t, b in BLOCKS.items() if "weather." in b} == modules
