"""What titles were: the build typed in, digests of their settings files; changes between and in visits."""

import hashlib
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from evenhand.bench.model import Effect
from evenhand.book.book import Book
from evenhand.steps.take import take
from evenhand.steps.title_facts import FRESH, TitleFacts, fingerprint, note_titles
from evenhand.steps.visits import account_of
from evenhand.study.model import RunKey, Title
from evenhand.study.write import study_text

FILES = ("conf/video.ini", "conf/sound.ini")


@pytest.fixture
def study(study):
    own = replace(study.title("night-ferry"), build="1.4.2", settings_files=FILES)
    return replace(study, titles=(own, study.title("ironvale")))


@pytest.fixture
def book(study, tmp_path):
    with Book.create(tmp_path / "study", study_text(study)) as book:
        (book.folder / "conf").mkdir()
        for name in FILES:
            (book.folder / name).write_bytes(b"shadows = 3\r\n")
        yield book


def now():
    return datetime.now(UTC)


def facts(book):
    return [(f.title, f.setup, f.visit, f.fact, f.value, str(f.origin)) for f in book.bench.title_facts()]


def test_fingerprint_is_of_the_bytes(book, study):
    title = study.title("night-ferry")
    sha = hashlib.sha256(b"shadows = 3\r\n").hexdigest()[:16]
    assert fingerprint(title, book.folder) == f"video.ini {sha}, sound.ini {sha}"
    (book.folder / FILES[0]).write_bytes(b"shadows = 3\n")
    assert fingerprint(title, book.folder) != f"video.ini {sha}, sound.ini {sha}", "line ends are bytes like any other"
    assert fingerprint(title, book.folder).endswith(f"sound.ini {sha}"), "and the file that changed is told"
    (book.folder / FILES[1]).unlink()
    assert fingerprint(title, book.folder) is None
    assert fingerprint(study.title("ironvale"), book.folder) is None


def test_fips_180_4_example(tmp_path):
    """The SHA-256 of "abc", as FIPS 180-4 prints it in its examples (NIST, Secure Hash Standard)."""
    (tmp_path / "a.ini").write_bytes(b"abc")
    assert fingerprint(Title("t", "T", (), settings_files=("a.ini",)), tmp_path) == "a.ini ba7816bf8f01cfea"


def test_files_of_one_name_keep_their_paths(tmp_path):
    for folder in ("a", "b"):
        (tmp_path / folder).mkdir()
        (tmp_path / folder / "x.ini").write_bytes(folder.encode())
    found = fingerprint(Title("t", "T", (), settings_files=("a/x.ini", "b/x.ini")), tmp_path)
    assert found is not None and found.startswith("a/x.ini ") and ", b/x.ini " in found


def test_kept_once_a_visit_and_told_when_it_changes(book, study):
    note_titles(book, study, ("plain", 1), now())
    again = TitleFacts(book, study)
    again.note("night-ferry", ("plain", 1), now())
    assert [f[:4] for f in facts(book)] == [("night-ferry", "plain", 1, "build"), ("night-ferry", "plain", 1, "settings")]
    assert [f[5] for f in facts(book)] == ["typed in", "read"]
    assert again.said() == ()
    (book.folder / FILES[0]).write_bytes(b"shadows = 2\r\n")
    again.note("night-ferry", ("plain", 1), now())
    [said] = again.said()
    assert said.startswith("settings of night-ferry changed in visit 1 of plain: video.ini ")
    assert book.events()[-1].text == said


def test_files_as_they_are_now_tell_nothing_of_long_ago(book, study):
    note_titles(book, study, ("plain", 1), now() - FRESH - timedelta(minutes=1))
    note_titles(book, study, ("plain", 2), None)
    assert [f[3] for f in facts(book)] == ["build", "build"]


def test_a_change_between_visits_is_a_blocking_difference_of_that_title_only(book, study, make_log, tmp_path):
    for number, setup in enumerate(("plain", "lean")):
        for title, scene in (("night-ferry", "deck"), ("ironvale", "mine")):
            log = make_log(tmp_path / f"{title}-{setup}.csv", 10 * number + len(title))
            take(book, study, {log: RunKey(title, scene, setup, 1, 1)}, started={log: now().isoformat()})
        (book.folder / FILES[0]).write_bytes(b"shadows = 2\r\n")
    account = account_of(book, study)
    changes = [c for c in account.changes if c.effect is Effect.STALE]
    assert [(c.title, c.difference.key) for c in changes] == [("night-ferry", "settings")]
    assert {title for _, _, title in account.stale} == {"night-ferry"}
