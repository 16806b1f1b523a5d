"""study.toml is read into a study, or everything that is wrong with it is told at once."""

import codecs

import pytest

from evenhand.errors import StudyError
from evenhand.study.model import Factor, IntervalMeaning, Level, LowDefinition, Pace, Protocol, Rounds, Scene, Setup, Study, Title
from evenhand.study.read import parse_study, read_study
from evenhand.study.starter import starter_text

SMALL = """\
[study]
question = "Which?"

[[setup]]
name = "lean"

[[setup]]
name = "rich"

[[title]]
name = "Night Ferry"
"""


def problems(text):
    with pytest.raises(StudyError) as caught:
        parse_study(text, "study.toml")
    return [str(p) for p in caught.value.problems]


def test_the_least_that_a_study_says():
    assert parse_study(SMALL, "study.toml") == Study(
        question="Which?",
        baseline="lean",
        setups=(Setup("lean", "lean"), Setup("rich", "rich")),
        titles=(Title("Night Ferry", "Night Ferry", (Scene("Night Ferry", "Night Ferry"),)),),
    )


def test_everything_a_study_can_say():
    text = """
    [study]
    question = "Q"
    baseline = "cool"
    confidence = 0.9
    low = "tail-mean"
    interval = "shown"
    target_rate = 120
    [margins]
    average = "2.5 %"
    hitches = 0.5
    [[factor]]
    name = "limit"
    label = "power limit"
    level = [
      { name = "45W", value = 45, expects = { "power.limit" = 45, plan = "quiet", boost = false } },  # cool
      { name = "65W", label = "65 W", value = 65 },
    ]
    [[setup]]
    name = "hot"
    levels.limit = "65W"
    [[setup]]
    name = "cool"
    label = "Cool"
    levels = { limit = "45W" }
    [[title]]
    name = "ironvale"
    label = "Ironvale"
    weight = 2
    [[title.scene]]
    name = "mine"
    seconds = 40
    pace = "frames"
    settings = "high"
    cap = 120
    sync = true
    marks = ["generated-frames"]
    [protocol]
    visits = 4
    runs = 3
    warmup_runs = 1
    rounds = "no"
    set_aside = ["capped"]
    notes = '''
two
lines'''
    """
    levels = (
        Level("45W", "45W", 45.0, {"power.limit": 45.0, "plan": "quiet", "boost": False}),
        Level("65W", "65 W", 65.0),
    )
    scene = Scene("mine", "mine", 40.0, Pace.FRAMES, "high", 120.0, True, ("generated-frames",))
    assert parse_study(text, "study.toml") == Study(
        question="Q",
        baseline="cool",
        setups=(Setup("hot", "65 W", {"limit": "65W"}), Setup("cool", "Cool", {"limit": "45W"})),
        titles=(Title("ironvale", "Ironvale", (scene,), 2.0),),
        factors=(Factor("limit", "power limit", levels),),
        margins={"average": 0.025, "hitches": 0.5},
        confidence=0.9,
        low=LowDefinition.TAIL_MEAN,
        interval=IntervalMeaning.SHOWN,
        protocol=Protocol(4, 3, 1, Rounds.NO, ("capped",), "two\nlines"),
        target_rate=120.0,
    )


def test_factors_make_setups_in_their_order():
    study = parse_study(starter_text(), "study.toml")
    assert [s.name for s in study.setups] == ["5200-45W", "5200-65W", "6400-45W", "6400-65W"]
    assert study.setup("6400-45W") == Setup("6400-45W", "DDR5-6400 · 45 W", {"memory": "6400", "limit": "45W"})
    assert [len(t.scenes) for t in study.titles] == [2, 1, 1, 1]


def test_the_whole_text_of_an_error_and_several_at_once():
    text = SMALL.replace('question = "Which?"', 'question = "Which?"\nconfidence = 95\nbasline = "lean"\ntarget_rate = "60"')
    assert problems(text) == [
        "study.toml, line 3, confidence in [study]: confidence is 95; allowed is a number above 0.5 and below 1  [study-value]\n"
        "  -> write for example: confidence = 0.95",
        "study.toml, line 4, basline in [study]: [study] has no key basline  [study-unknown-key]\n  -> did you mean baseline?",
        'study.toml, line 5, target_rate in [study]: target_rate is "60"; allowed is a number 1 to 10000'.replace(
            "1 to", "from 1 to"
        )
        + "  [study-value]\n  -> write for example: target_rate = 60",
    ]


