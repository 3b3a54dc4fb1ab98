"""Rules that a study of a single founding, or one with counts in plenty, cannot put to the test.

A founding's place among the others decides where its looks are found; several faults hide as long
as it stands first or alone. Each test names the fault that it would show.
"""

import math

import pytest
from small_study import date, small_study, spans, told

from cohort.history import history

INF = math.inf


def test_late_entry_of_a_founding_that_does_not_stand_first():
    # Fault: looks sought by day alone, so that B would enter by the counts of A.
    h = history(
        small_study(
            {"A": "2 | 14 2/0, 41 2/0, 60 2/0", "B": "3 | 20 3/0, 44 2/0, 54 1/0"},
            more={"B": {"followed_from": date(40)}},
        )
    )
    assert (told(h, "B")["entry"], told(h, "B")["entry_queens"]) == (44, 2)
    assert spans(h, "B") == [(44, 54, 2, 1)]
    assert spans(h, "A") == [(0, 14, 2, 2), (14, 41, 2, 2), (41, 60, 2, 2)]


def test_workers_of_a_founding_followed_late_and_never_counted_tell_nothing():
    # Fault: such a founding treated as if it had entered; its workers would make a bracket.
    study = small_study({"A": "2 | 50 2+/0, 60 -/4"}, more={"A": {"followed_from": date(40)}})
    assert told(history(study), "A")["first_by"] == INF


@pytest.mark.parametrize("place", [0, 1, 2])
def test_a_loss_and_a_removal_before_the_first_look_lower_the_risk_of_that_founding(place):
    # 4 at the start, one given on day 10, 2 at day 28: one died, when is unknown, so three are
    # at risk all along. Fault: the queen taken off the count of another founding.
    lines = {f"F{i}": "4 | 28 4/0" for i in range(3)} | {f"F{place}": "4 | 28 2/0"}
    h = history(small_study(lines, [(f"F{place}", 10, "queens-out", 1, "given")]))
    for i in range(3):
        assert spans(h, f"F{i}") == [(0, 28, 3, 2) if i == place else (0, 28, 4, 4)]


def test_all_taken_out_in_a_study_without_a_count():
    # Fault: the removal entered for the founding behind it.
    h = history(small_study({"A": "2 |", "B": "2 |"}, [("A", 10, "queens-out", 2, "given")]))
    row = told(h, "A")
    assert (row["end"], row["end_kind"], row["queens_end"]) == (0, "given", 2)
    assert told(h, "B")["end_kind"] == "followed"


def test_given_up_on_the_day_it_was_started():
    # Fault: events of day 0 taken for those of the time before the container was closed.
    study = small_study({"A": "2 | 14 2/0"}, [("A", 0, "end", 1, "gave-up")])
    row = told(history(study), "A")
    assert (row["end"], row["end_kind"]) == (0, "gave-up")


def test_a_look_without_workers_after_foreign_brood_moves_nothing():
    # Fault: the bracket of the first worker moved on by a look after foreign brood was put in.
    study = small_study({"A": "2 | 14 2/0, 28 2/0, 42 2/5"}, [("A", 20, "brood-in")])
    row = told(history(study), "A")
    assert (row["workers_cens"], row["looked_to"], row["first_by"]) == (20, 14, INF)


def test_a_removal_at_the_first_look_of_all_leaves_its_doubtful_date_wide():
    # Fault: a second count put in on that very day, past which the loss could not stretch.
    h = history(small_study({"A": "4 | 14 3/0 ~2, 28 2/0"}, [("A", 14, "queens-out", 1, "given")]))
    assert spans(h, "A") == [(0, 16, 4, 3), (16, 28, 2, 2)]
