"""`cohort simulate`: a folder of sheets, the truth beside them, nothing overwritten."""

import datetime as dt
import subprocess
import sys

import pandas as pd
import pytest
import typer
from typer.testing import CliRunner

from cohort.base.errors import StudyError
from cohort.cli.analyst import register
from cohort.simulate.truth import Truth
from cohort.study import read_study

TODAY = dt.date(2026, 11, 1)


@pytest.fixture
def app():
    app = typer.Typer()
    register(app)
    app.callback()(lambda: None)  # a single command would lose its name
    return app


def call(app, *words):
    return CliRunner().invoke(app, ["simulate", *map(str, words)])


def test_writes_a_study_that_reads_without_an_error(app, tmp_path):
    got = call(app, tmp_path / "new", "--foundings", 24, "--genera", 3, "--sizes", "1,2,4")
    assert got.exit_code == 0, got.output
    assert "24 foundings of 3 genera" in got.output
    study = read_study(tmp_path / "new", today=TODAY)
    assert len(study.foundings) == 24
    assert set(study.foundings["queens"]) == {1, 2, 4}
    assert set(study.foundings["genus"]) == {"Lasius", "Messor", "Formica"}
    assert [source.name for source in study.sources] == [
        "checks.csv",
        "foundings.csv",
        "study.toml",
    ]


def test_same_seed_same_study_and_a_given_truth_is_used(app, tmp_path):
    for name in ("a", "b"):
        assert call(app, tmp_path / name, "--seed", 9, "--genera", "Lasius,Messor").exit_code == 0
    checks = [(tmp_path / name / "checks.csv").read_bytes() for name in ("a", "b")]
    assert checks[0] == checks[1]
    got = call(app, tmp_path / "c", "--seed", 8, "--truth", tmp_path / "a" / "truth.json")
    assert got.exit_code == 0
    told, given = (
        Truth.from_json((tmp_path / name / "truth.json").read_text()) for name in ("c", "a")
    )
    assert told == given


def test_never_overwrites(app, tmp_path):
    (tmp_path / "kept.txt").write_text("mine")
    got = call(app, tmp_path)
    assert isinstance(got.exception, StudyError)
    assert "never overwrites" in str(got.exception)
    assert [p.name for p in tmp_path.iterdir()] == ["kept.txt"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--sizes", "one"], "whole numbers"),
        (["--sizes", "0,3"], "whole numbers"),
        (["--genera", "40"], "between 1 and 12"),
        (["--genera", "Lasius,Lasius"], "different names"),
        (["--delayed", "2"], "share"),
        (["--calendar", "lunar"], "must be one of"),
        (["--winter", "soon"], "YYYY-MM-DD"),
        (["--spring", "2026-03-01"], "spring must be a day after winter"),
    ],
)
def test_misuse_is_told_and_exits_with_2(app, tmp_path, words, said):
    got = call(app, tmp_path / "new", *words)
    assert got.exit_code == 2
    assert said in " ".join(got.output.replace("│", " ").split())
    assert not (tmp_path / "new").exists()


def test_a_file_that_is_no_truth_is_told(app, tmp_path):
    (tmp_path / "no.json").write_text('{"genera": 3}')
    got = call(app, tmp_path / "new", "--truth", tmp_path / "no.json")
    assert isinstance(got.exception, StudyError)
    assert "no truth of a simulated study" in str(got.exception)


@pytest.mark.parametrize("calendar", ["every", "shelf", "irregular"])
def test_reader_hears_what_the_keepers_wrote(app, tmp_path, calendar):
    got = call(app, tmp_path / "s", "--calendar", calendar, "--delayed", 0.2, "--removals", 0.4,
               "--blank", 0.1, "--seen", 0.3, "--winter", "2025-10-20", "--seed", 4)  # fmt: skip
    assert got.exit_code == 0, got.output
    study = read_study(tmp_path / "s", today=TODAY)
    checks = study.checks
    first = checks.groupby("founding", sort=False)["date"].first()
    start = study.foundings.set_index("founding")["followed_from"]
    late = start[start.notna()]
    assert len(late) > 3
    assert (first.loc[late.index] == late).all()
    assert checks["from_rest"].any() == (calendar == "shelf")
    gaps = checks.groupby("founding")["date"].diff().dt.days.dropna()
    assert gaps.max() <= (7 if calendar != "irregular" else 12)
    assert checks["date"].max() < pd.Timestamp("2025-10-20")
    assert (study.events["event"] == "winter-in").sum() >= 25


def test_importing_the_command_loads_nothing_heavy():
    code = "import sys, cohort.cli.analyst; print([m for m in sys.modules if m in " \
        "('pymc', 'arviz', 'numba', 'matplotlib', 'pandas', 'numpy')])"  # fmt: skip
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert said.stdout.strip() == "[]"


def test_a_season_through_winter_is_followed_through_it(app, tmp_path):
    got = call(app, tmp_path / "s", "--foundings", 12, "--horizon", 260, "--winter", "2025-09-01",
               "--spring", "2025-12-01", "--seed", 4)  # fmt: skip
    assert got.exit_code == 0, got.output
    study = read_study(tmp_path / "s", today=TODAY)
    assert study.settings.through_winter
    cold = study.checks["date"].between("2025-09-01", "2025-11-30")
    assert not cold.any()
    assert (study.checks["date"] > pd.Timestamp("2025-12-01")).any()
    assert len(study.history().winters) > 5
