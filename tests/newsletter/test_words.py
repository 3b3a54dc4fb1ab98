"""Sentences: what is said, when it must not be said, and that every number is the frozen one."""

from __future__ import annotations

import dataclasses
import re

import numpy as np
import pandas as pd
import pytest
from made import judged_anew
from made_results import spoken

from cohort import figures
from cohort.base.errors import GateError
from cohort.figures.material import days_to_speak_of
from cohort.figures.names import of_100
from cohort.newsletter import content, sure, verdicts
from cohort.newsletter.speech import voice, without_marks
from cohort.newsletter.words import can_compare, sayings
from cohort.nonparametric.counts import headline_size
from cohort.results.verdict_rows import Spoken

EN = voice("en")


def change(material, **columns):
    """The same study with other columns of its comparisons, judged anew."""
    table = material.results.comparisons.copy()
    for name, value in columns.items():
        table[name] = value
    results = dataclasses.replace(material.results, comparisons=table)
    return judged_anew(dataclasses.replace(material, results=results))


def with_foundings(material, foundings):
    """The same study with other foundings, judged anew."""
    history = dataclasses.replace(material.history, foundings=foundings)
    return judged_anew(dataclasses.replace(material, history=history))


def with_word(material, word, side="", contrast="same_queens_any", **more):
    """The same study, with one word for a contrast of every kind."""
    why = "unsure" if word in ("leans", "open") else "none"
    table = material.results.verdicts.copy()
    rows = table["contrast"].eq(contrast) & table["genus"].ne("differ")
    for name, value in {"word": word, "side": side, "why": why, **more}.items():
        table.loc[rows, name] = value
    results = dataclasses.replace(material.results, verdicts=table)
    return dataclasses.replace(material, results=results)


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
    said = of(sayings(demo, EN), "fair", "average")
    table = spoken(demo.results.comparisons)

    def row(quantity, arm, queens):
        hit = table[(table["genus"] == "average") & (table["quantity"] == quantity)
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
        f"Take {name[1]} queens. Of 100 {name[2]} housed together, we expect {three(together)[0]} "
        f"to have a colony (workers and a living queen) on day 180 ({three(together)[1]} to "
        f"{three(together)[2]}). Of 100 with each queen apart, we expect {three(apart)[0]} to have "
        f"at least one ({three(apart)[1]} to {three(apart)[2]}), and {many['mean']:.1f} colonies "
        f"on average ({many['low']:.1f} to {many['high']:.1f}). A group can become one colony at "
        f"most, {name[1]} tubes can become {name[1]}. We are "
    )
    assert said.text.startswith(wanted)
    assert said.text.endswith(
        f"(Based on {apart['foundings']} single queens and {together['foundings']} {name[2]}.)"
    )


def test_a_keeper_of_a_kind_is_told_what_to_do_and_what_speaks_for_it(demo):
    """The lead of a kind, word for word, and the row of the table with the ranges."""
    table = spoken(demo.results.comparisons)
    clear = of(sayings(with_word(demo, "clearly", "single"), EN), "fair")
    k = clear.rows[0][2]
    together, apart, many = (
        table[(table["genus"] == "Lasius") & (table["quantity"] == quantity)
              & (table["arm"] == arm) & (table["queens"] == k) & (table["day"] == 180)].iloc[0]
        for quantity, arm in (("chance_per_founding", "multi"),
                              ("at_least_one_from_same_queens", "single"),
                              ("colonies_from_same_queens", "single"))
    )  # fmt: skip
    lots, number = {2: ("pairs", "two"), 3: ("trios", "three")}[k]
    assert without_marks(clear.text).startswith(
        f"Got {number} Lasius queens? House them apart. Apart worked better. Of "
        f"100 {lots} housed together, {of_100(together['mean'])} would have a colony on day 180. "
        f"Of 100 housed apart, {of_100(apart['mean'])} would have at least one, and "
        f"{many['mean']:.1f} colonies on average. "
    )
    cells = [f"{of_100(r['mean'])} ({of_100(r['low'])} to {of_100(r['high'])})"
             for r in (together, apart)]  # fmt: skip
    assert clear.cells[1] == "Apart worked better"
    assert list(clear.cells[3:7]) == [*cells, f"{many['mean']:.1f}", "180"]
    same = of(sayings(with_word(demo, "same"), EN), "fair")
    assert "For one colony, both ways work about equally well." in same.text
    leaning = of(sayings(with_word(demo, "leans", "multi"), EN), "fair").text
    assert "queens? Together is probably better." in leaning
    assert "House them" not in leaning


