"""Sensor logs: mapped once, lined up with runs whose place is known, judged; what they show that may have slowed a run."""

import os
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from typer.testing import CliRunner

from evenhand.book.book import Book
from evenhand.cli.app import app
from evenhand.errors import LogError
from evenhand.frames.model import Sensor
from evenhand.measures.energy import throttling
from evenhand.steps.explain import explain
from evenhand.steps.judge import judge_study
from evenhand.steps.measured import measured_runs
from evenhand.steps.publish import publish
from evenhand.steps.rebuild import rebuild
from evenhand.steps.sensors import take_sensors
from evenhand.steps.take import take
from evenhand.study.model import RunKey
from evenhand.study.read import read_study

BEGAN = datetime(2026, 3, 1, 18, 0, tzinfo=UTC)
MAPPED = {"power": "watts", "temperature": "3", "clock": "mhz", "load": "cpu", "graphics-load": "gpu"}
WATTS = {"plain": 150.0, "lean": 120.0}


def begins(visit, run, setup):
    return BEGAN + timedelta(hours=visit, minutes=4 * run + (30 if setup == "lean" else 0))


@pytest.fixture
def recorded(folder, make_log, tmp_path):
    """Ironvale's mine, two setups, three visits of two runs, each with the time at which it began."""
    keys, started = {}, {}
    for setup, mean in (("plain", 7.0), ("lean", 6.3)):
        for visit in (1, 2, 3):
            for run in (1, 2):
                path = tmp_path / "logs" / f"{setup}-{visit}-{run}.csv"
                make_log(path, 100 * (setup == "lean") + 10 * visit + run, mean_ms=mean, frames=2000)
                keys[path] = RunKey("ironvale", "mine", setup, visit, run)
                started[path] = begins(visit, run, setup).isoformat()
    with Book.open(folder) as book:
        take(book, read_study(book.study_file), keys, started=started)
    return folder


def sensor_log(path, first, rows, *, times, power, loads=lambda at: np.full(at.size, 40.0), mark=".", step=0.5):
    """A log of a row every half second: times, watts, degrees, megahertz, two loads."""
    at = np.arange(rows) * step
    watts, load = power(at), loads(at)
    lines = ["time;watts;temp;mhz;cpu;gpu"]
    for i, t in enumerate(at.tolist()):
        row = f"{times(first, t)};{watts[i]:.2f};{60 + 5 * t / at[-1]:.1f};{4800 + i % 3};{load[i]:.1f};{97 + i % 2}"
        lines.append(row.replace(".", mark))
    path.write_text("\n".join(lines) + "\n", encoding="utf-8", newline="\n")
    return path


def dated(first, t):
    return (first + timedelta(seconds=t)).isoformat(timespec="milliseconds")


def of_visits(tmp_path, **more):
    """A log for each half visit: both its runs lie in it."""
    for setup, watts in WATTS.items():
        for visit in (1, 2, 3):
            path = tmp_path / "sensed" / f"{setup}-{visit}.csv"
            path.parent.mkdir(exist_ok=True)
            first = begins(visit, 1, setup) - timedelta(seconds=30)
            sensor_log(path, first, 900, times=dated, power=lambda at, w=watts, v=visit: np.full(at.size, w + v), **more)
    return tmp_path / "sensed"


def runs_of(folder):
    with Book.open(folder) as book:
        return measured_runs(book, read_study(book.study_file))


def only_run(folder, make_log, tmp_path, started=None):
    path = make_log(tmp_path / "one.csv", 5, mean_ms=10.0, frames=3000)
    with Book.open(folder) as book:
        key = RunKey("ironvale", "mine", "plain", 1, 1)
        take(book, read_study(book.study_file), {path: key}, started={path: started} if started else None)
    return "ironvale/mine/plain/v1/r1"


@pytest.mark.parametrize("mark", [".", ","])
def test_lined_up_by_clock_times_and_judged(recorded, tmp_path, mark):
    logs = of_visits(tmp_path, mark=mark)
    [section] = take_sensors(recorded, [logs], "time", MAPPED)
    assert section.heading == "6 sensor logs taken in, of 12 runs"
    found = {r.key: r for r in runs_of(recorded)}
    for key, run in found.items():
        assert run.sensors is not None
        assert run.sensors.how == "clock times" and run.sensors.unsure_s == pytest.approx(0.5)
        assert run.sensors.power == pytest.approx(WATTS[key.setup] + key.visit)
        seconds = run.cut.counted.seconds
        assert run.measures.values["energy"] == pytest.approx((WATTS[key.setup] + key.visit) * seconds / len(run.cut.counted))
        assert run.sensors.graphics_load == pytest.approx(97.5, abs=0.1)
    outcome = judge_study(recorded).opened.outcome
    assert outcome.inputs.power == pytest.approx({("ironvale", "plain"): 152.0, ("ironvale", "lean"): 122.0})
    assert outcome.inputs.power_visits["ironvale", "lean", 3] == pytest.approx(123.0)
    assert outcome.inputs.graphics_load["ironvale", "plain"] == pytest.approx(97.5, abs=0.1)
    [energy] = [c for c in outcome.shown.measures["energy"].comparisons if c.setup == "lean"]
    assert energy.estimate == pytest.approx(np.log(122 * 6.3 / (152 * 7.0)), abs=0.01)


