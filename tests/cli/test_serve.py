"""The verb `serve`: it starts, says where, refuses what can't be, and leaves a form file."""

import re
import socket
import sys

import pytest
from typer.testing import CliRunner

from swarmwatch.cli.main import app
from swarmwatch.errors import UsageError
from swarmwatch.page import serving
from swarmwatch.records import open_records

RUN = CliRunner()
ON = ["--on", "2026-06-05"]


@pytest.fixture(scope="module")
def empty_records(tmp_path_factory):
    path = tmp_path_factory.mktemp("new") / "bees.sqlite"
    with open_records(path, create=True):
        return path


def run(records, *words):
    return RUN.invoke(app, ["serve", "--records", str(records), *words])


def test_check_starts_asks_and_ends(empty_records):
    done = run(empty_records, "--check", "--port", "0", *ON)
    assert done.exit_code == 0, done.output
    size = re.fullmatch(r"http://127\.0\.0\.1:\d+/ answers: (\d+) bytes\.\n", done.stdout)[1]
    assert 5_000 < int(size) < 100 * 1024


def test_a_port_that_is_taken_is_refused_with_the_way_out(empty_records):
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = str(taken.getsockname()[1])
        done = run(empty_records, "--check", "--port", port)
    assert isinstance(done.exception, UsageError)
    assert f"port {port} of 127.0.0.1 can't be used" in str(done.exception)
    assert "--port" in str(done.exception)


def test_records_that_are_not_there_are_refused(tmp_path):
    done = run(tmp_path / "none.sqlite", "--check", "--port", "0")
    assert "there are no records here" in str(done.exception)
    assert list(tmp_path.iterdir()) == []


def test_a_day_that_is_none_is_refused(empty_records):
    assert run(empty_records, "--check", "--on", "yesterday").exit_code == 2


def test_the_form_file_is_written_and_not_over_another(records_of_demo, tmp_path):
    file = tmp_path / "form.html"
    done = run(records_of_demo, "--form-file", str(file))
    assert done.exit_code == 0, done.output
    assert '<option value="Garnet"' in file.read_text(encoding="utf-8")
    file.write_text("mine", encoding="utf-8")
    assert "there already" in str(run(records_of_demo, "--form-file", str(file)).exception)
    assert file.read_text(encoding="utf-8") == "mine"
    assert run(records_of_demo, "--form-file", str(file), "--force").exit_code == 0
    assert "Garnet" in file.read_text(encoding="utf-8")


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux has a second address for itself")
def test_on_the_lan_it_listens_at_that_address_too_and_at_no_other(empty_records, monkeypatch):
    listened = []
    monkeypatch.setattr(serving, "lan_address", lambda: "127.0.0.2")
    monkeypatch.setattr(
        serving,
        "serve_until_ended",
        lambda _, sockets: listened.extend(s.getsockname()[0] for s in sockets),
    )
    done = run(empty_records, "--lan", "--port", "0", *ON)
    assert done.exit_code == 0, done.output
    assert listened == ["127.0.0.1", "127.0.0.2"]
    assert re.search(r"http://127\.0\.0\.2:\d+/ for phones on your network", done.stdout)
    assert "Whoever is on that network can read" in done.stderr


def test_without_lan_it_listens_at_this_machine_only(empty_records, monkeypatch):
    listened = []
    monkeypatch.setattr(
        serving,
        "serve_until_ended",
        lambda _, sockets: listened.extend(s.getsockname()[0] for s in sockets),
    )
    assert run(empty_records, "--port", "0", *ON).exit_code == 0
    assert listened == ["127.0.0.1"]


def test_a_machine_on_no_network_is_told_so(monkeypatch):
    def no_way(*_):
        raise OSError

    monkeypatch.setattr(socket.socket, "connect", no_way)
    with pytest.raises(UsageError, match="on no network"):
        serving.lan_address()
