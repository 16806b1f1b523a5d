"""Every line of the table of verdicts, in both directions."""

import pytest

from evenhand.judging.decide import decide, leaning
from evenhand.judging.model import Interval, Verdict
from evenhand.measures.model import Better

M = 0.03
TABLE = [
    # simultaneous, 90 % alone, verdict where higher is better, leaning
    ((-0.02, 0.02), (-0.01, 0.01), Verdict.LEVEL, 0),
    ((0.002, 0.04), (0.01, 0.029), Verdict.LEVEL, 1),  # level wins: ahead by less than matters
    ((-0.04, -0.002), (-0.029, -0.01), Verdict.LEVEL, -1),
    ((0.03, 0.09), (0.04, 0.08), Verdict.AHEAD_BEYOND, 1),
    ((0.01, 0.09), (0.02, 0.08), Verdict.AHEAD, 1),
    ((-0.09, -0.03), (-0.08, -0.04), Verdict.BEHIND_BEYOND, -1),
    ((-0.09, -0.01), (-0.08, -0.02), Verdict.BEHIND, -1),
    ((-0.01, 0.09), (0.001, 0.08), Verdict.OPEN, 0),
    ((-0.05, 0.05), (-0.03, 0.03), Verdict.OPEN, 0),  # the 90 % interval touches the margin: not inside
    ((float("-inf"), float("inf")), (float("-inf"), float("inf")), Verdict.OPEN, 0),
]
MIRRORED = {
    Verdict.AHEAD: Verdict.BEHIND,
    Verdict.BEHIND: Verdict.AHEAD,
    Verdict.AHEAD_BEYOND: Verdict.BEHIND_BEYOND,
    Verdict.BEHIND_BEYOND: Verdict.AHEAD_BEYOND,
}


@pytest.mark.parametrize(("outer", "inner", "verdict", "lean"), TABLE)
def test_table_of_verdicts(outer, inner, verdict, lean):
    simultaneous, alone = Interval(*outer, 0.95), Interval(*inner, 0.90)
    assert decide(simultaneous, alone, M, Better.HIGHER) is verdict
    assert leaning(simultaneous, Better.HIGHER) == lean
    assert decide(simultaneous, alone, M, Better.LOWER) is MIRRORED.get(verdict, verdict)
    assert leaning(simultaneous, Better.LOWER) == -lean


def test_without_a_margin_nothing_is_level_or_beyond():
    assert decide(Interval(0.0, 0.0, 0.95), Interval(0.0, 0.0, 0.90), 0.0, Better.HIGHER) is Verdict.OPEN
    assert decide(Interval(0.1, 0.2, 0.95), Interval(0.11, 0.19, 0.90), 0.0, Better.HIGHER) is Verdict.AHEAD
