"""The studies of the measured campaigns agree with the tables that came with the recordings."""

from __future__ import annotations

import csv
import io
from pathlib import PurePosixPath

import pytest

from evenhand.examples.measured import CAMPAIGNS, measured_files
from evenhand.examples.measured_study import PATTERN, measured_study, recorded_at, recording_facts
from evenhand.study.model import Pace


def rows(campaign: str) -> list[dict[str, str]]:
    table = dict(measured_files(campaign))[PurePosixPath("runs.csv")].decode("utf-8")
    return list(csv.DictReader(io.StringIO(table)))


@pytest.mark.parametrize("campaign", CAMPAIGNS)
def test_setups_have_the_levels_of_the_table(campaign: str) -> None:
    study = measured_study(campaign)
    for row in rows(campaign):
        levels = study.setup(row["setup"]).levels
        assert (levels["renderer_threads"], levels["cores"]) == (row["renderer_threads"], row["cores"])
    assert {factor.name: {level.name for level in factor.levels} for factor in study.factors} == {
        name: {row[name] for row in rows(campaign)} for name in ("renderer_threads", "cores")
    }


@pytest.mark.parametrize("campaign", CAMPAIGNS)
def test_protocol_and_titles_are_what_was_recorded(campaign: str) -> None:
    study = measured_study(campaign)
    assert {t.name for t in study.titles} == {row["scene"] for row in rows(campaign)}
    assert all(scene.pace is Pace.FRAMES for t in study.titles for scene in t.scenes)
    assert study.protocol.visits == max(int(row["visit"]) for row in rows(campaign))
    assert study.protocol.runs == max(int(row["run"]) for row in rows(campaign))
    assert len(study.titles) * len(study.setups) * study.protocol.visits * study.protocol.runs == len(rows(campaign))


@pytest.mark.parametrize("campaign", CAMPAIGNS)
def test_pattern_gives_the_path_of_every_log(campaign: str) -> None:
    times = recorded_at(campaign)
    assert len(times) == len(rows(campaign))
    assert list(times.values()) == sorted(times.values())
    logs = {str(PurePosixPath(row["log"]).with_suffix("")) for row in rows(campaign)}
    assert logs == {PATTERN.format(scene=k.scene, setup=k.setup, visit=k.visit, run=k.run) for k in times}


@pytest.mark.parametrize("campaign", CAMPAIGNS)
def test_facts_agree_with_the_readme_of_the_recordings(campaign: str) -> None:
    readme = dict(measured_files(campaign))[PurePosixPath("README.md")].decode("utf-8")
    facts = measured_study(campaign).bench
    for words in ("dsda-doom 0.25.6", "Freedoom 0.12.1"):
        assert words in facts["Game"]
        assert words.split()[1] in readme
    assert facts["Recorded"].split(",")[0] in readme
    assert facts["Memory"] in readme
    assert len(recording_facts(campaign)) >= 4


def test_unknown_campaign_is_a_key_error() -> None:
    with pytest.raises(KeyError):
        measured_study("loud")
