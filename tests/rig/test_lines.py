"""The line of every key in a TOML file."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stampreader.rig.lines import line_index, line_of

TEXT = """\
title = "a # not a comment"   # a comment
[point.left]
at = [-0.5,
      2.0]
held_by = [
    { figures = "27/8/7", loaded = "cross" },   # 6
    { strength = "25 kN" },
]
text = \"\"\"
[not.a.table]
\"\"\"
[[fall]]
drop = 1
[[fall]]
drop.at = 2
[point."a b"]
kind = 'anchor'
"""


@pytest.mark.parametrize(
    ("path", "line"),
    [
        pytest.param(("title",), 1, id="top"),
        pytest.param(("point", "left"), 2, id="table"),
        pytest.param(("point", "left", "at", 1), 4, id="array element"),
        pytest.param(("point", "left", "held_by", 0, "loaded"), 6, id="inline table"),
        pytest.param(("point", "left", "held_by", 1, "strength"), 7, id="second inline"),
        pytest.param(("point", "left", "text"), 9, id="long string"),
        pytest.param(("fall", 1, "drop", "at"), 15, id="array of tables, dotted key"),
        pytest.param(("point", "a b", "kind"), 17, id="quoted key"),
        pytest.param(("point", "left", "missing"), 2, id="missing key falls back to its table"),
        pytest.param(("nowhere",), 1, id="nothing around it"),
    ],
)
def test_line_of_a_key(path: tuple[str | int, ...], line: int) -> None:
    """Every key is found on the line it is written on."""
    tomllib.loads(TEXT)
    assert line == line_of(line_index(TEXT), path)


def _paths(value: object, path: tuple[str | int, ...] = ()) -> set[tuple[str | int, ...]]:
    found = {path} if path else set()
    if isinstance(value, dict):
        for key, inner in value.items():
            found |= _paths(inner, (*path, key))
    if isinstance(value, list):
        for place, inner in enumerate(value):
            found |= _paths(inner, (*path, place))
    return found


_words = st.text(
    st.characters(codec="utf-8", exclude_characters="\r\x00\x7f", exclude_categories=("Cc", "Cs")),
    max_size=8,
)
_values = st.recursive(
    st.integers(-99, 99) | st.booleans() | _words,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(_words, inner, max_size=3),
    max_leaves=8,
)


def _write(value: object) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'
    if isinstance(value, list):
        return "[\n" + ",\n".join(map(_write, value)) + " # end\n]"
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{_write(k)} = {_write(v)}" for k, v in value.items()) + " }"
    return str(value)


@given(st.dictionaries(_words, _values, max_size=4), st.dictionaries(_words, _values, max_size=4))
def test_the_scanner_sees_the_same_keys_as_tomllib(
    top: dict[str, object], inner: dict[str, object]
) -> None:
    """The scanner and the standard library's parser agree on every path, whatever is quoted."""
    text = "".join(f"{_write(k)} = {_write(v)}\n" for k, v in top.items() if k != "t")
    text += "[t]\n" + "".join(f"{_write(k)} = {_write(v)}\n" for k, v in inner.items())
    assert _paths(tomllib.loads(text)) == set(line_index(text))
