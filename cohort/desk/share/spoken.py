"""What ``rest`` and ``all`` would speak of once rows were merged, and what they spoke of before.

Comes in: rows of both studies, rows that would be new, rows of the study with them. Goes out:
conflicts, each with the new row that brings it about. Never: a file.

``rest`` speaks of the foundings of its keeper that are open that day and not named: those that
began with her, without those she handed over before, with those she was handed.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from cohort.audit.looks import HANDED
from cohort.desk.sentences import tell
from cohort.desk.share.compare import Conflict
from cohort.desk.share.said import Said
from cohort.terms import words


def of_all(
    trial: Sequence[Said], ours: Sequence[Said], theirs: Sequence[Said], new: Sequence[Said]
) -> list[tuple[Conflict, Said]]:
    """New rows by which ``rest`` or ``all`` would speak of others than was meant.

    Of others: of foundings which nobody meant, or no longer of one that was meant. A new founding
    can bring that about, a new row by which one was handed over, and a new ``rest`` itself.

    Parameters
    ----------
    trial : sequence of Said
        The study as it would be.
    ours, theirs : sequence of Said
        The study as it is, and what was sent.
    new : sequence of Said
        Rows that would be added.

    Returns
    -------
    list of (Conflict, Said)
        Each new row once.
    """
    days = _Days.of(trial)
    before = {(row.sheet, row.file, row.row): row for row in ours if row.of_all}
    meant: dict[tuple[str, ...], frozenset[str]] = {}
    for row in theirs:
        if row.of_all:
            place = (row.sheet, *row.key)
            meant[place] = meant.get(place, frozenset()) | row.covers
    began = {row.key[0]: row for row in new if row.sheet == "foundings"}
    moved = {row.key[0]: row for row in new if row.says.get("event") == HANDED}
    sent = {(row.sheet, row.key): row for row in new if row.of_all}
    out: list[tuple[Conflict, Said]] = []
    for row in trial:
        if not row.of_all:
            continue
        mine, given = before.get((row.sheet, row.file, row.row)), sent.get((row.sheet, row.key))
        if mine is not None:
            theirs_too = meant.get((row.sheet, *row.key))
            more = days.open(row, row.covers - mine.covers - (theirs_too or frozenset()))
            fewer = days.open(row, mine.covers - row.covers)
            if theirs_too is not None:  # its keeper says so herself
                fewer = [one for one in fewer if one in theirs_too]
            out += _by(began | moved, row, more, "more")
            out += _by(moved, row, fewer, "fewer")
        elif given is not None:
            if more := days.open(row, row.covers - given.covers):
                out.append((_speaks(given, ", ".join(more), "more"), given))
            elif fewer := days.open(row, given.covers - row.covers):
                out.append((_speaks(given, ", ".join(fewer), "sent"), given))
    return list({(row.file, row.row, row.sheet): (c, row) for c, row in out}.values())


@dataclass(frozen=True)
class _Days:
    """When foundings began and ended, and on which days they are named in a sheet."""

    began: Mapping[str, str]
    ended: Mapping[str, str]
    named: frozenset[tuple[str, str, str]]

    @classmethod
    def of(cls, rows: Iterable[Said]) -> _Days:
        began: dict[str, str] = {}
        ended: dict[str, str] = {}
        named = set()
        for row in rows:
            if row.sheet == "foundings":
                began.setdefault(row.key[0], row.cells.get("started", ""))
            elif row.sheet in ("checks", "events") and not row.of_all:
                named.add((row.sheet, row.key[0], row.key[1]))
                if row.says.get("event") == "end":
                    ended[row.key[0]] = min(row.key[1], ended.get(row.key[0], row.key[1]))
        return cls(began, ended, frozenset(named))

    def open(self, row: Said, numbers: Iterable[str]) -> list[str]:
        """Those of some foundings that are open on the day of a row, and not named beside it.

        A look at the rest is at all without a look that day; in winter rest go all of which there
        is neither a look nor an event.
        """
        day, out = row.key[1], []
        beside = {"checks"} if row.sheet == "checks" else {"checks", "events"}
        if row.cells["founding"].lower() != words.REST:
            beside = set()
        for one in sorted(numbers):
            number = one.lower()
            if number not in self.began or not self.began[number] <= day:
                continue
            here = any((sheet, number, day) in self.named for sheet in beside)
            if self.ended.get(number, day) >= day and not here:
                out.append(one)
        return out


def _by(
    rows: Mapping[str, Said], row: Said, numbers: Iterable[str], how: str
) -> Iterator[tuple[Conflict, Said]]:
    for one in numbers:
        if one.lower() in rows:
            yield _speaks(row, one, how), rows[one.lower()]


def _speaks(row: Said, other: str, how: str) -> Conflict:
    word, day = row.cells["founding"], row.cells["date"]
    told = {"word": word, "day": day, "place": row.place, "other": other}
    remedy = {
        "more": tell("rest_more", **told),
        "fewer": tell("rest_fewer", **told),
        "sent": tell("rest_fewer_sent", **told),
    }[how]
    return Conflict("rest", row.sheet, f"{word}, {day}", (), "", row.place, remedy)