@pytest.mark.parametrize(
    ("old", "new", "line", "found", "do"),
    [
        ('question = "Which?"', "", 1, "[study] has no question", 'add: question = "'),
        ('question = "Which?"', "question = 5", 2, "question is 5; allowed is text in quotes", "write for example"),
        (
            'question = "Which?"',
            'question = "Which?"\nvisits = 3',
            3,
            "[study] has no key visits",
            "visits belongs in [protocol]",
        ),
        (
            'question = "Which?"',
            'question = "Which?"\nlow = "mean-tail"',
            3,
            'allowed is "percentile", "tail-mean" or',
            'low = "percentile"',
        ),
        (
            'question = "Which?"',
            'question = "Which?"\nlow = "percentil"',
            3,
            'low is "percentil"',
            'did you mean low = "percentile"?',
        ),
        ('question = "Which?"', 'question = "Which?"\nbaseline = "laen"', 3, 'there is no setup "laen"', 'did you mean "lean"?'),
        ('question = "Which?"', 'question = "Which?"\nconfidence = true', 3, "confidence is true", "confidence = 0.95"),
        ('question = "Which?"', 'question = "Which?"\nconfidence = nan', 3, "confidence is nan", "confidence = 0.95"),
        ('question = "Which?"', 'question = "Which?"\nconfidence = 0.5', 3, "above 0.5", "confidence = 0.95"),
        ('name = "rich"', 'name = "LEAN"', 8, 'two setups have the name "LEAN" (the other is written "lean")', "another name"),
        ('name = "rich"', 'name = "rich"\nlabel = "lean"', 9, 'two setups have the label "lean"', "another label"),
        ('name = "rich"', 'name = "a/b"', 8, "a name cannot hold /", "the label may be any text"),
        ('name = "rich"', 'name = "nul.txt"', 8, "Windows keeps that name", "change it"),
        ('name = "rich"', 'name = " rich"', 8, "begin or end with a space", "change it"),
        ('name = "rich"', 'name = "r\\u202eich"', 8, "invisible", "change it"),
        ('name = "rich"', 'name = "rich"\nlevels = { memory = "5200" }', 9, 'a factor "memory", which there is not', "remove it"),
        (
            'name = "Night Ferry"',
            'name = "Night Ferry"\nweight = 0',
            12,
            "weight is 0; allowed is a number above 0",
            "weight = 1",
        ),
        ('name = "Night Ferry"', 'name = "Night Ferry"\nseconds = 3', 12, "no key seconds", "belongs in [[title.scene]]"),
        ("[[title]]", "[title]", 10, "title is a table written as [title]", "write [[title]] on a line"),
        (
            'name = "Night Ferry"',
            '[[title.scene]]\nname = "a"\n[[title.scene]]\nname = "A"',
            14,
            "two scenes have the name",
            "another",
        ),
        ("[study]\n", "[[study]]\n", 1, "it is a table [study] (only once)", "write [study]"),
        ('name = "Night Ferry"', 'name = "x"\n[margins]\naverage = 0.03', 13, "average is 0.03", 'as a share: average = "3 %"'),
        ('name = "Night Ferry"', 'name = "x"\n[margins]\naverage = "3"', 13, 'average is "3"', 'average = "3 %"'),
        ('name = "Night Ferry"', 'name = "x"\n[margins]\naverage = "0 %"', 13, "above", 'average = "3 %"'),
        ('name = "Night Ferry"', 'name = "x"\n[margins]\nbelow_target = "2 %"', 13, "a number above 0", "below_target = 1"),
        ('name = "Night Ferry"', 'name = "x"\n[margins]\naverge = "3 %"', 13, "no key averge", "did you mean average?"),
        ('name = "Night Ferry"', 'name = "x"\n[protocol]\nvisits = 2.0', 13, "a whole number from 1 to 1000", "visits = 3"),
        (
            'name = "Night Ferry"',
            'name = "x"\n[protocol]\nruns = 2\nwarmup_runs = 2',
            14,
            "nothing would be left",
            "make runs larger",
        ),
        ('name = "Night Ferry"', 'name = "x"\n[protocol]\nset_aside = ["caped"]', 13, '"caped", which is not known', '"capped"'),
        (
            'name = "Night Ferry"',
            'name = "x"\n[protocoll]\nruns = 2',
            12,
            "the file has no key protocoll",
            "did you mean protocol?",
        ),
        ('name = "Night Ferry"', 'name = "x"\n[[factor]]\nname = "m"', 12, "there is no [[factor.level]]", "add a table"),
    ],
)
def test_each_mistake_names_line_and_way_out(old, new, line, found, do):
    told = [p for p in problems(SMALL.replace(old, new, 1)) if f"line {line}," in p]
    assert any(found in p and do in p.partition("->")[2] for p in told), problems(SMALL.replace(old, new, 1))


