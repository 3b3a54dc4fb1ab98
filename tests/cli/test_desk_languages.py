"""`log`, `pack`, `merge` and `bring` in the language of a keeper, refusals too."""

from __future__ import annotations

import datetime as dt
import re
from pathlib import Path

import pytest

from cohort.cli import main
from cohort.terms.voice import languages

DAY = (dt.date.today() - dt.timedelta(days=3)).isoformat()
HEADS = "founding,genus,started,queens,keeper\n"
ENGLISH = re.compile(
    r"\b(the|were|is|are|not|row|rows|nothing|written|wrote|look|queens|here|and|of|would)\b",
    re.IGNORECASE,
)
TONGUES = [language for language in languages() if language != "en"]


@pytest.fixture
def study(tmp_path: Path) -> Path:
    place = tmp_path / "ours"
    place.mkdir()
    (place / "foundings-K1.csv").write_text(
        HEADS + "K1-01,Lasius,2026-05-01,3,K1\nK1-02,Lasius,2026-05-01,1,K1\n", "utf-8"
    )
    return place


@pytest.fixture
def sent(tmp_path: Path) -> Path:
    place = tmp_path / "theirs"
    place.mkdir()
    (place / "foundings-K1.csv").write_text(HEADS + "K1-01,Messor,2026-05-03,3,K1\n", "utf-8")
    (place / "checks-K1.csv").write_text("founding,date,queens_alive\nK1-01,2026-05-09,3\n")
    (place / "foundings-K2.csv").write_text(HEADS + "K2-01,Messor,2026-05-01,2,K2\n", "utf-8")
    (place / "study.toml").write_text("horizon_days = 90\n")
    return place


@pytest.fixture
def said(capsys, tmp_path):
    """What a command says, names of files and quoted words left out."""

    def run(*words: object) -> tuple[int, str]:
        capsys.readouterr()
        with pytest.raises(SystemExit) as end:
            main([str(word) for word in words])
        got = capsys.readouterr()
        told = " ".join((got.out + got.err).split()).replace(str(tmp_path), "")
        return int(str(end.value.code)), told

    return run


def foreign(told: str) -> str:
    """A text without what stays as it is: commands, words of the sheets, names of files."""
    return re.sub(r"cohort \w+[^.]*|--[\w-]+|\S+\.\w+|/\S+|\bUTF-8\b|\brest\b", " ", told)


@pytest.mark.parametrize("language", TONGUES)
def test_no_english_is_left_in_what_is_said(language, study, sent, said, tmp_path) -> None:
    speak = ("--language", language)
    told = []
    for words in (
        ("log", study, "K1-01", "--alive", 2, "--workers", 0, "--date", DAY),
        ("log", study, "K1-01", "--alive", 2, "--workers", 0, "--date", DAY),
        ("log", study, "K1-01", "--alive", 7, "--date", DAY),
        ("log", study, "K1-1x", "--alive", 7, "--date", DAY),
        ("log", study, "--correct", "K1-01", DAY, "--alive", 2),
        ("log", study, "--correct", "K1-02", DAY, "--alive", 1),
        ("log", study, "--correct", "K1-01", "2026-05-02", "--alive", 1),
        ("log", study, "--correct", "K1-01", "31.31.2026", "--alive", 1),
        ("log", study, "--correct", "rest", DAY, "--alive", 1),
        ("log", study, "--correct", "K1-01", DAY, "--photo", "x.gif"),
        ("log", study, "--correct", "K1-01", DAY, "--photo", "x.png"),
        ("log", study, "--undo", "--keeper", "K2"),
        ("log", study, "--undo"),
        ("log", study, "--undo"),
        ("pack", sent, "--out", tmp_path / "sent.zip"),
        ("merge", study, tmp_path / "sent.zip"),
        ("merge", study, tmp_path / "sent.zip"),
        ("merge", study, study),
        ("merge", study, tmp_path / "none"),
        ("merge", tmp_path / "none", sent),
    ):
        code, text = said(*words, *speak)
        assert code in (0, 1), (words, text)
        assert text
        assert not ENGLISH.search(foreign(text)), (words, text)
        told.append(text)
    assert len(set(told)) >= len(told) - 2  # a founding asked for twice


