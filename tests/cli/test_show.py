"""Sections on terminals of several widths: nothing broken, nothing lost."""

from __future__ import annotations

import pytest
from rich.cells import cell_len

from evenhand.cli import show
from evenhand.writeup.model import Section, Table

SENTENCES = Table(
    ("run", "what was found", "what to do"),
    (
        (
            "Night Ferry lean v1 r1",
            "The frame time steps up in the middle of the run and stays there. " * 2,
            "record the run again",
        ),
    ),
    (False, False, False),
)
SIX = tuple(f"setup {n}" for n in range(1, 7))
WIDE = Table(
    ("title", *SIX),
    tuple((f"Title number {n}", "190", *[f"+{n}.{k} % ahead, beyond" for k in range(5)]) for n in range(1, 41)),
    (False, *(True,) * 6),
    "against setup 1",
)


def printed(
    sections: list[Section], width: int, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> list[str]:
    monkeypatch.setenv("COLUMNS", str(width))
    show.sections(sections)
    return capsys.readouterr().out.splitlines()


@pytest.mark.parametrize("width", [60, 80, 100, 200])
def test_lines_fit_and_every_cell_is_whole(
    width: int, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    lines = printed([Section("a", "Heading", tables=(WIDE, SENTENCES))], width, capsys, monkeypatch)
    assert max(cell_len(line) for line in lines) <= width
    for row in WIDE.rows:
        for cell in row[1:]:
            assert any(line.strip().startswith(row[0]) and cell in line for line in lines)
    assert " ".join(SENTENCES.rows[0][1].split()) in " ".join(" ".join(lines).split())


def test_a_table_too_wide_is_split_between_columns(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    lines = printed([Section("a", "Heading", tables=(WIDE,))], 80, capsys, monkeypatch)
    heads = [line for line in lines if line.strip().startswith("title ")]
    assert len(heads) == 3 and all(any(name in head for head in heads) for name in SIX)
    assert len(lines) == 3 + 3 * 41 + 1


def test_sentences_are_told_row_by_row(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    lines = printed([Section("a", "Heading", tables=(SENTENCES,))], 80, capsys, monkeypatch)
    assert "  Night Ferry lean v1 r1" in lines
    assert "    what to do: record the run again" in [line.rstrip() for line in lines]
    whole = printed([Section("a", "Heading", tables=(SENTENCES,))], 240, capsys, monkeypatch)
    assert len([line for line in whole if "Night Ferry" in line and "record the run again" in line]) == 1


def test_a_file_gets_a_width_of_its_own(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("COLUMNS", raising=False)
    show.sections([Section("a", "Heading", items=("word " * 60,))])
    assert 80 < max(map(len, capsys.readouterr().out.splitlines())) <= show.FILE_WIDTH


def test_commands_in_lines_are_not_broken(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "40")
    line = 'To take this back: evenhand standing "my long folder" night-ferry/lean/v1/r1 undo'
    show.lines(line)
    assert capsys.readouterr().out == line + "\n"


def test_text_is_no_markup(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    lines = printed([Section("a", "[bold]x[/bold] :smile:", items=("[red]y",))], 80, capsys, monkeypatch)
    assert "[bold]x[/bold] :smile:" in lines and any("[red]y" in line for line in lines)