@pytest.mark.parametrize(
    ("old", "new", "found"),
    [
        ('baseline = "5200-45W"', 'baseline = "5200"', 'there is no setup "5200"'),
        ('name = "6400"', 'name = "5200"', 'two levels have the name "5200"'),
        ("value = 6400", "value = 5200", "both have the value 5200"),
        ("value = 6400", "value = 6400\nexpects = { speed = 1 }", None),
        ("[protocol]", '[[setup]]\nname = "a"\n[protocol]', 'the setup "a" does not say its levels of memory and limit'),
        ("[protocol]", '[[setup]]\nname = "a"\nlevels = { memory = "5200" }\n[protocol]', "does not say its level of limit"),
        ("[protocol]", '[[setup]]\nname = "a"\nlevels = { memory = "5600", limit = "45W" }\n[protocol]', 'no level "5600"'),
        (
            "[protocol]",
            "\n".join(2 * ['[[setup]]\nname = "a"\nlevels = { memory = "5200", limit = "45W" }']) + "\n[protocol]",
            "the same levels",
        ),
        ('name = "65W"', 'name = "a"\n[[factor.level]]\nname = "65W"', None),
    ],
)
def test_factors_levels_and_setups_agree(old, new, found):
    text = starter_text().replace(old, new, 1)
    if found is None:
        parse_study(text, "study.toml")
    else:
        assert any(found in p for p in problems(text)), problems(text)


def test_levels_that_contradict_or_cannot_be_told_apart():
    text = starter_text().replace("value = 5200", 'expects = { plan = "a" }\nvalue = 5200')
    both = text.replace("value = 45\n", 'expects = { plan = "b" }\nvalue = 45\n')
    assert any('"5200" expects plan = "a", but "45W" expects "b"' in p for p in problems(both))
    same = text.replace("value = 6400", 'expects = { plan = "a" }\nvalue = 6400')
    assert any("both have the same expectations" in p for p in problems(same))


def test_combinations_that_clash_or_are_too_many():
    text = '[study]\nquestion = "Q"\n[[title]]\nname = "x"\n'
    clash = text + factor("a", ["1", "1-2"]) + factor("b", ["2-3", "3"])
    assert any('called "1-2-3" cannot be a setup: two combinations' in p for p in problems(clash))
    many = text + "".join(factor(f"f{i}", [f"{i}{c}" for c in "abcde"]) for i in range(6))
    assert any("make 15625 combinations; at most 1000" in p for p in problems(many))


def factor(name, levels):
    return f'[[factor]]\nname = "{name}"\n' + "".join(f'[[factor.level]]\nname = "{level}"\n' for level in levels)


def test_each_kind_of_failure_has_its_slug_and_its_whole_text():
    text = SMALL.replace('name = "rich"', 'name = "a/b"').replace('question = "Which?"', 'baseline = "lan"')
    protocol = '[protocol]\nwarmup_runs = 3\n[[setup]]\nname = "lean"\n'
    told = problems(text + protocol)
    assert [p.rpartition("[")[2].partition("]")[0] for p in told] == [
        "study-missing",
        "study-unknown-name",
        "study-name",
        "study-contradiction",
        "study-duplicate",
    ]
    assert told[0] == (
        "study.toml, line 1, [study]: [study] has no question: the question, as a reader would ask it  [study-missing]\n"
        '  -> add: question = "Is faster memory worth its price?"'
    )
    assert told[1].startswith('study.toml, line 2, baseline in [study]: there is no setup "lan"  [')
    assert told[2] == (
        'study.toml, line 8, name in [[setup]]: name is "a/b"; a name cannot hold / (nor any of / \\ : * ? " < > | { })'
        '  [study-name]\n  -> change it (the label may be any text), for example: name = "lean"'
    )
    assert told[3].startswith(
        "study.toml, line 13, warmup_runs in [protocol]: of 2 runs a visit 3 are warm-up runs, which never "
    )
    assert told[4].startswith('study.toml, line 15, name in [[setup]]: two setups have the name "lean"  [')


