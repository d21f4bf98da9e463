"""`stampreader export`: the whole register as JSON Lines."""

from __future__ import annotations

from stampreader.cli.common import JsonOption, RegisterOption
from stampreader.cli.printing import OverwriteOption, ToOption


def command(
    to: ToOption = ...,  # type: ignore[assignment]
    overwrite: OverwriteOption = False,
    as_json: JsonOption = False,
    register: RegisterOption = None,
) -> None:
    """Write the register with its whole history and evidence as a JSON Lines file.

    Another station imports it, or another program reads it: schema/exchange.schema.json says what
    each line holds.
    """
    from stampreader.cli.common import now, register_path
    from stampreader.cli.printing import refuse_taken, tell_written, write_file
    from stampreader.register import count_connectors, export_lines, open_register

    refuse_taken([to], overwrite=overwrite)
    with open_register(register_path(register), read_only=True) as book:
        write_file(to, (line.encode("utf-8") for line in export_lines(book, at=now())))
        tell_written(to, as_json=as_json, connectors=count_connectors(book))
