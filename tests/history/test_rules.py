"""Every rule by which a look, an event or a date changes what a founding tells.

Each case is small enough to follow with a finger; the comment says what the rule demands.
"""

import numpy as np
import pandas as pd
import pytest
from small_study import calendar_date, date, small_study, spans, told

from cohort.base.errors import StudyError
from cohort.history import END_KINDS, FOUNDING_COLUMNS, history

INF = np.inf


def of(line, events=(), *, more=None, **settings):
    """History of a single founding A."""
    own = {"A": more} if more else None
    return history(
        small_study({"A": line}, [("A", *event) for event in events], more=own, **settings)
    )


# --- counts and intervals -------------------------------------------------------------------


def test_each_interval_runs_from_count_to_count():
    h = of("3 | 14 3/0, 28 2/0, 42 1/3")
    assert spans(h, "A") == [(0, 14, 3, 3), (14, 28, 3, 2), (28, 42, 2, 1)]
    assert h.intervals["lost"].tolist() == [0, 1, 1]
    assert list(h.foundings.columns) == list(FOUNDING_COLUMNS)


def test_at_least_five_says_nothing_on_losses_and_merges_with_the_next_count():
    h = of("7 | 10 7/0, 20 5+/0, 30 6/0")
    assert spans(h, "A") == [(0, 10, 7, 7), (10, 30, 7, 6)]


def test_a_look_that_counted_nobody_is_passed_over():
    assert spans(of("2 | 10 -/0, 20 2/0, 30 -/-"), "A") == [(0, 20, 2, 2)]


def test_all_lost_is_bracketed_and_ends_the_founding():
    h = of("2 | 14 2/0, 28 1/0, 42 0/0, 56 0/0")
    row = told(h, "A")
    assert (row["lost_after"], row["lost_by"]) == (28, 42)
    assert (row["end"], row["end_kind"], row["queens_end"]) == (42, "all lost", 0)


def test_a_founding_nobody_looked_at_has_no_interval():
    row = told(of("2 |"), "A")
    assert (row["end"], row["end_kind"], row["queens_end"]) == (0, "followed", 2)
    assert (row["first_after"], row["first_by"], row["looked_to"]) == (0, INF, 0)


def test_a_count_on_day_0_that_agrees_adds_no_interval():
    assert spans(of("2 | 0 2/-, 14 2/0"), "A") == [(0, 14, 2, 2)]


@pytest.mark.parametrize(("slack", "by"), [("", 0.5), (" ~3", 3.0)])
def test_dead_at_breakfast_is_a_loss_in_the_first_half_day(slack, by):
    # The likelihood knows no loss that takes no time: give_or_take, and at least half a day.
    assert spans(of(f"2 | 0 1/-{slack}, 14 1/0"), "A") == [(0, by, 2, 1), (by, 14, 1, 1)]


def test_a_count_that_rises_is_no_history():
    with pytest.raises(StudyError, match="A: 3 queens alive on day 20"):
        of("3 | 10 2/0, 20 3/0")


# --- horizon, winter, end of the study ------------------------------------------------------


def test_an_interval_that_straddles_the_horizon_ends_at_the_last_look_not_after_it():
    h = of("2 | 170 2/0, 184 1/0", horizon_days=180)
    row = told(h, "A")
    assert spans(h, "A") == [(0, 170, 2, 2)]
    assert (row["end"], row["end_kind"], row["queens_end"]) == (170, "horizon", 2)
    assert h.later[["after", "by", "at_risk", "alive"]].to_numpy().tolist() == [[170, 184, 2, 1]]
    assert h.horizon == 180


def test_a_look_on_the_horizon_counts():
    row = told(of("2 | 180 1/0", horizon_days=180), "A")
    assert (row["end"], row["end_kind"], row["queens_end"]) == (180, "horizon", 1)


def test_looks_that_stop_before_the_horizon_end_as_followed():
    row = told(of("2 | 100 2/0"), "A")
    assert (row["end"], row["end_kind"]) == (100, "followed")


