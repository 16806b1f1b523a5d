"""Write the tables of docs/methods/screening.md: how well screening finds spoiled runs, recorded and made.

python tools/screening_table.py [--count 30]      rewrite the tables between the page's markers
python tools/screening_table.py --count 5 --print  a quick look, the page untouched
"""

from __future__ import annotations

import argparse
import csv
import hashlib
import io
from collections.abc import Sequence
from pathlib import Path, PurePosixPath
from typing import Final

from evenhand.examples.measured import measured_files
from evenhand.examples.measured_study import measured_study
from evenhand.frames.model import Frames
from evenhand.frames.read import read_log
from evenhand.frames.stretch import apply, propose
from evenhand.rehearsal.screening_study import (
    GOOD,
    STRICTNESS,
    Outcome,
    chosen_without,
    leaving_scenes_out,
    made_outcomes,
    recorded_outcomes,
)
from evenhand.rehearsal.spoil import KINDS, OTHER_SETUP
from evenhand.screening.model import ScreenedRun
from evenhand.stats.binomial import clopper_pearson
from evenhand.study.model import RunKey

PAGE: Final = Path(__file__).parents[1] / "docs" / "methods" / "screening.md"
SEED: Final = 20261124

#: What truth.csv calls a run -> its row in the table, and the checks that are the right reason.
TRUTH: Final = {
    "background_load": ("background load", ("busy-machine",)),
    "capped": ("capped at 60 to 144", ("capped",)),
    "cut_off": ("cut off", ("too-short",)),
    "wrong_setup": ("another setup", ("wrong-setup",)),
    "stopped_once": ("stopped for 400 ms", ("lone-stall",)),
    "wrong_scene": ("another scene", ("other-content",)),
}


def main() -> None:
    """Count, then write or print the tables."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=30, help="made runs of each kind and campaign")
    parser.add_argument("--print", action="store_true", help="print the tables and leave the page alone")
    options = parser.parse_args()
    campaign, kinds = recorded("campaign", with_spoiled=True)
    quiet, _ = recorded("quiet", with_spoiled=False)
    good = [r for r in campaign if r.key.visit < 4]
    found = {s: recorded_outcomes(campaign, kinds, s) + recorded_outcomes(quiet, {}, s) for s in STRICTNESS}
    made = {s: made_outcomes(good, options.count, s, SEED) + made_outcomes(quiet, options.count, s, SEED) for s in STRICTNESS}
    chosen = chosen_without({s: [*found[s], *made[s]] for s in STRICTNESS})
    picks = ", ".join(f"{scene} {value:g}" for scene, value in chosen.items())
    tables = {
        "recorded": _table_of(found, chosen, [name for name, _ in TRUTH.values()]),
        "made": _table_of(made, chosen, made_rows()),
        "chosen": f"Strictness chosen without the scene: {picks}.",
    }
    if options.print:
        print("\n\n".join(tables.values()))
        return
    text = PAGE.read_text(encoding="utf-8")
    for name, table in tables.items():
        before, _, rest = text.partition(f"<!-- {name}: begin -->")
        _, _, after = rest.partition(f"<!-- {name}: end -->")
        text = f"{before}<!-- {name}: begin -->\n{table}\n<!-- {name}: end -->{after}"
    PAGE.write_text(text, encoding="utf-8", newline="\n")


def made_rows() -> list[str]:
    """Rows of the table of made runs, in order."""
    gaps = ("over 50 % apart", "20 to 50 % apart", "under 20 % apart")
    return [k.name for k in KINDS if k is not OTHER_SETUP] + [f"{OTHER_SETUP.name}, {gap}" for gap in gaps]


def recorded(campaign: str, with_spoiled: bool) -> tuple[list[ScreenedRun], dict[RunKey, tuple[str, tuple[str, ...]]]]:
    """The runs of a shipped campaign as the checks see them, and what is wrong with the spoiled ones."""
    files = dict(measured_files(campaign))
    scenes = {t.name: t.scenes[0] for t in measured_study(campaign).titles}
    rows = [(PurePosixPath(r["log"]), r) for r in _table(files, "runs.csv")]
    frames = {path: _frames(files[path]) for path, _ in rows}
    stretches = {
        name: propose(f"{name}/{name}", scene.pace.value, [frames[p] for p, r in rows if r["scene"] == name])
        for name, scene in scenes.items()
    }
    kinds: dict[RunKey, tuple[str, tuple[str, ...]]] = {}
    if with_spoiled:
        truth = {r["log"]: r["truth"] for r in _table(files, "spoiled/truth.csv")}
        for r in _table(files, "spoiled/runs.csv"):
            path = PurePosixPath("spoiled") / r["log"]
            rows.append((path, r))
            frames[path] = _frames(files[path])
            if truth[r["log"]] in TRUTH:
                kinds[_key(r)] = TRUTH[truth[r["log"]]]
    runs = []
    for path, r in rows:
        digest = hashlib.sha256(files[path]).hexdigest()
        cut = apply(frames[path], stretches[r["scene"]])
        runs.append(ScreenedRun(_key(r), scenes[r["scene"]], frames[path], cut, digest, float(r["order"])))
    return runs, kinds


def _table(files: dict[PurePosixPath, bytes], name: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(files[PurePosixPath(name)].decode("utf-8"))))


def _key(row: dict[str, str]) -> RunKey:
    return RunKey(row["scene"], row["scene"], row["setup"], int(row["visit"]), int(row["run"]))


def _frames(data: bytes) -> Frames:
    return read_log(data, name="log").frames


def _table_of(by_strictness: dict[float, list[Outcome]], chosen: dict[str, float], rows: Sequence[str]) -> str:
    """The Markdown table of one set of outcomes: the catalogue's thresholds beside those set without the scene."""
    both = (by_strictness[1.0], leaving_scenes_out(by_strictness, chosen))
    lines = [
        "| what was wrong | runs | flagged | right reason first | flagged, scene left out | right, scene left out |",
        "| --- | --- | --- | --- | --- | --- |",
    ]
    lines += [_row(name, *([o for o in found if o.kind == name] for found in both)) for name in rows]
    good = [[o for o in found if o.kind == GOOD] for found in both]
    if good[0]:
        lines.append(_row("**all of these**", *([o for o in found if o.kind != GOOD] for found in both)))
        wrongly = [_share(sum(o.flagged for o in g), len(g)) for g in good]
        lines.append(f"| **nothing (good runs)** | {len(good[0])} | {wrongly[0]} | | {wrongly[1]} | |")
    return "\n".join(lines)


def _row(name: str, usual: Sequence[Outcome], left_out: Sequence[Outcome]) -> str:
    cells = [
        _share(sum(getattr(o, what) for o in found), len(found)) for found in (usual, left_out) for what in ("flagged", "right")
    ]
    return f"| {name} | {len(usual)} | {' | '.join(cells)} |"


def _share(hits: int, tries: int) -> str:
    """`17 (94 %; 73–100 %)`: count, share and its exact 95 % interval."""
    if tries == 0:
        return "–"
    low, high = clopper_pearson(hits, tries)
    return f"{hits} ({hits / tries * 100:.0f} %; {low * 100:.0f}–{high * 100:.0f} %)"


if __name__ == "__main__":
    main()
