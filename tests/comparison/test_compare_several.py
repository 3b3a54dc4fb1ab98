"""The command compare with several studies: pooled, and what was settled between them is said."""

import datetime as dt

import numpy as np
import pytest

from cohort.base.errors import StudyError
from cohort.cli import main
from cohort.simulate.design import Design
from cohort.simulate.season import simulate_study
from cohort.simulate.truth import draw_truth


def test_compare_pools_its_studies_and_says_how(tmp_path, monkeypatch, capsys):
    import cohort.comparison

    given = []

    def stop(study, **_):
        given.append(study)
        raise StudyError("far enough")

    monkeypatch.setattr(cohort.comparison, "compare", stop)
    truth = draw_truth(("Lasius",), np.random.default_rng(1))
    folders = []
    for year in (2024, 2025):
        layout = Design(foundings=8, first_flight=dt.date(year, 5, 10))
        folders.append(str(simulate_study(layout, truth, year).write(tmp_path / str(year))))
    with pytest.raises(SystemExit) as end:
        main(["compare", *folders, "--out", str(tmp_path / "out"), "--quiet"])
    assert end.value.code == 1
    assert len(given[0].foundings) == 16
    assert given[0].settings.season == "2024 + 2025"
    told = capsys.readouterr().err
    assert "more than one study" in told
    assert "far enough" in told