def test_an_empty_file_says_all_that_is_missing():
    told = "\n".join(problems(""))
    for table in ("[study]", "[[title]]", "nothing to compare"):
        assert table in told


@pytest.mark.parametrize(
    ("text", "line", "do"),
    [
        ('[study]\nquestion = "Q', 2, "quote or bracket"),
        ("[study]\n[margins]\naverage = 3 %\n", 3, 'put percentages in quotes, like average = "3 %"'),
        ("[[title.scene]]\npace = clock\n", 2, "words go in double quotes"),
        ('[study]\nquestion = "C:\\games"\n', 2, "single quotes"),
        ("[study]\ntarget_rate = 59,94\n", 2, "decimals with a point"),
        ("[study]\nquestion\n", 2, "an equals sign"),
        ("[study]\nlow = 1\nlow = 2\n", 3, "stands only once"),
        ("[study]\n[study]\n", 2, "stands only once"),
    ],
)
def test_broken_toml_is_told_with_its_line(text, line, do):
    (told,) = problems(text)
    assert told.startswith(f"study.toml, line {line}")
    assert "[study-not-toml]" in told
    assert do in told


def test_hostile_toml():
    assert "nested too deeply" in problems("a = " + "[" * 100_000)[0]
    assert "study-" in problems("a = " + "9" * 10_000)[0]
    assert "visits" in problems(SMALL + "[protocol]\nvisits = 99999999999999999999\n")[0]


@pytest.mark.parametrize(
    "data",
    [
        starter_text().encode("utf-8"),
        codecs.BOM_UTF8 + starter_text().encode("utf-8"),
        codecs.BOM_UTF16_LE + starter_text().encode("utf-16-le"),
        codecs.BOM_UTF16_BE + starter_text().encode("utf-16-be"),
        starter_text().replace("\n", "\r\n").encode("utf-8"),
    ],
)
def test_however_an_editor_saved_it(tmp_path, data):
    file = tmp_path / "study.toml"
    file.write_bytes(data)
    assert read_study(file) == parse_study(starter_text(), "")


@pytest.mark.parametrize(
    ("data", "what"),
    [
        (b'[study]\nquestion = "caf\xe9"\n', "line 2: byte 0xe9 is not UTF-8"),
        (starter_text().encode("utf-16-le"), "null characters"),
        (codecs.BOM_UTF16_LE + b"\x00\xd8\x00", "not UTF-16-LE"),
        (b"#" * 4_000_001, "larger than 4 MB"),
    ],
)
def test_what_is_no_text_is_refused(tmp_path, data, what):
    file = tmp_path / "study.toml"
    file.write_bytes(data)
    with pytest.raises(StudyError, match=what):
        read_study(file)


def test_a_missing_file(tmp_path):
    file = tmp_path / "study.toml"
    with pytest.raises(StudyError) as caught:
        read_study(file)
    assert str(caught.value) == f"{file}: it cannot be opened: No such file or directory  [study-unreadable]\n  -> check the path"
    with pytest.raises(StudyError, match="cannot be opened"):
        read_study(tmp_path)


def test_a_scene_of_nothing_but_practice_is_refused():
    with pytest.raises(StudyError) as caught:
        parse_study(
            '[study]\nquestion = "Q"\n[[setup]]\nname = "a"\n[[setup]]\nname = "b"\n[[title]]\nname = "t"\n'
            '[[title.scene]]\nname = "s"\npractice_runs = 3\n[protocol]\nruns = 3\n',
            "study.toml",
        )
    assert str(caught.value) == (
        "study.toml, line 11, practice_runs in [[title.scene]]: of 3 runs a visit 3 are practice, which never count: nothing of "
        "the scene would be left  [study-contradiction]\n  -> make runs in [protocol] larger"
    )
