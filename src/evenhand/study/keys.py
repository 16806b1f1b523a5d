"""What a key and a table of study.toml are: the nouns that the table of keys is written in."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from typing import Final


class Kind(Enum):
    """What a value is, in the words of an error."""

    TEXT = "text in quotes"
    NAME = "a name in quotes"
    NUMBER = "a number"
    COUNT = "a whole number"
    FLAG = "true or false"
    CHOICE = "one of its words, in quotes"
    TEXTS = 'a list of texts, like ["one", "two"]'
    CHOICES = 'a list of its words, like ["one", "two"]'
    COUNTS = "a list of whole numbers, each larger than the one before, like [2, 3, 4]"
    RATIO = 'a percentage in quotes, like "3 %"'
    LEVELS = 'a table of factor = "level"'
    FACTS = 'a table of texts, like { graphics = "as it came" }'
    STATED = 'a text in quotes, or a table of words and numbers, like { words = "draws less", watts = -24 }'
    EXPECTS = "a table of facts, like { memory_mts = 6400 }"


@dataclass(frozen=True, slots=True)
class Range:
    """Allowed numbers; `open_low` / `open_high` say that the end itself is not allowed."""

    low: float
    high: float = float("inf")
    open_low: bool = False
    open_high: bool = False

    def __contains__(self, value: float) -> bool:
        low = value > self.low if self.open_low else value >= self.low
        return low and (value < self.high if self.open_high else value <= self.high)

    def __str__(self) -> str:
        low = f"above {self.low:g}" if self.open_low else f"from {self.low:g}"
        if self.high == float("inf"):
            return low if self.open_low else f"{self.low:g} or more"
        return f"{low} and below {self.high:g}" if self.open_high else f"{low} to {self.high:g}"


ABOVE_ZERO: Final = Range(0, open_low=True)


@dataclass(frozen=True, slots=True)
class Key:
    """One key. default : in words, None where the key must be given. example : as it is written, right of the equals sign."""

    table: str
    name: str
    kind: Kind
    help: str
    example: str
    default: str | None = None
    allowed: Range | None = None
    choices: tuple[str, ...] = ()

    @property
    def required(self) -> bool:
        """Whether a table without it is incomplete."""
        return self.default is None


@dataclass(frozen=True, slots=True)
class Table:
    """One kind of table. header : as written in the file. many : may be repeated. required : a study cannot be without it."""

    name: str
    help: str
    many: bool = False
    required: bool = False

    @property
    def header(self) -> str:
        """`[study]` or `[[title]]`."""
        return f"[[{self.name}]]" if self.many else f"[{self.name}]"
