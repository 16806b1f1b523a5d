"""The nouns of a report: first computed as plain data, then drawn by a template without logic."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Column(StrEnum):
    """How a column of a table is set."""

    NAME = "name"
    WORDS = "words"
    FIGURE = "figure"  # numbers, aligned right
    VERDICT = "verdict"  # a phrase in italic
    CODE = "code"


@dataclass(frozen=True, slots=True)
class Figure:
    """A chart ready to be put in: SVG markup made by us, its alternative text, a caption. `narrow` is the same for a phone."""

    svg: str
    alt: str
    caption: str
    narrow: str = ""


@dataclass(frozen=True, slots=True)
class Table:
    """Plain text cells; `numeric` says which columns are set as figures, `columns`, where given, more closely how each is set.

    looks : per row, place of its setup in the study's order (its colour and mark), -1 = none; empty = none anywhere.
    links : per row, anchor the first cell leads to, "" = none.
    """

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numeric: tuple[bool, ...] = ()
    caption: str = ""
    columns: tuple[Column, ...] = ()
    looks: tuple[int, ...] = ()
    links: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Section:
    """One section: heading is a sentence that states the situation. Drawn in the order of the fields.

    label : a short name for the list of contents. folded : closed until asked for.
    """

    anchor: str
    heading: str
    label: str = ""
    lead: str = ""
    paragraphs: tuple[str, ...] = ()
    figures: tuple[Figure, ...] = ()
    tables: tuple[Table, ...] = ()
    items: tuple[str, ...] = ()
    parts: tuple[Section, ...] = ()
    aside: tuple[tuple[str, str], ...] = ()  # (heading, text) cards at the side; a line of the text is a remark
    folded: bool = False


@dataclass(frozen=True, slots=True)
class Report:
    """The whole page. title : the situation in one sentence. answer : three sentences.

    marks : what must be seen everywhere: "setups unproven", "exploratory".
    """

    title: str
    question: str
    answer: tuple[str, ...]
    sections: tuple[Section, ...]
    made_at: str
    version: str
    marks: tuple[str, ...] = ()
