"""A second opinion on made studies: what each method finds, and why it finds nothing."""

import itertools
import subprocess
import sys
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from scipy.stats import fisher_exact, t
from small_study import date, small_study

from cohort.history import history
from cohort.nonparametric import strata_logrank
from cohort.nonparametric.frames import survival
from cohort.nonparametric.permutation import cells_of, gaps_of, permutation
from cohort.second_opinion import (
    Row,
    UndoneError,
    beside_model,
    common_day,
    model_number,
    opinions,
    reasons,
    risk_ratio,
    time_ratio,
)
from cohort.second_opinion.brackets import brackets_row, closed_row
from cohort.second_opinion.colonies import exact_p, same_queens_reach, wilson
from cohort.second_opinion.losses import SEVERAL
from cohort.second_opinion.workers import aft_row, warmed
from cohort.sheets import written
from cohort.terms.opinions import DIFFERS, IGNORES, IN_WINTER, UNDONE

PRIOR = (-0.05, 0.1)
NONE = written.empty("comparisons")


def season(
    seed, *, singles=20, groups=20, ratio=1.0, mated=1.0, kinds=("Lasius", "Messor"), winter=()
):
    """Lines of a season looked at weekly to day 112; nobody dies but by lot, 1 in 10 containers.

    `winter`: day and length of a winter rest; all that comes after it comes so much later.
    """
    begins, length = winter or (np.inf, 0)
    rng = np.random.default_rng(seed)
    lines, more = {}, {}
    for i in range(singles + groups):
        queens = 1 if i < singles else 3
        fertile = rng.random() < 1 - (1 - mated) ** queens
        day = np.exp(rng.normal(np.log(45), 0.12)) * (ratio if queens > 1 else 1)
        lost = rng.uniform(5, 100) if rng.random() < 0.1 else np.inf
        looks = []
        for at in range(7, 113, 7):
            alive = queens if at < lost else 0
            on = at + length if at > begins else at
            looks.append(f"{on} {alive}/{int(fertile and min(lost, at) >= day)}")
            if not alive:
                break
        name = f"F{i:03d}"
        lines[name] = f"{queens} | {', '.join(looks)}"
        more[name] = {"genus": kinds[i % len(kinds)], "keeper": f"K{i % 5}"}
        more[name] |= {"assigned": "random", "block": f"{kinds[i % len(kinds)]}"}
    rests = [(name, begins, "winter-in") for name in lines] if winter else []
    rests += [(name, begins + length, "winter-out") for name in lines] if winter else []
    how = {"horizon_days": 112 + length, "through_winter": bool(winter)}
    return history(small_study(lines, rests, more=more, **how))


def told(past, prior=PRIOR):
    lots = permutation(past, seed=1, day=common_day(past), shuffles=200)
    return opinions(past, lots, prior, seed=1, level=0.9)


def row_of(rows, method, quantity, genus="all", arm=None):
    (found,) = (
        r for r in rows
        if (r.method, r.quantity, r.genus) == (method, quantity, genus) and arm in (None, r.arm)
    )  # fmt: skip
    return found


def test_the_time_ratio_comes_back_from_brackets():
    found = time_ratio(survival(season(2, singles=60, groups=60, ratio=0.85), "first_worker"))
    assert abs(found.log_ratio - np.log(0.85)) < 3 * found.se
    assert found.spread == pytest.approx(0.12, abs=0.03)
    assert found.se < 0.04


def test_days_of_winter_rest_are_not_days_to_the_first_worker():
    """The same season with a hundred days of cold put in behind day 30: the clock stood still."""
    plain, cold = season(2, ratio=0.85), season(2, ratio=0.85, winter=(30, 100))
    assert len(cold.winters) > 30
    row = Row("aft", "first_worker", "time_ratio", "ratio", "ratio", queens=3)
    summer, winter = (aft_row(row, past, 0.9, PRIOR) for past in (plain, cold))
    assert winter.estimate == pytest.approx(summer.estimate, rel=1e-9)
    assert (winter.low, winter.high) == pytest.approx((summer.low, summer.high), rel=1e-9)
    by_calendar = aft_row(row, replace(cold, winters={}), 0.9, PRIOR)
    assert abs(by_calendar.estimate / summer.estimate - 1) > 0.02
    # what goes by the calendar says so
    methods = ("aft", "cox", "brackets", "counted")
    for through in (False, True):
        rows = [replace(winter, method=method) for method in methods]
        table = beside_model(rows, NONE, 0.9, winter=through)
        more = [f"; {IN_WINTER[m]}" if through and m in IN_WINTER else "" for m in methods]
        assert table["ignores"].tolist() == [
            IGNORES[method] + end for method, end in zip(methods, more, strict=True)
        ]
    assert "as in the model" in IN_WINTER["aft"]
    assert set(IGNORES) - set(IN_WINTER) == {"exact", "counted", "lots"}  # by one day alone


