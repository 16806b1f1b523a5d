"""Results without frames: typed in or from a table, judged with the rest, marked as not screened, kept and read again."""

import math
import shutil
import sqlite3
from dataclasses import replace

import pytest
from typer.testing import CliRunner

from evenhand.book.book import Book
from evenhand.book.originals import digest
from evenhand.cli.app import app
from evenhand.errors import InputError, UsageError
from evenhand.measures.catalogue import CATALOGUE
from evenhand.steps.explain import explain
from evenhand.steps.figures import decimal_mark, figure
from evenhand.steps.judge import as_json, judge_study
from evenhand.steps.publish import publish
from evenhand.steps.rebuild import rebuild
from evenhand.steps.results import Said, take_results
from evenhand.steps.screen import screen_study
from evenhand.steps.standing import decide
from evenhand.study.model import Protocol, Scene, Score, Setup, Study, Title
from evenhand.study.write import study_text

STUDY = Study(
    "Is lean worth it?",
    "plain",
    (Setup("plain", "Plain"), Setup("lean", "Lean")),
    (
        Title("quiet-orbit", "Quiet Orbit", (Scene("quiet-orbit", "Quiet Orbit"),)),
        Title("tin-cathedral", "Tin Cathedral", (Scene("nave", "Nave"), Scene("crypt", "Crypt")), score=Score.HIGHER),
        Title("paper-armada", "Paper Armada", (Scene("paper-armada", "Paper Armada"),), score=Score.LOWER),
    ),
    protocol=Protocol(visits=3, runs=2),
)
#: As an old spreadsheet in a country of decimal commas writes it: semicolons, commas, thousands in groups, Latin-1.
SHEET = (
    "Title;Scene;Setup;Visit;Average;Low;Score;Bemerkung\r\n"
    "Quiet Orbit;;Plain;1;143,2;96,1;;ok\r\n"
    "Quiet Orbit;;Plain;1;144,0;95,0;;früh\r\n"
    "Quiet Orbit;;Lean;1;151,5;101,25;;\r\n"
    "Tin Cathedral;Nave;Plain;1;;;15.342;\r\n"
    "Tin Cathedral;Nave;Lean;1;;;15.900,5;\r\n"
    "Tin Cathedral;Nave;Lean;2;;;;noch nicht\r\n"
)


@pytest.fixture
def folder(tmp_path):
    Book.create(tmp_path / "study", study_text(STUDY)).close()
    return tmp_path / "study"


def sheet(tmp_path, text, encoding="utf-8", name="sheet.csv"):
    (tmp_path / name).write_bytes(text.encode(encoding))
    return tmp_path / name


def full(tmp_path):
    """Three visits of both setups: lean is 10 % quicker in Quiet Orbit, 20 % in both scores (fewer points in Paper Armada)."""
    lines = ["title,scene,setup,visit,run,average,low,score"]
    for visit, wobble in ((1, 1.0), (2, 1.004), (3, 0.997)):
        for run, shake in ((1, 1.001), (2, 0.999)):
            for setup, gain in (("plain", 1.0), ("lean", 1.1)):
                rate = 100 * gain * wobble * shake
                lines.append(f"quiet-orbit,,{setup},{visit},{run},{rate:.3f},{0.7 * rate:.3f},")
            for setup, gain in (("plain", 1.0), ("lean", 1.2)):
                lines.append(f"tin-cathedral,nave,{setup},{visit},{run},,,{15000 * gain * wobble * shake:.1f}")
                lines.append(f"paper-armada,,{setup},{visit},{run},,,{300 / (gain * wobble * shake):.2f}")
    return sheet(tmp_path, "\n".join(lines) + "\n", name="full.csv")


def values(folder):
    with Book.open(folder) as book:
        found = book.results.by_run()
        return {str(run.key): found[run.id].result for run in book.runs()}


def problems(folder, *given):
    with pytest.raises((InputError, UsageError)) as caught:
        take_results(folder, *given)
    return [str(p) for p in caught.value.problems]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "latin-1", "utf-16"])
