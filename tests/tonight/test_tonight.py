"""What to do with the queens of one night: the advice, the lot, the screen."""

from __future__ import annotations

import json
import math
import shlex
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from plan_made import basis, spread
from typer.testing import CliRunner

from cohort.base.errors import StudyError
from cohort.cli import build
from cohort.outcomes.basis import Basis, prior_basis
from cohort.plan.asked import asked
from cohort.sheets.lists import read_lists
from cohort.terms.voice import languages
from cohort.tonight import tonight
from cohort.tonight.night import Aside, hedge
from cohort.tonight.words import (
    advice_lines,
    allot_command,
    first_lines,
    speaks,
    table_of,
    teach_lines,
)


@pytest.fixture(scope="module")
def priors() -> Basis:
    return prior_basis(draws=60)


@pytest.fixture(scope="module")
def learnt() -> Basis:
    return basis(*spread(12, 4))


def night(genus: str, queens: int, behind: Basis, species: str = "", **more: object):
    word = f"{genus} {species}".strip()
    return tonight(genus, genus, species, queens, asked(word, behind), behind, **more)


def run(*words: object):
    return CliRunner().invoke(build(), [str(word) for word in words], env={"COLUMNS": "80"})


# --- how they are divided -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("queens", "parts"),
    [(1, ()), (2, ()), (3, (2, 1)), (4, (2, 1, 1)), (5, (2, 1, 1, 1)), (6, (3, 1, 1, 1)),
     (7, (3, 1, 1, 1, 1)), (8, (2, 2, 1, 1, 1, 1)), (12, (3, 3, 1, 1, 1, 1, 1, 1))],
)  # fmt: skip
def test_the_fair_hedge_by_hand(queens, parts):
    assert hedge(queens) == parts


@given(st.integers(4, 200))
def test_a_hedge_houses_every_queen_and_never_more_together_than_alone(queens):
    parts = hedge(queens)
    together = sum(size for size in parts if size > 1)
    assert sum(parts) == queens
    assert 2 <= together <= queens - together
    assert queens - 2 * together < 4  # at most three queens are over


@pytest.mark.parametrize(
    ("genus", "species", "parts", "why"),
    [
        ("Formica", "", (1, 1, 1, 1), "apart"),
        ("Messor", "", (1, 1, 1, 1), "apart"),
        ("Pogonomyrmex", "", (2, 1, 1), "company"),
        ("Solenopsis", "", (2, 1, 1), "mixed"),
        ("Lasius", "", (2, 1, 1), "open"),
        ("Lasius", "niger", (2, 1, 1), "open"),
        ("Veromessor", "", (2, 1, 1), "open"),  # its own rows, not those of its kin Messor
        ("Cataglyphis", "", (2, 1, 1), "kin"),  # its kin Formica lean apart; that is not enough
        ("Tetramorium", "", (2, 1, 1), "nothing"),
    ],
)
def test_without_results_it_goes_by_what_is_published(genus, species, parts, why, priors):
    what = night(genus, 4, priors, species)
    assert (what.parts, what.why) == (parts, why)
    told = " ".join(advice_lines(what, speaks()))
    assert ("papers" in told.lower()) == (why != "nothing")
    assert "we give no number" in told or "Not at all" in told
    assert "clearly" not in told
    assert " sure that " not in told  # no chance of ours stands behind it


def test_two_queens_are_kept_apart_and_one_is_not_divided(priors):
    assert (night("Lasius", 2, priors).parts, night("Lasius", 2, priors).why) == ((1, 1), "two")
    one = night("Lasius", 1, priors)
    assert (one.parts, one.to_draw) == ((1,), False)
    assert "nothing to divide" in " ".join(advice_lines(one, speaks()))


def test_with_results_it_goes_by_the_plan(learnt):
    what = night("Lasius", 4, learnt)
    assert what.plan is not None
    assert not what.plan.advice.alike
    assert (what.parts, what.why) == (what.plan.advice.best, "results")
    told = " ".join(advice_lines(what, speaks()))
    assert "We are" in told
    assert "Papers:" not in told
    assert "Papers:" in " ".join(advice_lines(night("Formica", 4, learnt), speaks()))  # new there


def test_results_that_see_little_between_the_ways_ask_for_lots(learnt, monkeypatch):
    from cohort.tonight import night as module

    made = night("Lasius", 4, learnt).plan
    assert made is not None
    alike = replace(made, advice=replace(made.advice, alike=True, near=0.9))
    monkeypatch.setattr(module, "plan", lambda *_, **__: alike)
    what = night("Lasius", 4, learnt)
    assert (what.parts, what.why) == ((2, 1, 1), "results_alike")
    assert "a lot costs you little" in " ".join(advice_lines(what, speaks()))


