"""What a run's key and log say about its scene and its time; light to import, so that taking logs in starts at once."""

from __future__ import annotations

from datetime import datetime
from typing import Final

from evenhand.frames.model import Reading
from evenhand.study.model import RunKey, Scene, Score, Study

#: The measure that a title's score is.
SCORES: Final = {Score.HIGHER: "score", Score.LOWER: "score_lower"}


def scene_name(key: RunKey) -> str:
    """The name under which a scene's stretch is kept."""
    return f"{key.title}/{key.scene}"


def scene_of(study: Study, key: RunKey) -> Scene:
    """The scene a run belongs to. Raises KeyError."""
    return {s.name: s for s in study.title(key.title).scenes}[key.scene]


def recorded_at(reading: Reading) -> float | None:
    """Seconds since 1970 of the earliest moment named in the log's preamble; None where it names none.

    Only a full ISO 8601 date with time counts, whatever its label.
    """
    moments: list[float] = []
    for text in reading.labels.values():
        if "T" not in text and ":" not in text:
            continue
        try:
            moments.append(datetime.fromisoformat(text).timestamp())
        except ValueError:
            continue
    return min(moments, default=None)
