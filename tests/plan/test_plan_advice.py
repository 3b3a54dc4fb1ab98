"""What a plan advises: by pen from made-up draws, its boundaries, and its sentences."""

import math
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from plan_made import KNOWN, basis, spread

from cohort.base.display import untied
from cohort.base.errors import StudyError
from cohort.outcomes.basis import Kind, prior_basis
from cohort.plan import phrases, plan
from cohort.plan.advice import (
    Advice,
    advice,
    best_and_other,
    practically_equal,
    wanted,
    way,
)
from cohort.plan.phrases import speaks
from cohort.plan.words import as_json, first_words
from cohort.terms.voice import told

LASIUS = Kind("Lasius", 0)
EN = speaks()
ASSUMED = EN.say("assumed")


def advice_text(own):
    return untied(phrases.advice_text(own, EN))


def trade_text(what):
    return untied(phrases.trade_text(what, EN))


APART, TRIO = (1, 1, 1), (3,)


# --- by pen -------------------------------------------------------------------------------------
# Three draws; chance of a colony of one queen .5 .6 .9, of a trio .8 .7 .9.
# Apart, at least one: 1 - .5^3 = .875, 1 - .4^3 = .936, 1 - .1^3 = .999; mean .936666...
# Trio: .8 .7 .9; mean .8. Apart is better in 3 of 3, and never within .05 (gaps .075 .236 .099).
# Colonies apart 1.5 1.8 2.7, trio .8 .7 .9.
ONE = np.array([[0.875, 0.936, 0.999], [0.8, 0.7, 0.9]])
# Before the season: apart .5 .6 .7, trio .6 .5 .68: better in 2 of 3, within .05 in 1 of 3.
BEFORE = np.array([[0.5, 0.6, 0.7], [0.6, 0.5, 0.68]])


def test_advice_from_three_draws_by_pen():
    got = advice("one", APART, TRIO, ONE, BEFORE)
    assert got.value == pytest.approx(0.9366666667)
    assert got.other == pytest.approx(0.8)
    assert got.chance == 1.0
    assert got.near == 0.0
    assert got.prior_chance == pytest.approx(2 / 3)
    assert got.prior_near == pytest.approx(1 / 3)
    assert not got.alike
    assert advice_text(got) == (
        "For at least one colony, house the three apart. We are more than 99 % sure that this "
        "beats a trio (before the season: 67 %)."
    )


def test_sureness_is_of_draws_and_not_of_means():
    # one draw far ahead, two a little behind: ahead on average, behind as likely as not
    now = np.array([[0.9, 0.4, 0.4], [0.2, 0.45, 0.45]])
    got = advice("one", APART, TRIO, now)
    assert got.value > got.other
    assert got.chance == pytest.approx(1 / 3)
    assert math.isnan(got.prior_chance)
    assert "We are only 33 % sure" in advice_text(got)
    assert "before the season" not in advice_text(got)
    # draws belong together: out of step the share is another
    out_of_step = advice("one", APART, TRIO, np.array([now[0], [0.45, 0.2, 0.45]]))
    assert out_of_step.chance == pytest.approx(2 / 3)


@pytest.mark.parametrize(
    ("want", "one", "other", "queens", "equal"),
    [
        ("one", 0.85, 0.80, 3, True),
        ("one", 0.80, 0.85, 3, True),
        ("one", 0.851, 0.80, 3, False),
        ("many", 1.15, 1.0, 3, True),  # .05 for each of three queens
        ("many", 1.16, 1.0, 3, False),
        ("many", 1.16, 1.0, 4, True),
        ("workers", 11.1, 10.0, 3, True),
        ("workers", 11.2, 10.0, 3, False),
        ("workers", 9.0, 10.0, 3, True),
        ("workers", 8.9, 10.0, 3, False),
        ("workers", 0.0, 0.0, 3, True),
    ],
)
def test_where_little_difference_ends(want, one, other, queens, equal):
    assert bool(practically_equal(one, other, want, queens)) is equal


