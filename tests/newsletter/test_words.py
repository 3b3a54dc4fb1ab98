"""Sentences: what is said, when it must not be said, and that every number is the frozen one."""

from __future__ import annotations

import dataclasses
import re

import numpy as np
import pandas as pd
import pytest
from made_results import spoken

from cohort.errors import GateError
from cohort.figures.material import days_to_speak_of
from cohort.figures.names import of_100
from cohort.newsletter.speech import voice, without_marks
from cohort.newsletter.wording import judge
from cohort.newsletter.words import can_compare, sayings

EN = voice("en")


def change(material, **columns):
    table = material.results.comparisons.copy()
    for name, value in columns.items():
        table[name] = value
    return dataclasses.replace(
        material, results=dataclasses.replace(material.results, comparisons=table)
    )


def contrast(material, better: float, equal: float = 0.1):
    """The same study with every contrast set to one chance."""
    table = material.results.comparisons
    rows = table["chance_multi_better"].notna()
    return change(
        material,
        chance_multi_better=table["chance_multi_better"].where(~rows, better),
        chance_practically_equal=table["chance_practically_equal"].where(~rows, equal),
    )


def of(said, topic, genus="Lasius"):
    return next(s for s in said if s.topic == topic and s.genus == genus)


def numbers(text: str) -> list[float]:
    return [float(n.replace(",", "")) for n in re.findall(r"\d[\d,]*(?:\.\d+)?", text)]


# ------------------------------------------------------------------ the fair pair


def test_the_fair_pair_in_full(demo):
    """One paragraph, checked word for word against the rows it speaks of."""
    said = of(sayings(demo, EN), "fair")
    table = spoken(demo.results.comparisons)

    def row(quantity, arm, queens):
        hit = table[(table["genus"] == "Lasius") & (table["quantity"] == quantity)
                    & (table["arm"] == arm) & (table["queens"] == queens)
                    & (table["day"] == 180)]  # fmt: skip
        return hit.iloc[0]

    k = said.rows[0][2]
    name = {2: ("Two", "two", "pairs"), 3: ("Three", "three", "trios")}[k]
    together, apart = row("chance_per_founding", "multi", k), row(
        "at_least_one_from_same_queens", "single", k)  # fmt: skip
    many = row("colonies_from_same_queens", "single", k)

    def three(r):
        return tuple(of_100(float(r[c])) for c in ("mean", "low", "high"))

    wanted = (
        f"{name[0]} queens, two ways. Kept together: of 100 such groups about {three(together)[0]} "
        f"had workers and a living queen on day 180 (likely range {three(together)[1]} to "
        f"{three(together)[2]}). Kept in {name[1]} single tubes: of 100 such {name[2]} about "
        f"{three(apart)[0]} had at least one colony (likely range {three(apart)[1]} to "
        f"{three(apart)[2]}), {many['mean']:.1f} colonies on average (likely range "
        f"{many['low']:.1f} to {many['high']:.1f})."
    )
    assert said.text.startswith(wanted)


def test_every_number_of_every_sentence_is_in_the_frozen_rows(demo):
    """Read the numbers out of the text and look each up among the rows the saying names."""
    table = spoken(demo.results.comparisons)
    for said in sayings(demo, EN):
        allowed = {1.0, 2.0, 3.0, 30.0, 99.0, 100.0}
        for quantity, arm, queens, day in said.rows:
            hit = table[(table["genus"] == said.genus) & (table["quantity"] == quantity)
                        & (table["arm"] == arm) & (table["queens"] == queens)]  # fmt: skip
            hit = hit[hit["day"].isna() if day == -1 else hit["day"] == day].iloc[0]
            allowed |= {float(day), float(queens), float(hit["foundings"])}
            for column in ("mean", "low", "high", "chance_multi_better",
                           "prior_chance_multi_better"):  # fmt: skip
                if pd.notna(hit[column]):
                    value = float(hit[column])
                    allowed |= {float(of_100(value)), round(value, 1), float(round(value))}
        strange = [
            n for n in numbers(without_marks(f"{said.text} {said.short}")) if n not in allowed
        ]
        assert not strange, (said.topic, said.genus, strange)


def test_the_look_up_can_fail(demo):
    said = of(sayings(demo, EN), "fair")
    assert 77.7 in numbers(said.text + " 77.7")


def test_order_each_kind_then_all_kinds_together_then_the_untried(demo):
    fair = [s.genus for s in sayings(demo, EN) if s.topic == "fair"]
    assert fair[-2:] == ["average", "new"]
    assert set(fair[:-2]) == set(demo.history.foundings["genus"])


