"""Commands that answer: screen, judge, explain, thin, publish."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from evenhand import steps
from evenhand.cli import options as o
from evenhand.cli import show


def screen(
    study: o.StudyFolder = Path(),
    blind: Annotated[bool, typer.Option("--blind", help="Hide which setup a run belongs to.")] = False,
    apply_rule: Annotated[bool, typer.Option("--apply-rule", help="Set aside what the study's stated rule sets aside.")] = False,
    json: o.AsJson = False,
) -> None:
    """Check every run: what is doubtful, on what evidence, and what to do.

    A flag never removes a run: you decide with `evenhand standing`, or the study states a rule.

    Example: evenhand screen my-study --blind
    """
    found = steps.screen.screen_study(study, blind=blind, apply_rule=apply_rule)
    if json:
        show.document(steps.screen.as_json(found))
    else:
        show.sections(found.sections)


def judge(
    study: o.StudyFolder = Path(),
    measure: Annotated[list[str] | None, typer.Option(help="Only these measures (docs/reference/measures.md).")] = None,
    json: o.AsJson = False,
) -> None:
    """Say which differences hold, which do not, and which cannot be told; per title and over titles.

    Example: evenhand judge my-study --measure average
    """
    found = steps.judge.judge_study(study, tuple(measure or ()))
    if json:
        show.document(steps.judge.as_json(found))
    else:
        show.sections(found.sections)


def explain(
    study: Annotated[Path, typer.Argument(help="Folder of the study.", metavar="STUDY")],
    what: Annotated[
        str,
        typer.Argument(
            help="TITLE, TITLE/SETUP, TITLE/FACTOR=LEVEL (+ for two), TITLE/best, the same with over for TITLE (all titles), "
            "over/regret, or TITLE[/SCENE]/SETUP/vVISIT/rRUN."
        ),
    ],
    measure: Annotated[str, typer.Option(help="The measure to explain.")] = "average",
    against: Annotated[str | None, typer.Option(help="The setup to compare with; without it the baseline.")] = None,
    json: o.AsJson = False,
) -> None:
    """Show where a number comes from: runs, visits, variances, degrees of freedom, interval; for a run down to its frames.

    Example: evenhand explain my-study night-ferry/lean
    """
    found = steps.explain.explain(study, what, measure, against)
    if json:
        show.document(steps.explain.as_json(found))
    else:
        show.sections(found.sections)


def publish(
    study: o.StudyFolder = Path(),
    out: Annotated[Path | None, typer.Option(help="Folder to write to; without it STUDY/out.")] = None,
    charts: Annotated[bool, typer.Option(help="Also write every chart as PNG and SVG, 1920 × 1080.")] = True,
) -> None:
    """Write the report: one page that needs nothing else, with tables and charts beside it.

    Example: evenhand publish my-study
    """
    with show.Bar("writing") as bar:
        made = steps.publish.publish(study, out, charts=charts, progress=bar)
    show.lines(*made.lines())


def thin(
    study: o.StudyFolder = Path(),
    keep: Annotated[list[int] | None, typer.Option(help="How many titles to keep; may be given several times.")] = None,
    minutes: Annotated[float | None, typer.Option(help="Minutes that a title takes in one visit, to see the time saved.")] = None,
    json: o.AsJson = False,
) -> None:
    """Say which titles to keep for the next study: fewer that would have said the same, tested on visits left out.

    Example: evenhand thin my-study --keep 8 --minutes 6
    """
    found = steps.thin.thin_study(study, tuple(keep or ()), minutes)
    if json:
        show.document(steps.thin.as_json(found))
    else:
        show.sections(found.sections)


def register(app: typer.Typer) -> None:
    """Add this file's commands."""
    for command in (screen, judge, explain, thin, publish):
        app.command()(command)
