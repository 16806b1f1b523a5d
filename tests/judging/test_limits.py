"""What may limit a title whatever the setup: seen, not reached, or not looked for."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from invented_runs import RATE, design

from evenhand.judging.groups import response_groups
from evenhand.judging.judge import judge
from evenhand.judging.limits import BUSY, limits_of
from evenhand.judging.model import Judgement, Limit, LimitKind, Response, Row
from evenhand.screening.model import Flag, Screening, Standing, Weight
from evenhand.study.model import RunKey, Scene, Setup, Study, Title

NOTHING = Screening((), 0)


def study(*scenes: Scene) -> Study:
    title = Title("rally", "Saltmarsh Rally", scenes or (Scene("rally", "rally"),))
    return Study("?", "A", (Setup("A", "A"), Setup("B", "B")), (title,))


def judged(effect: float = 0.0, noise: float = 0.003, scenes: tuple[str, ...] = ("",)) -> Judgement:
    rng = np.random.default_rng(8)
    rows = [
        Row("rally", s, v, 1, "rate", float(118 * np.exp(effect * (s == "B") + rng.normal(0, noise))), scene)
        for s in "AB"
        for v in (1, 2, 3, 4)
        for scene in scenes
    ]
    return judge(rows, design("AB", RATE))


def capped(*keys: tuple[str, str], weight: Weight = Weight.NOTE) -> Screening:
    """Runs of (scene, setup), held at 120 a second."""
    runs = tuple(RunKey("rally", scene, setup, 1, 1) for scene, setup in keys)
    flag = Flag(runs[0], "capped", weight, ("capped",), "Held.", "", Standing.KEPT, {"cap": 120.0, "share": 0.9}, None, runs)
    return Screening((flag,), len(runs))


def limits(of: Study, screening: Screening = NOTHING, **load: float) -> tuple[Limit, ...]:
    found = limits_of(of, judged().measures["rate"], screening, {("rally", s): value for s, value in load.items()})
    return found.get("rally", ())


def test_a_cap_counts_where_it_is_reached_under_every_setup_and_scene() -> None:
    both = (("rally", "A"), ("rally", "B"))
    assert limits(study(), capped(*both)) == (Limit(LimitKind.CAP, 120.0, True),)
    assert limits(study(), capped(both[0])) == ()
    assert limits(study(), capped(*both, weight=Weight.DOUBTFUL)) == (), "a single run under a cap is spoiled, no limit"
    assert limits(study(Scene("rally", "r"), Scene("night", "n")), capped(*both)) == ()


def test_a_stated_cap_counts_where_every_average_is_near_it() -> None:
    assert limits(study(Scene("rally", "r", cap=120.0))) == (Limit(LimitKind.CAP, 120.0, True),)
    assert limits(study(Scene("rally", "r", cap=144.0))) == ()


def test_a_busy_graphics_processor_limits_only_under_every_setup() -> None:
    """95 per cent: common practice in the trade, no source."""
    assert BUSY == 95.0
    assert limits(study(), A=97.0, B=99.0) == (Limit(LimitKind.GRAPHICS, 97.0, True),)
    assert limits(study(), A=97.0, B=71.0) == (Limit(LimitKind.GRAPHICS, 97.0, False),)
    assert limits(study(), A=99.0) == (Limit(LimitKind.GRAPHICS, 99.0, False),), "nothing is known of B"


@pytest.mark.parametrize(
    ("effect", "reached", "kind"),
    [
        (0.0, True, Response.LIMITED),
        (0.0, False, Response.LEVEL),
        (0.0, None, Response.LEVEL),
        (-0.2, True, Response.SETUPS),
    ],
)
def test_a_group_needs_level_setups_and_evidence(effect: float, reached: bool | None, kind: Response) -> None:
    known = {} if reached is None else {"rally": (Limit(LimitKind.GRAPHICS, 96.0, reached),)}
    [group] = response_groups(judged(effect), "rate", None, known)
    assert group.kind is kind
    assert group.members[0].limits == (known.get("rally", ()) if kind is not Response.SETUPS else ())


def test_an_unsettled_average_is_not_called_limited() -> None:
    [group] = response_groups(judged(noise=0.08), "rate", None, {"rally": (Limit(LimitKind.CAP, 120.0, True),)})
    assert group.kind is Response.OPEN


def test_a_low_that_is_not_level_is_named_beside_the_limit() -> None:
    low = replace(RATE, key="low", label="Low", margin=0.05)
    rng = np.random.default_rng(2)
    rows = [
        Row("rally", s, v, 1, key, float(100 * np.exp(rng.normal(0, noise) - step * (s == "B"))))
        for key, noise, step in (("rate", 0.003, 0.0), ("low", 0.02, 0.04))
        for s in "AB"
        for v in (1, 2, 3, 4)
    ]
    judgement = judge(rows, design("AB", RATE, low))
    [group] = response_groups(judgement, "rate", "low", {"rally": (Limit(LimitKind.CAP, 120.0, True),)})
    assert (group.kind, group.low_open) == (Response.LIMITED, ("rally",))
