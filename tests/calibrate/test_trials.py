"""What is counted of comparisons with a known truth, by hand; no fit is made here."""

import dataclasses
import json

import pytest

from cohort.calibrate import tally, worlds
from cohort.calibrate.tally import covered, said, told, word_shares
from cohort.calibrate.worlds import trials, truths
from cohort.simulate.broken import CLEAN, SCENARIOS
from cohort.simulate.gains import world_of_gain
from cohort.simulate.truth import GenusTruth, Truth

WORLD = CLEAN.of(24)


def verdict(word, side, *, genus="average", contrast="same_queens_any", why="none"):
    return {
        "genus": genus, "queens": 3, "day": 180, "contrast": contrast, "word": word, "side": side,
        "why": why,
    }  # fmt: skip


def row(low, high, *, reading="seen", quantity="same_queens_any"):
    return {
        "genus": "average", "queens": 3, "day": 180, "reading": reading, "quantity": quantity,
        "mean": (low + high) / 2, "low": low, "high": high,
    }  # fmt: skip


def study(seed, **more):
    plain = {
        "seed": seed, "settled": True, "runs": 1, "divergences": 0, "flags": [], "verdicts": [],
        "contrasts": [], "seconds": 2.0,
    }  # fmt: skip
    return plain | more


@pytest.fixture
def folder(tmp_path):
    """Four studies of a world in which sharing truly gains .2 (as seen) and loses a colony."""
    here = tmp_path / "clean-24"
    here.mkdir()
    known = [
        {"quantity": name, "reading": reading, "genus": "average", "queens": 3, "day": 180,
         "truth": value, "better": value}
        for name, reading, value in (
            ("same_queens_any", "seen", 0.2),
            ("same_queens_any", "alike", 0.1),
            ("same_queens_count", "seen", -0.9),
            ("median_day", "", -3.0),
        )
    ]  # fmt: skip
    (here / "truth.json").write_text(json.dumps(known))
    studies = [
        study(1, verdicts=[verdict("clearly", "multi")], contrasts=[row(0.1, 0.3)], flags=["x"]),
        study(
            2,
            verdicts=[
                verdict("clearly", "single"),
                verdict("clearly", "multi", contrast="same_queens_count"),
            ],
            contrasts=[row(-0.3, -0.1), row(0.0, 0.15, reading="alike")],
            runs=2,
            divergences=3,
        ),
        study(
            3,
            verdicts=[
                verdict("leans", "single"),
                verdict("clearly", "multi", contrast="median_day"),
            ],
            contrasts=[row(0.19, 0.21)],
            seconds=9.0,
        ),
        study(4, settled=False),
    ]
    for one in studies:
        (here / f"study-{one['seed']:05d}.json").write_text(json.dumps(one))
    return tmp_path


def test_counts_by_hand(folder):
    (one,) = told(folder, [WORLD]).to_dict("records")
    wanted = {
        "world": "clean", "foundings": 24, "gain": 0.2, "studies": 4, "settled": 3, "reruns": 1,
        "diverged": 1, "flagged": 1, "clearly": 3, "clearly_same": 2, "wrong": 2, "wrong_same": 1,
        "any_seen": 2, "any_alike": 1, "any_mated_first": 0, "count_seen": 0, "seconds": 2.0,
    }  # fmt: skip
    assert {name: one[name] for name in wanted} == wanted


def test_only_the_word_clearly_can_be_wrong(folder):
    table = said(folder, WORLD)
    assert table.set_index(["seed", "contrast"])["wrong"].to_dict() == {
        (1, "same_queens_any"): False,
        (2, "same_queens_any"): True,
        (2, "same_queens_count"): True,
        (3, "same_queens_any"): False,
        (3, "median_day"): True,
    }


def test_clearly_is_wrong_either_way_where_there_is_nothing(folder):
    path = folder / "clean-24" / "truth.json"
    known = json.loads(path.read_text())
    path.write_text(json.dumps([one | {"better": 0.003} for one in known]))
    assert said(folder, WORLD)["wrong"].sum() == 4


def test_a_range_holds_its_own_reading_only(folder):
    table = covered(folder, WORLD)
    assert table.set_index(["seed", "reading"])["inside"].to_dict() == {
        (1, "seen"): True,
        (2, "seen"): False,
        (2, "alike"): True,
        (3, "seen"): True,
    }


def test_words_by_hand(folder):
    table = word_shares(folder, [WORLD]).set_index(["word", "side"])
    assert table["share"].to_dict() == {
        ("clearly", "multi"): 0.25, ("clearly", "single"): 0.25, ("leans", "single"): 0.25,
        ("none", ""): 0.25,
    }  # fmt: skip
    assert table["se"].iloc[0] == pytest.approx((2 / 6 * 4 / 6 / 4) ** 0.5)


def test_work_is_taken_up_and_the_truth_is_written_once(monkeypatch, tmp_path):
    seen = []

    def noted(seed, scenario):
        seen.append((scenario.name, seed))
        return study(seed)

    monkeypatch.setattr(worlds, "trial", noted)
    monkeypatch.setattr(worlds, "truths", lambda scenario: truths(scenario, foundings=400))
    trials(tmp_path, [WORLD], [1, 2])
    before = (tmp_path / "clean-24" / "truth.json").stat().st_mtime_ns
    trials(tmp_path, [WORLD], [1, 2, 3])
    assert seen == [("clean", 1), ("clean", 2), ("clean", 3)]
    assert (tmp_path / "clean-24" / "truth.json").stat().st_mtime_ns == before
    assert told(tmp_path, [WORLD])["studies"].iloc[0] == 3


def test_better_is_signed_by_which_direction_is_better():
    """Company doubles the hazard and shortens the time: worse and better, of logs."""
    own = GenusTruth(together=0.7, multi_days=-0.3)
    world = dataclasses.replace(world_of_gain(0.0), truth=Truth({"Lasius": own}))
    table = truths(world, foundings=2000)
    better = table[table["genus"] == "Lasius"].set_index("quantity")["better"]
    assert better["hazard_ratio"] == pytest.approx(-0.7)
    assert better["time_ratio"] == pytest.approx(0.3)
    assert (better["share_alive"] < 0).all()
    assert not set(better.index) & {"rivalry_ratio", "fertile_share"}


def test_both_ways_of_knowing_the_truth_agree():
    """The clean world by the table of known outcomes, and as if it had a rule of its own."""
    plain = truths(CLEAN, foundings=40_000)
    ruled = truths(dataclasses.replace(CLEAN, breaks="nothing"), foundings=60_000)
    both = plain.merge(ruled, on=list(worlds.KEY), suffixes=("", "_ruled"))
    assert len(both) == 2 * 3 * 3
    assert (both["truth"] - both["truth_ruled"]).abs().max() < 0.04


def test_every_world_has_a_place_of_its_own(tmp_path):
    all_of = [*SCENARIOS.values(), world_of_gain(0.1), world_of_gain(-0.1), world_of_gain(0.1, 24)]
    assert len({worlds.place(tmp_path, world) for world in all_of}) == len(all_of)
    assert tally.NOUGHT < 0.07
