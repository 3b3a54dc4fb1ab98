"""What stands on the printed sheets.

What comes in: plain values. What goes out: bytes of a PDF each, and the list of lots behind a
night sheet so that it can be kept with the study. It reads no study and writes no file.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from cohort.base.errors import StudyError
from cohort.desk.allot import Ask, shuffled
from cohort.desk.print.typeset import typeset
from cohort.sheets.cautions import CAUTIONS, LINES

KIND_COLUMNS = "ABC"
"""Columns of lots on a night sheet: one for each kind met that night."""
MOST_ROWS = 2000
_WORDS = (
    "no queen",
    "one alone",
    "two together",
    "three together",
    "four together",
    "five together",
    "six together",
)


@dataclass(frozen=True)
class CheckRow:
    """A row of the check sheet: number, kind, whether the kind is a genus, last look as text."""

    number: str
    kind: str = ""
    italic: bool = False
    last: str = ""


@dataclass(frozen=True)
class NightList:
    """Lots drawn before the season, for kinds that nobody knows yet.

    Parameters
    ----------
    name : str
        Name of the list, such as ``L2``.
    seed : int
    ask : Ask
    columns : tuple
        One entry per kind met: blocks of sizes, in the order in which they are uncovered.
    """

    name: str
    seed: int
    ask: Ask
    columns: tuple[tuple[tuple[int, ...], ...], ...]

    def block_name(self, column: int, block: int) -> str:
        """Name of a block, both counted from 0: ``L2-A1``."""
        return f"{self.name}-{KIND_COLUMNS[column]}{block + 1}"

    def rows(self, keeper: str, drawn: str) -> list[dict[str, str]]:
        """Lots as rows of a list file (see `cohort.sheets.lists`)."""
        base = {
            "list": self.name,
            "seed": str(self.seed),
            "drawn": drawn,
            "keeper": keeper,
            "sizes": " ".join(map(str, self.ask.sizes)),
            "assigned": "random",
            "shares": " ".join(map(str, self.ask.shares)),
            "block_of": str(self.ask.block),
        }
        return [
            {
                **base,
                "block": self.block_name(c, b),
                "order": str(order),
                "kind": "",
                "arm": "single" if size == 1 else "multi",
                "queens": str(size),
            }
            for c, blocks in enumerate(self.columns)
            for b, block in enumerate(blocks)
            for order, size in enumerate(block, start=1)
        ]


def night_list(
    ask: Ask, seed: int, *, name: str = "L1", blocks: int = 3, kinds: int = 3
) -> NightList:
    """Draw the lots of a night sheet.

    Parameters
    ----------
    ask : Ask
        Sizes, shares and foundings per block.
    seed : int
    name : str
        Name of the list.
    blocks : int
        Blocks in each column.
    kinds : int
        Columns, 1 to 3.
    """
    if not 1 <= kinds <= len(KIND_COLUMNS):
        raise StudyError(f"A night sheet has lots for 1 to {len(KIND_COLUMNS)} kinds.")
    if not 0 <= seed < 2**63:
        raise StudyError(f"The seed {seed} is not usable. Take a whole number from 0 on.")
    bits = np.random.PCG64(seed)
    content = ask.content(ask.block)
    columns = tuple(
        tuple(tuple(shuffled(content, bits)) for _ in range(blocks)) for _ in range(kinds)
    )
    return NightList(name, seed, ask, columns)


def _base(title: str, keeper: str, foot: str, paper: str) -> dict[str, Any]:
    return {"title": title, "keeper": keeper, "foot": foot, "paper": paper}


def night_sheet(
    lots: NightList,
    numbers: Sequence[str],
    *,
    keeper: str = "",
    leave_out: Sequence[str] = (),
    line: str = "",
    paper: str = "a4",
    labels: bool = True,
) -> bytes:
    """PDF of the night sheet.

    Parameters
    ----------
    lots : NightList
        From `night_list`.
    numbers : sequence of str
        Numbers that stand ready.
    keeper : str
        Sign of the keeper; blank for a sheet that anyone may use.
    leave_out : sequence of str
        Reasons agreed before the season for which a queen is set aside.
    line : str
        Small print on a label, such as the season.
    paper : {"a4", "letter"}
    labels : bool
        Whether a page of labels follows, two of each number.
    """
    _not_too_many(numbers)
    columns = [
        {
            "name": KIND_COLUMNS[c],
            "lots": [{"name": f"{lots.block_name(c, 0)}.1"}],
            "blocks": [
                [
                    {"name": f"{lots.block_name(c, b)}.{i}", "words": _lot_words(size)}
                    for i, size in enumerate(block, start=1)
                ]
                for b, block in enumerate(blocks)
            ],
        }
        for c, blocks in enumerate(lots.columns)
    ]
    data = _base(f"Night sheet {keeper}".strip(), keeper, "Night sheet", paper)
    data |= {
        "numbers": list(numbers),
        "list": lots.name,
        "seed": str(lots.seed),
        "block": lots.ask.block,
        "columns": columns,
        "leave_out": list(leave_out),
        "cautions": [list(pair) for pair in CAUTIONS],
        "labels": labels,
        "line": line,
    }
    return typeset("night", data)


def _lot_words(size: int) -> tuple[str, str]:
    words = _WORDS[size] if size < len(_WORDS) else f"{size} together"
    return words, "1 queen" if size == 1 else f"{size} queens"


def check_sheet(
    rows: Sequence[CheckRow],
    *,
    keeper: str = "",
    dates: int = 6,
    rest: bool = True,
    foot: str = "Check sheet",
    paper: str = "a4",
    note_lines: int = 3,
) -> bytes:
    """PDF of the check sheet: one row per open founding, boxes sized for a pen.

    Parameters
    ----------
    rows : sequence of CheckRow
    keeper : str
    dates : int
        Looks side by side, 1 to 6; 1 leaves a wide box for the note.
    rest : bool
        Whether the line on ``rest same`` is printed.
    foot : str
        Line at the foot of the page.
    paper : {"a4", "letter"}
    note_lines : int
        Ruled lines below the table.
    """
    if not 1 <= dates <= 6:
        raise StudyError(f"{dates} dates do not go on a sheet. Take 1 to 6.")
    _not_too_many([row.number for row in rows])
    fit = 21 if dates == 1 else 15  # rows that leave room for the ruled lines at the foot
    data = _base(f"Check sheet {keeper}".strip(), keeper, foot, paper)
    data |= {
        "dates": dates,
        "rest": rest,
        "note_lines": note_lines,
        "law": LINES["checks"],
        "pages": [
            [
                {"number": r.number, "kind": r.kind, "italic": r.italic, "last": r.last}
                for r in rows[at : at + fit]
            ]
            for at in range(0, len(rows), fit)
        ],
    }
    return typeset("checks", data)


def label_sheet(numbers: Sequence[str], *, line: str = "", paper: str = "a4") -> bytes:
    """PDF of labels, two of each number."""
    _not_too_many(numbers)
    data = _base("Labels", "", "Labels", paper)
    return typeset("labels", data | {"numbers": list(numbers), "line": line})


def _not_too_many(numbers: Sequence[str]) -> None:
    if not 1 <= len(numbers) <= MOST_ROWS:
        raise StudyError(f"{len(numbers)} numbers do not go on a sheet. Take 1 to {MOST_ROWS}.")
