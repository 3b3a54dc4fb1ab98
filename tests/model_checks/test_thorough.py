"""The tables of `compare --thorough`: what they say in words; the whole run is slow."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from cohort import thorough


@pytest.fixture
def tables() -> dict[str, pd.DataFrame]:
    checks = pd.DataFrame(
        {"check": ["all_lost", "largest_loss"], "group": ["single", "multi"],
         "observed": [3, 4], "tail_area": [0.6, 0.01]}
    )  # fmt: skip
    left = pd.DataFrame({"founding": ["a", "b"], "elpd": [-1.0, -9.0], "pareto_k": [0.1, 0.9],
                         "reliable": [True, False]})  # fmt: skip
    priors = pd.DataFrame({"number": ["x", "y"], "verdict": ["the priors rule", "the data rule"]})
    bounds = pd.DataFrame(
        {
            "reading": ["as agreed", "taken die", "taken live", "with left out"],
            "meaning": ["the study as read", "they die", "they live", "changes nothing here"],
            "settled": [True, True, False, None],
            "quantity": ["same_queens_count"] * 3 + [None],
            "genus": ["average"] * 3 + [None],
            "queens": [3, 3, 3, None],
            "mean": [-0.9, -1.2, -0.6, None],
            "shift": [0.0, -0.3, 0.3, None],
        }
    )
    variants = pd.DataFrame(
        {"variant": ["as agreed", "no rivalry", "lasting"], "meaning": ["m", "n", "o"],
         "difference": [0.0, -20.0, 3.0], "se": [0.0, 5.0, 2.0]}
    )  # fmt: skip
    return {"checks": checks, "left_out": left, "priors": priors, "bounds": bounds,
            "variants": variants}  # fmt: skip


def test_each_table_is_told_in_words(tables: dict[str, pd.DataFrame]) -> None:
    words = thorough.told(tables)
    text = "\n".join(words)
    assert "1 of 2 counts lie where the model expects them; outside: largest_loss (multi)" in text
    assert "1 of 2 foundings move the result so much that their weight is a guess (b)" in text
    assert "1 numbers are ruled by the priors: x" in text
    assert "If they die: same_queens_count of 3 queens would be -1.20 instead of -0.90." in text
    assert "(its chains did not agree)" in text
    assert "'no rivalry' (n) foretells worse: -20.0" in text
    assert "'lasting' (o) foretells about as well: +3.0" in text
    assert len(words) == 7
    assert len(thorough.told({"checks": tables["checks"]})) == 1


def test_tables_are_written_beside_the_results(
    tables: dict[str, pd.DataFrame], tmp_path: Path
) -> None:
    paths = thorough.write(tables, tmp_path)
    assert {p.name for p in paths} == {f"{n}.csv" for n in tables} | {"told.txt"}
    assert all(p.parent == tmp_path / "thorough" for p in paths)
    back = pd.read_csv(tmp_path / "thorough" / "variants.csv")
    assert back["difference"].tolist() == [0.0, -20.0, 3.0]


@pytest.mark.slow
def test_a_study_is_looked_into_from_end_to_end(tmp_path: Path) -> None:
    from cohort.comparison import compare
    from cohort.simulate.season import simple_study
    from cohort.simulate.truth import GenusTruth
    from cohort.study import read_study

    made = simple_study(32, {"Lasius": GenusTruth(), "Messor": GenusTruth()}, seed=5)
    found = compare(read_study(made.write(tmp_path / "study")), seed=3)
    tables = thorough.thorough(found)
    assert list(tables) == ["checks", "left_out", "priors", "bounds", "variants"]
    plain = tables["bounds"][tables["bounds"]["reading"] == "as agreed"]
    assert plain["shift"].abs().max() == 0.0
    assert (tables["variants"]["worst_k"] < 2).all()
    assert len(tables["left_out"]) == 32
    assert thorough.told(tables)
