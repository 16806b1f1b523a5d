"""Which run each log is, from the names of folders and files alone."""

from itertools import product
from pathlib import PurePath, PurePosixPath, PureWindowsPath

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evenhand.study.guess import guess_keys
from evenhand.study.model import RunKey

TITLES = ("Harbour Lights", "Ironvale", "Moss & Ember", "Night Ferry")
MEMORY = ("5200 45W", "5200 65W", "6400 45W", "6400 65W")


def design(titles, setups, visits, runs):
    return list(product(titles, setups, range(1, visits + 1), range(1, runs + 1)))


def written(cells, form):
    return {PurePath(form(t, s, v, r)): RunKey(t, t, s, v, r) for t, s, v, r in cells}


#: name -> (titles, setups, visits, runs, how a path is written, the pattern that should be found)
LAYOUTS = {
    "folder a title": (
        TITLES, "ABCD", 3, 2, lambda t, s, v, r: f"{t}/{s}-v{v}-r{r}.csv", "{title}/{setup}-v{visit}-r{run}",
    ),
    "flat, joined by underscores": (
        TITLES, MEMORY, 1, 3, lambda t, s, v, r: f"{t}_{s}_{r}.csv", "{title}_{setup}_{run}",
    ),
    "flat, joined by spaces that names hold too": (
        TITLES, MEMORY, 1, 3, lambda t, s, v, r: f"{t} {s} {r}.csv", "{title} {setup} {run}",
    ),
    "day first": (
        TITLES, ("lean", "rich"), 2, 3, lambda t, s, v, r: f"2026-11-{19 + v} {t} {s} run{r}.txt",
        "{date} {title} {setup} run{run}",
    ),
    "one folder a run": (
        TITLES, ("lean", "rich", "stock"), 2, 2, lambda t, s, v, r: f"{t}/{s}/visit{v}/run{r}/frames.csv",
        "{title}/{setup}/visit{visit}/run{run}/frames",
    ),
    "setup as folder": (
        TITLES, ("5200-45W", "6400-65W"), 1, 3, lambda t, s, v, r: f"{s}/{t}_{r:02d}.csv", "{setup}/{title}_{run}",
    ),
    "copies in brackets": (
        TITLES, ("on", "off"), 1, 3, lambda t, s, v, r: f"{t} - {s}{'' if r == 1 else f' ({r})'}.csv",
        "{title} - {setup} ({run})",
    ),
    "day as nested folders": (
        TITLES, ("on", "off"), 2, 2, lambda t, s, v, r: f"2026/11/{v:02d}/{t}/{s} {r}.csv", "{date}/{title}/{setup} {run}",
    ),
    "day and setup as folder": (
        TITLES, ("stock", "eco"), 2, 2, lambda t, s, v, r: f"{v:02d}.11.2026 {s}/{t}_{r}.csv", "{date} {setup}/{title}_{run}",
    ),
    "time of day, runs not numbered": (
        TITLES, ("lean", "rich"), 2, 2, lambda t, s, v, r: f"{t}_{s}_2026-11-{v:02d}_{9 + r:02d}-15-07.csv",
        "{title}_{setup}_{date}_*",
    ),
    "letters for visit and run": (
        ("ironvale", "saltmarsh"), ("smt_on", "smt_off"), 2, 2, lambda t, s, v, r: f"{t}_v{v}r{r}_{s}.log",
        "{title}_v{visit}r{run}_{setup}",
    ),
    "a constant beginning": (
        ("Ironvale", "Underglass", "Nightferry"), ("lean", "rich"), 2, 3, lambda t, s, v, r: f"bench_log_{t}_{s}_{v}_{r}.csv",
        "bench_log_{title}_{setup}_{visit}_{run}",
    ),
    "numbered from zero": (
        TITLES, ("lean", "rich"), 1, 3, lambda t, s, v, r: f"{t}/{s}_{r - 1}.csv", "{title}/{setup}_{run}",
    ),
    "nothing numbered": (
        TITLES, ("lean", "rich"), 1, 1, lambda t, s, v, r: f"{t}/{s}.csv", "{title}/{setup}",
    ),
    "one title": (
        ("Ironvale",), ("lean", "rich"), 2, 3, lambda t, s, v, r: f"{t}-{s}-v{v}-r{r}.csv", "{title}-{setup}-v{visit}-r{run}",
    ),
    "letters of other alphabets": (
        ("Straße der Öfen", "Überfahrt", "Nachtfähre"), ("1 Kern", "2 Kerne"), 1, 2, lambda t, s, v, r: f"{t}/{s}, Lauf {r}.csv",
        "{title}/{setup}, Lauf {run}",
    ),
    "packed logs": (
        TITLES, "AB", 2, 2, lambda t, s, v, r: f"{t}/{s}_visit {v}_run {r}.csv.gz", "{title}/{setup}_visit {visit}_run {run}",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", LAYOUTS)
def test_a_layout_is_understood(name):
    titles, setups, visits, runs, form, pattern = LAYOUTS[name]
    expected = written(design(titles, setups, visits, runs), form)
    guess = guess_keys(list(expected))
    assert (guess.pattern, guess.confident, guess.left_out) == (pattern, True, {})
    assert guess.keys == expected
    assert guess_keys(list(expected), guess.pattern).keys == expected  # the pattern expresses the guess


def campaign(scenes, ends=()):
    ending = dict(zip(scenes, ends, strict=False))
    return [f"{c}/{s}-v{v}-r{r}.{ending.get(c, 'csv')}" for c, s, v, r in design(scenes, "ABCD", 3, 2)]


#: Runs made later: scene -> the files that are there; some setups are missing.
SPOILED = {
    "hangar": "A-v4-r1 A-v4-r2 D-v4-r1 D-v4-r2 D-v4-r3 D-v4-r4 D-v4-r5",
    "keep": "B-v4-r1 B-v4-r2 D-v4-r1",
    "quarry": "B-v4-r1 C-v4-r1 D-v4-r1 D-v4-r2 D-v4-r3",
    "works": "B-v4-r1 B-v4-r2 D-v4-r1 D-v4-r2 D-v4-r3 D-v4-r4",
}


def test_the_measured_campaigns():
    logs = campaign(("hangar", "keep", "works", "quarry"), ("txt", "csv", "tsv", "csv"))
    spoiled = [f"spoiled/{scene}/{name}.txt" for scene, names in SPOILED.items() for name in names.split()]
    beside = ["README.md", "runs.csv", "scenes.csv", "spoiled/runs.csv", "spoiled/truth.csv"]
    guess = guess_keys([PurePath(p) for p in [*logs, *spoiled, *beside]])
    assert guess.confident
    assert guess.account == "4 titles × 4 setups × 3 visits × 2 runs from {title}/{setup}-v{visit}-r{run}"
    assert guess.keys[PurePath("keep/B-v3-r2.csv")] == RunKey("keep", "keep", "B", 3, 2)
    assert set(guess.left_out) == {PurePath(p) for p in [*spoiled, *beside]}
    assert guess.left_out[PurePath("README.md")] == "notes, by its name"
    assert guess.left_out[PurePath("runs.csv")] == "its path does not fit {title}/{setup}-v{visit}-r{run}"
    quiet = guess_keys([PurePath(p) for p in campaign(("mill", "orchard", "yard"))])
    assert quiet.confident
    assert quiet.account == "3 titles × 4 setups × 3 visits × 2 runs from {title}/{setup}-v{visit}-r{run}"


def test_an_incomplete_folder_is_read_but_not_certain():
    paths = [PurePath(f"{scene}/{name}.csv") for scene, names in SPOILED.items() for name in names.split()]
    guess = guess_keys([*paths, PurePath("truth.csv")])
    assert guess.pattern == "{title}/{setup}-v{visit}-r{run}"
    assert guess.keys[PurePath("hangar/D-v4-r5.csv")] == RunKey("hangar", "hangar", "D", 4, 5)
    assert "21 logs of 4 titles × 4 setups × 1 visit × 5 runs" in guess.account


def test_a_few_missing_runs_do_not_matter():
    paths = [p for i, p in enumerate(campaign(("hangar", "keep", "works"))) if i % 11]
    guess = guess_keys([PurePath(p) for p in paths])
    assert guess.confident
    assert guess.pattern == "{title}/{setup}-v{visit}-r{run}"


def test_title_and_setup_that_could_be_swapped():
    paths = [f"{a}/{b}-r{r}.csv" for a in ("alpha", "beta", "gamma") for b in ("delta", "kappa", "sigma") for r in (1, 2)]
    guess = guess_keys([PurePath(p) for p in paths])
    assert not guess.confident
    assert {guess.pattern, *guess.alternatives} >= {"{title}/{setup}-r{run}", "{setup}/{title}-r{run}"}
    assert guess.account.endswith("this is not certain")


def test_scenes_inside_titles():
    scenes = {"Ironvale": ("mine", "forge"), "Night Ferry": ("harbour", "deck", "storm")}
    paths = [f"{t}/{c}/{s}_v{v}_r{r}.csv" for t, cs in scenes.items() for c, s, v, r in design(cs, "ABC", 2, 2)]
    guess = guess_keys([PurePath(p) for p in paths])
    assert (guess.confident, guess.pattern) == (True, "{title}/{scene}/{setup}_v{visit}_r{run}")
    assert guess.keys[PurePath("Night Ferry/storm/C_v2_r1.csv")] == RunKey("Night Ferry", "storm", "C", 2, 1)
    assert "2 titles × 5 scenes × 3 setups × 2 visits × 2 runs" in guess.account


def test_setups_made_of_two_folders():
    paths = [f"{t}/{m}/{w}W/run {r}.csv" for t in TITLES for m in (5200, 6400) for w in (45, 65) for r in (1, 2)]
    guess = guess_keys([PurePath(p) for p in paths])
    assert guess.pattern == "{title}/{setup}/{setup}/run {run}"
    assert guess.keys[PurePath("Ironvale/5200/45W/run 2.csv")] == RunKey("Ironvale", "Ironvale", "5200-45W", 1, 2)


def test_days_count_per_setup():
    """Setups taken in turn on different days: each has its own first and second visit."""
    days = ((1, "stock"), (2, "eco"), (3, "stock"), (4, "eco"))
    paths = [PurePath(f"2026-11-{d:02d} {s}/{t}_{r}.csv") for d, s in days for t in TITLES for r in (1, 2)]
    keys = guess_keys(paths).keys
    assert keys[PurePath("2026-11-04 eco/Ironvale_1.csv")] == RunKey("Ironvale", "Ironvale", "eco", 2, 1)
    assert {k.visit for k in keys.values()} == {1, 2}


def test_a_lone_number_is_a_run_and_it_is_said():
    guess = guess_keys([PurePath(f"{t}_{s}_{r}.csv") for t, s, _, r in design(TITLES, ("lean", "rich"), 1, 3)])
    assert "no visit in the names, so all runs of a setup count as one visit" in guess.account


def test_what_is_no_log_is_left_out_with_the_reason():
    logs = [PurePath(p) for p in campaign(("hangar", "keep"))]
    beside = {
        "shot.png": "a picture",
        ".DS_Store": "a hidden or system file",
        "hangar/._A-v1-r1.csv": "a hidden or system file",
        "Thumbs.db": "a hidden or system file",
        "notes.txt": "notes, by its name",
        "all.zip": "an archive; unpack it first",
        "table.xlsx": "a spreadsheet; save its sheet as CSV",
        "study.toml": "settings or data of a program",
        "keep/~$A-v1-r1.csv": "left over by a program",
        "hangar/summary.csv": "its path does not fit {title}/{setup}-v{visit}-r{run}",
    }
    guess = guess_keys([*logs, *map(PurePath, beside)])
    assert guess.confident
    assert guess.left_out == {PurePath(p): why for p, why in beside.items()}


def test_nothing_to_go_by():
    assert guess_keys([]).account == "no file here could be a frame log by its name"
    assert not guess_keys([]).keys
    single = guess_keys([PurePath("log.csv")])
    assert not single.confident
    letters = guess_keys([PurePath(f"{c}.csv") for c in "abc"])
    assert not letters.confident
    assert set(letters.left_out) | set(letters.keys) == {PurePath(f"{c}.csv") for c in "abc"}


def test_names_that_differ_only_in_capitals_are_one():
    paths = [f"Ironvale/Lean_{r}.csv" for r in (1, 2, 3)] + [f"ironvale/{s}_{r}.csv" for s in ("lean", "rich") for r in (4, 5, 6)]
    paths += [f"Keep/{s}_{r}.csv" for s in ("lean", "rich") for r in range(1, 7)]
    keys = guess_keys([PurePosixPath(p) for p in paths], "{title}/{setup}_{run}").keys
    assert {k.title for k in keys.values()} == {"ironvale", "Keep"}
    assert {k.setup for k in keys.values()} == {"lean", "rich"}


def test_windows_paths():
    paths = [PureWindowsPath(p.replace("/", "\\")) for p in campaign(("hangar", "keep", "works"))]
    guess = guess_keys(paths)
    assert guess.confident
    assert guess.keys[paths[0]] == RunKey("hangar", "hangar", "A", 1, 1)


def test_two_logs_of_one_run():
    paths = [PurePath(p) for p in [*campaign(("hangar", "keep")), "hangar/A-v1-r1.txt"]]
    guess = guess_keys(paths)
    assert guess.left_out == {paths[-1]: "it would be the same run as hangar/A-v1-r1.csv"}
    assert not guess.confident


def test_a_lone_name_without_a_letter_tells_nothing():
    path = PurePath("---.csv")
    assert guess_keys([path]).left_out == {path: "its path follows no pattern that could be made out"}


HOSTILE = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="/\0"), min_size=1, max_size=25)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.lists(HOSTILE, min_size=1, max_size=4), max_size=8))
def test_any_names_are_either_read_or_left_out(parts):
    paths = list(dict.fromkeys(PurePosixPath(*p) for p in parts))
    paths = [p for p in paths if p.parts]
    guess = guess_keys(paths)
    assert set(guess.keys) | set(guess.left_out) == set(paths)
    assert not set(guess.keys) & set(guess.left_out)
    assert len(set(guess.keys.values())) == len(guess.keys)
    if guess.keys:
        assert guess_keys(paths, guess.pattern).keys == guess.keys


