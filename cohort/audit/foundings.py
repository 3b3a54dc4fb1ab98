"""Rules for the sheet `foundings`, each a small function.

What comes in: the typed table of foundings with the columns ``label``, ``named`` and
``species`` filled, and the settings. What goes out: findings. No row is dropped or mended.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pandas as pd

from cohort.audit.find import NOTHING, at, days, row_of, tell
from cohort.audit.ids import nearest
from cohort.audit.settings import Settings
from cohort.sheets.found import Found
from cohort.terms import words
from cohort.terms.genera import (
    cautions,
    founds_by_splitting,
    needs_host,
    spreading,
)

Rule = Callable[[pd.DataFrame, Settings], Found]

_CONTENT = ("file", "tab", "row")


def repeats(table: pd.DataFrame) -> np.ndarray:
    """Mask of rows that repeat an earlier row in every cell."""
    content = [name for name in table.columns if name not in _CONTENT]
    again: np.ndarray = table.duplicated(content).to_numpy() & (table["founding"] != "").to_numpy()
    return again


def id_twice(table: pd.DataFrame, settings: Settings) -> Found:
    """A founding's number used twice; an identical row is a note."""
    used = (table["founding"].duplicated() & (table["founding"] != "")).to_numpy()
    same = repeats(table)
    first = table.drop_duplicates("founding").set_index("founding")
    told = at(
        table,
        same,
        level="note",
        rule="repeated-row",
        column="founding",
        what=tell("repeated_word_for_word"),
        remedy=NOTHING,
    )
    wrong = np.flatnonzero(used & ~same)
    where = [
        row_of(first["file"][name], first["row"][name]) for name in table["founding"].iloc[wrong]
    ]
    return told + at(
        table,
        wrong,
        level="error",
        rule="id-twice",
        column="founding",
        what=[tell("id_twice", place=place) for place in where],
        remedy=tell("id_twice_do"),
    )


def id_reserved(table: pd.DataFrame, settings: Settings) -> Found:
    """A founding called `rest`, `all` or `same`."""
    wrong = table["founding"].str.lower().isin(words.RESERVED_IDS).to_numpy()
    return at(
        table,
        wrong,
        level="error",
        rule="id-reserved",
        column="founding",
        what=tell("id_reserved"),
        remedy=tell("id_reserved_do"),
    )


def id_series(table: pd.DataFrame, settings: Settings) -> Found:
    """A gap in a series of numbers: K2-01, K2-02, K2-04."""
    parts = table["founding"].str.extract(r"^(.*?)(\d{1,9})$")
    have = parts[1].notna().to_numpy()
    series = pd.DataFrame(
        {"stem": parts[0][have], "number": parts[1][have].astype(np.int64)}
    ).drop_duplicates(["stem", "number"])
    series = series.sort_values(["stem", "number"], kind="stable")
    before = series.groupby("stem")["number"].shift()
    gap = (series["number"] - before > 1).to_numpy()
    places = series.index.to_numpy()[gap]
    width = table["founding"].str.len()
    what = []
    for place, low, high in zip(places, before[gap], series["number"][gap], strict=True):
        stem, wide = parts[0][place], width[place] - len(parts[0][place])
        lacking = [f"{stem}{number:0{wide}d}" for number in range(int(low) + 1, int(high))[:3]]
        more = int(high) - int(low) - 1 - len(lacking)
        named = ", ".join(lacking)
        shown = tell("and_more", named=named, more=more) if more else named
        what.append(tell("id_gap", numbers=shown, n=len(lacking) + more))
    return at(
        table,
        places,
        level="warning",
        rule="id-gap",
        column="founding",
        what=what,
        remedy=tell("id_gap_do"),
    )


def queens_count(table: pd.DataFrame, settings: Settings) -> Found:
    """A founding with no queen at the start."""
    return at(
        table,
        table["queens"].eq(0).fillna(False).to_numpy(dtype=bool),
        level="error",
        rule="no-queen",
        column="queens",
        what=tell("no_queen"),
        remedy=tell("no_queen_do"),
    )


def arm_agrees(table: pd.DataFrame, settings: Settings) -> Found:
    """An arm that contradicts the number of queens."""
    one = table["queens"].eq(1).fillna(False).to_numpy(dtype=bool)
    group = table["queens"].gt(1).fillna(False).to_numpy(dtype=bool)
    arm = table["arm"].to_numpy()
    wrong = np.flatnonzero(((arm == "multi") & one) | ((arm == "single") & group))
    counts = table["queens"].iloc[wrong].tolist()
    return at(
        table,
        wrong,
        level="error",
        rule="arm-disagrees",
        column="arm",
        what=[
            tell("arm_disagrees", word=word, n=int(count))
            for word, count in zip(arm[wrong], counts, strict=True)
        ],
        remedy=tell("arm_disagrees_do", column="arm"),
    )


def mating_count(table: pd.DataFrame, settings: Settings) -> Found:
    """More queens seen mating than there are."""
    wrong = table["mating_seen"].gt(table["queens"]).fillna(False).to_numpy(dtype=bool)
    return at(
        table,
        wrong,
        level="error",
        rule="mating-more-than-queens",
        column="mating_seen",
        what=tell("mating_more_than_queens"),
        remedy=tell("mating_more_than_queens_do"),
    )


