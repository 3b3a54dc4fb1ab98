"""Check notes typed on a phone."""

from __future__ import annotations

import re
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
        ("rest winter in", None, [("winter-in", "", "")]),
        ("S1 winter-out", None, [("winter-out", "", "")]),
        ("rest winter-in to the cellar", None, [("winter-in", "", "")]),
        ("rest same, winter-in", ("same", "", ""), [("winter-in", "", "")]),
        ("rest same 0 winter-out", ("same", "0", ""), [("winter-out", "", "")]),
        ("rest same", ("same", "", ""), []),
        ("Rest same.", ("same", "", ""), []),
        ("K2-09 3 0 movedabout", ("3", "0", "movedabout"), []),
        ("K2-09 3 0.", ("3", "0", ""), []),
        ("K2-09 3. 0. Fight.", ("3", "0", ""), [("fight", "", "")]),
        ("K2-09\u00a03\t0", ("3", "0", ""), []),
        ("- K2-09 3 0", ("3", "0", ""), []),
        ("• K2-09 3 0 - mould", ("3", "0", ""), [("mould", "", "")]),
        ("K2-09 3 12 fight and mould", ("3", "12", ""), [("fight", "", ""), ("mould", "", "")]),
        ("K2-09 end Gave up, no time", None, [("end", "", "gave-up")]),
        ("K2-09 3 0 no end of it", ("3", "0", "no end of it"), []),
        ("12 mould", None, [("mould", "", "")]),
        ("K2-09 3q 0w", ("3", "0", ""), []),
        ("K2-09 3Q, 12+W calm", ("3", "12+", "calm"), []),
        ("K2-09 0w 3q", ("3", "0", ""), []),
        ("K2-09 3 queens 0 workers", ("3", "0", ""), []),
        ("K2-09 3 queens and no workers, calm", ("3", "0", ", calm"), []),
        ("K2-09 2 Königinnen 4 Arbeiterinnen", ("2", "4", ""), []),
        ("K2-09 1 reine pas d'ouvrière", ("1", "0", ""), []),
        ("K2-09 2 reinas sin obreras", ("2", "0", ""), []),
        ("K2-09 5w", ("", "5", ""), []),
        ("K2-09 3 0 handed over to K3", ("3", "0", ""), [("handed-over", "", "K3")]),
        ("K2-09 3 7w", ("3", "7", ""), []),
        ("K2-09 3q", ("3", "", ""), []),
        ("K2-09 all dead", ("0", "", ""), []),
        ("K2-09 alle tot, verschimmelt", ("0", "", "verschimmelt"), []),
        ("K2-09 none alive. mould", ("0", "", ""), [("mould", "", "")]),
        ("🐜 K2-09 3 0", ("3", "0", ""), []),
        ("K2-09👑 3👑 0🐜", ("3", "0", ""), []),
        ("K2-09 3\ufe0f\u20e3 0\ufe0f\u20e3 🎉", ("3", "0", "🎉"), []),
        ("K2-09 3 0 🐜 fight 😱", ("3", "0", "😱"), [("fight", "", "")]),
        ("Anna 3", ("3", "", ""), []),
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
        "rest fine",
        "rest 3 0",
        "K2-07 end",
        "K2-07 end soon",
        "K2-07 queens-out given",
        "K2-07 handed-over",
        "8.7.",
        "8 July",
        "K2-07 -3 0",
        "K2-07 3 -1",
        "K2-07 1e3 0",
        "K2-07 3/0",
        "K2-07 2 queens dead",
        "K2-07 2 queens fighting",
        "K2-07 2 queens left",
        "K2-07 3q 0",
        "K2-07 3q 2q",
        "K2-07 dead?",
        "K2-07 dead worker",
        "K2-07 ca. 3 0",
        "K2-07 ~3",
        "K2-07 3 about 12",
        "K2-07 3 or 4",
        "K2-07 3 none",
        "K2-07 none",
        "K2-07 3 0 eggs?",
        "K2-07 3 0 eggs gone",
        "K2-07 3 0 none eggs",
        "K2-07 2 0 escaped",
        "K2-07 escaped",
        "K2-07 2 0 split",
        "K2-07 1 0 gave up",
        "K2-07 3 0 winter",
        "K2-07 dead",
        "K2-07 1 0 dead",
        "K2-07 end sold",
        "K2-07 end dead",
        "K2-07 3 0 queens-out 1 sold",
        "K2-07 2 1 queen dead",
        "K2-07 same",
        "K2-07 K2-08 3 0",
        "same",
        "all same",
        "all 3 0",
        "rest moved",
        "rest same moved",
        "rest winter-in eggs",
        "rest same 4",
        "rest same 0 0",
        "rest same escaped",
        "July 8",
        "8.7. K2-07 3 0",
        "2026-07-08 evening",
    ],
)
def test_what_is_not_certain_is_not_guessed(line: str) -> None:
    with pytest.raises(NotUnderstood):
        read_line(line, DAY)