def test_little_difference_is_said_with_both_numbers_and_how_sure():
    now = np.array([[0.93, 0.90, 0.96], [0.91, 0.92, 0.70]])  # means .93 and .843: not alike
    assert not advice("one", APART, TRIO, now).alike
    now = np.array([[0.93, 0.90, 0.96], [0.91, 0.92, 0.86]])  # .93 and .8967; 2 of 3 within .05
    assert advice_text(advice("one", APART, TRIO, now, now)) == (
        "It makes little difference: 93 of 100 such sets have at least one colony with the three "
        "apart, and 90 of 100 as a trio. We are only 67 % sure that the two lie within 5 of 100 of "
        "each other (before the season: 67 %)."
    )
    assert advice_text(advice("many", TRIO, APART, np.array([[1.1], [1.0]]))) == (
        "It makes little difference: 1.1 colonies on average as a trio, 1.0 with the three apart. "
        "We are more than 99 % sure that the two lie within 0.15 colonies of each other."
    )
    assert advice_text(advice("workers", TRIO, APART, np.array([[11.0], [10.0]]))) == (
        "It makes little difference: about 11 workers in the strongest colony as a trio, about 10 "
        "with the three apart. We are more than 99 % sure that the two lie within 11 % of each "
        "other."
    )


# --- which two are compared ---------------------------------------------------------------------


def test_the_runner_up_is_of_another_way():
    parts = ((1, 1, 1), (2, 1), (3,))
    assert [way(p) for p in parts] == ["apart", "both", "groups"]
    # 2 + 1 comes second, but is half the same thing: the trio is what apart is set against
    assert best_and_other(np.array([0.9, 0.85, 0.7]), parts) == (0, 2)
    # a division with a group in it is always set against the same queens apart
    assert best_and_other(np.array([0.7, 0.9, 0.85]), parts) == (1, 0)
    assert best_and_other(np.array([0.7, 0.8, 0.85]), parts) == (2, 0)
    # three queens and no group above two: nobody alone cannot be had
    assert best_and_other(np.array([0.9, 0.85]), parts[:2]) == (0, 1)
    assert best_and_other(np.array([0.9]), parts[:1]) == (0, -1)


def test_more_than_one_group_is_set_against_apart_by_the_best_of_them():
    parts = ((1,) * 4, (2, 1, 1), (2, 2), (3, 1), (4,))
    assert best_and_other(np.array([0.9, 0.89, 0.6, 0.88, 0.7]), parts) == (0, 4)


@pytest.mark.parametrize(
    ("parts", "said"),
    [
        ((3,), "a trio"),
        ((2, 2), "two pairs"),
        ((3, 2, 2), "a trio and two pairs"),
        ((4, 3, 1), "a group of four, a trio and one queen alone"),
        ((2, 1, 1), "a pair and two queens alone"),
        ((5, 5), "two groups of five"),
        ((2,) * 90 + (1,) * 20, "90 pairs and 20 queens alone"),
    ],
)
def test_divisions_are_named_as_keepers_name_them(parts, said):
    assert phrases.named(parts, EN) == said


def test_nothing_is_certain():
    assert untied(EN.percent(1.0)) == "more than 99 %"
    assert untied(EN.percent(0.0)) == "less than 1 %"
    assert untied(EN.percent(0.866)) == "87 %"


# --- sentences of whole plans -------------------------------------------------------------------


def brood(one, ratio, sizes=(2, 3)):
    """Rows of the first brood that are all but certain: workers alone, times in a group."""

    def row(arm, queens, mean):
        ends = (mean * 0.999, mean * 1.001)
        return ("Lasius", arm, queens, mean, *ends, 0.9)

    rows = [row("single", 1, one)]
    for k in sizes:
        rows += [row("multi", k, one * ratio), row("ratio", k, ratio)]
    names = ["genus", "arm", "queens", "mean", "low", "high", "level"]
    return pd.DataFrame(rows, columns=names)


def counted(one, ratio):
    """Foundings whose counts are exactly their means: nothing beyond Poisson."""
    frame = pd.DataFrame({"genus": "Lasius", "size": [1, 3] * 30})
    frame["brood_workers"] = np.where(frame["size"] == 1, one, one * ratio)
    return frame.assign(first_by=50.0, brood_day=80.0)


def with_brood(ratio, one=10.0):
    known = basis(*spread(200, 4))
    return replace(known, brood=brood(one, ratio), brood_counts=counted(one, ratio))


