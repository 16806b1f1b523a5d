"""When a file is finished, with a clock of our own: renamed, closed, still; slow writers are not cut."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

import pytest

from evenhand.steps.arrivals import CLOSED_S, DOUBTED_S, MORE, OPEN_S, STILL_S, Arrivals, Stamp, There, temporary

PERIOD = 0.25
LOG = Path("inbox/log.csv")


@dataclass
class Folder:
    """A folder that is looked at four times a second. held : what is known of who has files open."""

    held: bool | None = None
    files: dict[Path, There] = field(default_factory=dict)
    now: float = 100.0

    def __post_init__(self) -> None:
        self.arrivals = Arrivals(lambda path: self.held)

    def write(self, path: Path, size: int, identity: int = 0) -> None:
        self.files[path] = There(path, Stamp(size, int(self.now * 1e9)), identity)

    def rename(self, path: Path, to: Path) -> None:
        there = self.files.pop(path)
        self.files[to] = There(to, there.stamp, there.identity)

    def after(self, most: float) -> float | None:
        """Seconds until a file is finished, from now; None where none is within `most`."""
        begun = self.now
        while self.now - begun <= most:
            if self.arrivals.look(self.now, self.files.values()):
                return self.now - begun
            self.now += PERIOD
        return None


def test_a_file_that_is_still_for_a_second_is_finished():
    folder = Folder()
    folder.write(LOG, 100)
    assert folder.after(5) == pytest.approx(STILL_S, abs=PERIOD)


def test_a_closed_file_is_finished_sooner():
    folder = Folder(held=False)
    folder.write(LOG, 100)
    assert folder.after(5) == pytest.approx(CLOSED_S, abs=PERIOD)


def test_a_file_renamed_into_place_is_finished_at_once():
    folder = Folder()
    folder.write(LOG.with_suffix(".csv.part"), 100, identity=7)
    assert folder.after(3) is None
    folder.rename(LOG.with_suffix(".csv.part"), LOG)
    assert folder.after(3) == 0.0


def test_a_name_that_takes_the_inode_of_another_file_is_not_renamed_while_the_temporary_one_is_there():
    folder = Folder()
    folder.write(LOG.with_suffix(".tmp"), 100, identity=7)
    folder.after(0.5)
    folder.write(LOG, 100, identity=7)
    assert folder.after(3) == pytest.approx(STILL_S, abs=PERIOD)


def test_it_is_told_once_and_again_only_when_it_changes():
    folder = Folder()
    folder.write(LOG, 100)
    assert folder.after(3) is not None
    assert folder.after(30) is None
    folder.write(LOG, 180)
    assert folder.after(3) is not None


def test_a_writer_that_pauses_with_the_file_open_is_not_cut():
    """A recorder that flushes every three seconds and closes at the end."""
    folder = Folder(held=True)
    for flush in range(1, 6):
        folder.write(LOG, 100 * flush)
        assert folder.after(2.75) is None
    folder.held = False
    assert folder.after(10) == 0.0


def test_a_writer_that_pauses_is_cut_at_most_once_where_nobody_can_say_that_the_file_is_open():
    """Its first file is called finished in its first pause; once that is known, no pause as long is an end."""
    folder = Folder()
    folder.write(LOG, 100)
    assert folder.after(2.75) is not None
    folder.arrivals.learn(3.0)
    for flush in range(2, 6):
        folder.write(LOG, 100 * flush)
        assert folder.after(2.75) is None
    assert folder.after(10) == pytest.approx(MORE * 3.0 - 2.75, abs=2 * PERIOD)


def test_patience_grows_with_the_longest_pause_in_the_midst_of_a_file():
    folder = Folder()
    folder.write(LOG, 100)
    folder.after(0.75)
    folder.now += 0.25  # looked at late: a pause of over a second
    folder.write(LOG, 200)
    pause = folder.now - 100.0
    assert folder.after(10) == pytest.approx(MORE * pause, abs=PERIOD)


def test_pauses_of_a_file_that_was_open_do_not_delay_closed_ones():
    folder = Folder(held=True)
    for flush in range(1, 4):
        folder.write(LOG, 100 * flush)
        assert folder.after(4) is None
    folder.held = False
    assert folder.after(2) == 0.0
    folder.write(LOG.with_name("second.csv"), 100)
    assert folder.after(2) == pytest.approx(CLOSED_S, abs=PERIOD)


def test_a_file_that_stays_open_is_finished_after_a_long_while():
    folder = Folder(held=True)
    folder.write(LOG, 100)
    assert folder.after(30) == pytest.approx(OPEN_S, abs=PERIOD)


def test_a_doubted_file_waits_longer_unless_it_changes():
    folder = Folder(held=False)
    folder.write(LOG, 100)
    assert folder.after(2) is not None
    folder.arrivals.doubt(folder.now, LOG)
    assert folder.after(30) == pytest.approx(DOUBTED_S, abs=PERIOD)
    folder.arrivals.doubt(folder.now, LOG)
    folder.now += 2
    folder.write(LOG, 200)
    assert folder.after(30) == pytest.approx(max(CLOSED_S, MORE * 2), abs=2 * PERIOD)


def test_an_empty_file_and_one_that_vanishes_are_never_told():
    folder = Folder()
    folder.write(LOG, 0)
    assert folder.after(30) is None
    folder.write(LOG, 10)
    folder.after(0.5)
    folder.files.clear()
    assert folder.after(30) is None


def test_quiet_means_that_nothing_was_written_to():
    folder = Folder()
    folder.write(LOG, 10)
    folder.arrivals.look(folder.now, folder.files.values())
    assert not folder.arrivals.quiet(folder.now + 0.5, 5)
    assert folder.arrivals.quiet(folder.now + 5, 5)


@pytest.mark.parametrize(
    "name",
    [
        ".hidden.csv",
        "~$sheet.csv",
        "log.csv~",
        "log.csv.tmp",
        "log.part",
        "log.csv.crdownload",
        "#log.csv#",
        "LOG.CSV.TMP",
        ".log.swp",
    ],
)
def test_temporary_names_are_ignored(name):
    """Names that browsers, editors and copying programs give (common practice, no source)."""
    assert temporary(name)
    folder = Folder()
    folder.write(Path(name), 10)
    assert folder.after(30) is None


def test_a_log_may_have_any_other_name():
    assert not any(map(temporary, ["log.csv", "run 1.txt", "1", "log.tmp.csv", "partial.csv", "a~b.csv"]))