def test_queens_set_aside_are_not_divided(priors):
    what = night("Lasius", 4, priors, aside=(Aside(1, "mites"),))
    assert (what.left, what.parts) == (3, (2, 1))
    nobody = night("Lasius", 2, priors, aside=(Aside(2, "other"),))
    assert (nobody.plan, nobody.parts, nobody.why) == (None, (), "none")
    with pytest.raises(StudyError, match="3 queens cannot be set aside of 2"):
        night("Lasius", 2, priors, aside=(Aside(3, "mites"),))


def test_the_table_has_the_same_queens_both_ways(priors):
    for genus in ("Lasius", "Formica"):
        what = night(genus, 6, priors)
        _, rows, _ = table_of(what, speaks())
        shown = [row[0].replace("\u00a0", " ").replace("\u2007", " ") for row in rows]
        assert "6 x 1" in shown
        assert any("3" in one or "2" in one for one in shown)
        assert len(rows) <= 4


def test_what_it_would_teach_is_the_plans_number(priors):
    what = night("Lasius", 4, priors)
    row = what.plan.table.set_index("parts").loc[[what.parts]].iloc[0]
    assert not math.isnan(row.narrowing)
    told = teach_lines(what, speaks())[-1]
    assert f"{speaks().percent(row.narrowing)}" in told
    assert "at least four foundings of each way" in told
    assert (
        "Nothing on the question itself" in teach_lines(night("Formica", 4, priors), speaks())[-1]
    )


# --- the lot --------------------------------------------------------------------------------------


def test_the_command_it_names_keeps_the_very_lots_it_showed(tmp_path, priors):
    (tmp_path / "study.toml").write_text('season = "2026"\n')
    (tmp_path / "foundings.csv").write_text(
        "founding,genus,species,started,queens,assigned,block,keeper,catch\n"
        "K1-01,Messor,,2026-06-01,1,chosen,,K1,\n"
    )
    what = night("Lasius", 8, priors, "niger")
    lots = what.lots(11, "K1")
    assert sorted(q for lot in lots for q in lot.which) == list(range(1, 9))
    assert sorted((lot.queens for lot in lots), reverse=True) == list(what.parts)
    line = " ".join(part.rstrip("\\") for part in allot_command(what, str(tmp_path), "K1", 11))
    done = run(*shlex.split(line)[1:])
    assert done.exit_code == 0, done.output
    kept = read_lists(tmp_path)
    assert kept["which"].tolist() == [" ".join(map(str, lot.which)) for lot in lots]
    assert what.lots(12, "K1") != lots


# --- the screen -----------------------------------------------------------------------------------


@pytest.mark.parametrize("language", languages())
def test_one_screen_of_80_columns_with_the_law_first(language):
    done = run("tonight", "--genus", "Lasius", "--queens", 3, "--lot", "--seed", 5,
               "--language", language)  # fmt: skip
    assert done.exit_code == 0, done.output
    lines = done.stdout.splitlines()
    assert max(map(len, lines)) <= 80
    assert len(lines) <= 65
    law = {"en": "Local law", "de": "Das Recht", "fr": "", "es": "La ley"}[language]
    assert lines[0].startswith(law)
    assert "doi:10.1101/2024.07.16.603683" in done.stdout
    assert "Traceback" not in done.stdout


def test_cautions_come_before_any_queen_and_refused_kinds_get_no_division():
    done = run("tonight", "--genus", "Solenopsis invicta", "--queens", 4, "--lot")
    assert done.exit_code == 0
    flat = " ".join(done.stdout.split())
    assert flat.index("EU list of invasive") < flat.index("Tonight: 4 queens")
    assert "whole-body allergy" in flat
    assert "We divide no queens of this kind" in flat
    assert "Container 1" not in flat
    assert "of 100" not in flat


