"""A program that a test kills: it works until then, and says what it has done.

Loading the libraries costs more than the work. Where a process can be copied, one process loads
them, and each copy of it is one program to kill; elsewhere each program is a process of its own.
"""

import datetime as dt
import json
import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

FORKS = hasattr(os, "fork")
# elsewhere each kill costs a start of its own
KILLS = 13 if FORKS else 3
# steps of work that a program has before it: more than it is given time for
STEPS = 30
PATIENCE_S = 120
ENDED = "ended"


class Killable:
    """Starts programs one after the other, and kills them at moments that a seed draws."""

    def __init__(self, seed):
        print(f"moments drawn with seed {seed}")  # noqa: T201 - shown where a test fails
        self.drawn = random.Random(seed)  # noqa: S311
        # how long a step of the work takes, as the program last told [s]
        self.step_s = 0.1
        self._process = None
        self._number = 0

    def start(self, what, **job):
        """Start a program."""
        if self._process is None:
            self._process = subprocess.Popen(  # noqa: S603 - our own interpreter and words
                [sys.executable, __file__],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                encoding="utf-8",
                # a process with threads is not copied well
                env=os.environ | {"OPENBLAS_NUM_THREADS": "1"},
            )
        self._process.stdin.write(json.dumps(job | {"what": what}) + "\n")
        self._process.stdin.flush()
        self._number = int(self._process.stdout.readline())

    def told(self):
        """Wait for the next thing that the program has done."""
        what, seconds = self._process.stdout.readline().split()
        self.step_s = float(seconds)
        return what

    def wait(self, steps=1.0):
        """Wait until a moment within the next steps of the work."""
        time.sleep(self.drawn.uniform(0, steps) * self.step_s)

    def kill(self):
        """Kill the program at its work; return what else it had done."""
        if FORKS:
            os.kill(self._number, signal.SIGKILL)
        else:
            self._process.kill()
        said = []
        for line in self._process.stdout:
            what, number = line.split()
            if what == ENDED:
                assert int(number) == -signal.SIGKILL, "the program ended by itself"
                break
            said.append(what)
        if not FORKS:
            self.close()
        return said

    def close(self):
        """End the process that is copied."""
        if self._process is not None:
            self._process.stdin.close()
            self._process.stdout.close()
            self._process.wait(PATIENCE_S)
            self._process = None


def tell(what, began):
    """Say what has been done, and how long it took."""
    # one write, so that a kill leaves a whole line or none
    os.write(1, f"{what} {time.perf_counter() - began:.6f}\n".encode())


def importing(*, calls):
    """Run one import after the other, as the command does."""
    from typer.testing import CliRunner

    from swarmwatch.cli.main import app

    for n, words in enumerate(calls):
        began = time.perf_counter()
        done = CliRunner().invoke(app, ["import", *words])
        assert done.exit_code == 0, done.output
        tell(n, began)


def serving(*, records):
    """Serve the pages."""
    import served

    with served.serving(records) as running:
        tell(running.host, time.perf_counter())
        time.sleep(PATIENCE_S)


def alerting(*, records, first, moment, address, told):
    """Raise alerts for other colonies at each step, and send them to a service and a terminal."""
    import pandas as pd

    from swarmwatch.alerts.alerting import raise_and_deliver
    from swarmwatch.alerts.channels import Service, Terminal
    from swarmwatch.records import open_records
    from swarmwatch.tables import TABLES, conform

    def write(messages):
        with Path(told).open("a", encoding="utf-8") as file:
            file.write("".join(f"{m.text}\n" for m in messages))

    now = dt.datetime.fromisoformat(moment)
    channels = [Service("phone", address), Terminal(write)]
    with open_records(records) as opened:
        for step in range(first, first + STEPS):
            began = time.perf_counter()
            rows = {
                "colony": [f"C{step}-{n}" for n in range(2)],
                "apiary": "Home",
                "on": now.date(),
                "p_7d": 0.6,
                "p_7d_low": 0.4,
                "p_7d_high": 0.8,
                "p_gone": 0.0,
                "level": "today",
            }
            scores = conform(pd.DataFrame(rows), TABLES["scores"])
            raise_and_deliver(opened, scores, on=now.date(), now=now, channels=channels)
            tell(step, began)


def migrating(*, paths):
    """Open one file of an older version after the other."""
    from swarmwatch.records import open_records

    for n, path in enumerate(paths):
        began = time.perf_counter()
        open_records(path).close()
        tell(n, began)


def load():
    """Load what the work needs, so that a copy starts at once."""
    import alembic.migration
    import alembic.operations
    import alembic.script
    import apprise
    import served
    import typer.testing

    import swarmwatch.alerts.alerting
    import swarmwatch.cli.import_tables
    import swarmwatch.cli.main
    import swarmwatch.records.importing
    from swarmwatch.evidence import load_evidence

    # half a second's worth of libraries come with the first address, and the numbers are kept
    apprise.Apprise().add("json://localhost")
    return load_evidence(), alembic, served, typer, swarmwatch


def work(job):
    """Do one job to its end."""
    {"import": importing, "serve": serving, "alert": alerting, "migrate": migrating}[
        job.pop("what")
    ](**job)


def main():
    """Do the jobs that are asked for, each in a process of its own."""
    sys.path.insert(0, str(Path(__file__).parents[1] / "page"))
    if FORKS:
        load()
    for line in sys.stdin:
        number = os.fork() if FORKS else 0
        if number == 0:
            os.write(1, f"{os.getpid()}\n".encode())
            work(json.loads(line))
            os._exit(0)
        _, status = os.waitpid(number, 0)
        os.write(1, f"{ENDED} {os.waitstatus_to_exitcode(status)}\n".encode())


if __name__ == "__main__":
    main()
