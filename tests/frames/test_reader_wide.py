"""Wide logs, several programs in one log, sampled logs, perfect paces, long stalls, few rows and a million rows."""

from __future__ import annotations

import time

import numpy as np
import pytest
from numpy.typing import NDArray

from evenhand.errors import LogError
from evenhand.frames.model import Reading, Role, Unit
from evenhand.frames.read import UnclearLog, read_log, recipe_of

Floats = NDArray[np.float64]


def paces(count: int, ms: float = 9.0, seed: int = 1) -> Floats:
    rng = np.random.default_rng(seed)
    return np.round(ms * (1 + 0.2 * np.sin(np.arange(count) / 70)) * np.exp(0.1 * rng.standard_normal(count)), 4)


def table(names: list[str], *columns: object, delimiter: str = ",") -> bytes:
    rows = [delimiter.join(map(str, cells)) for cells in zip(*columns, strict=True)]  # type: ignore[call-overload]
    return "\n".join([delimiter.join(names), *rows, ""]).encode()


def printed(values: Floats, places: int = 4) -> list[str]:
    return [f"{v:.{places}f}" for v in values]


def unclear(data: bytes, **said: object) -> UnclearLog:
    with pytest.raises(UnclearLog) as caught:
        read_log(data, name="log", **said)  # type: ignore[arg-type]
    return caught.value


