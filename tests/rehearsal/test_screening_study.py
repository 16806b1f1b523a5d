"""The study of screening: spoiled runs are what they claim, and a scene never sets its own strictness."""

import numpy as np
import pytest

from evenhand.frames.model import Cut, Frames, Start
from evenhand.rehearsal.screening_study import GOOD, Outcome, chosen_without, leaving_scenes_out, limits, made_outcomes
from evenhand.rehearsal.spoil import KINDS, in_place_of, spoiled
from evenhand.screening.catalogue import CHECKS
from evenhand.screening.model import ScreenedRun
from evenhand.study.model import Pace, RunKey, Scene


def run(scene="a", setup="x", visit=1, number=1, n=900, usual=8.0, seed=0):
    rng = np.random.default_rng([seed, visit, number, ord(scene), ord(setup)])
    course = np.interp(np.arange(n), np.linspace(0, n, 30), np.random.default_rng(ord(scene)).normal(0, 0.2, 30))
    lead = np.full(3, 200_000_000)
    ns = np.rint(usual * 1e6 * np.exp(course + rng.normal(0, 0.05, n))).astype(np.int64)
    whole = Frames(np.concatenate([lead, ns]))
    cut = Cut(whole.cut(3, n + 3), 3, n + 3, Start(3, 0.6, True, False, ""), 0.0, 0.0)
    return ScreenedRun(
        RunKey(scene, scene, setup, visit, number), Scene(scene, scene, pace=Pace.FRAMES), whole, cut, f"{rng.random()}"
    )


@pytest.mark.parametrize("kind", [k for k in KINDS if k.spoil is not None], ids=lambda k: k.name)
def test_a_spoiled_run_keeps_what_stood_before_its_scene(kind):
    good = run()
    bad = spoiled(good, kind.spoil, np.random.default_rng(1))
    assert bad.whole.ns[:3].tolist() == good.whole.ns[:3].tolist()
    assert bad.whole.ns[3:].tolist() == bad.cut.counted.ns.tolist()
    assert bad.cut.counted.ns.tolist() != good.cut.counted.ns.tolist()
    assert bad.cut.counted.ns.min() > 0
    assert set(kind.right) <= set(CHECKS)
    assert bad.cut.missing == pytest.approx(1 - len(bad.cut.counted) / 900)


def test_another_scene_comes_at_the_claimed_rate_and_length():
    claimed, played = run("a"), run("b", n=1200, usual=3.0)
    found = in_place_of(claimed, played, level=True)
    assert len(found.cut.counted) == 900
    assert np.median(found.cut.counted.ns) == pytest.approx(np.median(claimed.cut.counted.ns), rel=0.1)


def test_the_strictness_of_a_scene_is_chosen_on_the_others():
    """Scene `a` would do best with 0.7, `b` with 1.4; each gets what suits the other."""

    def outcomes(best_a, best_b):
        return [Outcome("a", "k", best_a, best_a), Outcome("b", "k", best_b, best_b), Outcome("a", GOOD, False, False)]

    found = {0.7: outcomes(True, False), 1.4: outcomes(False, True)}
    assert chosen_without(found) == {"a": 1.4, "b": 0.7}
    assert [o.right for o in leaving_scenes_out(found, chosen_without(found)) if o.kind == "k"] == [False, False]


def test_good_runs_flagged_cost_more_than_they_bring():
    found = {
        s: [
            Outcome("a", "k", s < 1, s < 1),
            *[Outcome("a", GOOD, s < 1 and i == 0, False) for i in range(4)],
            Outcome("b", "k", True, True),
        ]
        for s in (0.7, 1.0)
    }
    assert chosen_without(found)["b"] == 1.0


def test_strictness_one_is_the_catalogue():
    assert all(value == CHECKS[slug].threshold for slug, value in limits(1.0).items())
    assert limits(1.25)["odd-run"] > limits(1.0)["odd-run"]
    assert limits(1.25)["other-content"] < limits(1.0)["other-content"]


def test_made_runs_are_counted_by_kind():
    runs = [
        run(scene, setup, v, r, usual=8.0 if setup == "x" else 13.0)
        for scene in "ab"
        for setup in "xy"
        for v in (1, 2, 3)
        for r in (1, 2)
    ]
    found = made_outcomes(runs, 2, 1.0, seed=5)
    assert len(found) == 2 * len(KINDS)
    assert made_outcomes(runs, 2, 1.0, seed=5) == found
    sure = [o for o in found if o.kind.startswith(("cut off", "stopped", "capped"))]
    assert len(sure) == 6
    assert all(o.right for o in sure), sure
