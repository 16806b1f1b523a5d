"""The commands that look ahead: plan, next, rehearse."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from evenhand import steps
from evenhand.cli import options as o
from evenhand.cli import show


def plan(
    study: o.StudyFolder = Path(),
    hours_a_day: Annotated[float | None, typer.Option(help="Hours of bench work a day; visits are laid into days.")] = None,
    start: Annotated[
        str | None, typer.Option(help="First day of bench work, like 2026-12-01; without it today.", metavar="DATE")
    ] = None,
    begin: Annotated[str, typer.Option(help="When bench work begins on a day.", metavar="TIME")] = "18:00",
    on: Annotated[
        str | None,
        typer.Option(help='Days of the week for bench work, like "mon tue fri"; else every day.', metavar="DAYS"),
    ] = None,
    deadline: Annotated[
        str | None, typer.Option(help="Last day; what is done by then, and what it can tell.", metavar="DATE")
    ] = None,
    visits: Annotated[int | None, typer.Option(min=1, max=100, help="Try another number of visits of each setup.")] = None,
    runs: Annotated[int | None, typer.Option(min=1, max=100, help="Try another number of counted runs in a visit.")] = None,
    parts: Annotated[
        int | None, typer.Option(min=1, help="Split the titles in so many parts with visits of their own; else as few as fit.")
    ] = None,
    seed: Annotated[int | None, typer.Option(min=0, help="Decides the order of the visits; kept with the plan.")] = None,
    like: Annotated[
        list[Path] | None, typer.Option(help="An earlier study whose noise is to be supposed; may be repeated.", metavar="FOLDER")
    ] = None,
    noise: Annotated[str, typer.Option(help="Kind of bench where nothing is recorded: orderly or noisy.")] = "orderly",
    calendar: Annotated[Path | None, typer.Option(help="Write the visits as a calendar file.", metavar="FILE.ics")] = None,
    sheet: Annotated[Path | None, typer.Option(help="Write the run sheet, to be printed.", metavar="FILE.html")] = None,
    hours_left: Annotated[
        float | None, typer.Option(help="While recording: the best use of the next hours, in whole visits.", metavar="HOURS")
    ] = None,
    json: o.AsJson = False,
) -> None:
    """Plan the visits: their order, hours and days, what is done by a deadline, and what it will settle.

    The plan is kept in the book and followed by `evenhand next`; trying other numbers of visits or runs keeps nothing. A new plan
    counts from then on; what was recorded by an earlier one keeps its place.

    Example: evenhand plan my-study --hours-a-day 3 --start 2026-12-01 --on "mon tue fri" --deadline 2026-12-18
    """
    if hours_left is not None:
        with show.Bar("planning") as bar:
            use = steps.plan.hours_left.use_of_hours(study, hours_left, noise, bar)
        if json:
            show.document(steps.plan.hours_left.as_json(use))
        else:
            show.sections(steps.plan.hours_left.account(use))
        return
    dates = steps.plan.dates_of(start, begin, on, deadline)
    numbers = steps.plan.Numbers(seed, hours_a_day, parts, visits, runs)
    with show.Bar("planning") as bar:
        found = steps.plan.plan_study(study, numbers, dates, like=like or (), noise=noise, progress=bar)
    if json:
        show.document(steps.plan.as_json(found))
    else:
        show.sections(steps.plan.account(found))
    if calendar is not None:
        show.lines(*steps.plan.write_calendar(found, calendar))
    if sheet is not None:
        show.lines(*steps.plan.write_sheet(found, sheet))


def next_(
    study: o.StudyFolder = Path(),
    begin: Annotated[
        bool, typer.Option("--begin", help="Begin the visit that is due; this PC's snapshot proves its setup.")
    ] = False,
    elsewhere: Annotated[bool, typer.Option("--elsewhere", help="The bench is another PC: do not look at this one.")] = False,
    file: Annotated[
        Path | None, typer.Option("--from", help="The snapshot from there, or its name in the inbox.", metavar="FILE")
    ] = None,
    although: Annotated[
        str, typer.Option(help="Begin although the snapshot says otherwise, unproven, because ...", metavar="REASON")
    ] = "",
    tester: Annotated[str | None, typer.Option(help="Who records; without it the name you are logged in with.")] = None,
    end: Annotated[
        str | None, typer.Option(help="End the visit as it is; what it lacks is planned anew.", metavar="REASON")
    ] = None,
    json: o.AsJson = False,
) -> None:
    """Say what is to be done next: which visit, what to set and what to take care of, what to record, what follows.

    It goes by the plan and by what is recorded. A run that is to be redone is asked for again while its visit goes on; a scene
    that lost all its runs comes back in the visit that costs least.

    Example: evenhand next my-study --begin
    """
    if end is not None:
        show.lines(*steps.next.end_present(study, end))
    if begin:
        show.lines(*steps.next.begin_next(study, steps.next.Begin(elsewhere or file is not None, file, although, tester)))
    found = steps.next.next_of(study)
    if json:
        show.document(steps.next.as_json(found))
    else:
        show.sections(steps.next.sections(found))


def rehearse(
    study: o.StudyFolder = Path(),
    hours: Annotated[float | None, typer.Option(help="Hours at hand; without it those of the plan.")] = None,
    minutes: Annotated[
        list[str] | None,
        typer.Option(
            help="Minutes of a step, where study.toml does not say: apply, settle, load, warm-up, scene, reset, shaders.",
            metavar="NAME=MINUTES",
        ),
    ] = None,
    like: Annotated[
        list[Path] | None, typer.Option(help="An earlier study whose noise is to be supposed; may be repeated.", metavar="FOLDER")
    ] = None,
    noise: Annotated[str, typer.Option(help="Kind of bench where nothing is recorded: orderly or noisy.")] = "orderly",
    run_noise: Annotated[str | None, typer.Option(help="Run to run, of the average frame rate: 1%.", metavar="PERCENT")] = None,
    visit_shift: Annotated[str | None, typer.Option(help="Visit to visit, alike at all titles.", metavar="PERCENT")] = None,
    title_by_visit: Annotated[str | None, typer.Option(help="Visit to visit, of each title alone.", metavar="PERCENT")] = None,
    round_shift: Annotated[str | None, typer.Option(help="Round to round, alike for all setups.", metavar="PERCENT")] = None,
    suppose: Annotated[
        list[str] | None,
        typer.Option(
            help="Share of the setups' differences from the baseline and their size in margins; the shares make 100 %. "
            "Example: --suppose 80%=0 --suppose 20%=-3.",
            metavar="SHARE=MARGINS",
        ),
    ] = None,
    visits: Annotated[int | None, typer.Option(min=1, max=100, help="Visits of each setup, instead of the protocol's.")] = None,
    runs: Annotated[int | None, typer.Option(min=1, max=100, help="Counted runs in a visit, instead of the protocol's.")] = None,
    next_visits: Annotated[
        int | None, typer.Option("--next", min=1, max=1000, help="Visits to give away next, over all setups; else one round.")
    ] = None,
    measure: Annotated[list[str] | None, typer.Option(help="Only these measures (docs/reference/measures.md).")] = None,
    studies: Annotated[
        int | None, typer.Option(min=100, max=1_000_000, help="Simulated studies: 2000, of each kind of the grid 8000.")
    ] = None,
    seed: Annotated[int, typer.Option(min=0, help="The same seed gives the same answer.")] = 1,
    grid: Annotated[
        Path | None,
        typer.Option(help="Count on every kind of study how often intervals hold; write the page. Takes long.", metavar="PAGE"),
    ] = None,
    json: o.AsJson = False,
) -> None:
    """Try the study out before it is recorded: what it can tell, and what the hours can buy; after, what is still missing.

    Simulated studies of the same design and noise go through the same judging.

    Example: evenhand rehearse my-study --hours 8 --run-noise 1%
    """
    if grid is not None:
        show.lines(*steps.rehearse.write_grid(grid, studies))
        return
    chosen = steps.rehearse.chosen(
        hours=hours,
        suppose=suppose or (),
        studies=studies,
        seed=seed,
        further=next_visits,
    )
    supposed = steps.rehearse.NoiseChoice(noise, run_noise, visit_shift, title_by_visit, round_shift)
    with show.Bar("rehearsing") as bar:
        found = steps.rehearse.rehearse_study(
            study,
            tuple(measure or ()),
            wishes=chosen,
            noise=supposed,
            minutes=minutes or (),
            like=like or (),
            visits=visits,
            runs=runs,
            progress=bar,
        )
    if json:
        show.document(steps.rehearse.as_json(found))
    else:
        show.sections(found.sections)


def register(app: typer.Typer) -> None:
    """Add this file's commands."""
    app.command()(plan)
    app.command("next")(next_)
    app.command()(rehearse)
