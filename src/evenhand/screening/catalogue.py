"""The catalogue of checks: what each looks for, from where on it speaks, and why there."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from evenhand.screening.model import Check

_HOAGLIN: Final = "Iglewicz & Hoaglin (1993): a robust distance beyond 3.5"

_ROWS: Final = (
    Check(
        "same-log",
        "same log twice",
        "frames that are another run's, byte for byte or duration for duration",
        0.0,
        "two recordings never agree in every duration",
        "find the log that belongs to this run, or leave the run out",
    ),
    Check(
        "bad-rows",
        "bad rows",
        "rows of the log that are not frames (share of all rows)",
        0.001,
        "own: one row in a thousand can decide a 0.1 % low",
        "record the run again, or look at the rows named when the log was taken in",
    ),
    Check(
        "clock-trouble",
        "clock trouble",
        "intervals of nearly nothing (share of frames), or a clock too coarse for the frames",
        0.001,
        "own: one frame in a thousand can decide a 0.1 % low",
        "look at how the recorder takes its times; record the run again",
    ),
    Check(
        "capped",
        "capped",
        "share of frames within 3 % of one frame time that other runs of the scene undercut",
        0.5,
        "own: a cap that does not hold half of the frames decides no average",
        "take the frame cap, the vertical sync or the power saving off, and record the run again",
    ),
    Check(
        "too-short",
        "too short",
        "share of the scene that the log lacks",
        0.02,
        "own: a fiftieth of a scene is less than its ends differ from run to run",
        "record the run again to the end of the scene",
    ),
    Check(
        "lone-stall",
        "lone stall",
        "one to three frames of 100 ms or more, so many times as long as their neighbours, that other runs of the scene lack",
        15.0,
        "own: far above the hitches of a working game, below which it is one",
        "look for what stopped the game (a switch to another window, a scan, a save); record the run again",
    ),
    Check(
        "other-content",
        "other content",
        "a course that does not stand out at the right place of the scene (standard deviations; less is worse)",
        3.5,
        "own statistic with the limit of Iglewicz & Hoaglin (1993); at most half of what the scene's runs usually reach",
        "check which scene was played; record the run again",
    ),
    Check(
        "wrong-setup",
        "wrong setup",
        "a rate (and roughness) that is not its setup's but that of another, beside the other runs of the visit",
        3.5,
        f"{_HOAGLIN}; another setup must explain at least two thirds of it",
        "check what the PC was set to; without a proof leave the run out and record it again",
    ),
    Check(
        "busy-machine",
        "busy machine",
        "a stretch of the scene that is slower than in the other runs, or frames rougher throughout, as robust distances",
        3.5,
        _HOAGLIN,
        "close what runs in the background; look at temperature and power; record the run again",
    ),
    Check(
        "first-run",
        "first run unlike the rest",
        "a first run of a visit slower or more uneven than the visit's later ones, as a robust distance",
        3.5,
        _HOAGLIN,
        "play the scene once before recording, in every visit (protocol: warm-up runs)",
    ),
    Check(
        "odd-run",
        "odd run out",
        "an average rate apart from the other runs of its cell and visit, as a robust distance",
        3.5,
        _HOAGLIN,
        "record the run again; being odd alone is no reason to drop it",
    ),
    Check(
        "drift",
        "drift",
        "rates that rise or fall with time over the study (p value of the Mann-Kendall test)",
        0.01,
        "common practice",
        "keep the rounds complete, so that every setup has its share of early and late visits",
    ),
)

#: slug -> check, in the order in which they explain a run: where two fit, the earlier is the reason.
CHECKS: Final[Mapping[str, Check]] = {row.slug: row for row in _ROWS}
