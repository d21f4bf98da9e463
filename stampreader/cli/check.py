"""`stampreader check`: is the register whole, and was its history left alone?"""

from __future__ import annotations

import typer

from stampreader.cli.common import JsonOption, RegisterOption, emit_json, register_path, say


def command(as_json: JsonOption = False, register: RegisterOption = None) -> int:
    """Check the file, the chain of the history, and that the present state follows from it.

    The exit status is 1 if a fault is found; each is named, the first broken event of a station
    first. Go on with the latest backup then, and keep the faulty file.
    """
    from stampreader.register import check_register, open_register

    faults = []
    with open_register(register_path(register), read_only=True) as book:
        for fault in check_register(book, lambda title: say(f"looking at {title}")):
            faults.append(fault)
            if as_json:
                emit_json([{"fault": fault}])
            else:
                typer.echo(fault)
    if not faults and not as_json:
        typer.echo("The register is whole.")
    elif faults:
        say("Keep this file as it is, and go on with the latest backup.")
    return 1 if faults else 0