def test_a_bracket_that_winter_rest_fills_is_that_of_its_last_warm_day():
    from cohort.history.winters import WinterRest

    rest = WinterRest((50.0,), (150.0,))
    past = replace(season(2), winters={"A": rest, "C": rest})
    frame = pd.DataFrame({
        "founding": ["A", "B", "C", "C"], "lower": [60.0, 60.0, 40.0, 155.0],
        "upper": [70.0, 70.0, 160.0, np.inf], "entry": [0.0, 0.0, 10.0, 140.0],
    })  # fmt: skip
    got = warmed(frame, past)[["lower", "upper", "entry"]].to_numpy().tolist()
    assert got == [[49, 50, 0], [60, 70, 0], [40, 60, 10], [55, np.inf, 50]]
    assert warmed(frame, replace(past, winters={})) is frame


def test_unmated_queens_fool_the_brackets_and_the_reason_is_found():
    # True ratio 1; two in five single queens are not mated, and nearly every trio has one that is.
    rows = told(season(3, singles=40, groups=40, mated=0.6))
    aft = row_of(rows, "aft", "time_ratio")
    assert aft.high < 0.97  # sooner together, it says, and is sure
    assert aft.variants["barren"] == pytest.approx(1, abs=0.06)
    assert reasons(aft, (1.0, 0.9, 1.1))[0] == "barren"
    # nobody unmated: nothing to explain
    clean = row_of(told(season(3, singles=40, groups=40)), "aft", "time_ratio")
    assert clean.low < 1 < clean.high
    assert reasons(clean, (1.0, 0.9, 1.1)) == []


def test_a_founding_followed_late_does_not_stop_the_fit():
    past = season(4)
    late = past.foundings.copy()
    late.loc[late.index[:6], "entry"] = 28.0
    frame = survival(type(past)(late, past.intervals, past.later, past.horizon), "first_worker")
    assert (frame["entry"] > 0).sum() >= 5
    assert time_ratio(frame).log_ratio == pytest.approx(0, abs=0.2)


def test_ours_and_theirs_stand_beside_each_other():
    rows = told(season(5))
    for arm in ("single", "multi"):
        ours = row_of(rows, "incidence", "chance_by_day", arm=arm)
        theirs = row_of(rows, "incidence_jittered", "chance_by_day", arm=arm)
        assert ours.day == theirs.day == 112
        assert ours.estimate == pytest.approx(theirs.estimate, abs=0.02)
        assert ours.low <= ours.estimate <= ours.high


def test_brackets_that_meet_on_a_day_are_told_apart_by_ours_alone():
    """Weekly looks: half of the first workers by day 7, half by day 14, by any reckoning."""
    past = season(5)
    weekly = past.foundings.copy()
    first = np.where(np.arange(len(weekly)) % 2, 7.0, 14.0)
    weekly["first_by"], weekly["first_after"] = first, first - 7.0
    weekly["entry"], weekly["lost_by"], weekly["lost_after"] = 0.0, np.inf, np.inf
    weekly["looked_to"] = weekly["first_after"]
    past = type(past)(weekly, past.intervals, past.later, past.horizon)
    row = Row("brackets", "first_worker", "chance_by_day", "chance", "single", day=7)
    own = weekly[weekly["compared"] & (weekly["arm"] == "single")]
    half = float((own["first_by"] == 7).mean())
    assert brackets_row(row, past).estimate == pytest.approx(half)
    assert abs(closed_row(row, past).estimate - half) > 0.2
    assert brackets_row(replace(row, day=14), past).estimate == pytest.approx(1)


