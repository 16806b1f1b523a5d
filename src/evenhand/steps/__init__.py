"""One file per verb; the only bridge between the work and the memory.

The verbs are loaded when they are first used, here and nowhere else: polars, scipy and altair take seconds to import and
`evenhand --help` should not wait for them.
"""

from importlib import import_module
from types import ModuleType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from evenhand.steps import changes as changes
    from evenhand.steps import demo as demo
    from evenhand.steps import explain as explain
    from evenhand.steps import inspect as inspect
    from evenhand.steps import judge as judge
    from evenhand.steps import look as look
    from evenhand.steps import new as new
    from evenhand.steps import next as next
    from evenhand.steps import plan as plan
    from evenhand.steps import publish as publish
    from evenhand.steps import rebuild as rebuild
    from evenhand.steps import rehearse as rehearse
    from evenhand.steps import results as results
    from evenhand.steps import screen as screen
    from evenhand.steps import seal as seal
    from evenhand.steps import sensors as sensors
    from evenhand.steps import standing as standing
    from evenhand.steps import take as take
    from evenhand.steps import thin as thin
    from evenhand.steps import watch as watch

VERBS = (
    "changes",
    "demo",
    "explain",
    "inspect",
    "judge",
    "look",
    "new",
    "next",
    "plan",
    "publish",
    "rebuild",
    "rehearse",
    "results",
    "screen",
    "seal",
    "sensors",
    "standing",
    "take",
    "thin",
    "watch",
)


def __getattr__(name: str) -> ModuleType:
    if name not in VERBS:
        raise AttributeError(f"there is no step named {name!r}")
    return import_module(f"evenhand.steps.{name}")
