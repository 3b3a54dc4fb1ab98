"""The rule by which a contrast gets its word."""

from __future__ import annotations

import math
from dataclasses import FrozenInstanceError, replace
from typing import Any, get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cohort.newsletter.catalogue import load
from cohort.verdict import rules
from cohort.verdict.rules import TELLING, Evidence, Verdict, Why, bayes_factor, odds, verdict

NAN = math.nan
SURE = Evidence(
    chance=0.97,
    prior_chance=0.6,
    equal=0.05,
    alike=0.96,
    mated_first=0.7,
    half=0.96,
    double=0.96,
    by_lot=1.0,
)
"""All that `clearly` asks; evidence (.97 / .03) / (.6 / .4) = 21.6."""
KIND = replace(SURE, kind=True, own_share=0.8, single=6, multi=5)
ONE_LESS = math.nextafter(0.95, 0.0)

CASES: list[tuple[str, dict[str, Any], tuple[str, str, str]]] = [
    # by hand: what is changed of SURE, and the verdict
    ("all conditions met", {}, ("clearly", "multi", "none")),
    ("at every limit", {"chance": 0.95, "alike": 0.95, "half": 0.95, "double": 0.95,
                        "by_lot": 0.9}, ("clearly", "multi", "none")),
    ("mated first is told, not asked", {"mated_first": 0.1}, ("clearly", "multi", "none")),
    ("no readings", {"alike": NAN, "mated_first": NAN}, ("clearly", "multi", "none")),
    ("the others left out", {"by_lot": 0.5, "lot_alone": 0.95}, ("clearly", "multi", "none")),
    # odds .97 / .03 = 32.3; prior odds .93 / .07 = 13.3; 2.4
    ("the priors said as much", {"prior_chance": 0.93}, ("expected", "multi", "as-expected")),
    # prior odds .91 / .09 = 10.1; 3.2
    ("just telling", {"prior_chance": 0.91}, ("clearly", "multi", "none")),
    # evidence 2.4: whatever else fails, the sheets do not speak against it
    ("expected, not by lot", {"prior_chance": 0.93, "by_lot": 0.0},
     ("expected", "multi", "as-expected")),
    ("alike fails", {"alike": ONE_LESS}, ("leans", "multi", "readings-differ")),
    ("half strength fails", {"half": ONE_LESS}, ("leans", "multi", "prior-strength")),
    ("double strength fails", {"double": ONE_LESS}, ("leans", "multi", "prior-strength")),
    ("half strength not known", {"half": NAN}, ("leans", "multi", "strength-unknown")),
    ("too few by lot", {"by_lot": math.nextafter(0.9, 0.0)}, ("leans", "multi", "not-by-lot")),
    ("the others left out, less sure", {"by_lot": 0.5, "lot_alone": ONE_LESS},
     ("leans", "multi", "not-by-lot")),
    ("half of the kinds", {"reach": 0.5}, ("clearly", "multi", "none")),
    ("fewer than half", {"reach": math.nextafter(0.5, 0.0)}, ("leans", "multi", "few-kinds")),
    ("a flagged check", {"flags": ("lost after",)}, ("leans", "multi", "flagged-check")),
    ("not sure", {"chance": ONE_LESS}, ("leans", "multi", "unsure")),
    ("leans at its limit", {"chance": 0.8}, ("leans", "multi", "unsure")),
    ("open", {"chance": math.nextafter(0.8, 0.0)}, ("open", "", "unsure")),
    ("even", {"chance": 0.5}, ("open", "", "unsure")),
    ("about the same", {"chance": 0.6, "equal": 0.8}, ("same", "", "none")),
    ("sure of a side, and that it hardly matters", {"equal": 0.8}, ("same", "", "none")),
    ("no margin is set", {"chance": 0.6, "equal": NAN}, ("open", "", "unsure")),
    # singly: 1 - .02 = .98; odds 49 over (.94 / .06) = 15.7 is 3.1; over (.95 / .05) = 19 is 2.6
    ("singly", {"chance": 0.02, "prior_chance": 0.06, "alike": 0.01, "half": 0.03,
                "double": 0.03}, ("clearly", "single", "none")),
    ("singly, as the priors", {"chance": 0.02, "prior_chance": 0.05, "alike": 0.01,
                               "half": 0.03, "double": 0.03}, ("expected", "single",
                                                               "as-expected")),
    ("the number of colonies is arithmetic", {"chance": 0.005, "prior_chance": 0.015,
                                              "alike": 0.001, "half": 0.01, "double": 0.01},
     ("clearly", "single", "none")),  # 199 / 65.7 = 3.03
    ("not followed so far", {"followed": False}, ("none", "", "day-short")),
    ("no prior chance", {"prior_chance": NAN}, ("leans", "multi", "strength-unknown")),
]  # fmt: skip


