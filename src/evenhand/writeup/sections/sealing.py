"""How the protocol stands to its seals, and which look at the study this is."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator

from evenhand.study.model import Seal
from evenhand.writeup import seal_words
from evenhand.writeup.look_words import look_lines
from evenhand.writeup.material import Material
from evenhand.writeup.model import Column, Section, Table


def sealing(material: Material) -> Section | None:
    """The report's section; None where there is no book."""
    if material.sealing is None:
        return None
    items = (*look_lines(material.look, material.precision), *seal_words.said(material.study, material.sealing))
    parts = tuple(_sealed(seal, number) for number, seal in enumerate(material.sealing.seals, start=1))
    return Section("sealing", seal_words.headline(material.sealing), label="seal", items=items, parts=parts)


def _sealed(seal: Seal, number: int) -> Section:
    """The sealed protocol, part by part; the very text is a file beside the report."""
    parts = tomllib.loads(seal.text)
    rows = tuple((part, key.replace("_", " "), str(value)) for part, values in parts.items() for key, value in values.items())
    table = Table(("part", "what", "as sealed"), rows, columns=(Column.WORDS, Column.WORDS, Column.WORDS))
    heading = f"What was sealed as {seal.sha256[:16]}… (byte for byte in {seal_words.file_of(seal)})"
    return Section(f"sealed-{number}", heading, tables=(table,), folded=True)


def in_brief(material: Material) -> Section | None:
    """The same for a terminal: when it was judged, and what the protocol's seal says; None where there is neither."""
    items = tuple(_brief(material))
    if material.sealing is None:
        return Section("looks", "When this was judged", items=items) if items else None
    return Section("sealing", seal_words.headline(material.sealing), items=items)


def _brief(material: Material) -> Iterator[str]:
    yield from look_lines(material.look, material.precision)
    if material.sealing is not None:
        yield from seal_words.warnings(material.study, material.sealing)
