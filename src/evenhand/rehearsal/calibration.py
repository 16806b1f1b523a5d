"""Count a grid of simulated studies and write what was found: python -m evenhand.rehearsal.calibration --out FILE."""

from __future__ import annotations

import argparse
import multiprocessing
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path

from evenhand.rehearsal.count import Counts, Share, count
from evenhand.rehearsal.simulate import Truth

PROCESSES = 2
TITLE_SHIFT = 0.005
ROUND_SHIFT = 0.05


@dataclass(frozen=True, slots=True)
class GridCell:
    """One kind of study and how it is analysed."""

    truth: Truth
    rounds: bool
    seed: int
    note: str = ""


@dataclass(frozen=True, slots=True)
class Target:
    """What a counted share must be; `reach` standard errors of Monte Carlo are allowed on either side."""

    name: str
    label: str
    low: float
    high: float
    reach: float = 2.0

    def misses(self, share: Share) -> bool:
        """Whether the share lies outside by more than chance."""
        slack = self.reach * share.error
        return not self.low - slack <= share.value <= self.high + slack


TARGETS = (
    Target("title", "at titles", 0.93, 0.97),
    Target("over", "over titles", 0.93, 0.97),
    Target("family", "familywise", 0.94, 1.0),
    Target("false_ahead", "false ahead", 0.0, 0.025),
    Target("false_ahead_over", "false ahead over titles", 0.0, 0.025),
    Target("false_level", "false level", 0.0, 0.05),
    Target("false_level_over", "false level over titles", 0.0, 0.05),
)


def first_grid(seed: int = 1000) -> tuple[GridCell, ...]:
    """Main grid of complete studies with four setups, then its variations: other numbers of setups, a missing visit, a missing
    cell, unlike numbers of visits, heavy tails, unlike noise between titles.
    """
    truths: list[tuple[Truth, str]] = []
    for titles in (4, 8, 20, 40):
        for visits in (2, 3):
            for runs, noise in ((1, 0.01), (2, 0.03), (3, 0.10)):
                for shift in (0.0, 0.01, 0.03, 0.10):
                    truths.append((Truth(titles, 4, visits, runs, noise, shift, TITLE_SHIFT), ""))
    for titles in (4, 8, 20, 40):
        for visits in (2, 3):
            for shift in (0.0, 0.01, 0.10):
                base = Truth(titles, 4, visits, 2, 0.03, shift, TITLE_SHIFT)
                truths += _variations(base)
    cells = [(truth, rounds, note) for truth, note in truths for rounds in _analyses(truth)]
    return tuple(
        GridCell(replace(truth, round_shift=ROUND_SHIFT if rounds else 0.0), rounds, seed + i, note)
        for i, (truth, rounds, note) in enumerate(cells)
    )


def _variations(base: Truth) -> list[tuple[Truth, str]]:
    visits = base.visits_of
    fewer = (*visits[:-1], visits[-1] + 1)
    return [
        (replace(base, setups=2, visits=visits[0]), "2 setups"),
        (replace(base, setups=6, visits=visits[0]), "6 setups"),
        (replace(base, absent=((0, 1, 0),)), "a visit missing"),
        (replace(base, absent=((0, 1, None),)), "a cell missing"),
        (replace(base, visits=fewer), "one setup a visit more"),
        (replace(base, tails=5.0), "t noise, 5 df"),
        (replace(base, unlike=0.3), "unlike titles"),
    ]


def _analyses(truth: Truth) -> tuple[bool, ...]:
    """Without rounds always; with them where every setup has the same visits."""
    return (False, True) if len(set(truth.visits_of)) == 1 else (False,)


def run(cells: Sequence[GridCell], studies: int, processes: int = PROCESSES) -> list[Counts]:
    """Counts of each cell, in order; the seed of a cell alone decides what is drawn."""
    if processes == 1:
        return [_count(cell, studies) for cell in cells]
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(processes, mp_context=context) as pool:
        return list(pool.map(_count, cells, [studies] * len(cells), chunksize=4))


def _count(cell: GridCell, studies: int) -> Counts:
    return count(cell.truth, studies, cell.seed, cell.rounds)


def misses(counts: Counts) -> tuple[str, ...]:
    """Which targets a cell misses, with the share."""
    shares = [(target, getattr(counts, target.name)) for target in TARGETS]
    return tuple(f"{t.label} {_percent(s.value)}" for t, s in shares if t.misses(s))


def page(cells: Sequence[GridCell], counted: Sequence[Counts], studies: int) -> str:
    """docs/methods/calibration.md."""
    missed = [(cell, misses(c)) for cell, c in zip(cells, counted, strict=True)]
    missed = [(cell, what) for cell, what in missed if what]
    head = _HEAD.format(studies=studies, cells=len(cells), error=_percent(max(c.title.error for c in counted), 2))
    parts = [head, _summary(counted), _LIMITS.format(missed=len(missed), cells=len(cells), figures=len(cells) * len(TARGETS))]
    if missed:
        parts.append(_table(("study", "what misses"), ((_name(cell), ", ".join(what)) for cell, what in missed)))
    parts += [_TEST, _KEY, _table(_COLUMNS, (_row(cell, c) for cell, c in zip(cells, counted, strict=True)))]
    return "\n".join(parts)


