"""The nouns of a study: what is asked, what is varied, what is played, and how.

All frozen. Produced by `study.read`; every later layer receives them and never reaches back.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum


class Pace(StrEnum):
    """What a scene is fixed by."""

    CLOCK = "clock"  # lasts so many seconds, whatever the frame rate
    FRAMES = "frames"  # plays a fixed set of frames, whatever the time


class IntervalMeaning(StrEnum):
    """What the interval of a frame is measured between."""

    PRESENT = "present"  # from one present call to the next
    SHOWN = "shown"  # from one frame shown on the display to the next
    UNSTATED = "unstated"


class LowDefinition(StrEnum):
    """The three definitions of a "1 % low" that the trade uses (design 3)."""

    PERCENTILE = "percentile"
    TAIL_MEAN = "tail-mean"
    TIME_SHARE = "time-share"


class Rounds(StrEnum):
    """Whether a block of visits that holds each setup once is a term of the analysis."""

    AUTO = "auto"  # yes where every setup has the same visit numbers, else no
    YES = "yes"
    NO = "no"


class Spending(StrEnum):
    """How the error is shared out over planned looks; named after the boundaries that they are like."""

    OBRIEN_FLEMING = "obrien-fleming"  # hardly any at first, nearly all left for the last look
    POCOCK = "pocock"  # nearly the same at every look


class Score(StrEnum):
    """Which way a score is good."""

    HIGHER = "higher is better"
    LOWER = "lower is better"


@dataclass(frozen=True, slots=True)
class Stated:
    """What a person says that a level brings or gives up. numbers : unit -> change, e.g. {"watts": -24}; printed as stated."""

    words: str
    numbers: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Level:
    """One value of a factor. `value` where the level is a number (5200 MT/s); `expects` is checked against a snapshot;
    `gives_up` and `brings` say what choosing it means beside frame rates; `goes_with` names facts of the PC that this level
    brings along, so that their change is no fault.
    """

    name: str
    label: str
    value: float | None = None
    expects: Mapping[str, str | float | bool] = field(default_factory=dict)
    gives_up: Stated | None = None
    brings: Stated | None = None
    goes_with: tuple[str, ...] = ()


class Apply(StrEnum):
    """How a factor is changed."""

    FIRMWARE = "firmware"  # a person, in the board's firmware; the PC starts anew
    PARTS = "parts"  # a person, inside the PC: memory, processor, cooler
    MANUAL = "manual"  # a person, in the system or a driver, without a reboot
    COMMAND = "command"  # a program of the person's


@dataclass(frozen=True, slots=True)
class Factor:
    """What is deliberately changed; `levels` in the study's order."""

    name: str
    label: str
    levels: tuple[Level, ...]
    apply: Apply = Apply.FIRMWARE


@dataclass(frozen=True, slots=True)
class Setup:
    """One combination of levels. `levels` maps factor name to level name; empty when a study has no factors
    but a list of setups. `gives_up` and `brings` as of a level, for the setup as a whole. `minutes` : what applying it takes,
    None where it takes as long as the others.
    """

    name: str
    label: str
    levels: Mapping[str, str] = field(default_factory=dict)
    gives_up: Stated | None = None
    brings: Stated | None = None
    minutes: float | None = None


@dataclass(frozen=True, slots=True)
class Scene:
    """A repeatable stretch of a title with fixed settings.

    seconds : expected length, None if not stated. pace : what fixes its length.
    cap : a frame cap (frames per second) that the scene is known to have. marks : e.g. "generated-frames". route : how a person
    plays it. practice_runs : runs of it at the start of each visit that never count; None = the protocol's warm-up runs.
    """

    name: str
    label: str
    seconds: float | None = None
    pace: Pace = Pace.CLOCK
    settings: str = ""
    cap: float | None = None
    sync: bool | None = None
    marks: tuple[str, ...] = ()
    route: str = ""
    practice_runs: int | None = None


@dataclass(frozen=True, slots=True)
class Title:
    """A game, or any program that draws frames: one vote however many scenes it has.

    minutes : to load it and get to its scene, None where it takes as long as the others. install_gb : room it takes on the disk.
    build : of the game, as a person typed it in. settings_files : the game's own files that hold its settings.
    score : which way its score is good, where its result is a score; None where it is frames.
    """

    name: str
    label: str
    scenes: tuple[Scene, ...]
    weight: float = 1.0
    minutes: float | None = None
    install_gb: float | None = None
    build: str = ""
    settings_files: tuple[str, ...] = ()
    score: Score | None = None


@dataclass(frozen=True, slots=True)
class Costs:
    """Minutes of the parts of bench work.

    apply : putting the PC into a setup, reboot included. settle : after that, before anything is recorded. load : starting a
    title and getting to its scene. warm_up : in a scene before its first run. scene : its length where the study does not state
    it. reset : getting back to the start of a scene after a run. shaders : of each title, once a setup, for what it builds anew
    after a change of processor, driver or memory. disk_gb : room for titles, None = enough for all.
    """

    apply: float = 6.0
    settle: float = 5.0
    load: float = 2.0
    warm_up: float = 1.0
    scene: float = 1.0
    reset: float = 0.5
    shaders: float = 0.0
    disk_gb: float | None = None


