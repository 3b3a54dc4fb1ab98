"""``cohort log --undo``: what it takes back it prints, and what it cannot take back it says."""

import datetime as dt

import pytest

from cohort.cli import main

DAY = (dt.date.today() - dt.timedelta(days=3)).isoformat()


@pytest.fixture
def study(tmp_path):
    (tmp_path / "foundings-K1.csv").write_text(
        "founding,genus,started,queens\nK1-01,Lasius,2026-05-01,3\n", "utf-8"
    )
    return tmp_path


def run(*words):
    with pytest.raises(SystemExit) as end:
        main([str(word) for word in words])
    return end.value.code


def test_an_entry_is_taken_back_and_printed(study, capsys):
    assert run("log", study, "K1-01", "--alive", 2, "--workers", 0, "--date", DAY) == 0
    capsys.readouterr()
    assert run("log", study, "--undo") == 0
    told = capsys.readouterr().out
    assert f"Taken out of checks-K1.csv: K1-01,{DAY},2,0" in told
    assert "earlier" in told
    assert run("log", study, "--undo", "--keeper", "K1") == 1
    assert "no entry of keeper K1 to take back" in capsys.readouterr().err


def test_taking_back_goes_with_nothing_else(study):
    assert run("log", study, "K1-01", "--undo") == 2
