"""Faults planted in a clean study, each beside a twin that is right.

One row of `PLANTED` for each rule: files put into the small study of `conftest.StudyFolder`
(text that begins with ``+`` is added to the file), where the finding must be, and the twin's
files, which must yield nothing. The study is read on 2026-07-15.
"""

from __future__ import annotations

from typing import NamedTuple

F, C, E, K, T, S, X = (
    "foundings.csv",
    "checks.csv",
    "events.csv",
    "catches.csv",
    "temperatures.csv",
    "study.toml",
    "kinds.csv",
)
HEAD_F = "founding,genus,started,queens,keeper"
CORRECTED = "checks-corrections.csv"
HEAD_R = "founding,date,queens_alive,workers,corrects\n"
HEAD_E = "founding,date,event,number,other\n"
HEAD_N = "founding,date,queens_alive,workers,brood,note\nK2-01,2026-07-08,1,0,,calm\n"
HEAD_K = "catch,date,genus,queens,died\n"
HEAD_T = "shelf,date,min_c,max_c\n"


class Planted(NamedTuple):
    rule: str
    level: str
    file: str
    row: int
    column: str
    fault: dict[str, str]
    twin: dict[str, str]


def foundings(extra: str, *rows: str) -> str:
    """Foundings sheet with one more column."""
    base = ("K2-01,Lasius,2026-07-04,1,K2", "K2-02,Lasius,2026-07-04,3,K2")
    lines = [f"{HEAD_F},{extra}", *rows]
    return "\n".join(lines if len(rows) > 1 else [*lines, base[1] + ","]) + "\n"


def one(extra: str, cell: str) -> str:
    """Foundings sheet in which the second founding has a cell under one more column."""
    return f"{HEAD_F},{extra}\nK2-01,Lasius,2026-07-04,1,K2,\nK2-02,Lasius,2026-07-04,3,K2,{cell}\n"


def founded(row: str) -> dict[str, str]:
    return {F: "+" + row + "\n"}


def checked(row: str) -> dict[str, str]:
    return {C: "+" + row + "\n"}


def happened(*rows: str) -> dict[str, str]:
    return {E: HEAD_E + "".join(row + "\n" for row in rows)}


FIRST, THEN = "K2-01,Lasius,2026-06-30,1,K2", "K2-02,Lasius,2026-07-01,3,K2"
BOTH = 'season = "2025/26, 2026/27"\n'  # seasons from July to June
OLD = {**founded("K2-03,Lasius,2025-10-15,1,K2"), S: 'season = "2025, 2026"\n'}
TWICE_COLD = founded("K2-03,Lasius,2025-07-10,1,K2") | happened(
    "K2-03,2025-07-12,winter-in,,", "K2-03,2026-07-05,winter-out,,", "K2-03,2026-07-10,winter-in,,"
)
NIGHTLY = checked("\n".join(f"K2-02,2026-07-{day:02},3,0" for day in (9, 11, 13)))


def caught(*rows: str) -> dict[str, str]:
    return {K: HEAD_K + "".join(row + "\n" for row in rows)}


def warmed(*rows: str) -> dict[str, str]:
    return {T: HEAD_T + "".join(row + "\n" for row in rows)}


def late(*rows: str) -> dict[str, str]:
    """A founding of May, followed by these looks."""
    return {
        F: f"{HEAD_F}\nK2-01,Lasius,2026-05-01,3,K2\n",
        C: "founding,date,queens_alive,workers\n" + "".join(f"K2-01,{row}\n" for row in rows),
    }


LOOKED = "K2-03,2026-07-14,2,0"  # keeps the rhythm of a third founding
THIRD = {**founded("K2-03,Lasius,2026-07-06,2,K2"), **checked(LOOKED)}
EVERY_4 = (
    [f"2026-05-{day:02d}" for day in (5, 9, 13, 17, 21, 25, 29)]
    + [f"2026-06-{day:02d}" for day in (2, 6, 10, 14, 18, 22, 26, 30)]
    + ["2026-07-04", "2026-07-08", "2026-07-12"]
)


def steadily(counts: str = "3,0", **instead: str) -> dict[str, str]:
    """A founding of May looked at every four days; `instead` names days as m0509."""
    rows = []
    for day in EVERY_4:
        told = instead.get("m" + day[5:7] + day[8:], counts)
        if told:
            rows.append(f"{day},{told}")
    return late(*rows)