def test_the_first_winter_day_ends_the_founding_after_that_days_look():
    h = of("2 | 90 2/0, 100 1/0, 110 1/0", [(100, "winter-in"), (105, "winter-in")])
    row = told(h, "A")
    assert (row["end"], row["end_kind"], row["queens_end"]) == (100, "winter", 1)
    assert h.later[["after", "by"]].to_numpy().tolist() == [[100, 110]]


def test_a_winter_before_the_founding_began_is_not_its_winter():
    row = told(of("2 | 90 2/0", [(-20, "winter-in")]), "A")
    assert (row["end"], row["end_kind"]) == (90, "followed")


def test_whichever_comes_first_of_winter_and_horizon():
    row = told(of("1 | 60 1/0, 90 1/0", [(70, "winter-in")], horizon_days=60), "A")
    assert (row["end"], row["end_kind"]) == (60, "horizon")


def test_looks_after_the_end_of_the_study_are_not_used():
    row = told(of("2 | 50 2/0, 70 1/0", ends=calendar_date(60)), "A")
    assert (row["end"], row["end_kind"], row["queens_end"]) == (50, "followed", 2)


# --- events that end a founding -------------------------------------------------------------


@pytest.mark.parametrize(
    "why", ["accident", "escaped", "given", "released", "joined", "frozen", "not-used"]
)
def test_such_an_end_falls_back_to_the_look_before_and_its_fall_is_no_death(why):
    h = of("3 | 14 3/0, 28 1/0", [(28, "end", pd.NA, why)])
    row = told(h, "A")
    assert spans(h, "A") == [(0, 14, 3, 3)]
    assert (row["end"], row["end_kind"], row["queens_end"]) == (14, why, 3)


def test_an_accident_between_looks_ends_at_the_look_before_and_none_is_lost():
    h = of("3 | 14 2/0, 28 0/0", [(20, "end", pd.NA, "accident")])
    row = told(h, "A")
    assert (row["end"], row["end_kind"], row["queens_end"]) == (14, "accident", 2)
    assert (row["lost_after"], row["lost_by"]) == (INF, INF)


def test_all_lost_before_an_accident_is_all_lost():
    row = told(of("1 | 14 1/0, 28 0/0", [(30, "end", pd.NA, "accident")]), "A")
    assert (row["end_kind"], row["lost_after"], row["lost_by"]) == ("all lost", 14, 28)


def test_given_up_is_censored_at_that_look():
    h = of("3 | 14 3/0, 28 2/0, 42 2/0", [(28, "end", pd.NA, "gave-up")])
    row = told(h, "A")
    assert spans(h, "A")[-1] == (14, 28, 3, 2)
    assert (row["end"], row["end_kind"], row["queens_end"]) == (28, "gave-up", 2)


def test_queens_in_censor_at_that_check():
    h = of("2 | 14 2/0, 28 1/0, 42 3/0", [(28, "queens-in", 2)])
    row = told(h, "A")
    assert (row["end"], row["end_kind"], row["queens_end"]) == (28, "queens-in", 1)


def test_a_parted_group_is_censored_at_that_look():
    lines = {"A": "4 | 14 4/0, 28 3/0, 42 1/0", "B": "2 | 14 2/0"}
    more = {"B": {"started": date(28), "from_": "A", "left_out": "split-off"}}
    h = history(small_study(lines, [("A", 28, "queens-out", 2, "B")], more=more))
    row = told(h, "A")
    assert (row["end"], row["end_kind"], row["queens_end"]) == (28, "parted", 3)
    assert told(h, "A")["compared"]
    assert not told(h, "B")["compared"]
    # The row of the new founding says it too, where the event was forgotten.
    again = history(small_study(lines, more=more))
    assert told(again, "A")["end_kind"] == "parted"


def test_an_end_without_a_known_reason_is_told_with_its_row():
    with pytest.raises(StudyError, match=r"events.csv, row 2.*'tired'.*gave-up"):
        of("1 | 14 1/0", [(20, "end", pd.NA, "tired")])


