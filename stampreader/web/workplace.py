"""What all pages share: the register's thread, the readers, the shelf, the gates."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import ParamSpec, TypeVar

from stampreader.reading import StandingCrew
from stampreader.register import Register, open_register
from stampreader.web.guard import Gate
from stampreader.web.shelf import Shelf
from stampreader.web.sitting import Sitting

P = ParamSpec("P")
T = TypeVar("T")

MOST_AT_ONCE = 6
"""Photos that may be under way; one more is asked to wait."""
MOST_PHOTOS = 500
"""Photos one phone may send with one key."""
MOST_SHOWN = 30
"""Results a phone still shows."""


@dataclass
class Workplace:
    """What all pages share.

    Attributes:
        sitting: the register and the confirming; only its own thread touches it.
        crew: readers for photos from the phone.
        shelf: where such photos are kept.
        clock: gives the present time.
        tell: shows a line to the person at the terminal.
        delivery: where photos from the phone go.
        only: the one delivery that is reviewed, if the person named one.
        gates: laptop, and phone where it is asked for.
        stop: ends the program.
    """

    sitting: Sitting
    crew: StandingCrew
    shelf: Shelf
    clock: Callable[[], datetime]
    tell: Callable[[str], None]
    delivery: str
    only: str | None
    thread: ThreadPoolExecutor
    gates: list[Gate] = field(default_factory=list)
    stop: Callable[[], None] = lambda: None
    opened: Callable[[Gate], None] = lambda gate: None
    under_way: int = 0

    async def on_register(self, work: Callable[P, T], *args: P.args, **kwargs: P.kwargs) -> T:
        """Do something with the register, in its own thread, one after the other."""
        loop = asyncio.get_running_loop()
        return await loop.run_in_executor(self.thread, lambda: work(*args, **kwargs))

    async def aside(self, work: Callable[P, T], *args: P.args, **kwargs: P.kwargs) -> T:
        """Do something slow that does not need the register, in another thread."""
        return await asyncio.to_thread(work, *args, **kwargs)

    @property
    def register(self) -> Register:
        """The register; only for work given to `on_register`."""
        return self.sitting.register

    @property
    def phone(self) -> Gate | None:
        """The gate of the phone, if it is open."""
        return next((gate for gate in self.gates if not gate.trusted), None)

    def warm_up(self) -> None:
        """Load the readers now, so that the first photo does not wait for them.

        Raises:
            ReaderError: they cannot be loaded.
        """
        self.crew.warm_up()

    def close(self) -> None:
        """End the readers, close the register, forget photos not kept."""
        self.crew.close()
        self.thread.submit(self.register.close).result()
        self.thread.shutdown()
        self.shelf.close()


def open_workplace(
    place: Path,
    *,
    create: bool,
    who: Callable[[Register], str],
    clock: Callable[[], datetime],
    tell: Callable[[str], None],
    crew: StandingCrew,
    photos: Path,
    delivery: str | None,
) -> Workplace:
    """Open the register in a thread of its own, and put the tools beside it.

    Args:
        place: the register's file.
        create: make a new register if there is none.
        who: tells the name of the person, who may have set it in the register.
        clock: gives the present time.
        tell: shows a line to the person at the terminal.
        crew: readers for photos from the phone.
        photos: folder in which photos from the phone are kept.
        delivery: the delivery to review, and where photos from the phone go.

    Raises:
        RegisterError: the register cannot be opened.
    """
    thread = ThreadPoolExecutor(1, thread_name_prefix="register")

    def begin() -> Sitting:
        register = open_register(place, create=create)
        try:
            sitting = Sitting(register, who(register), clock)
            sitting.look_ahead(delivery)
            return sitting
        except BaseException:
            register.close()
            raise

    try:
        sitting = thread.submit(begin).result()
    except BaseException:
        thread.shutdown()
        raise
    day = clock().astimezone().date().isoformat()
    return Workplace(
        sitting=sitting,
        crew=crew,
        shelf=Shelf(photos),
        clock=clock,
        tell=tell,
        delivery=delivery or f"Phone {day}",
        only=delivery,
        thread=thread,
    )
