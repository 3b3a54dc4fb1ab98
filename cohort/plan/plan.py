"""Every division of a number of queens, with what to expect of it.

Comes in: queens, largest group, day, a kind and a `Basis`. Goes out: a frozen `Plan`. Never:
print, a file.

Foundings of one division share what is uncertain about their kind (the draw) and nothing else:
chances are put together inside each draw, and averaged afterwards.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from cohort.base.errors import StudyError
from cohort.outcomes.basis import Basis, Kind
from cohort.plan.advice import WANTS, Advice, Parts, advice, best_and_other, wanted
from cohort.plan.broods import Broods, broods
from cohort.plan.chances import Chances, chances
from cohort.plan.divisions import divisions, text
from cohort.plan.strongest import in_all, strongest
from cohort.plan.teach import narrowing
from cohort.terms.questions import ALIKE, MATED_FIRST
from cohort.terms.voice import Told, Voice, told, voice

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
ROOM: Final = "cohort.plan"
"""Where the sentences are, see `cohort.terms.voice`."""
LARGEST: Final = 12
"""Largest group a plan speaks of."""
QUEENS: Final = 200
DAYS: Final = 730
DAY: Final = 180
"""Day on which colonies are counted unless another is asked for."""
GOALS: Final = ("at_least_one", "at_least_two", "colonies")
"""Counts of colonies in which an efficient division is not beaten."""
BROOD: Final = ("workers_strongest", "workers_in_all")
CLOSE: Final = 1e-6
"""Chances nearer than this are no choice between them."""
TAUGHT: Final = 150
"""Divisions for which what they would teach is worked out; with more, only the efficient ones."""
FEWER: Final = 200
"""Draws by which workers are worked out when there are more than `TAUGHT` divisions."""


@dataclass(frozen=True)
class Trade:
    """Workers that a group starts with, set against one queen alone.

    Attributes
    ----------
    size : int
        Queens of the group.
    ratio, low, high : float
        Workers about 30 days after the first, several queens against one.
    assumed : bool
        True when no count of a first brood stands behind it.
    """

    size: int
    ratio: float
    low: float
    high: float
    assumed: bool


@dataclass(frozen=True)
class Plan:
    """Divisions of some queens.

    Attributes
    ----------
    queens, largest, day : int
    kind : Kind
    table : DataFrame
        One row per division: division (text), parts (tuple, largest first), foundings;
        at_least_one, at_least_two, colonies, workers_strongest, workers_in_all (means), and
        ``_low``, ``_high`` of each (their level as asked); lasting and lasting_low (chance of at
        least one colony with a mated queen, if mated and unmated queens die alike, and if the
        mated die first), all_lost, first_workers_day (nan if
        hardly ever), narrowing, efficient. Efficient ones first, by what is wanted.
    compared_size : int
        Group size of the difference that ``narrowing`` speaks of; 0 when there is no group.
    whole : bool
        False when only divisions of at most two sizes were compared.
    told : tuple of Told
        What the plan is based on, and where it reaches too far.
    assumed : bool
        True when nothing but general assumptions stands behind it: the same for every genus.
    advice : Advice
    trade : Trade or None
        What a group starts with; None where nothing can be grouped.
    """

    queens: int
    largest: int
    day: int
    kind: Kind
    table: pd.DataFrame
    compared_size: int
    whole: bool
    told: tuple[Told, ...]
    assumed: bool
    advice: Advice
    trade: Trade | None

    @property
    def says(self) -> tuple[str, ...]:
        """What the plan is based on, and where it reaches too far, in English."""
        return voice(ROOM).tell(self.told)

    @property
    def title(self) -> str:
        """Queens, kind and day in English, see `titled`."""
        return self.titled(voice(ROOM))

    def titled(self, own: Voice) -> str:
        """Queens, kind and day, above a table or picture; no kind where it is of no kind."""
        if self.assumed:
            return own.say("title_any", n=self.queens, day=self.day)
        return own.say("title", n=self.queens, kind=self.kind.named(own), day=self.day)


def check(queens: int, largest: int, day: int) -> None:
    """Refuse a question without an answer.

    Raises
    ------
    StudyError
        Fewer than one queen, a group or a day beyond what a plan can speak of.
    """
    if queens < 1:
        raise StudyError(f"{queens} queens cannot be divided; a plan needs at least one.")
    if queens > QUEENS:
        raise StudyError(
            f"{queens} queens are more than a plan goes through (at most {QUEENS}). Plan for the "
            "queens of one keeper, or of one night."
        )
    if not 1 <= largest <= LARGEST:
        raise StudyError(
            f"A largest group of {largest} cannot be planned: groups from 1 to {LARGEST} can. "
            "Nothing here is known of larger ones."
        )
    if not 1 <= day <= DAYS:
        raise StudyError(f"Day {day} is outside 1 to {DAYS}, the days a plan can speak of.")


def _per_draw(colony: Floats, counts: Ints) -> tuple[Floats, Floats, Floats]:
    """Chance of at least one and of two colonies, and expected colonies; (divisions, draws)."""
    p = np.minimum(colony, 1 - 1e-12)
    none = np.exp(counts @ np.log1p(-p).T)
    one = none * (counts @ (p / (1 - p)).T)
    return 1 - none, np.maximum(1 - none - one, 0), counts @ colony.T


def first_workers_day(workers: Floats, days: Floats, counts: Ints) -> Floats:
    """Day by which a division has its first workers as likely as not, given it gets any.

    Parameters
    ----------
    workers : float array, shape (draws, sizes, edges)
    days : float array, shape (edges,)
    counts : int array, shape (divisions, sizes)

    Returns
    -------
    float array, shape (divisions,)
        nan where workers come in under 1 of 100.
    """
    thin = workers[np.linspace(0, len(workers) - 1, min(200, len(workers))).round().astype(int)]
    log_none = np.log1p(-np.minimum(thin, 1 - 1e-12))
    out = np.full(len(counts), np.nan)
    for i, row in enumerate(counts):
        share = 1 - np.exp(np.einsum("s,dse->de", row.astype(float), log_none)).mean(axis=0)
        if share[-1] >= 0.01:
            out[i] = np.interp(0.5 * share[-1], share, days)
    return out


def efficient(values: Floats) -> npt.NDArray[np.bool_]:
    """Rows that no other row beats: as good in every column and better in one.

    Parameters
    ----------
    values : float array, shape (rows, columns)
        Higher is better.
    """
    out = np.ones(len(values), dtype=bool)
    for i, row in enumerate(values):
        as_good = (values >= row - CLOSE).all(axis=1)
        better = (values > row + CLOSE).any(axis=1)
        out[i] = not (as_good & better).any()
    return out


def _compared(basis: Basis, largest: int) -> int:
    """Group size of the difference: the commonest of the results where it fits, else up to 3."""
    if largest < 2:
        return 0
    return basis.headline if 2 <= basis.headline <= largest else min(3, largest)


def _workers(each: Chances, brood: Broods, counts: Ints) -> tuple[Floats, Floats]:
    """Workers of the strongest colony and of all; (divisions, draws)."""
    return (
        strongest(each.seen, brood.workers, brood.variation(), counts),
        in_all(each.seen, brood.workers, counts),
    )


def by_want(want: str, each: Chances, brood: Broods, counts: Ints) -> Floats:
    """What is wanted, shape (divisions, draws)."""
    if want == "workers":
        return strongest(each.seen, brood.workers, brood.variation(), counts)
    one, _, colonies = _per_draw(each.seen, counts)
    return one if want == "one" else colonies


def _thinned(each: Chances, brood: Broods, many: int) -> tuple[Chances, Broods]:
    pick = np.linspace(0, len(each.seen) - 1, min(many, len(each.seen))).round().astype(int)
    fewer = replace(each, seen=each.seen[pick])
    return fewer, Broods(brood.workers[pick], brood.beyond[pick], brood.assumed)


def _table(
    each: Chances, brood: Broods, counts: Ints, compared: int, level: float, want: str
) -> pd.DataFrame:
    values = dict(zip(GOALS, _per_draw(each.seen, counts), strict=True))
    some = (each, brood) if len(counts) <= TAUGHT else _thinned(each, brood, FEWER)
    values |= dict(zip(BROOD, _workers(*some, counts), strict=True))
    out = pd.DataFrame({"division": [text(row) for row in counts], "parts": _parts(counts)})
    out["foundings"] = counts.sum(axis=1)
    for name, draws in values.items():
        out[name] = draws.mean(axis=1)
        ends = [(1 - level) / 2, (1 + level) / 2]
        out[f"{name}_low"], out[f"{name}_high"] = np.quantile(draws, ends, axis=1)
    for name, reading in (("lasting", ALIKE), ("lasting_low", MATED_FIRST)):
        out[name] = _per_draw(each.colony(reading), counts)[0].mean(axis=1)
    out["all_lost"] = np.exp(counts @ np.log(np.maximum(each.lost, 1e-300)).T).mean(axis=1)
    out["first_workers_day"] = first_workers_day(each.workers, each.days, counts)
    goals = [*GOALS, "workers_strongest"] if want == "workers" else list(GOALS)
    out["efficient"] = efficient(out[goals].to_numpy())
    taught = out["efficient"] | (len(out) <= TAUGHT)
    out["narrowing"] = np.nan
    if compared:
        one, group = each.seen[:, 0], each.seen[:, compared - 1]
        difference = group - (1 - (1 - one) ** compared)
        out.loc[taught, "narrowing"] = [
            narrowing(each.seen, row, difference) for row in counts[taught.to_numpy()]
        ]
    return out.sort_values(
        ["efficient", WANTS[want], "at_least_one", "colonies"],
        ascending=False,
        kind="stable",
        ignore_index=True,
    )


def _parts(counts: Ints) -> list[Parts]:
    return [tuple(int(s) + 1 for s in np.repeat(np.arange(len(row)), row)[::-1]) for row in counts]


def plan(
    queens: int,
    kind: Kind,
    basis: Basis,
    *,
    largest: int = 4,
    day: int = DAY,
    level: float = 0.9,
    want: str = "one",
    before: Basis | None = None,
) -> Plan:
    """Every way to divide some queens, what to expect of it, and which we would take.

    Parameters
    ----------
    queens : int
    kind : Kind
        From `cohort.outcomes.basis.kind_of`.
    basis : Basis
    largest : int
        Most queens in one founding.
    day : int
        Days since day 0 on which colonies are counted.
    level : float
        Mass between ``_low`` and ``_high``.
    want : {"one", "many", "workers"}
        What divisions are ranked by, and the advice is for.
    before : Basis, optional
        The priors, to tell what would have been said before the season.

    Raises
    ------
    StudyError
        See `check` and `cohort.plan.advice.wanted`.
    """
    check(queens, largest, day)
    want = wanted(want)
    largest = min(largest, queens)
    counts, whole = divisions(queens, largest)
    sizes = tuple(range(1, largest + 1))
    each = chances(basis.draws.in_next_season(), kind.index, sizes, day)
    brood = broods(basis, kind.index, sizes)
    compared = _compared(basis, largest)
    table = _table(each, brood, counts, compared, level, want)
    advised = _advised(table, want, basis, day, basis.last_day(kind.index))
    if advised.why_not is None:
        pair = np.array(
            [np.bincount(p, minlength=largest + 1)[1:] for p in (advised.best, advised.against)]
        )
        earlier = None
        if before is not None and basis.settled:
            earlier = by_want(
                want,
                chances(before.draws.in_next_season(), -1, sizes, day),
                broods(before, -1, sizes),
                pair,
            )
        now = by_want(want, each, brood, pair)
        advised = advice(want, advised.best, advised.against, now, earlier)
    return Plan(
        queens,
        largest,
        day,
        kind,
        table,
        compared,
        whole,
        _told(basis, kind, largest, day, whole, want),
        not basis.settled,
        advised,
        _trade(brood, max((*advised.best, *advised.against), default=1), level),
    )


def _advised(table: pd.DataFrame, want: str, basis: Basis, day: int, last: int) -> Advice:
    """The two divisions that advice is about, or why there is none.

    A group larger than any behind the draws is never advised, nor a day beyond theirs spoken of.
    """
    if sum(table["parts"].iloc[0]) == 1:
        return Advice(want, why_not=told("one_queen"))
    if basis.settled and day > last:
        return Advice(want, why_not=told("beyond", day=day, last=last))
    most = max(basis.sizes, default=1) if basis.settled else math.inf
    within = table[[max(parts) <= most for parts in table["parts"]]]
    parts = tuple(within["parts"])
    best, other = best_and_other(within[WANTS[want]].to_numpy(), parts)
    if other < 0:
        return Advice(want, why_not=told("only_apart"))
    return Advice(want, parts[best], parts[other])


def _trade(brood: Broods, size: int, level: float) -> Trade | None:
    """What a group of the larger of two divisions starts with."""
    if size < 2:
        return None
    ratio = np.log(brood.workers[:, size - 1] / brood.workers[:, 0])
    low, high = np.exp(np.quantile(ratio, [(1 - level) / 2, (1 + level) / 2]))
    return Trade(size, float(np.exp(ratio.mean())), float(low), float(high), brood.assumed)


def _told(
    basis: Basis, kind: Kind, largest: int, day: int, whole: bool, want: str
) -> tuple[Told, ...]:
    """What the plan is based on, and where it reaches too far."""
    out = [*basis.told, *kind.told]
    most = max(basis.sizes, default=0)
    if basis.last.get(kind.name) == 0:
        out.append(told("mostly_others", kind=kind.name))
    if basis.settled and largest > max(most, 1):
        out.append(told("large_groups", n=most))
    winter = basis.draws.winter
    if basis.settled and day > basis.horizon:
        beyond = "beyond_horizon" if winter is None else "beyond_followed"
        out.append(told(beyond, last=basis.horizon, day=day))
    if winter is not None and day > winter[0]:
        out.append(told("through_winter", begins=int(winter[0]), ends=int(sum(winter))))
    if winter is not None and want == "workers":
        out.append(told("workers_winter"))
    if not whole:
        out.append(told("two_sizes"))
    return tuple(out)
