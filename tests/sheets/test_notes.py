"""Check notes typed on a phone."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cohort.sheets.notes import NotUnderstood, read_line, read_notes
from cohort.terms import words

DAY = "2026-07-08"


def look(line: str) -> tuple[Any, list[tuple[str, str, str]]]:
    got = read_line(line, DAY)
    check = got.check
    cells = (check["queens_alive"], check.get("workers", ""), check["note"]) if check else None
    return cells, [(e["event"], e["number"], e["other"]) for e in got.events]


@pytest.mark.parametrize(
    ("line", "cells", "events"),
    [
        ("K2-07 3 0", ("3", "0", ""), []),
        ("K2-11 2 1 first worker", ("2", "1", ""), []),
        ("K2-09 3 12+ fight", ("3", "12+", ""), [("fight", "", "")]),
        ("K2-09 3 12+ fight in the corner", ("3", "12+", "in the corner"), [("fight", "", "")]),
        ("K2-09 5+", ("5+", "", ""), []),
        ("K2-09 - 4", ("", "4", ""), []),
        ("K2-09: 3, 0, calm", ("3", "0", "calm"), []),
        ("K2-09 3 0 no fight today", ("3", "0", "no fight today"), []),
        ("K2-09 mould", None, [("mould", "", "")]),
        ("K2-09 2 0 mould, dry", ("2", "0", ""), [("mould", "", ""), ("dry", "", "")]),
        ("K2-09 3 0 queens-out 1 given", ("3", "0", ""), [("queens-out", "1", "given")]),
        ("K2-09 3 0 queens out 2 K2-30", ("3", "0", ""), [("queens-out", "2", "K2-30")]),
        ("K2-09 2 5 killed 1 queens", ("2", "5", ""), [("killed", "1", "queens")]),
        ("K2-09 end gave-up no time", None, [("end", "", "gave-up")]),
        ("all winter in", None, [("winter-in", "", "")]),
        ("rest same", ("same", "", ""), []),
        ("Rest same.", ("same", "", ""), []),
        ("K2-09 3 0 movedabout", ("3", "0", "movedabout"), []),
    ],
)
def test_lines_as_people_write_them(line: str, cells: Any, events: list[Any]) -> None:
    assert look(line) == (cells, events)


@pytest.mark.parametrize(
    "line",
    [
        "looked at all",
        "K2-07",
        "K2-07 x 3",
        "K2-07 three 0",
        "K2-07 3.5 0",
        "K2-07 3 0 5",
        "K2-07 3 0 first worker",
        "K2-07 3 first worker",
        "rest",
        "rest as before",
        "rest 3 0",
        "K2-07 end",
        "K2-07 end soon",
        "K2-07 queens-out given",
        "8.7.",
        "8 July",
        "K2-07 -3 0",
        "K2-07 3 -1",
        "K2-07 1e3 0",
        "K2-07 3/0",
    ],
)
def test_what_is_not_certain_is_not_guessed(line: str) -> None:
    with pytest.raises(NotUnderstood):
        read_line(line, DAY)


def test_a_file_of_notes_remembers_its_lines() -> None:
    text = (
        "# written on the balcony\r\nK2-01 1 0\r\n\r\nWed 8.7.2026\r\nK2-01 1 0\r\nhm\r\n"
        "9.7.\r\nK2-02 3 0\r\nJuly 12, 2026:\r\nK2-02 3 1 first worker, fight\r\nrest same"
    )
    tables, findings = read_notes(text.encode(), "checks-K2.txt")
    checks, events = tables
    assert checks.rows.tolist() == [5, 10, 11]
    assert checks.frame["date"].tolist() == ["8.7.2026", "July 12, 2026", "July 12, 2026"]
    assert events.rows.tolist() == [10]
    assert [(f.level, f.row) for f in findings] == [
        ("error", 2),
        ("error", 6),
        ("error", 7),
        ("error", 8),
    ]
    assert "No date" in findings[0].what or "no date" in findings[0].what
    assert "year" in findings[2].what
    assert all(f.file == "checks-K2.txt" and f.remedy for f in findings)


def test_every_event_word_is_understood_by_itself() -> None:
    needs = {"end": " given", "queens-out": " 1", "queens-in": " 1"}
    for word in words.EVENTS:
        _, events = look(f"K2-01 3 0 {word}{needs.get(word, '')}")
        assert [event for event, _, _ in events] == [word]


@given(st.text(max_size=60))
def test_any_text_is_read_or_told(text: str) -> None:
    tables, findings = read_notes(text.encode("utf-8", "surrogatepass"), "checks.txt")
    lines = {row for table in tables for row in table.rows.tolist()}
    told = {finding.row for finding in findings}
    assert not lines & told


@given(st.integers(0, 9999), st.integers(0, 9999), st.booleans())
def test_counts_come_back_as_typed(queens: int, workers: int, plus: bool) -> None:
    sign = "+" if plus else ""
    cells, _ = look(f"K2-07 {queens}{sign} {workers}{sign}")
    assert cells == (f"{queens}{sign}", f"{workers}{sign}", "")
