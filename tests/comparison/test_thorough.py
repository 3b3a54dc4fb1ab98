"""The tables of `compare --thorough`: what they say in words; the whole run is slow."""

from __future__ import annotations

import os
import re
import signal
import threading
import time
from pathlib import Path

import pandas as pd
import pytest
from real_cluster import running

from cohort.comparison import refits, thorough
from cohort.model.sensitivity import (
    BOTH,
    DATA,
    DATA_RULE,
    EVERY,
    PRIORS_RULE,
    VERDICTS,
)
from cohort.results import mark_of
from cohort.sheets import written


@pytest.fixture
def tables() -> dict[str, pd.DataFrame]:
    checks = pd.DataFrame(
        {"check": ["all_lost", "largest_loss"], "by": ["way", "way"],
         "group": ["single", "multi"], "genus": ["", ""],
         "observed": [3, 4], "expected": [3.2, 1.5], "low": [1, 0], "high": [5, 3],
         "tail_area": [0.6, 0.01], "flagged": [False, True], "touches": ["colony", "colony"]}
    )  # fmt: skip
    left = pd.DataFrame({"founding": ["a", "b"], "elpd": [-1.0, -9.0], "pareto_k": [0.1, 0.9],
                         "reliable": [True, False]})  # fmt: skip
    priors = pd.DataFrame(
        {"number": ["x", "y", "z", "w"], "rivalry": [0.3, 0.01, 0.2, 0.1],
         EVERY: [0.4, 0.0, 0.2, 0.3], DATA: [0.0, 0.3, 0.4, 0.2],
         "verdict": [PRIORS_RULE, DATA_RULE, BOTH, BOTH]}
    )  # fmt: skip
    bounds = pd.DataFrame(
        {
            "reading": ["as agreed", "taken die", "taken live", "with left out"],
            "meaning": ["the study as read", "they die", "they live", "changes nothing here"],
            "settled": [True, True, False, None],
            "quantity": ["same_queens_count"] * 3 + [None],
            "colony": ["seen"] * 3 + [None],
            "genus": ["average"] * 3 + [None],
            "queens": [3, 3, 3, None],
            "arm": ["difference"] * 3 + [None],
            "unit": ["colonies"] * 3 + [None],
            "day": [160] * 3 + [None],
            "level": [0.9] * 3 + [None],
            "foundings": [20] * 3 + [None],
            "chance_multi_better": [0.1, 0.05, 0.2, None],
            "mean": [-0.9, -1.2, -0.6, None],
            "low": [-1.9, -2.2, -1.6, None],
            "high": [0.1, -0.2, 0.4, None],
            "shift": [0.0, -0.3, 0.3, None],
        }
    )
    variants = pd.DataFrame(
        {"variant": ["as agreed", "no rivalry", "lasting"], "meaning": ["m", "n", "o"],
         "difference": [0.0, -20.0, 3.0], "se": [0.0, 5.0, 2.0], "elpd": [-50.0, -70.0, -47.0],
         "parameters": [9.0, 8.0, 9.5], "worst_k": [0.4, 0.9, 0.5], "unreliable": [0, 1, 0],
         "settled": [True, True, False], "divergences": [0, 0, 3]}
    )  # fmt: skip
    return {"checks": checks, "left_out": left, "priors": priors, "bounds": bounds,
            "variants": variants}  # fmt: skip


def test_each_table_is_told_in_words(tables: dict[str, pd.DataFrame]) -> None:
    words = thorough.told(tables)
    text = "\n".join(words)
    assert (
        "1 of 2 numbers lie where the model expects them; outside: largest_loss (way multi)" in text
    )
    assert "1 of 2 foundings move the result so much that their weight is a guess (b)" in text
    assert (
        "of 4 numbers, 1 moved by the priors and not by the data (x); 2 moved by both, which may "
        "disagree (z; w); 1 moved by the data alone; 0 moved by neither." in text
    )
    assert "If they die: same_queens_count of 3 queens would be -1.20 instead of -0.90." in text
    assert "(its chains did not agree)" in text
    assert "'no rivalry' (n) foretells worse: -20.0" in text
    assert "'lasting' (o) foretells about as well: +3.0" in text
    assert len(words) == 7
    assert len(thorough.told({"checks": tables["checks"]})) == 1


