"""Tables beside the logs: power and load, however a person's table is written."""

import pytest

from evenhand.errors import InputError
from evenhand.steps.inputs import read_inputs
from evenhand.study.model import Inputs, Scene, Setup, Study, Title


def study(**inputs):
    titles = tuple(Title(n, text, (Scene(n, text),)) for n, text in (("night-ferry", "Night Ferry"), ("ironvale", "Ironvale")))
    return Study("Q", "all", (Setup("all", "All cores"), Setup("big", "Big cores")), titles, inputs=inputs)


def power(tmp_path, text, encoding="utf-8"):
    (tmp_path / "power.csv").write_bytes(text.encode(encoding))
    return read_inputs(tmp_path, study(power="power.csv"))


def problems(tmp_path, text, encoding="utf-8"):
    with pytest.raises(InputError) as caught:
        power(tmp_path, text, encoding)
    return [str(p).replace(str(tmp_path / "power.csv"), "power.csv") for p in caught.value.problems]


def test_none_is_named(tmp_path):
    assert read_inputs(tmp_path, study()) == Inputs()


@pytest.mark.parametrize(
    "text",
    [
        "title,setup,watts\nnight-ferry,all,141.5\n",
        "title;setup;watts\nNight Ferry;All cores;141,5\n",
        "\ufeffTitle\tSetup\tWatts\r\nNIGHT FERRY\tALL\t141.5 W\r\n\r\n",
        'note|watts|setup|title\nwarm|"141,5"|all|night-ferry\n',
        'title,setup,watts\nnight-ferry,all,"141,5"\n',
        "title,setup,watts\nnight-ferry,all,140\nnight-ferry,all,143\n",
    ],
)
def test_however_it_is_written(tmp_path, text):
    assert power(tmp_path, text) == Inputs(power={("night-ferry", "all"): 141.5})


def test_visits_are_kept_and_averaged(tmp_path):
    found = power(tmp_path, "title,setup,visit,watts\nironvale,big,1,90\nironvale,big,1,92\nironvale,big,2,101\n")
    assert found.power_visits == {("ironvale", "big", 1): 91.0, ("ironvale", "big", 2): 101.0}
    assert found.power == {("ironvale", "big"): 96.0}


def test_load(tmp_path):
    (tmp_path / "load.csv").write_text("title;setup;graphics_load\nironvale;all;97,5 %\nironvale;big;0\n", encoding="utf-8")
    found = read_inputs(tmp_path, study(graphics_load="load.csv"))
    assert found.graphics_load == {("ironvale", "all"): 97.5, ("ironvale", "big"): 0.0}


def test_every_wrong_row_is_told_with_its_line(tmp_path):
    text = "title,setup,visit,watts\nironvala,all,1,90\nironvale,al,1,90\nironvale,all,x,90\nironvale,all,1,0\nironvale,all,1\n"
    assert problems(tmp_path, text) == [
        "power.csv, line 2: the study has no title 'ironvala'  [input-row]\n  -> did you mean ironvale?",
        "power.csv, line 3: the study has no setup 'al'  [input-row]\n  -> did you mean all?",
        "power.csv, line 4: the visit is 'x'; it is a whole number from 1  [input-row]\n  -> number the visits as the logs are",
        "power.csv, line 5: watts is '0'; it is a number above 0 to 10000  [input-row]\n  -> correct the cell, or remove the row",
        "power.csv, line 6: watts is ''; it is a number above 0 to 10000  [input-row]\n  -> correct the cell, or remove the row",
    ]


def test_columns_that_are_not_there_or_twice(tmp_path):
    assert problems(tmp_path, "title,setup,power\nironvale,all,90\n") == [
        "power.csv, line 1: it has no column 'watts', but title, setup and power  [input-column]\n  -> name one column watts"
    ]
    assert "2 columns 'title'" in problems(tmp_path, "title,title,setup,watts\na,b,c,1\n")[0]
    assert "it has 1 row;" in problems(tmp_path, "title,setup,watts\n")[0]


def test_files_that_cannot_be_read(tmp_path):
    assert "not text in UTF-8  [input-unreadable]" in problems(tmp_path, "title,setup,watts\nMoss,é,1\n", "latin-1")[0]
    with pytest.raises(InputError, match=r"cannot be opened.*\n.*\[inputs\] power"):
        read_inputs(tmp_path / "nowhere", study(power="power.csv"))


@pytest.mark.parametrize("value", ["nan", "inf", "1e999", "-5", "1,2,3", "12.000,5", "10001"])
def test_no_number_passes_that_is_none(tmp_path, value):
    assert "[input-row]" in problems(tmp_path, f"title;setup;watts\nironvale;all;{value}\n")[0]
