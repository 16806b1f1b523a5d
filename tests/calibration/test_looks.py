"""What looks cost, counted on studies without any difference (fixed seeds): planned looks and stopping by precision keep the
error, free looks do not. The whole table is docs/methods/looks.md.
"""

import pytest

from evenhand.rehearsal.looks import count_looks
from evenhand.rehearsal.simulate import Truth

KINDS = {
    "1 title, 2 setups": (Truth(1, 2, 4, 1, 0.02, 0.01), False, 12_000),
    "8 titles, 4 setups, rounds": (Truth(8, 4, 4, 2, 0.01, 0.05, 0.005, round_shift=0.05), True, 4_000),
    "8 titles, 3 setups, 5 visits": (Truth(8, 3, 5, 2, 0.03, 0.01, 0.005), False, 4_000),
}


@pytest.fixture(scope="module", params=KINDS)
def claims(request):
    truth, rounds, studies = KINDS[request.param]
    return count_looks(truth, studies, 21, rounds)


def within(share, limit):
    """Not above the limit by more than two Monte Carlo standard errors."""
    return share.value <= limit + 2 * share.error


@pytest.mark.parametrize("way", ["spent, obrien-fleming", "spent, pocock", "by precision", "once, at the end"])
def test_planned_looks_and_precision_keep_the_error(claims, way):
    found = claims[way]
    assert within(found.ahead, 0.025)
    assert within(found.over, 0.05)
    assert within(found.title, 0.055)  # as without looks, where 5 to 5.5 % are counted at titles
    assert within(found.level, 0.05)


def test_free_looks_do_not(claims):
    assert claims["freely"].title.value > 0.09
    assert claims["freely"].over.value > 1.9 * claims["once, at the end"].over.value


def test_precision_and_looks_save_visits_where_they_may(claims):
    assert claims["once, at the end"].visits == max(c.visits for c in claims.values())
    assert claims["spent, pocock"].visits <= claims["spent, obrien-fleming"].visits


def test_precision_stops_early_where_the_noise_is_known():
    found = count_looks(Truth(8, 4, 6, 2, 0.02, 0.01, 0.005), 1500, 3)
    assert found["by precision"].visits < 5.2
    assert within(found["by precision"].over, 0.05)
