"""A study to be planned, and what its parts take."""

from __future__ import annotations

from evenhand.study.model import Costs, Protocol, Scene, Setup, Study, Title

COSTS = Costs(apply=6, settle=4, load=2, warm_up=1, reset=0.5)


def study(titles=3, setups=4, visits=3, runs=2, seconds=60.0, costs=COSTS):
    return Study(
        question="Which?",
        baseline="s1",
        setups=tuple(Setup(f"s{i}", f"S {i}") for i in range(1, setups + 1)),
        titles=tuple(Title(f"t{i}", f"T {i}", (Scene("harbour", "Harbour", seconds),)) for i in range(1, titles + 1)),
        protocol=Protocol(visits=visits, runs=runs),
        costs=costs,
    )
