"""Draw sections and progress on a terminal; plain text where the output is no terminal."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING

from rich.console import Console
from rich.padding import Padding
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn
from rich.table import Table as Grid
from rich.text import Text

if TYPE_CHECKING:
    from evenhand.errors import EvenhandError
    from evenhand.writeup.model import Section, Table


def console(error: bool = False) -> Console:
    """A console that never breaks a word of ours: no markup, no highlighting, UTF-8 wherever the system lets us."""
    stream = sys.stderr if error else sys.stdout
    if hasattr(stream, "reconfigure"):
        stream.reconfigure(encoding="utf-8", errors="replace")
    width = None if stream.isatty() else 160
    return Console(stderr=error, markup=False, highlight=False, emoji=False, width=width, soft_wrap=False)


def grid(table: Table) -> Grid:
    """A ruled table: figures to the right."""
    drawn = Grid(box=None, padding=(0, 2, 0, 0), show_edge=False, header_style="bold", title_justify="left")
    for name, numeric in zip(table.head, table.numeric, strict=True):
        drawn.add_column(Text(name), justify="right" if numeric else "left", overflow="fold")
    for row in table.rows:
        drawn.add_row(*(Text(cell) for cell in row))
    return drawn


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
            out.print(Padding(grid(table), (0, 0, 0, 2)))
        for item in section.items:
            out.print(Padding(Text("· " + item), (0, 0, 0, 2)))
        for heading, text in section.aside:
            out.print(Padding(Text(f"{heading}: {text}", style="italic"), (0, 0, 0, 2)))
    out.print()


def failure(error: EvenhandError) -> None:
    """Print every problem of an error on standard error."""
    out = console(error=True)
    for problem in error.problems:
        out.print(Text(str(problem)))


def lines(*said: str) -> None:
    """Print plain lines."""
    out = console()
    for line in said:
        out.print(Text(line))


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