# --- queens taken out -----------------------------------------------------------------------


def test_queens_out_at_a_look_leave_after_the_losses_of_that_look():
    h = of("4 | 14 3/0, 28 2/0", [(14, "queens-out", 1, "preserved")])
    assert spans(h, "A") == [(0, 14, 4, 3), (14, 28, 2, 2)]
    assert told(h, "A")["size"] == 4


def test_queens_out_between_looks_without_a_loss_cut_the_interval_there():
    h = of("4 | 14 4/0, 28 3/0", [(20, "queens-out", 1, "given")])
    assert spans(h, "A") == [(0, 14, 4, 4), (14, 20, 4, 4), (20, 28, 3, 3)]


def test_queens_out_before_the_first_look():
    h = of("4 | 28 3/0", [(10, "queens-out", 1, "given")])
    assert spans(h, "A") == [(0, 10, 4, 4), (10, 28, 3, 3)]


def test_queens_out_between_looks_with_a_loss_claim_no_exposure_that_may_not_have_been():
    # 4 at day 14, one given on day 20, 2 at day 28: one died, on which side of day 20 is unknown.
    h = of("4 | 14 4/0, 28 2/0", [(20, "queens-out", 1, "given")])
    assert spans(h, "A") == [(0, 14, 4, 4), (14, 28, 3, 2)]


def test_more_taken_than_counted_that_day_went_before_the_count():
    # Found escaped at the look: 3 before, 1 counted, two gone alive.
    h = of("3 | 14 3/0, 28 1/0", [(28, "queens-out", 2, "escaped")])
    assert spans(h, "A") == [(0, 14, 3, 3), (14, 28, 1, 1)]


@pytest.mark.parametrize(
    ("line", "day", "end"),
    [
        ("2 | 14 2/0, 28 2/0, 42 0/0", 28, 28),  # counted, then all given away
        ("2 | 14 2/0, 28 0/0", 28, 14),  # gone before the count of that day
        ("2 | 14 2/0, 28 0/0", 20, 14),  # gone between looks
    ],
)
def test_all_taken_out_ends_at_the_last_look_that_saw_them(line, day, end):
    row = told(of(line, [(day, "queens-out", 2, "released")]), "A")
    assert (row["end"], row["end_kind"], row["queens_end"]) == (end, "released", 2)
    assert row["lost_by"] == INF


def test_more_taken_out_than_there_were_is_an_error():
    with pytest.raises(StudyError, match="more queens were taken out"):
        of("2 | 14 2/0", [(20, "queens-out", 3, "given")])


def test_queens_out_without_a_number_is_an_error_with_its_row():
    with pytest.raises(StudyError, match=r"events.csv, row 2: queens-out of A has no number"):
        of("2 | 14 2/0", [(14, "queens-out", pd.NA, "given")])


# --- first worker ---------------------------------------------------------------------------


def test_the_first_worker_lies_between_the_last_look_without_and_the_first_with():
    row = told(of("1 | 14 1/0, 28 1/0, 42 1/3, 56 1/0, 70 1/8"), "A")
    assert (row["first_after"], row["first_by"], row["looked_to"]) == (28, 42, 28)


def test_a_look_with_workers_blank_moves_neither_end():
    row = told(of("1 | 14 1/0, 28 1/-, 42 1/3"), "A")
    assert (row["first_after"], row["first_by"]) == (14, 42)
    row = told(of("1 | 14 1/0, 28 1/-"), "A")
    assert (row["first_by"], row["looked_to"], row["end"]) == (INF, 14, 28)


def test_workers_without_an_earlier_look_for_them_may_have_come_since_day_0():
    row = told(of("1 | 14 1/-, 28 1/2"), "A")
    assert (row["first_after"], row["first_by"]) == (0, 28)


def test_at_least_ten_workers_are_workers_seen():
    assert told(of("1 | 14 1/0, 28 1/10+"), "A")["first_by"] == 28


