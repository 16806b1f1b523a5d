"""Commands by which logs land: watch."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from evenhand import steps
from evenhand.cli import options as o
from evenhand.cli import show

if TYPE_CHECKING:
    from evenhand.steps.watch import Tell, Told


def watch(
    study: Annotated[Path, typer.Argument(help="Folder of the study.", metavar="STUDY")],
    folder: Annotated[
        Path | None, typer.Argument(help="Folder that the recorder writes into; without it the study's inbox.", metavar="FOLDER")
    ] = None,
    since: Annotated[
        str | None,
        typer.Option(help="all: files that are there already too; start: only what comes from now on.", metavar="all|start"),
    ] = None,
    setup: Annotated[str | None, typer.Option(help="Setup the PC is in, where no snapshot says it.")] = None,
    visit: Annotated[int | None, typer.Option(min=1, help="Number of the visit, where none was begun.")] = None,
    title: Annotated[str | None, typer.Option(help="Title of all logs to come.")] = None,
    scene: Annotated[str | None, typer.Option(help="Scene of the title.")] = None,
    pattern: o.Pattern = None,
    column: o.Column = None,
    role: o.RoleName = None,
    unit: o.UnitName = None,
    delimiter: o.Delimiter = None,
    decimal: o.Decimal = None,
    where: o.Where = None,
    interval: o.IntervalName = None,
    gentle: Annotated[
        bool, typer.Option("--gentle", help="On the bench itself: do nothing while a file grows, and yield to everything.")
    ] = False,
    stop_after: Annotated[
        float | None, typer.Option(min=0, help="Stop when nothing has come for so many seconds.", metavar="SECONDS")
    ] = None,
    json: o.AsJson = False,
) -> None:
    """Watch a folder: every finished log is taken in as the run that is due, checked at once, and told in one line.

    Your files are never moved, changed or deleted. Stop it whenever you like: it goes on where it stopped.

    Example: evenhand watch my-study recordings
    """
    choices = steps.take.choices_of(column, role, unit, delimiter, decimal, where, False, interval)
    try:
        steps.watch.watch(
            study,
            folder,
            since=since,
            stated=steps.watch.Address(title, scene, setup, visit),
            pattern=pattern,
            choices=choices,
            gentle=gentle,
            stop_after=stop_after,
            say=(lambda lines: None) if json else (lambda lines: show.lines(*lines)),
            tell=teller(json),
        )
    except KeyboardInterrupt:
        return


def teller(json: bool) -> Tell:
    """Prints what became of a file, at once."""

    def tell(told: Told) -> None:
        if json:
            show.document(steps.watch.as_json(told))
        else:
            show.lines(told.line)

    return tell


def register(app: typer.Typer) -> None:
    """Add this file's commands."""
    app.command()(watch)
