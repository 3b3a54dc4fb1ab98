"""`rest` and `all` rows spread out; counts against a slow reading, row by row."""

import datetime as dt

import hypothesis.strategies as st
import pandas as pd
from hypothesis import given, settings

from cohort.audit import examine
from cohort.sheets.folder import read_folder
from cohort.sheets.raw import RawTable, Sheets

TODAY = dt.date(2026, 9, 30)


def sheets(**tables: list[dict[str, str]]) -> Sheets:
    """Sheets typed in a test: rows of cells, the first in row 2."""
    raw = []
    for name, rows in tables.items():
        frame = pd.DataFrame(rows, dtype=object).fillna("") if rows else pd.DataFrame()
        raw.append(
            RawTable(name, f"{name}.csv", "", frame, pd.RangeIndex(2, len(rows) + 2).to_numpy())
        )
    return Sheets(tuple(raw), (), ())


def looks_of(seen, founding):
    mine = seen.looks[seen.looks["founding"] == founding]
    return [
        (
            f"{row.date:%m-%d}",
            None if pd.isna(row.queens_alive) else int(row.queens_alive),
            None if pd.isna(row.workers) else int(row.workers),
            bool(row.from_rest),
        )
        for row in mine.itertuples()
    ]


def test_rest_stands_for_the_open_foundings_not_named_that_day(folder, today):
    # Worked by hand: K2-03 starts later, K2-04 is lost, K2-05 has ended, K2-06 is named.
    folder.put(
        "foundings.csv",
        """\
founding,genus,started,queens,keeper
K2-01,Lasius,2026-07-01,1,K2
K2-02,Lasius,2026-07-01,3,K2
K2-03,Lasius,2026-07-10,1,K2
K2-04,Lasius,2026-07-01,2,K2
K2-05,Lasius,2026-07-01,2,K2
K2-06,Lasius,2026-07-01,2,K2
""",
    )
    folder.put(
        "checks.csv",
        """\
founding,date,queens_alive,workers
rest,2026-07-03,same,
K2-02,2026-07-05,2,0
K2-04,2026-07-05,0,
K2-05,2026-07-05,2,3
rest,2026-07-09,same,
K2-06,2026-07-09,1,
rest,2026-07-12,same,
""",
    )
    folder.put("events.csv", "founding,date,event,other\nK2-05,2026-07-08,end,given\n")
    seen = examine(read_folder(folder.path), today).seen
    # never looked at before: as on day 0, without workers
    assert looks_of(seen, "K2-01") == [
        ("07-03", 1, 0, True),
        ("07-09", 1, 0, True),
        ("07-12", 1, 0, True),
    ]
    assert looks_of(seen, "K2-02") == [
        ("07-03", 3, 0, True),
        ("07-05", 2, 0, False),
        ("07-09", 2, 0, True),
        ("07-12", 2, 0, True),
    ]
    assert looks_of(seen, "K2-03") == [("07-12", 1, 0, True)]
    assert looks_of(seen, "K2-04") == [("07-03", 2, 0, True), ("07-05", 0, None, False)]
    assert looks_of(seen, "K2-05") == [("07-03", 2, 0, True), ("07-05", 2, 3, False)]
    # looked at with the workers' cell blank: `as before` is not known
    assert looks_of(seen, "K2-06") == [
        ("07-03", 2, 0, True),
        ("07-09", 1, None, False),
        ("07-12", 1, None, True),
    ]


def test_rest_follows_queens_taken_out_and_counts_of_at_least():
    made = examine(
        sheets(
            foundings=[
                {"founding": "A", "genus": "Lasius", "started": "2026-07-01", "queens": "6"}
            ],
            checks=[
                {"founding": "A", "date": "2026-07-03", "queens_alive": "5+", "workers": "12+"},
                {"founding": "rest", "date": "2026-07-05", "queens_alive": "same"},
                {"founding": "rest", "date": "2026-07-07", "queens_alive": "same"},
            ],
            events=[
                {
                    "founding": "A",
                    "date": "2026-07-05",
                    "event": "queens-out",
                    "number": "1",
                    "other": "given",
                }
            ],
        ),
        TODAY,
    )
    assert looks_of(made.seen, "A") == [
        ("07-03", 5, 12, False),
        ("07-05", 5, 12, True),
        ("07-07", 4, 12, True),
    ]
    assert made.seen.looks["queens_alive_at_least"].all()
    assert made.seen.looks["workers_at_least"].all()


def test_rest_of_one_keeper_leaves_the_others_alone(folder, today):
    folder.put(
        "foundings-K3.csv", "founding,genus,started,queens,keeper\nK3-01,Messor,2026-07-05,2,K3\n"
    )
    folder.put("checks-K3-july.csv", "founding,date,queens_alive,workers\nrest,2026-07-12,same,\n")
    made = examine(read_folder(folder.path), today)
    assert looks_of(made.seen, "K3-01") == [("07-12", 2, 0, True)]
    assert all(not row[3] for row in looks_of(made.seen, "K2-01"))
    assert made.findings == ()


