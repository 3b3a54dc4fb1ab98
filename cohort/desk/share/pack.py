"""A study as one file that can be sent.

Comes in: the folder of a study. Goes out: the bytes of a ZIP file: its sheets as CSV, its drawn
lists, and a manifest with the SHA-256 of each. The same sheets give the same bytes.

Left out: where queens were caught (``place``), photographs and who took them, and notes, unless
they are asked for: people write addresses and names into them. The column ``keeper`` goes along
only where the study shows its keepers, else it is blank: a number such as K2-07 has the sign.
"""

from __future__ import annotations

import csv
import hashlib
import io
import json
import zipfile
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from string import ascii_lowercase
from types import MappingProxyType
from typing import Any, Final

from cohort.audit.alike import together
from cohort.audit.looks import HANDED
from cohort.audit.settings import read_settings
from cohort.base.errors import StudyError
from cohort.desk.sentences import tell
from cohort.desk.share.said import Said, rows_of, signs_of
from cohort.sheets.append import safe_name
from cohort.sheets.delimited import read_delimited
from cohort.sheets.files import bytes_of, inner
from cohort.sheets.folder import read_folder
from cohort.sheets.guard import guard
from cohort.sheets.lists import FOLDER, MAX_LIST
from cohort.sheets.numbers import keeper_of
from cohort.sheets.raw import Sheets, sheet_of, tag_of
from cohort.terms.contract import SHEET_NAMES, SHEETS

FORM: Final = "founding-cohort packed study"
VERSION: Final = 1
MANIFEST: Final = "manifest.json"
PRIVATE: Final = ("place", "photo", "photo_credit")
"""Columns and settings that never go along."""
NOTES: Final = "note"
_LONG_AGO: Final = (1980, 1, 1, 0, 0, 0)


@dataclass(frozen=True)
class Packed:
    """A packed study.

    Attributes
    ----------
    data : bytes
        Of the ZIP file.
    rows : mapping
        Sheet -> how many rows are in it.
    left_out : mapping
        Sheet -> columns that did not go along and had something in them.
    names_kept : tuple of str
        Signs that go along and look like names, for a word of warning: in founding numbers, and of
        keepers to whom foundings were handed over.
    """

    data: bytes
    rows: Mapping[str, int]
    left_out: Mapping[str, tuple[str, ...]]
    names_kept: tuple[str, ...]


def pack(folder: Path, *, notes: bool = False) -> Packed:
    """A study as one file to send.

    Parameters
    ----------
    folder : Path
    notes : bool
        Whether notes go along.

    Raises
    ------
    StudyError
        No such study; two of its sheets cannot be told apart once packed.
    """
    sheets = read_folder(folder)
    settings = read_settings(sheets.of("study"))[0]
    drop = {*PRIVATE, *(() if notes else (NOTES,)), *(() if settings.show_keepers else ("keeper",))}
    signs = {sign for sign in signs_of(sheets).values() if sign}
    files: dict[str, bytes] = {"study.csv": _settings(sheets, drop)}
    left: dict[str, set[str]] = {}
    counts: dict[str, int] = {}
    by_name: dict[tuple[str, str], list[Said]] = {}
    tags = _tags(sheets, signs)
    signed = {} if settings.show_keepers else _signed(sheets)
    for said in rows_of(sheets):
        said = _unnamed(said, signed)
        if said.says.get("event") == HANDED:
            signs.add(said.cells.get("other", ""))
        by_name.setdefault((said.sheet, tags[said.file]), []).append(said)
        left.setdefault(said.sheet, set()).update(name for name in drop if said.cells.get(name, ""))
        counts[said.sheet] = counts.get(said.sheet, 0) + 1
    for (sheet, tag), rows in by_name.items():
        files[f"{sheet}-{tag}.csv" if tag else f"{sheet}.csv"] = _csv(sheet, rows, drop)
    _same_scopes(files, [said for said in rows_of(sheets) if said.of_all])
    files |= _lists(folder)
    told = {sheet: tuple(sorted(names)) for sheet, names in left.items() if names}
    names = tuple(sorted(sign for sign in signs if sign.isalpha() and len(sign) > 2))
    return Packed(_zip(files, told), MappingProxyType(counts), MappingProxyType(told), names)


def _signed(sheets: Sheets) -> dict[str, str]:
    """Keeper as the column has it, in small letters -> the sign in the numbers of her foundings."""
    rows = together(sheets, "foundings")
    pairs = zip(rows["keeper"], rows["founding"], strict=True)
    return {str(name).lower(): sign for name, number in pairs if (sign := keeper_of(str(number)))}