_HEAD = """# Calibration

How often intervals cover the truth and verdicts are false, counted on simulated studies whose truth is known.
{cells} kinds of study, {studies} studies of each.

## Formula

`src/evenhand/rehearsal/simulate.py` draws the model of judging backwards: log value = effect of the setup at the title + shift of
the round + shift of the visit, shared by all titles + title by visit + run noise. `src/evenhand/rehearsal/count.py` judges the
draws by the functions that judge real studies and counts. The seed of a cell is 1000 plus its number in the grid; the largest
Monte Carlo standard error of a coverage at titles is {error}.

Asked for: a 95 % interval of one comparison covers the truth in 93 to 97 % of studies, at titles and over titles; all intervals
of a title together in at least 94 %; "ahead" where two setups are the same in at most 2.5 %; "level" where the difference is the
margin in at most 5 %.
"""

_LIMITS = """The last two rows are the method that takes every run as independent, whatever visit it came from, for contrast.

## Source

Counting by simulation; what is counted is described in [visits and rounds](visits-and-rounds.md),
[moderated variances](moderated-variances.md), [simultaneous intervals](simultaneous-intervals.md) and
[over titles](over-titles.md).

## Limits

A cell misses where a figure lies outside what is asked for by more than two Monte Carlo standard errors. Of the {figures} figures
some do so by chance. **{missed} of {cells} cells miss:**
"""

_TEST = """Coverage above 97 % at few titles and two visits is the price of degrees of freedom that do not cover too little where
visits shift: the intervals are wider than they need be. Two setups in two rounds leave one degree of freedom; judging does not
use rounds there unless told to. Not in this grid: unlike noise between setups, more than three visits, intervals for titles like
these.

## Test

`tests/calibration/test_judging.py` (a fast part always, the whole grid among the slow tests), `tests/rehearsal/test_count.py`
(what is counted is what `judge` says). This page is written by `python -m evenhand.rehearsal.calibration`.

## All cells
"""

_KEY = """Noise: run to run, visit to visit (shared by all titles); title by visit 0.5 % everywhere, rounds 5 % where analysed.
f: degrees of freedom of the visit shift. Coverage in per cent, its Monte Carlo standard error after ±. "runs pooled": the method
that takes every run as independent, at titles and over titles.
"""

_COLUMNS = (
    "titles", "setups", "visits", "runs", "run noise", "visit shift", "rounds", "else", "f", "at titles", "over titles",
    "family", "false ahead", "over", "false level", "over", "runs pooled: titles", "over",
)  # fmt: skip


def _summary(counted: Sequence[Counts]) -> str:
    rows = []
    for label, get in _SUMMARY:
        values = [get(c).value for c in counted]
        rows.append((label, _percent(min(values)), _percent(sum(values) / len(values)), _percent(max(values))))
    return _table(("", "lowest cell", "mean", "highest cell"), rows)


_SUMMARY: tuple[tuple[str, Callable[[Counts], Share]], ...] = (
    ("95 % interval covers, at titles", lambda c: c.title),
    ("95 % interval covers, over titles", lambda c: c.over),
    ("all intervals of a title cover", lambda c: c.family),
    ("ahead though the same, at titles", lambda c: c.false_ahead),
    ("ahead though the same, over titles", lambda c: c.false_ahead_over),
    ("level though at the margin, at titles", lambda c: c.false_level),
    ("level though at the margin, over titles", lambda c: c.false_level_over),
    ("runs pooled, for contrast: covers at titles", lambda c: c.pooled_title),
    ("runs pooled, for contrast: covers over titles", lambda c: c.pooled_over),
)


def _row(cell: GridCell, counts: Counts) -> tuple[str, ...]:
    truth = cell.truth
    visits = str(truth.visits) if isinstance(truth.visits, int) else "+".join(map(str, truth.visits))
    return (
        str(truth.titles), str(truth.setups), visits, str(truth.runs),
        _percent(truth.run_noise, 0), _percent(truth.visit_shift, 0),
        "yes" if cell.rounds else "", cell.note, f"{counts.shift_df:.1f}", _with_error(counts.title), _with_error(counts.over),
        _percent(counts.family.value), _percent(counts.false_ahead.value), _percent(counts.false_ahead_over.value),
        _percent(counts.false_level.value), _percent(counts.false_level_over.value), _percent(counts.pooled_title.value),
        _percent(counts.pooled_over.value),
    )  # fmt: skip


def _name(cell: GridCell) -> str:
    truth = cell.truth
    visits = truth.visits if isinstance(truth.visits, int) else "+".join(map(str, truth.visits))
    words = (
        f"{truth.titles} titles, {truth.setups} setups, {visits} visits of {truth.runs}, run noise {_percent(truth.run_noise, 0)}"
    )
    words += f", visit shift {_percent(truth.visit_shift, 0)}" + (", rounds" if cell.rounds else "")
    return f"{words}, {cell.note}" if cell.note else words


def _with_error(share: Share) -> str:
    return f"{share.value * 100:.1f} ± {share.error * 100:.1f}"


def _percent(value: float, decimals: int = 1) -> str:
    return f"{value * 100:.{decimals}f} %"


def _table(head: Iterable[str], rows: Iterable[Iterable[str]]) -> str:
    head = tuple(head)
    lines = [head, ("---",) * len(head), *rows]
    return "\n".join("| " + " | ".join(line) + " |" for line in lines) + "\n"


def main() -> None:
    """Count the first grid and write its page."""
    parser = argparse.ArgumentParser(description="Count how often intervals cover and verdicts are false.")
    parser.add_argument("--studies", type=int, default=2000, help="studies of each kind")
    parser.add_argument("--out", type=Path, default=Path("docs/methods/calibration.md"), help="page to write")
    chosen = parser.parse_args()
    cells = first_grid()
    text = page(cells, run(cells, chosen.studies), chosen.studies)
    chosen.out.parent.mkdir(parents=True, exist_ok=True)
    chosen.out.write_text(text, encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main()
