"""The commands due, plan and power at the keyboard: exit codes and plain answers."""

import json
import subprocess
import sys

import pytest

from cohort.cli import main


def run(capsys, *arguments):
    """Exit code, standard output and standard error of a command."""
    with pytest.raises(SystemExit) as end:
        main([str(a) for a in arguments])
    told = capsys.readouterr()
    return end.value.code or 0, told.out, told.err


def flat(text):
    """Text without the frame and the line ends that the terminal put in."""
    return " ".join(text.replace("│", " ").split())


def test_due_prints_tables_and_the_line_that_nothing_is_ended(folder, capsys):
    code, out, _ = run(capsys, "due", folder.path, "--on", "2026-07-20")
    assert code == 0
    assert "Look today" in out
    assert "K2-01" in out
    assert "No founding should be ended" in out
    assert "what is published of other ants alone" in out


def test_due_as_json_is_json_alone(folder, capsys):
    code, out, _ = run(capsys, "due", folder.path, "--on", "2026-07-20", "--json")
    assert code == 0
    assert {row["founding"] for row in json.loads(out)["looks"]} == {"K2-01", "K2-02"}


def test_due_writes_a_calendar_and_can_be_for_one_keeper(folder, capsys, tmp_path):
    book = tmp_path / "due.ics"
    code, out, _ = run(
        capsys, "due", folder.path, "--on", "2026-07-20", "--calendar", book, "--keeper", "k2"
    )
    assert code == 0
    assert "Wrote" in out
    assert book.read_bytes().startswith(b"BEGIN:VCALENDAR")
    code, _, err = run(capsys, "due", folder.path, "--on", "2026-07-20", "--keeper", "K9")
    assert code == 2
    assert "no open founding of keeper 'K9'" in flat(err)


@pytest.mark.parametrize(
    ("arguments", "code", "says"),
    [
        (("--on", "20.7.2026"), 2, "is not a date"),
        (("--on", "2026-01-01"), 2, "No founding had been started by 2026-01-01"),
        (("--on", "2026-07-20", "--from", "nowhere"), 1, "nowhere"),
    ],
)
def test_due_answers_plainly(folder, capsys, arguments, code, says):
    got, _, err = run(capsys, "due", folder.path, *arguments)
    assert got == code
    assert says in flat(err)
    assert "Traceback" not in err


def test_due_of_sheets_with_an_error_stops_or_leaves_them_out(folder, capsys):
    folder.put("checks.csv", "+K2-01,2026-07-15,5,0\n")
    code, _, err = run(capsys, "due", folder.path, "--on", "2026-07-20")
    assert code == 1
    assert "--without-faulty" in err
    code, out, _ = run(capsys, "due", folder.path, "--on", "2026-07-20", "--without-faulty")
    assert code == 0
    assert "K2-02" in out
    assert "K2-01" not in out


def test_plan_compares_and_says_the_same_queens_singly(capsys):
    code, out, _ = run(capsys, "plan", "--queens", 5, "--genus", "Lasius")
    assert code == 0
    assert "5 x 1" in out
    assert "Each alone:" in out


def test_plan_as_json_lists_every_division(capsys):
    code, out, _ = run(capsys, "plan", "--queens", 6, "--genus", "Lasius", "--json")
    values = json.loads(out)
    assert code == 0
    assert len(values["divisions"]) == 9  # partitions of 6 into parts up to 4
    assert all(sum(d["division"]) == 6 for d in values["divisions"])
    assert any(d["efficient"] for d in values["divisions"])


def test_plan_draws_its_divisions(capsys, tmp_path):
    code, _, _ = run(capsys, "plan", "--queens", 4, "--genus", "new", "--figure", tmp_path / "f")
    assert code == 0
    assert (tmp_path / "f" / "plan-85.svg").read_text("utf-8").startswith("<svg")


@pytest.mark.parametrize(
    ("arguments", "code", "says"),
    [
        (("--queens", 0, "--genus", "Lasius"), 2, "at least one"),
        (("--queens", 9, "--genus", "Lasius", "--largest", 40), 2, "largest group of 40"),
        (("--queens", 9, "--genus", "Lasuis"), 2, "Did you mean 'Lasius'"),
        (("--queens", 9, "--genus", "Lasius", "--day", 0), 2, "Day 0"),
        (("--queens", 9, "--genus", "Lasius", "--from", "nowhere"), 1, "nowhere"),
        (("--queens", "many", "--genus", "Lasius"), 2, "integer"),
    ],
)
def test_plan_answers_plainly(capsys, arguments, code, says):
    got, _, err = run(capsys, "plan", *arguments)
    assert got == code
    assert says in flat(err)


def test_plan_of_sixty_queens_is_answered(capsys):
    code, out, _ = run(capsys, "plan", "--queens", 60, "--genus", "Lasius")
    assert code == 0
    assert "more divisions; --json prints all" in out


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("--foundings", "few"), "write whole numbers"),
        (("--foundings", "3"), "too few"),
        (("--split", "3"), "both ways"),
        (("--effect", "nonsense=2"), "none of together"),
        (("--contrast", "colonies"), "none of"),
        (("--seasons", "0"), "at least one season"),
        (("--kind", "Lasius"), "neither average nor new"),
        (("--width", "-1"), "above 0"),
    ],
)
def test_power_answers_plainly_before_any_work(capsys, arguments, says):
    code, _, err = run(capsys, "power", *arguments)
    assert code == 2
    assert says in flat(err)


def test_power_prints_what_seasons_say_and_writes_them(capsys, tmp_path, monkeypatch):
    from cohort.power import run as run_module
    from cohort.power.replicate import Replicate

    def made_up(wish, foundings, seed):
        wide = 4.0 / foundings**0.5
        return Replicate(
            seed,
            foundings,
            -0.3,
            -0.3 - wide / 2,
            -0.3 + wide / 2,
            -0.25,
            wide < 0.6,
            True,
            0.9,
            0.7,
            1.0,
            0.1,
        )

    monkeypatch.setattr(run_module, "replicate", made_up)
    out = tmp_path / "seasons"
    code, told, _ = run(
        capsys, "power", "--foundings", "24,64", "--seasons", 3, "--width", 0.4, "--out", out
    )
    assert code == 0
    assert "takes about 100 foundings" in told
    assert "Schoenfeld 1981" in told
    assert (out / "power.csv").exists()
    assert (out / "power-175.svg").exists()


def test_looking_ahead_needs_no_sampler(folder):
    """The commands that people wait for do not load pymc, nutpie, arviz or matplotlib."""
    script = (
        "import sys\n"
        "from cohort.cli import main\n"
        "try:\n    main(sys.argv[1:])\nexcept SystemExit as end:\n    assert not end.code, end\n"
        "heavy = {'pymc', 'nutpie', 'arviz', 'arviz_stats', 'matplotlib', 'pytensor'}\n"
        "assert not heavy & set(sys.modules), heavy & set(sys.modules)\n"
    )
    for words in (
        ("due", str(folder.path), "--on", "2026-07-20"),
        ("plan", "--queens", "4", "--genus", "Lasius"),
    ):
        done = subprocess.run(
            [sys.executable, "-c", script, *words], capture_output=True, text=True, check=False
        )
        assert done.returncode == 0, done.stderr
