"""Reporting lists: the right guideline, every item with number and text, nothing that is not known.

Counts of items: ARRIVE 2.0 has the Essential 10 and items 11 to 21 of the Recommended Set, STROBE
22 items (Percie du Sert 2020, doi:10.1371/journal.pbio.3000410; von Elm 2007,
doi:10.1371/journal.pmed.0040296); BARG a preamble and six steps (Kruschke 2021,
doi:10.1038/s41562-021-01177-7).
"""

from __future__ import annotations

import dataclasses
import re
import types

import pytest
from test_page import Reader

from cohort.newsletter import content, voice
from cohort.newsletter.checklist import FILLED, GUIDELINES, checklists, design, fills, priors
from cohort.newsletter.checklists import load
from cohort.newsletter.page import render_details
from cohort.results import versions
from cohort.terms.adjusting import Adjust

LANGUAGES = ("en", "de", "es", "fr")
NUMBERS = {"arrive": range(1, 22), "strobe": range(1, 23)}


def lists(material, language="en", folder=None):
    said = content(material, {}, voice(language))
    return {c.key: c for c in checklists(said, material, folder)}


def told(made) -> dict[str, str]:
    return {number: answer for number, _, answer in made.table.rows}


@pytest.fixture(scope="module")
def demo(make):
    """A small study, every founding of it allotted by lot."""
    return make(genera=("Lasius", "Messor"), per=14)


@pytest.fixture(scope="module")
def observed(make):
    return make(random=False, genera=("Lasius", "Messor"), per=14)


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("key", ["arrive", "strobe"])
def test_every_number_of_a_guideline_is_there_once(language, key):
    texts = load(language)[key]
    whole = [int(re.match(r"\d+", number)[0]) for number in texts]
    assert whole == sorted(whole)
    assert set(whole) == set(NUMBERS[key])
    for number in {re.match(r"\d+", n)[0] for n in texts}:
        parts = [n.removeprefix(number) for n in texts if re.fullmatch(rf"{number}[a-e]?", n)]
        assert parts == [""] or parts == list("abcde"[: len(parts)]), number


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_steps_of_the_bayesian_list_are_there(language):
    texts = load(language)["barg"]
    assert "".join(dict.fromkeys(number[0] for number in texts)) == "P123456"
    for step in "P123456":
        letters = [number[1] for number in texts if number[0] == step]
        assert letters == list("ABCDEF"[: len(letters)])


@pytest.mark.parametrize("language", LANGUAGES[1:])
def test_every_language_holds_the_same_items_and_blanks(language):
    english, other = load("en"), load(language)
    for part, texts in english.items():
        assert list(texts) == list(other[part])
        for name, text in texts.items():
            assert text
            assert sorted(re.findall(r"{\w+}", text)) == sorted(
                re.findall(r"{\w+}", other[part][name])
            )
            if re.search(
                "[a-z]{4}", re.sub(r"{\w+}|founding-cohort|^(question|centre)$", "", text)
            ):
                assert other[part][name] != text


def test_fills_belong_to_items_that_exist_and_are_made(demo):
    known = fills(content(demo, {}, voice("en")), demo, None)
    for key, items in FILLED.items():
        assert set(items) <= set(load("en")[key])
        assert {name for names in items.values() for name in names} <= set(known)
        assert GUIDELINES[key][1].startswith("10.")


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_item_has_number_text_and_answer_or_blank(demo, observed, language):
    for material in (demo, observed):
        for made in lists(material, language).values():
            blank = load(language)["fill"]["blank"]
            assert all(all(cell.strip() for cell in row) for row in made.table.rows)
            assert made.filled == sum(row[2] != blank for row in made.table.rows)
            assert 10 < made.filled < len(made.table.rows)


def test_the_list_follows_the_allotment(demo, observed):
    assert design(demo) == "arrive"
    assert design(observed) == "strobe"
    assert set(lists(demo)) == {"arrive", "barg"}
    assert set(lists(observed)) == {"strobe", "barg"}
    one = demo.history.foundings.copy()
    first = one.index[one["compared"]][0]
    one.loc[first, "assigned"] = "chosen"
    history = dataclasses.replace(demo.history, foundings=one)
    assert design(dataclasses.replace(demo, history=history)) == "strobe"


def test_a_study_of_counts_alone_claims_nothing_of_a_model(make):
    made = lists(make(shut=True, genera=("Lasius",), per=24))
    assert set(made) == {"arrive"}
    answers = told(made["arrive"])
    assert answers["7a"] == "Nothing here is estimated: everything was counted."
    for number in ("7b", "10b", "11", "18"):
        assert answers[number] == "(to be filled in)"


def bare(material):
    """The same study with nothing agreed and nothing noted that need not be."""
    settings = types.SimpleNamespace(**{
        **vars(material.study.settings), "leave_out": (), "place": "", "primary_question": "",
        "adjust": Adjust(), "fight_rule": "",
    })  # fmt: skip
    foundings = material.history.foundings.assign(housing="", feeding="", assigned="")
    study = dataclasses.replace(
        material.study, settings=settings, catches=material.study.catches.iloc[:0]
    )
    history = dataclasses.replace(material.history, foundings=foundings)
    return dataclasses.replace(material, study=study, history=history)