@pytest.mark.parametrize(
    ("genus", "first", "told"),
    [
        ("Formica", "Tonight: 3", "Some Formica build protected mounds (rufa, polyctena"),
        ("Solenopsis", "Tonight: 3", "Some Solenopsis are invasive outside their home (geminata"),
        ("Lasius", "Tonight: 3", "Some Lasius are invasive outside their home (neglectus)"),
    ],
)
def test_a_genus_without_a_species_gets_the_cautions_of_some_of_its_kinds(
    genus, first, told, priors
):
    lines = list(first_lines(night(genus, 3, priors), speaks()))
    assert lines[0].startswith("Local law and licensed advice come first")
    (at,) = [i for i, line in enumerate(lines) if told in line]
    (title,) = [i for i, line in enumerate(lines) if line.startswith(first)]
    assert at < title
    assert not any(told in line for line in first_lines(night("Messor", 3, priors), speaks()))


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--genus", "Lasius umbratus", "--queens", 3], "host colony"),
        (["--genus", "Lassius", "--queens", 3], "Did you mean 'Lasius'?"),
        (["--genus", "Lasius", "--queens", 3, "--set-aside", "1:mytes"], "Did you mean 'mites'?"),
        (["--genus", "Lasius", "--queens", 3, "--set-aside", "x"], "1:mites"),
        (["--genus", "Lasius", "--queens", 3, "--want", "all"], "nothing a plan can aim at"),
        (["--genus", "Lasius", "--queens", 3, "--language", "xx"], "no language"),
        (["--genus", "Lasius", "--queens", 2, "--set-aside", "5"], "cannot be set aside"),
    ],
)
def test_misuse_is_told_in_one_message(words, told):
    done = run("tonight", *words)
    assert done.exit_code == 2, done.output
    assert told in " ".join(done.output.replace("│", " ").split())


def test_with_a_study_it_knows_kinds_reasons_and_numbers(tmp_path):
    study = tmp_path / "my study"
    study.mkdir()
    (study / "study.toml").write_text('season = "2026"\nleave_out = ["mites"]\n')
    (study / "kinds.csv").write_text(
        "kind,genus,species,id_confidence\nblack,Lasius,niger,sure\nred ones,,,guess\n"
    )
    (study / "foundings.csv").write_text(
        "founding,kind,started,queens,keeper\nK1-01,black,2026-06-01,1,K1\n"
    )
    done = run("tonight", "--genus", "black", "--queens", 3, "--study", study, "--lot",
               "--labels", tmp_path / "labels.pdf")  # fmt: skip
    flat = " ".join(done.stdout.split())
    assert done.exit_code == 0, done.output
    assert "Lasius niger:" in flat
    assert "--keeper K1" in flat  # the only one
    assert f"cohort allot '{study}' --queens black=3" in flat
    from pypdf import PdfReader

    page = PdfReader(tmp_path / "labels.pdf").pages[0].extract_text()
    assert page.count("K1-02") == page.count("K1-03") == 2
    assert "K1-01" not in page
    unnamed = run("tonight", "--genus", "red ones", "--queens", 3, "--study", study)
    assert "Nothing published can be told of a kind without a name" in " ".join(
        unnamed.stdout.split()
    )
    refused = run("tonight", "--genus", "black", "--queens", 3, "--study", study,
                  "--set-aside", "1:other")  # fmt: skip
    assert refused.exit_code == 2
    assert "not among the reasons agreed" in " ".join(refused.output.replace("│", " ").split())


# --- plain values ---------------------------------------------------------------------------------


def values(*words: object) -> dict:
    done = run("tonight", *words, "--json")
    assert done.exit_code == 0, done.output
    return json.loads(done.stdout)  # JSON alone


def test_plain_values_say_what_the_screen_says():
    asked_for = ("--genus", "Lasius", "--queens", 7, "--set-aside", "1:mites", "--lot", "--seed", 5)
    got, screen = values(*asked_for), " ".join(run("tonight", *asked_for).output.split())
    assert (got["queens"], got["to_divide"], got["divide"]) == (7, 6, [3, 1, 1, 1])
    assert got["set_aside"] == [{"queens": 1, "reason": "mites"}]
    assert (got["why"], got["published"]["of"], got["refused"]) == ("open", "genus", None)
    assert got["lot"]["seed"] == 5
    assert sorted(queen for one in got["lot"]["containers"] for queen in one) == [1, 2, 3, 4, 5, 6]
    assert sorted(map(len, got["lot"]["containers"]), reverse=True) == got["divide"]
    for line in (*got["cautions"], *got["says"]):
        assert " ".join(line.split()) in screen, line
    assert "law" in got["cautions"][0]
    papers = got["published"]["papers"]
    assert any("10." in paper for paper in papers)  # a DOI
    assert all(" ".join(paper.split()) in screen for paper in papers)
    assert got["plan"]["general_assumptions"] is True
    assert got["plan"]["queens"] == 6


def test_plain_values_without_a_lot_of_a_kind_that_is_refused_and_in_another_language():
    got = values("--genus", "Messor", "--queens", 2, "--language", "de")
    assert (got["lot"], got["divide"], got["why"]) == (None, [1, 1], "apart")
    assert "Recht" in got["cautions"][0]
    refused = values("--genus", "Solenopsis invicta", "--queens", 4, "--lot")
    assert refused["refused"]
    assert (refused["divide"], refused["lot"]) == ([], None)
    none = values("--genus", "Lasius", "--queens", 1, "--set-aside", "1:mites")
    assert (none["plan"], none["divide"], none["why"]) == (None, [], "none")
