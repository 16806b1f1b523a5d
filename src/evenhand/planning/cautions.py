"""The usual cautions: said once for each kind of change, and always printed on the run sheet.

Common practice of the trade, no single source; the makers' documents go before them.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from evenhand.planning.model import Caution
from evenhand.study.model import Apply

#: Before anything is changed at all.
USUAL: Final = Caution(
    "usual",
    "Before you change anything",
    (
        "Changing firmware, voltage, clocks or power limits can make a PC unstable, lose unsaved work, shorten the life of parts "
        "or void a warranty.",
        "Note the settings as they are first, and know how to get back to them. Change one thing at a time.",
        "Work inside a PC only when it is off and unplugged, and ground yourself.",
        "Follow the makers' documents, also where something else is said here. Save your work.",
    ),
)
_BY_CHANGE: Final = {
    Apply.FIRMWARE: Caution(
        "firmware",
        "In the firmware",
        (
            "Photograph each page before you change it. A profile that is loaded can change more than one setting.",
            "Stay within what the makers of board, processor and memory allow; leave voltages as they are if you can.",
            "After a change the PC can stay dark for some minutes or start several times. Do not switch it off meanwhile; if it "
            "never comes back, clear the settings as the board's manual says.",
            "Never cut the power while firmware is being written.",
        ),
    ),
    Apply.PARTS: Caution(
        "parts",
        "Inside the PC",
        (
            "Work inside a PC only when it is off and unplugged: switch off, pull the cord, press the power button once, wait.",
            "Ground yourself: a wrist strap, or bare metal of the case again and again. Never open a power supply.",
            "Let coolers and cards cool down. Touch no contacts; press no part into place by force.",
            "A cooler that was off needs new thermal paste and its fan's plug back. Check before you close the case.",
            "Other memory or another processor can need another firmware first; see the board's list of what it supports.",
        ),
    ),
    Apply.MANUAL: Caution(
        "manual",
        "In the system or a driver",
        (
            "Write down the setting as it was. Close the tool that changed it, and look again whether the setting has stayed.",
            "Tools that set clocks, voltages or limits while the system runs can freeze it: save your work first.",
            "Use one such tool, not two: they overwrite each other. Some settings only last until the next start.",
        ),
    ),
    Apply.COMMAND: Caution(
        "command",
        "By a command",
        (
            "Read a command before you run it, and know the one that takes it back.",
            "Run it with no more rights than it needs, and read what it answers: one that failed has changed nothing, or half.",
        ),
    ),
}
BY_CHANGE: Final[Mapping[Apply, Caution]] = MappingProxyType(_BY_CHANGE)


def cautions(ways: frozenset[Apply]) -> tuple[Caution, ...]:
    """The usual one, then one for each kind of change, in the order of `Apply`."""
    return (USUAL, *(BY_CHANGE[way] for way in Apply if way in ways))