def test_an_old_spreadsheet(folder, tmp_path, encoding):
    report = take_results(folder, sheet(tmp_path, SHEET, encoding), Said())
    assert len(report.taken) == 5
    assert [(r.average, r.low, r.score) for r in values(folder).values()] == [
        (143.2, 96.1, None),
        (144.0, 95.0, None),
        (151.5, 101.25, None),
        (None, None, 15342.0),
        (None, None, 15900.5),
    ]
    assert list(values(folder))[1] == "quiet-orbit plain v1 r2"
    with Book.open(folder) as book:
        run = book.runs()[0]
        assert book.original(run.sha256) == SHEET.encode(encoding)
        assert run.account == ("a result without frames: average 143.2 and low 96.1 frames per second; not screened by frames")
        assert [run.proven for run in book.runs()] == [False] * 5


def test_the_same_table_again_and_a_longer_one(folder, tmp_path):
    take_results(folder, sheet(tmp_path, SHEET), Said())
    again = take_results(folder, sheet(tmp_path, SHEET), Said())
    assert (len(again.taken), len(again.already)) == (0, 5)
    longer = SHEET.replace("noch nicht", "da").replace("Lean;2;;;;", "Lean;2;;;15.800,0;")
    more = take_results(folder, sheet(tmp_path, longer), Said())
    assert (len(more.taken), len(more.already)) == (1, 5)


def test_another_result_in_the_same_place_is_refused(folder, tmp_path):
    take_results(folder, sheet(tmp_path, SHEET), Said())
    report = take_results(folder, sheet(tmp_path, SHEET.replace("151,5", "161,5")), Said())
    assert "quiet-orbit lean v1 r1 has another log or result already" in str(report.refused[0].problems[0])
    assert report.refused[0].problems[0].slug == "run-taken"
    assert values(folder)["quiet-orbit lean v1 r1"].average == 151.5


def test_typed_in(folder):
    said = {"title": "quiet-orbit", "setup": "lean", "visit": "2"}
    take_results(folder, None, Said(**said, average="143,2", low="96.1"))
    take_results(folder, None, Said(**said, average="143,2", low="96.1"))
    take_results(folder, None, Said(**said, average="144", pass_number="7"))
    assert list(values(folder)) == ["quiet-orbit lean v2 r1", "quiet-orbit lean v2 r2", "quiet-orbit lean v2 r7"]
    assert values(folder)["quiet-orbit lean v2 r2"].low == 96.1
    with Book.open(folder) as book:
        assert book.original(book.runs()[0].sha256) == b'title,setup,visit,average,low\nquiet-orbit,lean,2,"143,2",96.1\n'


def test_what_a_table_leaves_out_can_be_said_beside_it(folder, tmp_path):
    table = sheet(tmp_path, "pass|average\n1|120\n2|121\n")
    take_results(folder, table, Said(title="Quiet Orbit", setup="plain", visit="1"))
    assert {key: (r.average, r.pass_number) for key, r in values(folder).items()} == {
        "quiet-orbit plain v1 r1": (120.0, 1),
        "quiet-orbit plain v1 r2": (121.0, 2),
    }
    [said] = problems(folder, table, Said(title="Quiet Orbit", setup="plain", visit="1", pass_number="3"))
    assert said == "result: a table was named, and beside it --pass  [option-unclear]\n  -> give the table or the numbers"


def test_every_wrong_row_is_told(folder, tmp_path):
    text = (
        "title,scene,setup,visit,average,score\n"
        "quiet-orbit,,plain,x,100,\n"
        "quiet-orbit,,plane,1,100,\n"
        "quiet-orbit,,plain,1,fast,\n"
        "quiet-orbit,,plain,1,,900\n"
        "tin-cathedral,,plain,1,,900\n"
    )
    table = sheet(tmp_path, text)
    said = [p.replace(f"{table}, ", "") for p in problems(folder, table, Said())]
    assert said == [
        "line 2: the visit is 'x'; it is a whole number from 1  [input-row]\n  -> number the visits as the logs are",
        "line 3: the study has no setup 'plane'  [input-row]\n  -> did you mean plain?",
        "line 4: average is 'fast', which is no number above 0, or could be two  [input-row]\n"
        "  -> write it with a decimal point and without a mark for thousands, or remove the row",
        "line 5: there is a score of Quiet Orbit, and study.toml does not say which way it is good  [input-row]\n"
        '  -> write score = "higher is better" under [[title]] quiet-orbit, or "lower is better"',
        "line 6: Tin Cathedral has several scenes, and the row names none  [input-row]\n  -> name it: nave or crypt",
    ]
    assert values(folder) == {}