def strange_in(said, table):
    """Numbers of a saying that stand in none of the rows it names."""
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
                if "chance" in column:  # of the likelier way
                    allowed.add(float(of_100(1 - value)))
        if pd.notna(hit["chance_practically_equal"]):
            allowed.add(float(of_100(hit["chance_practically_equal"])))
    told = numbers(without_marks(" ".join((said.text, *said.cells[2:]))))
    return [number for number in told if number not in allowed]


def test_every_number_of_every_sentence_is_in_the_frozen_rows(demo):
    """Read the numbers out of the text and look each up among the rows the saying names."""
    table = spoken(demo.results.comparisons)
    for said in sayings(demo, EN):
        assert not strange_in(said, table), (said.topic, said.genus)


@pytest.mark.parametrize("column", ["mean", "low", "high"])
def test_a_number_that_is_not_of_the_row_is_found(demo, column):
    """Sentences written from other rows than those they are looked up in."""
    table = spoken(demo.results.comparisons)
    other = table.assign(**{column: table[column] + 0.0731})
    told = [said for said in sayings(demo, EN) if said.topic in ("fair", "first_worker", "left")]
    assert len(told) >= 3
    seen = sum(bool(strange_in(said, other)) for said in told)
    assert seen >= 0.8 * len(told)  # now and then the wrong number stands elsewhere in the row


def test_all_kinds_together_come_first_and_the_untried_last(demo):
    fair = [s.genus for s in sayings(demo, EN) if s.topic == "fair"]
    assert (fair[0], fair[-1]) == ("average", "new")
    assert set(fair[1:-1]) == set(demo.history.foundings["genus"])


@pytest.mark.parametrize("language", ["en", "de", "es", "fr"])
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
        behind = r"\(Based on (\d+ single queens? and )?\d+ (trios?|pairs?)\.\)$"
        assert re.search(behind, said.text), said.topic


# ------------------------------------------------------------------ verdicts


@pytest.mark.parametrize(
    ("better", "words"),
    [(0.999, "House them together. Together worked better."),
     (0.001, "House them apart. Apart worked better."),
     (0.88, "queens? Together is probably better."),
     (0.50, "queens? We cannot tell yet.")],
)  # fmt: skip
def test_very_clear_leaning_and_wide_open(demo, better, words):
    """The prior of the invented study is .12 for together, so .001 is more than was expected."""
    text = of(sayings(contrast(demo, better), EN), "fair").text
    assert words in text
    assert not re.search(r"turn|season would|are needed before|many more", text)  # not computed
    assert "(before the season:" in text


def test_how_sure_we_are_and_were(demo):
    """Of the way that is named, in percent: .97 for together, .12 before."""
    text = of(sayings(contrast(demo, 0.97), EN), "fair").text
    assert "We are 97\u00a0% sure (before the season: 12\u00a0%)." in text
    text = of(sayings(contrast(demo, 0.03), EN), "fair").text
    assert "We are 97\u00a0% sure (before the season: 88\u00a0%)." in text
    text = of(sayings(contrast(demo, 0.45), EN), "fair").text
    assert (
        "We are 55\u00a0% sure that apart is better (before the season: 88\u00a0%). We cannot say "
        "more because the foundings so far do not settle it." in text
    )


def test_what_the_sheets_add_little_to_is_told_as_expected(demo):
    """From .96 to .97 is a factor of 1.3: no finding, whatever the chance."""
    text = of(
        sayings(contrast(change(demo, prior_chance_multi_better=0.04), 0.03), EN), "fair"
    ).text
    assert "House them apart. Apart is better, as we would have said before the season." in text
    assert "We are 97\u00a0% sure (before the season: 96\u00a0%)." in text
    assert "worked better" not in text


def test_about_the_same_says_how_sure(demo):
    text = of(sayings(contrast(demo, 0.97, equal=0.85), EN), "fair").text
    assert "For one colony, both ways work about equally well." in text
    assert "We are 85\u00a0% sure that the two ways differ by less than 5 in 100." in text


