"""The settings of a study: rows of text -> `Settings`.

What comes in: the raw tables of the sheet `study` (a tab, `study.csv` or `study.toml`). What goes
out: `Settings` and findings. A setting that cannot be read keeps its default here and has its
finding, so that all other rules can still run.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import MISSING, dataclass, field, fields
from typing import Any, NamedTuple, get_type_hints

from pydantic import BaseModel, Field, ValidationError, create_model, field_validator
from pydantic_core import PydanticCustomError

from cohort.audit import cells
from cohort.audit.find import place_of, tell
from cohort.base.errors import Finding
from cohort.sheets.raw import RawTable, column_name
from cohort.terms import QUESTIONS, SETTINGS
from cohort.terms.adjusting import SEEN, Adjust
from cohort.terms.columns import Column
from cohort.terms.levels import MATED, PARTS
from cohort.terms.near import did_you_mean


@dataclass(frozen=True)
class Settings:
    """What was agreed for the study as a whole.

    Parameters
    ----------
    title, season, place, photo_credit : str
        As typed; blank when not given.
    horizon_days : int
        Day agreed at the start, in days since day 0.
    ends : date or None
        Last day of the study.
    clock : {"setup", "flight"}
        Where day 0 lies.
    date_order : {"", "dmy", "mdy", "ymd"}
        How text dates are read.
    leave_out : tuple of str
        Reasons agreed before the first look.
    fight_rule : str
        What is done when queens fight; blank when not agreed.
    primary_question : str
        As in `cohort.terms.QUESTIONS`, or in the club's words; blank when not agreed.
    adjust : Adjust
        What the comparison is adjusted for, by the part of the model it may move.
    show_keepers : bool
        Whether keepers may be told apart in print.
    look_every : int
        Days between two looks as agreed.
    through_winter : bool
        Whether foundings are followed through winter rest, up to the horizon.
    """

    title: str = ""
    season: str = ""
    horizon_days: int = 180
    ends: dt.date | None = None
    clock: str = "setup"
    date_order: str = ""
    place: str = ""
    leave_out: tuple[str, ...] = ()
    fight_rule: str = ""
    primary_question: str = ""
    adjust: Adjust = field(default_factory=Adjust)
    show_keepers: bool = False
    photo_credit: str = ""
    look_every: int = 4
    through_winter: bool = False


# Beyond these a number of days is a slip of the pen.
_RANGES = {"horizon_days": (1, 1500), "look_every": (1, 60)}


class _Cell(NamedTuple):
    text: str
    place: Finding  # empty finding that bears the place


_LISTS = ("leave_out",)
_BY_PART = "before: feeding, housing; first worker: housing"


def _raise(problem: cells.Problem) -> None:
    raise PydanticCustomError(
        "cell", "{what}\n{remedy}", {"what": problem.what, "remedy": problem.remedy}
    )


def _reads(column: Column, order: str) -> Callable[[object], object]:
    """Validator that reads the text of one setting."""

    def read(text: object) -> object:
        value = _value(str(text), column, order)
        if isinstance(value, cells.Problem):
            _raise(value)
        return value

    return read


def _value(text: str, column: Column, order: str) -> object:
    if column.name == "primary_question":
        return _question(text)
    if column.name == "adjust":
        return _adjusted(text, column)
    if column.name in _LISTS:
        return _listed(text, column)
    if column.kind == "date":
        return cells.date(text, order)
    if column.kind == "count":
        count = cells.count(text, column)
        return count.number if isinstance(count, cells.Count) else count
    if column.kind == "yes-no":
        value = cells.word(text, column)
        return value if isinstance(value, cells.Problem) else value == "yes"
    return cells.word(text, column) if column.kind == "word" else text


def _question(text: str) -> str:
    """Question by its name where it is one of ours; else as the club worded it."""
    low = column_name(text)
    return low if low in QUESTIONS else text


def _listed(text: str, column: Column) -> tuple[str, ...] | cells.Problem:
    read = [cells.word(part.strip(), column) for part in text.split(",") if part.strip()]
    for item in read:
        if isinstance(item, cells.Problem):
            return item
    return tuple(str(item) for item in read)


def _adjusted(text: str, column: Column) -> Adjust | cells.Problem:
    """Differences to allow for: a plain list, or lists behind the part that each may move."""
    if ":" not in text:
        plain = _listed(text, column)
        return plain if isinstance(plain, cells.Problem) else Adjust.of(plain)
    parts: dict[str, tuple[str, ...]] = {}
    for piece in (p.strip() for p in text.split(";") if p.strip()):
        head, colon, rest = piece.partition(":")
        part, known = column_name(head).replace("-", "_"), ", ".join(_said(p) for p in PARTS)
        if not colon or part not in PARTS:
            return cells.Problem(
                "setting",
                tell("adjust_part", text=head.strip(), words=known),
                did_you_mean(part, PARTS) or tell("adjust_part_do", example=_BY_PART),
            )
        listed = _listed(rest, column)
        if isinstance(listed, cells.Problem):
            return listed
        parts[part] = (*parts.get(part, ()), *listed)
    if SEEN in parts.get(MATED, ()):
        return cells.Problem(
            "setting",
            tell("adjust_mated", column=SEEN),
            tell("adjust_mated_do", column=SEEN, part=MATED),
        )
    return Adjust(**parts)


def _said(part: str) -> str:
    return part.replace("_", " ")


def read_settings(raw: Sequence[RawTable]) -> tuple[Settings, list[Finding]]:
    """Settings of a study, and what is wrong with them.

    Parameters
    ----------
    raw : sequence of RawTable
        Tables of the sheet `study`, with the columns setting and value.
    """
    order = _order(raw)
    typed, findings = _typed_cells(raw, order)
    reader = _reader(order)
    kept = dict(typed)
    while True:
        try:
            return reader({name: cell.text for name, cell in kept.items()}), findings
        except ValidationError as fault:
            faulty = {str(error["loc"][0]): error for error in fault.errors()}
            findings += [_told(name, kept[name], dict(error)) for name, error in faulty.items()]
            kept = {name: cell for name, cell in kept.items() if name not in faulty}


def _reader(order: str) -> Callable[[dict[str, str]], Settings]:
    """Model that reads all settings at once and tells of every fault."""
    hints: dict[str, Any] = get_type_hints(Settings)
    defined: dict[str, Any] = {}
    reads: dict[str, Any] = {}
    for item in fields(Settings):
        low, high = _RANGES.get(item.name, (None, None))
        default = item.default if item.default is not MISSING else Adjust()
        defined[item.name] = (hints[item.name], Field(default=default, ge=low, le=high))
        read = _reads(SETTINGS[item.name], order)
        reads[f"read_{item.name}"] = field_validator(item.name, mode="before")(read)
    model: type[BaseModel] = create_model("SettingsAsTyped", __validators__=reads, **defined)
    return lambda texts: Settings(**dict(model.model_validate(texts)))


def _told(name: str, cell: _Cell, error: Mapping[str, Any]) -> Finding:
    if error["type"] == "cell":
        what, remedy = error["ctx"]["what"], error["ctx"]["remedy"]
    else:
        low, high = _RANGES[name]
        what = tell("setting_range", text=cell.text, low=str(low), high=str(high))
        remedy = tell("setting_range_do")
    return _finding(cell.place, rule="setting", column=name, what=what, remedy=remedy)


def _finding(place: Finding, *, rule: str, column: str, what: str, remedy: str) -> Finding:
    return Finding(
        level="error",
        rule=rule,
        file=place.file,
        tab=place.tab,
        row=place.row,
        column=column,
        what=what,
        remedy=remedy,
    )


def _order(raw: Sequence[RawTable]) -> str:
    """Setting ``date_order``, by which the others are read; blank where it is unreadable."""
    said = (cell.text for name, cell in _rows(raw) if name == "date_order" and cell.text)
    order = cells.word(next(said, ""), SETTINGS["date_order"])
    return order if isinstance(order, str) else ""


def _typed_cells(raw: Sequence[RawTable], order: str) -> tuple[dict[str, _Cell], list[Finding]]:
    """First filled cell of each setting; a blank one says nothing, and contradicts none."""
    typed: dict[str, _Cell] = {}
    findings: list[Finding] = []
    for name, cell in _rows(raw):
        if name not in SETTINGS:
            findings.append(_unknown(name, cell))
        elif not cell.text:
            continue
        elif name in typed and not _alike(name, typed[name].text, cell.text, order):
            findings.append(
                _finding(
                    cell.place,
                    rule="setting-twice",
                    column=name,
                    what=tell(
                        "setting_twice",
                        setting=name,
                        here=cell.text,
                        there=typed[name].text,
                        place=place_of(typed[name].place),
                    ),
                    remedy=tell("setting_twice_do"),
                )
            )
        else:
            typed.setdefault(name, cell)
    return typed, findings


def _alike(name: str, one: str, other: str, order: str) -> bool:
    """Whether two texts of a setting mean the same: ``Yes`` and ``yes``, two spellings of a day."""
    values = [_value(text, SETTINGS[name], order) for text in (one, other)]
    readable = not any(isinstance(value, cells.Problem) for value in values)
    return one == other or (readable and values[0] == values[1])


def _rows(raw: Sequence[RawTable]) -> Iterator[tuple[str, _Cell]]:
    for table in raw:
        names = {column_name(str(heading)): str(heading) for heading in table.frame.columns}
        if "setting" not in names or "value" not in names:
            continue
        pairs = zip(
            table.frame[names["setting"]], table.frame[names["value"]], table.rows, strict=True
        )
        for setting, value, row in pairs:
            place = Finding(
                level="note",
                rule="",
                what="",
                remedy="",
                file=table.file,
                tab=table.tab,
                row=int(row),
            )
            if setting:
                yield column_name(setting), _Cell(value, place)


def _unknown(name: str, cell: _Cell) -> Finding:
    return Finding(
        level="warning",
        rule="setting-unknown",
        file=cell.place.file,
        tab=cell.place.tab,
        row=cell.place.row,
        column=name,
        what=tell("setting_unknown"),
        remedy=did_you_mean(name, SETTINGS)
        or tell("setting_unknown_do", settings=", ".join(SETTINGS)),
    )
