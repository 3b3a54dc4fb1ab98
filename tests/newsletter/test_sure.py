"""How sure and why not surer: lasting colonies, other seasons, other assumptions, further fits."""

from __future__ import annotations

import dataclasses
import re

import pandas as pd
import pytest
from test_words import contrast, few_of, with_word

from cohort.figures.names import of_100
from cohort.newsletter import sensitivity, sure, verdicts, voice
from cohort.newsletter.speech import without_marks
from cohort.newsletter.verdicts import lines
from cohort.sheets import written

EN, DE, FR = voice("en"), voice("de"), voice("fr")


def row(material, quantity, genus, arm, queens, reading="seen", day=180):
    table = material.results.comparisons
    hit = table[(table["quantity"] == quantity) & (table["genus"] == genus) & (table["arm"] == arm)
                & (table["queens"] == queens) & (table["day"] == day)
                & (table["reading"] == reading)]  # fmt: skip
    assert len(hit) == 1
    return hit.iloc[0]


# ------------------------------------------------------------------ lasting colonies


def test_lasting_colonies_run_from_as_seen_to_mated_queens_dying_first(demo):
    """All kinds first; the three readings of the group, then the same queens singly."""
    table = sure.lasting(demo, EN)
    assert table is not None
    first = table.rows[0]
    assert first[:2] == ("All kinds together", "180")
    size = demo.size
    wanted = [row(demo, "chance_per_founding", "average", "multi", size)]
    wanted += [row(demo, "chance_lasting", "average", "multi", size, reading)
               for reading in ("alike", "mated-first")]  # fmt: skip
    wanted += [row(demo, "at_least_one_from_same_queens", "average", "single", size)]
    told = [f"{of_100(r['mean'])} ({of_100(r['low'])} to {of_100(r['high'])})" for r in wanted]
    assert list(first[2:6]) == told
    means = [float(r["mean"]) for r in wanted[:3]]
    assert means == sorted(means, reverse=True)
    assert {"Lasius", "Messor"} <= {without_marks(r[0]) for r in table.rows}


# ------------------------------------------------------------------ another season


def with_another_season(material, wider=0.1):
    """The same study with rows of a season not seen yet: those of all kinds, wider."""
    table = material.results.comparisons
    more = table[table["genus"] == "average"].assign(genus="next_season")
    more["low"], more["high"] = more["low"] - wider, more["high"] + wider
    results = dataclasses.replace(
        material.results, comparisons=pd.concat([table, more], ignore_index=True)
    )
    return dataclasses.replace(material, results=results)


def test_what_this_season_was_and_how_wide_another_may_be(demo):
    assert sure.another_season(demo, EN) == ""
    text = sure.another_season(with_another_season(demo), EN)
    assert text.startswith("Seasons differ. In another one we would expect ")
    size = demo.size
    for quantity, arm in (("chance_per_founding", "multi"),
                          ("at_least_one_from_same_queens", "single")):  # fmt: skip
        now = row(demo, quantity, "average", arm, size)
        low, high = float(now["low"]), float(now["high"])
        assert f"{of_100(low - 0.1)} to {of_100(high + 0.1)}" in text
    assert "housed together" in text
    assert "housed apart" in text


# ------------------------------------------------------------------ other assumptions


@pytest.mark.parametrize("speaker", [EN, DE, FR], ids=["en", "de", "fr"])
def test_how_sure_under_other_assumptions_is_read_from_the_table(demo, speaker):
    """Chances of the way that is named: .2 for together is 80 % for singly."""
    word = with_word(demo, "leans", "single", chance=0.1)
    table = word.results.sensitivity.copy()
    columns = {"half": 0.2, "double": 0.05, "alike": 0.04, "mated_first": 0.03, "lot_alone": 0.12}
    for name, value in columns.items():
        table[name] = value
    other = dataclasses.replace(word, results=dataclasses.replace(word.results, sensitivity=table))
    text = verdicts.otherwise(other, speaker)
    assert text in sure.sentences(other, speaker)
    assert [int(n) for n in re.findall(r"(\d+)\u00a0%", text)] == [80, 95, 96, 97, 88]
    table["lot_alone"] = float("nan")
    assert "88" not in verdicts.otherwise(other, speaker)


def test_tables_name_no_kind_without_a_verdict(demo):
    few = few_of(demo, "Lasius")
    for make in (sensitivity.verdict_tables, sensitivity.sensitivity_tables):
        for table in make(few, EN):
            names = [without_marks(r[0]) for r in table.rows]
            assert "Lasius" not in names
            assert names[0] == "all kinds together"
            assert "Messor" in names
            assert {len(r) for r in table.rows} == {len(table.head)}
        assert any("Lasius" in r[0] for table in make(demo, EN) for r in table.rows)


def test_the_table_of_verdicts_says_what_the_page_says(demo):
    """Word, how sure, how sure before, and the reason, row by row."""
    clear = contrast(demo, 0.03)
    first = sensitivity.verdict_tables(clear, EN)[0]
    cells = dict(zip(first.head, first.rows[0], strict=True))
    assert cells["verdict"] == "Apart worked better"
    assert (cells["how sure, %"], cells["before the season, %"]) == ("97", "88")
    open_ = sensitivity.verdict_tables(contrast(demo, 0.5), EN)[0]
    assert open_.rows[0][-1] == "the foundings so far do not settle it"
    certain = sensitivity.verdict_tables(contrast(demo, 1.0), EN)[0]
    assert certain.rows[0][3] == ">99"


def test_arithmetic_is_called_so_in_the_table(demo):
    word = with_word(demo, "clearly", "single", contrast="same_queens_count", evidence=2.0)
    title = EN.say("q_same_queens_count")
    told = next(t for t in sensitivity.verdict_tables(word, EN) if t.title == title)
    assert {r[2] for r in told.rows} == {"arithmetic, no finding"}


def test_further_fits_are_told_where_they_were_made(tmp_path):
    assert sensitivity.further_fits(tmp_path, EN) == ((), None)
    assert sensitivity.further_fits(None, EN) == ((), None)
    place = tmp_path / "thorough"
    place.mkdir()
    (place / "told.txt").write_text("Leaving out one founding at a time: 1 of 60.\n")
    table = pd.DataFrame(
        [dict(variant="as agreed", meaning="the model of the page", elpd=-200.0, difference=0.0,
              se=0.0, parameters=9.0, worst_k=0.5, unreliable=1, settled=True, divergences=0),
         dict(variant="lasting", meaning="company stays with the last queen", elpd=-203.0,
              difference=-3.0, se=1.5, parameters=9.0, worst_k=0.6, unreliable=0, settled=False,
              divergences=0)]
    )  # fmt: skip
    written.write(written.typed(table, "variants"), "variants", place / "variants.csv")
    said, variants = sensitivity.further_fits(tmp_path, EN)
    assert said == ("Leaving out one founding at a time: 1 of 60.",)
    assert variants is not None
    assert variants.rows[1] == ("lasting", "company stays with the last queen", "-3.0", "1.5",
                                "0", "no")  # fmt: skip


# ------------------------------------------------------------------ the terminal


def test_the_terminal_says_the_words_of_the_table(demo):
    told = lines(contrast(few_of(demo, "Lasius"), 0.999), EN)
    size = demo.size
    assert told[0] == (
        f"All kinds together, {size} queens, day 180: together is clearly better "
        "(more than 99 % sure; before the season 12 %)."
    )
    assert told[-1] == "We have too few foundings of Lasius for a verdict of its own."
    assert sum("Lasius" in line for line in told) == 1
    assert any(line.startswith("Messor, ") for line in told)