def test_all_is_every_open_founding(folder, today):
    folder.put(
        "events.csv",
        "founding,date,event,other\nK2-01,2026-07-10,end,given\nall,2026-07-12,winter-in,\n",
    )
    events = examine(read_folder(folder.path), today).seen.events
    assert events[["founding", "event"]].to_numpy().tolist() == [
        ["K2-01", "end"],
        ["K2-02", "winter-in"],
    ]


def test_rest_in_winter_is_every_open_founding_not_named_that_day(folder, today):
    folder.put("foundings.csv", "+K2-03,Lasius,2026-07-04,2,K2\nK2-04,Lasius,2026-07-04,2,K2\n")
    folder.put("checks.csv", "+K2-01,2026-07-12,1,2\n")
    folder.put(
        "events.csv",
        "founding,date,event,other\nK2-03,2026-07-12,moved,\nrest,2026-07-12,winter-in,\n",
    )
    events = examine(read_folder(folder.path), today).seen.events
    assert events[["founding", "event"]].to_numpy().tolist() == [
        ["K2-02", "winter-in"],
        ["K2-03", "moved"],
        ["K2-04", "winter-in"],
    ]


WINTER = """\
founding,genus,started,queens,keeper
K2-01,Lasius,2025-07-06,1,K2
K2-02,Lasius,2025-07-06,1,K2
K2-03,Lasius,2025-07-06,1,K2
K3-01,Lasius,2025-07-06,1,K3
"""
LOOKED = """\
founding,date,queens_alive,workers
K2-01,2025-10-20,1,4
K2-02,2026-03-14,1,4
K2-03,2026-03-14,0,0
"""


def winter_told(folder, today, *more):
    """Findings on two keepers' winter; K2 looks at some of hers on the day they go in and out."""
    head = "founding,date,event\n"
    both = "rest,2025-10-20,winter-in\nrest,2026-03-14,winter-out\n"
    folder.put("foundings.csv", WINTER)
    folder.put("checks.csv", LOOKED)
    folder.put("events-K2.csv", head + both + "".join(more))
    folder.put("events-K3.csv", head + both)
    made = examine(read_folder(folder.path), today)
    kept = ("not-of-the-rest", "repeated-row")
    return [(f.file, f.row, f.founding) for f in made.findings if f.rule in kept]


def test_a_look_on_the_day_of_winter_rest_takes_a_founding_out_of_the_rest_and_is_told(
    folder, today
):
    """In: K2-01 was looked at. Out: K2-02 was; K2-01 never went in, K2-03 is dead."""
    told = winter_told(folder, today)
    assert told == [("events-K2.csv", 2, "K2-01"), ("events-K2.csv", 3, "K2-02")]
    # what `rest` of another keeper says on the same day is no repetition: nothing of K3 is told
    every = "all,2025-10-20,winter-in\nall,2026-03-14,winter-out\n"
    assert winter_told(folder, today, every) == []


def test_a_shelf_is_every_open_founding_that_stands_on_it(folder, today):
    head = "founding,genus,started,queens,keeper,shelf\n"
    folder.put("foundings-K2.csv", head + "K2-05,Lasius,2026-07-04,1,K2,cellar\n")
    folder.put("foundings-K3.csv", head + "K3-01,Lasius,2026-07-04,1,K3,cellar\n"
               "K3-02,Lasius,2026-07-04,1,K3,attic\n")  # fmt: skip
    folder.put("events-K3.csv", "founding,date,event\ncellar,2026-07-12,winter-in\n")
    made = examine(read_folder(folder.path), today)
    assert made.seen.events["founding"].tolist() == ["K3-01"]  # the cellar of K2 is another's
    folder.put("events.csv", "founding,date,event\ncellar,2026-07-13,winter-out\n")
    assert sorted(examine(read_folder(folder.path), today).seen.events["founding"]) == [
        "K2-05", "K3-01", "K3-01",
    ]  # fmt: skip
    folder.put("events.csv", "founding,date,event\nloft,2026-07-13,winter-out\n")
    told = examine(read_folder(folder.path), today).findings
    assert "id-unknown" in [finding.rule for finding in told]


def test_two_looks_of_a_day_are_put_together(folder, today):
    folder.put(
        "checks.csv",
        """\
+K2-02,2026-07-15,2+,
K2-02,2026-07-15,3,
K2-02,2026-07-15,,4
""",
    )
    made = examine(read_folder(folder.path), today)
    assert looks_of(made.seen, "K2-02")[-1] == ("07-15", 3, 4, False)
    assert not made.seen.looks["queens_alive_at_least"].iloc[-1]
    assert {f.rule for f in made.findings} == {"looks-put-together"}


# --- the rule of the counts against a reading row by row

LOOK = st.tuples(st.integers(0, 5), st.booleans())
STEPS = st.lists(
    st.tuples(
        st.integers(1, 5),  # days since the step before
        st.one_of(
            st.tuples(st.just("look"), LOOK),
            st.tuples(st.sampled_from(["queens-in", "queens-out"]), st.integers(1, 3)),
        ),
    ),
    max_size=12,
)


