"""Looks, spending, precision and exploratory in study.toml: what they mean, and what cannot be."""

import pytest

from evenhand.errors import StudyError
from evenhand.study.model import Spending
from evenhand.study.read import parse_study

HEAD = """
[study]
question = "Q"
{study}
[[setup]]
name = "a"
[[setup]]
name = "b"
[[title]]
name = "ironvale"
[protocol]
{protocol}
"""


def read(protocol, study=""):
    return parse_study(HEAD.format(study=study, protocol=protocol), "study.toml")


def test_the_last_look_is_the_number_of_visits():
    protocol = read('looks = [2, 3, 5]\nspending = "pocock"').protocol
    assert (protocol.looks, protocol.visits, protocol.spending) == ((2, 3, 5), 5, Spending.POCOCK)
    assert read("looks = [2, 3]\nvisits = 3").protocol.visits == 3
    plain = read("").protocol
    assert (plain.visits, plain.looks, plain.spending, plain.stop_at) == (2, (), Spending.OBRIEN_FLEMING, None)
    assert read('stop_at = "1.5 %"').protocol.stop_at == 0.015
    assert read("", "exploratory = true").exploratory and not read("").exploratory


@pytest.mark.parametrize(
    ("protocol", "slug", "words"),
    [
        ("looks = [2, 3]\nvisits = 4", "study-contradiction", "the last look is at 3 visits, but 4 visits are planned"),
        ('looks = [2, 3]\nstop_at = "1 %"', "study-contradiction", "not by both"),
        ("looks = [3, 2]", "study-value", "each must be larger than the one before"),
        ("looks = [1, 2]", "study-value", "from 2 to 1000"),
        ("looks = [2, 2.5]", "study-value", "a list of whole numbers"),
        ("looks = 3", "study-value", "a list of whole numbers"),
        ('spending = "evenly"', "study-value", '"obrien-fleming" or "pocock"'),
        ("stop_at = 0.01", "study-value", "a percentage in quotes"),
    ],
)
def test_what_cannot_be_is_told_with_the_way_out(protocol, slug, words):
    with pytest.raises(StudyError) as error:
        read(protocol)
    (problem,) = error.value.problems
    assert problem.slug == slug and words in problem.what and problem.do