def test_the_next_log_needs_no_options_and_the_same_one_changes_nothing(recorded, tmp_path):
    logs = sorted(of_visits(tmp_path).iterdir())
    with pytest.raises(LogError) as caught:
        take_sensors(recorded, [logs[0]], None, {})
    assert str(caught.value) == (
        f"{logs[0]}: which column is what was not said of logs of this layout  [sensors-unmapped]\n"
        '  -> say it once, for instance --time Time --power "Package power" --temperature 3'
    )
    take_sensors(recorded, [logs[0]], "time", MAPPED)
    take_sensors(recorded, [logs[1]], None, {})
    [again] = take_sensors(recorded, [logs[1]], None, {})
    assert again.tables[0].rows[0][2] == "2 runs, there already"
    assert sum(r.sensors is not None for r in runs_of(recorded)) == 4
    assert rebuild(recorded).identical
    assert rebuild(recorded).strays == 0
    with Book.open(recorded) as book:
        name = next(iter(book.sensors.by_run().values())).sha256
    (recorded / "originals" / name[:2] / f"{name}.zst").unlink()
    assert {p.slug for p in rebuild(recorded).damaged} == {"original-missing"}
    take_sensors(recorded, logs[:2], None, {})
    assert rebuild(recorded).identical


@pytest.mark.parametrize("days", [0, 1])
def test_times_of_day_get_their_date_from_the_file(folder, make_log, tmp_path, days):
    """Also in a log that goes past midnight."""
    local = datetime(2026, 3, 1, 23, 59 if days else 10, 40)
    only_run(folder, make_log, tmp_path, (local + timedelta(seconds=15)).astimezone(UTC).isoformat())
    path = sensor_log(
        tmp_path / "s.csv",
        local,
        140,
        times=lambda first, t: (first + timedelta(seconds=t)).strftime("%H:%M:%S.%f"),
        power=lambda at: np.where((at >= 15) & (at < 45), 200.0, 50.0),
    )
    ended = (local + timedelta(seconds=70)).timestamp()
    os.utime(path, (ended, ended))
    take_sensors(folder, [path], "time", MAPPED)
    [run] = runs_of(folder)
    assert run.sensors.how == "time of day and the file's date"
    assert run.sensors.power == pytest.approx(200.0, abs=3.0)


def test_seconds_since_the_log_began_by_the_time_of_its_file(folder, make_log, tmp_path):
    only_run(folder, make_log, tmp_path, (BEGAN + timedelta(seconds=15)).isoformat())
    path = sensor_log(tmp_path / "s.csv", None, 140, times=lambda _, t: f"{t:.1f}", power=lambda at: np.full(at.size, 90.0))
    ended = (BEGAN + timedelta(seconds=70)).timestamp()
    os.utime(path, (ended, ended))
    take_sensors(folder, [path], "time", MAPPED)
    [run] = runs_of(folder)
    assert (run.sensors.how, run.sensors.unsure_s) == ("the file's time", 2.5)
    assert run.sensors.power == pytest.approx(90.0)


def test_without_any_clock_by_the_rise(folder, make_log, tmp_path):
    name = only_run(folder, make_log, tmp_path)
    path = sensor_log(
        tmp_path / "s.csv",
        None,
        200,
        times=lambda _, t: f"{t:.1f}",
        power=lambda at: np.where((at >= 21.2) & (at < 51.2), 200.0, 50.0),
    )
    with pytest.raises(LogError, match="no run of the study lies in its 100 s"):
        take_sensors(folder, [path], "time", MAPPED)
    take_sensors(folder, [path], "time", MAPPED, run=name)
    [run] = runs_of(folder)
    assert run.sensors.how == "the rise of power"
    assert run.sensors.power == pytest.approx(200.0, abs=2.0)
    flat = sensor_log(tmp_path / "f.csv", None, 200, times=lambda _, t: f"{t:.1f}", power=lambda at: np.full(at.size, 90.0))
    with pytest.raises(LogError) as caught:
        take_sensors(folder, [flat], None, {}, run=name)
    assert caught.value.problems[0].slug == "sensors-nowhere"


