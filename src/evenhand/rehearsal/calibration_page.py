"""The page of the calibration: docs/methods/calibration.md."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence

from evenhand.rehearsal.calibration_grid import GridCell
from evenhand.rehearsal.count import Counts, Share

Misses = Mapping[str, Share]


def page(
    cells: Sequence[GridCell], counted: Sequence[Counts], short: Sequence[Misses], wide: Sequence[Misses], studies: int
) -> str:
    """The page: what is asked for, the summary, what misses, every cell."""
    error = max(c.title.error for c in counted)
    harm = [(cell, what) for cell, what in zip(cells, short, strict=True) if what]
    over = [(cell, what) for cell, what in zip(cells, wide, strict=True) if what]
    return "\n".join(
        [
            _HEAD.format(studies=studies, cells=len(cells), error=_percent(error, 2)),
            _summary(cells, counted),
            _SOURCE,
            _LIMITS.format(cells=len(cells), short=len(harm), wide=len(over)),
            _table(("study", "covers too little, or is false too often"), ((_name(c), _listed(what)) for c, what in harm)),
            _WHY,
            _WIDE.format(kinds=_kinds(over)),
            _table(("study", "wider than need be"), ((_name(c), _listed(what)) for c, what in over)),
            _TEST,
            _KEY,
            _table(_COLUMNS, (_row(cell, c) for cell, c in zip(cells, counted, strict=True))),
        ]
    )


_HEAD = """# Calibration

How often intervals cover the truth and verdicts are false, counted on simulated studies whose truth is known.
{cells} kinds of study, {studies} studies of each.

## Formula

`src/evenhand/rehearsal/simulate.py` draws the model of judging backwards: log value = effect of the setup at the title + shift of
the round + shift of the visit, shared by all titles + title by visit + run noise. `src/evenhand/rehearsal/count.py` judges the
draws by the functions that judge real studies and counts. The kinds (`src/evenhand/rehearsal/calibration_grid.py`) are a fraction
of all combinations: titles × visits × visit shifts in full, twice, with setups, run noise, titles' effects and the analysis with
or without rounds dealt out; then studies with gaps, with noise unlike between titles or setups, with heavy tails, each at 4 to 40
titles. The seed of a kind is 1000 plus its number; the largest Monte Carlo standard error of a coverage at titles is {error}.

Asked for: a 95 % interval of one comparison covers the truth in 93.5 to 96.5 % of studies, at titles, over titles, for titles
like these and for one title more; all intervals of a title together, and all over titles, in at least 94 %; "ahead" where two
setups are the same (and so "ahead beyond the margin" where the difference is the margin) in at most 2.5 %; "level" where the
difference is the margin in at most 5 %.

In per cent, lowest kind, mean and highest kind:
"""

_SOURCE = """The last two rows are the method that takes every run as independent, whatever visit it came from, for contrast.
"Last setup" is what is said of comparisons with the last setup, which is the unlike one where setups are unlike.

## Source

Counting by simulation; what is counted is described in [visits and rounds](visits-and-rounds.md),
[moderated variances](moderated-variances.md), [simultaneous intervals](simultaneous-intervals.md) and
[over titles](over-titles.md).
"""

_LIMITS = """## Limits

A figure misses where it lies outside what is asked for by more than three Monte Carlo standard errors. **{short} of {cells} kinds
miss on the side that harms**; {wide} have an interval that is wider than it need be.
"""

_WHY = """Two things cannot be known from a few visits or titles, and are told in a doubt where the study points to them:

- *A setup whose visits shift more than the others'.* With two to four visits its own shift cannot be told from chance, so all
  setups are taken to shift alike. The judgement names a setup whose share of the squares is beyond chance (Cochran 1941, at
  5 %); of studies where one shifts three times as much, that sees 15 % with two visits, 40 % with three and 55 % with four.
- *A few titles that collapse.* A study of few titles often has none of them, and no interval from it can know. Where some lie far
  from the rest the judgement says so; read the counts of titles beside the interval for titles like these.

A setup that is noisier from run to run has its own noise, and intervals with it hold. Over titles, quiet setups beside one that
is five times as noisy are covered too seldom where visits hardly shift: what their visits share is taken from the noisy one's.

With two degrees of freedom for the visits (two setups in three rounds) intervals cover 94 to 96 %, depending on how much of the
noise visits share. With two setups, where no other pair asks for more, "ahead" may then be false in 3 % instead of 2.5. Studies
with fewer than four say in a doubt that their noise is known only roughly.
"""

_WIDE = """Wider than they need be, which costs visits but deceives nobody: {kinds}. The prediction for one title more is so
where titles differ by less than their noise, two rounds of two setups (which judging does not use by itself) at titles.
"""

_TEST = """## Test

