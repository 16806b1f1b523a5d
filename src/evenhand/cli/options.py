"""Options that several commands share, declared once."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

StudyFolder = Annotated[Path, typer.Argument(help="Folder of the study.", metavar="STUDY", show_default="this folder")]
AsJson = Annotated[bool, typer.Option("--json", help="Print JSON for programs (docs/reference/json).")]
Pattern = Annotated[
    str | None,
    typer.Option(
        help="Where a path names what: {title} {scene} {setup} {visit} {run} {date}, * for anything. "
        "Example: '{title}/{setup}-v{visit}-r{run}'."
    ),
]
Column = Annotated[str | None, typer.Option(help="Column to read the frames from: its name, or its number from 1.")]
RoleName = Annotated[str | None, typer.Option("--role", help="What that column is: elapsed, duration or rate.")]
UnitName = Annotated[str | None, typer.Option("--unit", help="Its unit: s, ms, us, 100ns, ns, per_s or clock.")]
Delimiter = Annotated[str | None, typer.Option(help="What separates columns, where the guess is wrong.")]
Decimal = Annotated[str | None, typer.Option(help="Decimal mark, '.' or ',', where the guess is wrong.")]
Where = Annotated[str | None, typer.Option(help="Keep only rows of one program: COLUMN=VALUE.")]
IntervalName = Annotated[
    str | None, typer.Option("--interval", help="What the durations are measured between: present or shown; remembered.")
]
SkipBadRows = Annotated[bool, typer.Option("--skip-bad-rows", help="Take a log in spite of bad rows, and count them as a flag.")]
