"""The stretch of a scene that counts: proposed once from its first good runs, then applied to each log by itself.

`apply` sees one log and the decision, nothing else, so the numbers of a run never depend on runs that come later.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from typing import Final

import numpy as np

from evenhand.frames.model import Cut, Floats, Frames, Stretch
from evenhand.frames.profile import Course, bins_for, correlation, pace_profile, shares
from evenhand.frames.start import START_RULE, find_start

FRAMES: Final = "frames"
CLOCK: Final = "clock"

SAME_COUNT: Final = 2  # frames by which equal counts may differ
NEARLY_ALL: Final = 0.75  # of the runs agree on a frame count
SHORT: Final = 0.95  # a run under this share of the usual length is short
CONVINCING: Final = 0.7  # correlation at which a shift is believed,
GAIN: Final = 0.15  # if it beats the unshifted one by this
FARTHEST_S: Final = 3.0  # and is no larger than this many seconds,
FARTHEST: Final = 0.25  # nor than this share of the stretch
STEPS: Final = 4  # shifts tried per bin


def propose(scene: str, pace: str | None, runs: Sequence[Frames]) -> Stretch:
    """The stretch for a scene, from its first good runs (three or more, so that a bad one among them does no harm).

    scene : "title/scene". pace : "frames", "clock", or None to tell from the runs: equal frame counts after the start mean
    frames. Raises ValueError without runs.
    """
    if not runs:
        raise ValueError("a stretch is proposed from at least one run")
    played = [run.cut(find_start(run).frame, len(run)) for run in runs]
    counts = np.array([len(run) for run in played], dtype=np.float64)
    seconds = np.array([run.seconds for run in played])
    chosen = pace or (FRAMES if _counts_agree(counts, seconds) else CLOCK)
    if chosen == FRAMES:
        length = _usual_count(counts)
        words = f"{length:.0f} frames, as in {int((np.abs(counts - length) <= SAME_COUNT).sum())} of {len(runs)} runs"
    else:
        length = _common_length(seconds)
        words = f"{length:g} s, which {int((seconds >= length).sum())} of {len(runs)} runs have"
    told = "as the study says" if pace else "told from the frame counts"
    reference = _reference(played, chosen, length)
    return Stretch(
        scene, chosen, START_RULE, 0.0, length, tuple(round(float(v), 4) for v in reference), why=f"{words}; {chosen}: {told}"
    )


def apply(frames: Frames, stretch: Stretch) -> Cut:
    """The frames of one log that count. Depends on this log and the stretch alone.

    A frame counts when it begins inside the stretch. `missing` is the share of the stretch that the log lacks, at either end.
    At least one frame is returned, the log's last, when the log ends before the stretch begins (`missing` is then 1).
    """
    start = find_start(frames)
    begins = np.concatenate(([0.0], frames.ends_s))
    by_frames = stretch.pace == FRAMES
    floor = float(start.frame) if by_frames else float(begins[start.frame])
    end = float(len(frames)) if by_frames else float(begins[-1])
    wanted = floor + stretch.skip
    length = stretch.length or end - wanted
    shift = _shift(frames, stretch, wanted, length) if stretch.reference else 0.0
    lag_s = _seconds(shift, wanted, begins) if by_frames else shift
    low, high = max(wanted + shift, floor if shift > 0 else 0.0), min(wanted + shift + length, end)
    missing = 1.0 if length <= 0 else 1.0 - max(high - low, 0.0) / length
    if by_frames:
        first, last = round(low), round(high)
    else:
        first, last = (int(np.searchsorted(begins[:-1], edge - 1e-12)) for edge in (low, high))
    first = min(first, len(frames) - 1)
    last = max(last, first + 1)
    return Cut(frames.cut(first, last), first, last, start, lag_s, missing if missing > 1e-9 else 0.0)


def _counts_agree(counts: Floats, seconds: Floats) -> bool:
    """Whether the scene plays a fixed set of frames: nearly all runs have the same count, and the counts vary less than the
    times (runs under one cap by the clock agree in both).
    """
    usual = _usual_count(counts)
    same = np.abs(counts - usual) <= SAME_COUNT
    if counts.size < 2 or same.mean() < NEARLY_ALL - 1e-9:
        return False
    return bool(_spread(counts[same]) < _spread(seconds[same]))


def _spread(values: Floats) -> float:
    return float(values.std() / values.mean())


def _usual_count(counts: Floats) -> float:
    """The commonest frame count; of equally common ones the longest."""
    common = Counter(counts.tolist())
    return float(max(common, key=lambda count: (common[count], count)))


def _common_length(seconds: Floats) -> float:
    """The largest length, in whole tenths of a second, that all runs have but those that are clearly short: at most a fifth of
    them, or one of three or four. Of two runs neither can be called the bad one.
    """
    short = seconds < SHORT * np.median(seconds)
    allowed = max(1, seconds.size // 5) if seconds.size >= 3 else 0
    kept = seconds if short.sum() > allowed else seconds[~short]
    least = float(kept.min())
    return math.floor(10 * least + 1e-9) / 10 if least >= 1 else least


def _reference(played: Sequence[Frames], pace: str, length: float) -> Floats:
    """The usual profile: the median, bin by bin, of the runs; runs unlike that median are left out of a second one.

    Shape (bins,), bins known in at least half of the runs; empty where a bin is known in none.
    """
    bins = bins_for(length, pace)
    profiles = np.array([pace_profile(run, pace, bins, length) for run in played])
    whole = profiles[np.isfinite(profiles).all(axis=1)]
    if not whole.size:
        return np.empty(0)
    middle = np.median(whole, axis=0)
    likeness = np.array([correlation(profile, middle) for profile in whole])
    alike = whole[likeness >= np.nanmedian(likeness) - GAIN] if np.isfinite(likeness).any() else whole
    return np.asarray(np.median(alike, axis=0), dtype=np.float64)


def _shift(frames: Frames, stretch: Stretch, wanted: float, length: float) -> float:
    """Frames or seconds by which the content of this log lies later than the rule for starts says; 0 unless the correlation
    with the reference is convincing. A log of a fixed set of frames that has exactly its count needs no shift.
    """
    by_frames = stretch.pace == FRAMES
    if by_frames and abs(len(frames) - wanted - length) <= SAME_COUNT:
        return 0.0
    bins = len(stretch.reference)
    reference = np.array(stretch.reference)
    most = FARTHEST * length if by_frames else min(FARTHEST * length, FARTHEST_S)
    step = max(1.0, round(length / bins / STEPS)) if by_frames else length / bins / STEPS
    tried = step * np.arange(-int(most / step), int(most / step) + 1)

    course = Course.of(frames, stretch.pace)

    def likeness(shift: float) -> float:
        return correlation(shares(course.rates(bins, length, wanted + shift)), reference)

    unshifted = likeness(0.0)
    if unshifted > 1 - GAIN:
        return 0.0
    found = np.array([likeness(float(shift)) for shift in tried])
    if not np.isfinite(found).any():
        return 0.0
    best = int(np.nanargmax(found))
    beaten = not np.isfinite(unshifted) or found[best] >= unshifted + GAIN
    return float(tried[best]) if found[best] >= CONVINCING and beaten else 0.0


def _seconds(shift: float, wanted: float, begins: Floats) -> float:
    """The time that a shift of whole frames stands for in this log."""
    at, to = np.clip([round(wanted), round(wanted + shift)], 0, begins.size - 1)
    return float(begins[to] - begins[at])
