"""Where the factor of the hitch rule comes from, and how often the rule errs: the tables of docs/methods/hitches.md.

    python benchmarks/hitch_rule.py

Ordinary scatter is read off the *fast* side: no hitch makes a frame shorter, so how far frames fall below their local median, in
units of the local spread, is what scatter alone does. A calm stretch is a run in which the slow side is replaced by the mirrored
fast side: the scene's own course and spread, and nothing that stands out. Every mark in it is false. Hitches of known length are
then added to calm stretches to see how many are found. Runs are also stretched to 60 and 144 frames per second, since the
recorded ones are faster than most games.
"""

from __future__ import annotations

import csv
import io
from pathlib import PurePosixPath

import numpy as np

from evenhand.examples.measured import measured_files
from evenhand.frames.model import Frames
from evenhand.frames.read import read_log
from evenhand.frames.start import find_start
from evenhand.measures.hitches import K, course_and_spread, hitch_marks, moments

FACTORS = (3, 4, 5, 6, 8, 10)
RATES = (None, 144.0, 60.0)
ADDED_MS = (8.5, 12.0, 16.7, 33.3, 50.0, 100.0)


def scenes() -> dict[str, list[Frames]]:
    """Scene -> its good runs, from the scene's start on."""
    found: dict[str, list[Frames]] = {}
    for campaign in ("campaign", "quiet"):
        files = dict(measured_files(campaign))
        for row in csv.DictReader(io.StringIO(files[PurePosixPath("runs.csv")].decode("utf-8"))):
            reading = read_log(files[PurePosixPath(row["log"])], name=row["log"], seconds_hint=10.0)
            start = find_start(reading.frames)
            found.setdefault(row["scene"], []).append(reading.frames.cut(start.frame, len(reading.frames)))
    return found


def at_rate(run: Frames, rate: float | None) -> Frames:
    """The run, slowed down or sped up as a whole to that median rate."""
    factor = 1.0 if rate is None else 1e9 / rate / float(np.median(run.ns))
    return Frames(np.rint(run.ns * factor).astype(np.int64))


def calm(run: Frames, rng: np.random.Generator) -> Frames:
    """The run's course and spread with scatter drawn from its fast side, either way up."""
    local, spread = course_and_spread(run)
    z = deviations(run)
    signed = rng.choice(-z[z < 0], len(run)) * rng.choice([-1.0, 1.0], len(run))
    return Frames(np.maximum(np.rint(1e6 * local * np.exp(signed * spread)), 1).astype(np.int64))


def deviations(run: Frames) -> np.ndarray:
    """Log durations against the local median, in units of the local spread."""
    local, spread = course_and_spread(run)
    return np.log(run.ms / local) / spread


def scatter(runs: list[Frames]) -> tuple[np.ndarray, int]:
    """Share of frames beyond each factor on the fast side, in 10,000; number of frames."""
    z = np.concatenate([deviations(run) for run in runs])
    return np.array([1e4 * np.mean(z < -factor) for factor in FACTORS]), z.size


def main() -> None:
    rng = np.random.default_rng(11)
    everything = scenes()
    print("Frames further below their local median than the factor times the local spread, in 10,000:\n")
    print(f"| scene | paced at | frames | {' | '.join(map(str, FACTORS))} |\n| --- | ---: | ---: |{' ---: |' * len(FACTORS)}")
    for scene, runs in everything.items():
        for rate in RATES:
            shares, count = scatter([at_rate(run, rate) for run in runs])
            print(f"| {scene} | {rate or 'as it is'} | {count} | {' | '.join(f'{share:.1f}' for share in shares)} |")
    print(f"\nFalse hitches on calm stretches with the factor {K:g}, and the share of added hitches that is found:\n")
    columns = ["scene", "paced at", "minutes", "false", "a minute", *(f"+{ms:g} ms" for ms in ADDED_MS), "marked a minute"]
    print(f"| {' | '.join(columns)} |")
    print("| --- | ---: | ---: | ---: | ---: |" + " ---: |" * (len(ADDED_MS) + 1))
    for scene, runs in everything.items():
        for rate in RATES:
            print(f"| {scene} | {rate or 'as it is'} | {row(runs, rate, rng)} |")


def row(runs: list[Frames], rate: float | None, rng: np.random.Generator) -> str:
    paced = [at_rate(run, rate) for run in runs]
    quiet = [calm(run, rng) for run in paced for _ in range(4)]
    minutes = sum(run.seconds for run in quiet) / 60
    false = sum(moments(hitch_marks(run)) for run in quiet)
    found = []
    for added in ADDED_MS:
        hits = 0
        for run in quiet:
            at = int(rng.integers(20, len(run) - 20))
            ns = run.ns.copy()
            # The added time comes on top of an ordinary frame there.
            ns[at] = np.median(ns[at - 7 : at + 8]) + int(1e6 * added)
            hits += bool(hitch_marks(Frames(ns))[at])
        found.append(f"{100 * hits / len(quiet):.0f} %")
    recorded = sum(moments(hitch_marks(run)) for run in paced) / (sum(run.seconds for run in paced) / 60)
    return f"{minutes:.1f} | {false} | {false / minutes:.2f} | {' | '.join(found)} | {recorded:.1f}"


if __name__ == "__main__":
    main()
