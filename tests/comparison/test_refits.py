"""Refits leave a file each that is of one comparison alone; no fit is made here."""

import json

import pandas as pd
import pytest

from cohort.base import tasks
from cohort.base.errors import StudyError
from cohort.comparison import refits as room
from cohort.comparison.refits import How, Keeping, refits
from cohort.model.bounds import READINGS
from cohort.model.design import VARIANTS
from cohort.results import carry_over, mark_of

HOW = How(priors=None, adjust=(), horizon=90, level=0.9, seed=1)
FIRST = {"variant": "as agreed", "elpd": -50.0}


def row(mean):
    return {"quantity": "time_ratio", "colony": None, "genus": "average", "arm": "ratio",
            "queens": 3, "day": None, "mean": mean}  # fmt: skip


@pytest.fixture
def calls(monkeypatch):
    """Refits that were made; in each reading the mean is .1 higher than in that before."""
    made = []

    def reading(name, other, how):
        made.append(name)
        if name == "midway":
            return [{"reading": name, "meaning": "cannot be fitted"}]
        return [{"reading": name, "meaning": name, "settled": True} | row(1.0 + 0.1 * other)]

    def variant(name, history, how, reference):
        made.append(name)
        return {"variant": name, "elpd": -60.0}

    many = {name: (name, lambda history, at=at: at) for at, name in enumerate(READINGS, 1)}
    monkeypatch.setattr(room, "READINGS", many)
    monkeypatch.setattr(room, "reading", reading)
    monkeypatch.setattr(room, "variant", variant)
    monkeypatch.setattr(room, "unchanged", lambda other, history: other == 2)
    monkeypatch.setattr(room, "settled", lambda fit: True)
    monkeypatch.setattr(room, "_table", lambda fit, history, how: [row(1.0)])
    return made


@pytest.fixture
def out(tmp_path):
    (tmp_path / "run.json").write_text("{}")
    return tmp_path


def again(out, mark=None):
    return refits(0, None, FIRST, None, HOW, Keeping(out, mark or mark_of(out)))


WANTED = {*READINGS, *VARIANTS} - {"", list(READINGS)[1]}


def test_every_refit_is_made_once_and_its_file_is_taken_up(calls, out):
    tables = again(out)
    assert set(calls) == WANTED
    assert len(calls) == len(WANTED)
    files = {path.name for path in (out / "refits").iterdir()}
    assert len(files) == len(WANTED)
    shifts = tables["bounds"].set_index("reading")["shift"]
    assert shifts["as agreed"] == 0
    assert shifts["taken die"] == pytest.approx(0.1)
    assert pd.isna(shifts["taken live"])
    told = tables["bounds"].set_index("reading")["meaning"]
    assert "changes nothing here" in told["taken live"]
    assert told["midway"] == "cannot be fitted"
    assert list(tables["variants"]["variant"]) == ["as agreed", *(v for v in VARIANTS if v)]
    (out / "refits" / "variant_lasting.json").unlink()
    (out / "refits" / "reading_taken_die.json").write_text('{"of": "x"')  # torn
    calls.clear()
    new = again(out)
    assert sorted(calls) == ["lasting", "taken die"]
    for name, table in tables.items():
        pd.testing.assert_frame_equal(new[name], table)


def test_refits_of_another_comparison_or_of_other_code_are_made_again(calls, out, monkeypatch):
    again(out)
    calls.clear()
    (out / "run.json").write_text('{"seed": 2}')
    again(out)
    assert set(calls) == WANTED
    calls.clear()
    monkeypatch.setattr(tasks, "code", lambda: "of tomorrow")
    again(out)
    assert set(calls) == WANTED


def test_nothing_is_put_beside_another_comparison(calls, out, monkeypatch):
    mark, usual = mark_of(out), Keeping.check

    def then_another_comes(keeping):
        usual(keeping)
        (out / "run.json").write_text('{"seed": 2}')

    monkeypatch.setattr(Keeping, "check", then_another_comes)
    with pytest.raises(StudyError, match="holds another comparison by now"):
        again(out, mark)
    assert len(calls) == 1
    assert list((out / "refits").iterdir()) == []


def test_refits_stay_with_their_comparison_alone(calls, out, tmp_path_factory):
    again(out)
    same, other = (tmp_path_factory.mktemp(name) for name in ("same", "other"))
    (same / "run.json").write_text("{}")
    (other / "run.json").write_text('{"seed": 2}')
    for place in (same, other):
        carry_over(out, place)
    assert len(list((same / "refits").iterdir())) == len(WANTED)
    assert json.loads((same / "refits" / "variant_lasting.json").read_text())["found"]
    assert not (other / "refits").exists()
