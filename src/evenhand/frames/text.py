"""Bytes of a log to one form of text: UTF-8, lines ended by line feeds. Which encoding it was, and whether it is text at all."""

from __future__ import annotations

import codecs
from typing import Final

import numpy as np

from evenhand.errors import LogError, Problem

BOMS: Final = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)
SAMPLE: Final = 2**16
LONGEST_LINE: Final = 2**16
LABELS: Final = {
    "utf-8": "UTF-8",
    "utf-8-sig": "UTF-8 with byte order mark",
    "utf-16-le": "UTF-16 little-endian",
    "utf-16-be": "UTF-16 big-endian",
    "latin-1": "Latin-1",
}
_NOTHING: Final = b"\x00 \t\r\n"
_CONTROLS: Final = bytes({*range(32), 127} - set(b"\t\n\r\x0b\x0c\x1a"))
_MORE_CONTROLS: Final = _CONTROLS + bytes(range(128, 160))  # in Latin-1


def decode(data: bytes, name: str) -> tuple[bytes, str]:
    """(UTF-8 text, encoding it was in). UTF-8 is passed on as it is, and so are returns before line feeds: copies cost time.

    Raises LogError for an empty log, a binary one, and lines beyond all measure.
    """
    encoding, skip = _encoding(data)
    text = data[skip:]
    if not text[:SAMPLE].strip(_NOTHING) and not text.strip(_NOTHING):
        raise LogError(Problem("log-empty", "the log is empty", name, "record the run again"))
    if encoding.startswith("utf-16"):
        text = _from_utf16(text, encoding, name)
    elif not text.isascii():
        text, encoding = _from_bytes(text, encoding)
    _refuse_binary(text, data[:SAMPLE] if encoding == "latin-1" else b"", name)
    if _has_lone_returns(text):
        text = text.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    _refuse_long_lines(text, name)
    return text, encoding


def count_byte(text: bytes, mark: bytes, begin: int = 0, end: int | None = None) -> int:
    """How often one byte occurs; several times as fast as the method of bytes where it is frequent."""
    codes = np.frombuffer(text, dtype=np.uint8)[begin:end]
    return sum(int(np.count_nonzero(codes[at : at + SAMPLE] == ord(mark))) for at in range(0, codes.size, SAMPLE))


def _encoding(data: bytes) -> tuple[str, int]:
    """(encoding, length of its mark); UTF-16 without a mark shows by the zeros beside its plain characters."""
    for mark, encoding in BOMS:
        if data.startswith(mark):
            return encoding, len(mark)
    head = data[: SAMPLE & ~1]
    if b"\x00" in head:
        even, odd = head[0::2].count(0), head[1::2].count(0)
        half = max(len(head) // 2, 1)
        if odd / half > 0.4 and even / half < 0.1:
            return "utf-16-le", 0
        if even / half > 0.4 and odd / half < 0.1:
            return "utf-16-be", 0
    return "utf-8", 0


def _from_utf16(text: bytes, encoding: str, name: str) -> bytes:
    try:
        return text.decode(encoding).encode()
    except UnicodeDecodeError as error:
        if error.start < len(text) - 4:
            raise LogError(_binary(f"byte {error.start} does not fit {LABELS[encoding]}", name)) from error
        return text[: error.start].decode(encoding).encode()  # the recorder was stopped inside a character


def _from_bytes(text: bytes, encoding: str) -> tuple[bytes, str]:
    try:
        text.decode()
    except UnicodeDecodeError as error:
        if error.start >= len(text) - 4 and error.reason == "unexpected end of data":
            return text[: error.start], encoding
        return text.decode("latin-1").encode(), "latin-1"
    return text, encoding


def _has_lone_returns(text: bytes) -> bool:
    """Whether lines end with returns alone, as the beginning shows."""
    head = text[:SAMPLE]
    return head.count(b"\r") > head.count(b"\r\n") + head.endswith(b"\r")


def _refuse_binary(text: bytes, raw: bytes, name: str) -> None:
    """raw : the bytes as they came, where they were taken for Latin-1, which any bytes are."""
    head, controls = (raw, _MORE_CONTROLS) if raw else (text[:SAMPLE], _CONTROLS)
    odd = len(head) - len(head.translate(None, controls))
    if odd > 0.01 * len(head) or b"\x00" in head:
        raise LogError(_binary(f"{odd} control characters among its first {len(head)}", name))


def _refuse_long_lines(text: bytes, name: str) -> None:
    at = 0
    while len(text) - at > LONGEST_LINE:
        end = text.rfind(b"\n", at, at + LONGEST_LINE)
        if end < 0:
            line = text.count(b"\n", 0, at) + 1
            what = f"line {line} is longer than {LONGEST_LINE} characters"
            raise LogError(Problem("log-not-text", what, name, "give the text log, one row a frame"))
        at = end + 1


def _binary(why: str, name: str) -> Problem:
    return Problem("log-not-text", f"this is no text: {why}", name, "give the recorder's text log, one row a frame")
