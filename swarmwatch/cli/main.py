"""Which command was asked for, and how do faults reach the keeper?"""

import sys
import traceback
from collections.abc import Sequence
from importlib import import_module

import typer

from data_sources.errors import SourceError
from swarmwatch import __version__
from swarmwatch.cli.console import complain
from swarmwatch.errors import SwarmwatchError

# verb on the command line: module of swarmwatch.cli (the function has the module's name)
VERBS = {
    "demo": "demo",
    "new": "new",
    "import": "import_tables",
    "export": "export",
    "backup": "backup",
    "restore": "restore",
    "undo": "undo",
    "log": "log",
    "inspect": "inspect_colony",
    "weather": "weather",
    "score": "score",
    "round": "weekly_round",
    "explain": "explain",
    "land": "fetch_land",
    "place": "place",
    "forecast": "forecast",
    "box": "box",
    "map": "draw_map",
    "alert": "alert",
    "serve": "serve",
    "backtest": "backtest",
    "learn": "learn",
    "evidence": "evidence",
}

app = typer.Typer(
    name="swarmwatch",
    help="Which colony may swarm, why, what to do by when, and where to hang bait boxes.",
    epilog="Start with: swarmwatch demo",
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    no_args_is_help=True,
    add_completion=False,
)
for _verb, _module in VERBS.items():
    app.command(_verb)(getattr(import_module(f"swarmwatch.cli.{_module}"), _module))


def _show_version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"swarmwatch {__version__}")
        raise typer.Exit


@app.callback()
def _common(
    version: bool = typer.Option(
        False, "--version", callback=_show_version, is_eager=True, help="Print the version."
    ),
) -> None:
    """Which colony may swarm, why, what to do by when, and where to hang bait boxes."""


def main(argv: Sequence[str] | None = None) -> None:
    """Run one command; own errors become plain lines on stderr and exit code 2."""
    try:
        app(args=None if argv is None else list(argv))
    except (SwarmwatchError, SourceError) as error:
        complain(str(error))
        sys.exit(2)
    except BrokenPipeError:
        sys.exit(0)
    except Exception:
        complain(
            "swarmwatch met a fault of its own and stopped; your records are as they were. "
            f"The details for a bug report are in {_keep_details(traceback.format_exc())}"
        )
        sys.exit(2)


def _keep_details(text: str) -> str:
    import tempfile

    with tempfile.NamedTemporaryFile(
        "w", encoding="utf-8", prefix="swarmwatch-fault-", suffix=".txt", delete=False
    ) as file:
        file.write(text)
    return file.name


if __name__ == "__main__":
    main()
