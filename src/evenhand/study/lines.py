"""Where each key of a TOML text stands. `tomllib` gives the values but not their lines; this gives only the lines.

The text must be valid TOML: it is walked after `tomllib` has accepted it.
"""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_left
from collections.abc import Mapping

Path = tuple[str | int, ...]

_SPACE = re.compile(r"[ \t]*")
_BETWEEN = re.compile(r"(?:[ \t\n]|#[^\n]*)*")
BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_LITERAL = re.compile(r"'[^'\n]*'")
_BASIC = re.compile(r'"(?:[^"\\\n]|\\.)*"')
_LONG = re.compile(r'"""(?:[^\\]|\\.)*?"""(?:"{0,2})|\'\'\'.*?\'\'\'(?:\'{0,2})', re.DOTALL)
_PLAIN = re.compile(r"[^,\]}\n#]*")


def line_index(text: str) -> Mapping[Path, int]:
    """Path of keys and positions in arrays -> line, from 1. Tables have the line of their header."""
    return _Walk(text.replace("\r\n", "\n")).index()


def line_of(lines: Mapping[Path, int], path: Path) -> int | None:
    """The line of `path`, or of the nearest table or array around it that has one."""
    for end in range(len(path), 0, -1):
        if path[:end] in lines:
            return lines[path[:end]]
    return None


class _Walk:
    """One pass over the text. `at` is the position, `table` the path of the table that keys go into."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.table: Path = ()
        self.lines: dict[Path, int] = {}
        self.counts: dict[Path, int] = {}
        self.breaks = [m.start() for m in re.finditer("\n", text)]

    def index(self) -> Mapping[Path, int]:
        self.skip(_BETWEEN)
        while self.at < len(self.text):
            if self.text[self.at] == "[":
                self.header()
            else:
                self.pair(self.table)
            self.skip(_BETWEEN)
        return self.lines

    def skip(self, pattern: re.Pattern[str]) -> str:
        found = pattern.match(self.text, self.at)
        taken = found.group() if found else ""
        self.at += len(taken)
        return taken

    def note(self, path: Path, at: int) -> None:
        self.lines.setdefault(path, bisect_left(self.breaks, at) + 1)

    def header(self) -> None:
        start = self.at
        width = 2 if self.text.startswith("[[", self.at) else 1
        self.at += width
        parts = self.keys()
        self.at += width
        path: Path = ()
        for part in parts[:-1]:
            path = self.inside((*path, part))
        path = (*path, parts[-1])
        if width == 2:
            self.note(path, start)
            self.counts[path] = self.counts.get(path, 0) + 1
            path = self.inside(path)
        self.note(path, start)
        self.table = path

    def inside(self, path: Path) -> Path:
        """The last table of an array of tables; other paths as they are."""
        return (*path, self.counts[path] - 1) if path in self.counts else path

    def keys(self) -> tuple[str, ...]:
        """A key with its dots, and the space around it."""
        parts = []
        while True:
            self.skip(_SPACE)
            quoted = self.skip(_BASIC) or self.skip(_LITERAL)
            parts.append(next(iter(tomllib.loads(f"{quoted} = 0"))) if quoted else self.skip(BARE_KEY))
            self.skip(_SPACE)
            if not self.text.startswith(".", self.at):
                return tuple(parts)
            self.at += 1

    def pair(self, table: Path) -> None:
        start = self.at
        path: Path = table
        for part in self.keys():
            path = (*path, part)
            self.note(path, start)
        self.at += 1  # the equals sign
        self.skip(_SPACE)
        self.value(path)

    def value(self, path: Path) -> None:
        opening = self.text[self.at]
        if opening in "[{":
            self.at += 1
            self.members(path, "]" if opening == "[" else "}")
        elif not (self.skip(_LONG) or self.skip(_BASIC) or self.skip(_LITERAL)):
            self.skip(_PLAIN)

    def members(self, path: Path, closing: str) -> None:
        position = 0
        while True:
            self.skip(_BETWEEN)
            if self.text[self.at] == closing:
                self.at += 1
                return
            if closing == "}":
                self.pair(path)
            else:
                self.note((*path, position), self.at)
                self.value((*path, position))
                position += 1
            self.skip(_BETWEEN)
            if self.text[self.at] == ",":
                self.at += 1
