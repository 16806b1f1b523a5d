"""Commands that change a book: take, result, sensors, standing, seal, rebuild. Each says what it changed, and the way back."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from evenhand import steps
from evenhand.cli import options as o
from evenhand.cli import show

if TYPE_CHECKING:
    from evenhand.steps.watch import Told


def take(
    study: Annotated[Path, typer.Argument(help="Folder of the study.", metavar="STUDY")],
    logs: Annotated[list[str], typer.Argument(help="Frame logs: files, folders, or a glob in quotes.", metavar="LOG...")],
    pattern: o.Pattern = None,
    title: Annotated[str | None, typer.Option(help="Title these logs belong to.")] = None,
    scene: Annotated[str | None, typer.Option(help="Scene of the title.")] = None,
    setup: Annotated[str | None, typer.Option(help="Setup the PC was in.")] = None,
    visit: Annotated[int | None, typer.Option(help="Number of the visit, from 1.")] = None,
    run: Annotated[int | None, typer.Option(help="Number of the run in the visit; without it the next free one.")] = None,
    column: o.Column = None,
    role: o.RoleName = None,
    unit: o.UnitName = None,
    delimiter: o.Delimiter = None,
    decimal: o.Decimal = None,
    where: o.Where = None,
    skip_bad_rows: o.SkipBadRows = False,
    interval: o.IntervalName = None,
    although: Annotated[
        str | None,
        typer.Option(help="Keep setups that a snapshot of the PC contradicts, as unproven: the reason.", metavar="REASON"),
    ] = None,
    following: Annotated[
        bool, typer.Option("--next", help="Each is the run that is due: by its name, its course and the plan, as with watch.")
    ] = False,
) -> None:
    """Take frame logs into the book: each is on disk for good before it is reported as taken.

    Which run a log is comes from options, from a pattern of its path, or from the names in study.toml where the path has them.
    A log that is already there is not taken twice.

    Example: evenhand take my-study recordings --pattern "{title}/{setup}-v{visit}-r{run}"
    """
    choices = steps.take.choices_of(column, role, unit, delimiter, decimal, where, skip_bad_rows, interval)
    if following:
        stated = steps.watch.Address(title, scene, setup, visit, run)
        land(steps.watch.take_next(study, logs, stated=stated, pattern=pattern, choices=choices, although=although))
        return
    with show.Bar("taking in") as bar:
        report = steps.take.take_logs(
            study,
            logs,
            pattern=pattern,
            address=(title, scene, setup, visit, run),
            choices=choices,
            although=although,
            progress=bar,
        )
    show.sections(report.sections())
    if report.refused:
        raise typer.Exit(1)


def land(found: Iterable[Told]) -> None:
    """Say of each file what became of it; exit 1 where one is no run."""
    missed = False
    for told in found:
        show.lines(told.line)
        missed = missed or told.run is None
    if missed:
        raise typer.Exit(1)


def standing(
    study: Annotated[Path, typer.Argument(help="Folder of the study.", metavar="STUDY")],
    run: Annotated[
        str, typer.Argument(help="The run, as title[/scene]/setup/vVISIT/rRUN; last = the one taken in last.", metavar="RUN")
    ],
    decision: Annotated[str, typer.Argument(help="kept, set-aside, redo, or undo.")],
    reason: Annotated[str, typer.Argument(help="The reason; it appears in the report.", metavar="WHY")] = "",
    why: Annotated[str, typer.Option(help="The same, as an option.")] = "",
    by: Annotated[str | None, typer.Option(help="Who decides; without it the name you are logged in with.")] = None,
) -> None:
    """Decide about a run. Nothing is deleted: a decision is a new row, and the earlier ones stay.

    Example: evenhand standing my-study night-ferry/lean/v2/r1 set-aside "update running in the background"
    """
    show.lines(*steps.standing.decide(study, run, decision, why or reason, by))


def result(
    study: Annotated[Path, typer.Argument(help="Folder of the study.", metavar="STUDY")],
    table: Annotated[
        Path | None,
        typer.Argument(help="A table of results as text, for instance CSV; without it one is typed in.", metavar="TABLE"),
    ] = None,
    title: Annotated[str | None, typer.Option(help="Title that it is of.")] = None,
    scene: Annotated[str | None, typer.Option(help="Scene of the title.")] = None,
    setup: Annotated[str | None, typer.Option(help="Setup the PC was in.")] = None,
    visit: Annotated[str | None, typer.Option(help="Number of the visit, from 1.")] = None,
    run: Annotated[
        str | None, typer.Option(help="Number of the run in the visit; without it the pass, or the next free one.")
    ] = None,
    pass_number: Annotated[str | None, typer.Option("--pass", help="Which of several passes of the test it was.")] = None,
    average: Annotated[str | None, typer.Option(help="Average frame rate that it printed.")] = None,
    low: Annotated[str | None, typer.Option(help="Low that it printed, by whatever definition.")] = None,
    score: Annotated[str | None, typer.Option(help="Score; study.toml says which way it is good.")] = None,
) -> None:
    """Take in results without frames: what a title printed of itself, or the score of another test.

    They are judged with the rest, and marked everywhere as not screened by frames.

    Example: evenhand result my-study --title night-ferry --setup lean --visit 2 --average 143.2 --low 96.1
    """
    said = steps.results.Said(title, scene, setup, visit, run, pass_number, average, low, score)
    report = steps.results.take_results(study, table, said)
    show.sections(report.sections())
    if report.refused:
        raise typer.Exit(1)


def sensors(
    study: Annotated[Path, typer.Argument(help="Folder of the study.", metavar="STUDY")],
    logs: Annotated[list[str], typer.Argument(help="Sensor logs: files, folders, or a glob in quotes.", metavar="LOG...")],
    time: Annotated[str | None, typer.Option(help="Column of times: its name, or its number from 1; so are the others.")] = None,
    power: Annotated[str | None, typer.Option(help="Column of the power drawn, watts.")] = None,
    temperature: Annotated[str | None, typer.Option(help="Column of a temperature, degrees Celsius.")] = None,
    clock: Annotated[str | None, typer.Option(help="Column of a clock, megahertz.")] = None,
    load: Annotated[str | None, typer.Option(help="Column of the processor's load, per cent.")] = None,
    graphics_load: Annotated[str | None, typer.Option(help="Column of the graphics card's load, per cent.")] = None,
    run: Annotated[str | None, typer.Option(help="The log is of this run alone, as title[/scene]/setup/vVISIT/rRUN.")] = None,
) -> None:
    """Take in logs of sensors: power, temperature, clocks, loads, lined up with the runs that were recorded meanwhile.

    Which column is what is said once; the next log of that layout needs no options.

    Example: evenhand sensors my-study sensors.csv --time Time --power "Package power" --temperature 4
    """
    columns = {"power": power, "temperature": temperature, "clock": clock, "load": load, "graphics-load": graphics_load}
    show.sections(steps.sensors.take_sensors(study, logs, time, {s: c for s, c in columns.items() if c is not None}, run))


def seal(
    study: o.StudyFolder = Path(),
    why: Annotated[str | None, typer.Option(help="Why a sealed protocol is amended; both stay listed in every result.")] = None,
    by: Annotated[str | None, typer.Option(help="Who seals; without it the name you are logged in with.")] = None,
    text: Annotated[bool, typer.Option("--text", help="Print the sealed text, byte for byte, and nothing else.")] = False,
) -> None:
    """Seal the protocol before you record: a hash of what study.toml states, to publish beforehand.

    Without it the first `evenhand take` seals the protocol, with its logs at hand. Later differences are listed in every result.

    Example: evenhand seal my-study
    """
    found = steps.seal.seal_study(study, why, by)
    if text:
        show.document(found.text.removesuffix("\n"))
    else:
        show.lines(*found.lines())


def rebuild(
    study: o.StudyFolder = Path(),
    accept: Annotated[
        bool, typer.Option("--accept", help="Where this version reads a log to other frames, let those count from now on.")
    ] = False,
    stretch: Annotated[
        str | None,
        typer.Option(help="Propose this scene's stretch (title/scene) anew; its numbers change.", metavar="SCENE"),
    ] = None,
) -> None:
    """Make all derived data anew from the ledger and the originals, and say whether every number came out the same.

    Example: evenhand rebuild my-study
    """
    with show.Bar("rebuilding") as bar:
        report = steps.rebuild.rebuild(study, accept=accept, stretch=stretch, progress=bar)
    show.lines(*report.lines())
    if not report.identical:
        raise typer.Exit(1)


def register(app: typer.Typer) -> None:
    """Add this file's commands."""
    for command in (seal, take, result, sensors, standing, rebuild):
        app.command()(command)
