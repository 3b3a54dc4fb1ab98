"""Check notes in German, French and Spanish: read as the English words, and refused as they are."""

import pytest

from cohort.sheets.note_words import NotUnderstood
from cohort.sheets.notes import read_line
from cohort.terms import tongues, words

DAY = "2026-07-08"


@pytest.mark.parametrize(
    ("line", "brood", "event"),
    [
        ("3 0 Larven", "larvae", ""),
        ("3 0 œufs", "eggs", ""),
        ("3 0 oeufs", "eggs", ""),
        ("3 0 huevos", "eggs", ""),
        ("3 0 keine Brut", "none", ""),
        ("3 0 sin cria", "none", ""),
        ("3 0 Puppen, Kampf", "pupae", "fight"),
        ("3 0 überflutet", "", "flood"),
        ("3 0 ueberflutet", "", "flood"),
        ("3 0 moisissure", "", "mould"),
        ("3 0 pelea", "", "fight"),
        ("2 1 erste Arbeiterin", "", ""),
        ("2 1 premiere ouvriere", "", ""),
    ],
)
def test_words_of_other_languages_are_those_of_the_sheets(line, brood, event):
    got = read_line(f"K2-07 {line}", DAY)
    assert got.check["brood"] == brood
    assert [one["event"] for one in got.events] == ([event] if event else [])
    assert got.check["note"] == ""
    assert got.doubts == ()


@pytest.mark.parametrize("line", ["rest gleich", "reste pareil", "resto igual", "rest unverändert"])
def test_the_rest_can_be_told_in_every_language(line):
    got = read_line(line, DAY)
    assert (got.check["founding"], got.check["queens_alive"]) == (words.REST, words.SAME)


@pytest.mark.parametrize(
    "line",
    [
        "3 0 entkommen",  # how many, and where the count was made, only the keeper knows
        "3 0 échappée",
        "3 0 regalada",
        "3 0 Larven weg",
        "3 0 larves disparues",
        "3 0 getrennt",
        "3 0 Winterruhe",
        "3 0 aufgegeben",
        "tot",
        "3 0 erste Arbeiterin",
    ],
)
def test_what_is_refused_in_english_is_refused_in_every_language(line):
    with pytest.raises(NotUnderstood) as why:
        read_line(f"K2-07 {line}", DAY)
    assert why.value.remedy


def test_no_word_means_two_things():
    tables = (tongues.BROOD, tongues.FED, tongues.EVENTS, tongues.LEFT, tongues.ENDED)
    lists = (tongues.FIRST_WORKER, tongues.PARTED, tongues.WINTER, tongues.DIED)
    every = [word for table in (*tables, *lists) for word in table]
    assert len(every) == len(set(every))
    english = {*words.EVENTS, *words.BROOD, *words.END_WHY, *words.LEFT_OUT}
    assert set(every) & english <= {"males"}
    assert set(tongues.BROOD.values()) == set(words.BROOD)
    assert set(tongues.EVENTS.values()) <= set(words.EVENTS)
    assert set(tongues.LEFT.values()) | set(tongues.ENDED.values()) <= set(words.END_WHY)
