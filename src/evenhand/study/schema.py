"""Every key of study.toml, in one table: the reader, its errors and the reference page are made from it."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from evenhand.study.keys import ABOVE_ZERO, Key, Kind, Range, Table
from evenhand.study.model import Apply, IntervalMeaning, LowDefinition, Pace, Rounds, Score, Spending

_TABLES: Final = (
    Table("study", "What is asked, and how certain an answer must be.", required=True),
    Table(
        "margins", "The smallest difference that matters to a player, for each measure; those not named keep their usual margin."
    ),
    Table(
        "weights",
        "What counts in the recommendation, and how much: each measure in margins, so that with equal weights one margin in the "
        "average is worth one in the low. How much a title counts stands at the title.",
    ),
    Table(
        "inputs",
        "Tables of what was measured beside the frames, as files in the study's folder, with the columns title and setup, visit "
        "where it differs, and the value.",
    ),
    Table("factor", "What is deliberately changed. Without listed setups, all combinations of levels are setups.", many=True),
    Table(
        "factor.level",
        "One value of the factor above it, in the order in which they are shown; at least two.",
        many=True,
        required=True,
    ),
    Table(
        "setup",
        "What the PC is set to. Needed where there are no factors, where some combinations are left out, or to give them names.",
        many=True,
    ),
    Table("title", "A game, or any program that draws frames: one vote however many scenes it has.", many=True, required=True),
    Table(
        "title.scene",
        "A repeatable stretch of the title above it. A title without one has a single scene of its own name.",
        many=True,
    ),
    Table("costs", "Minutes of the parts of bench work, from which a plan gets its hours."),
    Table("protocol", "How runs are recorded, and by what rule they are dropped."),
)
TABLES: Final[Mapping[str, Table]] = MappingProxyType({table.name: table for table in _TABLES})

#: Measures that are compared as ratios, so that their margin is a percentage.
RATIO_MEASURES: Final = (
    "average",
    "low1_percentile",
    "low1_tail_mean",
    "low1_time_share",
    "low01_percentile",
    "low01_tail_mean",
    "low01_time_share",
    "energy",
    "low_stated",
    "score",
    "score_lower",
)
#: Measures that are compared as differences -> the unit in which their margin is a plain number.
DIFFERENCE_MEASURES: Final[Mapping[str, str]] = MappingProxyType(
    {
        "pace_change": "percentage points of the mean frame time",
        "hitches": "hitches per minute",
        "hitch_time": "percentage points of the time",
        "below_target": "percentage points of the time",
    }
)
#: What may have a weight in the recommendation; the low is the study's own.
WEIGHED: Final = ("average", "low", *DIFFERENCE_MEASURES, "power")
#: Screening checks by which a study may set runs aside without asking a person.
CHECK_SLUGS: Final = (
    "too-short",
    "other-content",
    "capped",
    "first-run",
    "odd-run",
    "drift",
    "lone-stall",
    "busy-machine",
    "clock-trouble",
    "same-log",
    "wrong-setup",
    "bad-rows",
)


def _words(
    choices: type[Apply] | type[LowDefinition] | type[IntervalMeaning] | type[Pace] | type[Rounds] | type[Score] | type[Spending],
) -> tuple[str, ...]:
    return tuple(choice.value for choice in choices)


_NAME_HELP: Final = "the name in folders and commands"
_LABEL_HELP: Final = "the name on charts and pages"
_GIVES_UP_HELP: Final = "what choosing it gives up beside frame rates; a number has its unit as its name"
_BRINGS_HELP: Final = "what choosing it brings beside frame rates, as a reason to choose it; a number has its unit as its name"
_WEIGHTS_HELP: Final = {
    "average": "the average frame rate",
    "low": "the 1 % low, by the study's definition of it",
    "power": "power drawn, as a ratio to the baseline's, where inputs name it; a margin is 5 % of it",
}

_COSTS: Final = (
    ("apply", "putting the PC into a setup, reboot included", "6", "6"),
    ("settle", "after that, before anything is recorded", "5", "5"),
    ("load", "starting a title and getting to its scene", "2", "2"),
    ("warm_up", "in a scene before its first run", "1", "1"),
    ("scene", "length of a scene that states none", "1", "1"),
    ("reset", "getting back to the start of a scene after a run", "0.5", "0.5"),
    ("shaders", "of each title, once a setup, for what it builds anew after a change of processor, driver or memory", "3", "0"),
    ("disk_gb", "GB of room for titles; those that do not fit are to be moved or fetched again", "800", "enough for all"),
)

_KEYS: Final = (
    Key("study", "question", Kind.TEXT, "the question, as a reader would ask it", '"Is faster memory worth its price?"'),
    Key("study", "baseline", Kind.NAME, "the setup that the others are compared with", '"5200-65W"', "the first setup"),
    Key("study", "confidence", Kind.NUMBER, "of all intervals", "0.95", "0.95", Range(0.5, 1, True, True)),
    Key(
        "study",
        "low",
        Kind.CHOICE,
        "which definition the 1 % low has here; the others are computed too",
        '"percentile"',
        '"percentile"',
        choices=_words(LowDefinition),
    ),
    Key(
        "study",
        "interval",
        Kind.CHOICE,
        "what a frame time is measured between: one present call and the next, or one frame shown and the next",
        '"present"',
        '"unstated"',
        choices=_words(IntervalMeaning),
    ),
    Key("study", "target_rate", Kind.NUMBER, "frames per second that should not be missed", "60", "60", Range(1, 10000)),
    Key(
        "study",
        "exploratory",
        Kind.FLAG,
        "a study that looks around: its protocol is not sealed, and every result says so",
        "true",
        "false",
    ),
    Key(
        "study",
        "bench",
        Kind.FACTS,
        "facts of the PC as you state them, printed in the report; easiest as a table [study.bench] of its own",
        '{ graphics = "as it came" }',
        "none",
    ),
    *(
        Key("margins", name, Kind.RATIO, "as a share of the baseline", '"5 %"' if name != "average" else '"3 %"', "usual margin")
        for name in RATIO_MEASURES
    ),
    *(
        Key("margins", name, Kind.NUMBER, f"in {unit}", "1", "usual margin", ABOVE_ZERO)
        for name, unit in DIFFERENCE_MEASURES.items()
    ),
    *(
        Key("weights", name, Kind.NUMBER, _WEIGHTS_HELP.get(name, "as a measure"), "1", default, Range(0, 1000))
        for name, default in ((name, "1" if name in ("average", "low") else "0") for name in WEIGHED)
    ),
    Key("inputs", "power", Kind.TEXT, "a table with the column watts: mean power drawn in a scene", '"power.csv"', "none"),
    Key(
        "inputs",
        "graphics_load",
        Kind.TEXT,
        "a table with the column graphics_load: how busy the graphics card was, in per cent of the time",
        '"load.csv"',
        "none",
    ),
    Key("factor", "name", Kind.NAME, "the name in commands and in the levels of a setup", '"memory"'),
    Key("factor", "label", Kind.TEXT, _LABEL_HELP, '"memory speed"', "the name"),
    Key(
        "factor",
        "apply",
        Kind.CHOICE,
        "how it is changed: in the firmware, by parts of the PC, by hand in the system, or by a command",
        '"firmware"',
        '"firmware"',
        choices=_words(Apply),
    ),
    Key("factor.level", "name", Kind.NAME, _NAME_HELP, '"6400"'),
    Key("factor.level", "label", Kind.TEXT, _LABEL_HELP, '"DDR5-6400"', "the name"),
    Key("factor.level", "value", Kind.NUMBER, "the level as a number, where it is one", "6400", "no number"),
    Key(
        "factor.level",
        "expects",
        Kind.EXPECTS,
        "what a snapshot of the PC must show under this level",
        "{ memory_mts = 6400 }",
        "nothing",
    ),
    Key("factor.level", "gives_up", Kind.STATED, _GIVES_UP_HELP, '"the small cores for work beside the game"', "nothing stated"),
    Key("factor.level", "brings", Kind.STATED, _BRINGS_HELP, '{ words = "draws less", watts = -24 }', "nothing stated"),
    Key(
        "factor.level",
        "goes_with",
        Kind.TEXTS,
        "facts of the PC that this level brings along, so that their change is no fault",
        '["board", "firmware_version"]',
        "none",
    ),
    Key("setup", "name", Kind.NAME, _NAME_HELP, '"lean"'),
    Key("setup", "label", Kind.TEXT, _LABEL_HELP, '"DDR5-5200 · 45 W"', "the labels of its levels, or the name"),
    Key(
        "setup", "levels", Kind.LEVELS, "its level of every factor", '{ memory = "5200", limit = "45W" }', "none, without factors"
    ),
    Key("setup", "gives_up", Kind.STATED, f"as of a level: {_GIVES_UP_HELP}", '"a third of the memory"', "nothing stated"),
    Key("setup", "brings", Kind.STATED, f"as of a level: {_BRINGS_HELP}", '"a quieter PC"', "nothing stated"),
    Key("setup", "minutes", Kind.NUMBER, "what applying it takes", "15", "as stated in [costs]", Range(0)),
    Key("title", "name", Kind.NAME, _NAME_HELP, '"night-ferry"'),
    Key("title", "label", Kind.TEXT, _LABEL_HELP, '"Night Ferry"', "the name"),
    Key("title", "weight", Kind.NUMBER, "of its vote over titles", "1", "1", ABOVE_ZERO),
    Key("title", "minutes", Kind.NUMBER, "to load it and get to its scene", "4", "as stated in [costs]", Range(0)),
    Key("title", "install_gb", Kind.NUMBER, "room it takes on the disk, GB", "90", "not stated", ABOVE_ZERO),
    Key("title", "build", Kind.TEXT, "build of the game, as it shows it", '"1.4.2"', "not stated"),
    Key(
        "title",
        "settings_files",
        Kind.TEXTS,
        "the game's files that hold its settings; their digest proves that settings were the same",
        '["C:/Users/me/Saved Games/ferry/video.ini"]',
        "none",
    ),
    Key(
        "title",
        "score",
        Kind.CHOICE,
        "whose result is a score, typed in, with zero for nothing at all, so that scores are compared as ratios",
        '"higher is better"',
        "its result is its frames",
        choices=_words(Score),
    ),
    Key("title.scene", "name", Kind.NAME, _NAME_HELP, '"harbour"'),
    Key("title.scene", "label", Kind.TEXT, _LABEL_HELP, '"Harbour at night"', "the name"),
    Key("title.scene", "seconds", Kind.NUMBER, "expected length", "60", "not stated", ABOVE_ZERO),
    Key(
        "title.scene",
        "pace",
        Kind.CHOICE,
        "what fixes the length: the clock (so many seconds), or a fixed set of frames",
        '"clock"',
        '"clock"',
        choices=_words(Pace),
    ),
    Key("title.scene", "settings", Kind.TEXT, "the settings in the game", '"1440p, high"', "not stated"),
    Key(
        "title.scene",
        "cap",
        Kind.NUMBER,
        "a frame cap that the scene is known to have, frames per second",
        "120",
        "none",
        ABOVE_ZERO,
    ),
    Key("title.scene", "sync", Kind.FLAG, "whether frames wait for the display", "false", "not stated"),
    Key("title.scene", "marks", Kind.TEXTS, "what sets its frames apart", '["generated-frames"]', "none"),
    Key("title.scene", "route", Kind.TEXT, "how a person plays it", '"from the gate to the pier, no fights"', "not stated"),
    Key(
        "title.scene",
        "practice_runs",
        Kind.COUNT,
        "runs of it at the start of a visit that never count",
        "1",
        "the protocol's warmup_runs",
        Range(0, 100),
    ),
    *(Key("costs", name, Kind.NUMBER, text, example, default, Range(0)) for name, text, example, default in _COSTS),
    Key("protocol", "visits", Kind.COUNT, "times each setup is applied anew", "3", "2, or the last of looks", Range(1, 1000)),
    Key("protocol", "runs", Kind.COUNT, "recordings of a scene in a visit, warm-up runs included", "2", "2", Range(1, 1000)),
    Key("protocol", "warmup_runs", Kind.COUNT, "runs at the start of a visit that never count", "1", "0", Range(0, 100)),
    Key(
        "protocol",
        "rounds",
        Kind.CHOICE,
        "whether a block of visits that holds each setup once is a term of the analysis; auto: where rounds are complete",
        '"auto"',
        '"auto"',
        choices=_words(Rounds),
    ),
    Key(
        "protocol",
        "set_aside",
        Kind.CHOICES,
        "checks whose flag sets a run aside without a person",
        '["too-short", "capped"]',
        "none: a person decides",
        choices=CHECK_SLUGS,
    ),
    Key(
        "protocol",
        "looks",
        Kind.COUNTS,
        "numbers of visits at which verdicts are looked at, to stop early where they hold; the last is the number of visits",
        "[2, 3, 4]",
        "once, when all visits are in",
        Range(2, 1000),
    ),
    Key(
        "protocol",
        "spending",
        Kind.CHOICE,
        "how the error is shared out over the looks: hardly any early and nearly all at the end, or nearly evenly",
        '"obrien-fleming"',
        '"obrien-fleming"',
        choices=_words(Spending),
    ),
    Key(
        "protocol",
        "stop_at",
        Kind.RATIO,
        "stop once the average over titles is known to plus or minus this much, whatever it says",
        '"1 %"',
        "no such rule",
    ),
    Key("protocol", "notes", Kind.TEXT, "anything a reader should know of how it was recorded", '"Room at 21 °C."', "none"),
)
SCHEMA: Final[Mapping[str, Mapping[str, Key]]] = MappingProxyType(
    {table: MappingProxyType({key.name: key for key in _KEYS if key.table == table}) for table in TABLES}
)


def children(table: str) -> tuple[str, ...]:
    """Names of the tables directly under `table` ("" = the file), without the path to it."""
    prefix = f"{table}." if table else ""
    below = [name.removeprefix(prefix) for name in TABLES if name.startswith(prefix) and name != table]
    return tuple(name for name in below if "." not in name)
