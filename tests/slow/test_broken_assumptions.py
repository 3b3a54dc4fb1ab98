"""Studies that mislead are flagged, and studies in which nothing is wrong are not.

The bounds were set before any study was compared. Each study takes about a minute of one core.
"""

import pytest

from cohort.calibrate import said
from cohort.calibrate.run import every
from cohort.calibrate.worlds import place
from cohort.simulate.broken import CLEAN, SCENARIOS
from cohort.simulate.gains import world_of_gain
from cohort.terms.questions import QUANTITIES

pytestmark = pytest.mark.slow

QUESTION = {name: question for question, name in QUANTITIES}

NAMED = (
    "good-queens-singly",
    "two-keepers",
    "large-groups-fight",
    "two-humps",
    "looks-after-losses",
)
#: Of our own invention.
OWN = ("bad-week", "empties-forgotten")
#: Worlds in which who is housed how goes by how good the queens are.
CONFOUNDED = ("good-queens-singly", "seen-mating-singly")
#: Four clean worlds: two genera, sizes 1 and 3, looks every week, 64 and 120 foundings.
UNBROKEN = (CLEAN, CLEAN.of(64), world_of_gain(0.07, 64), world_of_gain(-0.1, 120))


@pytest.mark.parametrize("name", [*NAMED, *OWN])
def test_a_broken_assumption_is_flagged(compared, name):
    table = compared([SCENARIOS[name]], 5)
    assert table["flagged"].iloc[0] >= 4


def test_studies_in_which_nothing_is_wrong_are_seldom_flagged(compared):
    table = compared(UNBROKEN, 10)
    assert table["studies"].sum() == 40
    assert table["flagged"].sum() <= 2


@pytest.mark.parametrize("name", CONFOUNDED)
def test_nothing_is_clear_where_queens_were_chosen(compared, name):
    table = compared([SCENARIOS[name]], 5)
    assert table["clearly"].iloc[0] == 0


@pytest.mark.parametrize("name", [*NAMED, *OWN])
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
