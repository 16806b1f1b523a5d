"""What `explain` says of a title along a factor's numbers and along its scenes."""

from __future__ import annotations

from dataclasses import replace

from evenhand.charts import example
from evenhand.judging.model import Knee
from evenhand.steps.derivation import Derivation
from evenhand.steps.explain_along import curves, places
from evenhand.units import NO_BREAK


def test_levels_steps_slope_and_knee_of_a_title() -> None:
    study, average = example.speeds()
    made = Derivation()
    curves(made, study, average, "night-ferry")
    told = {s.what: s.value for s in made.steps}
    assert {"4800", "6400", "5600 to 6000", "slope", "bend"} <= set(told)
    assert told["5600"].startswith("0.049, on the curve 0.049 (0.0266 to 0.0714)")
    assert told["shown to be enough"] == "5600 and above"
    assert "memory speed: " in told["in words"]
    none = replace(average, trends=tuple(replace(t, knee=None) for t in average.trends))
    made = Derivation()
    curves(made, study, none, "night-ferry")
    assert "shown to be enough" not in {s.what for s in made.steps}
    assert Knee("5200", "5600").told is False


def test_places_of_a_scene() -> None:
    made = Derivation()
    places(made, example.along())
    assert [s.what for s in made.steps] == ["walk", "walk"]
    assert made.steps[0].value.replace(NO_BREAK, " ").startswith("behind between 20 and 34 s (")
    made = Derivation()
    places(made, [replace(a, passages=()) for a in example.along()])
    assert [s.value for s in made.steps] == ["no difference told anywhere in the scene"]
    made = Derivation()
    places(made, ())
    assert made.steps == []