def test_workers_count_at_a_look_that_did_not_count_queens():
    row = told(of("1 | 14 1/0, 28 -/2, 42 1/5"), "A")
    assert (row["first_after"], row["first_by"]) == (14, 28)
    beyond = told(of("1 | 14 1/0, 28 -/2"), "A")
    assert (beyond["first_by"], beyond["end"]) == (28, 14)


def test_workers_first_noted_after_a_look_that_found_no_queen_are_no_first_worker():
    row = told(of("1 | 14 1/0, 28 0/0, 42 0/2"), "A")
    assert (row["first_by"], row["looked_to"]) == (INF, 28)
    # At that very look they are: she reared them and died before it.
    row = told(of("1 | 14 1/0, 28 0/2"), "A")
    assert (row["first_after"], row["first_by"], row["lost_by"]) == (14, 28, 28)


def test_all_dead_with_workers_blank_keeps_the_last_look_for_workers():
    row = told(of("1 | 14 1/0, 28 1/-, 42 0/-"), "A")
    assert (row["first_after"], row["looked_to"], row["lost_by"]) == (14, 14, 42)


def test_workers_after_horizon_winter_or_accident_are_not_used():
    assert told(of("1 | 170 1/0, 190 1/4"), "A")["first_by"] == INF
    assert told(of("1 | 70 1/0, 90 1/4", [(80, "winter-in")]), "A")["first_by"] == INF
    accident = of("1 | 70 1/0, 90 0/4", [(90, "end", pd.NA, "accident")])
    assert told(accident, "A")["first_by"] == INF


def test_workers_on_day_0_ask_for_a_late_entry():
    with pytest.raises(StudyError, match="followed_from"):
        of("1 | 0 1/3, 14 1/5")


def test_foreign_brood_before_the_first_own_worker_censors_it():
    row = told(of("1 | 14 1/0, 28 1/0, 42 1/3", [(28, "brood-in")]), "A")
    assert (row["brood_in"], row["workers_cens"]) == (28, 28)
    assert (row["first_after"], row["first_by"], row["looked_to"]) == (28, INF, 28)
    assert np.isnan(row["brood_workers"])
    assert row["end"] == 42  # the queens are counted on


def test_foreign_brood_after_the_first_worker_changes_only_the_first_brood():
    line = "1 | 14 1/0, 28 1/3, 56 1/9, 60 1/20"
    row = told(of(line, [(28, "brood-in")]), "A")
    assert (row["brood_in"], row["workers_cens"], row["first_by"]) == (28, INF, 28)
    assert np.isnan(row["brood_workers"])
    row = told(of(line, [(57, "brood-in")]), "A")
    assert (row["brood_day"], row["brood_workers"]) == (56, 9)


@pytest.mark.parametrize(
    ("looks", "expected"),
    [
        ("58 1/7, 63 1/9", (58, 7)),  # both within the window, 30 days after is day 58
        ("55 1/7, 61 1/9", (55, 7)),  # equally near: the earlier
        ("47 1/7, 74 1/9", (None, None)),  # 19 and 46 days: outside
        ("48 1/7", (48, 7)),
        ("73 1/9", (73, 9)),
        ("58 1/10+, 66 1/14", (66, 14)),  # only an exact count
    ],
)
def test_first_brood_is_the_exact_count_nearest_thirty_days_after(looks, expected):
    row = told(of(f"1 | 14 1/0, 28 1/1, {looks}"), "A")
    found = (row["brood_day"], row["brood_workers"])
    np.testing.assert_equal(found, tuple(np.nan if x is None else x for x in expected))


# --- dates that may be wrong ----------------------------------------------------------------


def test_a_doubtful_date_widens_the_bracket_of_the_first_worker():
    row = told(of("1 | 14 1/0 ~3, 28 1/2 ~2"), "A")
    assert (row["first_after"], row["first_by"]) == (11, 30)
    row = told(of("1 | 2 1/0 ~5, 28 1/2"), "A")
    assert row["first_after"] == 0  # never before day 0


def test_a_sharper_look_beside_a_doubtful_one_decides():
    row = told(of("1 | 10 1/0, 12 1/0 ~9, 40 1/1 ~9, 42 1/2"), "A")
    assert (row["first_after"], row["first_by"]) == (10, 42)


