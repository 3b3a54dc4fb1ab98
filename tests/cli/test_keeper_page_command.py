"""`cohort newsletter --keeper`: results at hand are used, an unknown keeper is misuse."""

from __future__ import annotations

import datetime as dt

import pytest
from test_club import WITH_WORKERS, run, written

from cohort import comparison
from cohort.base.errors import StudyError
from cohort.study import read_study


@pytest.fixture
def studied(tmp_path):
    """A study of singles only, and the folder of its results (nothing to fit)."""
    study = written(tmp_path / "study", [("K1-01", 1), ("K1-02", 1)], WITH_WORKERS)
    out = tmp_path / "out"
    comparison.compare(read_study(study)).write(out)
    return study, out


def flat(text: str) -> str:
    """Text without the frame and the line ends that the terminal put in."""
    return " ".join(text.replace("│", " ").split())


def page(study, out, *more: str):
    return run("newsletter", str(study), "--out", str(out), "--quiet", *more)


def test_results_at_hand_are_not_made_again(studied):
    study, out = studied
    before = {p.name: p.stat().st_mtime_ns for p in out.iterdir()}
    result = page(study, out, "--keeper", "k1", "--on", "2025-06-20")
    assert result.exit_code == 1  # as without --keeper: nothing could be compared
    assert "nothing is compared again" in result.output
    assert "no group to compare with" in result.output
    after = {p.name: p.stat().st_mtime_ns for p in out.iterdir()}
    assert set(after) - set(before) == {"keeper-K1.html"}
    assert {name: after[name] for name in before} == before
    assert "On 20 June 2025, 2 foundings" in (out / "keeper-K1.html").read_text("utf-8")


@pytest.mark.parametrize("change", ["sheet", "level", "seed", "no results"])
def test_results_of_other_sheets_or_wishes_are_made_anew(studied, monkeypatch, change):
    study, out = studied
    more = {"level": ("--level", "0.8"), "seed": ("--seed", "5")}.get(change, ())
    if change == "sheet":
        path = study / "checks.csv"
        path.write_text(path.read_text("utf-8") + "K1-01,2025-11-20,1,10\n", "utf-8")
    if change == "no results":
        (out / "curves.csv").unlink()

    def again(*args, **kwargs):
        raise StudyError("it is compared anew")

    monkeypatch.setattr(comparison, "compare", again)
    result = page(study, out, "--keeper", "K1", *more)
    assert "it is compared anew" in result.output
    assert not (out / "keeper-K1.html").exists()


def test_an_unknown_keeper_is_misuse_and_nothing_is_done(studied, monkeypatch):
    study, out = studied
    monkeypatch.setattr(comparison, "compare", pytest.fail)
    result = page(study, out, "--keeper", "K9")
    assert result.exit_code == 2
    assert "No keeper 'K9' in this study. Keepers there are: K1." in flat(result.output)


def test_a_day_that_is_none_is_misuse(studied):
    study, out = studied
    result = page(study, out, "--keeper", "K1", "--on", "20.6.2025")
    assert result.exit_code == 2
    assert "is not a date" in flat(result.output)


def test_without_on_it_is_told_for_today(studied):
    study, out = studied
    page(study, out, "--keeper", "K1")
    text = (out / "keeper-K1.html").read_text("utf-8")
    assert str(dt.date.today().year) in text
