"""Two seasons of one club: a colony that goes on is one founding, and what contradicts is told.

The sheets of the second demo are torn in two by date, as a club would keep them: the first season's
folder, and the next season's, in which the colonies that go on have a row again. Put together they
must be the whole.
"""

import csv
import datetime as dt
import io
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import cohort
from cohort.base.errors import SheetError
from cohort.history import history
from cohort.likelihood.exposure import packed
from cohort.simulate.club_years import SECOND
from cohort.simulate.demo import demo_files
from cohort.study import read_study
from cohort.study.going_on import stacked
from cohort.study.pool import pooled

TODAY = dt.date(2026, 11, 1)
TORN = "2026-03-31"
DEMO = Path(__file__).parents[2] / "data" / "demo"

pytestmark = pytest.mark.quick


@pytest.fixture(scope="module")
def files():
    return demo_files(SECOND)


@pytest.fixture(scope="module")
def whole(files, tmp_path_factory):
    return studied(files, tmp_path_factory.mktemp("whole"))


def studied(files, folder):
    for name, text in files.items():
        (folder / name).write_text(text, encoding="utf-8")
    return read_study(folder, today=TODAY)


def kept(text, keep):
    """A sheet with some of its rows."""
    rows = list(csv.DictReader(io.StringIO(text)))
    out = io.StringIO()
    writer = csv.DictWriter(out, list(rows[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows(row for row in rows if keep(row))
    return out.getvalue()


def torn(files, *, new_season="2026"):
    """Sheets of the first season, and of the next: every colony has a row in both.

    The second folder has the rows of all foundings, of those that were lost as well: a keeper goes
    on with a copy of the sheet.
    """
    first, then = {}, {}
    for name, text in files.items():
        day = "started" if name.startswith("foundings") else "date"
        if name in ("study.toml", "kinds.csv"):
            first[name] = then[name] = text
            continue
        first[name] = kept(text, lambda row, day=day: row[day] <= TORN)
        again = name.startswith("foundings")
        then[name] = kept(text, lambda row, day=day, again=again: again or row[day] > TORN)
    first["study.toml"] = first["study.toml"].replace('"2025, 2026"', '"2025"')
    first["study.toml"] = first["study.toml"].replace("ends = 2026-08-31", f"ends = {TORN}")
    then["study.toml"] = then["study.toml"].replace('"2025, 2026"', f'"{new_season}"')
    return first, then


def halves(files, place, change=None):
    first, then = torn(files)
    if change:
        change(first, then)
    parts = []
    for name, half in (("first", first), ("then", then)):
        (place / name).mkdir()
        parts.append(studied(half, place / name))
    return parts


def told(studies):
    with pytest.raises(SheetError) as caught:
        pooled(studies)
    return caught.value.findings


def same_history(one, other):
    """Histories of the same foundings, whatever their order and the names of their blocks."""
    a, b = history(one), history(other)
    assert sorted(a.foundings["founding"]) == sorted(b.foundings["founding"])
    order = {name: code for code, name in enumerate(a.foundings["founding"])}
    names = [name for name in a.foundings.columns if name not in ("block", "flight", "shelf")]
    mine = b.foundings[names].assign(at=b.foundings["founding"].map(order)).sort_values("at")
    pd.testing.assert_frame_equal(
        a.foundings[names], mine.drop(columns="at").reset_index(drop=True), check_dtype=False
    )
    code = b.foundings["founding"].map(order).to_numpy()
    rows = b.intervals.assign(code=code[b.intervals["code"]]).sort_values(["code", "after"])
    pd.testing.assert_frame_equal(
        a.intervals, rows.reset_index(drop=True), check_dtype=False, check_index_type=False
    )
    assert {name: vars(rest) for name, rest in a.winters.items()} == {
        name: vars(rest) for name, rest in b.winters.items()
    }


def arrays(study):
    """What the likelihood gets, founding by founding in order of their numbers."""
    ordered = study.foundings.sort_values("founding", ignore_index=True)
    looks = study.checks.sort_values(["founding", "date"], ignore_index=True, kind="stable")
    exposure = packed(history(replace(study, foundings=ordered, checks=looks)))
    return {name: v for name, v in vars(exposure).items() if isinstance(v, np.ndarray)}


def test_two_folders_of_one_club_are_the_whole(files, whole, tmp_path):
    both = pooled(halves(files, tmp_path))
    same_history(whole, both.study)
    assert any("in the sheets of more than one season" in note for note in both.notes)
    assert not any("/K1" in name for name in both.study.foundings["founding"])


def test_the_likelihood_gets_the_same_arrays(files, whole, tmp_path):
    mine, theirs = arrays(whole), arrays(pooled(halves(files, tmp_path)).study)
    assert mine.keys() == theirs.keys()
    assert len(mine) > 5
    for name, values in mine.items():
        np.testing.assert_array_equal(values, theirs[name], err_msg=name)


def test_in_either_order(files, whole, tmp_path):
    same_history(whole, pooled(halves(files, tmp_path)[::-1]).study)


def test_counted_twice_it_is_another_history(files, whole, tmp_path):
    """The wrong variant: rows put one below the other, `rest` of the new sheet left as it was."""
    first, then = halves(files, tmp_path)
    new = ~then.foundings["founding"].isin(first.foundings["founding"])
    naive = replace(
        first,
        settings=whole.settings,
        foundings=stacked([first.foundings, then.foundings[new]]),
        checks=stacked([first.checks, then.checks]),
        events=stacked([first.events, then.events]),
    )
    with pytest.raises((AssertionError, cohort.CohortError)):
        same_history(whole, naive)


def test_each_founding_keeps_the_season_it_flew_in(files, whole, tmp_path):
    both = pooled(halves(files, tmp_path)).study
    season = both.foundings.set_index("founding")["season"]
    assert season["K1-01"] == "2025"  # it has a row in the sheets of 2026, too
    assert season["K1-21"] == "2026"
    assert season.value_counts().to_dict() == whole.foundings["season"].value_counts().to_dict()


def test_the_first_demo_and_the_second_are_one_club(whole):
    """The second demo repeats the sheets of two keepers of the first, to the same day."""
    first = read_study(DEMO, today=TODAY)
    both = pooled([first, whole]).study
    new = whole.foundings["season"].eq("2026").sum()
    assert both.settings.season == "2025 + 2026"
    assert len(both.foundings) == len(first.foundings) + new
    assert both.foundings["founding"].is_unique
    looks = both.checks.merge(first.checks, on=["founding", "date"], suffixes=("", "_first"))
    assert len(looks) == len(first.checks)
    assert looks["queens_alive"].equals(looks["queens_alive_first"])
    # a block of the first season is one block, though both sheets name it
    own = both.foundings.set_index("founding")["block"]
    assert own["K1-01"] == "2025/B01"
    assert {name for name in own if name.startswith("2025, 2026/")}  # the new ones


def changed(files, name, old, new):
    assert old in files[name], old
    files[name] = files[name].replace(old, new, 1)


def test_another_number_of_queens_is_told_with_both_places(files, tmp_path):
    def change(first, then):
        changed(
            then, "foundings-K1.csv", "K1-02,Messor,,,2025-05-11,3", "K1-02,Messor,,,2025-05-11,4"
        )

    found = told(halves(files, tmp_path, change))
    assert [(f.founding, f.column) for f in found] == [("K1-02", "queens")]
    assert found[0].file == "2026/foundings-K1.csv"
    assert found[0].row == 3
    assert "'4' here, '3' in 2025/foundings-K1.csv, row 3." in found[0].what


def only_of(then, number, day, queens, workers="10+"):
    """The new sheet of K1 with one look at a colony that went on."""
    then["checks-K1.csv"] = (
        f"founding,date,queens_alive,workers\n{number},{day},{queens},{workers}\n"
    )


def test_more_queens_than_the_first_season_left_is_told(files, tmp_path):
    found = told(halves(files, tmp_path, lambda _, then: only_of(then, "K1-02", "2026-04-14", 3)))
    assert [(f.rule, f.founding, f.file, f.row) for f in found] == [
        ("count-rises", "K1-02", "2026/checks-K1.csv", 2)
    ]
    assert "3 queens alive, but 1 was alive on 2026-03-31." in found[0].what
    assert "Compare 2025/checks-K1.csv, row " in found[0].what


def test_two_looks_of_a_day_that_differ_are_told(files, tmp_path):
    found = told(halves(files, tmp_path, lambda _, then: only_of(then, "K1-02", TORN, 0)))
    assert [(f.rule, f.founding) for f in found] == [("looks-disagree", "K1-02")]
    assert "2025/checks-K1.csv" in found[0].where + found[0].what
    assert "2026/checks-K1.csv" in found[0].where + found[0].what


def test_an_end_on_two_days_is_told(files, tmp_path):
    def change(first, then):
        ended = next(x for x in files["events-K1.csv"].splitlines() if ",end," in x)
        then["events-K1.csv"] += (
            ended.replace("2025-10", "2026-05").replace(",given", ",released") + "\n"
        )

    found = told(halves(files, tmp_path, change))
    assert {f.rule for f in found} & {"ended-twice", "seasons-disagree"}


def test_rows_in_both_sheets_count_once(files, whole, tmp_path):
    """The last look and the winter of the first season, copied into the next season's sheet."""

    def change(first, then):
        for name in ("checks-K1.csv", "events-K1.csv", "events-K2.csv"):
            then[name] = kept(files[name], lambda row: row["date"] > "2025-11-01")

    same_history(whole, pooled(halves(files, tmp_path, change)).study)


def test_followed_from_of_the_new_sheet_does_not_hide_the_first_season(files, whole, tmp_path):
    """Alone, the new sheet must say from when it follows; beside the old one that is the start."""

    def change(first, then):
        rows = list(csv.DictReader(io.StringIO(then["foundings-K2.csv"])))
        names = [*rows[0], "followed_from"]
        for row in rows:
            old = row["started"] <= TORN
            row["followed_from"] = "2026-04-05" if old else ""
        out = io.StringIO()
        writer = csv.DictWriter(out, names, lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
        then["foundings-K2.csv"] = out.getvalue()

    same_history(whole, pooled(halves(files, tmp_path, change)).study)


def test_a_name_found_in_the_second_season_holds_for_the_first(files, tmp_path):
    def change(first, then):
        changed(then, "kinds.csv", "dull-brown,", "dull-brown,Ponera,")
        then["kinds.csv"] = "kind,genus\ndull-brown,Ponera\n"

    both = pooled(halves(files, tmp_path, change)).study
    mine = both.foundings[both.foundings["kind"] == "dull-brown"]
    assert set(mine["genus"]) == {"Ponera"}
    assert mine["named"].all()


def test_two_clubs_with_the_same_numbers_stay_two(files, whole, tmp_path):
    """Other starts: nothing is put together, and numbers stand behind their study."""
    other = {
        name: text.replace("2025-", "2024-").replace("2026-", "2025-")
        for name, text in files.items()
    }
    folder = tmp_path / "other"
    folder.mkdir()
    both = pooled([whole, studied(other, folder)]).study
    assert len(both.foundings) == 2 * len(whole.foundings)
    assert all("/" in name for name in both.foundings["founding"])
