"""The recommendation never says more than the verdicts: every claim is looked up, over all situations of two setups."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from functools import cache
from itertools import product

import pytest
from tests.writeup import sample

from evenhand.judging.advice.model import Preferences, Reason
from evenhand.judging.advice.recommend import recommend
from evenhand.judging.decide import AHEAD, BEHIND
from evenhand.judging.model import Comparison, Interval, MeasureJudgement, OverTitles, Verdict
from evenhand.measures.model import Better
from evenhand.study.model import Stated
from evenhand.writeup import advice_words
from evenhand.writeup.material import Material

ALL = tuple(Verdict)
MEASURES = ("average", "low1_percentile")
OTHERS = ("fast-45", "slow-65", "slow-45")
BASE = "6400 · 65 W"
#: The verdict's interval in margins, better direction positive.
REACH = {
    Verdict.LEVEL: (-0.4, 0.4),
    Verdict.AHEAD: (0.3, 1.8),
    Verdict.AHEAD_BEYOND: (1.2, 2.4),
    Verdict.BEHIND: (-1.8, -0.3),
    Verdict.BEHIND_BEYOND: (-2.4, -1.2),
    Verdict.OPEN: (-1.6, 1.6),
    Verdict.UNTOLD: (-math.inf, math.inf),
}
CLAUSES = {
    f"ahead of {BASE} beyond the margin": Verdict.AHEAD_BEYOND,
    f"ahead of {BASE}, by how much is open": Verdict.AHEAD,
    f"behind {BASE} beyond the margin": Verdict.BEHIND_BEYOND,
    f"behind {BASE}, by how much is open": Verdict.BEHIND,
    f"level with {BASE}": Verdict.LEVEL,
    f"not settled against {BASE}": Verdict.OPEN,
    f"without a verdict against {BASE}": Verdict.UNTOLD,
}
NAMES = {"average": "average frame rate", "low1_percentile": "1 % low (percentile)"}


@cache
def plain() -> Material:
    return sample.material(sample.study(sample.TITLES[:3]), pictures=False)


def told(found: OverTitles | Comparison, verdict: Verdict) -> OverTitles | Comparison:
    """The same comparison with this verdict, and an interval that bears it."""
    low, high = (end * found.margin for end in REACH[verdict])
    middle = 0.0 if math.isinf(low) else (low + high) / 2
    whole, inner = Interval(low, high, 0.95), Interval(low, high, 0.9)
    if isinstance(found, OverTitles):
        return replace(found, estimate=middle, these=whole, inner=inner, verdict=verdict)
    return replace(found, estimate=middle, simultaneous=whole, inner=inner, verdict=verdict)


def situation(over: dict[tuple[str, str], Verdict], at: dict[tuple[str, str, str], Verdict] | None = None, **preferences):
    """Material whose verdicts over titles are these (measure, setup), level where not named; at titles level but for `at`."""
    material = plain()
    measures: dict[str, MeasureJudgement] = dict(material.judgement.measures)
    for key in MEASURES:
        own = measures[key]
        assert own.measure.better is Better.HIGHER
        measures[key] = replace(
            own,
            over=tuple(told(o, over.get((key, o.setup), Verdict.LEVEL)) for o in own.over),
            comparisons=tuple(told(c, (at or {}).get((key, c.title, c.setup), Verdict.LEVEL)) for c in own.comparisons),
        )
    judgement = replace(material.judgement, measures=measures)
    advice = recommend(judgement, Preferences(dict.fromkeys(MEASURES, 1.0), **preferences))
    return replace(material, judgement=judgement, advice=advice)


def words(material: Material) -> str:
    return " ".join(advice_words.answer(material, material.advice)).replace("\u00a0", " ")


def unborne(text: str, over: dict[tuple[str, str], Verdict], material: Material) -> str:
    """What is left of the text when every claim that a verdict bears, and every phrase that claims nothing, is taken out."""
    advice, text = material.advice, re.sub(r" \([^()]*\d[^()]*\)", "", text)  # numbers are held by test_sentences
    labels = {s.label: s.name for s in material.study.setups}
    subject = "|".join(map(re.escape, (*labels, "it")))
    clauses = "|".join(map(re.escape, CLAUSES))
    pattern = re.compile(rf"({subject}) is ((?:{clauses}) in the .*?)(?=;|[.](?: |$)|, and it is clearly|$)")
    for who, said in pattern.findall(text):
        setup = advice.setup if who == "it" else labels[who]
        parts = re.split(rf"(?:^|(?:, | and )is )(?={clauses})", said)
        for part in filter(None, parts):
            clause = next(c for c in CLAUSES if part.startswith(c))
            for key in MEASURES:
                if f"in the {NAMES[key]}" in part:
                    assert over.get((key, setup), Verdict.LEVEL) is CLAUSES[clause], (who, part)
    text = pattern.sub("", text)
    if "no other setup is, or may be, ahead of it beyond the margin" in text:
        assert advice.reason is Reason.NONE_BETTER and not advice.open and not advice.benefit_open
        for setup in OTHERS:
            verdicts = {over.get((key, setup), Verdict.LEVEL) for key in MEASURES}
            only = verdicts <= BEHIND | {Verdict.LEVEL}
            assert only or (verdicts & BEHIND and "without being behind in another" in text), verdicts
    for who in re.findall(r"(?:^|[.] |; )([^.;]*?) (?:is|are) ahead of [^.;]* beyond the margin too", text):
        for name in re.split(", | and ", who):
            assert Verdict.AHEAD_BEYOND in {over.get((key, labels[name]), Verdict.LEVEL) for key in MEASURES}
    for harmless in (
        r"no other setup is, or may be, ahead of it beyond the margin( in one measure without being behind in another)?",
        r"not settled whether (it|any of them) is (ahead of [^.;]* beyond the margin|behind [^.;]*)",
        r"[^.;]* (is|are) ahead of [^.;]* beyond the margin too, and [^.;]* is not clearly ahead of (it|them)",
        r"it is clearly behind at no title",
    ):
        text = re.sub(harmless, "", text)
    return text


@pytest.mark.parametrize(("average", "low"), list(product(ALL, ALL)))
def test_no_claim_without_a_verdict(average: Verdict, low: Verdict) -> None:
    """One setup in all 49 situations, beside one that is ahead, level, behind or open; with and without a stated benefit."""
    for beside, brings in product((Verdict.AHEAD_BEYOND, Verdict.LEVEL, Verdict.BEHIND, Verdict.OPEN), (False, True)):
        over = {("average", "fast-45"): average, ("low1_percentile", "fast-45"): low, ("average", "slow-65"): beside}
        stated = {"fast-45": (Stated("a quieter PC"),)} if brings else {}
        material = situation(over, brings=stated)
        text = words(material)
        left = unborne(text, over, material)
        assert not re.search(r"\b(ahead|behind|level|better|worse|best|faster|slower)\b", left), (text, left)
        named = re.match(r"(Choose|Stay with|Cannot tell yet whether to leave) ([^:]*?)(:| for)", text)
        assert named and named.group(2) == material.setup_label(material.advice.setup).replace("\u00a0", " ")
        if named.group(1) == "Choose":
            own = [over.get((key, material.advice.setup), Verdict.LEVEL) for key in MEASURES]
            assert not set(own) & BEHIND
            assert Verdict.AHEAD_BEYOND in own or (brings and set(own) <= AHEAD | {Verdict.LEVEL})
        else:
            assert material.advice.setup == "fast-65"


def test_whole_sentences() -> None:
    ahead = {("average", "slow-45"): Verdict.AHEAD_BEYOND}
    there = f"ahead of {BASE} beyond the margin in the average frame rate (3.6 to 7.4 %)"
    assert words(situation(ahead)) == (
        f"Choose 5200 · 45 W: over these 3 titles it is {there} and is level with {BASE} in the 1 % low (percentile) "
        "(within 2.0 %)."
    )
    assert words(situation({})) == (
        f"Stay with {BASE}: over these 3 titles no other setup is, or may be, ahead of it beyond the margin."
    )
    trade = {("average", "slow-45"): Verdict.AHEAD_BEYOND, ("low1_percentile", "slow-45"): Verdict.BEHIND}
    first, second = words(situation(trade)).split(" For the reader to weigh: ")
    assert first.endswith("ahead of it beyond the margin in one measure without being behind in another.")
    assert second == (
        f"5200 · 45 W is {there} and is behind {BASE}, by how much is open in the 1 % low (percentile) (1.5 to 8.4 %)."
    )


def test_exceptions_are_named_the_clearest_first() -> None:
    over = dict.fromkeys([(key, "fast-45") for key in MEASURES], Verdict.AHEAD_BEYOND)
    at = {("average", "ironvale", "fast-45"): Verdict.BEHIND_BEYOND, ("low1_percentile", "moss-ember", "fast-45"): Verdict.BEHIND}
    material = situation(over, at)
    assert [c.title for c in material.advice.exceptions] == ["ironvale", "moss-ember"]
    first, second = advice_words.exceptions(material, material.advice).replace("\u00a0", " ").split("; ")
    assert first == f"Exceptions are 2 titles: in Ironvale 6400 · 45 W (3.5 to 6.8 %) is behind {BASE} beyond the margin"
    assert second == (
        f"in Moss & Ember, in the 1 % low (percentile), 6400 · 45 W (1.5 to 8.4 %) is behind {BASE}, by how much is open."
    )


def test_what_a_benefit_is_and_what_is_given_up() -> None:
    stated = {"slow-65": (Stated("a quieter PC", {"watts": -18.0, "degrees": -4.5}),)}
    text = words(situation({}, brings=stated, gives_up={"slow-65": (Stated("a quarter of the memory"),)}))
    assert text.startswith(
        "Choose 5200 · 65 W for what it brings (a quieter PC: −18 watts and −4.5 degrees): over these 3 titles it is level"
    )
    assert "and it is clearly behind at no title." in text
    assert text.endswith("It gives up a quarter of the memory, as the study states.")


def test_open_says_what_would_settle_it() -> None:
    over = {("average", "slow-45"): Verdict.OPEN}
    text = words(situation(over))
    assert text.startswith(
        f"Cannot tell yet whether to leave {BASE}: of 5200 · 45 W it is not settled whether it is ahead of it beyond the margin"
    )
    assert text.endswith(f"Nothing so far is a reason to leave {BASE}.")
    untold = {(key, s): Verdict.UNTOLD for key in MEASURES for s in OTHERS}
    assert words(situation(untold)).endswith("one visit a setup bears no verdict; it takes a second visit of each.")


@pytest.mark.parametrize(
    ("share", "words"),
    [(0.0, "under 1 %"), (0.001, "under 1 %"), (0.5, "50 %"), (0.752, "75 %"), (0.996, "over 99 %"), (1.0, "over 99 %")],
)
def test_a_chance_is_never_none_or_all(share: float, words: str) -> None:
    assert advice_words.chance(share, 500).replace("\u00a0", " ") == words