def test_wrong_columns_are_told(recorded, tmp_path):
    path = sorted(of_visits(tmp_path).iterdir())[0]
    for time, columns, said in (
        ("when", {"power": "watts"}, "the column 'when' is not there"),
        ("time", {"power": "9"}, "the column '9' is not there"),
        ("cpu", {"power": "watts"}, "the times in column cpu do not go on from row to row"),
        ("time", {"power": "1"}, "holds no numbers"),
    ):
        with pytest.raises(LogError, match=said):
            take_sensors(recorded, [path], time, columns)
    assert all(r.sensors is None for r in runs_of(recorded))


def test_page_explain_and_busy_machine(recorded, tmp_path):
    logs = of_visits(tmp_path)
    take_sensors(recorded, [logs], "time", MAPPED)
    run = next(r for r in runs_of(recorded) if str(r.key) == "ironvale/mine plain v3 r2")
    slow = min((r for r in runs_of(recorded) if r.key.setup == "plain"), key=lambda r: r.measures.values["average"])
    visit = slow.key.visit
    sensor_log(
        logs / f"plain-{visit}.csv",
        begins(visit, 1, "plain") - timedelta(seconds=30),
        900,
        times=dated,
        power=lambda at: np.full(at.size, 150.0 + visit),
        loads=lambda at: np.where(np.abs(at - 30 - 240 * (slow.key.run - 1)) < 60, 75.0, 40.0),
    )
    take_sensors(recorded, [logs / f"plain-{visit}.csv"], None, {})
    told = "\n".join(i for s in judge_study(recorded).sections for i in s.items)
    assert f"{slow.key}: load 75 %, 40 % in the other runs, and slower than they are: something else was running" in told
    publish(recorded, tmp_path / "out", charts=False)
    page = next(p for p in (tmp_path / "out").glob("*.html")).read_text(encoding="utf-8")
    assert "Sensors ran along in 12 runs; 1 stands out" in page
    steps = [(s.what, s.value) for s in explain(recorded, "ironvale/mine/plain/v3/r2", "energy").steps]
    assert steps[0] == ("sensor log", "by clock times, give or take 0.5 s")
    assert steps[1] == ("mean power", "153.000 W")
    assert steps[2][1].endswith(" J")
    assert run.sensors.frames_per_joule == pytest.approx(1 / run.measures.values["energy"])


def sensed(clock, warm, load=None):
    values = {Sensor.CLOCK: np.array(clock, dtype=float), Sensor.TEMPERATURE: np.array(warm, dtype=float)}
    return values | ({} if load is None else {Sensor.LOAD: np.array(load, dtype=float)})


def test_throttling():
    """The clock falls by a tenth once 95 degrees are reached; not where the load falls too, nor where it was low before."""
    warm = np.concatenate((np.linspace(60, 93, 20), np.full(20, 95.0)))
    held = np.concatenate((np.full(20, 5000.0), np.full(20, 4500.0)))
    assert throttling(sensed(held, warm, np.full(40, 90.0))) == pytest.approx(0.1)
    assert throttling(sensed(held, warm)) == pytest.approx(0.1)
    assert throttling(sensed(held, warm, np.concatenate((np.full(20, 90.0), np.full(20, 60.0))))) is None
    assert throttling(sensed(np.full(40, 5000.0), warm)) is None
    assert throttling(sensed(held[::-1], warm)) is None
    assert throttling(sensed(held, np.full(40, 70.0))) is None
    assert throttling({Sensor.CLOCK: held}) is None


def test_tables_that_the_study_names_come_first(recorded, tmp_path):
    take_sensors(recorded, [of_visits(tmp_path)], "time", MAPPED)
    (recorded / "power.csv").write_text("title,setup,watts\nironvale,plain,99\n", encoding="utf-8")
    text = (recorded / "study.toml").read_text(encoding="utf-8")
    (recorded / "study.toml").write_text(text + '\n[inputs]\npower = "power.csv"\n', encoding="utf-8")
    assert judge_study(recorded).opened.outcome.inputs.power == {("ironvale", "plain"): 99.0}


def test_command(recorded, tmp_path):
    logs = of_visits(tmp_path)
    said = ["--time", "time", "--power", "watts", "--graphics-load", "gpu"]
    outcome = CliRunner().invoke(app, ["sensors", str(recorded), str(logs), *said])
    assert outcome.exit_code == 0, outcome.output
    assert "6 sensor logs taken in, of 12 runs" in outcome.output
    assert replace(runs_of(recorded)[0].sensors).load is None
