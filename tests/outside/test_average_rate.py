"""The average frame rate from logs against what the game itself printed at the end of each run (`realtics` of runs.csv).

Trimming rule: `find_start`, the same for every setup: loading goes, then a screen transition. The game's clock ticks 1/35 s; it
starts a few hundredths of a second before the first frame of the scene, near the end of loading, and includes the transition
(the campaigns' README.md). So, where there is no transition, the game's time less the trimmed log's lies between a tick below
zero and a tenth of a second; where there is one, the game's time is compared with the log from the end of loading.
"""

from __future__ import annotations

import numpy as np
import pytest

from evenhand.frames.start import find_start
from evenhand.measures.compute import measure_run

TICK = 1 / 35


def differences(recordings, campaign, transition):
    """Game's time minus the log's, in seconds and as a share of the game's time; scene and path of each log."""
    for r in recordings(campaign):
        start = find_start(r.frames)
        if not r.row["realtics"] or start.transition != transition:
            continue
        # Without a transition the start is the end of loading.
        after = int(np.argmax(r.frames.ns[:10])) + 1 if transition and start.loading else start.frame
        counted = r.frames.cut(0 if transition and not start.loading else after, len(r.frames))
        game = int(r.row["realtics"]) * TICK
        yield r, counted, game - counted.seconds, (game - counted.seconds) / game


@pytest.mark.parametrize(("campaign", "count", "beyond"), [("campaign", 72, 1), ("spoiled", 14, 0)])
def test_without_a_transition_the_games_time_is_the_trimmed_logs(recordings, campaign, count, beyond):
    found = [(r.path, seconds) for r, _, seconds, _ in differences(recordings, campaign, transition=False)]
    assert len(found) == count
    outside = [(path, seconds) for path, seconds in found if not -0.02 <= seconds <= 0.1]
    assert len(outside) == beyond
    # The one beyond: first run of the first visit, whose loading took twice as long as later (README.md, "Known noise").
    assert all(path == "quarry/A-v1-r1.csv" and seconds == pytest.approx(0.26, abs=0.01) for path, seconds in outside)


@pytest.mark.parametrize(("campaign", "count", "beyond"), [("campaign", 24, 0), ("spoiled", 4, 0), ("quiet", 72, 1)])
def test_with_a_transition_the_games_time_is_the_logs_from_the_end_of_loading(recordings, campaign, count, beyond):
    found = [(r.path, seconds, share) for r, _, seconds, share in differences(recordings, campaign, transition=True)]
    assert len(found) == count
    outside = [(path, seconds) for path, seconds, share in found if not (-0.02 <= seconds <= 0.26 and abs(share) <= 0.035)]
    assert len(outside) == beyond
    # Again a first run of a first visit, with half a second of loading.
    assert all(path == "orchard/A-v1-r1.csv" and seconds == pytest.approx(0.44, abs=0.01) for path, seconds in outside)


def test_the_average_rate_is_the_one_that_the_game_printed(recordings):
    """Scenes that start with the first frame (keep): no trimming at all, so only the game's tick stands between the two rates."""
    for r, counted, _, _ in differences(recordings, "campaign", transition=False):
        if r.scene == "keep":
            ours = measure_run(counted).values["average"]
            ticks = int(r.row["realtics"])
            # The game counts two frames more than there are intervals between its own frames.
            printed = float(r.row["game_fps"])
            assert printed == pytest.approx(int(r.row["gametics"]) / (ticks * TICK), abs=0.05)
            assert len(counted) + 2 == int(r.row["gametics"])
            assert abs(ours / printed - 1) <= TICK / counted.seconds + 2 / len(counted)


def test_the_transition_is_as_long_as_the_games_own_clock_says(recordings):
    """About 1.25 s in the campaign, 1.1 to 1.2 s in the quiet one (their README.md)."""
    for campaign, low, high in (("campaign", 1.1, 1.3), ("quiet", 1.05, 1.25)):
        for r in recordings(campaign):
            start = find_start(r.frames)
            if start.transition:
                loaded = int(np.argmax(r.frames.ns[:10])) + 1 if start.loading else 0
                assert low <= r.frames.cut(loaded, start.frame).seconds <= high, r.path
