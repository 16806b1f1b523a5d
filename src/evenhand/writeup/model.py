"""The nouns of a report: first computed as plain data, then drawn by a template without logic."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Figure:
    """A chart ready to be put in: SVG markup made by us, its alternative text, a caption."""

    svg: str
    alt: str
    caption: str


@dataclass(frozen=True, slots=True)
class Table:
    """Plain text cells; `numeric` says which columns are set as figures."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numeric: tuple[bool, ...]
    caption: str = ""


@dataclass(frozen=True, slots=True)
class Section:
    """One section: heading is a sentence that states the situation."""

    anchor: str
    heading: str
    paragraphs: tuple[str, ...] = ()
    figures: tuple[Figure, ...] = ()
    tables: tuple[Table, ...] = ()
    items: tuple[str, ...] = ()
    aside: tuple[tuple[str, str], ...] = ()  # (heading, text) cards at the side
    folded: bool = False


@dataclass(frozen=True, slots=True)
class Report:
    """The whole page. `answer` is three sentences."""

    title: str
    question: str
    answer: tuple[str, ...]
    sections: tuple[Section, ...]
    made_at: str
    version: str
    marks: tuple[str, ...] = ()  # what must be seen everywhere: "setups unproven", "exploratory"
