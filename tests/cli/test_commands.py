"""Every command as a person calls it: what it prints, where, and with which exit status."""

from __future__ import annotations

import io
import json
import os
import re
import subprocess
import sys
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from typer.main import get_command
from typer.testing import CliRunner, Result

from evenhand import __version__
from evenhand.cli import app as application
from evenhand.cli.app import app

COMMANDS = tuple(get_command(app).commands)  # type: ignore[attr-defined]
PATTERN = "{title}/{setup}-v{visit}-r{run}"


@dataclass(frozen=True)
class Called:
    """What a call left behind, as bytes."""

    returncode: int
    stdout: bytes
    stderr: bytes


def call(*words: object) -> Called:
    """The command as the installed script starts it, in this process."""
    streams = [io.TextIOWrapper(io.BytesIO(), encoding="utf-8", newline="\n") for _ in range(2)]
    status = 0
    with pytest.MonkeyPatch.context() as patch, redirect_stdout(streams[0]), redirect_stderr(streams[1]):
        patch.setattr(sys, "argv", ["evenhand", *map(str, words)])
        patch.setattr(sys, "stdin", io.StringIO())
        try:
            application.main()
        except SystemExit as stopped:
            status = int(stopped.code or 0)
    for stream in streams:
        stream.flush()
    return Called(status, *(stream.buffer.getvalue() for stream in streams))  # type: ignore[attr-defined]


def call_apart(*words: object, **environment: str) -> Called:
    """The command in a process of its own."""
    result = subprocess.run(
        [sys.executable, "-m", "evenhand", *map(str, words)],
        capture_output=True,
        check=False,
        env={**os.environ, **environment},
        stdin=subprocess.DEVNULL,
    )
    return Called(result.returncode, result.stdout, result.stderr)


def out(result: Called) -> str:
    return result.stdout.decode("utf-8").replace("\r\n", "\n")


def err(result: Called) -> str:
    return result.stderr.decode("utf-8").replace("\r\n", "\n")


def write_logs(folder: Path) -> Path:
    """Two titles × two setups × two visits × two runs; lean is a tenth quicker."""
    for t, title in enumerate(("ironvale", "night-ferry")):
        for s, setup in enumerate(("plain", "lean")):
            for visit in (1, 2):
                for run in (1, 2):
                    rng = np.random.default_rng(1000 * t + 100 * s + 10 * visit + run)
                    ms = 7.0 * 0.9**s * (1 + 0.3 * np.sin(np.linspace(0, 6, 700))) * rng.gamma(80, 1 / 80, 700)
                    path = folder / title / f"{setup}-v{visit}-r{run}.csv"
                    path.parent.mkdir(parents=True, exist_ok=True)
                    path.write_text("gap_ms\n" + "".join(f"{x:.4f}\n" for x in ms), encoding="ascii")
    return folder


