"""The flow of the queens adds up, whatever the sheets say and leave out."""

from __future__ import annotations

import types

import numpy as np
import pandas as pd
import pytest

from cohort.figures.flow import flow_frame
from cohort.figures.material import Material, NotDrawn

REASONS = ("", "", "", "", "mites", "boosted", "split-off")


def study(seed: int, holes: bool = True):
    """Random catches and foundings, with blanks, rough numbers and wrong links."""
    rng = np.random.default_rng(seed)
    n_catch, n_found = int(rng.integers(0, 6)), int(rng.integers(0, 25))
    catches = pd.DataFrame(
        {
            "catch": [f"C{i}" for i in range(n_catch)],
            "queens": pd.array(rng.integers(0, 15, n_catch), dtype="Int64"),
            "not_kept": rng.choice(["", "3", "0", "about 20", "10+"] if holes else ["3"], n_catch),
            "not_kept_why": rng.choice(["released", "frozen", ""], n_catch),
            "died": pd.array(rng.integers(0, 3, n_catch), dtype="Int64"),
        }
    )
    if n_catch and holes:
        catches.loc[rng.random(n_catch) < 0.2, ["queens", "died"]] = pd.NA
    queens = rng.integers(1, 4, n_found)
    left = rng.choice(REASONS, n_found)
    foundings = pd.DataFrame(
        {
            "founding": [f"F{i}" for i in range(n_found)],
            "queens": queens,
            "arm": np.where(queens == 1, "single", "multi"),
            "left_out": left,
            "from_": np.where(left == "split-off", "F0", ""),
            "catch": rng.choice([*catches["catch"], "", "lost"], n_found),
        }
    )
    faulty = pd.DataFrame({"founding": ["X1"] * int(rng.integers(0, 2))})
    return types.SimpleNamespace(catches=catches, foundings=foundings, faulty=faulty)


def material(sheets) -> Material:
    return Material(results=None, history=None, study=sheets)


def children(frame: pd.DataFrame, parent: str, column: str) -> int:
    return int(frame.loc[frame["parent"] == parent, column].sum())


@pytest.mark.parametrize("seed", range(200))
def test_children_add_up_to_their_parent(seed):
    sheets = study(seed)
    if sheets.catches.empty and sheets.foundings.empty:
        with pytest.raises(NotDrawn):
            flow_frame(material(sheets))
        return
    frame = flow_frame(material(sheets))
    at = frame.set_index("step")
    for parent in set(frame["parent"]) - {""}:
        assert children(frame, parent, "queens") == at.loc[parent, "queens"], parent
    assert children(frame, "started", "foundings") == len(sheets.foundings)
    assert children(frame, "analysed", "foundings") == (sheets.foundings["left_out"] == "").sum()
    into = frame.loc[frame["step"].isin(["from_catch", "over", "other_source"]), "queens"].sum()
    if len(sheets.catches):
        assert into == at.loc["started", "queens"]
    assert (frame["queens"] >= -1).all()


def test_the_check_can_fail():
    frame = flow_frame(material(study(3)))
    frame.loc[frame["step"] == "single", "queens"] += 1
    at = frame.set_index("step")
    assert children(frame, "analysed", "queens") != at.loc["analysed", "queens"]


def test_by_hand():
    """7 kept + 3 let go; 1 died, 5 went into foundings, so 1 is not told of."""
    catches = pd.DataFrame(
        {"catch": ["A"], "queens": pd.array([7], dtype="Int64"), "not_kept": ["3"],
         "not_kept_why": ["released"], "died": pd.array([1], dtype="Int64")}
    )  # fmt: skip
    foundings = pd.DataFrame(
        {"founding": ["a", "b", "c"], "queens": [1, 3, 1], "arm": ["single", "multi", "single"],
         "left_out": ["", "", "mites"], "from_": "", "catch": ["A", "A", "A"]}
    )  # fmt: skip
    sheets = types.SimpleNamespace(
        catches=catches, foundings=foundings, faulty=pd.DataFrame({"founding": []})
    )
    frame = flow_frame(material(sheets))
    got = {
        (row.step, row.why): (row.queens, row.foundings) for row in frame.itertuples(index=False)
    }
    assert got == {
        ("caught", ""): (10, -1),
        ("not_kept", ""): (3, -1),
        ("released", ""): (3, -1),
        ("kept", ""): (7, -1),
        ("died", ""): (1, -1),
        ("no_line", ""): (1, -1),
        ("from_catch", ""): (5, -1),
        ("started", ""): (5, 3),
        ("left_out", "mites"): (1, 1),
        ("analysed", ""): (4, 2),
        ("single", ""): (1, 1),
        ("multi", ""): (3, 1),
    }
    assert frame["exact"].all()


@pytest.mark.parametrize("said", ["about 20", "10+", ""])
def test_a_rough_or_missing_number_is_said_so_and_not_guessed(said):
    sheets = study(1, holes=False)
    sheets.catches = pd.DataFrame(
        {"catch": ["A", "B"], "queens": pd.array([7, 2], dtype="Int64"), "not_kept": [said, "4"],
         "not_kept_why": ["released", "frozen"], "died": pd.array([0, 0], dtype="Int64")}
    )  # fmt: skip
    at = flow_frame(material(sheets)).set_index("step")
    assert not at.loc["caught", "exact"]
    assert not at.loc["released", "exact"]
    assert at.loc["frozen", "exact"]
    assert at.loc["caught", "queens"] == 7 + 2 + 4


def test_queens_of_a_parted_group_are_counted_once():
    foundings = pd.DataFrame(
        {"founding": ["a", "a2"], "queens": [3, 1], "arm": ["multi", "single"],
         "left_out": ["", "split-off"], "from_": ["", "a"], "catch": ""}
    )  # fmt: skip
    empty = study(0).catches.iloc[:0]
    sheets = types.SimpleNamespace(
        catches=empty, foundings=foundings, faulty=pd.DataFrame({"founding": []})
    )
    at = flow_frame(material(sheets)).set_index("step")
    assert at.loc["started", "queens"] == 3
    assert at.loc["started", "foundings"] == 2