def dates_in_order(table: pd.DataFrame, settings: Settings) -> Found:
    """Followed before it started, or started before the flight."""
    early = (table["followed_from"] < table["started"]).to_numpy()
    late = (table["flight_date"] > table["started"]).to_numpy()
    return at(
        table,
        early,
        level="error",
        rule="followed-before-started",
        column="followed_from",
        what=[tell("followed_before_started", day=at_) for at_ in days(table["started"][early])],
        remedy=tell("followed_before_started_do"),
    ) + at(
        table,
        late,
        level="error",
        rule="flight-after-started",
        column="flight_date",
        what=[tell("flight_after_started", day=at_) for at_ in days(table["started"][late])],
        remedy=tell("both_dates_do"),
    )


def ends_before_started(table: pd.DataFrame, settings: Settings) -> Found:
    """A founding that started after the study's last day."""
    if settings.ends is None:
        return Found()
    late = (table["started"] > pd.Timestamp(settings.ends)).to_numpy()
    return at(
        table,
        late,
        level="error",
        rule="started-after-ends",
        column="started",
        what=tell("started_after_ends", day=str(settings.ends)),
        remedy=tell("started_after_ends_do"),
    )


def parted(table: pd.DataFrame, settings: Settings) -> Found:
    """A founding parted from another: `from` and left_out = split-off go together."""
    origin, out = table["from"].to_numpy(), table["left_out"].to_numpy()
    known = set(table["founding"])
    has = origin != ""
    unknown = np.flatnonzero(has & ~table["from"].isin(known).to_numpy())
    lacking = origin[unknown]
    near = nearest(lacking, known)
    itself = has & (origin == table["founding"].to_numpy())
    return Found.joined(
        at(
            table,
            unknown,
            level="error",
            rule="id-unknown",
            column="from",
            what=lambda n: tell("id_unknown", founding=lacking[n]),
            remedy=lambda n: (
                tell("from_unknown_do_near", near=meant)
                if (meant := near(lacking[n]))
                else tell("id_unknown_do", founding=lacking[n])
            ),
        ),
        at(
            table,
            itself,
            level="error",
            rule="from-itself",
            column="from",
            what=tell("from_itself"),
            remedy=tell("from_itself_do"),
        ),
        at(
            table,
            has & (out == ""),
            level="error",
            rule="split-off",
            column="left_out",
            what=tell("split_off_in"),
            remedy=tell("split_off_in_do"),
        ),
        at(
            table,
            ~has & (out == "split-off"),
            level="warning",
            rule="split-off",
            column="from",
            what=tell("split_off_from"),
            remedy=tell("split_off_from_do"),
        ),
    )


def parted_same_kind(table: pd.DataFrame, settings: Settings) -> Found:
    """A founding parted from one of another kind: two kinds in one container."""
    label = table.drop_duplicates("founding").set_index("founding")["label"]
    theirs = table["from"].map(label).fillna("").to_numpy()
    mine = table["label"].to_numpy()
    wrong = np.flatnonzero((theirs != "") & (mine != "") & (theirs != mine))
    return at(
        table,
        wrong,
        level="error",
        rule="two-kinds",
        column="from",
        what=[
            tell("two_kinds_parted", own=own, other=other)
            for own, other in zip(mine[wrong], theirs[wrong], strict=True)
        ],
        remedy=tell("two_kinds_do"),
    )


def reasons_agreed(table: pd.DataFrame, settings: Settings) -> Found:
    """Left out for a reason that was not agreed before the first look."""
    if not settings.leave_out:
        return Found()
    out = table["left_out"].to_numpy()
    agreed = {"", "split-off", *settings.leave_out}
    wrong = np.array([reason not in agreed for reason in out], dtype=bool)
    return at(
        table,
        wrong,
        level="warning",
        rule="reason-not-agreed",
        column="left_out",
        what=[tell("reason_not_agreed", reason=reason) for reason in out[wrong]],
        remedy=tell("reason_not_agreed_do"),
    )


def needs_a_host(table: pd.DataFrame, settings: Settings) -> Found:
    """A temporary social parasite, or a kind that founds by splitting, among the compared."""
    compared = (table["left_out"] == "").to_numpy()
    pairs = list(zip(table["label"], table["species"], strict=True))
    host = np.array([needs_host(*pair) for pair in pairs], dtype=bool) & compared
    split = np.array([founds_by_splitting(*pair) for pair in pairs], dtype=bool) & compared
    names = [f"{genus} {species}".strip() for genus, species in pairs]
    return at(
        table,
        host,
        level="warning",
        rule="social-parasite",
        column="left_out",
        what=[tell("social_parasite", name=names[p]) for p in np.flatnonzero(host)],
        remedy=tell("social_parasite_do"),
    ) + at(
        table,
        split,
        level="warning",
        rule="founds-by-splitting",
        column="left_out",
        what=[tell("founds_by_splitting", name=names[p]) for p in np.flatnonzero(split)],
        remedy=tell("founds_by_splitting_do"),
    )


def listed_species(table: pd.DataFrame, settings: Settings) -> Found:
    """A caution for a species that spreads with people, once for each."""
    kinds = table[["label", "species"]].drop_duplicates()
    found = [
        (place, genus, species)
        for place, genus, species in zip(kinds.index, kinds["label"], kinds["species"], strict=True)
        if spreading(genus, species)
    ]
    return at(
        table,
        np.array([place for place, _, _ in found], dtype=np.int64),
        level="note",
        rule="caution",
        column="species",
        what=[cautions(genus, species)[0] for _, genus, species in found],
        remedy=tell("caution_do"),
    )


RULES: tuple[Rule, ...] = (
    id_twice,
    id_reserved,
    id_series,
    queens_count,
    arm_agrees,
    mating_count,
    dates_in_order,
    ends_before_started,
    parted,
    parted_same_kind,
    reasons_agreed,
    needs_a_host,
    listed_species,
)
