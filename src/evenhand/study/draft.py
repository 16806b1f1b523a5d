"""The tables of study.toml with every single value checked; what they mean together is not looked at yet."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from evenhand.errors import Problem
from evenhand.study.keys import Key
from evenhand.study.lines import Path, line_of
from evenhand.study.schema import SCHEMA, TABLES, children
from evenhand.study.values import Fault, checked, shown
from evenhand.wording import listed, nearest, plain


@dataclass(slots=True)
class Findings:
    """The problems found so far. name : of the file. lines : from `line_index`."""

    name: str
    lines: Mapping[Path, int]
    found: list[tuple[int, Problem]] = field(default_factory=list)

    def add(self, slug: str, path: Path, what: str, do: str) -> None:
        """Note a problem at `path`, a path of keys and positions."""
        line = line_of(self.lines, path)
        place = self.name if line is None else f"{self.name}, line {line}"
        where = f"{place}, {_spoken(path)}" if path else place
        self.found.append((line or 0, Problem(slug, what, where, do)))

    def problems(self) -> tuple[Problem, ...]:
        """All of them, in order of lines."""
        return tuple(problem for _, problem in sorted(self.found, key=lambda pair: pair[0]))


@dataclass(frozen=True, slots=True)
class Draft:
    """One table: the values that are sound, and its sub-tables by name."""

    table: str
    path: Path
    values: Mapping[str, Any]
    below: Mapping[str, Sequence[Draft]]

    def get(self, key: str) -> Any:
        """The value, None if not given or not sound."""
        return self.values.get(key)

    @property
    def name(self) -> str:
        """Its `name`, empty if it has none that is sound."""
        return str(self.values.get("name") or "")


def read_draft(raw: Mapping[str, object], findings: Findings) -> Draft:
    """The whole file as a tree of drafts; what is wrong goes into `findings`."""
    return _table("", raw, (), findings)


def _table(table: str, raw: Mapping[str, object], path: Path, findings: Findings) -> Draft:
    keys = SCHEMA.get(table, {})
    values: dict[str, Any] = {}
    for name, value in raw.items():
        if name in children(table):
            continue
        if name not in keys:
            findings.add("study-unknown-key", (*path, name), *_unknown(table, name))
            continue
        found = checked(keys[name], value)
        if isinstance(found, Fault):
            findings.add(found.slug, (*path, name), found.what, found.do)
        else:
            values[name] = found
    for key in keys.values():
        if key.required and key.name not in raw:
            findings.add("study-missing", path, f"{TABLES[table].header} has no {key.name}: {key.help}", f"add: {_line(key)}")
    return Draft(table, path, values, {name: _below(table, name, raw, path, findings) for name in children(table)})


def _below(table: str, name: str, raw: Mapping[str, object], path: Path, findings: Findings) -> list[Draft]:
    whole = f"{table}.{name}" if table else name
    asked = TABLES[whole]
    given = raw.get(name)
    here = (*path, name)
    if given is None or given == []:
        if asked.required:
            do = f"add a table {asked.header}; all of its keys are in docs/reference/study-toml.md"
            findings.add("study-missing", path, f"there is no {asked.header}: {_lower(asked.help)}", do)
        return []
    if asked.many and isinstance(given, list) and all(isinstance(entry, dict) for entry in given):
        return [_table(whole, entry, (*here, position), findings) for position, entry in enumerate(given)]
    if not asked.many and isinstance(given, dict):
        return [_table(whole, given, here, findings)]
    many = " (may be repeated)" if asked.many else " (only once)"
    what = f"{name} is {shown(given)} written as {_header_of(given, whole)}; it is a table {asked.header}{many}"
    findings.add("study-value", here, what, f"write {asked.header} on a line of its own above its keys")
    return []


def _header_of(given: object, whole: str) -> str:
    if isinstance(given, dict):
        return f"[{whole}]"
    tables = isinstance(given, list) and given and all(isinstance(entry, dict) for entry in given)
    return f"[[{whole}]]" if tables else "a key"


def _unknown(table: str, name: str) -> tuple[str, str]:
    """What to say of a key that this table does not have: what it may have meant, or where it belongs."""
    place = TABLES[table].header if table else "the file"
    known = [*SCHEMA.get(table, {}), *children(table)]
    what = f"{place} has no key {plain(name, 60)}"
    near = nearest(name, known)
    if near:
        return what, f"did you mean {near}?"
    homes = [TABLES[other].header for other, keys in SCHEMA.items() if name in keys]
    if homes:
        return what, f"{name} belongs in {listed(homes, 'or')}"
    return what, f"remove it, or use one of: {', '.join(known)}"


def _line(key: Key) -> str:
    return f"{key.name} = {key.example}"


def _lower(sentence: str) -> str:
    return (sentence[0].lower() + sentence[1:]).rstrip(".")


def _spoken(path: Path) -> str:
    """`("title", 1, "scene", 0, "seconds")` -> `seconds in [[title.scene]]`; `("title", 1)` -> `[[title]]`."""
    names = [str(part) for part in path if isinstance(part, str)]
    for end in range(len(names), 0, -1):
        table = ".".join(names[:end])
        if table in TABLES:
            rest = ".".join(plain(name, 60) for name in names[end:])
            return f"{rest} in {TABLES[table].header}" if rest else TABLES[table].header
    return ".".join(plain(name, 60) for name in names)