@pytest.mark.parametrize("language", ["en", "de"])
def test_no_chance_for_a_group_without_the_same_queens_kept_singly(demo, language):
    """In every saying with a chance for a group, the same queens kept singly are named too."""
    of_groups = {"chance_lasting", "chance_by_day", "chance_one_left", "chance_per_founding"}
    for said in sayings(demo, voice(language)):
        used = {quantity for quantity, arm, *_ in said.rows if arm == "multi"}
        if used & of_groups:
            assert "at_least_one_from_same_queens" in {q for q, *_ in said.rows}, said.topic
            _, arm, k, day = next(r for r in said.rows if r[0] == "at_least_one_from_same_queens")
            table = spoken(demo.results.comparisons)
            hit = (
                (table["quantity"] == "at_least_one_from_same_queens")
                & (table["genus"] == said.genus)
                & (table["arm"] == arm)
                & (table["queens"] == k)
                & (table["day"] == day)
            )
            value = table.loc[hit, "mean"].item()
            sentences = re.split(r"(?<=\.) (?=[A-Z])", said.text)
            assert any(str(of_100(value)) in s for s in sentences)


def test_counts_of_foundings_stand_behind_every_saying(demo):
    for said in sayings(demo, EN):
        assert re.search(r"Behind it: \d+ foundings? by", said.text), said.topic


# ------------------------------------------------------------------ verdicts


@pytest.mark.parametrize(
    ("better", "equal", "verdict", "side"),
    [(0.99, 0.0, "clear", "multi"), (0.95, 0.0, "clear", "multi"), (0.94, 0.0, "leaning", "multi"),
     (0.80, 0.0, "leaning", "multi"), (0.79, 0.0, "open", ""), (0.5, 0.0, "open", ""),
     (0.21, 0.0, "open", ""), (0.20, 0.0, "leaning", "single"), (0.05, 0.0, "clear", "single"),
     (0.001, 0.0, "clear", "single"), (0.97, 0.85, "same", "")],
)  # fmt: skip
def test_judgement(better, equal, verdict, side):
    row = pd.Series({"chance_multi_better": better, "chance_practically_equal": equal})
    assert judge(row) == (verdict, side)


@pytest.mark.parametrize(
    ("better", "word"),
    [(0.999, "keeping them together is clearly ahead"),
     (0.001, "keeping them singly is clearly ahead"),
     (0.88, "it leans towards keeping them together"),
     (0.50, "it is open")],
)  # fmt: skip
def test_very_clear_leaning_and_wide_open(demo, better, word):
    text = of(sayings(contrast(demo, better), EN), "fair").text
    assert word in text
    assert not re.search(r"turn|season would|are needed before|many more", text)  # not computed
    assert "(" in text
    assert "before any sheet was read" in text


def test_the_prior_chance_stands_beside_every_contrast(demo):
    said = of(sayings(change(demo, prior_chance_multi_better=0.37), EN), "fair")
    assert (
        "(37 and 37 before any sheet was read)" in said.text or said.text.count("(37 in 100") == 2
    )


def test_two_verdicts_that_differ_are_told_apart(demo):
    table = demo.results.comparisons
    better = table["chance_multi_better"].copy()
    better[table["quantity"] == "same_queens_any"] = 0.99
    better[table["quantity"] == "same_queens_count"] = 0.01
    text = of(sayings(change(demo, chance_multi_better=better, chance_practically_equal=0.0), EN),
              "fair").text  # fmt: skip
    assert "For at least one colony keeping them together is clearly ahead" in text
    assert "For the number of colonies keeping them singly is clearly ahead" in text


def test_causes_are_named_only_when_all_were_allotted_by_lot(demo, make):
    cause = re.compile(r"made the difference|caused|because|raised|lowered")
    clear = contrast(demo, 0.999)
    assert cause.search(of(sayings(clear, EN), "fair").text)
    foundings = clear.history.foundings.copy()
    first = foundings.index[(foundings["genus"] == "Lasius") & foundings["compared"]][0]
    foundings.loc[first, "assigned"] = "chosen"
    history = dataclasses.replace(clear.history, foundings=foundings)
    said = sayings(dataclasses.replace(clear, history=history), EN)
    for genus in ("Lasius", "average"):
        assert not cause.search(of(said, "fair", genus).text)
        assert "something else about the queens may lie behind it" in of(said, "fair", genus).text
    assert cause.search(of(said, "fair", "Messor").text)
    assert not cause.search(of(said, "fair", "new").text)


@pytest.mark.parametrize("language", ["en", "de"])
def test_no_cause_is_named_for_a_kind_with_few_of_its_own(demo, language):
    """At least four foundings of each way; a kind with three leans on the others."""
    clear, speaker = contrast(demo, 0.999), voice(language)
    word = {"en": "made the difference", "de": "den Unterschied gemacht"}[language]
    leans = {"en": "leans on the other kinds", "de": "lehnt sich also an die anderen"}[language]
    for way in ("single", "multi"):
        for left, named in ((4, True), (3, False), (1, False)):
            foundings = clear.history.foundings.copy()
            mine = foundings.index[
                (foundings["genus"] == "Lasius") & foundings["compared"] & (foundings["arm"] == way)
            ]
            foundings.loc[mine[left:], "compared"] = False
            history = dataclasses.replace(clear.history, foundings=foundings)
            said = sayings(dataclasses.replace(clear, history=history), speaker)
            text = of(said, "fair", "Lasius").text
            assert (word in text) is named, (way, left)
            assert (leans in text) is not named
            assert word in of(said, "fair", "average").text


