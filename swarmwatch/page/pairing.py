"""Let a phone on the same network in: a code that is shown on this machine, once and not for long.

Whoever is on the network can read what goes over http; the code only keeps out who can't see it.
"""

import hmac
import secrets
from collections.abc import Callable
from dataclasses import dataclass, field

# without letters and digits that look alike
_SIGNS = "ABCDEFGHJKLMNPQRSTUVWXYZ23456789"
_LENGTH = 8
CODE_LIVES_S = 600.0
_PAUSE_S = 60.0
_WRONG_MOST = 5
_PAIRED_FOR_S = 12 * 3600.0


@dataclass(slots=True)
class Pairing:
    """Hands out one code at a time and remembers who gave the right one.

    Parameters
    ----------
    clock
        Seconds that only go forward [s].
    show
        Shows a new code to the keeper at this machine.
    """

    clock: Callable[[], float]
    show: Callable[[str], None]
    _code: str = ""
    _made: float = float("-inf")
    _wrong: int = 0
    _paired: dict[str, float] = field(default_factory=dict)

    def offer(self) -> bool:
        """Show a code if none holds; say whether one holds now."""
        if self._holds():
            return True
        if self.clock() - self._made < _PAUSE_S:
            return False
        self._code = "".join(secrets.choice(_SIGNS) for _ in range(_LENGTH))
        self._made, self._wrong = self.clock(), 0
        self.show(self._code)
        return True

    def _holds(self) -> bool:
        return bool(self._code) and self.clock() - self._made < CODE_LIVES_S

    def try_code(self, code: str) -> str:
        """Return the name of a new session for the right code, "" for a wrong or an old one.

        A code works once. Five wrong ones make it worthless, and no other comes for a minute.
        """
        given = "".join(code.upper().split())
        if not self._holds():
            return ""
        if not hmac.compare_digest(given.encode("utf-8"), self._code.encode("utf-8")):
            self._wrong += 1
            if self._wrong >= _WRONG_MOST:
                self._code = ""
            return ""
        self._code = ""
        self._made = float("-inf")
        session = secrets.token_urlsafe(32)
        self._paired[session] = self.clock()
        return session

    def knows(self, session: str) -> bool:
        """Say whether a session was let in, not too long ago."""
        since = self._paired.get(session)
        if since is not None and self.clock() - since > _PAIRED_FOR_S:
            del self._paired[session]
            return False
        return since is not None
