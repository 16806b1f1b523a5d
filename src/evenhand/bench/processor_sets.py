"""How many logical processors a PC would show with second threads or small cores switched off: what levels may expect."""

from __future__ import annotations

from dataclasses import dataclass

from evenhand.bench.model import Kind, Topology


@dataclass(frozen=True, slots=True)
class ProcessorSets:
    """Counts of logical processors. large_threads : of the performance cores (of all cores, where there is one kind).

    The four combinations of second threads and small cores are `everything`, `single_threads`, `large_threads` and `large`.
    """

    large: int
    small: int
    large_threads: int

    @property
    def everything(self) -> int:
        """Second threads on, small cores on."""
        return self.large_threads + self.small

    @property
    def single_threads(self) -> int:
        """Second threads off, small cores on: also the number of cores."""
        return self.large + self.small


def processor_sets(topology: Topology) -> ProcessorSets:
    """Counts from the processors that are switched on now; a small core has one thread."""
    small = topology.cores(Kind.EFFICIENCY)
    threads = len(topology.online) - sum(topology.threads(Kind.EFFICIENCY))
    return ProcessorSets(topology.cores() - small, small, threads)
