"""Files of a calibration, and what is made of them; no fit is made here."""

import json
import os
import time

import numpy as np
import pandas as pd
import pytest

from cohort.base.errors import StudyError
from cohort.calibrate import Shape, Task, calibrate, collected, report, run, summary
from cohort.calibrate.ranks import KEPT


def made_up(seed, task):
    """A study whose ranks are uniform, but for one quantity that is always too low."""
    rng = np.random.default_rng(seed)
    if seed == 5:
        return {"seed": 5, "failed": "not drawn: extreme", "ranks": {}, "truth": {}}
    ranks = {f"quantity {j}": int(rng.integers(0, KEPT + 1)) for j in range(8)}
    ranks["too low"] = int(rng.integers(60, KEPT + 1))
    failed = "R-hat 1.2 of mated" if seed == 7 else ""
    return {
        "seed": seed, "failed": failed, "runs": 1 + (seed == 7), "seconds": 1.5,
        "foundings": 20, "divergences": 4 * (seed == 7) + (seed == 9), "kept_divergences": 0,
        "ranks": ranks, "truth": dict.fromkeys(ranks, 0.0),
    }  # fmt: skip


@pytest.fixture
def calls(monkeypatch):
    seen = []

    def noted(seed, task):
        seen.append(seed)
        return made_up(seed, task)

    monkeypatch.setattr(run, "ranks_of", noted)
    return seen


@pytest.fixture
def met_by(monkeypatch):
    """Has something done just before the first file is put in place."""

    def meets(other):
        usual, waiting = os.replace, [other]

        def replace(draft, path):
            if waiting:
                waiting.pop()()
            usual(draft, path)

        monkeypatch.setattr(os, "replace", replace)

    return meets


def test_two_runs_of_one_process_number_do_not_break_each_other(calls, met_by, tmp_path):
    """As on two machines of a cluster; here it is one process."""
    met_by(lambda: calibrate(tmp_path, range(1, 3), Task()))
    calibrate(tmp_path, range(1, 4), Task())
    assert sorted(p.name for p in tmp_path.iterdir()) == [f"study-0000{i}.json" for i in (1, 2, 3)]
    assert len(collected(tmp_path)[0]) == 3


def test_drafts_of_runs_long_ended_are_cleared(calls, tmp_path):
    for name, age in (("study-00001.json.1f.part", 7200), ("study-00002.json.1f.part", 60)):
        (tmp_path / name).write_text("{")
        os.utime(tmp_path / name, (time.time() - age,) * 2)
    calibrate(tmp_path, range(1, 3), Task())
    assert {p.name for p in tmp_path.glob("*.part")} == {"study-00002.json.1f.part"}


def test_work_is_taken_up_where_it_was_broken_off(calls, tmp_path):
    calibrate(tmp_path, range(1, 4), Task())
    calibrate(tmp_path, range(1, 6), Task())
    assert calls == [1, 2, 3, 4, 5]
    assert sorted(p.name for p in tmp_path.iterdir()) == [
        f"study-{i:05d}.json" for i in range(1, 6)
    ]
    calibrate(tmp_path, range(1, 6), Task())
    assert len(calls) == 5


def test_failed_fits_are_counted_and_keep_their_ranks(calls, tmp_path):
    calibrate(tmp_path / "studies", range(1, 201), Task())
    ranks, record = collected(tmp_path / "studies")
    assert len(record) == 200
    assert len(ranks) == 199
    assert 7 in ranks.index
    assert 5 not in ranks.index
    found = report(tmp_path / "studies", tmp_path / "out", Task(shape=Shape(most=20)))
    assert (found["studies"], found["failed"], found["not_drawn"]) == (199, 1, 1)
    assert found["outside_bands"] == ["too low"]
    assert found["run_twice"] == 1
    assert [found[k] for k in ("diverged", "divergences", "most_divergences")] == [2, 5, 4]
    assert found["diverged_kept"] == 0
    assert json.loads((tmp_path / "out" / "calibration.json").read_text("utf-8")) == found
    table = pd.read_csv(tmp_path / "out" / "calibration.csv")
    assert len(table) == found["quantities"] == 9
    assert (tmp_path / "out" / "calibration.svg").read_text("utf-8").count("<path") > 9


def test_a_summary_by_hand():
    """Ranks 0 to 99 once each: uniform to the last; all at 3: outside, never covered."""
    ranks = pd.DataFrame({"even": np.arange(100), "low": np.full(100, 3)})
    even, low = summary(ranks, KEPT).to_dict("records")
    assert even["coverage"] == pytest.approx(0.9)
    assert even["mean_rank"] == pytest.approx(0.5)
    assert even["chi2"] == 0
    assert even["outside"] == 0
    assert low["coverage"] == 0
    assert low["mean_rank"] == pytest.approx(0.035)
    assert low["chi2"] == pytest.approx((95**2 + 19 * 25) / 5)
    assert low["outside"] > 80


def test_a_damaged_study_file_is_named(calls, tmp_path):
    calibrate(tmp_path, range(1, 4), Task())
    (tmp_path / "study-00002.json").write_text('{"seed": 2, "ra')
    with pytest.raises(StudyError, match=r"study-00002\.json is damaged: it cannot be read"):
        collected(tmp_path)


def test_the_day_of_a_calibration_can_be_set_and_its_files_are_the_same(
    calls, tmp_path, monkeypatch
):
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1700000000")
    calibrate(tmp_path / "studies", range(1, 20), Task())
    for name in ("one", "two"):
        report(tmp_path / "studies", tmp_path / name, Task())
    files = [{p.name: p.read_bytes() for p in (tmp_path / n).iterdir()} for n in ("one", "two")]
    assert files[0] == files[1]
    assert set(files[0]) == {"calibration.csv", "calibration.json", "calibration.svg"}
    assert json.loads(files[0]["calibration.json"])["date"] == "2023-11-14"
