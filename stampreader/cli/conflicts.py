"""`stampreader conflicts`: what merged stations recorded against each other."""

from __future__ import annotations

import typer

from stampreader.cli.common import JsonOption, RegisterOption


def command(as_json: JsonOption = False, register: RegisterOption = None) -> int:
    """List everything a person must settle after a merger, with what to do.

    The exit status is 1 if there is any.
    """
    from stampreader.cli.common import emit_json, register_path, say
    from stampreader.cli.show_merger import conflict_json, conflict_lines
    from stampreader.register import list_conflicts, open_register

    with open_register(register_path(register), read_only=True) as book:
        found = list_conflicts(book)
    if as_json:
        emit_json(map(conflict_json, found))
    elif found:
        typer.echo("\n".join(conflict_lines(found)))
    else:
        say("There is nothing to settle.")
    return 1 if found else 0
