"""Studies that mislead are flagged, and studies in which nothing is wrong are not.

The bounds on numbers were set before any study was compared. Which faults a check can see was
learnt from one study each; all that were tried, seen or not, are in ``results/worlds.csv``. A study
takes half a minute to four minutes of one core.
"""

import pytest

from cohort.calibrate import said
from cohort.calibrate.run import every
from cohort.calibrate.worlds import CONTRASTS, place
from cohort.simulate.broken import CLEAN, SCENARIOS
from cohort.simulate.gains import world_of_gain
from cohort.terms.questions import QUANTITIES

pytestmark = pytest.mark.slow

QUESTION = {name: question for question, name in QUANTITIES}

#: Faults that leave traces: a check must see each of them.
FLAGGED = (
    "two-humps",
    "looks-after-losses",
    "seen-mating-singly",
    "bad-week",
    "empties-forgotten",
    "losses-called-accidents",
)
#: Faults that the model has a part for: it is to hold the truth, not to call for help.
HELD = ("two-keepers", "large-groups-fight")
#: A fault that leaves no trace in the sheets. No check can see it; that nobody drew lots is said.
UNSEEN = "good-queens-singly"
#: Worlds in which who is housed how goes by how good the queens are.
CONFOUNDED = ("good-queens-singly", "seen-mating-singly")
#: Four clean worlds: two genera, sizes 1 and 3, looks every week, 64 and 120 foundings.
UNBROKEN = (CLEAN, CLEAN.of(64), world_of_gain(0.07, 64), world_of_gain(-0.1, 120))


@pytest.mark.parametrize("name", FLAGGED)
def test_a_broken_assumption_is_flagged(compared, name):
    table = compared([SCENARIOS[name]], 5)
    assert table["flagged"].iloc[0] >= 4


@pytest.mark.parametrize("name", HELD)
def test_what_the_model_has_a_part_for_is_held(compared, name):
    (row,) = compared([SCENARIOS[name]], 5).to_dict("records")
    assert row["any_seen"] >= 4
    assert row["count_seen"] >= 4


def test_where_nothing_can_be_seen_the_lack_of_lots_is_said(compared):
    world = SCENARIOS[UNSEEN]
    compared([world], 5)
    words = said(compared.folder, world)
    sure = words[words["contrast"].isin(CONTRASTS) & words["word"].isin(("leans", "clearly"))]
    assert set(sure["why"]) <= {"not-by-lot", "unsure"}
    assert (sure["why"] == "not-by-lot").any()


def test_studies_in_which_nothing_is_wrong_are_seldom_flagged(compared):
    table = compared(UNBROKEN, 10)
    assert table["studies"].sum() == 40
    assert table["flagged"].sum() <= 2


@pytest.mark.parametrize("name", CONFOUNDED)
def test_nothing_is_clear_where_queens_were_chosen(compared, name):
    table = compared([SCENARIOS[name]], 5)
    assert table["clearly"].iloc[0] == 0


@pytest.mark.parametrize("name", [*FLAGGED, *HELD, UNSEEN])
def test_no_answer_that_a_flag_touches_is_clear(compared, name):
    """The warning goes with the number: a touched question has no "clearly" and says why."""
    world = SCENARIOS[name]
    compared([world], 5)
    words = said(compared.folder, world)
    held_back = 0
    for one in every(place(compared.folder, world)):
        own = words[words["seed"] == one["seed"]]
        for flag in one["flags"]:
            touched = own[own["contrast"].map(QUESTION).isin(flag["touches"])]
            kind = flag.get("genus", "")
            touched = touched[touched["genus"] == kind] if kind else touched
            assert not (touched["word"] == "clearly").any(), (one["seed"], flag)
            held_back += int((touched["why"] == "flagged-check").sum())
    print(name, "words held back by a flagged check", held_back)
