"""Studies with known truth: the model of judging, run backwards.

log value = effect_tc + B_v (round) + V_cv (visit, shared by all titles) + U_tcv (title by visit) + run noise
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from evenhand.judging.model import Row

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Truth:
    """What is true of a simulated study; all spreads are standard deviations of natural logarithms.

    visits : of each setup, one number or one per setup. runs : in each visit. effects : of each setup, mean over titles (empty:
    all alike); effect_spread : of a title's effect around it. round_shift, visit_shift, title_shift, run_noise : spreads of B, V,
    U and the runs. tails : degrees of freedom of Student's t that all noise is drawn from (scaled to the same spread), None for
    normal. unlike : spread of the log of the run noise between titles. absent : (title, setup, visit) not recorded; visit None is
    all of them. setup_noise, setup_shift : of each setup, what its run noise and title by visit, and its visit shift, are
    multiplied by (empty: 1). effect_tails : degrees of freedom of Student's t for the titles' effects. collapse, collapse_share :
    the last setup loses so much (a logarithm) at that share of titles like these, each by its own chance.
    """

    titles: int
    setups: int
    visits: int | tuple[int, ...]
    runs: int
    run_noise: float
    visit_shift: float
    title_shift: float = 0.0
    round_shift: float = 0.0
    effects: tuple[float, ...] = ()
    effect_spread: float = 0.0
    tails: float | None = None
    unlike: float = 0.0
    absent: tuple[tuple[int, int, int | None], ...] = ()
    setup_noise: tuple[float, ...] = ()
    setup_shift: tuple[float, ...] = ()
    effect_tails: float | None = None
    collapse: float = 0.0
    collapse_share: float = 0.0

    @property
    def visits_of(self) -> tuple[int, ...]:
        """Number of visits of each setup."""
        return (self.visits,) * self.setups if isinstance(self.visits, int) else self.visits

    @property
    def like(self) -> Floats:
        """(C,): mean effect of each setup over all titles like these."""
        mean = np.asarray(self.effects or (0.0,) * self.setups, dtype=np.float64)
        return np.asarray(mean - self.collapse_share * self.collapse * (np.arange(self.setups) == self.setups - 1))


@dataclass(frozen=True, slots=True, eq=False)
class Simulated:
    """S studies. values : (S, T, C, V, R) logarithms, NaN where absent. true : (S, T, C). present : (T, C, V)."""

    values: Floats
    true: Floats
    present: Bools


def simulate(truth: Truth, rng: np.random.Generator, studies: int = 1) -> Simulated:
    """Draw `studies` studies; the same generator state gives the same studies."""
    shape = (truth.titles, truth.setups, max(truth.visits_of))
    titles, setups, visits = shape
    true = title_effects(truth, rng, (studies, titles))
    noisier, unsteadier = (np.asarray(f or (1.0,) * setups)[:, None, None] for f in (truth.setup_noise, truth.setup_shift))
    spread = truth.run_noise * np.exp(truth.unlike * rng.standard_normal((studies, titles, 1, 1, 1)))
    values = true[..., None, None] + noisier * spread * _noise(truth, rng, (studies, *shape, truth.runs))
    values += noisier * truth.title_shift * _noise(truth, rng, (studies, *shape, 1))
    values += unsteadier * truth.visit_shift * _noise(truth, rng, (studies, 1, setups, visits, 1))
    values += truth.round_shift * rng.standard_normal((studies, 1, 1, visits, 1))
    present = present_visits(truth)
    values[:, ~present] = np.nan
    return Simulated(values, true, present)


def title_effects(truth: Truth, rng: np.random.Generator, titles: tuple[int, ...]) -> Floats:
    """(*titles, C): effects of the setups at so many titles like these."""
    mean = np.asarray(truth.effects or (0.0,) * truth.setups)
    true = mean + truth.effect_spread * _standard(truth.effect_tails, rng, (*titles, truth.setups))
    if truth.collapse:
        true[..., -1] -= truth.collapse * (rng.random(titles) < truth.collapse_share)
    return np.asarray(true)


def present_visits(truth: Truth) -> Bools:
    """(T, C, V): which visits are recorded."""
    most = max(truth.visits_of)
    by_setup = np.arange(most) < np.array(truth.visits_of)[:, None]
    present = np.repeat(by_setup[None], truth.titles, axis=0)
    for title, setup, visit in truth.absent:
        present[title, setup, slice(None) if visit is None else visit] = False
    return present


def _noise(truth: Truth, rng: np.random.Generator, shape: tuple[int, ...]) -> Floats:
    return _standard(truth.tails, rng, shape)


def _standard(tails: float | None, rng: np.random.Generator, shape: tuple[int, ...]) -> Floats:
    """Draws with standard deviation 1, normal or of Student's t with `tails` degrees of freedom."""
    if tails is None:
        return rng.standard_normal(shape)
    return np.asarray(rng.standard_t(tails, shape) / np.sqrt(tails / (tails - 2)))


def rows(simulated: Simulated, study: int, measure: str, level: float = 100.0) -> list[Row]:
    """One simulated study as the table that `judge` takes: titles t1.., setups s1.., natural units around `level`."""
    values = simulated.values[study]
    return [
        Row(f"t{t + 1}", f"s{c + 1}", int(v) + 1, int(r) + 1, measure, float(level * np.exp(values[t, c, v, r])))
        for t, c, v, r in np.argwhere(np.isfinite(values))
    ]
