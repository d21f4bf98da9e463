"""How photos are read: by which readers, on this machine's cores or a Dask scheduler's."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from stampreader.errors import UsageError

if TYPE_CHECKING:
    from stampreader.reading import Attempt

JobsOption = Annotated[
    int | None,
    typer.Option("--jobs", "-j", min=1, help="Photos read at once; else one a core."),
]
SchedulerOption = Annotated[
    str | None,
    typer.Option(
        "--scheduler",
        metavar="ADDRESS",
        help="Read on the machines of a Dask scheduler, such as tcp://10.0.0.1:8786, that see the "
        "photos under the same path.",
    ),
]

ReadersOption = Annotated[
    str | None,
    typer.Option("--readers", metavar="NAME,…", help="Readers to use; else all installed."),
]
ReliefOption = Annotated[
    bool,
    typer.Option(
        "--relief",
        help="The photos are 3 to 12 shots of one worn face with the lamp moved: read them "
        "together (see capture-guide).",
    ),
]


@contextmanager
def attempts_on(
    paths: Sequence[Path],
    *,
    readers: Sequence[str] | None,
    jobs: int | None,
    scheduler: str | None,
    crops: bool = False,
    picture: str | None = None,
) -> Iterator[Iterator[Attempt]]:
    """The attempts at these photos in their order, counted on the screen; ended when it is left.

    Raises:
        UsageError: `--jobs` with a scheduler, or the extra is not installed.
        ReaderError: the readers, or the machines, cannot be used.
    """
    from stampreader.cli.progress import counted
    from stampreader.reading import read_many, read_on_cluster

    _refuse(jobs, scheduler)
    run = (
        read_many(paths, readers=readers, jobs=jobs, crops=crops, picture=picture)
        if scheduler is None
        else read_on_cluster(
            paths, scheduler=scheduler, readers=readers, crops=crops, picture=picture
        )
    )
    attempts = counted(run, len(paths))
    try:
        yield attempts
    finally:
        attempts.close()  # an error is told below the bar, which would else wipe it away
        run.close()


def _refuse(jobs: int | None, scheduler: str | None) -> None:
    if scheduler is None:
        return
    if jobs is not None:
        raise UsageError(
            "--jobs counts the workers of this machine, and --scheduler reads on others",
            remedy="Give one of them.",
        )
    if find_spec("distributed") is None:
        raise UsageError(
            "reading on a cluster needs Dask, which is not installed",
            remedy='Run `pip install "stampreader[cluster]"`.',
        )