WHY = [
    "few-own", "day-short", "carried-over", "as-expected", "flagged-check", "not-by-lot",
    "few-kinds", "prior-strength", "strength-unknown", "readings-differ", "unsure",
]  # fmt: skip
WORDS = [
    ("clearly", "single"), ("clearly", "multi"), ("expected", "single"), ("expected", "multi"),
    ("leans", "single"), ("leans", "multi"), ("same", ""), ("open", ""), ("none", ""),
]  # fmt: skip


def test_every_word_and_reason_of_the_rule_has_its_words():
    from typing import get_args

    from cohort.verdict.rules import Why, Word

    assert {word for word, _ in WORDS} == set(get_args(Word))
    assert {*WHY, "none"} == set(get_args(Why))


@pytest.mark.parametrize("language", ["en", "de", "es", "fr"])
def test_every_word_with_every_reason_is_a_whole_sentence(language):
    speaker = voice(language)
    for word, side in WORDS:
        for why in WHY if word in ("leans", "open", "none") else ["none"]:
            found = Spoken("same_queens_any", "Lasius", 3, 180, word, side, why, 0.4, 0.2, 4.0)
            text = verdicts.told(speaker, found, 0.9)
            assert not re.search(r"[{}]|  |\.\.|,,| ,|\bnone\b|nan", text), text
            assert text[0].isupper()
            assert text.endswith(".")
            for sentence in re.split(r"(?<=\.) ", text):
                assert sentence[0].isupper(), text
            if word in ("leans", "open", "none"):
                assert speaker.say(verdicts.why_key(found)) in text
            short = verdicts.cell(speaker, found)
            assert short
            assert not short.endswith(".")
            for size in (2, 3, 14):
                for genus, named in (("", False), ("Lasius", True), ("kind brown", False)):
                    head = headline(speaker, found, size, genus, named)
                    assert not re.search(r"[{}]|  |\.$", head), head
                    assert head[0].isupper() or head[0].isdigit(), head


def headline(speaker, found, size, genus="", named=False):
    """A headline as the page sets it."""
    queens = speaker.some_queens(size, genus, named)
    return speaker.cap(
        speaker.say(
            f"head_{verdicts.key_of(found)}", queens=queens, k=speaker.word(size),
            tube=speaker.say("tube"), tubes=speaker.say("tubes"),
        )
    )  # fmt: skip


STRONG = {"en": r"did better|worked better", "de": r"schnitten .*besser ab|ging es besser",
          "es": r"les fue mejor", "fr": r"sont mieux sorties|a mieux marché"}  # fmt: skip
WEAK = {"en": "probably", "de": "wahrscheinlich", "es": "probablemente", "fr": "probablement"}


def test_only_leaning_says_probably():
    for language, weak in WEAK.items():
        speaker = voice(language)
        for word, side in WORDS:
            found = Spoken("same_queens_any", "Lasius", 3, 180, word, side, "unsure", 0.4, 0.2, 4.0)
            for text in (verdicts.told(speaker, found, 0.9), verdicts.cell(speaker, found),
                         headline(speaker, found, 3)):  # fmt: skip
                assert (weak in text.lower()) == (word == "leans"), (word, text)


def test_only_clearly_says_clearly():
    """In no language does a weaker word borrow the strongest: the past that says it happened."""
    for language, strong in STRONG.items():
        speaker = voice(language)
        for word, side in WORDS:
            found = Spoken("same_queens_any", "Lasius", 3, 180, word, side, "unsure", 0.4, 0.2, 4.0)
            for text in (verdicts.told(speaker, found, 0.9), verdicts.cell(speaker, found),
                         headline(speaker, found, 3)):  # fmt: skip
                assert bool(re.search(strong, text)) == (word == "clearly"), (word, text)


