"""The whole of the work on the invented study, from frames to verdicts: what was put in must come out.

How often intervals hold the truth is counted over many seeds in tests/calibration/test_invented_seeds.py.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable

import numpy as np
import pytest

from evenhand.examples.invented import invented_frames, invented_study, invented_truth, keys
from evenhand.examples.invented_titles import Response
from evenhand.frames.model import Cut, Frames
from evenhand.frames.stretch import apply, propose
from evenhand.judging.groups import response_groups
from evenhand.judging.judge import judge
from evenhand.judging.model import Comparison, Design, Judgement, Preference, Verdict
from evenhand.judging.model import Response as Answer
from evenhand.measures.catalogue import CATALOGUE
from evenhand.measures.compute import measure_run
from evenhand.screening.model import ScreenedRun, Screening, Weight
from evenhand.screening.screen import screen
from evenhand.study.model import RunKey

STUDY = invented_study()
TRUTH = invented_truth()
MEASURES = ("average", "low1_percentile")


@pytest.fixture(scope="module")
def runs() -> list[ScreenedRun]:
    logs = {key: invented_frames(key) for key in keys()}
    stretches = {
        title.name: propose(f"{title.name}/{title.name}", "clock", [f for k, f in logs.items() if k.title == title.name][:8])
        for title in STUDY.titles
    }
    return [
        screened(key, frames, apply(frames, stretches[key.title]), position)
        for position, (key, frames) in enumerate(logs.items())
    ]


def screened(key: RunKey, frames: Frames, cut: Cut, position: int) -> ScreenedRun:
    digest = hashlib.sha256(frames.ns.tobytes()).hexdigest()
    return ScreenedRun(key, STUDY.title(key.title).scenes[0], frames, cut, digest, float(position))


@pytest.fixture(scope="module")
def screening(runs: list[ScreenedRun]) -> Screening:
    return screen(runs)


def judged(runs: Iterable[ScreenedRun]) -> Judgement:
    table = [
        {"title": r.key.title, "setup": r.key.setup, "visit": r.key.visit, "run": r.key.run, "measure": key, "value": value}
        for r in runs
        for key, value in measure_run(r.cut.counted).values.items()
        if key in MEASURES
    ]
    design = Design(
        setups=tuple(s.name for s in STUDY.setups),
        baseline=STUDY.baseline,
        measures=tuple(CATALOGUE[key] for key in MEASURES),
        levels={s.name: s.levels for s in STUDY.setups},
        factors={f.name: tuple(level.name for level in f.levels) for f in STUDY.factors},
    )
    return judge(table, design)


@pytest.fixture(scope="module")
def judgement(runs: list[ScreenedRun]) -> Judgement:
    """From the runs that truly are sound."""
    return judged(r for r in runs if r.key not in TRUTH.spoiled and not (r.key.title in TRUTH.warm_up and r.key.run == 1))


def truth_of(comparison: Comparison) -> float:
    table = TRUTH.average if comparison.measure == "average" else TRUTH.low
    return table[comparison.title][comparison.setup] - table[comparison.title][comparison.against]


@pytest.mark.parametrize("key", MEASURES)
def test_no_verdict_says_the_opposite_of_the_truth(judgement: Judgement, key: str) -> None:
    ahead = {Verdict.AHEAD, Verdict.AHEAD_BEYOND}
    behind = {Verdict.BEHIND, Verdict.BEHIND_BEYOND}
    for c in judgement.measures[key].comparisons:
        assert not (c.verdict in ahead and truth_of(c) < -0.001), c
        assert not (c.verdict in behind and truth_of(c) > 0.001), c
        assert not (c.verdict is Verdict.LEVEL and abs(truth_of(c)) > 1.2 * c.margin), c


def verdict(judgement: Judgement, key: str, title: str, setup: str) -> Verdict:
    found = [c for c in judgement.measures[key].comparisons if (c.title, c.setup, c.against) == (title, setup, STUDY.baseline)]
    (one,) = found
    return one.verdict


def test_large_effects_are_found(judgement: Judgement) -> None:
    for title, setup in (("night-ferry", "slow-45"), ("copper-meridian", "fast-45"), ("paper-armada", "slow-45")):
        assert verdict(judgement, "average", title, setup) is Verdict.BEHIND_BEYOND, title


def test_average_and_lows_disagree_where_they_should(judgement: Judgement) -> None:
    (title,) = [t for t, response in TRUTH.response.items() if response is Response.DISAGREE]
    assert verdict(judgement, "average", title, "fast-45") is Verdict.LEVEL
    assert verdict(judgement, "low1_percentile", title, "fast-45") is Verdict.BEHIND_BEYOND


def test_the_factors_need_each_other_only_where_both_hurt(judgement: Judgement) -> None:
    interactions = {e.title: e for e in judgement.measures["average"].effects if len(e.factors) == 2 and e.title is not None}
    assert interactions["night-ferry"].estimate == pytest.approx(TRUTH.average["night-ferry"]["slow-45"] + 0.018, abs=0.03)
    level = [t for t, r in TRUTH.response.items() if r is Response.LEVEL]
    assert np.median([abs(interactions[t].estimate) for t in level]) < 0.02


def doubts(screening: Screening) -> dict[RunKey, tuple[str, ...]]:
    return {f.run: f.reasons for f in screening.flags if f.weight is Weight.DOUBTFUL}


@pytest.mark.parametrize("key", TRUTH.spoiled, ids=str)
def test_spoiled_run_is_flagged_for_its_reason(screening: Screening, key: RunKey) -> None:
    found = doubts(screening)
    kind = TRUTH.spoiled[key]
    if kind == "same-log":  # either of the two may be the copy
        key = next((k for k in found if (k.title, k.setup, k.visit) == (key.title, key.setup, key.visit)), key)
    assert kind in found.get(key, ())[:2]


def test_first_runs_that_warm_up_are_noticed(screening: Screening) -> None:
    noticed = {f.run for f in screening.flags if "first-run" in f.reasons}
    expected = {k for k in keys() if k.title in TRUTH.warm_up and k.run == 1}
    assert len(noticed & expected) >= 10


def test_sound_runs_are_left_alone(screening: Screening) -> None:
    sound = [k for k in keys() if k not in TRUTH.spoiled and k.title not in TRUTH.warm_up]
    accused = {k: why for k, why in doubts(screening).items() if k in sound and "same-log" not in why}
    assert len(accused) <= 0.02 * len(sound), accused


def test_titles_are_grouped_by_the_answer_that_was_put_in(judgement: Judgement) -> None:
    """All twelve; a frame cap cannot be seen in the verdicts and looks like a level title."""
    fast, power = Preference("memory", "6400", "5200"), Preference("power", "65", "45")
    expected = {
        Response.LEVEL: (Answer.LEVEL, ()),
        Response.CAPPED: (Answer.LEVEL, ()),
        Response.MEMORY: (Answer.PREFERS, (fast,)),
        Response.POWER: (Answer.PREFERS, (power,)),
        Response.BOTH: (Answer.COMBINATION, ()),
        Response.DISAGREE: (Answer.DISAGREE, ()),
    }
    found = {t: (g.kind, g.prefers) for g in response_groups(judgement, *MEASURES) for t in g.titles}
    assert found == {t: expected[response] for t, response in TRUTH.response.items()}


@pytest.mark.parametrize("key", MEASURES)
def test_the_true_best_cannot_be_told_from_the_best(judgement: Judgement, key: str) -> None:
    """Setups truly within 0.2 % of the best of their title. Titles share the shift of a visit, so one study may lie below 95 %;
    the rate is counted in tests/judging/test_best.py.
    """
    table = TRUTH.average if key == "average" else TRUTH.low
    found = [b for b in judgement.measures[key].best if b.title]
    best = [b.may_be_best for b in found if table[b.title or ""][b.setup] > max(table[b.title or ""].values()) - 0.002]
    far = [b.may_be_best for b in found if table[b.title or ""][b.setup] < max(table[b.title or ""].values()) - 0.04]
    assert np.mean(best) > 0.8 and not any(far)


def test_titles_beyond_the_margin_are_counted(judgement: Judgement) -> None:
    """The count is of verdicts; the true number lies between those that are and those that may be."""
    measure = judgement.measures["average"]
    for counts in measure.counts:
        truly = sum(TRUTH.average[t][counts.setup] < -1.1 * measure.margin for t in judgement.titles)
        assert counts.behind <= truly + 1 and truly <= counts.behind + counts.may_be_behind
        assert counts.ahead == 0