@pytest.mark.parametrize(("changed", "expected"), [c[1:] for c in CASES], ids=[c[0] for c in CASES])
def test_words_by_hand(changed: dict[str, Any], expected: tuple[str, str, str]) -> None:
    assert verdict(replace(SURE, **changed)) == Verdict(*expected)


@pytest.mark.parametrize(
    ("changed", "why"),
    [
        ({}, None),
        ({"single": 3}, "few-own"),
        ({"multi": 3}, "few-own"),
        ({"single": 4, "multi": 4}, None),
        ({"own_share": 0.49}, "carried-over"),
        ({"own_share": 0.5}, None),
        ({"own_share": NAN}, "carried-over"),
        ({"tried": False}, "carried-over"),
        ({"followed": False}, "day-short"),
        ({"multi": 3, "own_share": 0.1, "followed": False}, "few-own"),
        ({"own_share": 0.1, "followed": False}, "day-short"),
        ({"multi": 3, "equal": 0.9}, "few-own"),
    ],
)
def test_a_kind_needs_foundings_of_its_own(changed: dict[str, Any], why: str | None) -> None:
    found = verdict(replace(KIND, **changed))
    assert found == (Verdict("none", "", why) if why else Verdict("clearly", "multi", "none"))


def test_all_kinds_together_need_no_own_share() -> None:
    assert verdict(replace(KIND, kind=False, own_share=NAN, single=0, multi=0)).word == "clearly"


ORDER = (
    "flagged-check", "not-by-lot", "few-kinds", "prior-strength", "strength-unknown",
    "readings-differ",
)  # fmt: skip
FAILS: dict[str, dict[str, Any]] = {
    "flagged-check": {"flags": ("x",)},
    "not-by-lot": {"by_lot": 0.2},
    "few-kinds": {"reach": 0.49},
    "prior-strength": {"double": 0.9},
    "strength-unknown": {"half": NAN},
    "readings-differ": {"alike": 0.9},
}


@pytest.mark.parametrize("first", range(len(ORDER)))
def test_of_several_points_the_first_by_precedence_is_named(first: int) -> None:
    changed: dict[str, Any] = {}
    for why in ORDER[first:]:
        changed |= FAILS[why]
    assert verdict(replace(SURE, **changed)) == Verdict("leans", "multi", ORDER[first])


CHANCE = st.one_of(
    st.sampled_from([0.0, 0.05, 0.2, 0.5, 0.8, 0.95, ONE_LESS, 1.0]), st.floats(0, 1)
)
MAYBE = st.one_of(st.just(NAN), CHANCE)
EVIDENCE = st.builds(
    Evidence,
    chance=CHANCE,
    prior_chance=MAYBE,
    equal=MAYBE,
    alike=MAYBE,
    mated_first=MAYBE,
    half=MAYBE,
    double=MAYBE,
    by_lot=CHANCE,
    lot_alone=MAYBE,
    kind=st.booleans(),
    own_share=MAYBE,
    single=st.integers(0, 8),
    multi=st.integers(0, 8),
    followed=st.booleans(),
    tried=st.booleans(),
    flags=st.sampled_from([(), ("x",)]),
)
SWAPPED = ("chance", "prior_chance", "alike", "mated_first", "half", "double", "lot_alone")
OTHER = {"single": "multi", "multi": "single", "": ""}


