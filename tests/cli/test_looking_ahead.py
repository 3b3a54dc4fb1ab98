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
    assert "do not end, part or open a founding" in out
    assert "the same for every genus" in out


def test_due_says_what_to_do_when_the_last_day_is_past(folder, capsys):
    _, out, _ = run(capsys, "due", folder.path, "--on", "2027-03-16")
    assert "0 foundings are open" in flat(out)
    assert "2 foundings with living queens are past the last day that is compared" in flat(out)
    assert "horizon_days (tab study)" in flat(out)
    _, out, _ = run(capsys, "due", folder.path, "--on", "2026-07-20")
    assert "past the last day" not in out


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
        (("--queens", 3, "--genus", "Lasius", "--want", "worker"), 2, "Did you mean 'workers'"),
        (("--queens", 3, "--genus", "Lasius", "--want", "both"), 2, "nothing a plan can aim at"),
    ],
)
def test_plan_answers_plainly(capsys, arguments, code, says):
    got, _, err = run(capsys, "plan", *arguments)
    assert got == code
    assert says in flat(err)


@pytest.mark.parametrize(
    ("want", "starts", "column"),
    [
        ("one", "For at least one colony", "two,"),
        ("many", "For as many colonies as possible", "colonies"),
        ("workers", "For a strong colony soon", "strongest"),
    ],
)
def test_plan_begins_with_its_advice(want, starts, column, capsys):
    code, out, _ = run(capsys, "plan", "--queens", 3, "--genus", "Lasius", "--want", want)
    assert code == 0
    law, _, advice, assumed, trade = out.strip().splitlines()[:5]
    assert "Local law and licensed advice come first" in law
    assert advice.startswith((starts, "It makes little difference"))
    assert "% sure" in advice.replace("\xa0", " ")
    assert assumed.startswith("This goes by general assumptions, the same for every genus.")
    assert trade.startswith(("A trio starts with", "A pair starts with"))
    assert "containers give" in trade
    assert column in flat(out)


def test_plan_goes_by_at_least_one_colony_unless_told(capsys):
    asked = ("plan", "--queens", 4, "--genus", "Lasius", "--json")
    _, silent, _ = run(capsys, *asked)
    _, one, _ = run(capsys, *asked, "--want", "ONE")
    _, many, _ = run(capsys, *asked, "--want", "many")
    assert json.loads(silent) == json.loads(one)
    assert json.loads(many)["want"] == "many"
    assert json.loads(one)["advice"]["prior_chance"] is None  # nothing but the priors


def test_plan_of_one_queen_has_nothing_to_divide(capsys):
    code, out, _ = run(capsys, "plan", "--queens", 1, "--genus", "Lasius")
    assert code == 0
    assert out.splitlines()[2] == "There is one queen, so there is nothing to divide."
    code, out, _ = run(capsys, "plan", "--queens", 1, "--genus", "Lasius", "--json")
    assert json.loads(out)["advice"]["chance"] is None


def test_help_of_plan_says_what_may_be_wanted(capsys):
    code, out, _ = run(capsys, "plan", "--help")
    assert code == 0
    told = flat(out)
    for said in ("--want", "one (at least one colony)", "many (as many colonies as possible)",
                 "workers (a strong colony soon)", "how sure we are"):  # fmt: skip
        assert said in told


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
        ("tonight", "--queens", "4", "--genus", "Lasius", "--lot"),
    ):
        done = subprocess.run(
            [sys.executable, "-c", script, *words], capture_output=True, text=True, check=False
        )
        assert done.returncode == 0, done.stderr


# --- a plan for ants that are not to be planned for ---------------------------------------------


@pytest.mark.parametrize(
    ("name", "first"),
    [
        ("Solenopsis invicta", "EU list of invasive species"),
        ("solenopsis INVICTA", "EU list of invasive species"),
        ("Wasmannia auropunctata", "EU list of invasive species"),
        ("Lasius neglectus", "spreads with people"),
    ],
)
def test_the_caution_of_an_invasive_species_comes_before_any_number(name, first, capsys):
    code, out, err = run(capsys, "plan", "--queens", 3, "--genus", name)
    assert code == 0
    assert first in out.splitlines()[0]
    assert "--genus new" not in out + err
    code, out, _ = run(capsys, "plan", "--queens", 3, "--genus", name, "--json")
    assert first in json.loads(out)["cautions"][0]


@pytest.mark.parametrize(
    ("name", "first"),
    [
        ("Linepithema humile", "Linepithema humile spreads with people"),
        ("Ooceraea biroi", "Local law and licensed advice come first"),
        ("Cataglyphis cursor", "Local law and licensed advice come first"),
    ],
)
def test_a_kind_whose_queens_do_not_found_alone_is_not_planned_for(name, first, capsys):
    # Fault: only the genus was asked, some of whose kinds do found alone.
    code, out, err = run(capsys, "plan", "--queens", 3, "--genus", name)
    assert code == 2
    assert out == ""
    told = flat(err)
    assert told.index(first) < told.index("does not found alone")


@pytest.mark.parametrize(
    "name", ["Wasmania auropunctata", "Solenopsi invicta", "Linepitema humile"]
)
def test_a_misspelt_invasive_species_does_not_get_past_its_caution(name, capsys):
    code, _, err = run(capsys, "plan", "--queens", 3, "--genus", name)
    told = flat(err)
    assert code == 2
    assert "Local law and licensed advice come first" in told
    assert "Did you mean" in told
    assert "--genus new" not in told


@pytest.mark.parametrize(
    "name",
    ["Polyergus", "Polyergus rufescens", "Lasius umbratus", "Formica sanguinea", "Polyergos",
     "Strongylognathus"],
)  # fmt: skip
def test_no_plan_for_queens_that_found_with_a_host(name, capsys):
    code, out, err = run(capsys, "plan", "--queens", 3, "--genus", name)
    told = flat(err)
    assert code == 2
    assert "colony" not in out
    assert told.index("Local law and licensed advice come first") < told.index("host colony")
    assert "--genus new" not in told


def test_a_genus_with_its_species_is_planned_as_its_genus(capsys):
    code, out, _ = run(capsys, "plan", "--queens", 3, "--genus", "Lasius niger")
    assert code == 0
    assert "it does not tell Lasius niger from others" in out


def test_without_results_a_plan_is_of_no_genus_and_says_so_first(capsys):
    tables = {}
    for name in ("Lasius", "Messor", "new"):
        _, out, _ = run(capsys, "plan", "--queens", 4, "--genus", name)
        assert "published of other ants" not in out
        head, _, table = out.partition("4 queens of any kind, day 180 (general assumptions)\n")
        assert "general assumptions" in head
        assert "the same for every genus" in head
        assert f"queens of {name}" not in out
        tables[name] = table.split("\n\n")[0]
        _, out, _ = run(capsys, "plan", "--queens", 4, "--genus", name, "--json")
        assert json.loads(out)["general_assumptions"] is True
    assert tables["Lasius"] == tables["Messor"] == tables["new"]