def test_workers_want_the_group_when_it_starts_with_many_and_singles_when_not():
    # By pen: a queen alone has a colony with chance .42, a trio with .59 (means of these draws),
    # and 10 workers alone. The strongest of three alone: 10 (1 - .58^3) = 8.0, with the spread of
    # counts, which helps three more than one, 8.7. The trio: .59 x 10 r: ahead from r = 1.5 on.
    ahead = {}
    for r in (1.0, 1.3, 1.7, 4.0):
        table = plan(3, LASIUS, with_brood(r), largest=3, day=160, want="workers").table
        by = table.set_index("division")["workers_strongest"]
        ahead[r] = bool(by["3"] > by["3 x 1"])
    assert ahead == {1.0: False, 1.3: False, 1.7: True, 4.0: True}
    many = plan(3, LASIUS, with_brood(4.0), largest=3, day=160, want="workers")
    few = plan(3, LASIUS, with_brood(1.0), largest=3, day=160, want="workers")
    assert many.advice.best != APART
    assert many.advice.against == APART
    assert max(many.advice.best) > 1
    assert few.advice.best == APART
    assert "For a strong colony soon, house the three apart" in advice_text(few.advice)
    assert "beats keeping them apart" in advice_text(many.advice)
    # what is wanted otherwise does not hang on the brood
    one = [plan(3, LASIUS, with_brood(r), largest=3, day=160).advice.best for r in (1.0, 4.0)]
    assert one[0] == one[1]


def test_the_trade_names_the_group_and_the_containers():
    what = plan(3, LASIUS, with_brood(2.0), largest=3, day=160)
    table = what.table.set_index("division")["colonies"]
    assert trade_text(what) == (
        "A trio starts with about twice the workers of one queen (likely range 2.0 to 2.0). "
        f"But three containers give {table['3 x 1']:.1f} colonies on average; a trio gives "
        f"{table['3']:.1f}."
    )
    assert "about as many workers as one queen" in trade_text(
        plan(3, LASIUS, with_brood(1.05), largest=3, day=160)
    )


def test_priors_alone_are_said_to_be_assumptions():
    what = plan(3, Kind("", -1), prior_basis(draws=200), largest=3)
    said = first_words(what)
    assert said[1] == ASSUMED
    assert "before the season" not in " ".join(said)
    assert what.trade.assumed
    assert ASSUMED not in first_words(plan(3, LASIUS, with_brood(2.0), largest=3, day=160))


def test_before_the_season_is_asked_of_the_priors_for_the_same_two():
    before = prior_basis(draws=400)
    what = plan(2, LASIUS, with_brood(2.0), largest=2, day=160, before=before).advice
    alone = plan(2, Kind("", -1), before, largest=2, day=160).advice
    assert {what.best, what.against} == {alone.best, alone.against} == {(1, 1), (2,)}
    same = what.best == alone.best
    assert what.prior_chance == pytest.approx(alone.chance if same else 1 - alone.chance)
    assert what.prior_near == pytest.approx(alone.near)


def test_many_says_that_a_group_gives_one():
    what = plan(3, LASIUS, with_brood(2.0), largest=3, day=160, want="many")
    assert "house the three apart, for a group can give only one colony" in advice_text(what.advice)


def test_one_queen_is_not_divided_and_one_way_is_not_advised():
    one = plan(1, LASIUS, with_brood(2.0), day=160)
    assert first_words(one) == ("There is one queen, so there is nothing to divide.",)
    alone = plan(5, LASIUS, with_brood(2.0), largest=1, day=160)
    assert first_words(alone) == (
        "No two queens may share a container here, so each alone is the only way.",
    )
    assert alone.trade is None


def test_no_advice_beyond_the_last_day_and_no_group_larger_than_any_kept():
    late = plan(3, LASIUS, with_brood(2.0), day=300)
    assert "followed beyond day 180. Ask again with --day 180" in advice_text(late.advice)
    short = replace(with_brood(2.0), last={"Lasius": 90, "average": 160, "Messor": 0})
    assert "beyond day 90" in advice_text(plan(3, LASIUS, short, day=91).advice)
    assert plan(3, LASIUS, short, day=90).advice.why_not is None
    # a kind with too few of its own, or none at all, goes by all kinds together
    assert (short.last_day(-1), short.last_day(0)) == (160, 90)
    few = replace(short, last={"Lasius": 0, "average": 160})
    assert few.last_day(0) == 160
    told = plan(3, LASIUS, few, day=160).says
    assert any("mostly what the other kinds tell" in line for line in told)
    assert not any("mostly what the other" in t for t in plan(3, LASIUS, short, day=90).says)
    assert math.isnan(late.advice.chance)
    large = plan(12, LASIUS, with_brood(9.0), largest=6, day=160, want="workers")
    assert max(large.table["parts"].map(max)) == 6
    assert max(large.advice.best) <= 3  # the largest behind the draws
    assert any("more than 3" in line for line in large.says)


