"""Where each key of a TOML file stands, so that a message can name the line to correct.

`tomllib` gives lines for faults of grammar only. This scanner walks a file that `tomllib` has
already accepted and notes, for every key and every element of an array, the line it begins on.
"""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_left
from collections.abc import Mapping

Path = tuple[str | int, ...]
"""Keys and array positions from the top of the file, such as `("point", "top", "at", 0)`."""

_SPACE = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_BLANK = re.compile(r"[ \t]*")
_BARE = re.compile(r"[A-Za-z0-9_-]+")
_QUOTED = re.compile(r'"(?:[^"\\\n]|\\.)*"|\'[^\'\n]*\'')
_STRING = re.compile(
    r'"""(?:[^\\]|\\.)*?"{3,5}(?!")|\'\'\'.*?\'{3,5}(?!\')|"(?:[^"\\\n]|\\.)*"|\'[^\'\n]*\'',
    re.DOTALL,
)
_SCALAR = re.compile(r"[^,\]}#\n]+")


def line_index(text: str) -> dict[Path, int]:
    """The line, counted from 1, of every key and array element of a valid TOML text.

    Example: in `"[a]\\nb = [1,\\n 2]"` the path `("a", "b", 1)` stands on line 3.
    """
    return _Scanner(text.replace("\r\n", "\n")).run()


def line_of(index: Mapping[Path, int], path: Path) -> int:
    """The line of a path, or of the nearest table or array around it; 1 if there is none."""
    for length in range(len(path), 0, -1):
        if path[:length] in index:
            return index[path[:length]]
    return 1


class _Scanner:
    """One walk over a text; `at` is the character being looked at."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.found: dict[Path, int] = {}
        self.counts: dict[Path, int] = {}
        self.ends = [found.start() for found in re.finditer("\n", text)]

    def run(self) -> dict[Path, int]:
        base: Path = ()
        while self._skip(_SPACE) < len(self.text):
            if self.text[self.at] == "[":
                base = self._header()
            else:
                self._pair(base)
        return self.found

    def _skip(self, pattern: re.Pattern[str]) -> int:
        found = pattern.match(self.text, self.at)
        if found is not None:
            self.at = found.end()
        return self.at

    def _note(self, path: Path, at: int) -> None:
        self.found.setdefault(path, bisect_left(self.ends, at) + 1)

    def _header(self) -> Path:
        start = self.at
        many = self.text.startswith("[[", self.at)
        self.at += 2 if many else 1
        path = self._with_counts(self._key(), many)
        for length in range(1, len(path) + 1):
            self._note(path[:length], start)
        self._skip(_BLANK)
        self.at += 2 if many else 1
        return path

    def _with_counts(self, keys: list[str], many: bool) -> Path:
        """The path of a header, with the position of the last element of arrays of tables."""
        path: Path = ()
        for place, key in enumerate(keys):
            path = (*path, key)
            if many and place == len(keys) - 1:
                self.counts[path] = self.counts.get(path, -1) + 1
            if path in self.counts:
                path = (*path, self.counts[path])
        return path

    def _key(self) -> list[str]:
        parts: list[str] = []
        while True:
            self._skip(_BLANK)
            start = self.at
            if self.text[start] in "\"'":
                token = self.text[start : self._skip(_QUOTED)]
                parts.append(tomllib.loads(f"key = {token}")["key"])
            else:
                parts.append(self.text[start : self._skip(_BARE)])
            self._skip(_BLANK)
            if self.text[self.at] != ".":
                return parts
            self.at += 1

    def _pair(self, base: Path) -> None:
        start = self.at
        keys = self._key()
        self.at += 1  # the equals sign
        self._skip(_BLANK)
        path = base
        for key in keys:
            path = (*path, key)
            self._note(path, start)
        self._value(path)

    def _value(self, path: Path) -> None:
        first = self.text[self.at]
        if first == "[":
            self._array(path)
        elif first == "{":
            self._inline(path)
        else:
            self._skip(_STRING if first in "\"'" else _SCALAR)

    def _array(self, path: Path) -> None:
        self.at += 1
        place = 0
        while self.text[self._skip(_SPACE)] != "]":
            self._note((*path, place), self.at)
            self._value((*path, place))
            place += 1
            if self.text[self._skip(_SPACE)] == ",":
                self.at += 1
        self.at += 1

    def _inline(self, path: Path) -> None:
        self.at += 1
        while self.text[self._skip(_SPACE)] != "}":
            self._pair(path)
            if self.text[self._skip(_SPACE)] == ",":
                self.at += 1
        self.at += 1
