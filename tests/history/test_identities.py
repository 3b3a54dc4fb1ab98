"""What holds of every history, drawn at random, and how it fails when a step is forgotten."""

import numpy as np
import pandas as pd
from hypothesis import given, settings
from hypothesis import strategies as st
from small_study import small_study, spans, told

from cohort.history import history

foundings = st.integers(0, 100_000)


def drawn(seed, *, slack=False):
    """Six foundings with losses, gaps, inexact counts, removals, workers; what truly happened."""
    rng = np.random.default_rng(seed)
    lines, events, out = {}, [], {}
    for i in range(6):
        name, alive = f"F{i}", int(rng.integers(1, 7))
        looks, workers, out[name] = [], 0, 0
        queens = alive
        for day in np.cumsum(rng.integers(2, 14, 12)):
            alive -= int(rng.binomial(alive, 0.12))
            workers += int(rng.random() < 0.3) * int(rng.integers(0, 6))
            count = "-" if rng.random() < 0.2 else f"{alive}+" if rng.random() < 0.1 else alive
            count = count if alive else alive
            seen = "-" if rng.random() < 0.2 else workers
            doubt = f" ~{rng.integers(0, 5)}" if slack else ""
            looks.append(f"{day} {count}/{seen}{doubt}")
            if alive > 1 and count == alive and rng.random() < 0.15:
                events.append((name, int(day), "queens-out", 1, "given"))
                alive -= 1
                out[name] += 1
            if not alive:
                break
        lines[name] = f"{queens} | {', '.join(looks)}"
    return small_study(lines, events), out


@given(foundings)
@settings(max_examples=60, deadline=None)
def test_every_queen_is_accounted_for(seed):
    # Queens at the start = lost + taken out + alive at the end.
    study, _ = drawn(seed)
    h = history(study)
    lost = h.intervals.groupby("code")["lost"].sum().reindex(h.foundings.index, fill_value=0)
    following = h.intervals["at_risk"].shift(-1)
    same = h.intervals["code"].shift(-1) == h.intervals["code"]
    gone = (h.intervals["alive"] - following).where(same, 0)
    taken = gone.groupby(h.intervals["code"]).sum().reindex(h.foundings.index, fill_value=0)
    total = lost + taken + h.foundings["queens_end"]
    assert (total == h.foundings["size"]).all()
    # Queens taken out counted as dead: the sum without them falls short.
    if taken.sum():
        assert (lost + h.foundings["queens_end"]).sum() < h.foundings["size"].sum()


@given(foundings, st.booleans())
@settings(max_examples=80, deadline=None)
def test_intervals_follow_on_and_counts_never_rise(seed, slack):
    study, _ = drawn(seed, slack=slack)
    h = history(study)
    for name, row in h.foundings.set_index("founding").iterrows():
        own = spans(h, name)
        edges = [row["entry"], *(by for _, by, _, _ in own)]
        assert [after for after, *_ in own] == edges[:-1]
        assert (np.diff(edges) > 0).all()
        assert all(0 <= alive <= held for *_, held, alive in own)
        assert row["end"] == edges[-1]
        assert row["first_after"] < row["first_by"]
        assert row["looked_to"] == row["first_after"]
        if np.isfinite(row["lost_by"]):
            assert own[-1][:2] == (row["lost_after"], row["lost_by"])
            assert row["first_by"] <= row["lost_by"] or np.isinf(row["first_by"])


@given(foundings)
@settings(max_examples=40, deadline=None)
def test_a_look_put_between_two_equal_counts_leaves_queen_days_and_losses_alone(seed):
    study, _ = drawn(seed)
    before = history(study)
    quiet = before.intervals[(before.intervals["lost"] == 0)]
    quiet = quiet[quiet["by"] - quiet["after"] >= 2]
    if quiet.empty:
        return
    row = quiet.iloc[0]
    name = before.foundings.loc[row["code"], "founding"]
    extra = study.checks.iloc[[0]].copy()
    day = int(row["after"]) + 1
    extra["founding"] = name
    extra["date"] = np.datetime64("2025-06-01", "ns") + np.timedelta64(day, "D")
    extra["queens_alive"] = pd.array([int(row["alive"])], dtype="Int64")
    extra["workers"] = pd.array([pd.NA], dtype="Int64")
    extra["at_least"] = False
    study.checks = pd.DataFrame(
        {
            column: list(study.checks[column]) + list(extra[column])
            for column in ("founding", "at_least", "workers_at_least", "give_or_take")
        }
        | {
            "date": np.concatenate([study.checks["date"].to_numpy(), extra["date"].to_numpy()]),
            "queens_alive": pd.array(
                [*study.checks["queens_alive"], *extra["queens_alive"]], dtype="Int64"
            ),
            "workers": pd.array([*study.checks["workers"], *extra["workers"]], dtype="Int64"),
        }
    )
    after = history(study)
    assert len(after.intervals) == len(before.intervals) + 1
    spans = [
        h.intervals.assign(days=lambda f: f["at_risk"] * (f["by"] - f["after"]))
        for h in (before, after)
    ]
    sums = [own.groupby("code")[["days", "lost"]].sum() for own in spans]
    pd.testing.assert_frame_equal(*sums)
    same = ["first_after", "first_by", "lost_after", "lost_by", "end", "queens_end"]
    pd.testing.assert_frame_equal(before.foundings[same], after.foundings[same])


@given(foundings)
@settings(max_examples=40, deadline=None)
def test_doubt_only_widens(seed):
    # Brackets with doubtful dates hold the brackets without.
    study, _ = drawn(seed, slack=True)
    wide = history(study)
    study.checks["give_or_take"] = 0.0
    sharp = history(study)
    for name in wide.foundings["founding"]:
        a, b = told(wide, name), told(sharp, name)
        assert a["first_after"] <= b["first_after"]
        assert a["first_by"] >= min(b["first_by"], a["lost_by"])
        assert a["lost_after"] <= b["lost_after"]
        assert a["lost_by"] >= b["lost_by"]
        assert a["queens_end"] == b["queens_end"]


@given(foundings)
@settings(max_examples=30, deadline=None)
def test_a_shorter_horizon_is_the_beginning_of_a_longer_one(seed):
    study, _ = drawn(seed)
    whole = history(study)
    study.settings.horizon_days = 40
    part = history(study)
    early = whole.intervals[whole.intervals["by"] <= 40]
    pd.testing.assert_frame_equal(part.intervals, early.reset_index(drop=True))
    assert len(part.intervals) + len(part.later) == len(whole.intervals)
    assert (part.foundings["end"] <= 40).all()