BROOD_AND_FOOD = [
    ("K2-01 3 0 eggs", "eggs", "", ""),
    ("K2-01 3 0 Larvae.", "larvae", "", ""),
    ("K2-01 3 0, pupae, two pale ones", "pupae", "", "two pale ones"),
    ("K2-01 3 0 none", "none", "", ""),
    ("K2-01 0 0 none", "none", "", ""),
    ("K2-01 3 0 no brood yet", "none", "", "yet"),
    ("K2-01 3 0 EGGS", "eggs", "", ""),
    ("K2-01 3 0 larva", "larvae", "", ""),
    ("K2-01 3 0 eggs, larvae", "larvae", "", ""),
    ("K2-01 3 0 pupae and eggs", "pupae", "", ""),
    ("K2-01 3 0 eggs/larvae + pupae!", "pupae", "", ""),
    ("K2-01 3 eggs", "eggs", "", ""),
    ("K2-01 eggs", "eggs", "", ""),
    ("K2-01 - - eggs", "eggs", "", ""),
    ("K2-01 3 1 first worker, pupae", "pupae", "", ""),
    ("K2-01 3 1 pupae first worker", "pupae", "", ""),
    ("K2-01 3 0 (eggs)", "eggs", "", ""),
    ("K2-01 3 0 fed", "", "yes", ""),
    ("K2-01 3 0 larvae, fed honey", "larvae", "yes", "honey"),
    ("K2-01 3 0 not fed", "", "no", ""),
    ("K2-01 3 0 eggshell white", "", "", "eggshell white"),
    ("rest same eggs", "eggs", "", ""),
    ("rest same 0 none", "none", "", ""),
    ("rest same 0 fed", "", "yes", ""),
]


@pytest.mark.parametrize(("line", "brood", "fed", "note"), BROOD_AND_FOOD)
def test_brood_and_food_go_into_their_columns(line: str, brood: str, fed: str, note: str) -> None:
    check = read_line(line, DAY).check
    assert check is not None
    assert (check["brood"], check["fed"], check["note"]) == (brood, fed, note)
    queens = "same" if line.startswith("rest") else line.split()[1].strip("-,")
    assert check.get("queens_alive", "") == (queens if queens != "eggs" else "")


def test_every_stage_of_brood_is_understood_beside_an_event() -> None:
    for stage in words.BROOD:
        for text in (f"{stage}, mould in a corner", f"mould {stage} in a corner"):
            got = read_line(f"K2-01 3 0 {text}", DAY)
            assert got.check is not None
            assert (got.check["brood"], got.check["note"]) == (stage, "in a corner")
            assert [event["event"] for event in got.events] == ["mould"]


# A line that is refused, what its remedy proposes, and what the proposal is read as.
FOLLOWED = [
    ("K2-07 2 0 escaped", "K2-07 3 0 queens-out 1 escaped", ("queens-out", "1", "escaped")),
    ("K2-07 2 0 escaped", "K2-07 end escaped", ("end", "", "escaped")),
    ("K2-07 Escaped!", "K2-07 queens-out 1 escaped", ("queens-out", "1", "escaped")),
    ("K2-07 2 sold", "K2-07 3 queens-out 1 given", ("queens-out", "1", "given")),
    ("K2-07 2 0 preserved", "K2-07 3 0 queens-out 1 preserved", ("queens-out", "1", "preserved")),
    ("K2-07 1 0 split", "K2-07 2 0 queens-out 1 K2-30", ("queens-out", "1", "K2-30")),
    ("K2-07 gave up", "K2-07 end gave-up", ("end", "", "gave-up")),
    ("K2-07 0 0 spilled", "K2-07 end accident", ("end", "", "accident")),
    ("K2-07 winter", "K2-07 winter-in", ("winter-in", "", "")),
    ("K2-07 3 0 hibernation", "K2-07 winter-out", ("winter-out", "", "")),
    ("K2-07 end sold", "given", None),
    ("K2-07 end escape", "escaped", None),
    ("K2-07 end", "K2-07 end given", ("end", "", "given")),
    ("K2-07 queens-out given", "K2-07 queens-out 1 given", ("queens-out", "1", "given")),
    ("K2-07 dead", "K2-07 0 0", None),
    ("K2-07 3,0", "K2-07 3 0", None),
    ("K2-07 3/0", "K2-07 3 0", None),
    ("K2-07 3 queens fight", "K2-07 3 0", None),
    ("K2-07 3q 0", "K2-07 3 0", None),
    ("K2-07 3q 2q", "K2-07 3q 0w", None),
    ("K2-07 about 3 0", "K2-07 3 0", None),
    ("K2-07 2 1 queen dead", "K2-07 2 0", None),
    ("K2-07 3 first worker", "K2-07 3 1", None),
    ("K2-07 3 0 eggs?", "K2-07 3 0 eggs", None),
    ("K2-07 3 0 eggs gone", "K2-07 3 0 none brood-gone", ("brood-gone", "", "")),
    ("K2-07 3 none", "K2-07 3 0 none", None),
    ("K2-07 same", "rest same", None),
    ("same", "rest same", None),
    ("all same", "rest same", None),
    ("rest fine", "rest same", None),
    ("rest same 4", "rest same", None),
    ("rest moved", "all moved", ("moved", "", "")),
    ("rest same, moved", "all moved", ("moved", "", "")),
    ("K2-07 K2-08 3 0", "K2-07 3 0", None),
]


