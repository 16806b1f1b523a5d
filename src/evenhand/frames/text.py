"""Bytes to text: which encoding, and whether it is text at all."""

from __future__ import annotations

import codecs
from typing import Final

from evenhand.errors import LogError, Problem

BOMS: Final = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)
SAMPLE: Final = 2**16
LONGEST_LINE: Final = 2**16
LABELS: Final = {
    "ascii": "UTF-8",
    "utf-8": "UTF-8",
    "utf-8-sig": "UTF-8 with byte order mark",
    "utf-16-le": "UTF-16 little-endian",
    "utf-16-be": "UTF-16 big-endian",
    "latin-1": "Latin-1",
}


def decode(data: bytes, name: str) -> tuple[str, str]:
    """(text with line ends as \\n, encoding). Raises LogError for an empty log, a binary one, and lines beyond all measure."""
    if not data.strip(b"\x00 \t\r\n"):
        raise LogError(Problem("log-empty", "the log is empty", name, "record the run again"))
    encoding, skip = _encoding(data)
    try:
        text = data[skip:].decode(encoding if encoding != "utf-8-sig" else "utf-8", errors="strict")
    except UnicodeDecodeError as error:
        if not encoding.startswith("utf-16"):
            encoding, text = "latin-1", data.decode("latin-1")
        elif error.start >= len(data) - skip - 4:  # the recorder was stopped inside a character
            text = data[skip : skip + error.start].decode(encoding)
        else:
            raise LogError(_binary(f"byte {error.start} does not fit {LABELS[encoding]}", name)) from error
    _refuse_binary(text, name)
    return text.replace("\r\n", "\n").replace("\r", "\n") if "\r" in text else text, encoding


def _encoding(data: bytes) -> tuple[str, int]:
    for mark, encoding in BOMS:
        if data.startswith(mark):
            return encoding, len(mark)
    if data.isascii() and b"\x00" not in data[:SAMPLE]:
        return "ascii", 0
    head = data[: SAMPLE & ~1]
    even, odd = head[0::2].count(0), head[1::2].count(0)
    half = max(len(head) // 2, 1)
    if odd / half > 0.4 and even / half < 0.1:
        return "utf-16-le", 0
    if even / half > 0.4 and odd / half < 0.1:
        return "utf-16-be", 0
    return "utf-8", 0


def _refuse_binary(text: str, name: str) -> None:
    head = text[:SAMPLE]
    odd = sum(1 for c in head if (c < " " and c not in "\t\n\r\x0b\x0c\x1a") or "\x7f" <= c < "\xa0")
    if odd > 0.01 * len(head) or "\x00" in head:
        raise LogError(_binary(f"{odd} control characters among its first {len(head)}", name))
    at = 0
    while at < len(text):  # no line may be longer than a line can be
        end = text.rfind("\n", at, at + LONGEST_LINE)
        end = end if end >= 0 else text.rfind("\r", at, at + LONGEST_LINE)
        if end < 0 and len(text) - at > LONGEST_LINE:
            line = text.count("\n", 0, at) + 1
            what = f"line {line} is longer than {LONGEST_LINE} characters"
            raise LogError(Problem("log-not-text", what, name, "give the text log, one row a frame"))
        at = end + 1 if end >= 0 else len(text)


def _binary(why: str, name: str) -> Problem:
    return Problem("log-not-text", f"this is no text: {why}", name, "give the recorder's text log, one row a frame")
