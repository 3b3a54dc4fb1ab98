"""Queens of a study -> pools to draw for, and a drawn list -> foundings of the study.

What comes in: the catches and foundings of a study as typed, or queens named on the command
line. What goes out: pools for `cohort.desk.allot`, the list kept in the folder ``lists``, rows
added to the keepers' CSV files when asked. It never changes a row that is there, and never mixes
kinds.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from cohort.audit.alike import together
from cohort.audit.allotted import taken_up
from cohort.audit.cells import Count, Problem, count, date
from cohort.audit.settings import read_settings
from cohort.base.errors import StudyError
from cohort.desk.allot import Ask, Lot, Pool, number_lots
from cohort.desk.log import Logged, write_rows
from cohort.desk.whose import foundings_typed
from cohort.sheets.lists import new_list, next_name, read_lists
from cohort.sheets.numbers import next_numbers
from cohort.sheets.raw import Sheets
from cohort.terms.contract import SHEETS
from cohort.terms.genera import near_genus, spelled, split_name
from cohort.terms.genus_list import PARASITIC_SPECIES
from cohort.terms.words import LEFT_OUT

_QUEENS = re.compile(r"\s*([^=,]+?)\s*=\s*(\d{1,6})\s*\Z")


@dataclass(frozen=True)
class SetAside:
    """Queens that are not drawn for: of which pool, how many, and the agreed reason."""

    pool: Pool
    queens: int
    reason: str


def _whole(row: Mapping[Any, Any], sheet: str, name: str) -> int:
    text = str(row[name])
    if not text:
        return 0
    got = count(text, SHEETS[sheet].column(name))
    if not isinstance(got, Count) or got.at_least:
        raise StudyError(
            f"{row['file_']}, row {row['row_']}, {name}: '{text}' is not an exact number, so "
            "no lots can be drawn. Correct it first."
        )
    return got.number


def kinds_of(sheets: Sheets) -> dict[str, tuple[str, str]]:
    """Own words for kinds -> (genus, species), blank where not known yet."""
    frame = together(sheets, "kinds")
    return {
        str(r["kind"]): (str(r["genus"]), str(r["species"]))
        for r in frame.to_dict("records")
        if r["kind"]
    }


def _pool(
    word: str, queens: int, keeper: str, flight: str, kinds: Mapping[str, tuple[str, str]]
) -> Pool:
    """Pool of a kind or genus as typed; a misspelt genus is told, not taken."""
    genus, species = kinds.get(word, (word, ""))
    first, more = split_name(genus)
    right = spelled(first)
    if word in kinds:
        return Pool(word, queens, keeper, flight, right or first, species or more)
    if not right and near_genus(first):
        raise StudyError(
            f"'{word}' is not in the list of genera. Did you mean '{near_genus(first)}'?"
        )
    return Pool(right or word, queens, keeper, flight, right or first, more)


def is_own_word(word: str, kinds: Iterable[str]) -> bool:
    """Whether a kind is a keeper's own word that the sheet kinds does not have yet.

    A genus of the list is none, nor what is written as one: a capital and letters alone.
    """
    genus = word[:1].isupper() and word.isalpha()
    return not (word in set(kinds) or spelled(word) or genus or " " in word)


def pools_from_catches(sheets: Sheets) -> tuple[Pool, ...]:
    """Queens of each catch that are in no founding yet.

    Queens kept, less those that died before they were set up, less those in foundings that name
    the catch (parted foundings apart).
    """
    kinds = kinds_of(sheets)
    sheets, _ = taken_up(sheets, read_settings(sheets.of("study"))[0].date_order)
    foundings = together(sheets, "foundings")
    housed: dict[str, int] = {}
    for row in foundings.to_dict("records"):
        if row["catch"] and not row["from"]:
            catch = str(row["catch"])
            housed[catch] = housed.get(catch, 0) + _whole(row, "foundings", "queens")
    pools = []
    for row in together(sheets, "catches").to_dict("records"):
        catch = str(row["catch"])
        left = _whole(row, "catches", "queens") - _whole(row, "catches", "died")
        left -= housed.get(catch, 0)
        if left > 0 and (row["genus"] or row["kind"]):
            word = str(row["kind"] or row["genus"])
            pools.append(_pool(word, left, str(row["keeper"]), catch, kinds))
    if not pools:
        raise StudyError(
            "No queens wait for a container: every catch is housed, or the sheet catches is empty. "
            "Name queens yourself with --queens Lasius=9 --keeper K2."
        )
    return tuple(pools)


def pools_named(
    text: str, keeper: str, flight: str, kinds: Mapping[str, tuple[str, str]]
) -> tuple[Pool, ...]:
    """Pools from ``Lasius=9,Messor=6`` of one keeper and flight."""
    pools = []
    for part in text.split(","):
        match = _QUEENS.match(part)
        if not match:
            raise StudyError(f"'{part}' is not understood. Write kind=queens, such as Lasius=9.")
        pools.append(_pool(match[1], int(match[2]), keeper, flight, kinds))
    return tuple(pools)


def set_aside(
    pools: Sequence[Pool], wanted: Sequence[str], agreed: Sequence[str]
) -> tuple[tuple[Pool, ...], tuple[SetAside, ...]]:
    """Take queens out before the draw, by the rule agreed before the season.

    Parameters
    ----------
    pools : sequence of Pool
    wanted : sequence of str
        ``Lasius=1`` or ``C12=2:mites``: kind or catch, how many, and the reason (``mites`` when
        none is said).
    agreed : sequence of str
        Reasons in the setting ``leave_out``.

    Raises
    ------
    StudyError
        If the reason was not agreed on, or more queens are to go than there are.
    """
    left = list(pools)
    out: list[SetAside] = []
    for text in wanted:
        amount, _, reason = text.partition(":")
        reason = reason.strip() or "mites"
        match = _QUEENS.match(amount)
        if not match or reason not in LEFT_OUT:
            raise StudyError(
                f"'{text}' is not understood. Write Lasius=1:mites; reasons: {', '.join(LEFT_OUT)}."
            )
        if reason not in agreed:
            raise StudyError(
                f"'{reason}' is not among the reasons agreed before the season "
                f"({', '.join(agreed) or 'none'}). Queens are set aside by an agreed rule only: "
                "add it to leave_out in the tab study before the first look, or draw for these "
                "queens too."
            )
        name, number = match[1], int(match[2])
        hits = [i for i, p in enumerate(left) if name in (p.kind, p.genus, p.flight)]
        if len(hits) != 1:
            raise StudyError(
                f"'{name}' fits {'more than one' if hits else 'none'} of these: "
                f"{'; '.join(p.words for p in left)}. Name a kind or catch that fits one only."
            )
        pool = left[hits[0]]
        if number > pool.queens:
            raise StudyError(f"{pool.words}: {number} queens cannot be set aside of {pool.queens}.")
        left[hits[0]] = replace(pool, queens=pool.queens - number)
        out.append(SetAside(pool, number, reason))
    return tuple(left), tuple(out)


def doubts(pools: Iterable[Pool]) -> list[str]:
    """Lines about genera some of whose kinds cannot found alone, where no species is known."""
    return [
        f"{pool.words}: some {pool.genus} found in a host colony "
        f"({', '.join(PARASITIC_SPECIES[pool.genus][:4])} and others). Draw no lots for those: "
        "check the queens again."
        for pool in pools
        if not pool.species and pool.genus in PARASITIC_SPECIES
    ]


def numbered(sheets: Sheets, folder: Path, lots: Sequence[Lot]) -> tuple[Lot, ...]:
    """Lots with the next free numbers of each keeper."""
    drawn = read_lists(folder)["founding"]
    used = [*foundings_typed(sheets), *(str(number) for number in drawn)]
    free: dict[str, Iterable[str]] = {}
    for keeper in {lot.pool.keeper for lot in lots}:
        if not keeper:
            raise StudyError(
                "Queens without a keeper get no numbers. Add --keeper, or fill in the column "
                "keeper of the sheet catches."
            )
        free[keeper] = next_numbers(keeper, used, len(lots))
    return number_lots(lots, free)


def day_zero(started: str, order: str) -> str:
    """Day 0 of a list as ``YYYY-MM-DD``; today when blank.

    Parameters
    ----------
    started : str
        As typed.
    order : str
        Setting ``date_order``.

    Raises
    ------
    StudyError
        If it is not certain which day is meant.
    """
    if not started.strip():
        return dt.date.today().isoformat()
    day = date(started.strip(), order, dt.date.today())
    if isinstance(day, Problem):
        raise StudyError(f"--started: {day.what} {day.remedy} Nothing was drawn.")
    if day > dt.date.today():
        raise StudyError(f"--started: {day} has not come yet. Nothing was drawn.")
    return day.isoformat()


def founding_rows(lots: Sequence[Lot], started: str, kinds: Iterable[str]) -> list[dict[str, str]]:
    """Rows of the sheet ``foundings`` for a drawn list."""
    own = set(kinds)
    own |= {lot.pool.kind for lot in lots if is_own_word(lot.pool.kind, own)}
    return [
        {
            "founding": lot.founding,
            "kind" if lot.pool.kind in own else "genus": lot.pool.kind,
            "species": lot.pool.species,
            "started": started,
            "queens": str(lot.queens),
            "assigned": lot.assigned,
            "block": lot.block,
            "keeper": lot.pool.keeper,
            "catch": lot.pool.flight,
        }
        for lot in lots
    ]


def list_rows(
    lots: Sequence[Lot], name: str, seed: int, ask: Ask, drawn: str
) -> list[dict[str, str]]:
    """Rows of the list file."""
    base = {
        "list": name,
        "seed": str(seed),
        "drawn": drawn,
        "block_of": str(ask.block),
        "sizes": " ".join(map(str, ask.sizes)),
        "shares": " ".join(map(str, ask.shares)),
    }
    return [
        {
            **base,
            "block": lot.block,
            "order": str(lot.order),
            "kind": lot.pool.kind,
            "keeper": lot.pool.keeper,
            "flight": lot.pool.flight,
            "founding": lot.founding,
            "arm": lot.arm,
            "queens": str(lot.queens),
            "which": " ".join(map(str, lot.which)),
            "assigned": lot.assigned,
        }
        for lot in lots
    ]


def _not_kept_before(folder: Path, rows: Sequence[Mapping[str, str]]) -> None:
    """Refuse the very draw of a list that is kept: the same command run twice."""
    same = ("seed", "drawn", "sizes", "shares", "kind", "keeper", "flight", "queens", "which")
    wanted = [tuple(row[name] for name in same) for row in rows]
    for name, lots in read_lists(folder).groupby("list", sort=False):
        if [tuple(str(v) for v in lot) for lot in lots[list(same)].to_numpy()] == wanted:
            raise StudyError(
                f"{name} is this very draw, kept today with the same seed. Nothing was written. "
                "For other queens, draw with another seed."
            )


def keep(
    folder: Path, lots: Sequence[Lot], *, name: str, seed: int, ask: Ask, started: str = ""
) -> Logged:
    """Keep the list and add its foundings to the sheets.

    Parameters
    ----------
    folder : Path
        The study.
    lots : sequence of Lot
        With numbers.
    name, seed, ask
        Of the list.
    started : str
        Day 0; today when blank.

    Raises
    ------
    StudyError, SheetError
        If the audit finds an error in the rows; then nothing is written. List and rows are
        written together: a command that was cut off is finished by the next one that writes.
    """
    today = dt.date.today().isoformat()

    def choose(sheets: Sheets) -> dict[str, dict[str, list[dict[str, str]]]]:
        if next_name(folder) != name:
            raise StudyError("Another list was drawn meanwhile. Nothing was written; draw again.")
        _not_kept_before(folder, list_rows(lots, name, seed, ask, today))
        out: dict[str, dict[str, list[dict[str, str]]]] = {}
        known = kinds_of(sheets)
        for row in founding_rows(lots, started or today, known):
            out.setdefault(row["keeper"], {}).setdefault("foundings", []).append(row)
        words = {lot.pool.kind: lot.pool.keeper for lot in lots}
        for word in [word for word in words if is_own_word(word, known)]:
            out[words[word]].setdefault("kinds", []).append({"kind": word})
        return out

    def with_list() -> dict[Path, bytes]:
        return new_list(folder, name, list_rows(lots, name, seed, ask, today))

    return write_rows(folder, choose, also=with_list)