@settings(max_examples=500, deadline=None)
@given(EVIDENCE)
def test_ways_can_be_swapped(evidence: Evidence) -> None:
    if evidence.chance == 0.5:
        return
    turned = {name: 1.0 - getattr(evidence, name) for name in SWAPPED}
    other = replace(evidence, **turned, single=evidence.multi, multi=evidence.single)
    here, there = verdict(evidence), verdict(other)
    assert (there.word, there.side, there.why) == (here.word, OTHER[here.side], here.why)
    assert other.factor == pytest.approx(evidence.factor, rel=1e-9, nan_ok=True)


RANK = {"open": 0, "leans": 1, "expected": 1, "clearly": 2}
"""`expected` says nothing stronger than `leans`: it says where the chance comes from."""


@settings(max_examples=500, deadline=None)
@given(EVIDENCE, st.floats(0.5, 1), st.floats(0.5, 1))
def test_a_higher_chance_never_gives_a_weaker_word(e: Evidence, one: float, two: float) -> None:
    low, high = (verdict(replace(e, chance=c)) for c in sorted((one, two)))
    if {low.word, high.word} & {"none", "same"}:
        assert low == high  # neither hangs on the chance
    else:
        assert RANK[low.word] <= RANK[high.word]


@settings(max_examples=300, deadline=None)
@given(EVIDENCE)
def test_every_word_has_its_side_and_its_reason(evidence: Evidence) -> None:
    found = verdict(evidence)
    assert (found.side == "") == (found.word in ("same", "open", "none"))
    assert (found.why == "none") == (found.word in ("clearly", "same"))


def test_odds_of_finite_draws_end() -> None:
    assert odds(1.0, 1500) == pytest.approx(2999.0)
    assert odds(0.0, 1500) == pytest.approx(1 / 2999)
    assert odds(0.75, 1500) == pytest.approx(3.0)
    # no draw of either side tells of a factor of no more than this
    assert bayes_factor(1.0, 0.0, 100, 100) == pytest.approx(199.0**2)
    assert math.isnan(bayes_factor(NAN, 0.5, 100, 100))


def test_the_limit_is_that_of_a_published_scale() -> None:
    # Kass and Raftery 1995, section 3.2 (from memory): a factor of 1 to 3 is "not worth more than
    # a bare mention", of 3 to 20 "positive". Posterior odds are the factor times the prior odds:
    # from even odds a factor of 3 is a chance of 3/4.
    assert bayes_factor(0.75, 0.5, 10**9, 10**9) == pytest.approx(TELLING)


@pytest.mark.parametrize("language", ["en", "de", "es", "fr"])
def test_every_reason_has_its_clause(language: str) -> None:
    sentences = load(language).sentences
    clauses = {why: sentences[f"why_{why.replace('-', '_')}"] for why in get_args(Why)
               if why != "none"}  # fmt: skip
    assert len(set(clauses.values())) == len(clauses)
    assert all(clause and not clause.endswith(".") for clause in clauses.values())


# --- what mutants of the rule lived on ------------------------------------------------------------


def test_evidence_at_its_limit_is_telling(monkeypatch: pytest.MonkeyPatch) -> None:
    for factor, word in ((TELLING, "clearly"), (math.nextafter(TELLING, 0.0), "expected")):
        monkeypatch.setattr(rules, "bayes_factor", lambda *given, factor=factor: factor)
        assert verdict(SURE).word == word


def test_as_many_draws_stand_behind_a_chance_as_outcomes_are_computed_from() -> None:
    from cohort.outcomes.parameters import PRIOR_DRAWS, THINNED

    assert (Evidence(0.9, 0.5).draws, Evidence(0.9, 0.5).prior_draws) == (THINNED, PRIOR_DRAWS)


def test_a_kind_of_which_no_founding_is_told_has_none_and_even_chances_have_a_side() -> None:
    bare = Evidence(0.97, 0.6, kind=True, own_share=0.8)
    assert (bare.single, bare.multi, bare.reach, bare.by_lot) == (0, 0, 1.0, 1.0)
    assert verdict(bare) == Verdict("none", "", "few-own")
    assert Evidence(0.5, 0.5).side == "multi"
    with pytest.raises(FrozenInstanceError):
        bare.single = 9  # type: ignore[misc]  # frozen: that is the test
    with pytest.raises(FrozenInstanceError):
        verdict(bare).word = "clearly"  # type: ignore[misc]  # likewise
