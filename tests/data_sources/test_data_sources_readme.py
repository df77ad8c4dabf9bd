import re
from pathlib import Path

import pytest

README = Path(__file__).parents[2] / "data_sources" / "README.md"
BLOCKS = re.findall(r"```python\n(.*?)```", README.read_text(encoding="utf-8"), re.DOTALL)
OUTPUTS = re.findall(r"```text\n(.*?)```", README.read_text(encoding="utf-8"), re.DOTALL)


@pytest.fixture
def run(tmp_path, monkeypatch, server, capsys):
    def go(block):
        monkeypatch.chdir(tmp_path)
        block = block.replace("https://api.open-meteo.com/v1/forecast", server.url)
        exec(compile(block, str(README), "exec"), {})  # noqa: S102 - our own page
        return capsys.readouterr().out

    return go


def test_the_file_example_prints_what_the_page_shows(run):
    assert run(BLOCKS[0]).split() == OUTPUTS[0].split()


def test_the_service_example_ends_in_the_credit(run):
    assert run(BLOCKS[1]).strip().endswith("CC BY 4.0")


def test_there_is_an_example_for_each_adapter():
    assert [("read_weather_file" in b, "fetch_open_meteo" in b) for b in BLOCKS] == [
        (True, False),
        (False, True),
    ]
