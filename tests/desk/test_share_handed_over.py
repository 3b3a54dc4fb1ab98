"""`rest` in a merged study after a founding was handed over, worked by hand.

Keeper K1 begins K1-01 and K1-02, keeper K2 begins K2-01, all on 1 July. K1-02 is handed over to K2
on 9 July: up to that day K1's `rest` speaks of it, from the 10th on K2's does.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from cohort.desk.share import merge, pack
from cohort.desk.share.said import rows_of
from cohort.desk.share.sent import unpacked
from cohort.sheets.folder import read_folder
from cohort.study import read_study

pytestmark = pytest.mark.quick

HANDED = "K1-02,2024-07-09,handed-over,K2\n"
EVENTS = "founding,date,event,other\n"
CHECKS = "founding,date,queens_alive,workers\n"


def study(place: Path, events: str = "", **rest: str) -> Path:
    """The three foundings; `rest` has days of July on which a keeper wrote it."""
    place.mkdir()
    for sign, numbers in (("K1", ("K1-01", "K1-02")), ("K2", ("K2-01",))):
        rows = "".join(f"{number},Lasius,2024-07-01,2\n" for number in numbers)
        (place / f"foundings-{sign}.csv").write_text("founding,genus,started,queens\n" + rows)
        looks = "".join(f"rest,2024-07-{day},same,0\n" for day in rest.get(sign, "").split())
        if looks:
            (place / f"checks-{sign}.csv").write_text(CHECKS + looks)
    if events:
        (place / "events-K1.csv").write_text(EVENTS + events)
    return place


def looked(place: Path, number: str) -> list[tuple[str, str]]:
    checks = read_study(place).checks
    mine = checks[checks["founding"] == number]
    return [(f"{row.date:%d}", row.file) for row in mine.itertuples()]


def test_rest_speaks_of_what_its_keeper_has_that_day(tmp_path: Path) -> None:
    here = study(tmp_path / "here", HANDED, K1="09 13", K2="09 13")
    covers = {
        (row.file, row.key[1][-2:]): set(row.covers)
        for row in rows_of(read_folder(here))
        if row.of_all
    }
    assert covers == {
        ("checks-K1.csv", "09"): {"K1-01", "K1-02"},
        ("checks-K1.csv", "13"): {"K1-01"},
        ("checks-K2.csv", "09"): {"K2-01"},
        ("checks-K2.csv", "13"): {"K2-01", "K1-02"},
    }


def test_rest_sent_by_who_knew_nothing_of_it_is_shown(tmp_path: Path) -> None:
    ours = study(tmp_path / "ours", HANDED)
    theirs = study(tmp_path / "k1", K1="09 13")  # the 9th is before the next day
    done = merge(ours, theirs)
    (one,) = done.conflicts
    assert (one.why, one.what) == ("rest", "rest, 2024-07-13")
    assert "would no longer speak of K1-02" in one.remedy
    assert "If it was handed over, say so in the study that was sent" in one.remedy
    assert done.rows == {"checks": 1}
    (theirs / "events-K1.csv").write_text(EVENTS + HANDED)
    done = merge(ours, theirs)
    assert (done.conflicts, done.rows) == ((), {"checks": 1})
    done = merge(ours, study(tmp_path / "k2", K2="09 13"))
    (one,) = done.conflicts
    assert "would speak of K1-02 too" in one.remedy
    assert looked(ours, "K1-02") == [("09", "checks-K1.csv")]


def test_rest_sent_by_who_knew_of_it_comes_in(tmp_path: Path) -> None:
    ours = study(tmp_path / "ours", HANDED)
    other = study(tmp_path / "other", HANDED, K1="09 13", K2="09 13")
    done = merge(ours, other)
    assert (done.conflicts, done.rows) == ((), {"checks": 4})
    assert looked(ours, "K1-02") == looked(other, "K1-02")
    assert looked(ours, "K1-02") == [("09", "checks-K1.csv"), ("13", "checks-K2.csv")]


def test_a_founding_is_not_handed_over_under_a_rest_of_ours(tmp_path: Path) -> None:
    ours = study(tmp_path / "ours", K1="13", K2="13")
    before = looked(ours, "K1-02")
    done = merge(ours, study(tmp_path / "other", HANDED))
    (one,) = done.conflicts
    assert (one.why, one.what) == ("rest", "rest, 2024-07-13")
    assert done.rows == {}
    assert looked(ours, "K1-02") == before
    # the keepers who wrote these rows say so themselves
    done = merge(ours, study(tmp_path / "both", HANDED, K1="13", K2="13"))
    assert (done.conflicts, done.rows) == ((), {"events": 1})
    assert looked(ours, "K1-02") == [("13", "checks-K2.csv")]


@pytest.mark.parametrize(
    ("sheet", "row"),
    [
        ("checks-K2.csv", CHECKS + "K1-02,2024-07-13,2,0\n"),  # named that day: rest means others
        ("events-K2.csv", EVENTS + "K1-02,2024-07-12,end,not-used\n"),  # not open any more
    ],
)
def test_what_is_named_or_ended_is_no_conflict(sheet: str, row: str, tmp_path: Path) -> None:
    ours = study(tmp_path / "ours", K1="13")
    (ours / sheet).write_text(row)
    done = merge(ours, study(tmp_path / "other", HANDED))
    assert (done.conflicts, done.rows) == ((), {"events": 1})


def test_it_goes_along_when_packed_and_names_nobody(tmp_path: Path) -> None:
    here = study(tmp_path / "here", HANDED, K1="09 13", K2="09 13")
    there = tmp_path / "there"
    there.mkdir()
    for name, data in unpacked(pack(here).data, "x").items():
        (there / name).write_bytes(data)
    assert looked(there, "K1-02") == looked(here, "K1-02")
    named = tmp_path / "named"
    named.mkdir()
    rows = "K1-01,Lasius,2024-07-01,2,Ann\nK2-01,Lasius,2024-07-01,2,Bernadette\n"
    (named / "foundings.csv").write_text("founding,genus,started,queens,keeper\n" + rows)
    (named / "events.csv").write_text(EVENTS + "K1-01,2024-07-09,handed-over,bernadette\n")
    files = unpacked(pack(named).data, "x")
    assert b"K1-01,2024-07-09,handed-over,K2" in files["events.csv"]
    assert b"ernadette" not in b"".join(files.values())
    (named / "events.csv").write_text(EVENTS + "K1-01,2024-07-09,handed-over,Cleo\n")
    assert pack(named).names_kept == ("Cleo",)  # of whom no founding tells the sign: it is told
    (named / "events.csv").write_text(EVENTS + "K1-01,2024-07-09,handed-over,bernadette\n")
    (named / "study.toml").write_text("show_keepers = true\n")
    assert b"handed-over,bernadette" in unpacked(pack(named).data, "x")["events.csv"]
