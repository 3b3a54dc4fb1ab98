"""The sufficient arrays of the likelihood, packed from a history.

Comes in: a `History` (brackets, counts, entry and end of each founding). Goes out: an
`Exposure`: the three tables of `likelihood.layout` and the labels of their foundings.
Never: a parameter or a prior.

Intervals without a loss matter only through queens x days, by piece, phase and company, so they
collapse to sums: cost grows with foundings and losses, not with looks. Where the first worker
was bracketed its day e is summed over in small cells that break at looks. Where the shelf has a
log the degree-days at the edges of the cells go along.

Where a founding was followed into winter rest all its days are warm days, by a clock that stands
still in it; days of winter rest stand in rows of their own (`stages`, `layout.COLD`).
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from cohort.base.errors import StudyError
from cohort.history import History
from cohort.history.winters import Cold, usual_winter
from cohort.likelihood import layout as at
from cohort.likelihood.rates import room_for
from cohort.likelihood.traces import (
    Lived,
    Span,
    Trace,
    lived_through,
    loss_days,
    overlap,
    stages,
    thawed,
)
from cohort.likelihood.warm_tables import warm_tables
from cohort.warmth import Warmth

AT_ONCE = -745.0
"""Stands for the log of day 0: no first worker comes before it."""
STEEPER = 2.5
"""In an interval with a loss the path turns on whether E came before it: cells so much shorter."""


@dataclass(frozen=True)
class Exposure:
    """A study packed for the likelihood.

    Attributes
    ----------
    foundings : DataFrame
        One row per packed founding, in the order of the records: the history's columns.
    records, rows, nodes : float arrays
        See `cohort.likelihood.layout`.
    warmth : Warmth, optional
        Which foundings run on degree-days.
    winter : tuple of float, optional
        Day on which winter rest begins for a founding in the middle of those that were followed
        into one, and its days; see `usual_winter`.
    """

    foundings: pd.DataFrame
    records: np.ndarray
    rows: np.ndarray
    nodes: np.ndarray
    loss_days1: np.ndarray
    loss_days2: np.ndarray
    last_fights: np.ndarray
    warmth: Warmth | None = None
    winter: tuple[float, float] | None = None


@dataclass(frozen=True)
class _Explained:
    """What a day e of the first worker must explain.

    ``dead_before``: no queen lived at e, so no worker came; ``least``: fewest queens at e.
    """

    spans: Sequence[Lived]
    end: float
    left: int
    dead_before: bool
    least: int
    tail: Sequence[Cold] = ()


def _explanations(trace: Trace, spans: Sequence[Lived]) -> list[tuple[float, float, bool, int]]:
    """Stretches of days e on which the clock of the first worker may have rung.

    Each is (from, to, dead_before, least). If workers were seen, e lies in their bracket and a
    queen lived. If not, then up to the last look for workers the clock can only have rung when
    all queens were dead; after it (looks with `workers` blank), at any time.
    """
    end, left = spans[-1][1], spans[-1][3]
    if math.isfinite(trace.by):
        parts = [(trace.after, trace.by if left else min(trace.by, end), False, 1)]
    else:
        alive_at = end if left else spans[-1][0]
        to = trace.looked_to if left else min(trace.looked_to, end)
        parts = [(alive_at, to, True, 1), (trace.looked_to, end, False, 0)]
    return [part for part in parts if part[1] > part[0]]


class _Packer:
    """Growing tables of one study."""

    def __init__(self, cell: float) -> None:
        self.records: list[list[float]] = []
        self.rows: list[list[float]] = []
        self.nodes: list[list[float]] = []
        self.cell = cell

    def _put_quiet(
        self, line: list[float], n: int, days: list[float], company: int, lone: int
    ) -> None:
        if n == 0:
            return
        start = company if n >= 2 else lone
        for j, d in enumerate(days):
            line[start + j] += n * d

    def _put_loss(self, phase: int, n: int, m: int, days: list[float]) -> None:
        self.rows.append([phase, n, m, *days, *([0.0] * (at.N1 - len(days)))])

    def _put_cold(self, n: int, cold: Iterable[Cold], e: float) -> None:
        """Winter rest in which nobody died."""
        for day, days in cold:
            if n > 0:
                self._put_loss(at.COLD + int(day > e), n, n, [days])

    def _put_stages(
        self, n: int, m: int, a: float, b: float, e: float, cold: Sequence[Cold], least: int = 0
    ) -> None:
        """An interval with a loss and winter rest in it, stage by stage; see `layout.COLD`.

        Raises
        ------
        StudyError
            More queens than the model has room for.
        """
        every, before = stages(a, b, e, cold)
        if not room_for(len(every), n):
            raise StudyError(
                f"{n} queens in one founding are too many for a loss in winter rest. Leave the "
                "founding out, or take through_winter out of the settings."
            )
        for i, (phase, days) in enumerate(every[:-1], start=1):
            self._put_loss(-1 - phase, n, least if i == before else 0, days)
        phase, days = every[-1]
        self._put_loss(phase + at.LINK * (len(every) - 1), n, m, days)

    def _path1(
        self, line: list[float], spans: Iterable[Lived], company: int, lone: int
    ) -> tuple[int, int]:
        """Founding-phase intervals into ``line`` and the loss rows; returns their range."""
        first = len(self.rows)
        for a, b, n, m, cold in spans:
            days = overlap(a, b, at.CUTS1)
            if n == m:
                self._put_quiet(line, n, days, company, lone)
                self._put_cold(n, cold, math.inf)
            elif cold:
                self._put_stages(n, m, a, b, math.inf, cold)
            else:
                self._put_loss(0, n, m, days)
        return first, len(self.rows)

    def _node(self, start: float, stop: float, seen: _Explained) -> None:
        e = 0.5 * (start + stop)
        line = [0.0] * at.NODE_WIDTH
        line[at.LOG_E] = math.log(e)
        line[at.LOG_FROM] = math.log(start) if start > 0 else AT_ONCE
        line[at.LOG_TO] = math.log(stop)
        line[at.LEAST] = -1.0
        first = len(self.rows)
        for a, b, n, m, cold in seen.spans:
            if seen.dead_before and b > e:
                self._put_dead(n, a, e, cold)
                break
            before = overlap(a, min(b, e), at.CUTS1) if a < e else [0.0] * at.N1
            later = overlap(max(a, e) - e, b - e, at.CUTS2) if b > e else [0.0] * at.N2
            if n == m:
                self._put_quiet(line, n, before, at.COMPANY1, at.LONE1)
                self._put_quiet(line, n, later, at.COMPANY2, at.LONE2)
                self._put_cold(n, cold, e)
            elif cold:
                self._put_stages(n, m, a, b, e, cold, max(seen.least, m))
            elif b <= e:
                self._put_loss(0, n, m, before)
            elif a >= e:
                self._put_loss(1, n, m, later)
            else:
                line[at.LEAST], line[at.SPLIT_BEFORE], line[at.SPLIT_AFTER] = seen.least, n, m
                line[at.SPLIT1 : at.SPLIT1 + at.N1] = before
                line[at.SPLIT2 : at.SPLIT2 + at.N2] = later
        if e > seen.end:
            self._put_uncounted(line, e, seen)
        line[at.ROWS_FROM], line[at.ROWS_TO] = first, len(self.rows)
        self.nodes.append(line)

    def _put_uncounted(self, line: list[float], e: float, seen: _Explained) -> None:
        """Up to e queens were counted no more: none left, or one at least."""
        uncounted = overlap(seen.end, e, at.CUTS1)
        cold = [one for one in seen.tail if one[0] < e]
        if seen.dead_before:
            self._put_dead(seen.left, seen.end, e, cold)
        elif seen.left == 1:
            self._put_quiet(line, 1, uncounted, at.COMPANY1, at.LONE1)
            self._put_cold(1, cold, e)
        elif cold:
            self._put_stages(seen.left, at.SOME, seen.end, e, math.inf, cold)
        else:
            self._put_loss(0, seen.left, at.SOME, uncounted)

    def _put_dead(self, n: int, a: float, e: float, cold: Sequence[Cold]) -> None:
        """None of n queens left when the clock rang at e, before the end of winter rest in it."""
        before = [one for one in cold if one[0] < e]
        if before:
            self._put_stages(n, 0, a, e, math.inf, before)
        else:
            self._put_loss(0, n, 0, overlap(a, e, at.CUTS1))

    def _all_nodes(self, low: float, high: float, seen: _Explained) -> None:
        days = (t for s in seen.spans for t in s[:2])
        colds = (u for c in (*(s[4] for s in seen.spans), seen.tail) for u, _ in c)
        edges = sorted({low, high, *(t for t in (*days, *colds, seen.end) if low < t < high)})
        for a, b in itertools.pairwise(edges):
            steep = b > seen.end or any(s[2] > s[3] and s[0] <= a and b <= s[1] for s in seen.spans)
            longest = self.cell / STEEPER if steep else self.cell
            cells = max(1, math.ceil((b - a) / longest - 1e-9))
            width = (b - a) / cells
            for i in range(cells):
                self._node(a + width * i, a + width * (i + 1), seen)

    def add(self, trace: Trace, owner: int) -> None:
        """One record: the base path, then the explanations of what was seen of workers."""
        line = [0.0] * at.RECORD_WIDTH
        line[at.OWNER] = owner
        spans = lived_through(trace)
        end = spans[-1][1]
        explained = _explanations(trace, spans)
        low = min((part[0] for part in explained), default=max(end, trace.looked_to))
        base = [s for s in spans if s[1] <= low]
        rest = [s for s in spans if s[1] > low]
        line[at.BASE_FROM], line[at.BASE_TO] = self._path1(
            line, base, at.BASE_COMPANY, at.BASE_LONE
        )
        line[at.NONE_FROM] = line[at.NONE_TO] = len(self.rows)
        line[at.LOG_END] = AT_ONCE
        if not math.isfinite(trace.by):
            last = end if spans[-1][3] == 0 else max(end, trace.looked_to)
            line[at.NONE] = 1.0
            line[at.LOG_END] = math.log(last) if last > 0 else AT_ONCE
            line[at.NONE_FROM], line[at.NONE_TO] = self._path1(
                line, rest, at.NONE_COMPANY, at.NONE_LONE
            )
        line[at.NODES_FROM] = len(self.nodes)
        for from_, to, dead_before, least in explained:
            seen = _Explained(rest, end, spans[-1][3], dead_before, least, trace.tail)
            self._all_nodes(from_, to, seen)
        line[at.NODES_TO] = len(self.nodes)
        self.records.append(line)

    def tables(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """The three tables as arrays; an empty table keeps its width."""
        return (
            np.asarray(self.records, float).reshape(-1, at.RECORD_WIDTH),
            np.asarray(self.rows, float).reshape(-1, at.ROW_WIDTH),
            np.asarray(self.nodes, float).reshape(-1, at.NODE_WIDTH),
        )


def _trace(row: object, spans: list[Span]) -> tuple[Trace, Trace | None]:
    """The founding's trace, and the trace of its state at a delayed entry."""
    f = row
    entry, size, there = float(f.entry), int(f.size_), int(f.entry_queens)  # type: ignore[attr-defined]  # a named row of the history
    if entry <= 0 and not spans:
        spans = [(0.0, 0.0, size, size)]
    main = Trace(spans, float(f.first_after), float(f.first_by), float(f.looked_to))  # type: ignore[attr-defined]  # as above
    if entry <= 0:
        return main, None
    opening: list[Span] = [(0.0, entry, size, there)]
    if f.entry_workers:  # type: ignore[attr-defined]  # as above
        at_entry = Trace(opening, 0.0, entry, 0.0)
        main = Trace(opening + spans, 0.0, entry, 0.0)
    else:
        at_entry = Trace(opening, entry, math.inf, entry)
        main = Trace(opening + spans, main.after, main.by, main.looked_to)
    return main, at_entry