def test_every_verdict_is_counted_and_the_counts_add_up(tables: dict[str, pd.DataFrame]) -> None:
    many = pd.DataFrame(
        {"number": [f"n{i}" for i in range(32)], "verdict": [BOTH] * 32}
    )  # as the demo had it: 32 of 32 were told as none
    (text,) = thorough.told({"priors": many})
    assert "of 32 numbers, 0 moved by the priors and not by the data; 32 moved by both" in text
    assert "n11; and 20 more in priors.csv)" in text
    for verdict in VERDICTS:
        (text,) = thorough.told({"priors": many.assign(verdict=verdict)})
        counts = [int(n) for n in re.findall(r"(\d+) moved", text)]
        assert sorted(counts) == [0, 0, 0, 32]
    (text,) = thorough.told({"priors": tables["priors"]})
    assert sum(int(n) for n in re.findall(r"(\d+) moved", text)) == len(tables["priors"])


def test_tables_are_written_beside_the_results(
    tables: dict[str, pd.DataFrame], tmp_path: Path
) -> None:
    paths = thorough.write(tables, tmp_path)
    assert {p.name for p in paths} == {f"{n}.csv" for n in tables} | {"told.txt"}
    assert all(p.parent == tmp_path / "thorough" for p in paths)
    for path in paths:
        if path.suffix == ".csv":
            back = written.read(path, path.stem)
            pd.testing.assert_frame_equal(back, written.typed(tables[path.stem], path.stem))


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore")  # sockets of a killed worker close as they please
def test_a_study_is_looked_into_from_end_to_end(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The refits by a cluster of two workers, one of which is killed after the first file."""
    pytest.importorskip("distributed", reason="the extra 'cluster' is not installed")
    from cohort.comparison import compare
    from cohort.simulate.season import simple_study
    from cohort.simulate.truth import GenusTruth
    from cohort.study import read_study

    made = simple_study(32, {"Lasius": GenusTruth(), "Messor": GenusTruth()}, seed=5)
    found = compare(read_study(made.write(tmp_path / "study")), seed=3)
    days, table = found.results.diagnosis["kind_days"], found.results.comparisons
    assert set(days) == {"Lasius", "Messor"}
    for genus, last in days.items():
        own = table[(table["genus"] == genus) & (table["question"] == "colony")]
        assert (own["carried_over"] == (own["day"] > last)).all()
    out = tmp_path / "out"
    found.write(out)
    mark = mark_of(out)

    def kill_after_first() -> None:
        until = time.monotonic() + 600
        while not list(out.glob("refits/*.json")) and time.monotonic() < until:
            time.sleep(0.1)
        os.killpg(cluster.workers[0].pid, signal.SIGKILL)

    with running(tmp_path / "dask", 2, "--nanny") as cluster:
        killer = threading.Thread(target=kill_after_first)
        killer.start()
        tables = thorough.thorough(found, folder=out, mark=mark, scheduler=cluster.address)
        killer.join()

    def done_again(*_: object) -> None:
        pytest.fail("what is there is done again")

    monkeypatch.setattr(refits, "reading", done_again)
    monkeypatch.setattr(refits, "variant", done_again)
    again = thorough.thorough(found, folder=out, mark=mark)
    for name, table in tables.items():
        pd.testing.assert_frame_equal(again[name], table)
    whole = tables["bounds"].dropna(subset="quantity")
    assert whole["shift"].notna().mean() > 0.9
    assert list(tables) == ["checks", "left_out", "priors", "bounds", "variants"]
    plain = tables["bounds"][tables["bounds"]["reading"] == "as agreed"]
    assert plain["shift"].abs().max() == 0.0
    assert (tables["variants"]["worst_k"] < 2).all()
    assert len(tables["left_out"]) == 32
    assert thorough.told(tables)
    for name, table in tables.items():
        assert written.blanks(written.typed(table, name), name) == [], name
