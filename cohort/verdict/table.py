"""A verdict for every contrast: rows of ``verdicts.csv`` and ``sensitivity.csv``.

Comes in: a comparison that settled: its fit, outcomes, long table and foundings. Goes out: a
`Judged`. Never: a sentence, a change of a number.

The numbers of a row are those of one day: the latest that the table has within the day that may be
spoken of. Where there is none the row speaks of the first day and its word is ``none``.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Final

import pandas as pd

from cohort.history import History
from cohort.model.sample import Fit, Said, Sampler, sample, silent
from cohort.nonparametric.followed import known_to
from cohort.outcomes import Outcomes
from cohort.results.verdict_rows import DIFFER, HEADLINE
from cohort.sheets import written
from cohort.terms.questions import ALIKE, AVERAGE, MATED_FIRST, QUANTITIES, SEEN
from cohort.verdict import lot
from cohort.verdict.differ import alike, differ
from cohort.verdict.rules import BY_LOT, OWN, Evidence, Verdict, verdict
from cohort.verdict.strength import Strength, chances, place, strengths

OTHER_READINGS: Final = {"chance_per_founding": "chance_lasting"}
"""A quantity that bears another name where the colony is not read as seen."""
CONTRASTS: Final = ("difference", "ratio")


@dataclass(frozen=True)
class Judged:
    """What may be said of the contrasts of a comparison.

    Attributes
    ----------
    verdicts, sensitivity : DataFrame
        Columns as in `cohort.terms.written`.
    told : dict
        For ``diagnosis.json``: how the chances at other strengths and by lot alone were come by.
    """

    verdicts: pd.DataFrame
    sensitivity: pd.DataFrame
    told: dict[str, Any]


@dataclass(frozen=True)
class Behind:
    """What stands behind the contrasts, apart from draws.

    Attributes
    ----------
    days : mapping of str to int
        Last day that may be spoken of, by kind; of all others that of `AVERAGE`.
    own : mapping of str to (int, int)
        Foundings of each kind, single and multi, known to its day.
    by_lot : mapping of str to float
        Share of the foundings that were by lot, by kind; `AVERAGE`: of all.
    of_size : mapping of (str, int) to float
        The same of single queens and groups of one size, by kind and size.
    drawn : frozenset of str
        Kinds with enough foundings by lot, see `cohort.verdict.lot.enough`.
    flags : tuple of mapping
        Flagged checks: ``check``, ``touches`` (questions), ``genus`` (blank: all).
    """

    days: Mapping[str, int]
    own: Mapping[str, tuple[int, int]]
    by_lot: Mapping[str, float]
    drawn: frozenset[str] = frozenset()
    flags: tuple[Mapping[str, Any], ...] = ()
    of_size: Mapping[tuple[str, int], float] = field(default_factory=dict)

    def lots(self, genus: str, queens: int) -> float:
        """Share by lot of the foundings behind a contrast: single queens, groups of its size."""
        kind = genus if genus in self.own else AVERAGE
        return self.of_size.get((kind, queens), self.by_lot[kind])

    def day(self, genus: str) -> int:
        """Last day that may be spoken of a kind, or of all others."""
        return self.days.get(genus, self.days[AVERAGE])

    def flagged(self, question: str, genus: str) -> tuple[str, ...]:
        """Flagged checks that touch a question of a kind, or of all of them together."""
        return tuple(
            str(flag["check"])
            for flag in self.flags
            if question in flag["touches"]
            and (not flag.get("genus") or genus not in self.own or flag["genus"] == genus)
        )

    def reach(self, day: int) -> float:
        """Share of the kinds with enough foundings of their own up to a day."""
        return len(self.enough(day)) / max(len(self.own), 1)

    def enough(self, day: int) -> tuple[str, ...]:
        """Kinds with foundings enough of their own, followed to a day."""
        return tuple(
            kind for kind, ways in self.own.items() if min(ways) >= OWN and self.days[kind] >= day
        )


def behind(
    foundings: pd.DataFrame,
    horizon: int,
    days: Mapping[str, int],
    flags: Iterable[Mapping[str, Any]] = (),
) -> Behind:
    """What stands behind the contrasts of a study.

    Parameters
    ----------
    foundings : DataFrame
        Those compared, as in a `History`.
    horizon : int
        Day agreed at the start.
    days : mapping of str to int
        Last day that may be spoken of: of every kind, and of `AVERAGE`.
    flags : iterable of mapping
        See `Behind`.
    """
    genera = foundings["genus"].astype(str)
    known, drawn = known_to(foundings, horizon), lot.by_lot(foundings)
    own: dict[str, tuple[int, int]] = {}
    for kind in sorted(genera.unique()):
        inside = foundings["arm"][genera.eq(kind) & (known >= days[kind])]
        own[kind] = (int(inside.eq("single").sum()), int(inside.eq("multi").sum()))
    shares = {kind: float(drawn[genera.eq(kind)].mean()) for kind in own}
    shares[AVERAGE] = float(drawn.mean())
    size, of_size = foundings["size"].astype(int), {}
    for queens in sorted(set(size[size > 1])):
        asked = size.isin((1, queens))
        of_size[AVERAGE, queens] = float(drawn[asked].mean())
        for kind in own:
            inside = asked & genera.eq(kind)
            if (inside & size.eq(queens)).any():
                of_size[kind, queens] = float(drawn[inside].mean())
    return Behind(days, own, shares, lot.enough(foundings), tuple(flags), of_size)


def judged(
    fit: Fit,
    post: Outcomes,
    prior: Outcomes,
    table: pd.DataFrame,
    past: History,
    about: Behind,
    aside: pd.DataFrame,
    *,
    headline: int,
    adjust: Any = (),
    sampler: Sampler | None = sample,
    say: Said = silent,
) -> Judged:
    """A verdict for every contrast of the long table.

    Parameters
    ----------
    fit : Fit
        The model of the page.
    post, prior : Outcomes
        Of its draws, and of the priors alone.
    table : DataFrame
        The long table, with the rows that were made apart.
    past : History
    about : Behind
    aside : DataFrame
        ``quantity``, ``genus``, ``queens`` and the chances at other strengths of contrasts that
        were made apart and have no day, see `cohort.model.brood.FirstBrood`.
    headline : int
        Commonest group size.
    adjust : as in the settings of the study
    sampler : as in `cohort.verdict.strength.strengths`
    say : callable
        Told of every fit that has to be made.
    """
    day, apart = _asked_of(post, about)
    at = strengths(fit, post, past.horizon, aside=aside, apart=apart, sampler=sampler, say=say)
    draws = _draws(post), _draws(prior)
    rows = [
        *_differ(post, prior, about, headline, day, apart, at),
        *_contrasts(table, about, at, draws),
    ]
    told: dict[str, Any] = {name: strength.told() for name, strength in at.items()}
    if any(_only_by_lot(row.evidence) for row in rows) and "" in about.drawn:
        plain = sampler is sample
        found, told["by_lot_alone"] = lot.asked(past, fit, post.sizes, adjust, plain, say)
        if found is not None:
            same = found.kinds == post.kinds
            rows = _by_lot(rows, chances(found, apart=apart), about, same_kinds=same)
    return Judged(_verdicts(rows), _sensitivity(rows), told)


@dataclass(frozen=True)
class _Row:
    """One contrast: where its numbers stand, and what is known of it."""

    place: tuple[Any, ...]
    evidence: Evidence

    @property
    def found(self) -> Verdict:
        """Its verdict."""
        return differ(self.evidence) if self.place[1] == DIFFER else verdict(self.evidence)

    def names(self) -> dict[str, Any]:
        """Columns that say which contrast it is."""
        contrast, genus, queens, day, _ = self.place
        return {"genus": genus, "queens": queens, "day": day if day >= 0 else pd.NA,
                "contrast": contrast}  # fmt: skip


def _only_by_lot(evidence: Evidence) -> bool:
    """Whether nothing but foundings not by lot keeps a contrast from the strongest word."""
    drawn = replace(evidence, by_lot=1.0)
    return evidence.by_lot < BY_LOT and verdict(drawn).word == "clearly"


def _by_lot(rows: list[_Row], found: pd.Series, about: Behind, *, same_kinds: bool) -> list[_Row]:
    """The rows with what the foundings by lot alone say of them.

    Of all kinds together they say something only if the same kinds were fitted: an average over
    fewer kinds is another number.
    """

    def of(row: _Row) -> float:
        genus = row.place[1]
        asked = genus in about.drawn if genus in about.own else same_kinds
        return float(found.get(row.place, math.nan)) if asked else math.nan

    return [_Row(row.place, replace(row.evidence, lot_alone=of(row))) for row in rows]


def _scaled(where: tuple[Any, ...], evidence: Evidence, at: Mapping[str, Strength]) -> _Row:
    """A row with its chances at other strengths; nan where they are not known."""
    half, double = (float(at[name].chances.get(where, math.nan)) for name in ("half", "double"))
    return _Row(where, replace(evidence, half=half, double=double))


def _contrasts(
    table: pd.DataFrame, about: Behind, at: Mapping[str, Strength], draws: tuple[int, int]
) -> list[_Row]:
    """Every contrast of the long table that has a better direction, at its day."""
    asked = table[table["arm"].isin(CONTRASTS) & table["chance_multi_better"].notna()]
    records = {
        place(r["quantity"], r["genus"], r["queens"], r["day"], r["reading"]): r
        for r in asked.to_dict("records")
    }
    rows = []
    for _, part in asked.groupby(["quantity", "queens", "genus"], sort=False):
        first = part.iloc[0]
        quantity, genus, queens = str(first["quantity"]), str(first["genus"]), int(first["queens"])
        given = part["day"].dropna().astype(int)
        within = given[given <= about.day(genus)]
        day = pd.NA if given.empty else int(within.max() if len(within) else given.min())
        asked_of = QUANTITIES[str(first["question"]), quantity]
        if asked_of.readings and SEEN not in asked_of.readings:
            continue  # it stands beside the colony as seen, in `OTHER_READINGS`
        reading = asked_of.headline
        where = place(quantity, genus, queens, day, reading)
        followed = bool(given.empty or len(within))
        rows.append(_scaled(where, _evidence(records, where, about, followed, draws), at))
    return rows


def _evidence(
    records: Mapping[tuple[Any, ...], Mapping[Any, Any]],
    where: tuple[Any, ...],
    about: Behind,
    followed: bool,
    draws: tuple[int, int],
) -> Evidence:
    """What the long table and the foundings tell of one contrast."""
    quantity, genus, queens, day, reading = where
    row = records[where]
    kind = genus in about.own
    single, multi = about.own.get(genus, (0, 0))
    other = OTHER_READINGS.get(quantity, quantity)

    def read(name: str) -> float:
        hit = records.get((other, genus, queens, day, name)) if reading == SEEN else None
        return math.nan if hit is None else float(hit["chance_multi_better"])

    return Evidence(
        chance=float(row["chance_multi_better"]),
        prior_chance=float(row["prior_chance_multi_better"]),
        equal=float(row["chance_practically_equal"]),
        alike=read(ALIKE),
        mated_first=read(MATED_FIRST),
        by_lot=about.lots(genus, queens),
        kind=kind,
        own_share=float(row["own_share"]) if kind else math.nan,
        single=single,
        multi=multi,
        reach=1.0 if kind else about.reach(max(day, 0)),
        followed=followed,
        tried=not (kind and followed and bool(row["carried_over"])),
        flags=about.flagged(row["question"], genus),
        draws=draws[0],
        prior_draws=draws[1],
    )


def _asked_of(post: Outcomes, about: Behind) -> tuple[int, tuple[str, ...]]:
    """Day and kinds of which it is asked whether they differ: the most kinds, the latest day."""
    days = sorted({int(key.day) for key in post.values if key.quantity == HEADLINE})
    return max(((day, about.enough(day)) for day in days), key=lambda at: (len(at[1]), at[0]))


def _differ(
    post: Outcomes,
    prior: Outcomes,
    about: Behind,
    headline: int,
    day: int,
    apart: tuple[str, ...],
    at: Mapping[str, Strength],
) -> list[_Row]:
    """Whether kinds differ in the headline contrast; no row where a study has one kind."""
    if len(about.own) < 2:
        return []
    where = {r: place(HEADLINE, DIFFER, headline, day, r) for r in (SEEN, ALIKE, MATED_FIRST)}
    now, before = chances(post, apart=apart), chances(prior, apart=apart)
    these = [post.kinds.index(kind) for kind in apart]
    drawn = next(
        values[:, these]
        for key, values in post.values.items()
        if (key.quantity, key.size, key.day, key.reading) == (HEADLINE, headline, day, SEEN)
    )
    few = len(apart) < 2
    evidence = Evidence(
        chance=float(now.get(where[SEEN], math.nan)),
        prior_chance=float(before.get(where[SEEN], math.nan)),
        equal=math.nan if few else alike(drawn),
        alike=float(now.get(where[ALIKE], math.nan)),
        mated_first=float(now.get(where[MATED_FIRST], math.nan)),
        by_lot=about.by_lot[AVERAGE],
        kind=few,  # no kinds with enough of their own: no word
        flags=about.flagged("colony", DIFFER),
        draws=len(drawn),
        prior_draws=_draws(prior),
    )
    return [_scaled(where[SEEN], evidence, at)]


def _draws(of: Outcomes) -> int:
    return len(next(iter(of.values.values())))


def _verdicts(rows: list[_Row]) -> pd.DataFrame:
    """``verdicts.csv``."""
    records = []
    for row in rows:
        found, of = row.found, row.evidence
        records.append(
            row.names()
            | {
                "word": found.word,
                "side": found.side,
                "chance": of.chance,
                "prior_chance": of.prior_chance,
                "evidence": math.nan if row.place[1] == DIFFER else of.factor,
                "own_share": of.own_share,
                "why": found.why,
            }
        )
    return _typed(records, "verdicts")


def _sensitivity(rows: list[_Row]) -> pd.DataFrame:
    """``sensitivity.csv``."""
    records = []
    for row in rows:
        of = row.evidence
        records.append(
            row.names()
            | {
                "chance": of.chance,
                "alike": of.alike,
                "mated_first": of.mated_first,
                "half": of.half,
                "double": of.double,
                "prior_chance": of.prior_chance,
                "by_lot": of.by_lot,
                "lot_alone": of.lot_alone,
            }
        )
    return _typed(records, "sensitivity")


def _typed(records: list[dict[str, Any]], name: str) -> pd.DataFrame:
    return (
        written.typed(pd.DataFrame.from_records(records), name) if records else written.empty(name)
    )
