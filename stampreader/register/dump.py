"""The shape of a fresh register as SQL text; `python -m stampreader.register.dump` prints it."""

from __future__ import annotations

import tempfile
from pathlib import Path

from stampreader.register.store import Register, open_register


def schema_text(register: Register) -> str:
    """Tables, indexes, triggers and views of a register, in the order they were made."""
    rows = register.rows(
        "SELECT sql FROM sqlite_schema WHERE sql IS NOT NULL AND name NOT LIKE 'sqlite_%'"
        " ORDER BY rowid"
    )
    header = [
        f"PRAGMA application_id = {register.rows('PRAGMA application_id')[0]['application_id']}"
    ]
    return "".join(f"{text};\n" for text in (*header, *(str(row["sql"]) for row in rows)))


def fresh_schema() -> str:
    """The same of a register just begun."""
    with (
        tempfile.TemporaryDirectory() as folder,
        open_register(Path(folder) / "fresh.sqlite", create=True) as register,
    ):
        return schema_text(register)


if __name__ == "__main__":
    print(fresh_schema(), end="")
