"""What logs of one layout tell together."""

from __future__ import annotations

import numpy as np
import pytest

from evenhand.frames.model import Reading, Role, Unit
from evenhand.frames.read import UnclearLog, read_log
from evenhand.frames.together import Unsettled, agreed, by_length


def lone_column(seed: int, mean_ms: float, seconds: float = 12.0) -> bytes:
    """Milliseconds without a header, of frames so slow that the numbers might be rates as well."""
    rng = np.random.default_rng(seed)
    return "".join(f"{x:.2f}\n" for x in mean_ms * rng.gamma(60, 1 / 60, int(seconds * 1000 / mean_ms))).encode("ascii")


def unclear(data: bytes, scene: str = "saltmarsh") -> Unsettled:
    with pytest.raises(UnclearLog) as error:
        read_log(data, name="log")
    return Unsettled(scene, error.value)


def clear(data: bytes, role: Role) -> Reading:
    unit = Unit.MS if role is Role.DURATION else Unit.PER_S
    return read_log(data, name="log", column="1", role=role, unit=unit)


RUNS = [lone_column(n, mean) for n, mean in enumerate((14.0, 14.3, 20.0, 20.4))]


def test_the_clock_ends_scenes_so_equal_lengths_settle_what_the_numbers_are() -> None:
    [recipe] = by_length([unclear(run) for run in RUNS]).values()
    assert (recipe.role, recipe.unit) == (Role.DURATION, Unit.MS)


def test_lengths_settle_nothing_where_they_differ_or_are_few() -> None:
    assert by_length([]) == {}
    assert by_length([unclear(run) for run in RUNS[:2]]) == {}
    uneven = [lone_column(n, 15.0, seconds) for n, seconds in enumerate((10.0, 12.0, 14.0, 9.0))]
    assert by_length([unclear(run) for run in uneven]) == {}


def test_lengths_are_compared_within_a_scene() -> None:
    other = [lone_column(10 + n, mean, 19.0) for n, mean in enumerate((15.0, 19.0, 21.0))]
    runs = [unclear(run) for run in RUNS] + [unclear(run, "tin-cathedral") for run in other]
    assert {(r.role, r.unit) for r in by_length(runs).values()} == {(Role.DURATION, Unit.MS)}


def test_clear_logs_tell_how_unclear_ones_of_their_layout_are_read() -> None:
    readings = [clear(run, Role.DURATION) for run in RUNS[:3]]
    [recipe] = agreed(readings, [unclear(RUNS[3])]).values()
    assert recipe.role is Role.DURATION
    np.testing.assert_array_equal(read_log(RUNS[3], name="log", recipe=recipe).frames.ns, clear(RUNS[3], Role.DURATION).frames.ns)


def test_many_clear_logs_that_agree_settle_any_number() -> None:
    readings = [clear(RUNS[0], Role.DURATION)] * 8
    assert len(agreed(readings, [unclear(RUNS[3])] * 20)) == 1
    assert agreed(readings[:7], [unclear(RUNS[3])] * 20) == {}


def test_clear_logs_that_differ_or_are_few_tell_nothing() -> None:
    assert agreed([clear(RUNS[0], Role.DURATION), clear(RUNS[1], Role.RATE)]) == {}
    assert agreed([clear(RUNS[0], Role.DURATION)], [unclear(run) for run in RUNS[1:]]) == {}
