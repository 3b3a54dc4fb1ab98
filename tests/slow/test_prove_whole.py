"""`cohort prove` as it is, and with a fault planted in the program under each part that fits.

Parts that make no fit, and the rules by which all are judged, are in ``tests/prove``.
"""

import re
from dataclasses import replace

import pytest

from cohort.calibrate.ranks import MUTANTS, Task
from cohort.cli import main
from cohort.comparison import steps
from cohort.model import sample
from cohort.prove import PARTS, club, schools, twenty

pytestmark = pytest.mark.slow


def astray(lines):
    return {line.what.key for line in lines if not line.holds}


def silent(what):
    pass


def test_every_part_holds_and_the_page_is_kept(tmp_path, capsys):
    with pytest.raises(SystemExit) as end:
        main(["prove", "--out", str(tmp_path / "proof.txt")])
    kept = (tmp_path / "proof.txt").read_text("utf-8")
    print(kept)
    assert end.value.code == 0
    assert len(re.findall(r"^\d\. .*: held$", kept, re.MULTILINE)) == len(PARTS)


def lone_queens_never_lost(past):
    """A history in which what befalls a single queen was not read."""
    frame = past.intervals.copy()
    lone = frame["at_risk"] == 1
    frame.loc[lone, "alive"], frame.loc[lone, "lost"] = 1, 0
    found = past.foundings.copy()
    return replace(past, intervals=frame, foundings=found)


def test_a_comparison_that_overlooks_lost_single_queens_is_found_out(monkeypatch):
    plain = steps.compared_history

    def wrong(study):
        past, note = plain(study)
        return lone_queens_never_lost(past), note

    monkeypatch.setattr(steps, "compared_history", wrong)
    of = club.club(club.SEED, silent)
    assert "line_headline" in astray(club.recovered(of))
    # the standard methods were told the same untruth, and agree
    assert not astray(club.second(of))


def first_workers_of_groups_late(past):
    """A history as the model alone sees it: first workers of groups dated half as late again."""
    found = past.foundings.copy()
    groups = found["size"] > 1
    for column in ("first_after", "first_by"):
        found.loc[groups, column] = found.loc[groups, column] * 1.5
    return replace(past, foundings=found)


def test_a_model_that_is_told_something_else_is_contradicted_by_the_second_opinion(monkeypatch):
    plain = sample.packed
    monkeypatch.setattr(
        sample, "packed", lambda past, **how: plain(first_workers_of_groups_late(past), **how)
    )
    of = club.club(club.SEED, silent)
    assert "line_method" in astray(club.second(of))
    assert "line_headline" in astray(club.recovered(of))


def test_a_sampler_that_goes_too_far_is_found_out(monkeypatch):
    plain = schools.nuts.sample_nuts

    def wrong(*given, **how):
        q, stats = plain(*given, **how)
        return 1.15 * q, stats

    monkeypatch.setattr(schools.nuts, "sample_nuts", wrong)
    assert "line_tau" in astray(schools.outside(schools.sampled(schools.SEED)))


def test_losses_that_are_not_read_leave_the_ranks_uneven(monkeypatch):
    monkeypatch.setitem(MUTANTS, "lone queens never lost", lone_queens_never_lost)
    ranks, record = twenty.ranked(twenty.SEED, Task(mutant="lone queens never lost"))
    assert astray(twenty.calibrated(ranks, record)) & {
        "line_coverage", "line_mean_rank", "line_outside",
    }  # fmt: skip
