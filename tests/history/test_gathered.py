"""Very many kinds: the rarest are taken as one, and nothing else changes."""

import pandas as pd
from small_study import small_study

from cohort.history import gathered, history
from cohort.history.gathered import MOST_KINDS
from cohort.terms.questions import OTHERS


def many(count):
    """One founding of each of many kinds, a second one of the first two."""
    lines = {f"F{i}": "1 | 10 1/0, 60 1/2" for i in range(count + 2)}
    kinds = [f"K{i:03}" for i in range(count)]
    more = {f"F{i}": {"genus": (kinds + kinds[:2])[i]} for i in range(count + 2)}
    return small_study(lines, more=more)


def test_few_kinds_stay_as_they_are():
    past = history(many(MOST_KINDS))
    same, note = gathered(past)
    assert same is past
    assert note == ""


def test_the_rarest_are_taken_as_one_and_said_so():
    study = many(MOST_KINDS + 11)
    past = history(study)
    after, note = gathered(past)
    kinds = after.foundings["genus"].value_counts()
    assert len(kinds) == MOST_KINDS
    assert kinds["K000"] == kinds["K001"] == 2  # those with the most foundings stay
    assert kinds[OTHERS] == 12
    assert "12 kinds with the fewest foundings, 12 in all" in note
    assert not after.foundings.loc[after.foundings["genus"].eq(OTHERS), "named"].any()
    rest = [name for name in past.foundings if name not in ("genus", "named")]
    pd.testing.assert_frame_equal(after.foundings[rest], past.foundings[rest])
    assert study.foundings["genus"].nunique() == MOST_KINDS + 11  # what was written stays


def test_kinds_left_out_of_the_comparison_neither_count_nor_are_gathered():
    # Fault: 35 kinds of which 20 are compared were gathered, "0 foundings in all".
    past = history(many(5))
    outside = past.foundings["founding"].isin(["F3", "F4"])
    frame = past.foundings.assign(compared=~outside)
    changed = type(past)(frame, past.intervals, past.later, past.horizon)
    same, note = gathered(changed, most=3)  # K000, K001, K002 are compared
    assert same is changed
    assert note == ""
    after, note = gathered(changed, most=2)
    assert set(after.foundings["genus"]) == {"K000", OTHERS, "K003", "K004"}
    assert note.startswith("2 kinds with the fewest foundings, 3 in all")
