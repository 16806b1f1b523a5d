"""What a level brings and gives up, what counts in the recommendation, and tables beside the logs, as a study states them."""

import pytest

from evenhand.errors import StudyError
from evenhand.study.model import Stated
from evenhand.study.read import parse_study
from evenhand.study.write import study_text

SMALL = """\
[study]
question = "Which?"

[[setup]]
name = "lean"

[[setup]]
name = "rich"

[[title]]
name = "Night Ferry"
"""
FULL = """\
[study]
question = "Which?"

[weights]
average = 2
power = 0.5

[inputs]
power = "power.csv"

[[factor]]
name = "cores"
level = [
  { name = "all" },
  { name = "big", gives_up = "the small cores", brings = { words = "draws less", watts = -24, degrees = -6.5 } },
]

[[title]]
name = "Ironvale"
"""


def problems(text):
    with pytest.raises(StudyError) as caught:
        parse_study(text, "study.toml")
    return [str(p) for p in caught.value.problems]


def test_words_alone_or_with_numbers():
    study = parse_study(FULL, "study.toml")
    big = study.factors[0].levels[1]
    assert big.gives_up == Stated("the small cores") and big.brings == Stated("draws less", {"watts": -24.0, "degrees": -6.5})
    assert study.factors[0].levels[0].brings is None
    assert study.weights == {"average": 2.0, "power": 0.5} and study.inputs == {"power": "power.csv"}


def test_words_alone_are_written_as_words():
    text = study_text(parse_study(FULL, "study.toml"), comments=False)
    assert 'gives_up = "the small cores"\n' in text
    assert 'brings = { words = "draws less", watts = -24, degrees = -6.5 }\n' in text


def test_setups_without_factors_can_say_it_too():
    study = parse_study(SMALL.replace('name = "rich"', 'name = "rich"\nbrings = "quiet"'), "study.toml")
    assert study.setups[1].brings == Stated("quiet") and study.setups[0].brings is None


@pytest.mark.parametrize(
    "value", ["3", '" "', "{ watts = -24 }", '{ words = "less", watts = "24" }', '{ words = "less", ok = true }']
)
def test_neither_words_nor_numbers(value):
    found = problems(SMALL.replace('name = "rich"', f'name = "rich"\nbrings = {value}'))
    assert len(found) == 1 and "[study-value]" in found[0] and "words" in found[0]


def test_something_must_count():
    found = problems(SMALL + "\n[weights]\naverage = 0\nlow = 0\npower = 1\n")
    assert "nothing of how games run would count  [study-contradiction]" in found[0] and "line 13" in found[0]
    parse_study(SMALL + "\n[weights]\naverage = 0\nlow = 0\nhitches = 1\n", "study.toml")


def test_a_weight_is_no_less_than_nothing():
    assert "from 0 to 1000" in problems(SMALL + "\n[weights]\naverage = -1\n")[0]