@pytest.mark.parametrize(
    "language",
    ["en", *(pytest.param(other, marks=pytest.mark.slow) for other in ("de", "es", "fr"))],
)
def test_nothing_is_called_clear_that_the_table_does_not_call_so(make, language):
    """Over a grid of studies: each sentence that says so has its row in verdicts.csv."""
    strong = STRONG[language]
    seen = 0
    for seed in range(2):
        for better in (None, 0.001, 0.9, 0.999):
            material = make(seed=seed)
            material = material if better is None else contrast(material, better)
            table = material.results.verdicts
            size = headline_size(material.history.foundings)
            rows = table[table["queens"].eq(size) & table["word"].eq("clearly")]
            there = set(zip(rows["genus"], rows["contrast"], strict=True))
            for said in sayings(material, voice(language)):
                contrasts = {
                    "fair": ["same_queens_any"],
                    "survival": ["share_alive"],
                    "colony": ["colonies_per_queen"],
                }.get(said.topic, [])
                told = len(re.findall(strong, said.text))
                seen += told
                assert told <= sum((said.genus, c) in there for c in contrasts), said.text
                if said.topic == "fair" and re.search(strong, " ".join(said.cells)):
                    assert (said.genus, "same_queens_any") in there
            page = content(material, {}, voice(language))
            if re.search(strong, page.headline):
                assert ("average", "same_queens_any") in there
            if re.search(strong, " ".join(page.sure)):
                assert ("average", "same_queens_count") in there
    assert seen > 20  # the search does find them


def test_a_word_that_is_changed_in_the_table_changes_the_page(demo):
    """No other source: with the same numbers, another word in verdicts.csv is told."""
    grid = (("clearly", "multi", "Together worked better", "did better in one tube than in"),
            ("open", "", "We cannot tell yet", "We cannot tell yet whether"),
            ("leans", "single", "Apart is probably better", "queens probably do better in "),
            )  # fmt: skip
    for word, side, words, head in grid:
        changed = with_word(demo, word, side)
        assert head in content(changed, {}, EN).headline
        for said in sayings(changed, EN):
            if said.topic == "fair":
                assert words in said.cells
                assert words in said.text or said.genus == "average"
                assert (said.verdict, said.side) == (word, side)


def test_the_number_of_colonies_is_arithmetic_until_the_sheets_say_more(demo):
    """A factor of 2.9 is no finding, one of 3 is; and what was sure before any sheet is none."""
    count = {"contrast": "same_queens_count", "prior_chance": 0.1}
    for evidence, told in ((2.9, False), (3.0, True), (40.0, True), (np.nan, False)):
        word = with_word(demo, "clearly", "single", evidence=evidence, **count)
        said = " ".join(sure.sentences(with_word(word, "open"), EN))
        assert ("For the number of colonies: apart worked better." in said) is told
    before = with_word(demo, "clearly", "single", evidence=40.0, **count | {"prior_chance": 0.04})
    assert "For the number of colonies" not in " ".join(sure.sentences(before, EN))
    size = {2: "two", 3: "three"}[headline_size(demo.history.foundings)]
    line = f"A group can become one colony at most, {size} tubes can become {size}."
    assert sum(line in one.text for one in sayings(demo, EN)) == 1


# ------------------------------------------------------------------ kinds with too few of their own


def few_of(material, genus, left=3):
    """The same study with only so many groups of a kind."""
    foundings = material.history.foundings.copy()
    mine = foundings.index[
        (foundings["genus"] == genus) & foundings["compared"] & (foundings["arm"] == "multi")
    ]
    foundings.loc[mine[left:], "compared"] = False
    return with_foundings(material, foundings)


@pytest.mark.parametrize("language", ["en", "de", "es", "fr"])
def test_kinds_with_too_few_of_their_own_stand_in_one_line_only(demo, language):
    few = few_of(demo, "Lasius")
    speaker = voice(language)
    page = content(few, figures.numbers(few), speaker)
    line = {"en": "We have too few foundings of {} for a verdict",
            "de": "Zu wenige Gründungen für ein eigenes Urteil: {}.",
            "es": "Demasiado pocas fundaciones para un veredicto propio: {}.",
            "fr": "Trop peu de fondations pour un verdict propre\u00a0: {}."}[language]  # fmt: skip
    says = page.by_kind_says
    assert " ".join(says).count(line.format(speaker.kind("Lasius", True))) == 1
    assert says[-1] == speaker.say("tally_guide")  # and is told what to go by
    assert "Lasius" not in " ".join((*page.lead, *page.kind_leads))
    assert not any("Lasius" in row[0] for row in page.by_kind.rows)
    assert "Lasius" not in {s.genus for s in page.sayings}
    assert not any("Lasius" in s.text for s in page.sayings)
    assert not any("Lasius" in row[0] for row in page.lasting.rows)
    shown = page.pictures["both_ways"]
    frame = shown.drawing.frame
    mine = frame[frame["genus"] == "Lasius"]
    assert set(mine["source"]) == {"counted"}  # never the model's number
    assert mine["low"].isna().all()
    assert "Lasius" not in shown.alt
    assert "Lasius" not in set(page.pictures["how_sure"].drawing.frame["genus"])
    assert "Lasius" in {s.genus for s in content(demo, {}, speaker).sayings}