def slowly(queens: int, steps) -> tuple[list[int], list[int]]:
    """Rows at fault by reading one line after another, as one would on paper."""
    left, rises, short = queens, [], []
    look_row = event_row = 1
    for _, (what, value) in steps:
        if what == "look":
            look_row += 1
            number, at_least = value
            if number > left:
                rises.append(look_row)
            if not at_least:
                left = number
        else:
            event_row += 1
            left += value if what == "queens-in" else -value
            if what == "queens-out" and left < 0:
                short.append(event_row)
    return rises, short


@settings(max_examples=25)
@given(st.lists(st.tuples(st.integers(1, 5), STEPS), min_size=1, max_size=25))
def test_counts_obey_as_read_line_by_line(plans):
    foundings, checks, events = [], [], []
    rises, short = [], []
    for number, (queens, steps) in enumerate(plans):
        name = f"A{number + 1}"
        foundings.append(
            {"founding": name, "genus": "Lasius", "started": "2026-07-01", "queens": str(queens)}
        )
        late, few = slowly(queens, steps)
        rises += [len(checks) + row for row in late]
        short += [len(events) + row for row in few]
        day = dt.date(2026, 7, 1)
        for wait, (what, value) in steps:
            day += dt.timedelta(days=wait)
            if what == "look":
                checks.append(
                    {
                        "founding": name,
                        "date": day.isoformat(),
                        "queens_alive": f"{value[0]}{'+' if value[1] else ''}",
                    }
                )
            else:
                events.append(
                    {
                        "founding": name,
                        "date": day.isoformat(),
                        "event": what,
                        "number": str(value),
                        "other": "given",
                    }
                )
    made = examine(sheets(foundings=foundings, checks=checks, events=events), TODAY)
    assert [f.row for f in made.findings if f.rule == "count-rises"] == rises
    assert [f.row for f in made.findings if f.rule == "more-out-than-alive"] == short


def test_the_slow_reading_can_find_fault():
    steps = [(1, ("look", (2, False))), (1, ("look", (3, False)))]
    assert slowly(3, steps) == ([3], [])
    assert slowly(3, [(1, ("queens-out", 4))]) == ([], [2])


REST_0 = "K2-01,2026-07-14,1,4\nrest,2026-07-15,same,0\n"


def test_a_0_beside_rest_says_that_none_of_them_had_workers(folder, today):
    # K2-02 was looked at without its workers: `as before` would leave them unknown.
    folder.put("checks.csv", "founding,date,queens_alive,workers\nK2-02,2026-07-08,3,\n" + REST_0)
    made = examine(read_folder(folder.path), today)
    assert looks_of(made.seen, "K2-02")[-1] == ("07-15", 3, 0, True)
    assert {f.rule for f in made.findings} == {"workers-to-0"}
    gone = made.findings[0]
    assert (gone.founding, gone.row, gone.column) == ("K2-01", 4, "workers")


def test_the_remedies_for_workers_beside_rest_work(folder, today):
    head = "founding,date,queens_alive,workers,brood\nK2-01,2026-07-14,1,4,\n"
    for row in ("K2-01,2026-07-15,1,4,\nrest,2026-07-15,same,0,eggs\n", "rest,2026-07-15,same,,\n"):
        folder.put("checks.csv", head + row)
        assert examine(read_folder(folder.path), today).findings == ()
    folder.put("checks.csv", head + "rest,2026-07-15,same,4,\n")
    made = examine(read_folder(folder.path), today)
    assert [f.rule for f in made.findings] == ["rest-with-counts"]
    assert looks_of(made.seen, "K2-01")[-1] == ("07-15", 1, 4, True)
    assert looks_of(made.seen, "K2-02")[-1] == ("07-15", 3, 0, True)
    folder.put("checks.csv", head + "K2-02,2026-07-15,3,4,\nrest,2026-07-15,same,,\n")
    assert examine(read_folder(folder.path), today).findings == ()


def test_brood_beside_rest_is_that_of_each(folder, today):
    folder.put("checks.txt", "2026-07-15\nK2-01 1 0 pupae\nrest same 0 eggs\n")
    made = examine(read_folder(folder.path), today)
    assert made.findings == ()
    last = made.seen.looks.groupby("founding")["brood"].last()
    assert last.to_dict() == {"K2-01": "pupae", "K2-02": "eggs"}


def test_the_last_0_beside_rest_holds_for_the_rest_rows_after_it(folder, today):
    folder.put(
        "checks.csv",
        "founding,date,queens_alive,workers\nK2-02,2026-07-08,3,\nrest,2026-07-10,same,0\n"
        "rest,2026-07-12,same,\n",
    )
    seen = examine(read_folder(folder.path), today).seen
    assert [workers for _, _, workers, _ in looks_of(seen, "K2-02")] == [None, 0, 0]
