"""The example studies can be written as study.toml and read back."""

from __future__ import annotations

import pytest

from evenhand.examples.invented import invented_study
from evenhand.examples.measured import CAMPAIGNS
from evenhand.examples.measured_study import measured_study
from evenhand.study.model import Study
from evenhand.study.read import parse_study
from evenhand.study.write import study_text

STUDIES = {"invented": invented_study()} | {name: measured_study(name) for name in CAMPAIGNS}


@pytest.mark.parametrize("study", STUDIES.values(), ids=list(STUDIES))
def test_example_study_comes_back_from_its_file(study: Study) -> None:
    assert parse_study(study_text(study), "study.toml") == study