def test_a_kind_followed_for_less_long_is_spoken_of_to_its_own_day(demo):
    foundings = demo.history.foundings.copy()
    mine = foundings["genus"] == "Lasius"
    foundings.loc[mine, "end"] = foundings.loc[mine, "end"].clip(upper=95)
    foundings.loc[mine, "end_kind"], foundings.loc[mine, "lost_by"] = "followed", np.inf
    short = with_foundings(demo, foundings)
    said = sayings(short, EN)
    for one in said:
        days = {int(day) for day in re.findall(r"day (\d+)", one.text)}
        if one.genus == "Lasius":
            assert max(days, default=0) <= 95
    assert "on day 90" in of(said, "fair").text
    assert of(said, "fair").cells[6] == "90"
    assert "on day 180" in of(said, "fair", "average").text
    page = content(short, figures.numbers(short), EN)
    caption = without_marks(page.pictures["both_ways"].caption)
    assert "Shown for an earlier day: Lasius (day 90)" in caption


def test_numbers_carried_over_from_other_kinds_are_not_spoken_of(demo):
    """Not even where the kind has a verdict: that of another day, say."""
    table = demo.results.comparisons
    alive = table["quantity"].eq("share_alive") & table["genus"].eq("Lasius")
    other = dataclasses.replace(
        demo,
        results=dataclasses.replace(
            demo.results, comparisons=table.assign(carried_over=alive | table["carried_over"])
        ),
    )
    topics = {s.topic for s in sayings(other, EN) if s.genus == "Lasius"}
    assert "survival" not in topics
    assert "fair" in topics
    assert "survival" in {s.topic for s in sayings(other, EN) if s.genus == "Messor"}


def test_that_most_kinds_were_not_followed_is_said_of_all_kinds_together(demo):
    days = {"Lasius": 180, "Messor": 90, "Formica": 60, "Myrmica": 0}
    for share, told in ((0.25, True), (0.5, False)):
        demo.results.diagnosis.update(followed_share=share, kind_days=days)
        line = "Only 1 of the 4 kinds had at least four foundings of each way followed to day 180"
        said = " ".join(sure.sentences(demo, EN))
        assert (line in said) is told
        assert ("What could change the answer: other results" in said) is told
    del demo.results.diagnosis["followed_share"], demo.results.diagnosis["kind_days"]


def test_kinds_differ_only_where_the_table_says_so(demo):
    """Two kinds that go two ways are no difference by themselves."""
    table = demo.results.verdicts.copy()
    rows = table["contrast"].eq("same_queens_any")
    table.loc[rows, ["word", "side"]] = ["clearly", "single"]
    table.loc[rows & table["genus"].eq("Messor"), "side"] = "multi"
    table.loc[table["genus"].eq("differ"), ["word", "side"]] = ["open", ""]
    apart = dataclasses.replace(
        demo, results=dataclasses.replace(demo.results, verdicts=table.copy())
    )
    page = content(apart, {}, EN)
    assert "did better in" in page.headline
    assert "Nothing so far shows that the kinds differ." in page.by_kind_says
    table.loc[table["genus"].eq("differ"), "word"] = "clearly"
    page = content(
        dataclasses.replace(demo, results=dataclasses.replace(demo.results, verdicts=table)), {}, EN
    )
    assert page.headline == "Together or apart? It depends on the kind of ant"
    assert (
        "The kinds differ in how much it matters; we are 97\u00a0% sure of that."
        in page.by_kind_says
    )