def packed(history: History, *, cell: float = 2.0) -> Exposure:
    """The compared foundings of a history, packed for the likelihood.

    Parameters
    ----------
    history : History
    cell : float
        Longest stretch of days within which the path is taken at one day of the first worker.
        The error falls with the square of it; a test states it for the default.

    Returns
    -------
    Exposure
    """
    chosen = history.foundings[history.foundings["compared"]]
    frame = history.intervals
    frame = frame[frame["code"].isin(chosen.index)]
    # foreign brood before the first own worker: whose workers later losses met, nobody can tell
    frame = frame[
        frame["by"].to_numpy() <= chosen["workers_cens"].reindex(frame["code"]).to_numpy()
    ]
    columns = [frame[c].to_numpy() for c in ("after", "by", "at_risk", "alive")]
    codes = frame["code"].to_numpy()
    starts = np.searchsorted(codes, chosen.index.to_numpy(), side="left")
    stops = np.searchsorted(codes, chosen.index.to_numpy(), side="right")
    packer = _Packer(cell)
    entries: list[tuple[Trace, int]] = []
    named = chosen.rename(columns={"size": "size_"}).itertuples()
    for owner, (row, i, j) in enumerate(zip(named, starts, stops, strict=True)):
        parts = [c[i:j].tolist() for c in columns]
        spans: list[Span] = list(zip(*parts, strict=True))
        main, at_entry = _trace(row, spans)
        rest = history.winters.get(str(row.founding))
        packer.add(thawed(main, rest), owner)
        if at_entry is not None:
            entries.append((thawed(at_entry, rest), owner))
    for trace, owner in entries:
        packer.add(trace, owner)
    records, rows, nodes = packer.tables()
    clocks = history.warmth.clocks if history.warmth is not None else {}
    mine = [clocks.get(str(name)) for name in chosen["founding"]]
    if any(clock is not None for clock in mine):
        records, nodes = warm_tables(records, nodes, mine)
    return Exposure(
        chosen.reset_index(drop=True),
        records,
        rows,
        nodes,
        *loss_days(chosen, frame, history.winters),
        warmth=history.warmth,
        winter=usual_winter(history, map(str, chosen["founding"])),
    )
