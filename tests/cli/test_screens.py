"""Every screen fits its lines, at 80 signs and at 60, and nothing is cut."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from made_ours import invented

import cohort.power.run as power_run
from cohort.base.display import HYPHEN, SOFT_TIE, TIE, tied
from cohort.cli import main
from cohort.cli.say import as_lists, column_widths, say, table
from cohort.power.replicate import Replicate

DEMO = Path(__file__).parents[2] / "data" / "demo"
STEER = re.compile(r"\x1b\[[0-9;?]*[a-zA-Z]")


@pytest.fixture(params=[80, 60])
def wide(request, monkeypatch):
    """A terminal so many signs wide."""
    monkeypatch.setenv("COLUMNS", str(request.param))
    monkeypatch.setenv("TERM", "xterm-256color")
    monkeypatch.setattr("cohort.cli.say.on_terminal", lambda: True)
    return request.param


def screen(capsys, *words):
    with pytest.raises(SystemExit) as end:
        main([str(word) for word in words])
    return end.value.code or 0, STEER.sub("", capsys.readouterr().out)


def longest(text):
    return max(len(line.rstrip()) for line in text.splitlines())


def flat(text):
    return " ".join(re.sub(r"[│┌┐└┘├┤┬┴┼─]", " ", text).split())


# --- tables -------------------------------------------------------------------------------------


def test_the_widest_column_gives_way_first_and_words_stay_whole():
    rows = [("id", "a long heading"), ("K2-07", "one two three four")]
    assert column_widths(rows, 40) == [5, 18]
    assert column_widths(rows, 15) == [5, 10]
    assert column_widths(rows, 12) == [5, 7]  # "heading" is whole
    assert column_widths(rows, 11) is None


def test_what_is_tied_stays_together_and_a_soft_hyphen_parts_a_heading():
    assert column_widths([("day",), (tied("12 Jul"),)], 5) is None
    assert column_widths([("day",), ("12 Jul",)], 5) == [5]
    assert column_widths([(f"König{HYPHEN}innen",), ("3",)], 10) == [10]
    assert column_widths([(f"König{HYPHEN}innen",), ("3",)], 6) == [6]  # with its hyphen
    assert column_widths([(f"König{HYPHEN}innen",), ("3",)], 5) is None


def test_no_table_is_wider_than_its_line_and_none_loses_a_sign(wide, capsys):
    heads = ("founding", "kind", "what is to be done about it", "chance")
    rows = [
        (tied("K2-07"), "Temnothorax", "look at the tube and count again " * 3, ">99"),
        (tied("K2-10999"), f"Lasius{SOFT_TIE}{tied('(7 to 12)')}", "nothing", "<1"),
    ]
    table(heads, rows, title="A title")
    out = STEER.sub("", capsys.readouterr().out)
    assert longest(out) <= wide
    told = flat(out)
    for word in ("K2-07", "K2-10999", "(7 to 12)", ">99", "<1", "founding", "chance"):
        assert word in told, word
    assert told.count("again") == 3
    assert TIE not in out
    assert SOFT_TIE not in out


def test_where_nothing_fits_side_by_side_a_row_becomes_a_list():
    heads = ("id", "kind", f"wahr{HYPHEN}scheinlich")
    told = list(as_lists(heads, [("K2-07", "Lasius", "9")], 40))
    assert told == ["K2-07", "  kind: Lasius", "  wahrscheinlich: 9"]


def test_plain_columns_without_a_terminal(capsys, monkeypatch):
    monkeypatch.delenv("COLUMNS", raising=False)
    table(("a", "b"), [("1", "[bold]x[/bold]"), ("22", ":ant:")])
    assert capsys.readouterr().out == "a   b\n1   [bold]x[/bold]\n22  :ant:\n"


def test_sentences_are_broken_only_where_a_line_has_an_end(capsys, monkeypatch):
    monkeypatch.delenv("COLUMNS", raising=False)
    long = "word " * 40 + tied("12 Jul")
    say([long])
    assert capsys.readouterr().out == long.replace(TIE, " ") + "\n"
    monkeypatch.setenv("COLUMNS", "60")
    say([long])
    lines = capsys.readouterr().out.splitlines()
    assert max(map(len, lines)) <= 60
    assert lines[-1].endswith("12 Jul")


# --- commands -----------------------------------------------------------------------------------


@pytest.mark.parametrize("language", ["en", "de", "es", "fr"])
def test_due_fits(wide, language, capsys):
    code, out = screen(
        capsys, "due", DEMO, "--on", "2025-08-01", "--keeper", "K4", "--language", language
    )
    assert code == 0
    assert longest(out) <= wide
    told = flat(out)
    assert all(f"K4-{number:02d}" in told for number in (1, 2, 3, 4, 5, 7, 8, 16))
    week = {"en": "Look this week", "de": "Diese Woche kontrollieren", "es": "Revisar esta semana",
            "fr": "À contrôler cette semaine"}  # fmt: skip
    assert week[language] in told


@pytest.mark.parametrize("want", ["one", "many", "workers"])
@pytest.mark.parametrize("language", ["en", "de", "es", "fr"])
def test_plan_fits(wide, language, want, capsys):
    code, out = screen(
        capsys, "plan", "--queens", 7, "--genus", "new", "--want", want, "--language", language
    )
    assert code == 0
    assert longest(out) <= wide
    if wide == 80:  # no division is broken over two lines
        assert "│ 3 + 2 + 1 + 1" in out
    else:
        assert "3 + 2" in flat(out)


def test_audit_fits_and_says_where_to_begin(wide, folder, capsys):
    folder.put("foundings.csv", "+K2-03,Lasuis,2026-07-06,2,K2\n")
    folder.put("checks.csv", "+K2-02,2026-07-15,4,0\n+K2-02,2026-07-16,5,0\n")
    code, out = screen(capsys, "audit", folder.path, "--today", "2026-07-20")
    assert code == 1
    assert longest(out) <= wide
    told = flat(out)
    assert "file errors warnings notes" in told
    assert re.search(r"checks\.csv \d \d \d", told)
    assert re.search(r"foundings\.csv 1 0 0", told)


def test_begin_and_the_helps_fit(wide, tmp_path, capsys):
    code, out = screen(capsys, "begin", tmp_path / "s", "--keepers", 2)
    assert code == 0
    assert longest(re.sub(r"\S{50,}", "", out)) <= wide  # a path is not broken
    for command in ("due", "plan", "audit", "power", "allot", "begin", "log", "bring", "compare"):
        code, out = screen(capsys, command, "--help")
        assert code == 0
        assert longest(out) <= wide, command


@pytest.mark.parametrize("language", ["en", "de", "es", "fr"])
def test_power_fits(wide, language, capsys, monkeypatch):
    def season(wish, foundings, seed):
        """A season without a fit; ranges that are near -0.3."""
        middle = -0.3 + seed / 100
        low, high = middle - 0.2, middle + 0.2
        found = (middle, low, high, -0.3, True, True, 0.9, 0.7, 1.0, 0.1)
        return Replicate(seed, foundings, *found)

    monkeypatch.setattr(power_run, "replicate", season)
    code, out = screen(
        capsys, "power", "--foundings", "24,48", "--seasons", 3, "--width", 0.1,
        "--language", language,
    )  # fmt: skip
    assert code == 0
    assert longest(out) <= wide
    told = flat(out)
    assert re.search(r"\b24 3 100( \+- \d+)? 0 ", told)
    assert "+- 0" in told
    assert "Schoenfeld 1981" in told


def test_what_compare_says_in_the_end_fits(wide, capsys):
    from cohort.cli.club import _say_verdicts

    made = invented()
    _say_verdicts(made)
    out = capsys.readouterr().out
    assert longest(out) <= wide
    assert out.startswith("The same queens, together or each alone")
    assert out.count("\n- ") >= 1


def test_allot_fits(wide, folder, capsys):
    code, out = screen(
        capsys, "allot", folder.path, "--queens", "Lasius=9,Messor=4", "--keeper", "K2", "--seed", 4
    )
    assert code == 0
    assert longest(out) <= wide
    assert "3 together" in out  # not broken
    assert flat(out).count("random") == 7
