"""A progress bar on standard error, for more than a few photos and only on a terminal."""

from __future__ import annotations

import sys
from collections.abc import Generator, Iterable
from typing import TypeVar

FEW = 4
"""So many are done before a bar would help."""

T = TypeVar("T")


def counted(
    items: Iterable[T], total: int, what: str = "Reading photos"
) -> Generator[T, None, None]:
    """The same items, with a bar that counts them; close it before an error is told."""
    if total <= FEW or not sys.stderr.isatty():
        yield from items
        return
    from rich.console import Console
    from rich.progress import (
        BarColumn,
        MofNCompleteColumn,
        Progress,
        TextColumn,
        TimeRemainingColumn,
    )

    bar = Progress(
        TextColumn("{task.description}"),
        BarColumn(),
        MofNCompleteColumn(),
        TimeRemainingColumn(),
        console=Console(stderr=True),
        transient=True,
        redirect_stdout=False,  # the output belongs to whoever reads it
        redirect_stderr=False,
    )
    with bar:
        task = bar.add_task(what, total=total)
        for item in items:
            bar.advance(task)
            yield item
