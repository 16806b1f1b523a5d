"""Commands that need no study yet: look, new, demo."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from evenhand import steps
from evenhand.cli import options as o
from evenhand.cli import show

if TYPE_CHECKING:
    from evenhand.study.guess import Guess


def agree(guess: Guess) -> bool:
    """Ask the person whether the guess is right; without a terminal nobody can be asked, so no."""
    if not sys.stdin.isatty():
        return False
    show.lines(guess.account, f"read as the pattern  {guess.pattern}")
    show.lines(*(f"it could also be  {other}" for other in guess.alternatives))
    return typer.confirm("Is that right?", default=True)


def look(
    folder: Annotated[Path, typer.Argument(help="A folder of your own frame logs.")],
    pattern: o.Pattern = None,
    keep: Annotated[Path | None, typer.Option(help="Turn it into a study in this new folder.", metavar="STUDY")] = None,
    baseline: Annotated[str | None, typer.Option(help="Setup that the others are compared with; else the first.")] = None,
    low: Annotated[str, typer.Option(help="Definition of the 1 % low: percentile, tail-mean or time-share.")] = "percentile",
    yes: Annotated[bool, typer.Option("--yes", help="Take the guess of what is what without asking.")] = False,
    column: o.Column = None,
    role: o.RoleName = None,
    unit: o.UnitName = None,
    delimiter: o.Delimiter = None,
    decimal: o.Decimal = None,
    where: o.Where = None,
    skip_bad_rows: o.SkipBadRows = False,
) -> None:
    """Look at a folder of logs: which runs are doubtful, which differences hold, which cannot be told.

    Nothing is written unless --keep names a new study folder.

    Example: evenhand look recordings --pattern "{title}/{setup}-v{visit}-r{run}"
    """
    choices = steps.take.choices_of(column, role, unit, delimiter, decimal, where, skip_bad_rows)
    with show.Bar("reading") as bar:
        seen = steps.look.look(
            folder, pattern, choices, baseline=baseline, low=low, agree=(lambda _: True) if yes else agree, progress=bar
        )
    show.sections(seen.sections)
    if keep is not None:
        with show.Bar("taking in") as bar:
            show.sections(steps.look.keep(seen, keep, progress=bar))


def new(
    folder: Annotated[Path, typer.Argument(help="Folder to make the study in.", metavar="STUDY")],
    start: Annotated[Path | None, typer.Option("--from", help="Start from this study.toml instead of the starter.")] = None,
) -> None:
    """Make a study: a commented study.toml that is valid as it stands, and an empty book.

    Example: evenhand new my-study
    """
    show.lines(*steps.new.new(folder, start))


def demo(
    folder: Annotated[Path, typer.Argument(help="Folder to build the examples in.")] = Path("demo"),
    charts: Annotated[bool, typer.Option(help="Also write every chart as PNG and SVG, 1920 × 1080.")] = True,
) -> None:
    """Build two example studies and their reports: an invented one with known truth, and a measured one.

    Example: evenhand demo demo
    """
    with show.Bar("demo") as bar:
        made = steps.demo.demo(folder, progress=bar, charts=charts)
    show.sections(made)


def register(app: typer.Typer) -> None:
    """Add this file's commands."""
    for command in (look, new, demo):
        app.command()(command)
