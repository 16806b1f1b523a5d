"""Count what looks cost and write the page: python -m evenhand.rehearsal.looks_page --out FILE."""

from __future__ import annotations

import argparse
import multiprocessing
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from evenhand.judging.looks import LEAST_DF, RESERVE, look_at
from evenhand.rehearsal.count import Share
from evenhand.rehearsal.looks import Claims, count_looks
from evenhand.rehearsal.simulate import Truth
from evenhand.study.model import Spending

PROCESSES: Final = 2
SEED: Final = 4000


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of study without any difference, looked at after every visit from the second on."""

    truth: Truth
    rounds: bool = False


def _kind(titles: int, setups: int, visits: int, shift: float, rounds: bool = False) -> Kind:
    return Kind(Truth(titles, setups, visits, 2, 0.02, shift, 0.005, round_shift=0.05 if rounds else 0.0), rounds)


KINDS: Final = (
    _kind(1, 2, 3, 0.01),
    _kind(1, 2, 4, 0.01),
    _kind(8, 2, 4, 0.01),
    _kind(8, 2, 6, 0.05),
    _kind(1, 4, 4, 0.01),
    _kind(8, 4, 3, 0.01),
    _kind(8, 4, 4, 0.01),
    _kind(8, 4, 4, 0.05, rounds=True),
    _kind(8, 4, 6, 0.01, rounds=True),
    _kind(20, 3, 4, 0.02),
    _kind(20, 4, 6, 0.05),
    _kind(20, 6, 4, 0.01),
)


def run(kinds: Sequence[Kind], studies: int, processes: int = PROCESSES) -> list[dict[str, Claims]]:
    """Claims of each kind, in order; the seed of a kind alone decides what is drawn."""
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(processes, mp_context=context) as pool:
        return list(pool.map(_count, kinds, [studies] * len(kinds), [SEED + i for i in range(len(kinds))]))


def _count(kind: Kind, studies: int, seed: int) -> dict[str, Claims]:
    return count_looks(kind.truth, studies, seed, kind.rounds)


def page(kinds: Sequence[Kind], found: Sequence[dict[str, Claims]], studies: int) -> str:
    """docs/methods/looks.md."""
    rows = []
    for kind, claims in zip(kinds, found, strict=True):
        rows += [(_name(kind) if not i else "", *_row(way, c)) for i, (way, c) in enumerate(claims.items())]
    return "\n".join(
        (
            _HEAD.format(reserve=_percent(RESERVE, 0), least=LEAST_DF),
            _table(("planned looks at", "spending", "level of each look", "of the interval for level"), _levels()),
            _COST,
            _table(("visits in, of those planned", "if what they show decides about going on"), _unplanned()),
            _FOUND.format(studies=studies, kinds=len(kinds)),
            _table(("looks", *(f"{what}: mean, and highest kind" for what, _ in _SUMMARY)), _summary(found)),
            _table(_COLUMNS, rows),
            _TAIL,
        )
    )


_HEAD = """# Looks

Judging a study before it is complete, and stopping when pleased, makes false claims more frequent. Either the looks are
planned and share out the error, or recording stops by precision, whatever the verdict.

## Formula

`[protocol] looks = [2, 3, 4]`: verdicts are looked at when every setup has 2, 3 and 4 visits. With the share t = visits /
last look of the data in, the error spent by then is (on each side, α = 2.5 %) 2 − 2Φ(z / √t) for `spending =
"obrien-fleming"`, z the quantile that α/2 lies beyond, and α ln(1 + (e − 1) t) for `"pocock"`. The boundary of each look
follows by recursive numerical integration of the sum of independent increments, so that all looks together cross with what is
spent; its two-sided level is the look's own. The same levels serve with t, maximum of |t| and studentised range in place of
z: intervals of the look have confidence 1 − level, and the interval that "level" rests on is treated likewise from 10 %.

{reserve} of the error is kept back where several looks are planned, because the noise is estimated anew at each look, and
levels meant for a known noise are then crossed by a tenth more often (5.5 to 5.8 % instead of 5 %, the same simulation
without it).

A look that was not planned is judged at the stricter of two levels: that of the planned look before it, and what the function
gives for the share of visits that is in. What all looks together then cost is computed and printed. After the last planned
look nothing is left: later visits are judged at its level, and the cost is printed.

A visit of a setup counts as in when half of its scenes have it.

`[protocol] stop_at = "1 %"`: recording may stop when the simultaneous interval of every setup against the baseline, average
frame rate over titles, is no wider than ± 1 %. It looks at half-widths only, so "ahead" keeps its error but for one thing: a
half-width that is small by chance ends the study, and does so most easily while the noise itself is hardly known. So it is
not believed before the shift of visits has {least} degrees of freedom.
"""

_COST = """
In a study without planned looks, every look is at the full 5 %. What looking early costs there, and adding visits afterwards:
"""

_FOUND = """
What was counted: {studies} studies of each of {kinds} kinds in which no setup differs, judged after every visit from the
second on. A claim at any look counts, since whoever stops when pleased would have stopped there. *Once*: at the end alone.
*Freely*: at every look at 5 %. *Spent*: every look planned. *By precision*: at the half-width that half of the studies have
half-way. All in per cent.
"""

_COLUMNS = (
    "study", "looks", "over titles: ahead or behind, %", "ahead, %", "at a title: any pair, %", "level at the margin, %",
    "visits",
)  # fmt: skip

_TAIL = """Over titles: of one pair, whose interval is simultaneous over all pairs; at a title: of all its pairs together.
Level: where the truth is the margin (3 %). Monte Carlo standard error after ±. Visits: mean when the study stops.

