"""The numbers of a run, from its frames alone.

Sums are taken over whole nanoseconds, so the same frames give the same bits, whatever the machine's vector width.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from evenhand.frames.model import Frames, Nanoseconds
from evenhand.measures.catalogue import FRAMED
from evenhand.measures.hitches import hitch_marks, moments
from evenhand.measures.lows import FEWEST_DECIDING, NS_PER_S, low
from evenhand.measures.model import RunMeasures

NAN = float("nan")


def measure_run(frames: Frames, target_rate: float = 60.0, quantile_type: int = 7) -> RunMeasures:
    """Every measure that frames give for one run.

    frames : the frames that count. target_rate : frames per second, > 0. quantile_type : of Hyndman & Fan, for percentile lows.
    """
    return pool((frames,), target_rate, quantile_type)


def pool(frames: Sequence[Frames], target_rate: float = 60.0, quantile_type: int = 7) -> RunMeasures:
    """Every measure of the runs of a visit put together, as if they were one run; no difference is taken across two runs.

    Raises ValueError without frames.
    """
    if not frames:
        raise ValueError("measures need at least one run")
    slowest_first = np.sort(np.concatenate([run.ns for run in frames]))[::-1]
    total_ns = int(slowest_first.sum())
    seconds = total_ns / NS_PER_S
    marks = [hitch_marks(run) for run in frames]
    in_hitches = sum(int(run.ns[marked].sum()) for run, marked in zip(frames, marks, strict=True))
    values = {
        "average": NS_PER_S * slowest_first.size / total_ns,
        "pace_change": _pace_change([run.ns for run in frames], total_ns, slowest_first.size),
        "hitches": 60.0 * sum(moments(marked) for marked in marks) / seconds,
        "hitch_time": 100.0 * in_hitches / total_ns,
        "below_target": 100.0 * int(slowest_first[slowest_first > NS_PER_S / target_rate].sum()) / total_ns,
    }
    tail_counts: dict[str, int] = {}
    for key, measure in FRAMED.items():
        if measure.low is not None and measure.tail_share is not None:
            values[key], tail_counts[key] = low(slowest_first, measure.low, measure.tail_share, quantile_type)
    return RunMeasures(
        values={key: values[key] for key in FRAMED},
        tail_counts=tail_counts,
        too_short=tuple(key for key, count in tail_counts.items() if count < FEWEST_DECIDING),
        frames=int(slowest_first.size),
        seconds=seconds,
    )


def _pace_change(runs: Sequence[Nanoseconds], total_ns: int, frames: int) -> float:
    """Mean absolute successive difference in per cent of the mean duration; NaN where no run has two frames."""
    pairs = sum(run.size - 1 for run in runs)
    if not pairs:
        return NAN
    change = sum(int(np.abs(np.diff(run)).sum()) for run in runs)
    return 100.0 * (change / pairs) / (total_ns / frames)