def test_a_flagged_check_stands_beside_the_numbers_it_touches(demo):
    flag = {"check": "losses_before_workers", "by": "genus", "group": "Lasius", "genus": "Lasius",
            "observed": 12.0, "expected": 5.0, "tail_area": 0.001, "says": "more",
            "touches": ["queen_survival", "colony"]}  # fmt: skip
    demo.results.diagnosis["flags"] = [flag]
    doubt = "Something in the sheets does not fit the model here"
    said = sayings(demo, EN)
    for genus, told in (("Lasius", True), ("average", True), ("new", True), ("Messor", False)):
        assert (doubt in of(said, "fair", genus).text) is told
    assert doubt in of(said, "survival").text
    assert doubt not in of(said, "first_worker").text
    page = content(demo, figures.numbers(demo), EN)
    assert any("Lasius: more queens lost before workers than expected" in without_marks(text)
               for text in page.sure)  # fmt: skip
    assert doubt in page.lasting.title
    assert doubt in page.pictures["both_ways"].caption
    assert doubt in page.pictures["queen_survival"].caption
    assert doubt not in page.pictures["first_worker"].caption
    del demo.results.diagnosis["flags"]
    assert not any(doubt in s.text for s in sayings(demo, EN))


def test_causes_are_named_only_when_all_were_allotted_by_lot(demo, make):
    cause = re.compile(r"made the difference|caused|because|raised|lowered")
    clear = contrast(demo, 0.999)
    assert cause.search(of(sayings(clear, EN), "fair", "average").text)
    assert not cause.search(of(sayings(clear, EN), "fair").text)  # said once
    foundings = clear.history.foundings.copy()
    first = foundings.index[(foundings["genus"] == "Lasius") & foundings["compared"]][0]
    foundings.loc[first, "assigned"] = "chosen"
    said = sayings(with_foundings(clear, foundings), EN)
    for genus in ("Lasius", "average"):
        assert not cause.search(of(said, "fair", genus).text)
        assert "something else about the queens may lie behind it" in of(said, "fair", genus).text
    assert cause.search(of(said, "fair", "Messor").text)
    assert not cause.search(of(said, "fair", "new").text)


def test_only_what_was_allotted_may_be_a_cause_not_what_survivors_do(demo):
    for said in sayings(contrast(demo, 0.999), EN):
        if said.topic in ("left", "brood"):
            assert "difference" not in said.text


def test_prior_rules_is_said_in_plain_words(demo):
    for said in sayings(change(demo, prior_rules=True), EN):
        assert "mostly what we assumed beforehand" in said.text, said.topic
    for said in sayings(change(demo, prior_rules=False), EN):
        assert "mostly what we assumed beforehand" not in said.text


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
    assert f"of 100 trios housed together, {shown} would have a colony" in text.lower()


def test_never_beyond_the_day_to_which_eight_of_each_way_were_followed(demo):
    foundings = demo.history.foundings.copy()
    foundings["end"] = foundings["end"].clip(upper=95)
    foundings["end_kind"], foundings["lost_by"] = "followed", np.inf
    said = sayings(with_foundings(demo, foundings), EN)
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
    said = sayings(make(genera=genera, per=12), EN)
    topics = {g: [s.topic for s in said if s.genus == g] for g in genera}
    assert sum(len(t) > 1 for t in topics.values()) == 8
    assert sum(t == ["fair"] for t in topics.values()) == 4


@pytest.mark.parametrize(("housing", "word"), [("test-tube", "tubes"), ("", "tubes"),
                                               ("box", "containers")])  # fmt: skip
def test_what_they_were_kept_in(demo, housing, word):
    foundings = demo.history.foundings.assign(housing=housing)
    history = dataclasses.replace(demo.history, foundings=foundings)
    text = of(sayings(dataclasses.replace(demo, history=history), EN), "fair", "average").text
    size = {2: "two", 3: "three"}[headline_size(demo.history.foundings)]
    assert f"at most, {size} {word} can become {size}." in text


def test_unnamed_kinds_stay_in_and_are_said_so(make):
    said = sayings(make(genera=("Lasius", "kind brown"), per=20), EN)
    part = next(s for s in said if s.genus == "kind brown")
    assert EN.kind(part.genus, part.named) == "kind brown (not yet named)"
    assert "\ue000" not in EN.kind(part.genus, part.named)
    assert EN.kind("Lasius", True) == "\ue000Lasius\ue001"
