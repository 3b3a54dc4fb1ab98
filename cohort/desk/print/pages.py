"""What stands on the printed sheets.

What comes in: plain values. What goes out: bytes of a PDF each, and the list of lots behind a
night sheet so that it can be kept with the study. It reads no study and writes no file.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from cohort.base.errors import StudyError
from cohort.desk.allot import Ask, shuffled
from cohort.desk.print.typeset import typeset
from cohort.sheets.cautions import cautions_in, line_in
from cohort.terms.voice import ENGLISH, Voice, voice

KIND_COLUMNS = "ABC"
"""Columns of lots on a night sheet: one for each kind met that night."""
MOST_ROWS = 2000
LOTS = 16
"""Lots of one kind on a page."""
SHORTER = {"a4": 0.0, "letter": 18.0}
"""How much less high a page is, in mm."""
ROOM = "cohort.desk.print"
"""Where the words of the sheets are, see `cohort.terms.voice`."""


def speaks(language: str = ENGLISH) -> Voice:
    """The voice of the printed sheets."""
    return voice(ROOM, language)


@dataclass(frozen=True)
class CheckRow:
    """A row of the check sheet: number, kind, whether the kind is a genus, last look as text."""

    number: str
    kind: str = ""
    italic: bool = False
    last: str = ""


@dataclass(frozen=True)
class Label:
    """A label: number, and of a founding that has begun its kind and what else is told of it."""

    number: str
    kind: str = ""
    italic: bool = False
    told: str = ""


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


def blocks_for(numbers: int, ask: Ask) -> int:
    """Blocks of lots for each kind: as many as the numbers can use, and a page has room for.

    Parameters
    ----------
    numbers : int
        Numbers that stand ready.
    ask : Ask
    """
    return max(1, min(math.ceil(numbers / ask.block), LOTS // ask.block))


def _stretched(room: float, many: int, least: float, most: float) -> float:
    """Height of each of so many rows that share some room, in mm."""
    return round(min(most, max(least, room / many)), 2)


def _base(own: Voice, title: str, keeper: str, foot: str, paper: str) -> dict[str, Any]:
    return {
        "title": f"{own.say(title)} {keeper}".strip(), "keeper": keeper, "foot": foot,
        "paper": paper, "language": own.language,
        "page": own.say("page_of", page="{page}", pages="{pages}"),
    }  # fmt: skip


def _said(own: Voice, *keys: str, **filled: dict[str, Any]) -> dict[str, list[str]]:
    """Pieces of what is said, every second one bold; nothing that is filled in becomes bold."""
    out = {}
    for key in (*keys, *filled):
        pieces = str(own.sentences[key]).split("*")
        written = {name: own.write(value) for name, value in filled.get(key, {}).items()}
        out[key] = [piece.format(**written) for piece in pieces]
    return out


def night_sheet(
    lots: NightList,
    numbers: Sequence[str],
    *,
    keeper: str = "",
    leave_out: Sequence[str] = (),
    line: str = "",
    paper: str = "a4",
    labels: bool = True,
    language: str = ENGLISH,
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
    language : str
        Two-letter code.
    """
    _not_too_many(numbers)
    own = speaks(language)
    columns = [
        {
            "kind": own.say("kind_column", column=KIND_COLUMNS[c]),
            "blocks": [
                [
                    {"name": f"{lots.block_name(c, b)}.{i}", "words": _lot_words(size, own)}
                    for i, size in enumerate(block, start=1)
                ]
                for b, block in enumerate(blocks)
            ],
        }
        for c, blocks in enumerate(lots.columns)
    ]
    data = _base(own, "night_title", keeper, own.say("night_title"), paper)
    data |= {
        "numbers": list(numbers),
        "row": _stretched(148 - SHORTER.get(paper, 0), len(numbers), 8, 13),
        "columns": columns,
        "lot-row": _lot_row(lots, paper),
        "cautions": [list(pair) for pair in cautions_in(own)],
        "labels": [vars(Label(number)) for number in numbers] if labels else [],
        "line": line,
        "said": _said(
            own, "before_you_go", "night_title", "date", "place", "step_sort", "step_row",
            "step_label", "number", "kind", "queens_head", "lot", "container", "note",
            "lots_title", "lots_few", "lot_number", "labels_told",
            step_aside={"reasons": ", ".join(leave_out) or own.say("step_example")},
            night_foot={"lot": f"{lots.block_name(0, 0)}.1"},
            lots_of={"list": lots.name, "seed": str(lots.seed)},
            lots_read={"block": lots.ask.block},
        ),
    }  # fmt: skip
    return typeset("night", data)