TABLES = {
    "good": "tube,ant,housed,queens,last check,alive,nest,1 Aug 2026\n"
    "A,Lasius niger,2026-07-04,3,2026-07-20,2,vial,2 0\nB,Messor,2026-07-05,1,,,shoe,1 ?\n",
    "faulty": "tube,ant,housed,queens,state,workers now,owner\n"
    "A,Lasius,,3,maybe,4,Ann\nB,,2026-07-05,two,alive,4,Ann\nC,Messor,2026-07-05,1,alive,,Ann\n"
    "C,Lasius,2026-07-05,1,alive,,Ann\n",
    "empty": "tube,ant,housed,queens\n",
    "unknown": "aaa,bbb\n1,2\n",
    "under": "tube,ant,housed,queens,2026-08-01\nA,Lasius,2026-07-04,3,2\n",
    "days": "tube,ant,housed,queens,4.7.,11.7.\nA,Lasius,2026-07-04,3,2 0,2 0\n",
}


@pytest.mark.parametrize("language", TONGUES)
def test_bring_says_all_of_it_in_the_language(language, study, said, tmp_path) -> None:
    speak, told = ("--language", language, "--keeper", "K4", "--failed", "all"), {}
    for name, text in TABLES.items():
        file = tmp_path / f"{name}.csv"
        file.write_text(text, "utf-8")
        code, told[name] = said("bring", file, study, *speak)
        assert code in (0, 1)
    code, told["open"] = said("bring", tmp_path / "good.csv", study, "--language", language)
    code, told["done"] = said("bring", tmp_path / "good.csv", study, *speak, "--write")
    assert code == 0, told["done"]
    code, told["again"] = said("bring", tmp_path / "good.csv", study, *speak, "--write")
    assert code == 1
    grown, row = tmp_path / "grown" / "good.csv", TABLES["good"].replace("1 Aug", "8 Aug")
    grown.parent.mkdir()
    for name, text, write, ends in (
        ("grown", row, (), 0),
        ("in", row, ("--write",), 0),
        ("old", row.replace("niger", "flavus"), ("--write",), 0),
        ("other", row.replace("Messor", "Lasius"), (), 1),
        ("names", f"{row}two counts: queens workers,,,,,,,\n", (), 0),
    ):
        grown.write_text(text, "utf-8")
        code, told[name] = said("bring", grown, study, *speak, *write)
        assert code == ends, (name, told[name])
    code, told["refused"] = said("bring", tmp_path / "faulty.csv", study, *speak, "--write")
    assert code == 1
    code, told["missing"] = said("bring", tmp_path / "good.csv", tmp_path / "none", *speak)
    mapping = next((study / "brought").glob("under-*.toml"))
    mapping.write_text(mapping.read_text("utf-8").replace('"started"', '"strated"'), "utf-8")
    code, told["mapping"] = said("bring", tmp_path / "under.csv", study, *speak)
    assert code == 1
    fields = r"\b(queens|queens_left|workers|last_look|genus or kind|look|look_queens)\b|'[^']*'"
    for name, text in told.items():
        assert text, name
        english = ENGLISH.search(re.sub(fields, " ", foreign(text)))
        assert not english, (name, english, text)


def test_a_few_of_them_word_by_word(study, sent, said) -> None:
    code, told = said("log", study, "--correct", "K1-01", DAY, "--alive", 2, "--language", "de")
    assert (code, told) == (
        1,
        f"Am {DAY} gibt es keine Kontrolle von K1-01, die zu berichtigen wäre. Es wurde nichts "
        "geschrieben. Sie wurde noch nie kontrolliert; die erste Kontrolle kommt ohne --correct "
        "dazu.",
    )
    code, told = said("log", study, "--undo", "--keeper", "K1", "--language", "es")
    assert told.startswith("De K1 no hay ninguna entrada que deshacer")
    code, told = said("merge", study, sent, "--language", "fr")
    assert code == 1
    assert "CONFLIT dans foundings : K1-01" in told.replace("\u00a0", " ")
    assert "1 conflit : cette ligne n’a pas été écrite. 1 ligne qui en dépend attend aussi." in (
        told.replace("\u00a0", " ")
    )
    code, told = said("log", study, "K1-01", "--alive", 9, "--date", DAY, "--language", "de")
    assert code == 1
    assert told.startswith("Es wurde nichts geschrieben. K1-01, queens_alive: ")
    assert said("log", study, "--undo", "--language", "xx")[0] == 2


def test_english_is_as_it_was(study, said) -> None:
    _, told = said("log", study, "K1-01", "--alive", 9, "--date", DAY)
    assert told.startswith("Nothing was written. K1-01, queens_alive: ")
    _, plain = said("log", study, "K1-01", "--alive", 9, "--date", DAY, "--language", "en")
    assert plain == told
