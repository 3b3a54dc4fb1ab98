"""The command `cohort audit`: exit codes, plain messages, letters, and a quick start."""

import json
import os
import re
import subprocess
import sys

import pytest

from cohort.cli import main


def run(capsys, *arguments: str) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as stopped:
        main(list(arguments))
    out, err = capsys.readouterr()
    return int(stopped.value.code or 0), out, err


def audit(capsys, folder, *more: str) -> tuple[int, str, str]:
    return run(capsys, "audit", str(folder.path), "--today", "2026-07-15", *more)


def test_clean_study_is_exit_0(capsys, folder):
    code, out, err = audit(capsys, folder)
    assert code == 0
    assert out == "2 foundings, 4 looks in 2 files: nothing to correct.\n"
    assert err == ""


# The failures people meet, each with a piece of the one message that is told.
FAULTS = {
    "count rises": (
        {"checks.csv": "+K2-02,2026-07-15,4,0\n"},
        "checks.csv, row 6, queens_alive",
        "4 queens alive, but 3 were alive on",
    ),
    "misspelt genus": (
        {"foundings.csv": "+K2-03,Lasuis,2026-07-06,2,K2\n"},
        "foundings.csv, row 4, genus",
        "Did you mean 'Lasius'?",
    ),
    "misspelt arm": (
        {
            "foundings.csv": "founding,genus,started,queens,arm\n"
            "K2-01,Lasius,2026-07-04,1,singel\nK2-02,Lasius,2026-07-04,3,\n"
        },
        "foundings.csv, row 2, arm",
        "Did you mean 'single'?",
    ),
    "date that could be two": (
        {"checks.csv": "+K2-02,03/04/2026,3,0\n"},
        "checks.csv, row 6, date",
        "'03/04/2026' could be 2026-04-03 (day first) or 2026-03-04 (month first).",
    ),
    "empty sheet": ({"checks.csv": ""}, "checks.csv", "The file is empty"),
}


@pytest.mark.parametrize("name", FAULTS)
def test_an_error_is_exit_1_and_one_plain_finding(capsys, folder, name):
    files, where, what = FAULTS[name]
    for file, text in files.items():
        folder.put(file, text)
    code, out, err = audit(capsys, folder)
    assert code == 1
    assert out.count("ERROR") == 1
    assert where in out
    assert what in " ".join(out.split())
    assert "Traceback" not in out + err


def test_missing_folder_is_exit_1(capsys, tmp_path):
    code, out, err = run(capsys, "audit", str(tmp_path / "nowhere"))
    assert (code, out) == (1, "")
    assert err.startswith("There is no folder")
    assert err.count("\n") == 1


@pytest.mark.parametrize(
    "arguments",
    [["audit"], ["audit", "x", "--nothing"], ["nothing"], ["audit", "x", "--today", "soon"]],
)
def test_misuse_is_exit_2(capsys, arguments):
    code, _, err = run(capsys, *arguments)
    assert code == 2
    assert "Traceback" not in err


def test_warnings_count_when_strict(capsys, folder):
    folder.put("events.csv", "founding,date,event\nK2-02,2026-07-12,winter-out\n")
    assert audit(capsys, folder)[0] == 0
    code, out, _ = audit(capsys, folder, "--strict")
    assert code == 1
    assert "WARNING" in out


def test_notes_never_count(capsys, folder):
    folder.put("checks.csv", "+K2-02,2026-07-14,3,0\n")
    code, out, _ = audit(capsys, folder, "--strict")
    assert code == 0
    assert "NOTE" in out


def test_letters_tell_each_keeper_what_to_mend(capsys, folder, tmp_path):
    folder.put("checks.csv", "+K2-02,2026-07-15,4,0\n")
    code, out, _ = audit(capsys, folder, "--letters", str(tmp_path / "letters"))
    assert code == 1
    text = (tmp_path / "letters" / "letter-K2.txt").read_text("utf-8")
    assert "To keeper K2" in text
    assert "checks.csv, row 6, queens_alive" in text
    assert [path.name for path in (tmp_path / "letters").iterdir()] == ["letter-K2.txt"]
    assert "Wrote" in out


IN_A_LANGUAGE = {
    "de": ("FEHLER", "Zeile 6", "4 lebende Königinnen, aber 3 lebten", "1 Fehler.", "An Halter K2"),
    "fr": ("ERREUR", "ligne 6", "4 reines en vie, mais 3 étaient", "1 erreur.", "À l’éleveur K2"),
    "es": ("ERROR", "fila 6", "4 reinas vivas, pero 3 vivían", "1 error.", "Para el cuidador K2"),
}


@pytest.mark.parametrize("language", IN_A_LANGUAGE)
def test_the_screen_and_the_letter_speak_the_language_asked_for(
    capsys, folder, tmp_path, language, monkeypatch
):
    monkeypatch.setenv("COLUMNS", "80")
    folder.put("checks.csv", "+K2-02,2026-07-15,4,0\n")
    level, row, what, count, to = IN_A_LANGUAGE[language]
    more = ("--language", language, "--letters", str(tmp_path / "letters"))
    code, out, _ = audit(capsys, folder, *more)
    assert code == 1
    text = (tmp_path / "letters" / "letter-K2.txt").read_text("utf-8")
    for said in (out, text):
        assert said.count(f"{level} ") == 1
        assert f"checks.csv, {row}, queens_alive (K2-02)" in said
        assert what in said
        assert max(map(len, said.splitlines())) <= max(80, len(str(tmp_path)) + 60)
    assert count in out
    assert text.startswith(f"{to}\n")
    assert not re.search(r"\b(row|were|Please|the|Wrote|foundings,)\b", out + text)