def test_what_is_missing_is_told(folder, tmp_path):
    assert (
        "which run it is was not said: --setup and --visit" in problems(folder, None, Said(title="quiet-orbit", average="1"))[0]
    )
    said = problems(folder, None, Said(title="quiet-orbit", setup="lean", visit="1"))[0]
    assert "neither a table nor a result was given" in said
    assert "it has no column 'average'" in problems(folder, sheet(tmp_path, "title,setup,visit\na,b,1\n"), Said())[0]
    assert "no row of it has a result" in problems(folder, sheet(tmp_path, "title,setup,visit,low\na,b,1,\n"), Said())[0]
    assert "--visit was given too" in problems(folder, sheet(tmp_path, SHEET), Said(visit="1"))[0]


def test_judged_with_the_rest(folder, tmp_path):
    take_results(folder, full(tmp_path), Said())
    found = judge_study(folder)
    judged = found.opened.outcome.shown.measures
    assert set(judged) == {"average", "low_stated", "score", "score_lower"}
    over = {key: next(o for o in m.over if o.setup == "lean") for key, m in judged.items() if m.over}
    [average] = [c for c in judged["average"].comparisons if c.setup == "lean"]
    [score] = [c for c in judged["score"].comparisons if c.setup == "lean"]
    [lower] = [c for c in judged["score_lower"].comparisons if c.setup == "lean"]
    assert average.estimate == pytest.approx(math.log(1.1), abs=1e-5)
    assert score.estimate == pytest.approx(math.log(1.2), abs=1e-5)
    assert lower.estimate == pytest.approx(-math.log(1.2), abs=1e-4)
    assert {average.verdict.value, score.verdict.value, lower.verdict.value} == {average.verdict.value}, "all ahead, beyond"
    assert "ahead" in average.verdict.value
    assert {o.titles for o in over.values()} <= {1}, "a score never counts in another measure"
    told = "\n".join(f"{s.heading}\n{s.paragraphs}{s.items}{s.tables}" for s in found.sections)
    assert "36 runs came without frames and were not screened" in told
    assert "Over 1 title: Lean is ahead of Plain beyond the margin" in told
    assert "quiet-orbit: 12 runs are results without frames, not screened by frames" in told
    assert '"unscreened_runs": 36' in as_json(found)


def test_page_and_explain_say_that_no_check_has_seen_them(folder, tmp_path):
    take_results(folder, full(tmp_path), Said())
    made = publish(folder, tmp_path / "out", charts=False)
    page = next(p for p in (tmp_path / "out").glob("*.html")).read_text(encoding="utf-8")
    assert "36 runs of 36 came without frames" in page
    assert "36 runs not screened by frames" in page
    assert "kept, not screened by frames" in page
    assert made.lines()
    steps = [(s.what, s.value) for s in explain(folder, "tin-cathedral/nave/lean/v1/r2", "score").steps]
    assert steps[1] == ("result", "a result without frames: score 17982; not screened by frames")
    assert steps[2] == ("Score (higher is better)", "17982.0000 points")
    with pytest.raises(UsageError, match="has no average"):
        explain(folder, "tin-cathedral/nave/lean/v1/r2")


def test_standing_undo_and_rebuild(folder, tmp_path):
    take_results(folder, full(tmp_path), Said())
    decide(folder, "last", "redo", "typed wrong")
    assert [r.key for r in screen_study(folder).runs if not r.counts] == [screen_study(folder).runs[-1].key]
    decide(folder, "last", "undo")
    assert all(r.counts for r in screen_study(folder).runs)
    report = rebuild(folder)
    assert report.identical
    assert report.runs == 36


def test_rebuild_finds_a_ledger_that_does_not_say_what_the_table_says(folder, tmp_path):
    take_results(folder, full(tmp_path), Said())
    with sqlite3.connect(folder / "book.sqlite") as plain:
        plain.execute("DROP TRIGGER results_no_update")
        plain.execute("UPDATE results SET average = average + 1 WHERE run_id = 1")
    plain.close()
    assert [p.slug for p in rebuild(folder).damaged] == ["reads-otherwise"]


def test_beside_runs_with_frames(judged, tmp_path):
    """A title of logs, and a result of its other setup: told as two ways of measuring."""
    before = judge_study(judged).opened.outcome.shown
    table = sheet(
        tmp_path, "title,setup,visit,run,average,low\n" + "".join(f"night-ferry,lean,{v},9,158,90\n" for v in (1, 2, 3))
    )
    take_results(judged, table, Said())
    found = judge_study(judged).opened.outcome
    assert found.shown.runs == before.runs + 3
    assert found.shown.measures["low1_percentile"].over == before.measures["low1_percentile"].over, "its low stays apart"
    assert "night-ferry/deck: 3 runs are results without frames, not screened by frames; its other runs have frames" in " ".join(
        found.screening.untold
    )


