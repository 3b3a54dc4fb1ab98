"""A sign in a sheet that steers a terminal reaches no page, letter, picture or message."""

from __future__ import annotations

import contextlib
import datetime as dt
import io
import re

import early
import pytest

from cohort.base.errors import printable
from cohort.cli import main

RED, RIGHT_TO_LEFT = "\x1b[31m", "\u202e"
STEERS = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]")
ON = "2025-06-20"
LAST = dt.date(2026, 12, 31)


class Terminal(io.StringIO):
    """What a command writes; says it is a terminal, for to others typer takes such signs away."""

    def isatty(self) -> bool:
        return True


@pytest.fixture(scope="module")
def odd(tmp_path_factory):
    """A study whose ids, keepers and words bear such signs; one event of a founding not there."""
    ids = [(f"K1-{i:02d}{RED}", "Lasius", early.day(0), q, f"K1{RED}{RIGHT_TO_LEFT}")
           for i, q in enumerate((1, 1, 3, 3), 1)]  # fmt: skip
    sheets = {"foundings": ids, "checks": early.looks(ids, (7, 1.0, 0), (14, 1.0, 0))}
    folder = early.write_study(sheets, tmp_path_factory.mktemp("odd") / "study")
    (folder / "events.csv").write_text(
        f"founding,date,event,number,other,note\nK1-01{RED},2025-06-05,{RED}odd,,,{RED}\n", "utf-8"
    )
    return folder


def said(*words: str) -> str:
    out = Terminal()
    written_to = contextlib.redirect_stdout(out), contextlib.redirect_stderr(out)
    with written_to[0], written_to[1], pytest.raises(SystemExit):
        main(list(words))
    return out.getvalue()


@pytest.mark.parametrize(
    "words",
    [
        ("audit", "STUDY"),
        ("audit", "STUDY", "--every"),
        ("compare", "STUDY", "--out", "OUT", "--quiet"),
        ("due", "STUDY", "--on", ON),
    ],
    ids=" ".join,
)
def test_no_message_bears_one(words, odd, tmp_path, monkeypatch):
    monkeypatch.setenv("TERM", "dumb")
    place = {"STUDY": str(odd), "OUT": str(tmp_path / "out")}
    text = said(*(place.get(word, word) for word in words))
    assert "odd" in text
    assert not STEERS.search(text), repr(text)


def test_no_letter_bears_one(odd, tmp_path):
    said("audit", str(odd), "--letters", str(tmp_path))
    letters = [path.read_text("utf-8") for path in tmp_path.glob("letter-*.txt")]
    assert any("odd" in letter for letter in letters)
    for letter in letters:
        assert not STEERS.search(letter)


def test_no_page_bears_one(odd, tmp_path):
    from cohort.audit import examine
    from cohort.comparison import compare
    from cohort.figures.material import Material
    from cohort.newsletter import write_keeper_page, write_newsletter
    from cohort.newsletter.keeper import findings_of, known
    from cohort.sheets.folder import read_folder
    from cohort.study import read_study

    made = compare(read_study(odd, without_faulty=True, today=LAST))
    material = Material(made.results, made.history, made.study)
    write_newsletter(material, tmp_path)
    examined = [examine(read_folder(odd), LAST)]
    sign = known(examined)[0]
    assert RED in sign
    own = write_keeper_page(
        material, tmp_path, sign, findings_of(sign, examined), on=dt.date.fromisoformat(ON)
    )
    assert "odd" in own.read_text("utf-8")
    for path in [own, *tmp_path.glob("*.html"), *tmp_path.glob("*.txt"), *tmp_path.rglob("*.svg")]:
        assert not STEERS.search(path.read_text("utf-8")), path.name


def test_line_breaks_and_narrow_blanks_stay():
    text = "a\nb\tc\u202f1\u00a0000 Ü"
    assert printable(text) == text
    assert printable("a\x1b[1mb\rc\u202ed") == r"a\x1b[1mb\x0dc\u202ed"