def test_both_reckonings_of_brackets_are_in_the_table():
    rows = told(season(5))
    for arm in ("single", "multi"):
        ours = row_of(rows, "brackets", "chance_by_day", arm=arm)
        theirs = row_of(rows, "brackets_closed", "chance_by_day", arm=arm)
        assert 0 < ours.estimate <= 1
        assert ours.foundings == theirs.foundings
        assert ours.estimate == pytest.approx(theirs.estimate, abs=0.1)


def test_the_common_stream_of_random_numbers_is_left_as_it_was():
    np.random.seed(7)  # noqa: NPY002 - the global stream is what must stay as it was
    before = np.random.get_state()[1].copy()  # noqa: NPY002 - as above
    told(season(5))
    after = np.random.get_state()[1]  # noqa: NPY002 - as above
    np.testing.assert_array_equal(after, before)


def test_the_error_of_cox_goes_by_keeper_and_is_widened_for_their_number():
    frame = survival(season(6, singles=60, groups=60), "all_lost")
    by_keeper = risk_ratio(frame)
    plain = risk_ratio(frame.assign(keeper=""))
    assert by_keeper.log_ratio == pytest.approx(plain.log_ratio)
    assert (by_keeper.keepers, plain.keepers) == (5, 0)
    few = risk_ratio(frame.assign(keeper=[f"K{i % (SEVERAL - 1)}" for i in range(len(frame))]))
    assert few.se == pytest.approx(plain.se)
    # each founding its own keeper: nearly the error of independent foundings
    each = risk_ratio(frame.assign(keeper=frame["founding"]))
    assert each.se == pytest.approx(plain.se, rel=0.15)


def test_cutting_a_stay_in_two_leaves_the_log_rank_as_it_was():
    rng = np.random.default_rng(9)
    leave, event = rng.integers(2, 40, 60).astype(float), rng.random(60) < 0.6
    group, kind = rng.random(60) < 0.5, rng.integers(0, 3, 60)
    whole = strata_logrank(None, leave, event, group, kind)
    cut = leave * rng.uniform(0.1, 0.9, 60)
    parts = strata_logrank(
        np.concatenate([np.full(60, -1.0), cut]), np.concatenate([cut, leave]),
        np.concatenate([np.zeros(60, bool), event]), np.tile(group, 2), np.tile(kind, 2),
    )  # fmt: skip
    assert parts.statistic == pytest.approx(whole.statistic)
    # late entry forgotten: the second parts count from the beginning
    wrong = strata_logrank(
        None, np.concatenate([cut, leave]), np.concatenate([np.zeros(60, bool), event]),
        np.tile(group, 2), np.tile(kind, 2),
    )  # fmt: skip
    assert abs(wrong.statistic - whole.statistic) > 1e-3
    # kinds thrown together are another test
    assert abs(strata_logrank(None, leave, event, group, kind * 0).statistic - whole.statistic) > 0


def test_the_exact_chance_over_two_kinds_is_that_of_every_arrangement():
    tables = [(2, 3, 1, 4), (3, 3, 0, 2)]
    sums = []
    for x, n, y, m in tables:
        won = [1] * (x + y) + [0] * (n + m - x - y)
        sums.append([sum(won[i] for i in c) for c in itertools.combinations(range(n + m), n)])
    both = np.array([a + b for a in sums[0] for b in sums[1]])
    value, count = np.unique(both, return_counts=True)
    chance = dict(zip(value.tolist(), count / len(both), strict=True))
    exact = sum(p for p in chance.values() if p <= chance[5] * (1 + 1e-9))
    assert exact_p(tables) == pytest.approx(exact)
    assert exact_p(tables[:1]) == pytest.approx(fisher_exact([[2, 1], [1, 3]]).pvalue)