@pytest.mark.parametrize(("line", "proposal", "event"), FOLLOWED)
def test_what_a_remedy_proposes_is_understood(line: str, proposal: str, event: Any) -> None:
    with pytest.raises(NotUnderstood) as raised:
        read_line(line, DAY)
    assert proposal in raised.value.remedy
    if " " not in proposal:  # a word in place of another
        proposal = f"{line.rpartition(' ')[0]} {proposal}"
        event = ("end", "", proposal.rpartition(" ")[2])
    _, events = look(proposal)
    assert events == ([event] if event else [])


@pytest.mark.parametrize(
    ("line", "word"),
    [("larvea", "larvae"), ("egs", "eggs"), ("figth", "fight"), ("mold", ""), ("pupea", "pupae")],
)
def test_a_slip_of_the_pen_is_kept_as_a_note_and_told(line: str, word: str) -> None:
    got = read_line(f"K2-07 3 0 {line} there", DAY)
    assert got.check is not None
    if not word:
        assert got.doubts == ()
        return
    assert got.check["note"] == f"{line} there"
    assert f"K2-07 3 0 {word}" in got.doubts[0][1]
    _, findings = read_notes(f"{DAY}\nK2-07 3 0 {line} there".encode(), "checks-K2.txt")
    assert [(f.level, f.rule, f.row) for f in findings] == [("warning", "note-word", 2)]


@pytest.mark.parametrize(
    "note", ["light leak", "night look", "day 3", "more water", "seen from above", "legs lost"]
)
def test_a_plain_note_is_not_doubted(note: str) -> None:
    got = read_line(f"K2-07 3 0 {note}", DAY)
    assert got.check is not None
    assert (got.check["note"], got.doubts) == (note, ())


IDS = ("K2-07", "K2-07:", "- K2-07", "rest", "all", "same")
VOCABULARY = (
    *words.EVENTS,
    *words.BROOD,
    *words.BROOD_ALSO,
    *words.FED,
    *words.LEFT,
    *words.ENDED,
    *words.PARTED,
    *words.WINTER,
    *words.DIED,
    *words.END_WHY,
    *("first worker", "queens", "worker", "1", "0", "3+", "-", "?", ",", "and", "same", "K2-08"),
    *("calm", "Eggs.", "larvea", "(dry)", "no", "3/0", "2026-07-08", "8.7."),
)


def proposed(remedy: str) -> list[str]:
    """Whole lines that a remedy tells to write: from a founding's number to the end of a clause."""
    found = re.findall(
        r"(?:write|such as|so:|, |[a-z]: )\s?((?:K2-07|rest same|all) [^;.,:]*)", remedy
    )
    cut = [re.split(r" (?:if|or|for|and|as|alone) ", text + " ")[0].strip() for text in found]
    return [line for line in cut if line.split()[-1] not in ("all", "K2-07")]


def test_no_line_of_these_words_is_refused_with_a_line_that_is_refused(rng) -> None:
    told = 0
    for _ in range(4000):
        counts = rng.choice(["0", "1", "3", "5+", "-"], rng.integers(0, 3))
        line = " ".join([rng.choice(IDS), *counts, *rng.choice(VOCABULARY, rng.integers(0, 4))])
        try:
            got = read_line(line, DAY)
            remedies = [remedy for _, remedy in got.doubts]
        except NotUnderstood as why:
            remedies = [why.remedy]
        for proposal in (text for remedy in remedies for text in proposed(remedy)):
            read_line(proposal, DAY)
            told += 1
    assert told > 1000


def test_lines_below_a_date_that_is_not_understood_have_no_date() -> None:
    text = "2026-07-08\nK2-01 1 0\n2026-07-09 evening\nK2-01 1 0\n12. Juli\nK2-01 1 0\n"
    tables, findings = read_notes(text.encode(), "checks-K2.txt")
    assert tables[0].rows.tolist() == [2]
    assert [f.row for f in findings] == [3, 4, 5, 6]


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
    needs = {"handed-over": " K3", "end": " given", "queens-out": " 1", "queens-in": " 1"}
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
