"""From a PC, or a file of a stick, to a setup: the whole path of `evenhand inspect`."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import jsonschema
import pytest
from raw_answers import hybrid
from typer.testing import CliRunner

from evenhand.bench import collect as collector
from evenhand.bench.understand import snapshot
from evenhand.book.book import Book
from evenhand.cli.app import app
from evenhand.errors import BenchError, UsageError
from evenhand.steps import documents
from evenhand.steps.inspect import SCRIPT, as_json, inspect_pc, write_script

TOML = """
[study]
question = "Do second threads and small cores help?"
baseline = "on-yes"
[study.bench]
memory_timings = "30-36-36-76"
graphics = "as it came"

[[factor]]
name = "second"
label = "second threads"
[[factor.level]]
name = "on"
expects = { threads_per_core = 2 }
[[factor.level]]
name = "off"
expects = { threads_per_core = 1 }

[[factor]]
name = "small"
label = "small cores"
[[factor.level]]
name = "yes"
expects = { efficiency_cores = 8 }
[[factor.level]]
name = "no"
expects = { efficiency_cores = 0 }

[[title]]
name = "night-ferry"
"""
SETTINGS = {(True, True): 20, (False, True): 14, (True, False): 12, (False, False): 6}


@pytest.fixture
def folder(tmp_path):
    Book.create(tmp_path / "study", TOML).close()
    return tmp_path / "study"


@pytest.fixture
def stick(tmp_path):
    """Writes answers as the script would; returns the file."""

    def written(answers, name="snapshot-bench.json"):
        (tmp_path / name).write_text(json.dumps(answers), encoding="utf-8")
        return tmp_path / name

    return written


def said(found):
    return "\n".join("\n".join((s.heading, *s.paragraphs, *s.items)) for s in found.sections())


@pytest.mark.parametrize(("seconds", "small"), SETTINGS)
def test_a_hybrid_processor_in_four_settings(folder, stick, seconds, small):
    found = inspect_pc(folder, stick(hybrid(seconds, small)), visit=1, tester="ada")
    name = f"{'on' if seconds else 'off'}-{'yes' if small else 'no'}"
    assert found.snapshot.facts["logical_cpus"].value == SETTINGS[seconds, small]
    assert found.proof.setup == name
    assert (found.visit.setup, found.visit.proven, found.visit.tester) == (name, True, "ada")
    with Book.open(folder) as book:
        assert book.bench.visit(name, 1).proven


def test_what_is_told_of_a_hybrid_processor(folder, stick):
    told = said(inspect_pc(folder, stick(hybrid())))
    assert "20 logical processors: 6 performance cores of 2 threads (up to 5400 MHz) and 8 efficiency cores of 1 thread" in told
    assert "2 modules of 4 cores that share a second-level cache" in told
    assert (
        "levels may expect logical_cpus: 20 as it is, 14 without second threads, 12 without efficiency cores and 6 without either"
        in told
    )
    assert "memory timings: 30-36-36-76 (typed in)" in told
    # 2000 × 30 / 6000: CAS latency in clocks of half the rate; common practice (tests/outside/test_memory_arithmetic.py)
    assert "first word after 10.0 ns" in told
    assert "This PC is in on · yes" in told


def test_processors_that_are_switched_off_are_counted_apart(stick):
    answers = hybrid()
    answers["files"] = answers["files"] | {"sys/devices/system/cpu/cpu19/online": "0", "sys/devices/system/cpu/present": "0-20"}
    told = said(inspect_pc(None, stick(answers)))
    assert "switched off: 2 processors (19–20)" in told
    assert "processors that are switched off now are not in it" in told


def test_a_contradicted_visit_is_refused_or_kept_unproven_with_the_reason(folder, stick):
    file = stick(hybrid(seconds=False))
    with pytest.raises(BenchError) as refused:
        inspect_pc(folder, file, visit=1, setup="on-yes")
    assert str(refused.value) == (
        "visit 1: the snapshot from snapshot-bench.json, taken 1 May 2026, 10:00 UTC, is not of on · yes: threads per core 1 "
        "where 2 is expected, and the PC was in off · yes  [setup-contradicted]\n"
        '  -> name the setup that it was, or set the PC and take another snapshot; or keep it unproven: --although "REASON"'
    )
    found = inspect_pc(folder, file, visit=1, setup="on-yes", although="the script ran before the restart")
    assert (found.visit.proven, found.visit.why) == (False, "the script ran before the restart")
    assert "stays unproven: the script ran before the restart" in said(found)


def test_a_typed_in_fact_keeps_a_visit_unproven(folder, stick):
    text = TOML.replace("efficiency_cores = 8", 'memory_timings = "30-36-36-76"').replace(
        "efficiency_cores = 0", 'memory_timings = "40-40-40-80"'
    )
    (folder / "study.toml").write_text(text, encoding="utf-8")
    with pytest.raises(BenchError, match=r"it may be on-yes  \[visit-unclear\]"):
        inspect_pc(folder, stick(hybrid()), visit=1)
    found = inspect_pc(folder, stick(hybrid()), visit=1, setup="on-yes")
    assert (found.visit.proven, found.visit.why) == (False, "")
    with pytest.raises(BenchError, match="memory timings 30-36-36-76 where 40-40-40-80 is expected"):
        inspect_pc(folder, stick(hybrid()), visit=1, setup="on-no")


def test_what_changed_since_the_last_snapshot(folder, stick):
    inspect_pc(folder, stick(hybrid()))
    later = hybrid(small=False, taken_at="2026-05-01T12:00:00+00:00", bios_version="1.21")
    found = inspect_pc(folder, stick(later))
    assert [d.key for d in found.since if d.grade.value == "blocks"] == ["firmware_version"]
    assert "1 thing that should not changed since the snapshot of 1 May 2026, 10:00 UTC" in said(found)


def test_the_inbox_is_looked_into(folder, stick):
    (folder / "inbox").mkdir()
    (folder / "inbox" / "snapshot-b-1.json").write_text(json.dumps(hybrid()), encoding="utf-8")
    (folder / "inbox" / "snapshot-b-2.json").write_text('{"form": "evenhand-sna', encoding="utf-8")
    other = hybrid(small=False, taken_at="2026-05-01T12:00:00+00:00")
    found = inspect_pc(folder, stick(other, "snapshot-c.json"))
    assert [kept.record.source for kept in found.inbox] == ["snapshot-b-1.json"]
    again = inspect_pc(folder, Path("snapshot-b-1.json"))
    assert (again.kept.new, again.inbox) == (False, ())


def test_hints_where_expectations_can_never_be_met(folder, stick):
    text = TOML.replace("{ efficiency_cores = 8 }", "{ memory_mt = 6000 }").replace("expects = { efficiency_cores = 0 }", "")
    (folder / "study.toml").write_text(text.replace("30-36-36-76", "CL30").replace("graphics =", "board ="), encoding="utf-8")
    told = said(inspect_pc(folder, stick(hybrid())))
    assert "small cores names memory_mt, which is no fact of a snapshot; did you mean memory_mts?" in told
    assert "small cores: nothing can prove no until it says in study.toml what it expects" in told
    assert "study.toml states board as it came; it is read as Maker Board X" in told


def test_the_script_runs_alone(tmp_path):
    """Without the package, without site-packages, without the environment; its answers are what the package reads."""
    (tmp_path / "stick").mkdir()
    assert str(tmp_path / "stick" / SCRIPT) in write_script(tmp_path / "stick")[0]
    assert (tmp_path / "stick" / SCRIPT).read_bytes() == Path(collector.__file__).read_bytes()
    subprocess.run([sys.executable, "-I", "-S", SCRIPT], cwd=tmp_path / "stick", check=True, capture_output=True)
    [file] = (tmp_path / "stick").glob("snapshot-*.json")
    here, there = snapshot(collector.collect()), snapshot(json.loads(file.read_text(encoding="utf-8")))
    assert here.machine == there.machine
    assert here.facts["logical_cpus"] == there.facts["logical_cpus"]


def test_json_follows_its_schema(folder, stick):
    found = json.loads(as_json(inspect_pc(folder, stick(hybrid()), visit=2)))
    jsonschema.validate(found, documents.schema("inspect"))
    assert (found["visit"], found["proven"], found["proof"]["setup"]) == (["on-yes", 2], True, "on-yes")
    jsonschema.validate(json.loads(as_json(inspect_pc())), documents.schema("inspect"))


def test_the_command(folder, stick):
    shown = CliRunner().invoke(app, ["inspect", str(folder), "--from", str(stick(hybrid())), "--visit", "1"])
    assert shown.exit_code == 0
    assert "proves visit 1 of on · yes" in shown.output


@pytest.mark.parametrize("wrong", [{"visit": 1}, {"setup": "on-yes"}])
def test_a_visit_is_that_of_a_study(wrong):
    with pytest.raises(UsageError, match="option-unclear"):
        inspect_pc(**wrong)


def test_names_that_are_not_there(folder, stick, tmp_path):
    with pytest.raises(BenchError, match="no-such-snapshot"):
        inspect_pc(folder, tmp_path / "nothing.json")
    with pytest.raises(BenchError, match="not-a-snapshot"):
        inspect_pc(None, stick(["no", "object"]))
    with pytest.raises(UsageError, match=r"did you mean on-yes\?"):
        inspect_pc(folder, stick(hybrid()), visit=1, setup="on-yse")
    with pytest.raises(UsageError, match="no folder"):
        write_script(tmp_path / "nothing")
