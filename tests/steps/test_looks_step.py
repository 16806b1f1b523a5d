"""Looks at a study: those planned have their level, others say what they cost, and only then is anything said."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from evenhand.steps import judge as judge_step
from evenhand.steps.looks import visits_in
from evenhand.steps.publish import publish


def state(folder: Path, protocol: str) -> None:
    """Replace the protocol's table."""
    path = folder / "study.toml"
    head = path.read_text(encoding="utf-8").split("[protocol]")[0]
    path.write_text(f"{head}[protocol]\n{protocol}\n", encoding="utf-8", newline="\n")


def said(folder: Path) -> tuple[str, ...]:
    found = judge_step.judge_study(folder)
    return tuple(item for s in found.sections if s.anchor == "sealing" for item in s.items if "when sealed" not in item)


RAISES = "raises the error of “ahead” and “behind” from 5 % to"


@pytest.mark.parametrize(
    ("protocol", "lines"),
    [
        ("visits = 3", []),
        (
            "visits = 4",
            [
                "3 visits of 4 planned are in, and a look now was not planned: stopping because of what it shows ",
                f"{RAISES} 7.3 %.",
            ],
        ),
        ("visits = 2", [f"3 visits a setup are in, 2 were planned: adding visits because of what 2 showed {RAISES} 7.7 %."]),
        (
            "looks = [2, 3, 4]",
            [
                "Look 2 of 3, at 3 visits a setup; error spent so far 1.9 % of 5 %, so intervals are 98.45 % here. ",
                "A verdict reached now holds if you stop here.",
            ],
        ),
        (
            "looks = [2, 3]",
            ["Look 2 of 2, at 3 visits a setup: the last one planned; all of the error is spent, intervals are 95.92 %."],
        ),
        (
            "looks = [2, 4]",
            [
                "This look, at 3 visits a setup, is none of those planned (at 2 and 4). Its intervals are 99.77 %; ",
                "if you stop or go on because of what it shows, the error of the whole is 5.0 %.",
            ],
        ),
    ],
)
def test_what_is_said_of_a_look(judged: Path, protocol: str, lines: list[str]) -> None:
    state(judged, protocol)
    assert "".join(said(judged)).replace("\u00a0", " ") == "".join(lines)


def test_a_planned_look_is_judged_at_its_own_confidence(judged: Path) -> None:
    whole = judge_step.judge_study(judged).opened.outcome
    state(judged, "looks = [2, 3, 4]")
    found = judge_step.judge_study(judged)
    early = found.opened.outcome
    assert early.look.number == 2 and early.shown.design.confidence == early.look.confidence == 0.9845
    for wide, narrow in zip(early.shown.measures["average"].over, whole.shown.measures["average"].over, strict=True):
        assert wide.these.low < narrow.these.low and wide.these.confidence == 0.9845 and wide.inner.confidence == early.look.inner
    assert json.loads(judge_step.as_json(found))["look"]["number"] == 2
    page = publish(judged, charts=False).page.read_text(encoding="utf-8").replace("\u00a0", " ")
    assert "intervals of this look are 98.45 %" in page and "98.45% interval" in page.replace(" %", "%")


@pytest.mark.parametrize(("half", "words"), [("20 %", "Visits are too few to know the noise itself"), ("0.01 %", "not yet")])
def test_precision_says_whether_recording_may_stop(judged: Path, half: str, words: str) -> None:
    """Two setups and three visits in rounds: too few degrees of freedom for any half-width to be believed."""
    state(judged, f'visits = 6\nstop_at = "{half}"')
    (line,) = said(judged)
    assert "whatever the verdict" in line and words in line


def test_a_lost_log_does_not_undo_a_visit(judged: Path) -> None:
    runs = [run for run in judge_step.judge_study(judged).opened.outcome.runs if run.counts]
    assert dict(visits_in(runs)) == {"plain": 3, "lean": 3}
    lost = [r for r in runs if not (r.key.title == "ironvale" and r.key.setup == "lean" and r.key.visit == 3)]
    more = [replace(r, key=replace(r.key, scene=f"{r.key.scene}{n}")) for r in runs for n in (1, 2)]
    assert visits_in([*lost, *more])["lean"] == 3
    assert visits_in([r for r in runs if r.key.setup == "plain"]) == {"plain": 3}
