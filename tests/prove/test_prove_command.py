"""`cohort prove`: the page that is kept, the exit code, every language; no fit is made here."""

import datetime as dt
import json
import re

import pytest
from test_prove_parts import drawn_exactly, made_club, uniform

from cohort.base.display import untied
from cohort.base.errors import CohortError, StudyError
from cohort.cli import main
from cohort.prove import PARTS, club, prove, run, schools, twenty, words
from cohort.prove.lines import Line, Part, near
from cohort.terms.voice import languages, told, voice

GOOD = (near(told("line_mu"), 4.4, 4.4, 0.1, 2),)
BAD = (near(told("line_tau"), 9.0, 3.6, 0.1, 2),)


def standing_in(monkeypatch, **lines):
    """Parts that take no time: right numbers, or those given by name."""

    def runners(seed, say):
        return {name: (seed, lambda name=name: _done(lines.get(name, GOOD))) for name in PARTS}

    monkeypatch.setattr(run, "_runners", runners)


def _done(what):
    if isinstance(what, CohortError):
        raise what
    return what


def asked(capsys, *words_):
    with pytest.raises(SystemExit) as end:
        main(["prove", *map(str, words_)])
    told_ = capsys.readouterr()
    return end.value.code, told_.out, told_.err


def test_all_held_is_exit_0_and_the_page_is_kept(monkeypatch, capsys, tmp_path):
    standing_in(monkeypatch)
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1790000000")
    code, out, _ = asked(capsys, "--out", tmp_path / "proof.txt", "--seed", 4)
    kept = (tmp_path / "proof.txt").read_text("utf-8")
    assert code == 0
    assert out.startswith(kept)
    assert "Every part held." in kept
    assert "Made on 21 September 2026; 4 was added to each seed." in kept
    assert "numba" in kept
    assert re.search(r"numba \d+\.\d+", kept.replace("\n", " "))
    assert max(map(len, kept.splitlines())) <= 80
    assert [line for line in kept.splitlines() if re.match(r"\d\. ", line)] == [
        f"{n}. {voice(words.ROOM).say(f'title_{name}')}: held" for n, name in enumerate(PARTS, 1)
    ]


@pytest.mark.parametrize("name", PARTS)
def test_one_part_that_fails_is_exit_1_and_is_named(monkeypatch, capsys, name):
    standing_in(monkeypatch, **{name: BAD})
    code, out, _ = asked(capsys)
    assert code == 1
    assert "1 part FAILED." in out
    failed = [line for line in out.splitlines() if line.endswith(": FAILED")]
    assert failed == [f"{PARTS.index(name) + 1}. {words.speaks().say(f'title_{name}')}: FAILED"]
    (starred,) = (line for line in out.splitlines() if line.endswith("*"))
    assert re.fullmatch(r"spread between schools +9\.00  3\.60 \+- 0\.10  \*", starred)


def test_a_part_that_breaks_off_has_failed_and_the_others_are_done(monkeypatch, capsys):
    standing_in(monkeypatch, outside=StudyError("The sampler stopped early."))
    code, out, _ = asked(capsys)
    assert code == 1
    assert "It broke off: The sampler stopped early." in out
    assert out.count(": held") == len(PARTS) - 1


def test_plain_values_for_a_program(monkeypatch, capsys):
    standing_in(monkeypatch, second=BAD)
    code, out, _ = asked(capsys, "--json", "--parts", "second,by_hand")
    found = json.loads(out)
    assert code == 1
    assert found["holds"] is False
    assert [one["part"] for one in found["parts"]] == ["by_hand", "second"]
    assert found["parts"][1]["numbers"] == [
        {"what": "spread between schools", "found": 9.0, "low": 3.5, "high": 3.7, "holds": False}
    ]


def test_no_file_is_written_over(monkeypatch, capsys, tmp_path):
    standing_in(monkeypatch)
    mine = tmp_path / "notes.txt"
    mine.write_text("my own")
    code, _, err = asked(capsys, "--out", mine)
    assert code == 2
    assert "Name a new file" in err
    assert mine.read_text() == "my own"
    assert asked(capsys, "--out", tmp_path / "nowhere" / "p.txt")[0] == 2


def test_a_part_that_is_none_is_misuse(capsys):
    code, _, err = asked(capsys, "--parts", "by_hnad")
    assert code == 2
    assert "Did you mean 'by_hand'?" in err
    with pytest.raises(StudyError, match="There is no part"):
        prove(["everything"])


def test_what_is_asked_for_is_done_and_seeds_are_told():
    found = prove(["by_hand"], seed=3)
    assert [part.name for part in found.parts] == ["by_hand"]
    assert found.holds
    assert found.parts[0].seed is None
    seeds = {name: own for name, (own, _) in run._runners(3, print).items()}
    assert seeds == {
        "by_hand": None, "recovered": club.SEED + 3, "second": club.SEED + 3,
        "outside": schools.SEED + 3, "calibrated": twenty.SEED + 3,
    }  # fmt: skip


def test_nothing_proved_is_no_proof():
    nothing = run.Proof((), 0, dt.date(2026, 11, 29), {}, "")
    assert not nothing.holds


@pytest.mark.parametrize("language", languages())
def test_every_number_of_every_part_can_be_told(language):
    """All lines the parts can make, in a language: no key is lacking, no blank left."""
    of = made_club()
    parts = (
        Part("by_hand", prove(["by_hand"]).parts[0].lines),
        Part("recovered", club.recovered(of), 1, 60.4),
        Part("second", club.second(of), 1),
        Part("outside", schools.outside(drawn_exactly(draws=200)), 8),
        Part("calibrated", twenty.calibrated(*uniform()), 9),
    )
    proof = run.Proof(parts, 0, dt.date(2026, 11, 29), {"python": "3.13"}, "0f")
    own = words.speaks(language)
    text = words.page(proof, own)
    assert "{" not in text
    assert len(re.findall(rf"^{own.say('what')} {{9,}}", text, re.MULTILINE)) == len(PARTS)
    assert len(re.findall(r"^\d\. ", text, re.MULTILINE)) == len(PARTS)
    numbers = words.as_json(proof, own)["parts"]
    assert all(untied(one["what"]) for part in numbers for one in part["numbers"])


def test_a_number_that_rounds_to_nothing_has_no_sign():
    lines = (Line(told("line_mu"), -0.0001, -1.0, 1.0, 2),)
    text = words.page(run.Proof((Part("outside", lines),), 0, dt.date(2026, 1, 1), {}, ""))
    assert re.search(r"mean of all schools +0\.00  -1\.00 to 1\.00\n", text)