def test_a_loss_before_a_doubtful_look_stretches_to_its_latest_date():
    assert spans(of("3 | 14 3/0, 28 2/0 ~3, 42 2/0"), "A") == [
        (0, 14, 3, 3),
        (14, 31, 3, 2),
        (31, 42, 2, 2),
    ]


def test_a_loss_after_a_doubtful_look_begins_at_its_earliest_date():
    assert spans(of("3 | 14 3/0 ~3, 28 2/0"), "A") == [(0, 11, 3, 3), (11, 28, 3, 2)]


def test_a_doubtful_look_between_two_losses_is_dropped():
    assert spans(of("3 | 14 3/0, 28 2/0 ~3, 42 1/0"), "A") == [(0, 14, 3, 3), (14, 42, 3, 1)]


def test_queens_taken_out_at_a_dropped_look_leave_at_the_look_before():
    h = of("4 | 14 4/0, 28 3/0 ~3, 42 1/0", [(28, "queens-out", 1, "given")])
    assert spans(h, "A") == [(0, 14, 4, 4), (14, 42, 3, 1)]
    h = of("4 | 28 3/0 ~3, 42 1/0", [(28, "queens-out", 1, "given")])
    assert spans(h, "A") == [(0, 42, 3, 1)]


def test_a_widened_look_stays_inside_its_neighbours():
    assert spans(of("3 | 14 3/0, 28 2/0 ~9, 30 2/0, 42 2/0"), "A") == [
        (0, 14, 3, 3),
        (14, 30, 3, 2),
        (30, 42, 2, 2),
    ]
    # Between two losses the counts of days 28 and 30 agree: they meet halfway.
    assert spans(of("3 | 14 3/0, 28 2/0 ~9, 30 2/0 ~9, 42 1/0"), "A") == [
        (0, 14, 3, 3),
        (14, 29, 3, 2),
        (29, 42, 2, 1),
    ]


def test_no_widening_past_the_horizon():
    row = told(of("2 | 100 2/0, 179 1/0 ~5", horizon_days=180), "A")
    assert row["end"] == 180


def test_a_doubtful_start_widens_like_doubtful_looks():
    h = of("2 | 14 2/0, 28 1/0, 42 1/2, 56 1/3", more={"give_or_take": 2.0})
    assert spans(h, "A") == [(0, 12, 2, 2), (12, 30, 2, 1), (30, 42, 1, 1), (42, 56, 1, 1)]
    row = told(h, "A")
    assert (row["first_after"], row["first_by"]) == (26, 44)


def test_the_first_worker_is_not_put_after_the_loss_of_all():
    row = told(of("1 | 14 1/0, 28 1/2 ~9, 30 0/1"), "A")
    assert (row["first_by"], row["lost_by"]) == (30, 30)


# --- late entry and the clock ---------------------------------------------------------------


def test_a_founding_followed_late_enters_at_the_check_of_that_day():
    h = of("3 | 20 3/0, 40 2/0, 54 1/0", more={"followed_from": date(40)})
    row = told(h, "A")
    assert (row["entry"], row["entry_queens"], row["entry_workers"]) == (40, 2, False)
    assert spans(h, "A") == [(40, 54, 2, 1)]
    assert (row["first_after"], row["size"]) == (54, 3)


def test_without_a_check_that_day_it_enters_at_the_next_count():
    row = told(of("3 | 44 -/0, 48 2/-, 60 2/1", more={"followed_from": date(40)}), "A")
    assert (row["entry"], row["entry_queens"]) == (48, 2)
    assert (row["first_after"], row["first_by"]) == (48, 60)


def test_a_colony_taken_over_with_workers_had_its_first_before_entry():
    row = told(of("2 | 40 1/5, 70 1/9", more={"followed_from": date(40)}), "A")
    assert (row["entry"], row["entry_workers"]) == (40, True)
    assert (row["first_after"], row["first_by"], row["looked_to"]) == (0, 40, 0)
    assert np.isnan(row["brood_workers"])