def test_the_range_of_the_same_queens_by_hand_in_one_cell():
    # 7 of 10 singles, 8 of 10 trios
    colony = np.array([1] * 7 + [0] * 3 + [1] * 8 + [0] * 2, float)
    genus, size = np.array(["g"] * 20), np.array([1] * 10 + [3] * 10)
    cells = cells_of(genus, size)
    (low1, high1), (low3, high3) = wilson(7, 10, 0.9), wilson(8, 10, 0.9)
    down, up = same_queens_reach(colony, genus, cells, 0, 0.9)
    assert down == pytest.approx(np.hypot(0.8 - low3, 0.3**3 - (1 - high1) ** 3))
    assert up == pytest.approx(np.hypot(high3 - 0.8, (1 - low1) ** 3 - 0.3**3))
    assert gaps_of(colony, cells)[0] == pytest.approx(0.8 - (1 - 1 / 120))  # 3 of 3 failures
    down, up = same_queens_reach(colony, genus, cells, 1, 0.9)
    assert down == pytest.approx(np.hypot(0.8 - low3, 3 * (high1 - 0.7)))


def test_ranges_of_the_same_queens_hold_the_truth_as_often_as_they_say():
    rng, inside = np.random.default_rng(12), 0
    genus, size = np.array(["a", "b"] * 24), np.repeat([1, 3], 24)
    cells = cells_of(genus, size)
    truth = 0.8 - (1 - 0.4**3)
    for _ in range(400):
        colony = (rng.random(48) < np.where(size == 1, 0.6, 0.8)).astype(float)
        gap = gaps_of(colony, cells)[0]
        down, up = same_queens_reach(colony, genus, cells, 0, 0.9)
        inside += gap - down <= truth <= gap + up
    assert 0.86 <= inside / 400 <= 0.97


# --- beside the model --------------------------------------------------------------------------


def comparisons(**more):
    one = dict(quantity="time_ratio", genus="average", arm="ratio", queens=3, day=pd.NA,
               mean=0.95, low=0.9, high=1.0)  # fmt: skip
    frame = pd.DataFrame([one | more])
    frame["day"] = frame["day"].astype("Int64")
    return frame


AFT = Row("aft", "first_worker", "time_ratio", "ratio", "ratio", "all", 3, None, 0.85, 0.75, 0.97)


def test_the_model_speaks_of_all_kinds_by_its_average():
    assert model_number(comparisons(), AFT) == (0.95, 0.9, 1.0)
    assert np.isnan(model_number(comparisons(genus="Lasius"), AFT)).all()
    assert np.isnan(model_number(comparisons(queens=2), AFT)).all()
    assert np.isnan(model_number(written.empty("comparisons"), AFT)).all()
    of_day = Row("exact", "", "x", "chance", "difference", "Lasius", 3, 90)
    here = comparisons(quantity="x", genus="Lasius", arm="difference", day=90)
    assert model_number(here, of_day)[0] == 0.95
    assert np.isnan(model_number(here.assign(day=60), of_day)).all()


def test_of_several_readings_the_one_as_seen_is_taken():
    both = pd.concat([comparisons(mean=0.5), comparisons()]).assign(reading=["alike", "seen"])
    assert model_number(both, AFT)[0] == 0.95


def test_a_reason_must_come_a_quarter_of_the_way():
    model = (0.95, 0.9, 1.0)

    def of(**variants):
        return reasons(Row(**(vars(AFT) | {"variants": variants})), model)

    assert of(barren=0.94, prior=0.89) == ["barren", "prior"]
    assert of(prior=0.86) == ["unexplained"]  # a tenth of the way
    assert of(barren=0.80) == ["unexplained"]  # away from it
    assert of(barren=1.5) == ["unexplained"]  # far beyond it
    assert of() == ["unexplained"]


def test_what_lies_within_both_ranges_does_not_differ():
    same = Row(**(vars(AFT) | {"estimate": 0.93, "high": 1.1}))
    assert reasons(same, (0.95, 0.9, 1.0)) == []
    assert reasons(AFT, (np.nan,) * 3) == []  # no model


def test_the_table_is_written_and_read_again(tmp_path):
    rows = told(season(5))
    for table in (comparisons(), written.empty("comparisons")):
        frame = beside_model(rows, table, 0.9)
        back = written.read(
            written.write(frame, "second_opinion", tmp_path / "it.csv"), "second_opinion"
        )
        assert written.blanks(frame, "second_opinion") == []
        pd.testing.assert_frame_equal(back, frame, rtol=1e-5)
    assert list(back["method"].unique()) == list(IGNORES)
    assert back["model"].isna().all()
    assert (back["differs"] == "").all()


