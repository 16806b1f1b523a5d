"""The text of a study.toml, however an editor has saved it."""

from __future__ import annotations

import codecs
import re
import tomllib
from pathlib import Path
from typing import Any, Final

from evenhand.errors import Problem, StudyError

LARGEST: Final = 4_000_000  # bytes; no person writes more

_MARKS: Final = ((codecs.BOM_UTF8, "utf-8"), (codecs.BOM_UTF16_LE, "utf-16-le"), (codecs.BOM_UTF16_BE, "utf-16-be"))
_PLACE: Final = re.compile(r" \(at (?:line (\d+), column (\d+)|end of document)\)$")


def study_source(path: Path) -> str:
    """The text of the file: UTF-8, or UTF-16 with its mark; marks are taken off. Raises StudyError."""
    try:
        with path.open("rb") as file:
            data = file.read(LARGEST + 1)
    except OSError as error:
        why = error.strerror or type(error).__name__
        raise StudyError(Problem("study-unreadable", f"it cannot be opened: {why}", str(path), "check the path")) from error
    if len(data) > LARGEST:
        what = f"it is larger than {LARGEST // 1_000_000} MB"
        raise StudyError(Problem("study-unreadable", what, str(path), "check that this is a study.toml"))
    return _decoded(data, str(path))


def _decoded(data: bytes, name: str) -> str:
    mark, encoding = next(((m, e) for m, e in _MARKS if data.startswith(m)), (b"", "utf-8"))
    data = data[len(mark) :]
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError as error:
        line = data[: error.start].decode(encoding, "replace").count("\n") + 1
        what = f"byte 0x{data[error.start]:02x} is not {encoding.upper()}"
        do = "save the file as UTF-8"
        raise StudyError(Problem("study-unreadable", what, f"{name}, line {line}", do)) from error
    if "\0" in text:
        what = "it holds null characters, as UTF-16 without its mark or a file that is no text does"
        raise StudyError(Problem("study-unreadable", what, name, "save the file as UTF-8"))
    return text


def parse_toml(text: str, name: str) -> dict[str, Any]:
    """The values of a TOML text. Raises StudyError with line and column, and a guess of what was meant."""
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise StudyError(_explained(str(error), text, name)) from error
    except RecursionError as error:
        do = "a study needs no table inside a table inside a table"
        raise StudyError(Problem("study-not-toml", "brackets are nested too deeply", name, do)) from error
    except ValueError as error:  # tomllib lets a number with thousands of digits through to int()
        raise StudyError(Problem("study-not-toml", "a number has too many digits", name, "shorten it")) from error


def _explained(message: str, text: str, name: str) -> Problem:
    place = _PLACE.search(message)
    what = _PLACE.sub("", message)
    what = what[0].lower() + what[1:]
    lines = text.splitlines() or [""]
    number = int(place.group(1)) if place and place.group(1) else len(lines)
    line = lines[min(number, len(lines)) - 1]
    where = f"{name}, line {number}" + (f", column {place.group(2)}" if place and place.group(2) else "")
    return Problem("study-not-toml", what, where, _advice(what, line))


def _advice(what: str, line: str) -> str:
    value = line.partition("=")[2].strip()
    if "backslash" in what or ("\\" in value and value.startswith('"')):
        return "put text with backslashes in single quotes"
    if "%" in value and not value.startswith(('"', "'")):
        return 'put percentages in quotes, like average = "3 %"'
    if re.match(r"\d+,\d", value):
        return "write decimals with a point"
    if "overwrite" in what or "twice" in what or "Cannot declare" in what or "cannot declare" in what:
        return "each key and each [table] stands only once; tables that may be repeated have double brackets, like [[title]]"
    if "invalid value" in what or "expected newline or end of document after a statement" in what:
        return "words go in double quotes; true, false and numbers do not"
    if "=" not in line and not line.lstrip().startswith("["):
        return 'each line is a key, an equals sign and a value, like question = "…"; notes begin with #'
    return "look at this line and the one before it: a quote or bracket may be missing"
