"""Through what does an alert reach the keeper: the terminal, or a service on the phone or by mail?

A channel has a name. The address of a service holds its secret, so it comes from the environment
(``SWARMWATCH_CHANNEL_<NAME>``) or the system's keyring, is never stored and never shown.
"""

import logging
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any, Protocol

from swarmwatch.errors import SwarmwatchError, UsageError

TERMINAL = "terminal"
_PREFIX = "SWARMWATCH_CHANNEL_"
_NAME = re.compile(r"[A-Za-z][A-Za-z0-9_-]{0,39}")
_KEYRING = "swarmwatch"
_ANSWER = re.compile(r"error=(\d{3})\b")
# it may have been taken all the same
_TOO_LATE = re.compile(r"timed? ?out", re.IGNORECASE)
_TITLES = {"today": "Bees: today", "act": "Bees: act", "look-soon": "Bees: look soon"}


class ChannelError(SwarmwatchError):
    """A channel did not take a message; the text holds no secret.

    `passing` says that another try may do, `unsure` that it may have been taken all the same.
    """

    def __init__(self, message: str, *, passing: bool = False, unsure: bool = False) -> None:
        super().__init__(message)
        self.passing, self.unsure = passing, unsure


@dataclass(frozen=True, slots=True, kw_only=True)
class Message:
    """One alert on its way: its key in the outbox, and what is said about whom.

    `unsure` says that it may have come before; its text says so, too.
    """

    key: str
    level: str
    text: str
    colony: str | None = None
    box: str | None = None
    tries: int = 0
    unsure: bool = False


class Channel(Protocol):
    """A way to the keeper. `together` channels take all messages of a run at once."""

    @property
    def name(self) -> str:
        """Name it in the records."""

    @property
    def together(self) -> bool:
        """Say whether one `send` takes all that waits."""

    def send(self, messages: Sequence[Message]) -> None:
        """Send, or raise ChannelError when it did not arrive."""


@dataclass(frozen=True, slots=True)
class Terminal:
    """The digest on the terminal: `write` puts all messages of the run out at once."""

    write: Callable[[Sequence[Message]], None]
    name: str = TERMINAL
    together: bool = True

    def send(self, messages: Sequence[Message]) -> None:
        """Write the messages."""
        self.write(messages)


@dataclass(frozen=True, slots=True)
class Service:
    """Any service that apprise can reach; its address is left out of every text about it."""

    name: str
    url: str = field(repr=False)
    together: bool = False

    def send(self, messages: Sequence[Message]) -> None:
        """Send plain text: one message, or several as one.

        Raises
        ------
        ChannelError
            apprise is missing, the address can't be understood, or the service did not take it.
        """
        apprise = _apprise()
        with _silenced() as answers:
            service = apprise.Apprise()
            if not _added(service, self.url):
                message = (
                    f"channel {self.name}: the address in {variable(self.name)} can't be "
                    "understood. Compare it with the list of services of apprise."
                )
                raise ChannelError(message)
            if not self._notify(apprise, service, messages):
                raise self._refusal(answers)

    def _notify(self, apprise: Any, service: Any, messages: Sequence[Message]) -> bool:  # noqa: ANN401 - apprise has no types
        title, body = _letter(messages)
        try:
            text = apprise.NotifyFormat.TEXT
            return bool(service.notify(title=title, body=body, body_format=text))
        except Exception:  # whatever a service's plugin raises may hold the address
            return False

    def _refusal(self, answers: "_Answers") -> ChannelError:
        if answers.too_late:
            message = (
                f"channel {self.name}: the service answered too late, so the message may have "
                "come or not. It is sent again next time, and says so then."
            )
            return ChannelError(message, unsure=True)
        answer = f" (it answered {answers.codes[-1]})" if answers.codes else ""
        message = (
            f"channel {self.name}: the service did not take the message{answer}. Check the "
            f"network and the address in {variable(self.name)}; it is tried again next time."
        )
        return ChannelError(message, passing=True)


def _letter(messages: Sequence[Message]) -> tuple[str, str]:
    """Return title and text of what goes out at once."""
    if len(messages) == 1:
        return _TITLES.get(messages[0].level, "Bees"), messages[0].text
    listed = (f"{m.level}: {m.text}" for m in messages)
    return f"Bees: {len(messages)} alerts", "\n\n".join(listed)


def variable(name: str) -> str:
    """Return the environment variable that holds a channel's address."""
    return _PREFIX + name.upper().replace("-", "_")


def address_in_keyring(name: str) -> str:
    """Return the address that the system's keyring keeps for a channel, "" where it keeps none."""
    try:
        import keyring  # late: comes with an extra
        from keyring.errors import KeyringError
    except ImportError:
        return ""
    try:
        return keyring.get_password(_KEYRING, name) or ""
    except KeyringError:
        return ""


def service_channel(
    name: str,
    environment: Mapping[str, str],
    *,
    in_keyring: Callable[[str], str] = address_in_keyring,
) -> Service:
    """Return a service channel by its name.

    Parameters
    ----------
    name
        Its name, such as ``phone``.
    environment
        Holds its address in ``SWARMWATCH_CHANNEL_<NAME>``.
    in_keyring
        Returns the address kept for a name elsewhere, "" for none; asked where the environment
        has none.

    Raises
    ------
    UsageError
        The name is none, no address is known, or apprise is missing.
    """
    # what was typed is not repeated: an address given for a name would show its secret
    if not _NAME.fullmatch(name) or name.lower() == TERMINAL:
        message = (
            "a channel's name is a letter, then letters, digits, - or _, and not 'terminal'. "
            f"Put the address itself into the variable {_PREFIX}NAME and give NAME."
        )
        raise UsageError(message)
    url = environment.get(variable(name), "").strip() or in_keyring(name).strip()
    if not url:
        message = (
            f"channel {name}: its address is not known. Set {variable(name)} to the address of "
            f"the service, as apprise writes it, or keep it with `keyring set {_KEYRING} {name}`."
        )
        raise UsageError(message)
    try:
        _apprise()
    except ChannelError as error:
        raise UsageError(str(error)) from error
    return Service(name=name, url=url)


def _apprise() -> Any:  # noqa: ANN401 - apprise has no types
    try:
        import apprise  # late: an extra, and slow to load
    except ImportError as error:
        message = "sending alerts needs apprise. Install it: pip install 'swarmwatch[alerts]'"
        raise ChannelError(message) from error
    return apprise


def _added(service: Any, url: str) -> bool:  # noqa: ANN401 - apprise has no types
    try:
        return bool(service.add(url))
    except Exception:  # a parser's complaint would repeat the address
        return False


class _Answers(logging.Handler):
    """What a service answered, as far as apprise's log tells: codes, and whether it was late."""

    def __init__(self) -> None:
        super().__init__(logging.DEBUG)
        self.codes: list[str] = []
        self.too_late = False

    def emit(self, record: logging.LogRecord) -> None:
        """Gather no text: it names addresses."""
        text = record.getMessage()
        self.codes += _ANSWER.findall(text)
        self.too_late |= _TOO_LATE.search(text) is not None


@contextmanager
def _silenced() -> Iterator[_Answers]:
    """Keep apprise's log, which names addresses, off the terminal; gather only its answers."""
    log, answers = logging.getLogger("apprise"), _Answers()
    before = log.propagate, log.handlers, log.level
    log.propagate, log.handlers = False, [answers]
    log.setLevel(logging.DEBUG)
    try:
        yield answers
    finally:
        log.propagate, log.handlers = before[:2]
        log.setLevel(before[2])
