"""Processor sets of hybrid processors: product specifications (case 16a); two are published, the rest says so itself."""

from __future__ import annotations

from evenhand.bench.model import Kind, LogicalCpu, Topology
from evenhand.bench.processor_sets import processor_sets


def topology(large, small, threads):
    """Processors of `large` cores with so many threads and of `small` ones with one."""
    cores = [(core, Kind.PERFORMANCE if small else Kind.ALIKE) for core in range(large) for _ in range(threads)]
    cores += [(large + core, Kind.EFFICIENCY) for core in range(small)]
    return Topology(tuple(LogicalCpu(n, True, core, 0, None, kind, None) for n, (core, kind) in enumerate(cores)))


def test_counts_of_published_processors(reference):
    case = reference("16a-processor-sets")
    for given in case["inputs"]["processors"]:
        expected = case["expected"][given["name"]]
        found = processor_sets(topology(given["P"], given["E"], given["threads_per_P"]))
        assert found.everything == expected["all"] == given["logical_published"]
        assert found.large_threads == expected["p_cores"]
        assert found.large == expected["p_first_threads"]
        assert found.small == expected["e_cores"]
        assert found.single_threads == expected["p_first_threads_plus_e"] == expected["physical_cores"]
