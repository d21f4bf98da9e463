"""The register: one SQLite file with an append-only history of every connector.

Takes decisions and life events of persons, readings and evidence; gives connectors as they are
now, their history, and what waits to be confirmed. The present state is always worked out from
the events. Imports no other room: it takes and gives values from `words`.
"""

from __future__ import annotations

from stampreader.register.derive import FIELDS, KN_FIELDS, TEXT_FIELDS, Connector, derive
from stampreader.register.events import Event, Kind
from stampreader.register.faults import (
    NewerRegister,
    NoRegister,
    NotARegister,
    RegisterBusy,
)
from stampreader.register.steps import LIFE_WORDS, Life, refusal
from stampreader.register.store import Register, open_register

__all__ = [
    "FIELDS",
    "KN_FIELDS",
    "LIFE_WORDS",
    "TEXT_FIELDS",
    "Connector",
    "Event",
    "Kind",
    "Life",
    "NewerRegister",
    "NoRegister",
    "NotARegister",
    "Register",
    "RegisterBusy",
    "derive",
    "open_register",
    "refusal",
]