def test_a_founding_followed_late_and_never_counted_adds_nothing():
    h = of("2 | 10 2/0", more={"followed_from": date(40)})
    assert spans(h, "A") == []
    assert (told(h, "A")["entry"], told(h, "A")["end"]) == (40, 40)


def test_followed_from_the_start_is_no_late_entry():
    assert told(of("2 | 14 2/0", more={"followed_from": date(0)}), "A")["entry"] == 0


def test_the_clock_of_the_flight_shifts_day_0_and_claims_no_life_before_the_container():
    more = {"flight_date": date(-3)}
    h = of("2 | 0 2/-, 14 2/0, 28 1/2", more=more, clock="flight")
    row = told(h, "A")
    assert (row["closed"], row["entry"], row["entry_queens"]) == (3, 3, 2)
    assert spans(h, "A") == [(3, 17, 2, 2), (17, 31, 2, 1)]
    assert (row["first_after"], row["first_by"], row["flight"]) == (17, 31, "2025-05-29")
    assert told(of("2 | 14 2/0", more=more), "A")["entry"] == 0  # the usual clock
    with pytest.raises(StudyError, match="flight_date is later than started"):
        of("2 | 14 2/0", more={"flight_date": date(2)}, clock="flight")


# --- the whole ------------------------------------------------------------------------------


def test_foundings_do_not_touch_one_another():
    lines = {"A": "3 | 14 3/0, 28 1/0", "B": "2 |", "C": "1 | 14 0/0", "D": "2 | 5 2/-, 9 2/1"}
    together = history(small_study(lines))
    for name, line in lines.items():
        alone = history(small_study({name: line}))
        assert spans(alone, name) == spans(together, name)
        pd.testing.assert_series_equal(told(alone, name), told(together, name))


def test_rows_in_any_order_tell_the_same():
    study = small_study({"A": "3 | 14 3/0, 28 1/2", "B": "2 | 7 2/0, 21 1/0"})
    ordered = history(study)
    study.checks = study.checks.iloc[::-1]
    turned = history(study)
    pd.testing.assert_frame_equal(ordered.foundings, turned.foundings)
    pd.testing.assert_frame_equal(ordered.intervals, turned.intervals)


def test_a_study_with_no_checks_at_all():
    h = history(small_study({"A": "1 |", "B": "2 |"}))
    assert h.intervals.empty
    assert h.foundings["end"].tolist() == [0, 0]


def test_every_end_kind_has_its_case():
    reasons = [
        "given",
        "released",
        "escaped",
        "accident",
        "gave-up",
        "joined",
        "frozen",
        "not-used",
    ]
    lines = {why: "2 | 14 2/0, 28 2/0" for why in reasons}
    events = [(why, 20, "end", pd.NA, why) for why in reasons]
    lines |= {
        "preserved": "2 | 14 2/0",
        "parted": "4 | 14 4/0",
        "new": "2 | 9 2/0",
        "queens-in": "2 | 14 2/0",
        "winter": "2 | 14 2/0",
        "horizon": "2 | 180 2/0",
        "followed": "2 | 14 2/0",
        "all lost": "2 | 14 0/0",
    }
    events += [
        ("preserved", 20, "queens-out", 2, "preserved"),
        ("parted", 20, "queens-out", 2, "new"),
        ("queens-in", 20, "queens-in", 1),
        ("winter", 20, "winter-in"),
    ]
    h = history(small_study(lines, events))
    kinds = h.foundings.set_index("founding")["end_kind"].drop("new")
    assert (kinds == kinds.index).all()
    assert set(kinds) == set(END_KINDS)


def test_unknown_founding_in_checks_or_before_the_start_is_told():
    study = small_study({"A": "1 | 14 1/0"})
    study.checks["founding"] = "Z"
    with pytest.raises(StudyError, match="'Z'"):
        history(study)
    with pytest.raises(StudyError, match="before the founding was started"):
        of("1 | -2 1/0")
