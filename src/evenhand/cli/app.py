"""The command `evenhand`: verbs only; the one place where a failure is caught and told."""

from __future__ import annotations

import sys
from typing import Annotated

import typer

from evenhand import __version__
from evenhand.cli import ahead, answer, bench, front, keep, landing, show
from evenhand.errors import EvenhandError

app = typer.Typer(
    name="evenhand",
    help="The bench book of the independent PC hardware reviewer: from frame logs to verdicts that hold.\n\n"
    "Start with: evenhand look FOLDER",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)
for room in (front, ahead, bench, landing, keep, answer):
    room.register(app)


def show_version(wanted: bool) -> None:
    """Print the version and stop."""
    if wanted:
        show.lines(f"evenhand {__version__}")
        raise typer.Exit


@app.callback()
def options(
    version: Annotated[bool, typer.Option("--version", callback=show_version, is_eager=True, help="Print the version.")] = False,
) -> None:
    """Options of the command as a whole."""


def main() -> None:
    """Run the command; deliberate failures are printed as problems, with their exit status."""
    try:
        app()
    except EvenhandError as error:
        show.failure(error)
        sys.exit(error.exit_code)