PLANTED = (
    # --- single cells and headings
    Planted("cell-missing", "error", F, 4, "started", founded("K2-03,Lasius,,2,K2"), THIRD),
    Planted("cell-missing", "error", F, 4, "genus", founded("K2-03,,2026-07-06,2,K2"), THIRD),
    Planted("cell-missing", "error", F, 4, "founding", founded(",Lasius,2026-07-06,2,K2"), THIRD),
    Planted(
        "cell-missing",
        "error",
        C,
        6,
        "date",
        checked("K2-01,,1,0"),
        checked("K2-01,2026-07-15,1,0"),
    ),
    Planted(
        "not-a-count", "error", F, 4, "queens", founded("K2-03,Lasius,2026-07-06,two,K2"), THIRD
    ),
    Planted("not-exact", "error", F, 4, "queens", founded("K2-03,Lasius,2026-07-06,2+,K2"), THIRD),
    Planted(
        "not-a-count",
        "error",
        C,
        6,
        "queens_alive",
        checked("K2-02,2026-07-15,-1,0"),
        checked("K2-02,2026-07-15,0,0"),
    ),
    Planted(
        "not-a-count",
        "error",
        C,
        6,
        "workers",
        checked("K2-02,2026-07-15,3,some"),
        checked("K2-02,2026-07-15,3,12+"),
    ),
    Planted(
        "not-a-count",
        "error",
        C,
        6,
        "queens_alive",
        checked("K2-02,2026-07-15,2.5,"),
        checked("K2-02,2026-07-15,2.0,"),
    ),
    Planted(
        "date-ambiguous",
        "error",
        C,
        6,
        "date",
        checked("K2-02,03/04/2026,3,0"),
        checked("K2-02,15/07/2026,3,0"),
    ),
    Planted(
        "date-ambiguous",
        "error",
        C,
        6,
        "date",
        checked("K2-02,07.08.2026,3,0"),
        checked("K2-02,07/07/2026,3,0"),
    ),
    Planted(
        "date-ambiguous",
        "error",
        C,
        6,
        "date",
        checked("K2-02,15/07/26,3,0"),
        checked("K2-02,15 Jul 2026,3,0"),
    ),
    Planted(
        "not-a-date",
        "error",
        C,
        6,
        "date",
        checked("K2-02,2026-07-32,3,0"),
        checked("K2-02,2026-7-15,3,0"),
    ),
    Planted(
        "not-a-date",
        "error",
        C,
        6,
        "date",
        checked("K2-02,yesterday,3,0"),
        checked("K2-02,July 15 2026,3,0"),
    ),
    Planted(
        "date-as-number",
        "error",
        C,
        6,
        "date",
        checked("K2-02,46218,3,0"),
        checked("K2-02,20260715,3,0"),
    ),
    Planted(
        "date-after-today",
        "error",
        C,
        6,
        "date",
        checked("K2-02,2026-07-16,3,0"),
        checked("K2-02,2026-07-15,3,0"),
    ),
    Planted(
        "date-after-today", "error", F, 4, "started", founded("K2-03,Lasius,2026-08-06,2,K2"), THIRD
    ),
    Planted(
        "unknown-word", "error", F, 3, "arm", {F: one("arm", "mutli")}, {F: one("arm", "Multi")}
    ),
    Planted(
        "unknown-word",
        "error",
        F,
        3,
        "left_out",
        {F: one("left_out", "mitse")},
        {F: one("left_out", "other parasite")},
    ),
    Planted(
        "unknown-word",
        "warning",
        F,
        3,
        "assigned",
        {F: one("assigned", "randm")},
        {F: one("assigned", "random")},
    ),
    Planted(
        "unknown-word",
        "warning",
        F,
        3,
        "housing",
        {F: one("housing", "tset tube")},
        {F: one("housing", "test tube")},
    ),
    Planted(
        "unknown-word",
        "warning",
        F,
        3,
        "feeding",
        {F: one("feeding", "starved")},
        {F: one("feeding", "semi-claustral")},
    ),
    Planted(
        "unknown-word",
        "warning",
        F,
        3,
        "marked",
        {F: one("marked", "perhaps")},
        {F: one("marked", "Yes")},
    ),
    Planted(
        "not-a-number",
        "error",
        F,
        3,
        "give_or_take",
        {F: one("give_or_take", "a week")},
        {F: one("give_or_take", "1.5")},
    ),
    Planted(
        "below-zero",
        "error",
        F,
        3,
        "give_or_take",
        {F: one("give_or_take", "-2")},
        {F: one("give_or_take", "2")},
    ),
    Planted(
        "unknown-word",
        "error",
        E,
        2,
        "event",
        happened("K2-02,2026-07-12,figth,,"),
        happened("K2-02,2026-07-12,fight,,"),
    ),
    Planted("extra-column", "note", F, 0, "weather", {F: one("weather", "rain")}, {}),
    Planted(
        "heading-twice",
        "error",
        F,
        0,
        "Give or take",
        {F: one("give_or_take,Give or take", "1,1")},
        {F: one("give_or_take", "1")},
    ),
    Planted(
        "column-missing",
        "error",
        F,
        0,
        "started",
        {
            F: "founding,genus,strated,queens\nK2-01,Lasius,2026-07-04,1\n",
            C: "founding,date,queens_alive,workers\n",
        },
        {},
    ),
    # --- foundings
    Planted("id-twice", "error", F, 4, "founding", founded("K2-01,Messor,2026-07-06,2,K2"), THIRD),
    Planted("repeated-row", "note", F, 4, "founding", founded("K2-01,Lasius,2026-07-04,1,K2"), {}),
    Planted(
        "id-reserved", "error", F, 4, "founding", founded("Rest,Lasius,2026-07-06,2,K2"), THIRD
    ),
    Planted(
        "id-gap",
        "warning",
        F,
        4,
        "founding",
        {**founded("K2-04,Lasius,2026-07-06,2,K2"), **checked("K2-04,2026-07-14,2,0")},
        THIRD,
    ),
    Planted(
        "season-other",
        "note",
        F,
        2,
        "started",
        {S: 'season = "2025"\n'},
        {S: 'season = "2025, 2026"\n'},
    ),
    Planted(
        "block-of-two-seasons",
        "warning",
        F,
        3,
        "block",
        {F: foundings("block", f"{FIRST},B1", f"{THEN},B1"), S: BOTH},
        {F: foundings("block", f"{FIRST},B1", f"{THEN},B2"), S: BOTH},
    ),
    Planted("no-queen", "error", F, 4, "queens", founded("K2-03,Lasius,2026-07-06,0,K2"), THIRD),
    Planted(
        "arm-disagrees", "error", F, 3, "arm", {F: one("arm", "single")}, {F: one("arm", "multi")}
    ),
    Planted(
        "mating-more-than-queens",
        "error",
        F,
        3,
        "mating_seen",
        {F: one("mating_seen", "4")},
        {F: one("mating_seen", "3")},
    ),
    Planted(
        "followed-before-started",
        "error",
        F,
        3,
        "followed_from",
        {F: one("followed_from", "2026-07-03")},
        {F: one("followed_from", "2026-07-05")},
    ),
    Planted(
        "flight-after-started",
        "error",
        F,
        3,
        "flight_date",
        {F: one("flight_date", "2026-07-05")},
        {F: one("flight_date", "2026-07-03")},
    ),
    Planted(
        "started-after-ends",
        "error",
        F,
        4,
        "started",
        {**THIRD, S: 'ends = "2026-07-05"\n'},
        {**THIRD, S: 'ends = "2026-07-16"\n'},
    ),
    Planted(
        "id-unknown",
        "error",
        F,
        3,
        "from",
        {F: one("from,left_out", "K2-11,split-off")},
        {F: one("from,left_out", "K2-01,split-off")},
    ),
    Planted(
        "from-itself",
        "error",
        F,
        3,
        "from",
        {F: one("from,left_out", "K2-02,split-off")},
        {F: one("from,left_out", "K2-01,split-off")},
    ),
    Planted(
        "split-off",
        "error",
        F,
        3,
        "left_out",
        {F: one("from,left_out", "K2-01,")},
        {F: one("from,left_out", "K2-01,split-off")},
    ),
    Planted(
        "split-off",
        "warning",
        F,
        3,
        "from",
        {F: one("from,left_out", ",split-off")},
        {F: one("from,left_out", "K2-01,split-off")},
    ),
    Planted(
        "two-kinds",
        "error",
        F,
        4,
        "from",
        {
            F: one("left_out,from", ",") + "K2-03,Messor,2026-07-06,2,K2,split-off,K2-02\n",
            C: "+" + LOOKED + "\n",
        },
        {
            F: one("left_out,from", ",") + "K2-03,Lasius,2026-07-06,2,K2,split-off,K2-02\n",
            C: "+" + LOOKED + "\n",
        },
    ),
    Planted(
        "reason-not-agreed",
        "warning",
        F,
        3,
        "left_out",
        {F: one("left_out", "boosted"), S: 'leave_out = ["mites"]\n'},
        {F: one("left_out", "mites"), S: 'leave_out = ["mites"]\n'},
    ),
    Planted(
        "social-parasite",
        "warning",
        F,
        3,
        "left_out",
        {F: one("species,left_out", "umbratus,")},
        {F: one("species,left_out", "umbratus,social-parasite")},
    ),
    Planted(
        "social-parasite",
        "warning",
        F,
        4,
        "left_out",
        {**THIRD, **founded("K2-03,Polyergus,2026-07-06,2,K2")},
        THIRD,
    ),
    Planted(
        "founds-by-splitting",
        "warning",
        F,
        4,
        "left_out",
        {**THIRD, **founded("K2-03,Dorylus,2026-07-06,2,K2")},
        THIRD,
    ),
    Planted(
        "caution",
        "note",
        F,
        2,
        "species",
        {
            F: f"{HEAD_F},species\nK2-02,Solenopsis,2026-07-04,3,K2,invicta\n",
            C: "founding,date,queens_alive\nK2-02,2026-07-14,3\n",
        },
        {
            F: f"{HEAD_F},species\nK2-02,Solenopsis,2026-07-04,3,K2,fugax\n",
            C: "founding,date,queens_alive\nK2-02,2026-07-14,3\n",
        },
    ),
    # --- names
    Planted(
        "genus-unknown", "error", F, 4, "genus", founded("K2-03,Lasuis,2026-07-06,2,K2"), THIRD
    ),
    Planted("genus-unknown", "error", F, 4, "genus", founded("K2-03,?,2026-07-06,2,K2"), THIRD),
    Planted(
        "genus-not-listed",
        "warning",
        F,
        4,
        "genus",
        {**THIRD, **founded("K2-03,Qwxyzz,2026-07-06,2,K2")},
        {**THIRD, **founded("K2-03,lasius cf. niger,2026-07-06,2,K2")},
    ),
    Planted(
        "two-kinds", "error", F, 4, "genus", founded("K2-03,Lasius + Messor,2026-07-06,2,K2"), THIRD
    ),
    Planted(
        "kind-unknown",
        "error",
        F,
        3,
        "kind",
        {F: one("kind", "big-blak"), X: "kind,genus\nbig-black,Lasius\n"},
        {F: one("kind", "big-black"), X: "kind,genus\nbig-black,Lasius\n"},
    ),
    Planted(
        "two-kinds",
        "error",
        F,
        3,
        "kind",
        {F: one("kind", "tiny"), X: "kind,genus\ntiny,Messor\n"},
        {F: one("kind", "tiny"), X: "kind,genus\ntiny,\n"},
    ),
    Planted(
        "kind-twice",
        "error",
        X,
        3,
        "kind",
        {X: "kind,genus\nbig-black,Lasius\nbig-black,Messor\n"},
        {X: "kind,genus\nbig-black,Lasius\nbig-red,Messor\n"},
    ),
    Planted(
        "genus-unknown",
        "error",
        X,
        2,
        "genus",
        {X: "kind,genus\nbig-black,Mesor\n"},
        {X: "kind,genus\nbig-black,\n"},
    ),
    # --- checks
    Planted(
        "id-unknown",
        "error",
        C,
        6,
        "founding",
        checked("K2-20,2026-07-15,3,0"),
        checked("K2-02,2026-07-15,3,0"),
    ),
    Planted(
        "same-without-rest",
        "error",
        C,
        6,
        "queens_alive",
        checked("K2-02,2026-07-15,same,"),
        checked("rest,2026-07-15,same,"),
    ),
    Planted(
        "rest-not-same",
        "error",
        C,
        6,
        "queens_alive",
        checked("rest,2026-07-15,3,"),
        checked("Rest,2026-07-15,Same,"),
    ),
    Planted(
        "rest-with-counts",
        "warning",
        C,
        6,
        "workers",
        checked("rest,2026-07-15,same,4"),
        checked("rest,2026-07-15,same,"),
    ),
    Planted(
        "rest-of-whom",
        "error",
        "checks-july.csv",
        2,
        "founding",
        {
            F: "+K3-01,Lasius,2026-07-06,2,K3\n",
            C: "+K3-01,2026-07-14,2,0\n",
            "checks-july.csv": "founding,date,queens_alive\nrest,2026-07-15,same\n",
        },
        {"checks-july.csv": "founding,date,queens_alive\nrest,2026-07-15,same\n"},
    ),
    Planted(
        "kind-named",
        "note",
        X,
        2,
        "first_called",
        {X: "kind,genus,first_called\nbig-black,Lasius,2026-07-10\n"},
        {X: "kind,genus,first_called\nbig-black,Lasius,\n"},
    ),
    Planted(
        "kind-without-name",
        "warning",
        X,
        2,
        "genus",
        {X: "kind,genus,first_called\nbig-black,,2026-07-10\n"},
        {X: "kind,genus,first_called\nbig-black,,\n"},
    ),
    Planted(
        "handed-to-nobody",
        "error",
        E,
        2,
        "other",
        happened("K2-01,2026-07-14,handed-over,,"),
        happened("K2-01,2026-07-14,handed-over,,K2"),
    ),
    Planted(
        "handed-to-whom",
        "warning",
        E,
        2,
        "other",
        happened("K2-01,2026-07-14,handed-over,,K9"),
        happened("K2-01,2026-07-14,handed-over,,k2"),
    ),
    Planted(
        "counts-swapped",
        "warning",
        C,
        6,
        "queens_alive",
        checked("K2-02,2026-07-15,0,3"),
        checked("K2-02,2026-07-15,0,2"),
    ),
    Planted(
        "heading-misspelt",
        "warning",
        C,
        0,
        "quens_alive",
        {C: "founding,date,quens_alive,workers\nK2-01,2026-07-08,1,0\n"},
        {C: "founding,date,queens_alive,workers\nK2-01,2026-07-08,1,0\n"},
    ),
    Planted(
        "look-corrected",
        "note",
        CORRECTED,
        2,
        "corrects",
        {CORRECTED: HEAD_R + "K2-02,2026-07-14,2,0,2026-07-14\n"},
        {CORRECTED: HEAD_R + "K2-02,2026-07-15,2,0,\n"},
    ),
    Planted(
        "corrects-nothing",
        "error",
        CORRECTED,
        2,
        "corrects",
        {CORRECTED: HEAD_R + "K2-02,2026-07-15,2,0,2026-07-13\n"},
        {CORRECTED: HEAD_R + "K2-02,2026-07-15,2,0,\n"},
    ),
    Planted(
        "corrects-rest",
        "error",
        CORRECTED,
        2,
        "corrects",
        {CORRECTED: HEAD_R + "rest,2026-07-15,same,,2026-07-14\n"},
        {CORRECTED: HEAD_R + "rest,2026-07-15,same,,\n"},
    ),
    Planted(
        "all-in-checks",
        "error",
        C,
        6,
        "founding",
        checked("all,2026-07-15,same,"),
        checked("rest,2026-07-15,same,"),
    ),
    Planted(
        "look-before-started",
        "error",
        C,
        6,
        "date",
        checked("K2-02,2026-07-03,3,0"),
        checked("K2-02,2026-07-04,3,0"),
    ),
    Planted(
        "look-after-end",
        "error",
        C,
        5,
        "date",
        happened("K2-02,2026-07-12,end,,not-used"),
        happened("K2-02,2026-07-14,end,,not-used"),
    ),
    Planted(
        "looks-disagree",
        "error",
        C,
        6,
        "queens_alive",
        checked("K2-02,2026-07-14,2,0"),
        checked("K2-02,2026-07-15,2,0"),
    ),
    Planted(
        "looks-disagree",
        "error",
        C,
        6,
        "queens_alive",
        checked("K2-02,2026-07-14,4+,0"),
        checked("K2-02,2026-07-15,2+,0"),
    ),
    Planted("repeated-row", "note", C, 6, "", checked("K2-02,2026-07-14,3,0"), {}),
    Planted("looks-put-together", "note", C, 6, "", checked("K2-02,2026-07-14,,0"), {}),
    Planted(
        "brood-in-note",
        "warning",
        C,
        3,
        "brood",
        {C: f"{HEAD_N}K2-02,2026-07-08,3,0,,many eggs\n"},
        {C: f"{HEAD_N}K2-02,2026-07-08,3,0,eggs,many eggs\n"},
    ),
    Planted(
        "left-in-note",
        "warning",
        C,
        3,
        "queens_alive",
        {C: f"{HEAD_N}K2-02,2026-07-08,2,0,,one escaped\n"},
        {
            C: f"{HEAD_N}K2-02,2026-07-08,2,0,,one escaped\n",
            **happened("K2-02,2026-07-07,queens-out,1,escaped"),
        },
    ),
    # --- counts
    Planted(
        "count-rises",
        "error",
        C,
        6,
        "queens_alive",
        checked("K2-02,2026-07-15,4,0"),
        checked("K2-02,2026-07-15,1,0"),
    ),
    Planted(
        "count-rises",
        "error",
        C,
        6,
        "queens_alive",
        checked("K2-02,2026-07-15,4+,0"),
        checked("K2-02,2026-07-15,1+,0"),
    ),
    Planted(
        "count-rises",
        "error",
        C,
        5,
        "queens_alive",
        happened("K2-02,2026-07-08,queens-out,1,given"),
        happened("K2-02,2026-07-14,queens-out,1,given"),
    ),
    Planted(
        "count-rises",
        "error",
        C,
        6,
        "queens_alive",
        {**checked("K2-02,2026-07-15,5,0"), **happened("K2-02,2026-07-14,queens-in,1,")},
        {**checked("K2-02,2026-07-15,4,0"), **happened("K2-02,2026-07-14,queens-in,1,")},
    ),
    Planted(
        "more-out-than-alive",
        "error",
        E,
        2,
        "number",
        happened("K2-02,2026-07-14,queens-out,4,given"),
        happened("K2-02,2026-07-14,queens-out,3,given"),
    ),
    Planted(
        "workers-to-0",
        "warning",
        C,
        19,
        "workers",
        steadily(m0708="3,4", m0712="3,0"),
        steadily(m0708="3,4", m0712="3,"),
    ),
    Planted(
        "workers-after-loss",
        "warning",
        C,
        19,
        "workers",
        steadily(m0708="0,0", m0712="0,2"),
        steadily(m0708="3,0", m0712="0,2"),
    ),
    # --- rhythm and end
    Planted(
        "no-look",
        "warning",
        C,
        5,
        "date",
        steadily(m0517="", m0521="", m0525=""),
        steadily(m0517="", m0521=""),
    ),
    Planted("no-look", "warning", F, 4, "date", founded("K2-03,Lasius,2026-07-01,2,K2"), THIRD),
    Planted(
        "no-look",
        "warning",
        C,
        5,
        "date",
        {
            **steadily(m0517="", m0521="", m0525="", m0529=""),
            **happened("K2-01,2026-06-18,winter-in,,", "K2-01,2026-06-20,winter-out,,"),
        },
        {
            **steadily(m0517="", m0521="", m0525="", m0529=""),
            **happened("K2-01,2026-05-14,winter-in,,", "K2-01,2026-05-28,winter-out,,"),
        },
    ),
    Planted(
        "no-end",
        "warning",
        C,
        16,
        "date",
        {**steadily(m0704="", m0708="", m0712=""), S: "ends = 2026-07-10\n"},
        {
            **steadily(m0704="", m0708="", m0712=""),
            S: "ends = 2026-07-10\n",
            **happened("K2-01,2026-07-01,end,,not-used"),
        },
    ),
    # --- events
    Planted(
        "id-unknown",
        "error",
        E,
        2,
        "founding",
        happened("K2-20,2026-07-12,fight,,"),
        happened("all,2026-07-12,moved,,"),
    ),
    Planted(
        "rest-in-events",
        "error",
        E,
        2,
        "founding",
        happened("rest,2026-07-12,moved,,"),
        happened("rest,2026-07-12,winter-in,,"),
    ),
    Planted(
        "all-of-whom",
        "error",
        "events-july.csv",
        2,
        "founding",
        {
            F: "+K3-01,Lasius,2026-07-06,2,K3\n",
            C: "+K3-01,2026-07-14,2,0\n",
            "events-july.csv": HEAD_E + "all,2026-07-12,moved,,\n",
        },
        {"events-july.csv": HEAD_E + "all,2026-07-12,moved,,\n"},
    ),
    Planted(
        "event-before-started",
        "error",
        E,
        2,
        "date",
        happened("K2-02,2026-07-03,fight,,"),
        happened("K2-02,2026-07-04,fight,,"),
    ),
    Planted(
        "number-missing",
        "error",
        E,
        2,
        "number",
        happened("K2-02,2026-07-14,queens-out,,given"),
        happened("K2-02,2026-07-14,queens-out,1,given"),
    ),
    Planted(
        "unknown-word",
        "error",
        E,
        2,
        "other",
        happened("K2-02,2026-07-14,queens-out,1,sold"),
        happened("K2-02,2026-07-14,queens-out,1,Preserved"),
    ),
    Planted(
        "unknown-word",
        "error",
        E,
        2,
        "other",
        happened("K2-02,2026-07-14,end,,acident"),
        happened("K2-02,2026-07-14,end,,gave up"),
    ),
    Planted(
        "unknown-word",
        "warning",
        E,
        2,
        "other",
        happened("K2-02,2026-07-14,killed,1,larvae"),
        happened("K2-02,2026-07-14,killed,1,unknown"),
    ),
    Planted(
        "end-without-reason",
        "error",
        E,
        2,
        "other",
        happened("K2-02,2026-07-14,end,,"),
        happened("K2-02,2026-07-14,end,,frozen"),
    ),
    Planted(
        "out-where",
        "warning",
        E,
        2,
        "other",
        happened("K2-02,2026-07-14,queens-out,1,"),
        happened("K2-02,2026-07-14,queens-out,1,released"),
    ),
    Planted(
        "two-kinds",
        "error",
        E,
        2,
        "other",
        {
            **founded("K2-03,Messor,2026-07-06,2,K2"),
            C: "+" + LOOKED + "\n",
            **happened("K2-02,2026-07-14,queens-in,1,K2-03"),
        },
        {**THIRD, **happened("K2-02,2026-07-14,queens-in,1,K2-03")},
    ),
    Planted(
        "from-missing",
        "warning",
        E,
        2,
        "other",
        {**THIRD, **happened("K2-02,2026-07-14,queens-out,1,K2-03")},
        {
            F: one("left_out,from", ",") + "K2-03,Lasius,2026-07-14,1,K2,split-off,K2-02\n",
            **happened("K2-02,2026-07-14,queens-out,1,K2-03"),
        },
    ),
    Planted(
        "ended-twice",
        "warning",
        E,
        3,
        "event",
        happened("K2-02,2026-07-14,end,,given", "K2-02,2026-07-15,end,,given"),
        happened("K2-02,2026-07-14,end,,given", "K2-01,2026-07-15,end,,given"),
    ),
    Planted(
        "event-after-end",
        "warning",
        E,
        3,
        "date",
        happened("K2-02,2026-07-14,end,,given", "K2-02,2026-07-15,fight,,"),
        happened("K2-02,2026-07-14,end,,given", "K2-02,2026-07-14,fight,,"),
    ),
    Planted(
        "winter-out-first",
        "warning",
        E,
        2,
        "event",
        happened("K2-02,2026-07-12,winter-out,,"),
        happened("K2-02,2026-07-10,winter-in,,", "K2-02,2026-07-12,winter-out,,"),
    ),
    Planted(
        "winter-in-twice",
        "warning",
        E,
        3,
        "event",
        happened("K2-02,2026-07-12,winter-in,,", "K2-02,2026-07-14,winter-in,,"),
        happened("K2-02,2026-07-12,winter-in,,", "K2-01,2026-07-14,winter-in,,"),
    ),
    Planted(
        "not-of-the-rest",
        "warning",
        E,
        2,
        "founding",
        happened("rest,2026-07-14,winter-in,,"),  # both were looked at that day
        happened("all,2026-07-14,winter-in,,"),
    ),
    Planted(
        "second-winter",
        "note",
        E,
        4,
        "event",
        TWICE_COLD | {S: BOTH + "through_winter = true\n"},
        TWICE_COLD | {S: BOTH + "through_winter = false\n"},
    ),
    Planted(
        "winter-no-out",
        "warning",
        E,
        2,
        "event",
        OLD | happened("K2-03,2025-10-20,winter-in,,"),
        OLD | happened("K2-03,2025-10-20,winter-in,,", "K2-03,2026-07-10,winter-out,,"),
    ),
    Planted(
        "look-in-winter",
        "warning",
        E,
        2,
        "event",
        NIGHTLY | happened("K2-02,2026-07-08,winter-in,,"),
        NIGHTLY | happened("K2-02,2026-07-08,winter-in,,", "K2-02,2026-07-11,winter-out,,"),
    ),
    Planted(
        "worker-in-winter",
        "warning",
        C,
        6,
        "workers",
        checked("K2-02,2026-07-15,3,1") | happened("K2-02,2026-07-09,winter-in,,"),
        checked("K2-02,2026-07-15,3,1")
        | happened("K2-02,2026-07-09,winter-in,,", "K2-02,2026-07-14,winter-out,,"),
    ),
    Planted(
        "repeated-row",
        "note",
        E,
        3,
        "",
        happened("K2-02,2026-07-12,fight,,", "K2-02,2026-07-12,fight,,"),
        happened("K2-02,2026-07-12,fight,,", "K2-02,2026-07-13,fight,,"),
    ),
    # --- catches
    Planted(
        "catch-twice",
        "error",
        K,
        3,
        "catch",
        caught("C1,2026-07-03,Lasius,4,", "C1,2026-07-04,Lasius,4,"),
        caught("C1,2026-07-03,Lasius,4,", "C2,2026-07-04,Lasius,4,"),
    ),
    Planted(
        "repeated-row",
        "note",
        K,
        3,
        "catch",
        caught("C1,2026-07-03,Lasius,4,", "C1,2026-07-03,Lasius,4,"),
        {},
    ),
    Planted(
        "died-more-than-kept",
        "warning",
        K,
        2,
        "died",
        caught("C1,2026-07-03,Lasius,4,5"),
        caught("C1,2026-07-03,Lasius,4,4"),
    ),
    Planted(
        "genus-unknown",
        "error",
        K,
        2,
        "genus",
        caught("C1,2026-07-03,Lassius,4,"),
        caught("C1,2026-07-03,Lasius,4,"),
    ),
    Planted(
        "catch-unknown",
        "warning",
        F,
        3,
        "catch",
        {F: one("catch", "C7"), **caught("C1,2026-07-03,Lasius,4,")},
        {F: one("catch", "C1"), **caught("C1,2026-07-03,Lasius,4,")},
    ),
    Planted(
        "started-before-catch",
        "warning",
        F,
        3,
        "started",
        {F: one("catch", "C1"), **caught("C1,2026-07-05,Lasius,4,")},
        {F: one("catch", "C1"), **caught("C1,2026-07-04,Lasius,4,")},
    ),
    Planted(
        "other-kind-than-catch",
        "warning",
        F,
        3,
        "catch",
        {F: one("catch", "C1"), **caught("C1,2026-07-03,Messor,4,")},
        {F: one("catch", "C1"), **caught("C1,2026-07-03,Lasius,4,")},
    ),
    Planted(
        "more-set-up-than-kept",
        "warning",
        K,
        2,
        "queens",
        {F: one("catch", "C1"), **caught("C1,2026-07-03,Lasius,2,")},
        {F: one("catch", "C1"), **caught("C1,2026-07-03,Lasius,3,")},
    ),
    # --- temperatures
    Planted(
        "min-above-max",
        "error",
        T,
        2,
        "min_c",
        warmed("S1,2026-07-08,24,19.5"),
        warmed("S1,2026-07-08,19.5,24"),
    ),
    Planted(
        "fahrenheit",
        "error",
        T,
        2,
        "min_c",
        warmed("S1,2026-07-08,68,77", "S1,2026-07-09,66,79"),
        warmed("S1,2026-07-08,20,25", "S1,2026-07-09,19,26"),
    ),
    Planted(
        "degrees",
        "error",
        T,
        3,
        "max_c",
        warmed("S1,2026-07-08,20,25", "S1,2026-07-09,20,250", "S1,2026-07-10,20,25"),
        warmed("S1,2026-07-08,20,25", "S1,2026-07-09,20,25", "S1,2026-07-10,20,25"),
    ),
    Planted(
        "readings-disagree",
        "error",
        T,
        3,
        "date",
        warmed("S1,2026-07-08,20,25", "S1,2026-07-08,21,25"),
        warmed("S1,2026-07-08,20,25", "S2,2026-07-08,21,25"),
    ),
    Planted(
        "repeated-row", "note", T, 3, "", warmed("S1,2026-07-08,20,25", "S1,2026-07-08,20,25"), {}
    ),
    Planted(
        "shelf-unknown",
        "warning",
        F,
        3,
        "shelf",
        {F: one("shelf", "S3"), **warmed("S1,2026-07-08,20,25")},
        {F: one("shelf", "S1"), **warmed("S1,2026-07-08,20,25")},
    ),
    Planted(
        "not-a-number",
        "error",
        T,
        2,
        "max_c",
        warmed("S1,2026-07-08,20,25 C"),
        warmed('S1,2026-07-08,20,"25,5"'),
    ),
    # --- settings
    Planted(
        "setting",
        "error",
        S,
        1,
        "horizon_days",
        {S: "horizon_days = 0\n"},
        {S: "horizon_days = 160\n"},
    ),
    Planted(
        "setting",
        "error",
        S,
        2,
        "clock",
        {S: 'title = "A"\nclock = "fligth"\n'},
        {S: 'title = "A"\nclock = "flight"\n'},
    ),
    Planted(
        "setting", "error", S, 1, "ends", {S: 'ends = "03/04/2027"\n'}, {S: "ends = 2027-04-03\n"}
    ),
    Planted(
        "setting-unknown",
        "warning",
        S,
        1,
        "horizon",
        {S: "horizon = 160\n"},
        {S: "horizon_days = 160\n"},
    ),
    Planted(
        "settings-unreadable", "error", S, 1, "", {S: "title = A club\n"}, {S: 'title = "A club"\n'}
    ),
    Planted(
        "setting-twice",
        "error",
        "study.toml",
        1,
        "horizon_days",
        {"study.csv": "setting,value\nhorizon_days,160\n", S: "horizon_days = 180\n"},
        {"study.csv": "setting,value\nhorizon_days,160\n", S: "horizon_days = 160\n"},
    ),
    Planted(
        "setting",
        "error",
        "study.csv",
        2,
        "adjust",
        {"study.csv": "setting,value\nadjust,befor: feeding\n"},
        {"study.csv": "setting,value\nadjust,before: feeding\n"},
    ),
    Planted(
        "setting",
        "error",
        "study.csv",
        2,
        "adjust",
        {"study.csv": "setting,value\nadjust,mated: mating_seen\n"},
        {"study.csv": "setting,value\nadjust,before: mating_seen\n"},
    ),
    # --- files
    Planted("empty-sheet", "error", C, 0, "", {C: ""}, {}),
    Planted("empty-sheet", "error", F, 0, "", {F: HEAD_F + "\n", C: "founding,date\n"}, {}),
    Planted("empty-sheet", "warning", C, 0, "", {C: "founding,date,queens_alive,workers\n"}, {}),
    Planted(
        "too-many-cells",
        "error",
        C,
        6,
        "",
        checked("K2-02,2026-07-15,3,0,calm, she eats"),
        checked("K2-02,2026-07-15,3,0"),
    ),
    Planted(
        "open-quote",
        "error",
        C,
        6,
        "",
        checked('K2-02,"2026-07-15,3,0\nK2-01,2026-07-15,1,0'),
        checked('K2-02,"2026-07-15",3,0'),
    ),
    Planted(
        "file-not-read",
        "warning",
        "chekcs-K2.csv",
        0,
        "",
        {"chekcs-K2.csv": "founding,date,queens_alive\n"},
        {"checks-K2.csv": "founding,date,queens_alive\n"},
    ),
)
