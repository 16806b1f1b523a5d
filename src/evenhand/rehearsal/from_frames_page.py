"""Count verdicts from frames to the end and write docs/methods/end-to-end.md.

python -m evenhand.rehearsal.from_frames_page [--studies 600]
"""

from __future__ import annotations

import argparse
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Final, TypeAlias

import numpy as np

from evenhand.rehearsal.count_verdicts import EVERY_LOW, Counted
from evenhand.rehearsal.frame_law import AVERAGE, PERCENTILE, TAIL_MEAN, TIME_SHARE
from evenhand.rehearsal.from_frames_grid import ASKED, Cell, cells, misses, run, share
from evenhand.rehearsal.redo import Way

LETTERS: Final[Mapping[Way, str]] = dict(zip(Way, "abcde", strict=True))
SHOWN: Final = {AVERAGE: "average", PERCENTILE: "1 % low"}
_LOWS: Final = {PERCENTILE: "percentile", TAIL_MEAN: "mean of the slowest", TIME_SHARE: "by time"}

Grid: TypeAlias = Sequence[Mapping[Way, Counted]]

_HARDLY: Final = 0.01  # of coverage


def page(kinds: Sequence[Cell], grid: Grid, studies: int) -> str:
    """The whole page."""
    error = max(share(g[Way.HONEST].figures[AVERAGE]["title"])[1] for g in grid)
    parts = [
        "# From frames to verdicts\n",
        _lead(grid),
        _FORMULA.format(kinds=len(kinds), studies=studies, error=f"{error * 100:.1f}"),
        "## What came out\n\nMean over all kinds of study; the worst kind in brackets.\n",
        *(f"**{words[0].upper()}{words[1:]}**\n\n{_by_way(grid, m)}" for m, words in SHOWN.items()),
        _BESIDE,
        _beside(grid),
        "What became of the runs, in per cent of all of them:\n",
        _fates(grid),
        "Lows by their three definitions: the 95 % interval covers the truth, at titles, mean and worst kind.\n",
        _by_definition(grid),
        _LIMITS,
        _missed(kinds, grid),
        _TEST,
        *(f"**{words[0].upper()}{words[1:]}**\n\n{_all(kinds, grid, m)}" for m, words in SHOWN.items()),
    ]
    return "\n".join(parts)


def _lead(grid: Grid) -> str:
    def mean(way: Way, name: str) -> str:
        return f"{np.mean([g[way].figures[AVERAGE][name].mean() for g in grid]) * 100:.1f} %"

    change, error = change_of(grid, Way.NEEDLESS, AVERAGE, "title")
    family, family_error = change_of(grid, Way.NEEDLESS, AVERAGE, "family")
    hardly = "hardly changes" if max(abs(change), abs(family)) < _HARDLY else "changes"
    return (
        "Screening, and recording anew what it doubts, gives back what spoiled runs cost: intervals of the average are "
        f"{_width(grid, Way.SCREENED, AVERAGE):.2f} times as wide as without any spoiled run, where all runs count "
        f"{_width(grid, Way.SPOILED, AVERAGE):.2f} times.\n"
        f"Where nothing went wrong it {hardly} how sure intervals are: coverage at titles moves by {change * 100:+.2f} ± "
        f"{error * 100:.2f} percentage points, to {mean(Way.NEEDLESS, 'title')}, that of all intervals of a title together by "
        f"{family * 100:+.2f} ± {family_error * 100:.2f}, to {mean(Way.NEEDLESS, 'family')}.\n"
        "Redoing by eye the run of each cell that looks oddest makes them too sure: intervals that should cover 95 % cover "
        f"{mean(Way.BY_EYE, 'title')}, and a difference at the margin is called level in {mean(Way.BY_EYE, 'false_level')} of "
        "comparisons, where 5 % are allowed.\n"
    )


def change_of(grid: Grid, way: Way, measure: str, name: str) -> tuple[float, float]:
    """Mean change of a figure against honest runs all of which count, over all kinds, and its Monte Carlo standard error: both
    ways were gone with the same studies, so the error is that of their differences.
    """
    apart = [share(g[way].figures[measure][name] - g[Way.HONEST].figures[measure][name]) for g in grid]
    return float(np.mean([a for a, _ in apart])), float(np.sqrt(np.sum([e**2 for _, e in apart])) / len(apart))


