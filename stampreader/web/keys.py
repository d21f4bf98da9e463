"""Keys: a link opens the page once, and the session it starts carries a key in every request.

Session keys are kept as hashes. All keys are compared in constant time, every one each time, so
that the time taken tells nothing.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta

Clock = Callable[[], datetime]
KEY_BYTES = 32
NEARLY = timedelta(minutes=1)
"""A link with less time left is not shown any more."""


@dataclass(eq=False, slots=True)
class Session:
    """A browser that came in by a link.

    Attributes:
        number: its place in the list of those that came in.
        name: what it calls itself, for the person at the laptop.
        since, last: when it came in and when it was last heard of.
        may_confirm: whether it may decide about readings.
        photos: photos it has sent.
        sent: what came of its latest photos, newest first.
    """

    number: int
    name: str
    since: datetime
    last: datetime
    may_confirm: bool
    photos: int = 0
    sent: list[object] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Terms:
    """How long keys hold; `None` for as long as the program runs.

    Attributes:
        link: time in which a link has to be opened.
        session: longest time a session holds.
        idle: time without a request after which it ends.
        may_confirm: whether a new session may decide about readings.
    """

    link: timedelta | None = None
    session: timedelta | None = None
    idle: timedelta | None = None
    may_confirm: bool = True


@dataclass(frozen=True, slots=True)
class Link:
    """The key of a link that opens once, and when it no longer does."""

    key: str
    made: datetime
    until: datetime | None


class Keyring:
    """The links and sessions of one address."""

    def __init__(self, clock: Clock, terms: Terms) -> None:
        self.terms = terms
        self._clock = clock
        self._link: Link | None = None
        self._sessions: dict[bytes, Session] = {}
        self._count = 0

    def link(self) -> Link:
        """The link that opens now; a new one where the last was used or is nearly over."""
        now = self._clock()
        link = self._link
        if link is None or _over(link.made, self.terms.link, now + NEARLY):
            until = None if self.terms.link is None else now + self.terms.link
            link = self._link = Link(secrets.token_urlsafe(KEY_BYTES), now, until)
        return link

    def redeem(self, key: str, name: str) -> str | None:
        """Open a link: gives the key of a new session, or `None` if the link does not open."""
        now, link = self._clock(), self._link
        if link is None or not hmac.compare_digest(_digest(key), _digest(link.key)):
            return None
        self._link = None
        if _over(link.made, self.terms.link, now):
            return None
        own = secrets.token_urlsafe(KEY_BYTES)
        self._count += 1
        self._sessions[_digest(own)] = Session(self._count, name, now, now, self.terms.may_confirm)
        return own

    def session(self, key: str) -> Session | None:
        """The session of a key, noted as heard of now; `None` if it is unknown or over."""
        now = self._clock()
        self._forget_over(now)
        found = _find(key, self._sessions)
        if found is None:
            return None
        session = self._sessions[found]
        session.last = now
        return session

    def ends(self, session: Session) -> datetime | None:
        """When a session ends at the latest."""
        return None if self.terms.session is None else session.since + self.terms.session

    def sessions(self) -> list[Session]:
        """Sessions that hold now."""
        self._forget_over(self._clock())
        return list(self._sessions.values())

    def numbered(self, number: int) -> Session | None:
        """The session with this number."""
        return next((s for s in self.sessions() if s.number == number), None)

    def revoke(self, number: int) -> bool:
        """End a session at once; false if there is none with this number."""
        before = len(self._sessions)
        self._sessions = {d: s for d, s in self._sessions.items() if s.number != number}
        return len(self._sessions) < before

    def revoke_all(self) -> None:
        """End every session and every link at once."""
        self._link = None
        self._sessions.clear()

    def _forget_over(self, now: datetime) -> None:
        terms = self.terms
        self._sessions = {
            digest: session
            for digest, session in self._sessions.items()
            if not _over(session.since, terms.session, now)
            and not _over(session.last, terms.idle, now)
        }


def _over(since: datetime, holds: timedelta | None, now: datetime) -> bool:
    return holds is not None and not since <= now < since + holds


def _digest(key: str) -> bytes:
    return hashlib.sha256(key.encode("utf-8", "surrogatepass")).digest()


def _find(key: str, table: dict[bytes, Session]) -> bytes | None:
    """The entry of a key, compared with every entry in constant time."""
    given, found = _digest(key), None
    for known in table:
        if hmac.compare_digest(given, known):
            found = known
    return found
