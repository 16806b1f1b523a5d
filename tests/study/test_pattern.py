"""Patterns that a person writes."""

from pathlib import PurePath

import pytest

from evenhand.errors import UsageError
from evenhand.study.addressing import assign, day_of
from evenhand.study.guess import guess_keys
from evenhand.study.model import RunKey
from evenhand.study.pattern import parse_pattern


def keys(pattern, *paths):
    return [str(k) for k in guess_keys([PurePath(p) for p in paths], pattern).keys.values()]


@pytest.mark.parametrize(
    ("pattern", "path", "key"),
    [
        ("{title}/{setup}-v{visit}-r{run}", "a/B-v2-r3.csv", "a B v2 r3"),
        ("{scene}/{setup}-v{visit}-r{run}", "a/B-v2-r3.txt.gz", "a B v2 r3"),
        ("{title}/{scene}/{setup}", "a/b/C.csv", "a/b C v1 r1"),
        ("{title}\\{setup}\\r{run}", "a/B/r7.log", "a B v1 r7"),
        ("./{title}/{setup}", "a/B.csv", "a B v1 r1"),
        ("{title}/*/{setup}", "a/x/B.csv", "a B v1 r1"),
        ("{title}/{setup}", "deep/er/a/B.csv", "a B v1 r1"),
        ("{title} {setup}.frames", "a B.frames", "a B v1 r1"),
        ("{title}/{setup}.csv", "a/B.csv", "a B v1 r1"),
        ("RUN{run}/{title}-{setup}", "run04/a-B.csv", "a B v1 r4"),
        ("{title}{visit}{setup}", "a2B.csv", "a B v2 r1"),
        ("{setup}/{run}", "B/2.csv", "title B v1 r2"),
        ("{title}_{run}", "a_2.csv", "a setup v1 r2"),
        ("{title}_{setup} ({run})", "a_B.csv", "a B v1 r1"),
        ("{title}_{setup} ({run})", "a_B (2).csv", "a B v1 r2"),
        ("{title}/{setup}/{setup}", "a/B/c.csv", "a B-c v1 r1"),
        ("{title}/{setup}", "e\u0301tude/B.csv", "étude B v1 r1"),
    ],
)
def test_a_pattern_and_what_it_says(pattern, path, key):
    assert keys(pattern, path) == [key]


def test_runs_without_numbers_are_counted_in_natural_order():
    paths = [PurePath(f"a/B/{n}.csv") for n in ("10h", "9h", "9h30")]
    found = guess_keys(paths, "{title}/{setup}/*").keys
    assert {p.stem: k.run for p, k in found.items()} == {"9h": 1, "9h30": 2, "10h": 3}


def test_days_become_visits_of_their_setup():
    paths = [PurePath(f"{d} a B.csv") for d in ("2026-12-01", "2026-11-30")] + [PurePath("2026-12-24 a C.csv")]
    found = guess_keys(paths, "{date} {title} {setup}").keys
    assert [str(found[p]) for p in paths] == ["a B v2 r1", "a B v1 r1", "a C v1 r1"]


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("2026-11-20", (2026, 11, 20)),
        ("20.11.2026", (2026, 11, 20)),
        ("20261120", (2026, 11, 20)),
        ("2026/11/20", (2026, 11, 20)),
    ],
)
def test_days(text, day):
    assert day_of(text) == day


def test_what_does_not_fit_is_told():
    guess = guess_keys([PurePath("a/B.csv"), PurePath("c.csv")], "{title}/{setup}")
    assert guess.left_out == {PurePath("c.csv"): "its path does not fit {title}/{setup}"}
    none = guess_keys([PurePath("c.csv")], "{title}/{setup}")
    assert none.account == "none of 1 file fits {title}/{setup}"
    assert not none.confident


@pytest.mark.parametrize(
    ("pattern", "what", "do"),
    [
        ("{titel}/{setup}", "no field {titel}", "did you mean {title}?"),
        ("{game}/{setup}", "no field {game}", "it may hold {title}, {scene}, {setup}"),
        ("{title}/{title}", "{title} stands twice", "{title}/{setup}-v{visit}-r{run}"),
        ("all/*.csv", "names nothing", "{title}/{setup}-v{visit}-r{run}"),
        ("", "names nothing", "write for example"),
        ("{title", "names nothing", "write for example"),
        ("{title}/}{setup}", "names nothing", "write for example"),
    ],
)
def test_a_pattern_that_cannot_be_understood(pattern, what, do):
    with pytest.raises(UsageError) as caught:
        parse_pattern(pattern)
    (problem,) = caught.value.problems
    assert what in problem.what
    assert do in problem.do


def test_the_whole_text_of_a_pattern_that_cannot_be_understood():
    with pytest.raises(UsageError) as caught:
        parse_pattern("{titel}/{setup}")
    assert str(caught.value) == "{titel}/{setup}: the pattern has no field {titel}  [pattern-unclear]\n  -> did you mean {title}?"


def test_a_long_name_with_many_cuts_ends_soon():
    pattern = parse_pattern("{title} {scene} {setup} * {run}")
    paths = [PurePath(" ".join(["a"] * 40 + ["1"])), PurePath("a" * 5000 + " b c d 1")]
    found = assign(pattern, paths)
    assert len(found.keys) == 1
    assert found.unmatched == (paths[1],)


def test_names_become_safe():
    (key,) = guess_keys([PurePath("a:b/nul.csv")], "{title}/{setup}").keys.values()
    assert key == RunKey("a-b", "a-b", "nul-", 1, 1)
