"""The year in the folder ``year``: its steps, and what is done by hand between the commands."""

from __future__ import annotations

import csv
import datetime as dt
import re
import shlex
import shutil
from dataclasses import dataclass, field
from pathlib import Path

import xlsxwriter
from typed_book import typed_into

HERE = Path(__file__).parent / "year"
_STEP = re.compile(r"(\d{4}-\d\d-\d\d) (K\d) (.+)")
_PART = re.compile(r"# --- ([\w ]+?) -+")


@dataclass
class Step:
    """A command, or with @ something done by hand: day, keeper, words; what the screen says."""

    day: dt.date
    who: str
    words: list[str]
    part: str = ""
    message: str = ""
    exit_code: int = 0
    says: list[str] = field(default_factory=list)
    never: list[str] = field(default_factory=list)
    elsewhere: bool = False

    @property
    def by_hand(self) -> bool:
        return self.words[0].startswith("@")

    def __str__(self) -> str:
        return f"{self.day} {self.who} {shlex.join(self.words)}"


def steps(*parts: str) -> list[Step]:
    """Steps of some parts of the year, or all of them, in the order in which they are taken."""
    out: list[Step] = []
    part = ""
    for line in (HERE / "year.txt").read_text("utf-8").splitlines():
        begins, titled = _STEP.fullmatch(line), _PART.fullmatch(line)
        word, _, rest = line.strip().partition(" ")
        if begins:
            day, who, words = begins.groups()
            out.append(Step(dt.date.fromisoformat(day), who, shlex.split(words), part))
        elif titled:
            part = titled[1]
        elif word == "|":
            out[-1].message += f"{rest}\n"
        elif word == "elsewhere":
            out[-1].elsewhere = True
        elif word == "exit":
            out[-1].exit_code = int(rest)
        elif word in ("says", "never"):
            getattr(out[-1], word).append(rest)
        elif word and word != "#":
            raise ValueError(f"year.txt: {line}")
    return [step for step in out if not parts or step.part in parts]


def folder_of(place: Path, who: str) -> Path:
    """Where a keeper sits: what K1 sends by phone is taken in by K2."""
    return place / ("k3" if who == "K3" else "k2")


def by_hand(place: Path, step: Step) -> None:
    """What is done without a command."""
    what, *rest = step.words
    {"@table": _table, "@paper": _paper, "@send": _send, "@setting": _setting, "@kind": _kind}[
        what
    ](place, *rest)


def _table(place: Path, until: str) -> None:
    """K2's own spreadsheet, as far as it has grown."""
    head, *rows = csv.reader((HERE / "table.csv").read_text("utf-8").splitlines())
    days = [j for j, day in enumerate(head) if day[:2] == "20" and day <= until]
    book = xlsxwriter.Workbook(str(place / "k2" / "my ants.xlsx"))
    tab, form = book.add_worksheet("Ants"), book.add_format({"num_format": "d.m.yy"})
    tab.write(0, 0, "My queens 2025")
    tab.write_row(2, 0, ("Tube", "What", "Set up", "Queens at the start"))
    for place_of, j in enumerate(days, start=4):
        tab.write_datetime(2, place_of, dt.datetime.fromisoformat(head[j]), form)
    for i, row in enumerate(rows, start=3):
        tab.write_row(i, 0, row[:2])
        tab.write_datetime(i, 2, dt.datetime.fromisoformat(row[2]), form)
        tab.write(i, 3, int(row[3]))
        for place_of, j in enumerate(days, start=4):
            if row[j]:
                tab.write(i, place_of, int(row[j]) if row[j].isdigit() else row[j])
    tab.write(len(rows) + 4, 0, "2/4 = two queens, four workers")
    book.close()


def _paper(place: Path, typed: str) -> None:
    """What K3 types from paper into her workbook on an evening."""
    home = place / "k3" / "home"
    home.mkdir(parents=True, exist_ok=True)
    if not (home / "K3.xlsx").exists():
        shutil.copy(place / "k2" / "club" / "K3.xlsx", home / "K3.xlsx")
    rows: dict[str, list[tuple[int | None, dict[str, str | int | dt.date]]]] = {}
    for row in csv.DictReader((HERE / "paper.csv").read_text("utf-8").splitlines()):
        if row.pop("typed") == typed:
            tab, number = row.pop("tab"), row.pop("row")
            cells = {name: _as_cell(text) for name, text in row.items() if text}
            rows.setdefault(tab, []).append((int(number) if number else None, cells))
    for tab, some in rows.items():
        typed_into(home / "K3.xlsx", tab, some)


def _as_cell(text: str) -> str | int | dt.date:
    if text.isdigit():
        return int(text)
    return dt.date.fromisoformat(text) if re.fullmatch(r"\d{4}-\d\d-\d\d", text) else text


def _send(place: Path, name: str) -> None:
    """K3 mails her workbook, and K2 puts it into the club's folder."""
    shutil.copy(place / "k3" / "home" / name, place / "k2" / "club" / name)


def _setting(place: Path, name: str, value: str) -> None:
    """K2 fills in a setting in the tab study of her workbook."""
    row = {"look_every": 15, "horizon_days": 4, "through_winter": 16}[name]
    typed_into(place / "k2" / "club" / "K2.xlsx", "study", [(row, {"value": _as_cell(value)})])


def _kind(place: Path, kind: str, genus: str) -> None:
    """K2 writes the genus of a kind into the sheet kinds, in a text editor."""
    sheet = place / "k2" / "club" / "kinds-K1.csv"
    text = sheet.read_text("utf-8")
    sheet.write_text(text.replace(f"{kind},,", f"{kind},{genus},"), "utf-8")
