"""What every chart's caption ends with: what its frames are measured between, and that its study only looks around."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from evenhand.study.model import IntervalMeaning, Study

_WORDS: Final[Mapping[IntervalMeaning, str]] = {
    IntervalMeaning.PRESENT: " Frames timed from present to present.",
    IntervalMeaning.SHOWN: " Frames timed from shown to shown.",
    IntervalMeaning.UNSTATED: "",
}


def frames_timed(study: Study) -> str:
    """Sentences that begin with a blank; empty where the study does not say."""
    return _WORDS[study.interval] + (" Exploratory study." if study.exploratory else "")
