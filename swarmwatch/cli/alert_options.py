"""Through what alerts go out, and with what manners: options of the verbs that alert."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from swarmwatch.alerts.alerting import Alerted
    from swarmwatch.alerts.channels import Service
    from swarmwatch.alerts.manners import Manners

Through = Annotated[
    list[str] | None,
    typer.Option(
        "--channel",
        metavar="NAME",
        help="Send through this channel, too; its address is in SWARMWATCH_CHANNEL_NAME or the "
        "system's keyring.",
    ),
]
Quiet = Annotated[
    str | None,
    typer.Option(
        "--quiet-hours",
        envvar="SWARMWATCH_QUIET_HOURS",
        metavar="FROM-UNTIL",
        help="Send nothing through channels in these hours, such as 22-7; a later run does.",
    ),
]
Digest = Annotated[
    str | None,
    typer.Option(
        "--digest",
        envvar="SWARMWATCH_DIGEST",
        metavar="LEVEL",
        help="Send alerts up to this level as one message, higher ones each by itself.",
    ),
]
# a service that is busy often takes a message some seconds later
WAITS_S = (2.0, 10.0)


def going_out(
    through: Sequence[str] | None, quiet_hours: str | None, digest: str | None
) -> "tuple[list[Service], Manners]":
    """Return the services that were named, and how to go about them.

    Raises
    ------
    UsageError
        A channel has no address, the hours or the level are none.
    """
    import os

    from swarmwatch.alerts.channels import service_channel
    from swarmwatch.alerts.manners import Manners, QuietHours

    manners = Manners(
        quiet=QuietHours.read(quiet_hours) if quiet_hours else None,
        digest=digest or None,
        waits_s=WAITS_S,
    )
    return [service_channel(name, os.environ) for name in dict.fromkeys(through or [])], manners


def held_words(done: "Alerted") -> str:
    """Say what waits for the quiet hours to end, "" for nothing."""
    if not done.held:
        return ""
    what = "1 alert waits" if done.held == 1 else f"{done.held} alerts wait"
    return f"{what} for the first run after the quiet hours."
