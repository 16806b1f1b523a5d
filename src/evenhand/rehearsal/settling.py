"""After recording: what is true as far as it is known, and what further visits would settle.

What is true is drawn around what is known: variances from their chi-square distributions, then the cells' means around their
estimates. Further visits are drawn from that truth and all is judged again, by the judging code, with the visits there are.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import numpy.typing as npt

from evenhand.judging.analysis import Analysis
from evenhand.judging.layout import Layout, layout_of
from evenhand.judging.model import Comparison, MeasureJudgement, OverTitles, Verdict
from evenhand.rehearsal.model import OpenVerdict
from evenhand.rehearsal.planned import judged, pairs_of
from evenhand.rehearsal.power import WANTED

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
Progress = Callable[[int], None]

#: More further visits than this are no longer looked at.
MOST_FURTHER: Final = 10


@dataclass(frozen=True, slots=True, eq=False)
class Drawn:
    """S truths that agree with what was recorded.

    cells : (S, T, C), in cells without a visit the title's mean. visit : (S,), own : (S, T), variances of a visit mean.
    setups : (C,), a setup's own noise as a ratio to that of all.
    """

    cells: Floats
    visit: Floats
    own: Floats
    setups: Floats

    def visits(self, layout: Layout, rng: np.random.Generator) -> Floats:
        """(S, N): visit means drawn around these cells."""
        return np.asarray(self.cells[:, layout.title, layout.setup] + self.errors(layout, rng))

    def errors(self, layout: Layout, rng: np.random.Generator) -> Floats:
        """(S, N): by how much visit means miss their cells."""
        _, setups, visits = layout.shape
        studies = self.cells.shape[0]
        shared = np.sqrt(self.visit)[:, None, None] * rng.standard_normal((studies, setups, visits))
        alone = np.sqrt(self.own[:, layout.title] * self.setups[layout.setup])
        drawn = shared[:, layout.setup, layout.visit] + alone * rng.standard_normal((studies, layout.title.size))
        return np.asarray(drawn)


def truths(analysis: Analysis, studies: int, rng: np.random.Generator) -> Drawn:
    """Draws around the estimates of a study whose visits and setups can be told apart.

    σ² = s² f / χ²_f for both parts of the noise; the cells' means miss the truth by what the same visits would have missed it by.
    """
    layout, noise = analysis.layout, analysis.noise
    titles, setups, _ = layout.shape
    total = noise.total[0] * noise.total_df / rng.chisquare(noise.total_df, studies)
    df = noise.own_df[0]
    own = np.where(df > 0, noise.own[0] * df / rng.chisquare(np.where(df > 0, df, 1.0), (studies, titles)), 0.0)
    visit = np.maximum(total - own @ layout.own_in_shift, 0.0) if titles > 1 else total
    noise_alone = Drawn(np.zeros((studies, titles, setups)), visit, own, noise.setups[0])
    weights = layout.weights.reshape(titles * setups, -1)
    known = ((analysis.means - noise_alone.errors(layout, rng)) @ weights.T).reshape(studies, titles, setups)
    there = layout.cells
    elsewhere = (known * there).sum(axis=2, keepdims=True) / np.maximum(there.sum(axis=1), 1)[:, None]
    return replace(noise_alone, cells=np.where(there, known, elsewhere))


def further(
    analysis: Analysis, votes: Floats, studies: int, seed: int, most: int = MOST_FURTHER, tell: Progress = lambda _: None
) -> tuple[Floats, Floats]:
    """(at titles (K, most), over titles (P, most)), in the order of `planned.pairs_of`: chance that each verdict is settled after
    1 ... `most` further visits of every setup at every title that has it.
    """
    rng = np.random.default_rng([seed, 3])
    drawn = truths(analysis, studies, rng)
    present = analysis.layout.present
    later = np.repeat(analysis.layout.cells[:, :, None], most, axis=2)
    new = drawn.visits(layout_of(later, False), rng)
    whole = np.full((studies, *present.shape[:2], present.shape[2] + most), np.nan)
    whole[..., : present.shape[2]][:, present] = analysis.means
    whole[..., present.shape[2] :][:, later] = new
    at_titles, over_titles = [], []
    for count in range(1, most + 1):
        cut = present.shape[2] + count
        layout = layout_of(np.concatenate([present, later[:, :, :count]], axis=2), analysis.layout.rounds)
        found = judged(layout, pairs_of(layout, votes), layout.pick(whole[..., :cut]), analysis.design.confidence)
        at, over = (part.settled(analysis.margin).mean(axis=0) for part in found)
        at_titles.append(at)
        over_titles.append(over)
        tell(count)
    return np.array(at_titles).T, np.array(over_titles).T


def open_verdicts(
    analysis: Analysis, shown: MeasureJudgement, votes: Floats, studies: int, seed: int, tell: Progress = lambda _: None
) -> tuple[OpenVerdict, ...]:
    """Every open verdict of a measure that judging shows, over titles first, with what would settle it."""
    open_over = [o for o in shown.over if o.verdict is Verdict.OPEN]
    open_at = [c for c in shown.comparisons if c.verdict is Verdict.OPEN]
    if not open_over and not open_at:
        return ()
    at_titles, over = further(analysis, votes, studies, seed, tell=tell)
    pairs = pairs_of(analysis.layout, votes)
    place = {frozenset(np.flatnonzero(w).tolist()): i for i, w in enumerate(pairs.weights)}
    row = {(t, p): k for k, (t, p) in enumerate(zip(pairs.at.tolist(), pairs.pair.tolist(), strict=True))}

    def pair(found: Comparison | OverTitles) -> int:
        names = analysis.design.setups
        return place[frozenset((names.index(found.setup), names.index(found.against)))]

    return (
        *(_open(o, None, over[pair(o)]) for o in open_over),
        *(_open(c, c.title, at_titles[row[analysis.visits.titles.index(c.title), pair(c)]]) for c in open_at),
    )


def _open(found: Comparison | OverTitles, title: str | None, chances: Floats) -> OpenVerdict:
    enough = np.flatnonzero(chances >= WANTED)
    return OpenVerdict(
        measure=found.measure,
        title=title,
        setup=found.setup,
        against=found.against,
        estimate=found.estimate,
        chances=tuple(float(c) for c in chances),
        visits=int(enough[0]) + 1 if enough.size else None,
        quick=found.visits_to_settle,
    )