def wide_log(count: int = 1500, gaps: bool = True) -> tuple[bytes, Floats, Floats]:
    """Eighteen columns: time, present to present, shown to shown (of the same length), two busy times, latency, and others."""
    own = paces(count)
    rng = np.random.default_rng(5)
    wobble = rng.normal(0, 1.2, count + 1)
    shown = np.round(own + np.diff(wobble), 4)
    busy, drawn, late = own * 0.7, own * rng.uniform(0.8, 0.99, count), own * 2.4
    start = np.cumsum(own) / 1000
    holes = np.arange(count) % 17 == 3 if gaps else np.zeros(count, dtype=bool)
    names = [
        *("who", "id", "chain", "api", "sync", "flags", "tear", "mode", "begin", "own", "busy", "drawn", "shown", "late"),
        *("watts", "warmth", "clock", "late2"),
    ]
    data = table(
        names,
        ["iron vale.bin"] * count,
        [4711] * count,
        ["0x7ffe3a10"] * count,
        ["alpha"] * count,
        [0] * count,
        [i % 2 for i in range(count)],
        [1] * count,
        ["direct"] * count,
        printed(start, 6),
        printed(own),
        printed(busy),
        printed(drawn),
        printed(shown),
        ["NA" if hole else f"{v:.4f}" for hole, v in zip(holes, late, strict=True)],
        printed(150 + rng.normal(0, 4, count), 1),
        [61 + i // 400 for i in range(count)],
        [1800 + 15 * (i % 3) for i in range(count)],
        ["" if hole else f"{v:.4f}" for hole, v in zip(holes, late * 0.8, strict=True)],
    )
    return data, own, shown


def test_wide_log_is_asked_about_once_and_then_known() -> None:
    data, own, shown = wide_log()
    asked = unclear(data)
    assert [c.column for c in asked.candidates] == ["own", "shown"]
    assert [c.first_ms[0] for c in asked.candidates] == [round(own[0], 3), round(shown[0], 3)]
    assert all(len(c.trace) == 40 for c in asked.candidates)
    for guess, truth in zip(asked.candidates, (own, shown), strict=True):
        reading = read_log(data, name="log", column=guess.column, role=guess.role, unit=guess.unit)
        assert np.array_equal(reading.frames.ns, np.rint(truth * 1e6).astype(np.int64))
        other, *truths = wide_log(900)
        again = read_log(other, name="log", recipe=recipe_of(reading))
        assert again.column == guess.column
        assert np.array_equal(again.frames.ns, np.rint(truths[guess.column == "shown"] * 1e6).astype(np.int64))


def test_wide_log_is_understood_fast() -> None:
    data, *_ = wide_log(4000)
    began = time.perf_counter()
    unclear(data)
    assert time.perf_counter() - began < 2.0


def two_programs(count: int = 1200) -> tuple[bytes, Floats]:
    game, desk = paces(count), paces(count // 2, 18.1, seed=9)
    rows = [(at, "game.bin", v) for at, v in zip(np.cumsum(game), game, strict=True)]
    rows += [(at, "desk.bin", v) for at, v in zip(np.cumsum(desk), desk, strict=True)]
    rows.sort()
    return table(
        ["program", "at", "lasted"],
        [r[1] for r in rows],
        printed(np.array([r[0] for r in rows]) / 1000, 7),
        printed(np.array([r[2] for r in rows])),
    ), game


def test_several_programs_are_offered_as_a_filter() -> None:
    data, game = two_programs()
    asked = unclear(data)
    assert asked.filters == {"program": ("game.bin", "desk.bin")}
    assert '--where "program=game.bin"   rows of one program only' in str(asked)
    reading = read_log(data, name="log", where=("program", "game.bin"))
    assert np.array_equal(reading.frames.ns, np.rint(game * 1e6).astype(np.int64))
    assert reading.where == ("program", "game.bin")
    assert np.array_equal(read_log(data, name="log", recipe=recipe_of(reading)).frames.ns, reading.frames.ns)
    with pytest.raises(LogError, match="no row has tin in column program"):
        read_log(data, name="log", where=("program", "tin"))


def sampled(period_s: float, unit_s: float, jitter: float = 0.0) -> tuple[list[str], Floats]:
    rng = np.random.default_rng(2)
    rates = np.round(140 + 25 * rng.standard_normal(240), 1)
    at = np.arange(240) * period_s + jitter * rng.uniform(-1, 1, 240) + 3.0
    return [f"{v / unit_s:.3f}" for v in at], rates


def is_average(reading: Reading, rates: Floats) -> bool:
    rate = len(reading.frames) / reading.frames.seconds
    return reading.sampled and abs(rate / rates[1:].mean() - 1) < 0.01


@pytest.mark.parametrize("period", [0.1, 0.5, 1.0, 2.0])
@pytest.mark.parametrize("unit", [1.0, 0.001])
@pytest.mark.parametrize("jitter", [0.0, 0.01])
def test_sampled_log_has_an_average_and_no_frames(period: float, unit: float, jitter: float) -> None:
    at, rates = sampled(period, unit, jitter * period)
    data = table(["at", "pace"], at, printed(rates, 1))
    reading = read_log(data, name="log")
    assert is_average(reading, rates)
    assert "sampled, one row a polling period: average only" in reading.account
    assert read_log(data, name="log", recipe=recipe_of(reading)).sampled


def test_sampled_log_with_least_and_greatest() -> None:
    at, rates = sampled(1.0, 1.0)
    data = table(["at", "low", "pace", "high"], at, printed(rates * 0.7, 1), printed(rates, 1), printed(rates * 1.2, 1))
    reading = read_log(data, name="log")
    assert is_average(reading, rates)
    assert reading.column == "pace"


def test_sampled_log_with_sensors_is_asked_about() -> None:
    at, rates = sampled(1.0, 1.0)
    data = table(["at", "watts", "pace"], at, printed(300 + rates / 9, 1), printed(rates, 1))
    asked = unclear(data)
    assert asked.candidates[1].sampled
    assert is_average(read_log(data, name="log", column="pace"), rates)


@pytest.mark.parametrize("names", [["second", "pace"], ["pace"]])
def test_rates_that_may_be_those_of_seconds_are_not_taken_for_frames(names: list[str]) -> None:
    _, rates = sampled(1.0, 1.0)
    columns = [printed(rates, 1)] if len(names) == 1 else [list(range(240)), printed(rates, 1)]
    assert "may be those of frames or, one row a second, those of seconds" in str(unclear(table(names, *columns)))


def test_perfect_pace_is_no_counter() -> None:
    elapsed = read_log(table(["at"], [16 * i for i in range(900)]), name="log")
    assert (elapsed.frames.ns == 16_000_000).all()
    assert (elapsed.role, elapsed.unit) == (Role.ELAPSED, Unit.MS)
    both = read_log(table(["no", "at", "own"], range(900), [16.5 * i for i in range(900)], ["16.500"] * 900), name="log")
    assert (both.frames.ns == 16_500_000).all()
    short = read_log(table(["no", "own"], range(900), ["8.333"] * 900), name="log")
    assert (short.frames.ns == 8_333_000).all()


def test_perfect_pace_of_sixty_is_settled_by_the_length_of_the_scene() -> None:
    data = table(["no", "own"], range(1800), ["16.667"] * 1800)
    assert len(unclear(data).candidates) == 2
    assert (read_log(data, name="log", seconds_hint=30).frames.ns == 16_667_000).all()
    assert read_log(data, name="log", seconds_hint=108).role is Role.RATE


def test_long_loading_changes_no_role() -> None:
    own = paces(600, 7.0)
    own[:3] = 5200.0, 8.0, 7400.0
    data = table(["at", "own"], printed(np.cumsum(own) / 1000, 6), printed(own))
    reading = read_log(data, name="log")
    assert reading.frames.ns[0] == 5_200_000_000
    assert np.array_equal(reading.frames.ns, np.rint(own * 1e6).astype(np.int64))


def test_three_rows_are_a_log() -> None:
    reading = read_log(table(["at", "own"], ["0.0071", "0.0145", "0.0218"], ["7.1", "7.4", "7.3"]), name="log")
    assert reading.frames.ns.tolist() == [7_100_000, 7_400_000, 7_300_000]


def test_ticks_of_100_ns_come_by_hint_or_word() -> None:
    own = paces(1500, 7.0)
    data = table(["own"], np.rint(own * 1e4).astype(int))
    hinted = read_log(data, name="log", seconds_hint=float(own.sum() / 1000))
    said = read_log(data, name="log", column="own", role=Role.DURATION, unit=Unit.HUNDRED_NS)
    for reading in (hinted, said):
        assert reading.unit is Unit.HUNDRED_NS
        assert np.array_equal(reading.frames.ns, np.rint(own * 1e4).astype(np.int64) * 100)
    assert Unit.HUNDRED_NS in {c.unit for c in unclear(data).candidates}


def test_comma_that_parts_or_marks() -> None:
    data = "\n".join(f"{v:.1f}".replace(".", ",") for v in paces(1500, 7.0)).encode()
    asked = unclear(data)
    assert '--column 1 --role duration --unit ms --delimiter none --decimal ","' in str(asked)
    reading = read_log(data, name="log", column="1", role=Role.DURATION, unit=Unit.MS, delimiter="", decimal=",")
    assert reading.frames.ns[0] == round(round(paces(1500, 7.0)[0], 1) * 1e6)


def test_same_elapsed_time_twice_is_one_reading() -> None:
    at = printed(np.cumsum(paces(500)) / 1000, 6)
    assert len(read_log(table(["one", "two"], at, at), name="log").frames) == 499


def test_a_million_rows() -> None:
    own = paces(1_000_000, 7.0)
    data = ("own\n" + "\n".join(map(str, own.tolist())) + "\n").encode()
    reading = read_log(data, name="log")
    assert np.array_equal(reading.frames.ns, np.rint(own * 1e6).astype(np.int64))


def test_one_bad_row_in_a_million_is_told_with_its_line() -> None:
    rows = ["7.25"] * 200_000
    rows[5], rows[150_000] = "7.5", "x"
    with pytest.raises(LogError, match="line 150002, column 1: not a number: 'x'"):
        read_log(("own\n" + "\n".join(rows) + "\n").encode(), name="log")