def test_nothing_is_claimed_that_was_not_recorded(demo):
    blank = "(to be filled in)"
    full = demo.study.settings
    full = types.SimpleNamespace(**{**vars(full), "primary_question": "colony",
                                    "adjust": Adjust(before=("warmth",))})  # fmt: skip
    known = dataclasses.replace(demo, study=dataclasses.replace(demo.study, settings=full))
    knows, lacks = told(lists(known)["arrive"]), told(lists(bare(demo))["strobe"])
    assert "mites" in knows["3a"]
    assert knows["4b"] == "Adjusted for: warmth."
    assert knows["6b"] == "Agreed in the study: Colonies for the queens used."
    assert knows["9c"] == "Estuary region."
    assert knows["16a"] == "Fighting queens were left together."
    for number in ("3", "9"):
        assert lacks[number] == blank
    assert lacks["4"] == "Cohort of foundings, followed from look to look."
    assert "Agreed" not in lacks["6a"]
    assert "Estuary" not in lacks["5"]
    assert "Containers" not in lacks["14a"]
    for number in ("5", "14", "20", "21b", "2b", "19"):  # known to no sheet, ever
        assert knows[number] == blank
    assert "do not say" in content(bare(demo), {}, voice("en")).how[2]


def test_numbers_of_the_study_are_in_the_list(demo):
    answers = told(lists(demo)["arrive"])
    inside = demo.history.foundings[demo.history.foundings["compared"]]
    single = inside[inside["arm"] == "single"]
    queens = int(inside["size"].sum())
    assert answers["2a"].startswith(f"Apart: {len(single)} foundings with {len(single)} queens.")
    assert answers["2a"].endswith(f"In all: {len(inside)} foundings with {queens} queens.")
    assert answers["10b"] == " ".join(content(demo, {}, voice("en")).lead)


def test_refits_and_files_are_told_as_they_lie_there(demo, tmp_path):
    assert told(lists(demo)["barg"])["5B"] == "(to be filled in)"
    before = told(lists(demo, folder=tmp_path)["barg"])
    assert before["5B"].startswith("No refits")
    assert before["6D"] == "(to be filled in)"
    (tmp_path / "thorough").mkdir()
    (tmp_path / "curves.csv").write_text("x", "utf-8")
    after = told(lists(demo, folder=tmp_path)["barg"])
    assert "lie in the folder thorough" in after["5B"]
    assert after["6D"] == "Beside this page: curves.csv."


def with_run(material, **run):
    results = dataclasses.replace(
        material.results,
        run={**material.results.run, **run},
        diagnosis={**material.results.diagnosis, "rhat": 1.00412, "rhat_outcomes": 1.0073,
                   "ess_bulk": 978.7, "ess_tail": 986.2, "divergences": 0},
    )  # fmt: skip
    return dataclasses.replace(material, results=results)


def test_diagnosis_seed_and_versions_are_filled_and_else_blank(demo):
    filled = told(lists(with_run(demo, seed=11, versions={"nutpie": "0.16"}))["barg"])
    assert filled["2A"] == "nutpie 0.16."
    assert filled["2B"] == (
        "Largest R-hat 1.004 over parameters, 1.007 over printed numbers, 0 divergences."
    )
    assert filled["2C"] == "At least 979 effective draws in the middle and 986 in the tails."
    assert filled["6B"].startswith("Seed 11;")
    lacking = told(lists(demo)["barg"])
    assert lacking["2B"] == lacking["2C"] == "(to be filled in)"


def test_priors_are_printed_for_results_of_this_version_only(demo):
    mine = {"founding-cohort": versions()["founding-cohort"]}
    table = priors(with_run(demo, versions=mine), voice("en"))
    rows = {row[0]: row[1:] for row in table.rows}
    # log .004 = -5.52, the prior of the daily risk that cohort.model.priors gives reasons for
    assert rows["log daily risk of a lone founding queen, days 21 to 42"] == (
        "-5.52", "1.20", "0.50")  # fmt: skip
    assert rows["share of mated queens: beta, its two numbers"] == ("6.000", "1.500", "–")
    assert priors(with_run(demo, versions={"founding-cohort": "0.0.0"}), voice("en")) is None
    assert priors(demo, voice("en")) is None


def test_the_page_of_details_shows_the_list_and_its_source(observed):
    text = render_details(content(observed, {}, voice("en")), observed, "")
    page = Reader(text).text
    assert "STROBE, cohort studies (doi:10.1371/journal.pmed.0040296)" in page
    assert "doi:10.1038/s41562-021-01177-7" in page
    assert "ARRIVE" not in page
    assert "so the list for observed cohorts applies" in page
    assert all(sentence in page for sentence in content(observed, {}, voice("en")).how)
