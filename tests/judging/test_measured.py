"""The measured campaign, by the rates that the game itself printed: what any statistician would find there."""

import csv
import io

import pytest
from invented_runs import RATE

from evenhand.examples.measured import measured_files
from evenhand.judging.judge import judge
from evenhand.judging.model import Design, Verdict

LEVELS = {s: {"threads": "all" if s in "BD" else "one", "cores": "6" if s in "CD" else "2"} for s in "ABCD"}
UNSETTLED = {Verdict.OPEN, Verdict.LEVEL}
BETTER = {Verdict.AHEAD, Verdict.AHEAD_BEYOND}


@pytest.fixture(scope="module")
def judgement():
    files = {str(path): data for path, data in measured_files("campaign")}
    runs = csv.DictReader(io.StringIO(files["runs.csv"].decode("utf-8")))
    table = [
        {
            "title": r["scene"],
            "setup": r["setup"],
            "visit": int(r["visit"]),
            "run": int(r["run"]),
            "measure": "rate",
            "value": r["game_fps"],
        }
        for r in runs
    ]
    return judge(table, Design(tuple("ABCD"), "A", (RATE,), LEVELS, {"threads": ("one", "all"), "cores": ("2", "6")}))


def test_the_software_scene_responds_to_neither_factor(judgement):
    judged = judgement.measures["rate"]
    assert {c.verdict for c in judged.comparisons if c.title == "keep"} <= UNSETTLED
    assert {e.verdict for e in judged.effects if e.title == "keep"} <= UNSETTLED


@pytest.mark.parametrize("scene", ["quarry", "hangar", "works"])
def test_in_the_opengl_scenes_the_factors_need_each_other(judgement, scene):
    judged = judgement.measures["rate"]
    at = {(c.setup, c.against): c.verdict for c in judged.comparisons if c.title == scene}
    assert at["C", "A"] in UNSETTLED  # more cores do nothing for one renderer thread
    assert at["D", "A"] in BETTER and at["D", "B"] in BETTER and at["D", "C"] in BETTER
    together = next(e for e in judged.effects if e.title == scene and len(e.factors) == 2)
    assert together.verdict in BETTER


def test_slow_drift_of_the_machine_is_the_rounds(judgement):
    """Visits differ by a tenth without a round term on 8 degrees of freedom, by a third of that with it on 6."""
    blocked, plain = judgement.measures["rate"].noise, judgement.other_rounds["rate"].noise
    assert (blocked.shift_df, plain.shift_df) == pytest.approx((6, 8))
    assert plain.shift == pytest.approx(0.097, abs=0.005) and blocked.shift < 0.04