`tests/calibration/test_judging.py` (a fast part always, the whole grid among the slow tests; the figures that doubts state),
`tests/rehearsal/test_count.py` (what is counted is what `judge` says). This page is written by `python dev.py speed calibration`.

## All kinds
"""

_KEY = """Noise: run to run, visit to visit (shared by all titles); title by visit 0.5 % everywhere, rounds 5 % where analysed.
Titles' effects have the spread given. f: degrees of freedom of the visit shift. Coverage in per cent, its Monte Carlo standard
error after ±. "runs pooled": the method that takes every run as independent, at titles and over titles.
"""

_COLUMNS = (
    "titles", "setups", "visits", "runs", "run noise", "visit shift", "effects", "rounds", "else", "f", "at titles", "last setup",
    "over titles", "last setup", "titles like these", "one title more", "all of a title", "all over titles", "false ahead",
    "over", "false level", "over", "runs pooled: titles", "over",
)  # fmt: skip

_SUMMARY = (
    ("95 % interval covers, at titles", "title"),
    ("95 % interval covers, over titles", "over"),
    ("95 % interval covers the mean of titles like these", "like"),
    ("95 % prediction covers one title more", "ahead"),
    ("all intervals of a title cover", "family"),
    ("all intervals over titles cover", "family_over"),
    ("ahead though the same, at titles", "false_ahead"),
    ("ahead though the same, over titles", "false_ahead_over"),
    ("level though at the margin, at titles", "false_level"),
    ("level though at the margin, over titles", "false_level_over"),
    ("runs pooled, for contrast: covers at titles", "pooled_title"),
    ("runs pooled, for contrast: covers over titles", "pooled_over"),
)


def _summary(cells: Sequence[GridCell], counted: Sequence[Counts]) -> str:
    """Three figures over the kinds of like setups and titles, three over the others."""
    parts = [[c for cell, c in zip(cells, counted, strict=True) if bool(cell.note) is noted] for noted in (False, True)]
    rows = [(label, *(figure for part in parts for figure in _extent(part, name))) for label, name in _SUMMARY]
    head = ("", "complete: lowest", "mean", "highest", "gaps, unlike, heavy tails: lowest", "mean", "highest")
    return _table(head, rows)


def _extent(counted: Sequence[Counts], name: str) -> tuple[str, str, str]:
    values = [share.value for c in counted if (share := getattr(c, name)) is not None]
    if not values:
        return "", "", ""
    return f"{100 * min(values):.1f}", f"{100 * sum(values) / len(values):.1f}", f"{100 * max(values):.1f}"


def _kinds(over: Sequence[tuple[GridCell, Misses]]) -> str:
    found = Counter(label for _, what in over for label in what)
    return ", ".join(f"{label} in {number}" for label, number in found.most_common()) or "none"


def _row(cell: GridCell, counts: Counts) -> tuple[str, ...]:
    truth = cell.truth
    shares = (counts.title, counts.title_last, counts.over, counts.over_last, counts.like, counts.ahead)
    verdicts = (counts.false_ahead, counts.false_ahead_over, counts.false_level, counts.false_level_over)
    rest = (counts.family, counts.family_over, *verdicts, counts.pooled_title, counts.pooled_over)
    return (
        str(truth.titles), str(truth.setups), _visits(cell), str(truth.runs), _percent(truth.run_noise, 1),
        _percent(truth.visit_shift, 0), _percent(truth.effect_spread, 0), "yes" if cell.rounds else "", cell.note,
        f"{counts.shift_df:.1f}", *(_with_error(share) for share in shares), *(f"{100 * share.value:.1f}" for share in rest),
    )  # fmt: skip


def _name(cell: GridCell) -> str:
    truth = cell.truth
    words = (
        f"{truth.titles} title{'s' if truth.titles > 1 else ''}, {truth.setups} setups, {_visits(cell)} visits of {truth.runs}, "
        f"run noise {_percent(truth.run_noise, 1)}, visit shift {_percent(truth.visit_shift, 0)}, "
        f"effects {_percent(truth.effect_spread, 0)}{', rounds' if cell.rounds else ''}"
    )
    return f"{words}, {cell.note}" if cell.note else words


def _visits(cell: GridCell) -> str:
    visits = cell.truth.visits
    return str(visits) if isinstance(visits, int) else "+".join(map(str, visits))


def _listed(what: Misses) -> str:
    return ", ".join(f"{label} {_percent(share.value)}" for label, share in what.items())


def _with_error(share: Share | None) -> str:
    return "" if share is None else f"{share.value * 100:.1f} ± {share.error * 100:.1f}"


def _percent(value: float, decimals: int = 1) -> str:
    return f"{value * 100:.{decimals}f} %"


def _table(head: Iterable[str], rows: Iterable[Iterable[str]]) -> str:
    head = tuple(head)
    lines = [head, ("---",) * len(head), *rows]
    return "\n".join("| " + " | ".join(line) + " |" for line in lines) + "\n"