@dataclass(frozen=True, slots=True)
class Protocol:
    """How the study is recorded and by what rule runs are dropped.

    warmup_runs : runs at the start of each visit of a scene that never count.
    set_aside : slugs of screening checks whose flag sets a run aside without a person (the study's stated rule).
    looks : numbers of visits a setup at which the study is judged, the last one being `visits`; empty = once, at the end.
    stop_at : recording may stop once the average over titles is known to this half-width (a fraction); None = no such rule.
    """

    visits: int = 2
    runs: int = 2
    warmup_runs: int = 0
    rounds: Rounds = Rounds.AUTO
    set_aside: tuple[str, ...] = ()
    notes: str = ""
    looks: tuple[int, ...] = ()
    spending: Spending = Spending.OBRIEN_FLEMING
    stop_at: float | None = None


@dataclass(frozen=True, slots=True)
class Study:
    """One question with its factors, titles and protocol.

    margins : measure key -> smallest difference that matters; a fraction (0.03) for measures on the log scale, a plain
    difference for the others. Keys not named fall back to the catalogue of measures. bench : facts of the PC as a person typed
    them in, fact -> value; printed as such, never checked. exploratory : its protocol is not sealed, and every result says so.
    weights : "average", "low", "power" or a measure compared as a difference -> how much it counts in the recommendation; those
    not named keep the usual weight. inputs : "power" or "graphics_load" -> path of a table, relative to the study's folder.
    """

    question: str
    baseline: str
    setups: tuple[Setup, ...]
    titles: tuple[Title, ...]
    factors: tuple[Factor, ...] = ()
    margins: Mapping[str, float] = field(default_factory=dict)
    confidence: float = 0.95
    low: LowDefinition = LowDefinition.PERCENTILE
    interval: IntervalMeaning = IntervalMeaning.UNSTATED
    protocol: Protocol = field(default_factory=Protocol)
    target_rate: float = 60.0
    exploratory: bool = False
    bench: Mapping[str, str] = field(default_factory=dict)
    weights: Mapping[str, float] = field(default_factory=dict)
    inputs: Mapping[str, str] = field(default_factory=dict)
    costs: Costs = field(default_factory=Costs)

    def setup(self, name: str) -> Setup:
        """The setup of that name. Raises KeyError."""
        return {s.name: s for s in self.setups}[name]

    def title(self, name: str) -> Title:
        """The title of that name. Raises KeyError."""
        return {t.name: t for t in self.titles}[name]


@dataclass(frozen=True, slots=True)
class Inputs:
    """What was measured beside the frames, from plain tables that the study names. Keys are names of titles and setups.

    power : watts, mean over the visits stated. power_visits : the same visit by visit, where the table has visits.
    graphics_load : per cent of the time that the graphics card was busy.
    """

    power: Mapping[tuple[str, str], float] = field(default_factory=dict)
    power_visits: Mapping[tuple[str, str, int], float] = field(default_factory=dict)
    graphics_load: Mapping[tuple[str, str], float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Seal:
    """A protocol as it was sealed. text : canonical, whose SHA-256 is `sha256`; at : ISO 8601, UTC; by : a person, or evenhand.

    runs : runs in the book then. at_hand : logs that were being taken in at that moment, so recorded already. why : reason of an
    amendment, empty in the first seal.
    """

    sha256: str
    text: str
    runs: int
    at_hand: int
    by: str
    why: str
    at: str


@dataclass(frozen=True, slots=True)
class Change:
    """One difference between two protocols. part : "title night-ferry"; key : empty where the whole part was added or left out.
    sealed, now : in words, None where it was not (is not) there.
    """

    part: str
    key: str
    sealed: str | None
    now: str | None


@dataclass(frozen=True, slots=True)
class Sealing:
    """How a study's protocol stands to its seals. seals : oldest first. amended : per seal, its differences from the one before.

    changes : of study.toml since the last seal. runs : runs in the book now. exploratory : the study calls itself so.
    """

    exploratory: bool
    runs: int
    seals: tuple[Seal, ...] = ()
    amended: tuple[tuple[Change, ...], ...] = ()
    changes: tuple[Change, ...] = ()


@dataclass(frozen=True, slots=True, order=True)
class RunKey:
    """Which run a log is: its address in the study. `visit` and `run` count from 1."""

    title: str
    scene: str
    setup: str
    visit: int
    run: int

    def __str__(self) -> str:
        scene = self.title if self.scene == self.title else f"{self.title}/{self.scene}"
        return f"{scene} {self.setup} v{self.visit} r{self.run}"