def test_json_is_in_the_language_too_and_another_language_is_misuse(capsys, folder):
    folder.put("checks.csv", "+K2-02,2026-07-15,4,0\n")
    _, out, _ = audit(capsys, folder, "--json", "--language", "fr")
    (found,) = json.loads(out)["findings"]
    assert found["what"].startswith("4 reines en vie")
    assert (found["rule"], found["level"]) == ("count-rises", "error")
    code, _, err = audit(capsys, folder, "--language", "xx")
    assert code == 2
    assert "'xx' is no language of this command." in " ".join(err.replace("│", " ").split())


def test_letters_into_a_file_are_one_plain_message(capsys, folder, tmp_path):
    folder.put("checks.csv", "+K2-02,2026-07-15,4,0\n")
    (tmp_path / "taken").write_text("x", "utf-8")
    code, _, err = audit(capsys, folder, "--letters", str(tmp_path / "taken"))
    assert code == 1
    assert "taken" in err
    assert err.count("\n") == 1


def test_every_shows_each_finding(capsys, folder):
    folder.put("checks.csv", "+K2-02,2026-07-15,4,x\nK2-01,2026-07-15,1,y\n")
    assert audit(capsys, folder)[1].count("whole number") == 1
    assert audit(capsys, folder, "--every")[1].count("whole number") == 2


def test_help_shows_the_groups(capsys):
    code, out, _ = run(capsys, "--help")
    assert code == 0
    assert "For keepers:\n  audit" in out
    said = " ".join(out.split())
    assert "overdue foundings, groups at risk." in said  # whole, on two lines
    assert out.count("...") == out.splitlines()[0].count("...")  # none is cut


def test_help_of_a_group_of_commands_tells_the_whole_sentence(capsys):
    code, out, _ = run(capsys, "print", "--help")
    assert code == 0
    assert "lots to uncover one by one." in " ".join(out.split())


LIGHT = """
import sys
from cohort.cli import main
try:
    main({arguments!r})
except SystemExit as stopped:
    assert not stopped.code, stopped.code
heavy = [name for name in {heavy!r} if name in sys.modules]
assert not heavy, heavy
"""


@pytest.mark.parametrize(
    ("arguments", "heavy"),
    [
        (
            ["--help"],
            ["pandas", "numpy", "pymc", "arviz", "matplotlib", "numba", "scipy", "rich", "babel"],
        ),
        (
            ["audit", "STUDY", "--today", "2026-07-15"],
            ["pymc", "arviz", "matplotlib", "numba", "scipy", "lifelines"],
        ),
    ],
)
def test_light_commands_load_no_heavy_library(folder, arguments, heavy):
    arguments = [str(folder.path) if word == "STUDY" else word for word in arguments]
    script = LIGHT.format(arguments=arguments, heavy=heavy)
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr


def test_every_command_and_option_is_told():
    import typer

    from cohort.cli import build

    command = typer.main.get_command(build())
    for name, sub in command.commands.items():
        assert sub.help, name
        for parameter in sub.params:
            assert getattr(parameter, "help", None), (name, parameter.name)


@pytest.mark.parametrize("year", ["0001", "1949", "2151", "2263", "9999"])
@pytest.mark.parametrize(
    "words",
    [["audit", "STUDY", "--today"], ["due", "STUDY", "--on"], ["simulate", "NEW", "--winter"]],
    ids=lambda words: words[0],
)
def test_a_day_beyond_all_calendars_is_misuse(capsys, folder, tmp_path, words, year):
    named = {"STUDY": str(folder.path), "NEW": str(tmp_path / "new")}
    code, _, err = run(capsys, *(named.get(word, word) for word in words), f"{year}-01-01")
    assert code == 2
    assert f"the year {int(year)} cannot be right" in " ".join(err.split())


def test_a_setting_that_no_command_could_read_is_not_written(capsys, tmp_path):
    for setting, why in (
        ("ends=2263-01-01", "the year 2263 cannot be right"),
        ("horizon_days=99999999999999999999", "is not a whole number"),
        ("horizon_days=9999", "is not between 1 and 1500"),
    ):
        code, _, err = run(capsys, "begin", str(tmp_path / "new"), "--set", setting)
        assert code == 1
        assert why in err
        assert not (tmp_path / "new").exists()


def test_what_a_terminal_cannot_show_is_spelled_out_and_stops_nothing(folder):
    """Output to a terminal of Windows-1252, with a sheet whose name is no UTF-8."""
    name = os.fsdecode("checks-Kä.csv".encode("latin-1")) if os.name == "posix" else "checks-K.csv"
    (folder.path / name).write_text("founding,date,queens_alive,workers\nK2-01,ż,1,0\n", "utf-8")
    done = subprocess.run(
        [sys.executable, "-c", "from cohort.cli import main; main()", "audit", str(folder.path)],
        capture_output=True,
        text=True,
        env={**os.environ, "PYTHONIOENCODING": "cp1252"},
    )
    assert done.returncode == 1
    assert "Traceback" not in done.stderr
    assert "'\\u017c' is not a date" in done.stdout


def test_too_little_memory_is_one_plain_message(capsys, folder, monkeypatch):
    def full(*_: object) -> None:
        raise MemoryError

    monkeypatch.setattr("cohort.audit.examine", full)
    code, _, err = audit(capsys, folder)
    assert code == 1
    assert err.startswith("There is not enough memory")
