"""First run of a visit unlike the rest: shaders are compiled, caches filled."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from evenhand.frames.model import Floats
from evenhand.screening.found import Found, change_words, doubt, note
from evenhand.screening.survey import Survey
from evenhand.stats.robust import spread

_SLOW_SHARE: Final = 0.99  # quantile of the frame times that tells how uneven a run is
_LEAST_SLOWER: Final = 0.02  # of a log rate
_LEAST_UNEVEN: Final = 0.10  # of the log of the slow frames' length against the median
_FEW: Final = 5  # first runs, below which their spread is not known


@dataclass(frozen=True, slots=True)
class _First:
    """A first run beside its visit's later ones: log duration and log unevenness, first minus the middle of the later."""

    run: int
    slower: float
    uneven: float


def find(survey: Survey, threshold: float) -> Found:
    """First runs that are slower, or more uneven, than the later runs of the visit by `threshold` spreads; and a note where
    first runs as a whole are.
    """
    found = Found()
    firsts = _firsts(survey)
    if not firsts:
        return found
    scale_slow = _scale(np.array([f.slower for f in firsts]), _noise(survey), _LEAST_SLOWER / threshold)
    scale_uneven = _scale(np.array([f.uneven for f in firsts]), 0.15, _LEAST_UNEVEN / threshold)
    flagged = 0
    for first in firsts:
        slow, uneven = first.slower / scale_slow, first.uneven / scale_uneven
        if max(slow, uneven) < threshold:
            continue
        flagged += 1
        what = []
        if slow >= threshold:
            what.append(f"{change_words(first.slower)} slower")
        if uneven >= threshold:
            what.append(f"its slowest hundredth of frames {change_words(first.uneven)} longer beside the median")
        said = f"The first run of its visit: {' and '.join(what)} than in the later ones."
        evidence = {"slower": first.slower, "uneven": first.uneven, "z": max(slow, uneven)}
        found.flags.append(doubt(survey.key(first.run), "first-run", said, evidence))
    if flagged == 0:
        _note_all(found, survey, firsts)
    return found


def _firsts(survey: Survey) -> list[_First]:
    visits: dict[tuple[str, str, str, int], list[int]] = {}
    for i, r in enumerate(survey.runs):
        visits.setdefault((r.key.title, r.key.scene, r.key.setup, r.key.visit), []).append(i)
    uneven = [_unevenness(r.cut.counted.ms) for r in survey.runs]
    pace = survey.levels.value
    out = []
    for members in visits.values():
        first, *later = sorted(members, key=lambda i: survey.key(i).run)
        if later and survey.key(first).run == 1:
            slower = float(np.median(pace[later]) - pace[first])
            out.append(_First(first, slower, uneven[first] - float(np.median([uneven[i] for i in later]))))
    return out


def _unevenness(ms: Floats) -> float:
    """Log of the slow frames' length against the median frame's."""
    return float(np.log(np.quantile(ms, _SLOW_SHARE) / np.median(ms)))


def _noise(survey: Survey) -> float:
    """Spread of the difference of two runs of a visit, from all runs' own noise."""
    scale = survey.levels.scale
    known = scale[~np.isnan(scale)]
    return float(np.median(known) * np.sqrt(2)) if known.size else 0.0


def _scale(differences: Floats, prior: float, least: float) -> float:
    """Spread of the differences about their middle; of few of them only together with what is known otherwise."""
    own = spread(differences, least)
    return own if differences.size >= _FEW else max(own, prior, least)


def _note_all(found: Found, survey: Survey, firsts: list[_First]) -> None:
    """First runs that are slower in nearly all visits, though none stands out by itself (sign test, one-sided)."""
    slower = np.array([f.slower for f in firsts])
    n, k = slower.size, int(np.sum(slower > 0))
    middle = float(np.median(slower))
    if n >= _FEW and middle >= 0.01 and _at_least(k, n) < 0.01:
        keys = tuple(survey.key(f.run) for f in firsts)
        size = change_words(middle, 1)
        said = f"First runs are slower than the later ones in {k} of {n} visits to a scene, by {size} in the middle."
        advice = "play the scene once before recording, in every visit"
        found.flags.append(note(keys[0], "first-run", said, {"slower": middle, "visits": float(n)}, advice, keys))


def _at_least(k: int, n: int) -> float:
    """P(at least k of n heads)."""
    row = np.cumprod(np.concatenate([[1.0], (n - np.arange(n)) / (np.arange(n) + 1.0)]))
    return float(row[k:].sum() / row.sum())