@pytest.mark.parametrize(
    ("texts", "mark", "numbers"),
    [
        (["143.2", "15,342"], ".", [143.2, 15342.0]),
        (["143,2", "15.342"], ",", [143.2, 15342.0]),
        (["1.234,5"], ",", [1234.5]),
        (["1,234,567"], ".", [1234567.0]),
        (["1 234,5", "9\u00a0999"], ",", [1234.5, 9999.0]),
        (["15,342"], None, [None]),
        (["15.342"], None, [15.342]),
        (["0,342"], ",", [0.342]),
        (["1,2", "3.4"], None, [1.2, 3.4]),
        (["12", "x", "-5", "1e3", ""], None, [12.0, None, None, None, None]),
        (["12,34.5"], ".", [None]),
        (["1'234.5"], ".", [1234.5]),
    ],
)
def test_marks(texts, mark, numbers):
    assert decimal_mark(texts) == mark
    assert [figure(text, mark) for text in texts] == numbers


def test_catalogue_of_what_comes_as_a_number():
    assert [key for key, m in CATALOGUE.items() if not m.framed] == ["energy", "low_stated", "score", "score_lower"]


def test_a_sound_original_is_needed(folder, tmp_path):
    table = full(tmp_path)
    take_results(folder, table, Said())
    name = digest(table.read_bytes())
    shutil.rmtree(folder / "originals" / name[:2])
    assert {p.slug for p in rebuild(folder).damaged} == {"original-missing"}
    take_results(folder, table, Said())
    assert rebuild(folder).identical


def test_practice_runs_of_a_scene_never_count(tmp_path):
    """A scene says how many runs are practice; the others keep the protocol's warm-up runs."""
    orbit, armada = STUDY.titles[0], STUDY.titles[2]
    played = replace(orbit.scenes[0], practice_runs=2, route="from the dock to the ring")
    study = replace(STUDY, titles=(replace(orbit, scenes=(played,)), armada), protocol=Protocol(visits=1, runs=3, warmup_runs=1))
    Book.create(tmp_path / "study", study_text(study)).close()
    lines = [
        f"{t},{s},1,{r},{v}"
        for t, v in (("quiet-orbit", "100,"), ("paper-armada", ",9"))
        for s in ("plain", "lean")
        for r in (1, 2, 3)
    ]
    take_results(tmp_path / "study", sheet(tmp_path, "title,setup,visit,run,average,score\n" + "\n".join(lines)), Said())
    runs = screen_study(tmp_path / "study").runs
    assert [(r.key.title, r.key.run) for r in runs if r.warm_up and r.key.setup == "plain"] == [
        ("quiet-orbit", 1),
        ("quiet-orbit", 2),
        ("paper-armada", 1),
    ]
    publish(tmp_path / "study", tmp_path / "out", charts=False)
    page = next(p for p in (tmp_path / "out").glob("*.html")).read_text(encoding="utf-8")
    assert "Quiet Orbit: the first 2 runs in a visit never count: practice." in page
    assert "Quiet Orbit, played by a person: from the dock to the ring" in page


def test_the_latest_run_is_quick_to_name(folder):
    said = {"title": "quiet-orbit", "setup": "lean", "visit": "1"}
    take_results(folder, None, Said(**said, average="143"))
    take_results(folder, None, Said(**said, average="99"))
    outcome = CliRunner().invoke(app, ["standing", str(folder), "last", "redo", "fell off the ring"])
    assert outcome.exit_code == 0
    assert outcome.output.startswith("quiet-orbit lean v1 r2 is now to redo, decided by ")
    assert "fell off the ring" in outcome.output


def test_typed_in_on_the_command_line(folder, tmp_path):
    told = ["--title", "quiet-orbit", "--setup", "lean", "--visit", "1"]
    outcome = CliRunner().invoke(app, ["result", str(folder), *told, "--average", "143.2", "--low", "96.1"])
    assert outcome.exit_code == 0
    assert "1 run taken in" in outcome.output
    clash = sheet(tmp_path, "title,setup,visit,average\nquiet-orbit,lean,1,150\n")
    assert CliRunner().invoke(app, ["result", str(folder), str(clash)]).exit_code == 1
