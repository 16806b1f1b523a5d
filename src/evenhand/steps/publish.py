"""Write what is published: the page, the tables, the charts."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from evenhand.book.durable import make_folder, write_whole
from evenhand.charts.draw import picture_svg, png
from evenhand.steps.material import material
from evenhand.steps.study import open_study
from evenhand.steps.take import Progress
from evenhand.wording import counted
from evenhand.writeup.compose import compose
from evenhand.writeup.page import render
from evenhand.writeup.pictures import pictures
from evenhand.writeup.tables import csv_tables


@dataclass(frozen=True, slots=True)
class Published:
    """What was written. set_aside : runs that do not count, with every one of them listed in the page."""

    page: Path
    tables: tuple[Path, ...]
    charts: tuple[Path, ...]
    set_aside: int

    def lines(self) -> tuple[str, ...]:
        """What to say."""
        said = [f"Wrote {self.page}: one file that needs nothing else.", f"Tables: {', '.join(p.name for p in self.tables)}."]
        if self.charts:
            said.append(f"Charts: {counted(len(self.charts), 'file')} in {self.charts[0].parent}.")
        return (*said, "Your logs and the book are as they were; delete these files to take this back.")


def publish(folder: Path, out: Path | None = None, *, charts: bool = True, progress: Progress | None = None) -> Published:
    """Write the report of a study. out : None = the study's own folder out/. Raises what opening a study raises, ChartError."""
    opened = open_study(folder)
    told = material(opened.outcome, opened.stretches, events=opened.events, sealing=opened.sealing, pictures=True)
    target = out or folder / "out"
    make_folder(target)
    page = _write(target / "report.html", render(compose(told)))
    tables = tuple(_write(target / name, text) for name, text in csv_tables(told).items())
    drawn: list[Path] = []
    if charts:
        make_folder(target / "charts")
        found = tuple(pictures(told))
        for done, chart in enumerate(found, start=1):
            drawn.append(_write(target / "charts" / f"{chart.name}.svg", picture_svg(chart)))
            path = target / "charts" / f"{chart.name}.png"
            write_whole(path, png(chart), durable=False)
            drawn.append(path)
            if progress is not None:
                progress(done, len(found), chart.name)
    return Published(page, tables, tuple(drawn), sum(not r.counts for r in opened.outcome.runs))


def _write(path: Path, text: str) -> Path:
    write_whole(path, text.encode("utf-8"), durable=False)
    return path
