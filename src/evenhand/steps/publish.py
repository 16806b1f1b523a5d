"""Write what is published: the page, the tables, the charts."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Final

from evenhand.book.durable import make_folder, write_whole
from evenhand.charts.draw import picture_svg, png
from evenhand.steps.material import material
from evenhand.steps.published import keep_list
from evenhand.steps.study import open_study
from evenhand.steps.take import Progress
from evenhand.wording import counted
from evenhand.writeup.compose import compose
from evenhand.writeup.page import render
from evenhand.writeup.pictures import pictures
from evenhand.writeup.seal_words import file_of
from evenhand.writeup.tables import csv_tables

#: Folder of the charts, beside the page.
CHARTS: Final = "charts"


@dataclass(frozen=True, slots=True)
class Published:
    """What was written. set_aside : runs that do not count, with every one of them listed in the page. sealed : the protocol,
    byte for byte as it was sealed. gone : charts of an earlier publishing that are no longer drawn.
    """

    page: Path
    tables: tuple[Path, ...]
    charts: tuple[Path, ...]
    set_aside: int
    sealed: tuple[Path, ...] = ()
    gone: tuple[Path, ...] = ()

    def lines(self) -> tuple[str, ...]:
        """What to say."""
        said = [f"Wrote {self.page}: one file that needs nothing else.", f"Tables: {', '.join(p.name for p in self.tables)}."]
        if self.charts:
            said.append(f"Charts: {counted(len(self.charts), 'file')} in {self.charts[0].parent}.")
        if self.sealed:
            said.append(f"The sealed protocol: {', '.join(p.name for p in self.sealed)}.")
        if self.gone:
            said.append(f"Deleted {counted(len(self.gone), 'chart file')} of an earlier publishing that are no longer drawn.")
        return (*said, "Your logs and the book are as they were; delete these files to take this back.")


def publish(folder: Path, out: Path | None = None, *, charts: bool = True, progress: Progress | None = None) -> Published:
    """Write the report of a study. out : None = the study's own folder out/. Raises what opening a study raises, ChartError."""
    opened = open_study(folder)
    told = material(
        opened.outcome, opened.stretches, events=opened.events, sealing=opened.sealing, bench=opened.bench, pictures=True
    )
    target = out or folder / "out"
    make_folder(target)
    page = _write(target / "report.html", render(compose(told)))
    tables = tuple(_write(target / name, text) for name, text in csv_tables(told).items())
    sealed = tuple(_write(target / file_of(seal), seal.text) for seal in opened.sealing.seals)
    drawn: list[Path] = []
    if charts:
        make_folder(target / CHARTS)
        found = tuple(pictures(told))
        for done, chart in enumerate(found, start=1):
            drawn.append(_write(target / CHARTS / f"{chart.name}.svg", picture_svg(chart)))
            path = target / CHARTS / f"{chart.name}.png"
            write_whole(path, png(chart), durable=False)
            drawn.append(path)
            if progress is not None:
                progress(done, len(found), chart.name)
    gone = keep_list(target, (page, *tables, *sealed, *drawn), keep="" if charts else CHARTS)
    return Published(page, tables, tuple(drawn), sum(not r.counts for r in opened.outcome.runs), sealed, gone)


def _write(path: Path, text: str) -> Path:
    write_whole(path, text.encode("utf-8"), durable=False)
    return path