def test_only_what_was_allotted_may_be_a_cause_not_what_survivors_do(demo):
    for said in sayings(contrast(demo, 0.999), EN):
        if said.topic in ("left", "brood"):
            assert "difference" not in said.text


def test_prior_rules_is_said_in_plain_words(demo):
    for said in sayings(change(demo, prior_rules=True), EN):
        assert "mostly what was assumed beforehand" in said.text, said.topic
    for said in sayings(change(demo, prior_rules=False), EN):
        assert "mostly what was assumed beforehand" not in said.text


def test_no_founding_behind_it_is_carried_over_from_other_kinds(demo):
    table = spoken(demo.results.comparisons)
    foundings = table["foundings"].where(table["genus"] != "Lasius", 0)
    said = sayings(change(demo, foundings=foundings), EN)
    assert "carried over from other kinds" in of(said, "fair").text
    assert "carried over from other kinds" not in of(said, "fair", "Messor").text


# ------------------------------------------------------------------ the grid of studies


def test_a_shut_gate_is_refused(make):
    with pytest.raises(GateError, match="not settled"):
        sayings(make(shut=True), EN)


def test_no_groups_nothing_is_compared(make):
    material = make(multi=False)
    assert not can_compare(material)
    assert sayings(material, EN) == ()


def test_one_kind_speaks_of_that_kind_only(make):
    said = sayings(make(genera=("Lasius",), per=24), EN)
    assert {s.genus for s in said} == {"Lasius"}
    assert not any("all kinds together" in s.text for s in said)


def test_all_dead_is_said_without_crashing(make):
    said = sayings(make(all_dead=True), EN)
    assert {"fair", "survival"} <= {s.topic for s in said}


@pytest.mark.parametrize(("chance", "shown"), [((0.004, 0.004), "0"), ((0.996, 0.996), "100")])
def test_none_of_twelve_and_twelve_of_twelve(make, chance, shown):
    text = of(sayings(make(chance=chance, per=24), EN), "fair").text
    assert f"of 100 such groups about {shown} had workers" in text


def test_never_beyond_the_day_to_which_eight_of_each_way_were_followed(demo):
    foundings = demo.history.foundings.copy()
    foundings["end"] = foundings["end"].clip(upper=95)
    foundings["end_kind"], foundings["lost_by"] = "followed", np.inf
    history = dataclasses.replace(demo.history, foundings=foundings)
    said = sayings(dataclasses.replace(demo, history=history), EN)
    days = [int(d) for s in said for d in re.findall(r"day (\d+)", s.text)]
    assert days
    assert max(days) <= 95
    left = of(said, "left").text
    # days there run from the first worker, which was seen about day 48
    assert "30 days later" in left


def test_seven_of_one_way_are_too_few(demo):
    foundings = demo.history.foundings.copy()
    multi = foundings.index[(foundings["arm"] == "multi") & foundings["compared"]]
    foundings.loc[multi[7:], "compared"] = False
    history = dataclasses.replace(demo.history, foundings=foundings)
    assert not can_compare(dataclasses.replace(demo, history=history))
    foundings.loc[multi[7:9], "compared"] = True
    history = dataclasses.replace(demo.history, foundings=foundings)
    assert days_to_speak_of(dataclasses.replace(demo, history=history), "chance_per_founding")


def test_kinds_beyond_the_first_eight_get_the_fair_pair_only(make):
    genera = tuple(f"Genus{chr(97 + i)}" for i in range(12))
    said = sayings(make(genera=genera, per=8), EN)
    topics = {g: [s.topic for s in said if s.genus == g] for g in genera}
    assert sum(len(t) > 1 for t in topics.values()) == 8
    assert sum(t == ["fair"] for t in topics.values()) == 4


@pytest.mark.parametrize(("housing", "word"), [("test-tube", "tubes"), ("", "tubes"),
                                               ("box", "containers")])  # fmt: skip
def test_what_they_were_kept_in(demo, housing, word):
    foundings = demo.history.foundings.assign(housing=housing)
    history = dataclasses.replace(demo.history, foundings=foundings)
    text = of(sayings(dataclasses.replace(demo, history=history), EN), "fair").text
    assert f"single {word}" in text


def test_unnamed_kinds_stay_in_and_are_said_so(make):
    said = sayings(make(genera=("Lasius", "kind brown"), per=20), EN)
    part = next(s for s in said if s.genus == "kind brown")
    assert EN.kind(part.genus, part.named) == "kind brown (not yet named)"
    assert "\ue000" not in EN.kind(part.genus, part.named)
    assert EN.kind("Lasius", True) == "\ue000Lasius\ue001"
