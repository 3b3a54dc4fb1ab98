"""The section "A second opinion" says what the table says, in every language, settled or not."""

import dataclasses
import re

import pytest

from cohort.history.winters import WinterRest
from cohort.newsletter import page
from cohort.newsletter.catalogue import languages, load
from cohort.newsletter.content import content
from cohort.newsletter.second_opinion import codes, section
from cohort.newsletter.speech import voice
from cohort.newsletter.words import sayings
from cohort.sheets import written
from cohort.terms.opinions import DIFFERS, IGNORES, UNDONE

DAYS = "days to the first worker, together against apart"


def test_english_is_word_for_word_what_the_file_says():
    say = load("en").sentences
    for clauses, prefix in ((IGNORES, "ignores"), (DIFFERS, "differs"), (UNDONE, "why")):
        assert clauses == {code: say[f"o_{prefix}_{code}"] for code in clauses}


def test_every_quantity_of_the_file_is_spoken(demo):
    quantities = set(demo.results.second_opinion["quantity"]) | {"chance_per_founding"}
    assert {f"q_{name}" for name in quantities} <= set(load("en").sentences)


@pytest.mark.parametrize("language", languages())
def test_every_method_and_code_is_spoken(language):
    said = set(load(language).sentences)
    wanted = {f"o_{part}_{method}" for method in IGNORES for part in ("method", "ignores")}
    wanted |= {f"o_differs_{code}" for code in DIFFERS} | {f"o_why_{code}" for code in UNDONE}
    assert wanted <= said


def test_numbers_of_both_stand_side_by_side(demo):
    told = section(demo, voice("en"))
    aft = dict(zip(told.whole.head, told.whole.rows[0], strict=True))
    assert aft["estimate (range)"] == "0.70 (0.60 to 0.80)"
    assert re.fullmatch(r"0\.9\d \(0\.\d\d to 1\.\d\d\)", aft["the model"])
    assert aft["as wide by chance, %"] == "2"
    undone = next(row for row in told.whole.rows if row[0].startswith("Cox"))
    assert "the fit did not settle" in undone
    lots = next(row for row in told.whole.rows if row[0].startswith("queens shared out"))
    assert "-7" in lots
    assert "82" in lots


def test_it_says_why_a_number_differs_and_what_was_left_out(demo):
    told = section(demo, voice("en"))
    (first, second) = told.differs  # the prior came less than a quarter of the way
    clause = DIFFERS["barren"]
    assert first == f"{clause[0].upper()}{clause[1:]} (log-normal days by brackets, {DAYS})."
    assert DIFFERS["unexplained"][1:] in second
    assert "same queens, counted" in second
    assert len(told.ignores) == demo.results.second_opinion["method"].nunique()


def test_kinds_have_a_table_of_their_own(demo):
    told = section(demo, voice("en"))
    assert told.kinds is not None
    assert told.kinds.head[1] == "kind"
    assert "kind" not in told.whole.head


def test_nothing_compared_leaves_no_section(demo):
    empty = dataclasses.replace(demo.results, second_opinion=written.empty("second_opinion"))
    assert section(dataclasses.replace(demo, results=empty), voice("en")) is None
    undone = demo.results.second_opinion.assign(estimate=float("nan"), why="few: too few foundings")
    none = dataclasses.replace(demo.results, second_opinion=undone)
    assert section(dataclasses.replace(demo, results=none), voice("en")) is None


@pytest.mark.parametrize("language", languages())
def test_it_stands_on_the_page_of_details(demo, language):
    said = content(demo, {}, voice(language))
    text = page.render_details(said, demo, "")
    assert load(language).sentences["h_second"] in text
    assert 'id="second"' in text


def test_it_stands_also_where_the_comparison_has_not_settled(demo):
    results = dataclasses.replace(
        demo.results,
        comparisons=demo.results.comparisons.iloc[:0],
        diagnosis=demo.results.diagnosis | {"settled": False, "reasons": ["R-hat"]},
        second_opinion=demo.results.second_opinion.assign(
            model=float("nan"), model_low=float("nan"), model_high=float("nan"), differs=""
        ),
    )
    told = section(dataclasses.replace(demo, results=results), voice("en"))
    assert "did not settle" in told.intro[-1]
    assert told.differs == ()
    assert {row[-2] for row in told.whole.rows} == {"–"}


def test_codes_are_read_off_a_cell_with_clauses_that_hold_colons_and_semicolons():
    assert codes("barren: so; then: it is; prior: b") == ["barren", "then", "prior"]
    assert codes(f"barren: {DIFFERS['barren']}; prior: {DIFFERS['prior']}") == ["barren", "prior"]
    assert codes("") == []
    # so no clause may hold what looks like a code
    for clauses in (DIFFERS, UNDONE):
        assert all(codes(f"{code}: {text}") == [code] for code, text in clauses.items())


@pytest.mark.parametrize("language", languages())
def test_through_winter_it_is_said_which_rows_count_the_cold(demo, language):
    """Of the page of details, and of workers 30 days after the first; not where nobody rested."""
    say, own = load(language).sentences, voice(language)
    assert say["o_winter"] not in section(demo, own).intro
    past = dataclasses.replace(demo.history, winters={"K1-01": WinterRest((90.0,), (200.0,))})
    cold = dataclasses.replace(demo, history=past)
    assert say["o_winter"] in section(cold, own).intro
    told = " ".join(one.text for one in sayings(cold, own))
    plain = " ".join(one.text for one in sayings(demo, own))
    assert say["brood_winter"] in told
    assert say["brood_winter"] not in plain