# --- too little --------------------------------------------------------------------------------

NOTHING = {
    "one of each": {"A": "1 | 40 1/0, 60 1/2, 180 1/9", "B": "3 | 40 3/0, 60 2/1, 180 1/9"},
    "singles only": {f"A{i}": "1 | 40 1/0, 60 1/2, 180 1/9" for i in range(12)},
    "no workers": {f"{k}{i}": f"{k} | 40 {k}/0, 180 {k}/0" for k in (1, 3) for i in range(9)},
    "all lost by the first look": {f"{k}{i}": f"{k} | 7 0/0" for k in (1, 3) for i in range(9)},
    "nobody looked": {f"{k}{i}": f"{k} |" for k in (1, 3) for i in range(9)},
    "all alike": {
        f"{k}{i}": f"{k} | 40 {k}/0, 47 {k}/1, 180 {k}/9" for k in (1, 3) for i in range(9)
    },
}


@pytest.mark.parametrize("name", NOTHING)
def test_too_little_is_a_row_with_a_reason_and_no_warning(name):
    rows = told(history(small_study(NOTHING[name])))  # a warning would be an error here
    assert {row.method for row in rows} == set(IGNORES)
    for row in rows:
        assert bool(row.why) == np.isnan(row.estimate), row
        assert row.why in {"", *UNDONE}
    frame = beside_model(rows, written.empty("comparisons"), 0.9)
    assert (frame["why"] != "").any()


def test_a_study_in_which_nothing_is_compared():
    lines = NOTHING["all alike"]
    out = history(small_study(lines, more={name: {"left_out": "mites"} for name in lines}))
    empty = type(out)(out.foundings.iloc[:0], out.intervals.iloc[:0], out.later, out.horizon)
    for past in (out, empty):
        rows = told(past)
        assert {row.why for row in rows} == {"few"}
        assert len(beside_model(rows, comparisons(), 0.9)) == len(rows)


def test_every_loss_in_one_way_of_founding_is_no_fit():
    lines = {f"A{i}": "1 | 40 1/0, 60 0/0" for i in range(9)}
    lines |= {f"C{i}": "3 | 40 3/0, 60 3/2, 180 3/9" for i in range(9)}
    past = history(small_study(lines))
    with pytest.raises(UndoneError, match="no_event"):
        risk_ratio(survival(past, "all_lost"))
    assert row_of(told(past), "cox", "loss_ratio").why == "no_event"


def test_a_late_founding_lowers_the_common_day():
    lines = {f"{k}{i}": f"{k} | 40 {k}/0, 60 {k}/2, 95 {k}/5" for k in (1, 3) for i in range(8)}
    past = history(small_study(lines))
    assert common_day(past) == 90
    assert common_day(past, 9) is None
    started = {name: {"started": date(40)} for name in lines if name[0] == "3"}
    later = {n: "3 | 40 3/0, 62 3/2" if n[0] == "3" else line for n, line in lines.items()}
    assert common_day(history(small_study(later, more=started))) == 60


def test_every_reason_and_method_has_its_clause():
    assert set(DIFFERS) >= {"barren", "prior", "looks", "equal", "size", "others", "unexplained"}
    used = {code for row in told(season(3, mated=0.6)) for code in row.variants}
    assert used <= set(DIFFERS)


def test_libraries_are_loaded_only_when_it_is_asked():
    code = (
        "import sys, cohort.second_opinion;"
        "print(sorted({'lifelines', 'scipy.stats', 'statsmodels'} & set(sys.modules)))"
    )
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert out.stdout.strip() == "[]"


def test_the_range_of_few_keepers_goes_by_student():
    past = season(6, singles=60, groups=60)
    row = row_of(told(past), "cox", "loss_ratio")
    found = risk_ratio(survival(past, "all_lost"))
    reach = t.ppf(0.95, 4) * found.se
    assert np.log(row.high / row.estimate) == pytest.approx(reach)
    assert row.p == pytest.approx(2 * t.sf(abs(found.log_ratio) / found.se, 4))