def test_ranked_by_what_is_wanted():
    for want, column in (("one", "at_least_one"), ("many", "colonies"),
                         ("workers", "workers_strongest")):  # fmt: skip
        table = plan(6, LASIUS, with_brood(3.0), day=160, want=want).table
        first = table[table["efficient"]][column]
        assert first.is_monotonic_decreasing
        assert first.iloc[0] == table[column].max()


def test_a_group_larger_than_the_queens_is_no_division():
    a = plan(3, LASIUS, with_brood(2.0), largest=3, day=160)
    b = plan(3, LASIUS, with_brood(2.0), largest=12, day=160)
    pd.testing.assert_frame_equal(a.table, b.table)
    assert advice_text(a.advice) == advice_text(b.advice)
    assert a.advice.chance == b.advice.chance


@pytest.mark.parametrize(
    ("word", "says"),
    [("worker", "Did you mean 'workers'"), ("mny", "Did you mean 'many'"), ("all", "Write one")],
)
def test_a_want_that_is_none_is_told(word, says):
    with pytest.raises(StudyError, match=says):
        wanted(word)


def test_wants_may_be_written_large():
    assert wanted(" Many ") == "many"


def test_plain_values_hold_the_advice():
    values = as_json(plan(3, LASIUS, with_brood(2.0), day=160, before=prior_basis(draws=50)))
    assert values["want"] == "one"
    assert set(values["advice"]) == {
        "text", "division", "against", "chance", "prior_chance", "chance_practically_equal",
        "prior_chance_practically_equal", "little_difference",
    }  # fmt: skip
    assert values["advice"]["text"] in first_words(
        plan(3, LASIUS, with_brood(2.0), day=160, before=prior_basis(draws=50))
    )
    assert values["advice"]["division"] == [1, 1, 1]
    assert values["advice"]["against"] == [3]
    assert 0 <= values["advice"]["chance"] <= 1
    assert 0 <= values["advice"]["prior_chance"] <= 1
    assert values["trade"]["group"] == 3
    assert values["trade"]["ratio"]["mean"] == pytest.approx(2.0, abs=0.01)
    one = as_json(plan(1, LASIUS, basis(KNOWN), day=160))
    assert one["advice"]["division"] is None
    assert one["advice"]["chance"] is None
    assert one["trade"] is None


def test_no_advice_has_no_numbers():
    assert advice_text(Advice("one", why_not=told("one_queen"))) == EN.say("one_queen")


def test_a_colony_is_told_as_seen_and_as_lasting():
    from cohort.plan.words import sentences

    what = plan(3, LASIUS, with_brood(2.0), largest=3, day=160)
    rows = what.table.set_index("division")
    trio, alone = rows.loc["3"], rows.loc["3 x 1"]
    assert trio["lasting_low"] < trio["lasting"] < trio["at_least_one"]
    assert alone["lasting_low"] == pytest.approx(alone["at_least_one"], abs=1e-6)
    low, alike, high = (round(100 * trio[n]) for n in ("lasting_low", "lasting", "at_least_one"))
    text = next(line for line in sentences(what) if "nobody sees" in line)
    assert f"in {low} to {high} of 100 as a trio ({alike} if mated" in text
    assert f"in {round(100 * alone['lasting'])} of 100 with each queen alone" in text
    assert "surer way" not in text


def test_a_group_that_hangs_on_which_queens_die_first_is_said_to():
    from cohort.plan.words import sentences

    # queens protect each other until workers come, then one is left; half of them are not mated
    own = replace(KNOWN, together=-2.5, rivalry=4.0, last_fight=0.0, mated=0.5, frailty=0.1,
                  log_hazard=math.log(0.012))  # fmt: skip
    what = plan(2, LASIUS, basis(own), largest=2, day=160)
    rows = what.table.set_index("division")
    assert what.advice.best == (2,)
    assert rows.loc["2", "lasting_low"] < rows.loc["1 + 1", "lasting"] - 0.05
    assert any("keeping them apart is the surer way" in line for line in sentences(what))
