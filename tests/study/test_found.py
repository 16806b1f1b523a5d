"""The study that a folder of runs would be."""

from itertools import product

import pytest

from evenhand.study.guess import factors_of, study_of
from evenhand.study.model import Factor, Level, Protocol, RunKey, Scene, Setup, Title
from evenhand.study.read import parse_study
from evenhand.study.write import study_text


def keys(titles, setups, visits=2, runs=3):
    return [RunKey(t, t, s, v + 1, r + 1) for t, s, v, r in product(titles, setups, range(visits), range(runs))]


def test_titles_setups_and_protocol_as_found():
    study = study_of(keys(["night-ferry", "Ironvale"], ["tuned", "stock", "eco"]))
    assert [s.name for s in study.setups] == ["stock", "eco", "tuned"]  # the usual setting first: it is the baseline
    assert study.baseline == "stock"
    assert study.titles == (
        Title("Ironvale", "Ironvale", (Scene("Ironvale", "Ironvale"),)),
        Title("night-ferry", "Night Ferry", (Scene("night-ferry", "Night Ferry"),)),
    )
    assert study.protocol == Protocol(visits=2, runs=3)
    assert study.factors == ()


def test_scenes_of_a_title_and_natural_order():
    runs = [RunKey("ironvale", scene, s, 1, 1) for scene in ("mine", "forge") for s in ("10W", "9W")]
    study = study_of(runs)
    assert [s.label for s in study.titles[0].scenes] == ["Forge", "Mine"]
    assert study.baseline == "9W"


def test_factors_where_a_full_design_is_evident():
    setups = ["6400-65W", "5200-65W", "6400-45W", "5200-45W"]
    factors = factors_of(setups)
    assert factors == (
        Factor("factor-1", "factor 1", (Level("5200", "5200", 5200.0), Level("6400", "6400", 6400.0))),
        Factor("factor-2", "factor 2", (Level("45W", "45W", 45.0), Level("65W", "65W", 65.0))),
    )
    study = study_of(keys(["a", "b"], setups), factors)
    assert study.setup("6400-45W") == Setup("6400-45W", "6400-45W", {"factor-1": "6400", "factor-2": "45W"})


def test_letters_that_levels_share_name_the_factor():
    factors = factors_of(["mem6400_lim65", "mem6400_lim45", "mem5200_lim65", "mem5200_lim45"])
    assert [(f.name, [level.value for level in f.levels]) for f in factors] == [("mem", [5200.0, 6400.0]), ("lim", [45.0, 65.0])]


@pytest.mark.parametrize(
    "setups",
    [
        ["A", "B", "C", "D"],
        ["6400-65W", "5200-65W", "6400-45W"],
        ["a-b", "a-c"],
        ["a-b", "b-a", "c-d", "d-c"],
        ["x y", "x z", "y"],
        [],
    ],
)
def test_no_factors_where_none_are_evident(setups):
    assert factors_of(setups) is None


def test_factors_are_dropped_when_a_setup_is_missing():
    setups = ["6400-65W", "5200-65W", "6400-45W", "5200-45W"]
    study = study_of(keys(["a"], setups[:3]), factors_of(setups))
    assert (study.factors, study.setups[0].levels) == ((), {})


@pytest.mark.parametrize("setups", [["A"], ["stock", "Ärger"], ["6400-65W", "5200-65W", "6400-45W", "5200-45W"], ["nul-", "x.y"]])
def test_a_study_found_is_a_study_that_can_be_written(setups):
    study = study_of(keys(["Moss & Ember", "moss-ember", "Quiet Orbit 2"], setups), factors_of(setups))
    assert parse_study(study_text(study), "study.toml") == study


def test_without_runs_there_is_no_study():
    with pytest.raises(ValueError, match="at least one run"):
        study_of([])
