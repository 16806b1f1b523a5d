"""Nine sample quantiles: Hyndman & Fan (1996), Am. Stat. 50, 361-365, as R 4.2.2 computes them (case 06a)."""

from __future__ import annotations

import numpy as np
import pytest

from evenhand.measures.lows import percentile_low
from evenhand.stats.quantiles import TYPES, quantile


@pytest.mark.parametrize("kind", TYPES)
def test_each_type_is_the_one_of_that_number(reference, kind):
    case = reference("06a-quantile-types")
    for name, values in case["inputs"]["vectors"].items():
        expected = case["expected"][name][f"type{kind}"]
        found = [quantile(values, p, kind) for p in case["inputs"]["probs"]]
        assert found == pytest.approx(expected, rel=1e-12, abs=1e-12), (name, kind)


def test_the_percentile_low_is_type_7_of_the_durations(reference):
    case = reference("06a-quantile-types")
    at = case["inputs"]["probs"].index(0.99)
    for name, values in case["inputs"]["vectors"].items():
        ns = np.sort(np.rint(np.array(values) * 1e6).astype(np.int64))[::-1]
        assert percentile_low(ns, 0.01) == pytest.approx(1000 / case["expected"][name]["type7"][at], rel=1e-9)
        assert percentile_low(ns, 0.01, 1) == pytest.approx(1000 / case["expected"][name]["type1"][at], rel=1e-9)


def test_a_type_that_does_not_exist_is_an_error():
    with pytest.raises(KeyError):
        quantile([1.0, 2.0], 0.5, 10)
