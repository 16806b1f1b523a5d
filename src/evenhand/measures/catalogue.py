"""The table of measures: what each is called, how it is compared and what it means. The only place that says so."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from evenhand.measures.model import Better, Measure, Origin, Scale

COMMON: Final = "common practice in the trade, no source"
QUANTILE: Final = "Hyndman, R. J., Fan, Y. (1996), Am. Stat. 50, 361-365, type 7; " + COMMON

#: Low definition -> part of the key, what the label adds, help (with the share in words), source.
LOWS: Final[Mapping[str, tuple[str, str, str, str]]] = MappingProxyType(
    {
        "percentile": (
            "percentile",
            "percentile",
            "The frame rate of the frame time that only the slowest {share} of the frames exceed.",
            QUANTILE,
        ),
        "tail-mean": (
            "tail_mean",
            "mean of the slowest",
            "The frame rate of the mean frame time of the slowest {share} of the frames.",
            COMMON,
        ),
        "time-share": (
            "time_share",
            "by time",
            "The frame rate below which the PC spends {share} of the time.",
            COMMON,
        ),
    }
)

SHARES: Final[Mapping[float, tuple[str, str]]] = MappingProxyType({0.01: ("low1", "1 %"), 0.001: ("low01", "0.1 %")})


def low_key(definition: str, share: float = 0.01) -> str:
    """Key of a low: its definition (value of study.model.LowDefinition) and the share it looks at, 0.01 or 0.001.

    Raises KeyError for others.
    """
    return f"{SHARES[share][0]}_{LOWS[definition][0]}"


def _low(definition: str, share: float) -> Measure:
    _, added, help_text, source = LOWS[definition]
    words = SHARES[share][1]
    return Measure(
        key=low_key(definition, share),
        label=f"{words} low ({added})",
        unit="frames per second",
        better=Better.HIGHER,
        scale=Scale.LOG,
        margin=0.05,
        help=help_text.format(share=words),
        source=source,
        tail_share=share,
        low=definition,
    )


_ROWS: Final = (
    Measure(
        key="average",
        label="Average frame rate",
        unit="frames per second",
        better=Better.HIGHER,
        scale=Scale.LOG,
        margin=0.03,
        help="Frames divided by the time they took (never the mean of single frame rates).",
        source=COMMON,
    ),
    *(_low(definition, share) for share in SHARES for definition in LOWS),
    Measure(
        key="pace_change",
        label="Pace change",
        unit="% of the mean frame time",
        better=Better.LOWER,
        scale=Scale.DIFFERENCE,
        margin=2.0,
        help="How much one frame's time differs from that of the frame before it, on average.",
        source="mean absolute successive difference: von Neumann, J. et al. (1941), Ann. Math. Stat. 12, 153-162",
    ),
    Measure(
        key="hitches",
        label="Hitches",
        unit="per minute",
        better=Better.LOWER,
        scale=Scale.DIFFERENCE,
        margin=2.0,
        help="Single moments that stand out of their neighbourhood: frames far longer than those around them.",
        source="own rule: docs/methods/hitches.md",
    ),
    Measure(
        key="hitch_time",
        label="Time in hitches",
        unit="% of the time",
        better=Better.LOWER,
        scale=Scale.DIFFERENCE,
        margin=0.5,
        help="Share of the time spent in frames that are hitches.",
        source="own rule: docs/methods/hitches.md",
    ),
    Measure(
        key="below_target",
        label="Below the target rate",
        unit="% of the time",
        better=Better.LOWER,
        scale=Scale.DIFFERENCE,
        margin=2.0,
        help="Share of the time spent in frames slower than the study's target rate.",
        source=COMMON,
    ),
    Measure(
        key="energy",
        label="Energy per frame",
        unit="joules",
        better=Better.LOWER,
        scale=Scale.LOG,
        margin=0.05,
        help="Power drawn, added up over the time that the frames took, divided by their number; from a sensor log.",
        source="trapezoidal rule; " + COMMON,
        origin=Origin.SENSORS,
    ),
    Measure(
        key="low_stated",
        label="Low as stated",
        unit="frames per second",
        better=Better.HIGHER,
        scale=Scale.LOG,
        margin=0.05,
        help="A low that the title itself printed, by a definition that nobody stated.",
        source=COMMON,
        origin=Origin.STATED,
    ),
    *(
        Measure(
            key=key,
            label=f"Score ({better.value} is better)",
            unit="points",
            better=better,
            scale=Scale.LOG,
            margin=0.03,
            help="A number that a test printed of itself, on a scale whose zero is nothing at all.",
            source=COMMON,
            origin=Origin.STATED,
        )
        for key, better in (("score", Better.HIGHER), ("score_lower", Better.LOWER))
    ),
)

#: Measure key -> its row, in the order of pages and tables.
CATALOGUE: Final[Mapping[str, Measure]] = MappingProxyType({row.key: row for row in _ROWS})
#: Those that a run's frames give.
FRAMED: Final[Mapping[str, Measure]] = MappingProxyType({row.key: row for row in _ROWS if row.framed})