@pytest.fixture(scope="module")
def logs(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_logs(tmp_path_factory.mktemp("Aufnahmen für später"))


@pytest.fixture(scope="module")
def study(logs: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A study in a folder whose name has blanks and letters beyond ASCII, kept by looking."""
    folder = tmp_path_factory.mktemp("kept") / "Größe 測定"
    result = call("look", logs, "--pattern", PATTERN, "--keep", folder)
    assert (result.returncode, err(result)) == (0, "")
    assert "16 runs taken in" in out(result) and f"{folder} is now a study" in out(result).replace("\n", " ")
    return folder


def run(*words: object) -> Result:
    return CliRunner().invoke(app, [str(word) for word in words])


@pytest.mark.parametrize("command", COMMANDS)
def test_help_says_what_it_does_with_an_example(command: str) -> None:
    result = run(command, "--help")
    assert result.exit_code == 0
    assert f"Example: evenhand {command} " in " ".join(result.output.split())


def test_the_example_of_every_command_is_a_call_it_understands() -> None:
    """Options and number of arguments of each example are parsed, nothing is carried out."""
    for name, command in get_command(app).commands.items():  # type: ignore[attr-defined]
        example = (command.help or "").partition("Example:")[2].strip()
        words = [w.strip('"') for w in re.findall(r'"[^"]*"|\S+', example)]
        assert words[:2] == ["evenhand", name]
        command.make_context(name, words[2:])


def test_every_command_is_here() -> None:
    expected = "look new demo inspect changes plan next rehearse seal take watch result sensors"
    assert set(COMMANDS) == set(f"{expected} screen standing judge explain thin publish rebuild".split())


def test_version_and_help_wait_for_no_library() -> None:
    """--help must not import what takes seconds."""
    code = (
        "import sys; sys.argv = ['evenhand', '--help']\n"
        "from evenhand.cli.app import main\n"
        "try: main()\n"
        "except SystemExit: pass\n"
        "print(sorted({'scipy', 'polars', 'altair', 'vl_convert', 'numpy', 'jinja2', 'evenhand.book.book'} & set(sys.modules)))"
    )
    result = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True)
    assert result.stdout.decode("utf-8").splitlines()[-1] == "[]"
    assert out(call_apart("--version")) == f"evenhand {__version__}\n"


def test_looking_from_folder_to_verdict(logs: Path) -> None:
    result = call("look", logs, "--pattern", PATTERN, "--baseline", "plain")
    assert (result.returncode, err(result)) == (0, "")
    assert "16 logs understood" in out(result)
    assert "Over 2 titles: lean is ahead of plain" in out(result)
    assert call_apart("look", logs, "--pattern", PATTERN, "--baseline", "plain").stdout.replace(b"\r\n", b"\n") == result.stdout


def test_a_study_from_beginning_to_report(study: Path, tmp_path: Path) -> None:
    for words, told in (
        (("screen", study), "of the 16 runs is doubtful"),
        (("judge", study), "Over 2 titles"),
        (("judge", study, "--measure", "hitches", "--measure", "average"), "Hitches at each title"),
        (("rehearse", study, "--studies", "100"), "Recorded once more in the same way"),
        (("explain", study, "ironvale"), "all pairs at once"),
        (
            ("standing", study, "ironvale/lean/v1/r1", "to-redo", "--why", "Güte", "--by", "Ada"),
            "is now to redo, decided by Ada: Güte.",
        ),
        (("standing", study, "ironvale/lean/v1/r1", "undo"), "is now kept"),
        (("publish", study, "--no-charts", "--out", tmp_path / "aus gabe"), "one file that needs nothing else"),
        (("rebuild", study), "same"),
    ):
        result = call(*words)
        assert (result.returncode, err(result)) == (0, ""), words
        assert told in " ".join(out(result).split()) or told in out(result), words
    assert (tmp_path / "aus gabe" / "report.html").stat().st_size > 10_000


def test_json_is_nothing_but_json(study: Path) -> None:
    for words in (
        ("screen", study),
        ("judge", study),
        ("explain", study, "ironvale/lean"),
        ("screen", study, "--blind"),
        ("rehearse", study, "--studies", "100"),
    ):
        result = call(*words, "--json")
        assert (result.returncode, err(result)) == (0, "")
        assert json.loads(result.stdout)["form"] == f"evenhand-{words[0]}-1"


def test_blind_screening_and_a_decision(study: Path) -> None:
    text = out(call("screen", study, "--blind"))
    assert "lean" not in text and "plain" not in text
    result = call("standing", study, "ironvale/hidden 1/v2/r1", "set-aside", "--by", "Ada", "--why", "piles up")
    assert result.returncode == 0
    assert "ironvale hidden 1 v2 r1 is now set aside" in out(result)
    assert "lean" not in out(result) and "plain" not in out(result)
    assert call("standing", study, "ironvale/hidden 1/v2/r1", "undo").returncode == 0


def test_take_tells_refused_logs_and_exits_with_one(study: Path, tmp_path: Path) -> None:
    (tmp_path / "empty.csv").write_bytes(b"")
    result = call("take", study, tmp_path / "empty.csv", "--title", "ironvale", "--setup", "lean", "--visit", "3", "--run", "1")
    assert result.returncode == 1
    assert "log-empty" in out(result)
    assert "Traceback" not in out(result) + err(result)


def test_new_and_once_more(tmp_path: Path) -> None:
    assert call("new", tmp_path / "a").returncode == 0
    result = call("new", tmp_path / "a")
    assert (result.returncode, out(result)) == (2, "")
    assert err(result).startswith(f"{tmp_path / 'a'}: there is a study in this folder already  [study-exists]\n  -> ")


@pytest.mark.parametrize(
    ("words", "status", "slug"),
    [
        (("look", "{tmp}/nowhere"), 2, "no-such-log"),
        (("look", "{logs}", "--pattern", "{{titel}}/*"), 2, "pattern-unclear"),
        (("look", "{logs}", "--role", "length"), 2, "option-unclear"),
        (("judge", "{tmp}"), 1, "no-study"),
        (("judge", "{study}", "--measure", "averge"), 2, "unknown-measure"),
        (("take", "{study}", "{tmp}/nothing.csv"), 2, "no-such-log"),
        (("standing", "{study}", "ironvale/leen/v1/r1", "kept"), 2, "no-such-run"),
        (("standing", "{study}", "ironvale/lean/v1/r1", "gone"), 2, "option-unclear"),
        (("explain", "{study}", "ironvail"), 2, "no-such-run"),
        (("rehearse", "{study}", "--minutes", "reboot=3"), 2, "option-unclear"),
        (("rehearse", "{study}", "--visits", "4", "--measure", "averge"), 2, "unknown-measure"),
        (("publish", "{tmp}"), 1, "no-study"),
        (("rebuild", "{tmp}"), 1, "no-study"),
        (("screen", "{tmp}"), 1, "no-study"),
    ],
)
def test_failures_are_told_as_problems(
    words: tuple[str, ...], status: int, slug: str, study: Path, logs: Path, tmp_path: Path
) -> None:
    result = call(*(word.format(tmp=tmp_path, logs=logs, study=study) for word in words))
    assert result.returncode == status
    assert out(result) == ""
    assert f"[{slug}]" in err(result) and "Traceback" not in err(result)
    assert "\n  -> " in err(result)


def test_unknown_commands_and_options_are_a_wrong_call() -> None:
    for words in (("loook",), ("look",), ("judge", "--no-such-option")):
        result = call(*words)
        assert result.returncode == 2
        assert "Traceback" not in err(result)


def test_output_survives_a_console_of_another_code_page(study: Path, logs: Path) -> None:
    """Windows consoles of western Europe: cp1252, which has no sign for much of what is printed."""
    for words in (("look", logs, "--pattern", PATTERN), ("judge", study), ("explain", study, "ironvale"), ("look", "nowhere 測")):
        result = call_apart(*words, PYTHONIOENCODING="cp1252", PYTHONUTF8="0")
        assert result.returncode in (0, 2)
        assert b"Traceback" not in result.stderr and b"UnicodeEncodeError" not in result.stderr
