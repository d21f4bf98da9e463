"""The published shape of the register is that of a fresh one."""

from pathlib import Path

from stampreader.register.dump import fresh_schema

ROOT = Path(__file__).resolve().parents[2]


def test_the_dump_is_that_of_a_fresh_register():
    """`schema/register.sql` is what `python -m stampreader.register.dump` prints."""
    assert (ROOT / "schema" / "register.sql").read_text("utf-8") == fresh_schema()


def test_the_dump_makes_a_register(tmp_path):
    """The dump is plain SQL: SQLite's own parser makes the same tables from it."""
    import sqlite3

    text = fresh_schema()
    with sqlite3.connect(tmp_path / "made.sqlite") as conn:
        conn.executescript(text)
        names = {row[0] for row in conn.execute("SELECT name FROM sqlite_schema")}
    assert {"events", "connectors", "arrivals", "photos", "readings", "crops"} <= names
