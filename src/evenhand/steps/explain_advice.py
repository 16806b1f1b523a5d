"""Where the figures of the recommendation come from: gains drawn together over titles, and what titles lose to their best."""

from __future__ import annotations

import math

import numpy as np

from evenhand.judging.advice.model import Recommendation
from evenhand.judging.model import PooledCells
from evenhand.measures.model import Better
from evenhand.steps.derivation import Derivation, figure, signed, total
from evenhand.units import percent, percent_of_log
from evenhand.writeup.model import Table

DRAWN = "gains over the baseline, drawn together"


def regrets(made: Derivation, advice: Recommendation, pooled: PooledCells, votes: dict[str, float], *, log: bool) -> None:
    """The regret of every setup in one measure, from partially pooled gains; then what was recommended and why."""
    titles = [t for t in pooled.titles if t in advice.title_chances]
    setups = [s.setup for s in advice.setups if s.setup in pooled.setups]
    at = np.ix_([pooled.titles.index(t) for t in titles], [pooled.setups.index(s) for s in setups])
    sign = 1.0 if pooled.measure.better is Better.HIGHER else -1.0
    gain = sign * pooled.estimate[at] + 0.0  # no negative zero
    _gains(made, pooled, titles, setups, gain, sign)
    made.begin("what titles lose against their best setup")
    lost = gain.max(axis=1, keepdims=True) - gain
    for t, title in enumerate(titles):
        for c, setup in enumerate(setups):
            put_in = f"max({', '.join(map(figure, gain[t]))}) − {signed(float(gain[t, c]))}"
            made.add(f"regret of {setup} at {title}", "largest gain of the title − own gain", float(lost[t, c]), put_in)
    share = {t: votes.get(t, 1.0) / sum(votes.get(name, 1.0) for name in titles) for t in titles}
    made.begin("over titles")
    for title, vote in share.items():
        made.add(f"vote of {title}", "its weight over the sum of weights", vote)
    for c, setup in enumerate(setups):
        own = lost[:, c].tolist()
        worst = made.add(f"worst regret of {setup}", "largest", max(own), f"max({', '.join(map(figure, own))}, 0)")
        mean = float(sum(share[t] * lose for t, lose in zip(titles, own, strict=True)))
        put_in = total(f"{figure(share[t])} × {figure(lose)}" for t, lose in zip(titles, own, strict=True))
        mean = made.add(f"mean regret of {setup}", "sum of votes × regrets", mean, put_in)
        if log:
            for what, value in (("worst", worst), ("mean", mean)):
                put_in = f"100 × (1 − exp(−{figure(value)}))"
                made.add(f"{what} regret of {setup} in %", "of the best setup", -percent_of_log(-value), put_in, "%")
        within = sum(lose <= pooled.margin for lose in own)
        made.add(f"titles near their best under {setup}", f"regret at most the margin, {figure(pooled.margin)}", within)
    made.begin("what is recommended")
    made.say(advice.setup, "by verdicts over titles, not by these figures", advice.reason.value)
    order = [s.setup for s in advice.setups]
    for rule in advice.rules:
        often = percent(100 * rule.shares[order.index(rule.setup)], 0)
        made.say(
            f"rule: {rule.rule.value}", "by all measures that count together", f"{rule.setup}, in {often} of {advice.draws} draws"
        )


def _gains(made: Derivation, pooled: PooledCells, titles: list[str], setups: list[str], gain: np.ndarray, sign: float) -> None:
    """As measured, and drawn towards the other titles'."""
    raw = sign * pooled.raw[np.ix_([pooled.titles.index(t) for t in titles], [pooled.setups.index(s) for s in setups])] + 0.0
    pairs = [(c, kind) for c in range(len(setups)) if setups[c] != pooled.baseline for kind in ("measured", "drawn")]
    head = ("title", *(f"{setups[c]}, {kind}" for c, kind in pairs))
    values = {"measured": raw, "drawn": gain}
    rows = tuple((title, *(figure(float(values[kind][t, c])) for c, kind in pairs)) for t, title in enumerate(titles))
    how = "measured: difference from the baseline on the scale, better positive; drawn: partially pooled, heavy tails"
    made.begin(DRAWN, Table(head, rows, (False, *(True for _ in pairs)), how))
    for t, title in enumerate(titles):
        for c, setup in enumerate(setups):
            if not math.isnan(raw[t, c]):
                made.add(
                    f"measured gain of {setup} at {title}", "difference from the baseline, better positive", float(raw[t, c])
                )
            made.add(
                f"gain of {setup} at {title}", "drawn towards the other titles' (heavy-tailed partial pooling)", float(gain[t, c])
            )
