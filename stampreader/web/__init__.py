"""The page in the browser: readings confirmed by eye, the phone as camera, a connector looked up.

Takes a register, readers and a person; serves pages from this computer, and to a phone on the
local network where that is asked for. Decides nothing itself: questions and answers are those of
`confirm`, and everything a person decides goes into the register at once.
"""

from __future__ import annotations

from stampreader.web.guard import MOST_PHOTO_BYTES, Gate
from stampreader.web.server import Listening, local_address, serve
from stampreader.web.workplace import Workplace, open_workplace

__all__ = [
    "MOST_PHOTO_BYTES",
    "Gate",
    "Listening",
    "Workplace",
    "local_address",
    "open_workplace",
    "serve",
]
