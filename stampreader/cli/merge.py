"""`stampreader merge`: the register of another station into this one."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from stampreader.cli.common import JsonOption, RegisterOption
from stampreader.cli.person import WhoOption


def command(
    other: Annotated[Path, typer.Argument(metavar="FILE", help="The other station's register.")],
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Show what would happen; store nothing.")
    ] = False,
    who: WhoOption = None,
    as_json: JsonOption = False,
    register: RegisterOption = None,
) -> int:
    """Take over everything another station's register holds; the other is not changed.

    The same merger twice changes nothing. The exit status is 1 if a conflict is to be settled.
    """
    from stampreader.cli.common import emit_json, now, register_path
    from stampreader.cli.person import who_decides
    from stampreader.cli.show_merger import merger_json, merger_lines
    from stampreader.register import merge_registers, open_register, read_settings

    with (
        open_register(register_path(register), create=not dry_run) as book,
        open_register(other, read_only=True) as theirs,
    ):
        person = who_decides(who, read_settings(book))
        merger = merge_registers(book, theirs, who=person, at=now(), rehearse=dry_run)
    if as_json:
        emit_json([merger_json(merger, rehearsed=dry_run)])
    else:
        typer.echo("\n".join(merger_lines(merger, rehearsed=dry_run)))
    return 1 if merger.conflicts else 0
