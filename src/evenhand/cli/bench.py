"""Commands about the PC: inspect, changes."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from evenhand import steps
from evenhand.cli import options as o
from evenhand.cli import show


def inspect(
    study: Annotated[Path | None, typer.Argument(help="Folder of the study; without one, only look.", metavar="STUDY")] = None,
    source: Annotated[
        Path | None,
        typer.Option("--from", help="A snapshot that the script wrote: a path, or a name in the study's inbox.", metavar="FILE"),
    ] = None,
    visit: Annotated[int | None, typer.Option(min=1, help="It begins this visit, or is taken in its course.")] = None,
    setup: Annotated[str | None, typer.Option(help="Setup of the visit, where the snapshot cannot tell it.")] = None,
    although: Annotated[
        str, typer.Option(help="Keep the visit under --setup although the snapshot says otherwise: the reason.", metavar="REASON")
    ] = "",
    anew: Annotated[bool, typer.Option("--anew", help="The visit begins again: its earlier snapshots no longer count.")] = False,
    tester: Annotated[str | None, typer.Option(help="Who records; without it the name you are logged in with.")] = None,
    script: Annotated[
        Path | None,
        typer.Option(help="Write the one-file script that looks at a PC without Evenhand, to a stick.", metavar="FOLDER"),
    ] = None,
    json: o.AsJson = False,
) -> None:
    """Look at this PC: processor, memory, firmware, graphics, system, power; with a study, keep it and say which setup it is in.

    Example: evenhand inspect my-study --visit 2
    """
    if script is not None:
        show.lines(*steps.inspect.write_script(script))
        return
    found = steps.inspect.inspect_pc(study, source, setup=setup, visit=visit, although=although, tester=tester, anew=anew)
    if json:
        show.document(steps.inspect.as_json(found))
    else:
        show.sections(found.sections())


def changes(
    study: o.StudyFolder = Path(),
    waive: Annotated[
        str | None, typer.Option(help="The changes of this fact that are listed do not matter; needs --why.", metavar="FACT")
    ] = None,
    unwaive: Annotated[str | None, typer.Option(help="Waived changes of this fact matter again.", metavar="FACT")] = None,
    why: Annotated[str, typer.Option(help="The reason; it stands in every result.")] = "",
    by: Annotated[str | None, typer.Option(help="Who decides; without it the name you are logged in with.")] = None,
    json: o.AsJson = False,
) -> None:
    """List what changed on the PC between visits and inside them, which results it makes stale, and the least that mends them.

    Example: evenhand changes my-study --waive graphics_driver --why "its notes name none of these titles"
    """
    found = steps.changes.changes_of(study, waive=waive, unwaive=unwaive, why=why, by=by)
    if json:
        show.document(steps.changes.as_json(found))
    else:
        show.sections(found.sections())


def register(app: typer.Typer) -> None:
    """Add this file's commands."""
    for command in (inspect, changes):
        app.command()(command)