def _width(grid: Grid, way: Way, measure: str) -> float:
    return float(np.mean([_wider(g, way, measure) for g in grid]))


def _wider(one: Mapping[Way, Counted], way: Way, measure: str) -> float:
    return float(one[way].figures[measure]["width"].mean() / one[Way.HONEST].figures[measure]["width"].mean())


def _by_way(grid: Grid, measure: str) -> str:
    rows = []
    for way in Way:
        row = [f"{LETTERS[way]}. {way.value}"]
        for name in ASKED:
            values = [float(g[way].figures[measure][name].mean()) for g in grid]
            worst = max(values) if name.startswith("false") else min(values)
            row.append(f"{np.mean(values) * 100:.1f} ({worst * 100:.1f})")
        rows.append((*row, f"{_width(grid, way, measure):.2f}"))
    return _table(("way", *_heads(), "half-width"), rows)


def _heads() -> list[str]:
    return [label for label, _, _ in ASKED.values()]


def _beside(grid: Grid) -> str:
    rows = []
    for measure, words in SHOWN.items():
        for way in (Way.SPOILED, Way.SCREENED, Way.NEEDLESS, Way.BY_EYE):
            changes = [change_of(grid, way, measure, name) for name in ASKED]
            rows.append((words, LETTERS[way], *(f"{c * 100:+.2f} ± {e * 100:.2f}" for c, e in changes)))
    return _table(("measure", "way", *_heads()), rows)


def _fates(grid: Grid) -> str:
    rows = []
    for way in Way:
        fates = np.sum([g[way].fates.sum(axis=0) for g in grid], axis=0) / np.sum([g[way].fates[:, 0].sum() for g in grid])
        rows.append((f"{LETTERS[way]}. {way.value}", *(f"{v * 100:.2f}" for v in fates[1:])))
    return _table(("way", "went wrong", "wrong, yet counted", "good, yet redone or set aside", "set aside in the end"), rows)


def _by_definition(grid: Grid) -> str:
    rows = []
    for measure, words in _LOWS.items():
        row = [words]
        for way in EVERY_LOW:
            values = [float(g[way].figures[measure]["title"].mean()) for g in grid]
            row.append(f"{np.mean(values) * 100:.1f} ({min(values) * 100:.1f})")
        rows.append(tuple(row))
    return _table(("1 % low", *(LETTERS[way] for way in EVERY_LOW)), rows)


def _missed(kinds: Sequence[Cell], grid: Grid) -> str:
    rows = [
        (cell.name, LETTERS[way], SHOWN[measure], ", ".join(what))
        for cell, one in zip(kinds, grid, strict=True)
        for way in (Way.HONEST, Way.SCREENED, Way.NEEDLESS)
        for measure in SHOWN
        if (what := misses(one[way], measure))
    ]
    return _table(("study", "way", "measure", "what misses"), rows) if rows else "None does.\n"


def _all(kinds: Sequence[Cell], grid: Grid, measure: str) -> str:
    rows = []
    for cell, one in zip(kinds, grid, strict=True):
        for way in Way:
            found = [share(one[way].figures[measure][name]) for name in ASKED]
            shown = [f"{v * 100:.1f} ± {e * 100:.1f}" for v, e in found]
            rows.append((cell.name if way is Way.HONEST else "", LETTERS[way], *shown, f"{_wider(one, way, measure):.2f}"))
    return _table(("study", "way", *_heads(), "half-width"), rows)


def _table(head: Iterable[str], rows: Iterable[Iterable[str]]) -> str:
    head = tuple(head)
    lines = [head, ("---",) * len(head), *rows]
    return "\n".join("| " + " | ".join(line) + " |" for line in lines) + "\n"