def _lot_row(lots: NightList, paper: str) -> float:
    """Height of a lot that fills the page, in mm."""
    (first, *_) = lots.columns
    return _stretched(200 - SHORTER.get(paper, 0) - 4 * len(first), sum(map(len, first)), 10.5, 17)


def _lot_words(size: int, own: Voice) -> tuple[str, str]:
    words = own.say("lot_several", queens=own.number(size))
    if size < 2:
        words = own.say(f"lot_{size}")
    return words, own.say("queens", n=size)


def check_sheet(
    rows: Sequence[CheckRow],
    *,
    keeper: str = "",
    dates: int = 6,
    rest: bool = True,
    foot: str = "",
    paper: str = "a4",
    language: str = ENGLISH,
) -> bytes:
    """PDF of the check sheet: one row per open founding, one box per day, sized for a pen.

    What is written in a box are check notes without the number: ``3 0 eggs``.

    Parameters
    ----------
    rows : sequence of CheckRow
    keeper : str
    dates : int
        Looks side by side, 1 to 6; 1 leaves a wide box.
    rest : bool
        Whether the line on ``rest same`` is printed.
    foot : str
        Line at the foot of the page; the name of the sheet if not given.
    paper : {"a4", "letter"}
    language : str
        Two-letter code.
    """
    own = speaks(language)
    if not 1 <= dates <= 6:
        raise StudyError(f"{dates} dates do not go on a sheet. Take 1 to 6.")
    _not_too_many([row.number for row in rows])
    fit = 21 if dates == 1 else 15  # rows that leave room for the ruled lines at the foot
    fit = math.ceil(len(rows) / math.ceil(len(rows) / fit))  # no page with a row or two
    room = 199.5 if dates == 1 else 129
    data = _base(own, "checks_title", keeper, foot or own.say("checks_title"), paper)
    data |= {
        "dates": dates,
        "row": _stretched(room, fit, 8.6, 9.5),
        "rest": rest,
        "law": line_in(own, "checks"),
        "said": _said(
            own,
            "checks_title",
            "checks_signs",
            "checks_legend",
            "checks_rest",
            "number",
            "kind",
            "last_look",
            "date",
            "notes",
            "notes_told",
        ),
        "pages": [
            [
                {"number": r.number, "kind": r.kind, "italic": r.italic, "last": r.last}
                for r in rows[at : at + fit]
            ]
            for at in range(0, len(rows), fit)
        ],
    }
    return typeset("checks", data)


def label_sheet(
    labels: Sequence[Label | str], *, line: str = "", paper: str = "a4", language: str = ENGLISH
) -> bytes:
    """PDF of labels, two of each.

    Parameters
    ----------
    labels : sequence of Label or str
        A number alone leaves lines to write on.
    line : str
        Small print on a label, such as the season.
    paper : {"a4", "letter"}
    language : str
        Two-letter code.
    """
    each = [Label(one) if isinstance(one, str) else one for one in labels]
    _not_too_many([one.number for one in each])
    own = speaks(language)
    data = _base(own, "labels_title", "", own.say("labels_title"), paper)
    said = _said(own, "labels_told", "kind", "date")
    return typeset(
        "labels", data | {"labels": [vars(one) for one in each], "line": line, "said": said}
    )


def _not_too_many(numbers: Sequence[str]) -> None:
    if not 1 <= len(numbers) <= MOST_ROWS:
        raise StudyError(f"{len(numbers)} numbers do not go on a sheet. Take 1 to {MOST_ROWS}.")
