"""Publishing: the page, the tables, the charts; again without a difference, and the book is as it was."""

from __future__ import annotations

import csv
import hashlib
import re
import struct
from pathlib import Path

from evenhand.steps.publish import publish
from evenhand.steps.published import LIST, keep_list


def png_size(path: Path) -> tuple[int, int]:
    """Width and height from the IHDR chunk (PNG specification, 11.2.2)."""
    head = path.read_bytes()[:24]
    assert head[:8] == b"\x89PNG\r\n\x1a\n" and head[12:16] == b"IHDR"
    width, height = struct.unpack(">II", head[16:24])
    return width, height


def test_page_and_tables_and_the_book_left_alone(judged: Path) -> None:
    kept = {p: p.read_bytes() for p in judged.rglob("*") if p.is_file() and "derived" not in p.parts}
    made = publish(judged, charts=False)
    assert (made.page, made.charts, made.set_aside) == (judged / "out" / "report.html", (), 0)
    page = made.page.read_text(encoding="utf-8")
    assert page.startswith("<!doctype html>") or page.startswith("<!DOCTYPE html>")
    assert "Night Ferry" in page and "What does the lean setup bring?" in page
    assert not re.search(r"<(script|link|img)[^>]+(src|href)=[\"\']?(https?:)?//", page)
    for table in made.tables:
        rows = list(csv.reader(table.read_text(encoding="utf-8-sig").splitlines()))
        assert len(rows) > 1 and len({len(row) for row in rows}) == 1
    after = {p: p.read_bytes() for p in judged.rglob("*") if p.is_file() and not {"derived", "out"} & set(p.parts)}
    assert {p.name for p in after} == {p.name for p in kept}
    assert all(after[p] == data for p, data in kept.items() if p.suffix == ".zst" or p.name == "study.toml")


def test_charts_are_of_the_size_of_a_video_and_come_out_the_same_again(judged: Path, tmp_path: Path) -> None:
    told: list[tuple[int, int]] = []
    made = publish(judged, tmp_path / "öffentlich out", progress=lambda done, total, what="": told.append((done, total)))
    svgs, pngs = ([p for p in made.charts if p.suffix == suffix] for suffix in (".svg", ".png"))
    assert len(svgs) == len(pngs) == len({p.name for p in pngs}) == told[-1][1] == told[-1][0] > 4
    assert {png_size(path) for path in pngs} == {(1920, 1080)}
    for path in svgs:
        head = path.read_text(encoding="utf-8")[:600]
        assert re.search(r'width="1920(px)?"', head) and re.search(r'height="1080(px)?"', head), path.name
    assert f"Charts: {len(made.charts)} files" in " ".join(made.lines())
    before = {p: p.read_bytes() for p in (*made.tables, *made.charts)}
    again = publish(judged, tmp_path / "öffentlich out")
    assert (again.page, again.tables, again.charts) == (made.page, made.tables, made.charts)
    assert {p: p.read_bytes() for p in (*again.tables, *again.charts)} == before
    there = {p for p in (tmp_path / "öffentlich out").rglob("*") if p.is_file()}
    assert there == {made.page, *before, *made.sealed, tmp_path / "öffentlich out" / LIST}


def test_only_what_an_earlier_publishing_wrote_is_deleted(tmp_path: Path) -> None:
    names = ("report.html", "charts/old.svg", "charts/edited.svg", "charts/new.svg")
    for name in names:
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text(name, encoding="utf-8")
    (tmp_path / "charts" / "mine.svg").write_text("a person's own", encoding="utf-8")
    outside = tmp_path.parent / "outside.svg"
    outside.write_text("x", encoding="utf-8")
    assert keep_list(tmp_path, [tmp_path / name for name in names[:3]]) == ()
    listed = (tmp_path / LIST).read_text(encoding="utf-8")
    assert hashlib.sha256(b"report.html").hexdigest() + "  report.html\n" in listed
    forged = f"{hashlib.sha256(b'x').hexdigest()}  ../outside.svg\nnot a line\n"
    (tmp_path / LIST).write_text(listed + forged, encoding="utf-8")
    assert keep_list(tmp_path, [tmp_path / "report.html"], keep="charts") == ()  # charts were not drawn this time
    (tmp_path / "charts" / "edited.svg").write_text("edited by hand", encoding="utf-8")
    written = [tmp_path / "report.html", tmp_path / "charts" / "new.svg"]
    assert keep_list(tmp_path, written) == (tmp_path / "charts" / "old.svg",)
    assert sorted(p.name for p in (tmp_path / "charts").iterdir()) == ["edited.svg", "mine.svg", "new.svg"]
    assert outside.exists()
    assert len((tmp_path / LIST).read_text(encoding="utf-8").splitlines()) == 2


def test_a_renamed_setup_leaves_no_chart_behind(judged: Path) -> None:
    made = publish(judged)
    first = made.charts[0]
    text = (judged / "out" / LIST).read_text(encoding="utf-8")
    stale = first.with_name("of-an-earlier-name.svg")
    stale.write_bytes(first.read_bytes())
    (judged / "out" / LIST).write_text(text + f"{digest(stale)}  charts/{stale.name}\n", encoding="utf-8")
    again = publish(judged)
    assert again.gone == (stale,) and not stale.exists()
    assert "Deleted 1 chart file of an earlier publishing" in " ".join(again.lines())
    sealed = again.sealed[0].read_bytes()
    assert again.sealed[0].name == f"protocol-{hashlib.sha256(sealed).hexdigest()[:8]}.toml"


def digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()