_FORMULA: Final = """## Formula

{kinds} kinds of study, {studies} studies of each, every study gone five ways with the same draws. Largest Monte Carlo standard
error of a coverage at titles: {error} percentage points.

- *Frames* (`src/evenhand/rehearsal/frame_law.py`): logarithm of a frame's time = what the scene shows there (waves, steps, 3 %
  heavy frames that lie at the same places in every run) + noise of 5 %, normal, correlated by 0.6 from frame to frame, the part
  beyond one standard deviation stretched by 80 %, + a hitch (1.6 to 2.5 times as long) in one frame of 500 − the run's shift. A
  cap holds frames at its interval, about 0.5 % late. Average and all three lows of endlessly many frames follow from this by
  convolution on a grid, to six decimals; with a cap they are means over the shifts.
- *Runs* (`src/evenhand/rehearsal/from_frames.py`): shifts of rounds, visits (shared by all titles), titles by visit and runs as
  in [calibration](calibration.md). Setups differ by 0, 0, 3 and 8 %, titles from that by 2 %, their heavy frames by 4 % more.
- *Spoiled*: each run with a chance of 5 %: another program for a part of the scene (frames 30 %, 60 % or 100 % longer), another
  scene's frames, slowing down steadily by 5 to 15 %, a stall of 150 to 600 ms, shaders compiled (first runs only). Runs recorded
  anew are spoiled as often.
- *Redo*: runs that [screening](screening.md) calls doubtful are recorded anew in the same visit, once; all runs are screened
  again, and what is doubtful then is set aside. Nobody looks at what the run was good for.
- *By eye*: in each cell (title and setup) the run whose average lies farthest from the cell's mean is recorded anew.
- *Judged* by `judge` itself, and counted (`src/evenhand/rehearsal/count_verdicts.py`): a 95 % interval covers the truth; all
  simultaneous intervals of a title do; "ahead" where two setups are the same (which is as often as "ahead beyond the margin"
  where the difference is the margin); "level" where the difference is the margin. Asked for: coverage of 93.5 % at least, 94 %
  of all of a title, at most 2.5 % ahead falsely, at most 5 % level falsely.
"""

_BESIDE: Final = """Against the first way, in percentage points, mean over all kinds, with the Monte Carlo standard error of the
difference (the same studies were gone both ways):
"""

_LIMITS: Final = """## Source

Counting by simulation; the spoils and their sizes are our own, after what the recorded campaigns hold. That choosing runs by
their results makes noise look smaller than it is: Rosenthal, R. (1966), *Experimenter Effects in Behavioral Research*; Simmons,
J. P., Nelson, L. D., Simonsohn, U. (2011), *False-positive psychology*, Psychological Science 22, 1359–1366.

## Limits

Scenes here play a fixed set of frames; spoils hit runs independently of each other and of the setup. A machine that spoils one
setup more often than another shifts the comparison, and screening finds only what stands out. What a spoiled run costs where it
is not found depends on its kind: one that is 10 % slower throughout passes for noise on a rough bench, and should, for there the
intervals are wide enough for it. The truth of a low is that of endless frames; a run of 600 frames (its slowest hundredth is six)
shows the percentile low 1.5 to 2 % higher, under all setups alike to 0.1 %, so that it cancels; the low by time shows differences
that are off by up to 0.7 %. The kinds of study have 0.3 to 4 % run noise and visits that shift by 0.3 to 3 %, 4 to 8 titles, 2 to
4 setups, 2 to 3 visits. Redoing by eye leaves no trace in the numbers: only the reason that is asked for when a run is left out
can tell of it.

Figures of ways a, c and d outside what is asked for by more than two Monte Carlo standard errors:
"""

_TEST: Final = """## Test

`tests/calibration/test_from_frames.py`: the law against long draws, screening's finds, a part of these counts, and the sentences
at the top of this page. This page is written by `python -m evenhand.rehearsal.from_frames_page`.

## All kinds of study

Per cent with the Monte Carlo standard error; ways by their letters as above. *Half-width*: mean of pointwise intervals at titles,
beside way a. The usual study: 5 titles, 3 setups, 3 visits of 2 runs, run noise 1 %, visits shift by 1 %, titles by 0.5 % within
a visit, scenes of 900 to 1500 frames, 5 % of runs spoiled. Calm bench: 0.3, 0.3 and 0.2 %; rough: 4, 3 and 1 %. Titles unlike:
run noise differs between titles by a factor of e^±0.5.
"""


def main() -> None:
    """Count all kinds and write the page."""
    parser = argparse.ArgumentParser(description="Count verdicts from frames to the end.")
    parser.add_argument("--studies", type=int, default=600, help="studies of each kind")
    parser.add_argument("--out", type=Path, default=Path("docs/methods/end-to-end.md"), help="page to write")
    chosen = parser.parse_args()
    kinds = cells()
    chosen.out.write_text(page(kinds, run(kinds, chosen.studies), chosen.studies), encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main()
