"""What a study says that counts, as the advice takes it."""

from evenhand.steps.advice import preferences_of
from evenhand.study.model import Inputs
from evenhand.study.read import parse_study

STUDY = """\
[study]
question = "Q"
baseline = "all-65"
low = "tail-mean"

[[factor]]
name = "cores"
level = [ { name = "all", brings = "every core" }, { name = "big", gives_up = "the small cores" } ]

[[factor]]
name = "limit"
level = [ { name = "65" }, { name = "45", brings = { words = "a quieter PC", watts = -18 } } ]

[[title]]
name = "Ironvale"
"""


def test_the_usual_weights_are_the_average_and_the_study_s_own_low():
    found = preferences_of(parse_study(STUDY, "study.toml"), Inputs())
    assert found.measures == {"average": 1.0, "low1_tail_mean": 1.0} and found.power == 0.0


def test_weights_of_the_study_come_first_and_none_is_left_out():
    text = STUDY + "\n[weights]\naverage = 0\nlow = 2\nhitches = 0.5\npower = 0.25\n"
    found = preferences_of(parse_study(text, "study.toml"), Inputs())
    assert found.measures == {"low1_tail_mean": 2.0, "hitches": 0.5} and found.power == 0.25


def test_only_levels_that_differ_from_the_baseline_s_are_told_of_a_setup():
    found = preferences_of(parse_study(STUDY, "study.toml"), Inputs())
    assert [s.words for s in found.brings["all-65"]] == ["every core"]
    assert [s.words for s in found.brings["all-45"]] == ["a quieter PC"] and found.gives_up["all-45"] == ()
    assert [s.words for s in found.gives_up["big-45"]] == ["the small cores"]
    assert found.brings["big-65"] == () and found.brings["big-45"][0].numbers == {"watts": -18.0}