## Source

Armitage, McPherson & Rowe (1969), Repeated significance tests on accumulating data, JRSS A 132, 235–244 (the recursion; the
cost of free looks). Pocock (1977), Biometrika 64, 191–199 (levels at several looks, used with t). O'Brien & Fleming (1979),
Biometrics 35, 549–556. Lan & DeMets (1983), Biometrika 70, 659–663 (spending functions). Jennison & Turnbull (1989), JRSS B
51, 305–361 (repeated confidence intervals), and (2000), Group Sequential Methods. Chow & Robbins (1965), Annals of
Mathematical Statistics 36, 457–462 (stopping by the width of an interval, and that it needs a least number of observations).

## Limits

- The visits at which one looks must not be chosen by what was seen; a program cannot know when somebody looked.
- Error is spent for each claim by itself (a pair over titles, the pairs of a title), as without looks.
- The estimate at an early stop overstates the difference: those that stop early are those that came out large. The interval
  allows for it, the estimate does not.
- The interval for titles like these, the prediction for one not tested, effects of factors and multiple comparison with the
  best have the confidence of the look, too.
- Where visits shift by much more than runs vary and looks begin with few degrees of freedom, a title's pairs are claimed
  falsely a little more often than by one look at the end; the highest kinds stand in the short table.
- Visits expected to settle an open verdict are counted at the confidence of the look, so they are rather too many.
- The cost of unplanned looks is computed for a known noise; with few visits it is a little more.

## Test

`tests/outside/test_spending.py` (published boundaries and tables), `tests/judging/test_looks.py`,
`tests/calibration/test_looks.py` (a fast part of the table). This page is written by `python -m
evenhand.rehearsal.looks_page`.
"""


#: What is summed up over all kinds.
_SUMMARY: Final[tuple[tuple[str, Callable[[Claims], Share]], ...]] = (
    ("over titles", lambda c: c.over),
    ("ahead", lambda c: c.ahead),
    ("at a title", lambda c: c.title),
    ("level", lambda c: c.level),
)


def _summary(found: Sequence[dict[str, Claims]]) -> list[tuple[str, ...]]:
    """Of each way of looking, what it claims falsely over all kinds, in per cent."""
    rows: list[tuple[str, ...]] = []
    for way in found[0]:
        values = [[get(claims[way]).value * 100 for claims in found] for _, get in _SUMMARY]
        rows.append((way, *(f"{sum(v) / len(v):.1f}, {max(v):.1f}" for v in values)))
    return rows


def _levels() -> list[tuple[str, ...]]:
    rows: list[tuple[str, ...]] = []
    for plan in ((2, 3), (2, 4), (2, 3, 4), (3, 6), (2, 3, 4, 5, 6)):
        for spending in Spending:
            looks = [look_at((n,), plan, spending) for n in plan]
            levels, inner = (
                [_percent(1 - c, 2) for c in row] for row in zip(*((k.confidence, k.inner) for k in looks), strict=True)
            )
            rows.append((", ".join(map(str, plan)), spending.value, ", ".join(levels), ", ".join(inner)))
    return rows


def _unplanned() -> list[tuple[str, ...]]:
    pairs = ((2, 3), (2, 4), (3, 4), (3, 6), (3, 2), (4, 2), (4, 3))
    return [(f"{n} of {planned}", _percent(look_at((n,), (planned,)).total, 1)) for n, planned in pairs]


def _row(way: str, claims: Claims) -> tuple[str, ...]:
    shares = (claims.over, claims.ahead, claims.title, claims.level)
    return (way, *map(_with_error, shares), f"{claims.visits:.1f}")


def _name(kind: Kind) -> str:
    truth = kind.truth
    title = "1 title" if truth.titles == 1 else f"{truth.titles} titles"
    words = f"{title}, {truth.setups} setups, up to {truth.visits} visits, visit shift {_percent(truth.visit_shift, 0)}"
    return words + (", rounds" if kind.rounds else "")


def _with_error(share: Share) -> str:
    return f"{share.value * 100:.1f} ± {share.error * 100:.1f}"


def _percent(value: float, decimals: int) -> str:
    return f"{value * 100:.{decimals}f} %"


def _table(head: Iterable[str], rows: Iterable[Iterable[str]]) -> str:
    head = tuple(head)
    lines = [head, ("---",) * len(head), *rows]
    return "\n".join("| " + " | ".join(line) + " |" for line in lines) + "\n"


def main() -> None:
    """Count all kinds and write the page."""
    parser = argparse.ArgumentParser(description="Count what looking at a study more than once costs.")
    parser.add_argument("--studies", type=int, default=4000, help="studies of each kind")
    parser.add_argument("--out", type=Path, default=Path("docs/methods/looks.md"), help="page to write")
    chosen = parser.parse_args()
    text = page(KINDS, run(KINDS, chosen.studies), chosen.studies)
    chosen.out.parent.mkdir(parents=True, exist_ok=True)
    chosen.out.write_text(text, encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main()