NAMES_OF_TITLES = ("Harbour Lights", "Ironvale", "Moss & Ember", "Night Ferry", "Paper Armada", "Quiet Orbit", "Saltmarsh Rally")
NAMES_OF_SETUPS = (
    ("on", "off"),
    ("A", "B", "C"),
    ("stock", "eco", "boost"),
    ("5200-45W", "5200-65W", "6400-45W", "6400-65W"),
    ("1 core", "2 cores", "4 cores"),
    ("old driver", "new driver"),
)
FORMS = (
    lambda t, s, v, r: f"{t}/{s}/v{v}/{r}.csv",
    lambda t, s, v, r: f"{t}/{s}-v{v}-r{r}.txt",
    lambda t, s, v, r: f"{s}/visit {v}/{t} run {r}.csv",
    lambda t, s, v, r: f"{t}_{s}_v{v}_r{r}.tsv",
    lambda t, s, v, r: f"2026-10-{v:02d}/{s}/{t}_{r}.csv",
    lambda t, s, v, r: f"{t}__{s}__{v:02d}__{r:02d}.csv",
    lambda t, s, v, r: f"{t} - {s} - visit {v} - run {r}.csv.zst",
    lambda t, s, v, r: f"{s}_{t}_202610{v:02d}_{r}.csv",
    lambda t, s, v, r: f"logs/{t}/{s}/2026.10.{v:02d}/take{r}.csv",
)


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.sampled_from(NAMES_OF_TITLES), min_size=2, max_size=6, unique=True),
    st.sampled_from(NAMES_OF_SETUPS),
    st.integers(1, 3),
    st.integers(1, 3),
    st.sampled_from(FORMS),
    st.sampled_from((str, lambda t: t.lower().replace(" & ", "-and-").replace(" ", "-"), lambda t: t.replace(" ", ""))),
)
def test_a_crossed_design_is_guessed_back_or_not_confident(titles, setups, visits, runs, form, spelt):
    expected = written(design(map(spelt, titles), setups, visits, runs), form)
    guess = guess_keys(list(expected))
    if guess.confident:
        assert guess.keys == expected, guess.account
