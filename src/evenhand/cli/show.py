"""Draw sections and progress on a terminal; plain text where the output is no terminal."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Final

from rich.cells import cell_len
from rich.console import Console, RenderableType
from rich.padding import Padding
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn
from rich.table import Table as Grid
from rich.text import Text

if TYPE_CHECKING:
    from evenhand.errors import EvenhandError
    from evenhand.writeup.model import Section, Table

FILE_WIDTH: Final = 100  # of output that goes to a file or another program, unless COLUMNS says otherwise
INDENT: Final = 2
GAP: Final = 2  # between columns


def console(error: bool = False) -> Console:
    """A console that never breaks a word of ours: no markup, no highlighting, UTF-8 wherever the system lets us."""
    stream = sys.stderr if error else sys.stdout
    if hasattr(stream, "reconfigure"):
        stream.reconfigure(encoding="utf-8", errors="replace")
    known = stream.isatty() or os.environ.get("COLUMNS")
    return Console(stderr=error, markup=False, highlight=False, emoji=False, width=None if known else FILE_WIDTH)


def drawn(table: Table, width: int) -> Iterator[RenderableType]:
    """A table as it can be read in `width`: whole, told row by row where cells are sentences, or else its columns in portions."""
    cells = [(head, *(row[i] for row in table.rows)) for i, head in enumerate(table.head)]
    needs = [max(map(cell_len, column)) + GAP for column in cells]
    if sum(needs) - GAP <= width:
        yield grid(table, range(len(needs)))
    elif any(need > width // 3 and not numeric for need, numeric in zip(needs[1:], table.numeric[1:], strict=True)):
        yield from told(table)
    else:
        for portion in portions(needs, width):
            yield grid(table, (0, *portion))


def portions(needs: Sequence[int], width: int) -> list[list[int]]:
    """The columns after the first, in portions that fit beside it; at least one in each."""
    found: list[list[int]] = []
    room = 0
    for column, need in enumerate(needs[1:], start=1):
        if not found or need > room:
            found.append([])
            room = width + GAP - needs[0]
        found[-1].append(column)
        room -= need
    return found


def grid(table: Table, columns: Sequence[int]) -> Grid:
    """Some columns of a table, figures to the right."""
    made = Grid(box=None, padding=(0, GAP, 0, 0), show_edge=False, header_style="bold", pad_edge=False)
    for i in columns:
        made.add_column(Text(table.head[i]), justify="right" if table.numeric[i] else "left", overflow="fold")
    for row in table.rows:
        made.add_row(*(Text(row[i]) for i in columns))
    return made


def told(table: Table) -> Iterator[RenderableType]:
    """A table row by row: what the row is about, then a line for each of the other cells."""
    for row in table.rows:
        yield Text(" ".join(row[:1]), style="bold")
        for head, cell in zip(table.head[1:], row[1:], strict=True):
            if cell:
                yield hanging(f"{head}: " if head else "", cell)


def hanging(mark: str, text: str) -> RenderableType:
    """Text behind a mark, further lines indented."""
    made = Grid.grid(padding=0)
    made.add_column(no_wrap=True)
    made.add_column(overflow="fold")
    made.add_row(Text(mark), Text(text))
    return Padding(made, (0, 0, 0, INDENT), expand=False)


def sections(found: Sequence[Section]) -> None:
    """Print sections: the heading, what is said, tables, items."""
    out = console()
    for section in found:
        out.print()
        out.print(Text(section.heading, style="bold"))
        for paragraph in section.paragraphs:
            out.print(Text(paragraph))
        for table in section.tables:
            if table.caption:
                out.print(Text(table.caption, style="italic"))
            for part in drawn(table, out.width - INDENT):
                out.print(Padding(part, (0, 0, 0, INDENT), expand=False))
        for item in section.items:
            out.print(hanging("· ", item))
        for heading, text in section.aside:
            out.print(hanging("", f"{heading}: {text}"))
    out.print()


def failure(error: EvenhandError) -> None:
    """Print every problem of an error on standard error."""
    out = console(error=True)
    for problem in error.problems:
        out.print(Text(str(problem)), soft_wrap=True)


def lines(*said: str) -> None:
    """Print plain lines; they are broken by the terminal only, so that commands and paths in them can be copied."""
    out = console()
    for line in said:
        out.print(Text(line), soft_wrap=True)


def document(text: str) -> None:
    """Print a document for programs exactly as it is, in UTF-8."""
    sys.stdout.flush()
    sys.stdout.buffer.write(text.encode("utf-8") + b"\n")
    sys.stdout.buffer.flush()


class Bar:
    """A progress bar with the time left, on a terminal only; called with (done, total, what is being done)."""

    def __init__(self, label: str) -> None:
        self.progress = Progress(
            TextColumn(label),
            BarColumn(),
            MofNCompleteColumn(),
            TimeRemainingColumn(),
            TextColumn("{task.fields[what]}", markup=False),
            console=console(error=True),
            transient=True,
            disable=not sys.stderr.isatty(),
        )
        self.task = self.progress.add_task(label, total=None, what="")

    def __enter__(self) -> Bar:
        self.progress.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.progress.stop()

    def __call__(self, done: int, total: int, what: str = "") -> None:
        """How far the work is."""
        self.progress.update(self.task, completed=done, total=total, what=what)
