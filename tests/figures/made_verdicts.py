"""Verdicts of an invented study: the rule of `cohort.verdict` on invented chances.

In come comparisons and foundings; out come the rows of ``verdicts.csv`` and ``sensitivity.csv``.
Kinds have as many foundings of their own as the sheets hold, and each is followed to the horizon.
"""

from __future__ import annotations

import math

import pandas as pd

from cohort.nonparametric.counts import headline_size
from cohort.nonparametric.followed import compared, fair_day, kind_days
from cohort.sheets import written
from cohort.terms.questions import ALIKE, MATED_FIRST, headline_reading
from cohort.verdict import Evidence, verdict

TOGETHER = ("average", "new", "next_season")


def verdicts_of(comparisons, foundings, horizon=180, *, differ="open", by_lot=1.0):
    """Frames like those of `cohort.verdict`."""
    inside = compared(foundings)
    counts = pd.crosstab(inside["genus"], inside["arm"])
    counts = counts.reindex(columns=["single", "multi"], fill_value=0)
    days = kind_days(foundings, horizon)
    table = comparisons[comparisons["chance_multi_better"].notna()]
    spoken = table[table["reading"] == table["quantity"].map(headline_reading)]
    study = fair_day(foundings, horizon)
    verdicts, assumed = [], []
    for key, part in spoken.groupby(["quantity", "queens", "genus"], sort=False):
        quantity, queens, genus = key
        last = days.get(genus, study)
        given = part["day"].dropna().astype(int)
        within = given[given <= last]
        followed = bool(given.empty or len(within))
        row = part.iloc[0]
        if not given.empty:
            row = part.loc[within.idxmax() if followed else given.idxmin()]
        kind = genus not in TOGETHER
        better = float(row["chance_multi_better"])
        read = {
            name: _reading(table, row, name) for name in (ALIKE, MATED_FIRST)
        }  # a reading that is not there is nan
        evidence = Evidence(
            chance=better,
            prior_chance=float(row["prior_chance_multi_better"]),
            equal=float(row["chance_practically_equal"]),
            alike=read[ALIKE],
            mated_first=read[MATED_FIRST],
            half=better,
            double=better,
            by_lot=by_lot,
            kind=kind,
            own_share=float(row["own_share"]) if kind else math.nan,
            single=int(counts["single"].get(genus, 0)),
            multi=int(counts["multi"].get(genus, 0)),
            followed=followed,
            tried=not (kind and followed and bool(row["carried_over"])),
        )
        found = verdict(evidence)
        names = dict(genus=genus, queens=int(queens), day=row["day"], contrast=quantity)
        verdicts.append(
            names
            | dict(word=found.word, side=found.side, chance=better,
                   prior_chance=evidence.prior_chance, evidence=evidence.factor,
                   own_share=evidence.own_share, why=found.why)
        )  # fmt: skip
        assumed.append(
            names
            | dict(chance=better, alike=evidence.alike, mated_first=evidence.mated_first,
                   half=better, double=better, prior_chance=evidence.prior_chance,
                   by_lot=by_lot, lot_alone=math.nan)
        )  # fmt: skip
    if verdicts and len(counts) > 1:
        size = headline_size(foundings)
        first = next(
            v for v in verdicts if v["contrast"] == "same_queens_any" and v["queens"] == size
        )
        why = "unsure" if differ == "open" else "none"
        verdicts.append(
            first
            | dict(genus="differ", word=differ, side="", chance=0.97, prior_chance=0.0,
                   evidence=math.nan, own_share=math.nan, why=why)
        )  # fmt: skip
    if not verdicts:
        return written.empty("verdicts"), written.empty("sensitivity")
    frames = (pd.DataFrame(verdicts), pd.DataFrame(assumed))
    return tuple(
        written.typed(frame, name)
        for frame, name in zip(frames, ("verdicts", "sensitivity"), strict=True)
    )


def _reading(table, row, reading):
    same = (
        table["quantity"].eq(row["quantity"])
        & table["genus"].eq(row["genus"])
        & table["queens"].eq(row["queens"])
        & table["day"].eq(row["day"])
        & table["reading"].eq(reading)
    )
    return float(table.loc[same, "chance_multi_better"].iloc[0]) if same.any() else math.nan
