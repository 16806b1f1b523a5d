"""How titles respond, in sentences: one a kind, with the figures it rests on."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from tests.writeup import sample

from evenhand.judging.model import (
    AgainstBest,
    Comparison,
    Interval,
    Limit,
    LimitKind,
    Member,
    Response,
    ResponseGroup,
    TitleCounts,
    Verdict,
)
from evenhand.writeup import sentences
from evenhand.writeup.compose import compose
from evenhand.writeup.groups_words import group_sentence, groups_heading
from evenhand.writeup.material import Material


@pytest.fixture(scope="module")
def material() -> Material:
    return sample.material(sample.study(), pictures=False)


def told(material: Material, group: ResponseGroup) -> str:
    return group_sentence(material, group).replace("\u00a0", " ")


def comparison(material: Material, title: str, setup: str) -> Comparison:
    found = (c for c in material.average.comparisons if (c.title, c.setup, c.against) == (title, setup, "fast-65"))
    return next(found)


def test_every_title_stands_in_one_sentence(material: Material) -> None:
    said = [told(material, g) for g in material.groups]
    titles = [t for g in material.groups for t in g.titles]
    assert sorted(titles) == sorted(material.judgement.titles)
    for group, sentence in zip(material.groups, said, strict=True):
        assert all(material.title_label(t) in sentence for t in group.titles)
        assert sentence.endswith(".") and not sentence[0].islower() and "%" in sentence


def test_level_names_the_widest_interval_and_a_low_that_is_open(material: Material) -> None:
    level = next(g for g in material.groups if g.kind is Response.LEVEL)
    sentence = told(material, replace(level, low_open=("ironvale",)))
    assert " are level with 6400 · 65 W under every setup; the widest interval, " in sentence
    assert ". The low is not settled in Ironvale. " in sentence
    reach = max(max(abs(m.shown.inner.low), abs(m.shown.inner.high)) for m in level.members if isinstance(m.shown, Comparison))
    assert reach < material.average.margin, "a title that may be beyond the margin is not level"


def test_level_says_what_was_looked_at_and_no_more(material: Material) -> None:
    level = next(g for g in material.groups if g.kind is Response.LEVEL and len(g.members) > 1)
    assert told(material, level).endswith(
        "No cap under every setup was seen; how busy the graphics processor was is not on record."
    )
    first, *rest = level.members
    busy = (Limit(LimitKind.GRAPHICS, 71.4, False),)
    some = replace(level, members=(replace(first, limits=busy), *rest))
    assert told(material, some).endswith("the graphics processor was busy 72 % of the time at most, where that is on record.")
    every = replace(level, members=tuple(replace(m, limits=busy) for m in level.members))
    assert told(material, every).endswith("the graphics processor was busy 72 % of the time at most.")


def test_a_limit_says_what_points_to_it(material: Material) -> None:
    level = next(g for g in material.groups if g.kind is Response.LEVEL and len(g.members) > 1)
    cap, busy = Limit(LimitKind.CAP, 120.0, True), Limit(LimitKind.GRAPHICS, 96.6, True)
    one = replace(level, kind=Response.LIMITED, members=(replace(level.members[0], limits=(cap,)),))
    assert told(material, one).endswith(
        "What was not varied may be why: a frame cap at 120 a second is reached under every setup."
    )
    assert " is level with 6400 · 65 W under every setup; the widest interval, " in told(material, one)
    pair = tuple(replace(m, limits=(limit,)) for m, limit in zip(level.members, (cap, busy), strict=False))
    sentence = told(material, replace(one, members=pair, low_open=(pair[0].title,)))
    names = [material.title_label(m.title) for m in pair]
    assert f"under every setup ({names[0]}) and the graphics processor is busy 96 % of the time or more" in sentence
    assert f". The low is not level throughout in {names[0]}. " in sentence and sentence.endswith(
        f"under every setup ({names[1]})."
    )


def test_a_combination_says_that_each_alone_is_level(material: Material) -> None:
    group = next(g for g in material.groups if g.kind is Response.COMBINATION)
    assert "responds only to 5200 MT/s and 45 W together: under 5200 · 45 W behind" in told(material, group)
    assert told(material, group).endswith("while each by itself is level.")


def test_a_preference_gives_least_and_largest(material: Material) -> None:
    group = next(g for g in material.groups if g.kind is Response.PREFERS and len(g.members) > 1)
    sentence = told(material, group)
    assert "prefer 6400 MT/s to 5200 MT/s; 6400 MT/s instead of 5200 MT/s: +" in sentence
    assert f"surely beyond the margin in none of {len(group.members)}." in sentence
    one = told(material, replace(group, members=group.members[:1]))
    assert " prefers 6400 MT/s to 5200 MT/s; 6400 MT/s instead of 5200 MT/s: +" in one and "(+" in one


def test_average_and_low_are_told_side_by_side(material: Material) -> None:
    shown = comparison(material, "ironvale", "slow-45")
    beside = replace(shown, measure="low1_percentile", verdict=Verdict.LEVEL, inner=Interval(-0.01, 0.01, 0.9), leaning=0)
    group = ResponseGroup(Response.DISAGREE, (Member("ironvale", shown, beside),), setups=("slow-45",))
    sentence = told(material, group)
    assert sentence.startswith(
        "Average and low disagree in Ironvale: under 5200 · 45 W the average is behind beyond the margin ("
    )
    assert ", the 1 % low (percentile) level (within 1.0 %)." in sentence


def test_open_says_what_would_settle_it(material: Material) -> None:
    shown = replace(comparison(material, "ironvale", "slow-45"), verdict=Verdict.OPEN, visits_to_settle=2)
    group = ResponseGroup(Response.OPEN, (Member("ironvale", shown),))
    sentence = told(material, group)
    assert sentence.startswith("How Ironvale responds is open: under 5200 · 45 W open")
    assert sentence.endswith("about 2 more visits a setup would be expected to settle it.")


def test_setups_are_named_where_no_factor_explains_them(material: Material) -> None:
    members = tuple(Member(t, comparison(material, t, "slow-45")) for t in ("ironvale", "under-glass"))
    sentence = told(material, ResponseGroup(Response.SETUPS, members, setups=("slow-65", "slow-45")))
    assert sentence.startswith(
        "2 titles (Ironvale and Under Glass) respond to 5200 · 65 W and 5200 · 45 W: most in Under Glass, "
    )


def test_heading_counts_ways_and_what_is_open(material: Material) -> None:
    one, *rest = material.groups
    assert groups_heading(material.groups, 12) == f"12 titles respond in {len(material.groups)} ways"
    left = replace(rest[0], kind=Response.OPEN)
    assert groups_heading((one, left), 12).endswith(
        f"respond alike; {len(left.titles)} more {'is' if len(left.titles) == 1 else 'are'} open"
    )
    assert groups_heading((left,), 2) == "How the titles respond is open"
    assert groups_heading((one,), len(one.titles)) == "All titles respond alike"


def test_the_section_follows_what_holds_over_titles(material: Material) -> None:
    anchors = [s.anchor for s in compose(material).sections]
    assert anchors.index("over-titles") < anchors.index("noise") < anchors.index("responses")
    once = sample.material(sample.study(), one_visit=True, pictures=False)
    assert "responses" not in [s.anchor for s in compose(once).sections]


def test_counts_stand_under_what_holds_over_titles(material: Material) -> None:
    over = next(s for s in compose(material).sections if s.anchor == "over-titles")
    (counts,) = (part for part in over.parts if part.anchor == "counts")
    most = max(material.average.counts, key=lambda c: c.behind)
    assert f"Of 12 titles, {most.behind} are behind beyond the margin under " in counts.heading.replace("\u00a0", " ")
    assert len(counts.tables[0].rows) == 6
    few = compose(sample.material(sample.study(sample.TITLES[:4]), pictures=False)).sections
    assert "counts" not in [part.anchor for section in few for part in section.parts]


def test_counts_and_the_best_in_words() -> None:
    share = Interval(0.0549, 0.6511, 0.95)
    counts = TitleCounts("average", "b", "a", 12, 3, 1, share, 0, 0, Interval(0, 0.265, 0.95), (-0.2, -0.02, -0.01, 0.0, 0.01))
    assert sentences.beyond(counts, ahead=False).replace("\u00a0", " ") == "3 of 12, perhaps 1 more (5 to 65 %)"
    assert sentences.beyond(counts, ahead=True).replace("\u00a0", " ") == "0 of 12 (0 to 26 %)"
    assert sentences.middle(counts, sample.AVERAGE).replace("\u00a0", " ") == "−1.0 %; half of them −2.0 to 0.0 %"
    names = {"a": "A", "b": "B", "c": "C"}

    def best(*may: str) -> str:
        return sentences.best(
            [AgainstBest("average", None, n, 0.0, Interval(-math.inf, 0, 0.95), n in may) for n in names], names
        )

    commas = [AgainstBest("average", None, n, 0.0, share, n != "c") for n in "abc"]
    assert sentences.best(commas, {"a": "6400, 65 W", "b": "6400, 45 W", "c": "C"}) == "6400, 65 W or 6400, 45 W"
    assert (best("a"), best("a", "c"), best("a", "b", "c")) == ("A", "A or C", "any of the 3 setups")