def _unnamed(said: Said, signed: Mapping[str, str]) -> Said:
    """A row by which a founding was handed over names the new keeper by the sign in numbers."""
    sign = signed.get(said.cells.get("other", "").lower(), "")
    if not sign or said.says.get("event") != HANDED:
        return said
    return replace(said, cells={**said.cells, "other": sign})


def _tags(sheets: Sheets, signs: set[str]) -> dict[str, str]:
    """File -> what it is called by when packed: the sign of its keeper where there is one.

    Files that speak of the same foundings by ``rest`` share it, others do not: a workbook stands
    for itself, CSV files and notes by their name.
    """
    known = signs_of(sheets)
    group: dict[str, str] = {}
    of_group: dict[str, set[str]] = {}
    for table in sheets.tables:
        stem = table.file.rpartition(".")[0]
        group[table.file] = f"\0{table.file}" if table.tab else tag_of(stem, SHEET_NAMES).lower()
        if table.sheet == "foundings":
            mine = {known.get(number, "") for number in _numbers(sheets, table.file)}
            of_group.setdefault(group[table.file], set()).update(mine)
    out: dict[str, str] = {}
    taken: dict[str, str] = {}
    # those that hold foundings first: the others speak of theirs by the beginning of their name
    for one in sorted(set(group.values()), key=lambda name: (not of_group.get(name), name)):
        mine = of_group.get(one, set())
        sign = mine.copy().pop() if len(mine) == 1 else _begins(one, signs)
        base = safe_name(sign) if sign else "" if not one else "x"
        names = [base, *(f"{base or 'x'}-{letter}" for letter in ascii_lowercase)]
        free = [name for name in names if name not in taken.values()]
        if not free:
            raise StudyError(tell("pack_many"))
        taken[one] = free[0]
    for file, one in group.items():
        out[file] = taken[one]
    return out


def _begins(tag: str, signs: set[str]) -> str:
    """Sign that the name of a file begins with: ``k1-july`` -> ``K1``; blank for none."""
    found = [
        s for s in signs if tag == s.lower() or tag.startswith((f"{s.lower()}-", f"{s.lower()}_"))
    ]
    return max(found, key=len, default="")


def _numbers(sheets: Sheets, file: str) -> list[str]:
    frame = together(sheets, "foundings")
    return [str(number) for number in frame["founding"][frame["file_"] == file]]


def _settings(sheets: Sheets, drop: set[str]) -> bytes:
    frame = together(sheets, "study")
    rows = [
        (str(row["setting"]), str(row["value"]))
        for row in frame.to_dict("records")
        if str(row["setting"]) and str(row["setting"]) not in drop
    ]
    return _table(("setting", "value"), rows)


def _csv(sheet: str, rows: Sequence[Said], drop: set[str]) -> bytes:
    there = {name for row in rows for name in row.cells}
    names = [name for name in SHEETS[sheet].names if name in there and name not in drop]
    return _table(names, [[row.cells.get(name, "") for name in names] for row in rows])


def _table(names: Sequence[str], rows: Sequence[Sequence[str]]) -> bytes:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(names)
    writer.writerows([guard(cell) for cell in row] for row in rows)
    return out.getvalue().encode()


def _same_scopes(files: Mapping[str, bytes], said: Sequence[Said]) -> None:
    """Refuse a pack in which `rest` or `all` would speak of other foundings than at home."""
    if not said:
        return
    tables = []
    for name, data in files.items():
        table, _ = read_delimited(data, name, sheet_of(name, SHEET_NAMES))
        tables.append(table)
    there = Counter(
        (one.sheet, one.key[:2], one.covers) for one in rows_of(Sheets(tuple(tables), (), ()))
    )
    for one in said:
        if not there[(one.sheet, one.key[:2], one.covers)]:
            raise StudyError(tell("pack_all", place=one.place, word=one.cells["founding"]))


def _lists(folder: Path) -> dict[str, bytes]:
    found = sorted(inner(folder, FOLDER).glob("*.csv"))
    return {f"{FOLDER}/{safe_name(path.stem)}.csv": bytes_of(path, MAX_LIST) for path in found}


def _zip(files: Mapping[str, bytes], left_out: Mapping[str, Sequence[str]]) -> bytes:
    manifest: dict[str, Any] = {
        "form": FORM,
        "version": VERSION,
        "files": {name: hashlib.sha256(data).hexdigest() for name, data in sorted(files.items())},
        "left_out": {sheet: list(names) for sheet, names in sorted(left_out.items())},
    }
    everything = {MANIFEST: json.dumps(manifest, indent=1).encode(), **dict(sorted(files.items()))}
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packet:
        for name, data in everything.items():
            info = zipfile.ZipInfo(name, _LONG_AGO)
            info.compress_type = zipfile.ZIP_DEFLATED
            info.external_attr = 0o644 << 16
            packet.writestr(info, data)
    return out.getvalue()
