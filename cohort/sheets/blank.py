"""Empty workbooks for keepers, made from the contract.

What comes in: a keeper's sign and the settings agreed. What goes out: the bytes of an XLSX file
with a first tab that explains the words, one tab per sheet, drop-downs and rules for dates and
whole numbers. It writes no file itself and never opens an existing workbook.
"""

from __future__ import annotations

import datetime as dt
import io
from collections.abc import Mapping, Sequence
from typing import Any

import xlsxwriter

from cohort.sheets.cautions import CAUTIONS
from cohort.sheets.numbers import next_numbers
from cohort.terms.columns import Column, Sheet
from cohort.terms.contract import CONTRACT_VERSION, SETTINGS, SHEETS

ROOM = 5000
"""Rows with drop-downs and rules in each tab that grows with the looks."""
EARLIEST = dt.date(1950, 1, 1)
_WIDTH = {
    "id": 11,
    "text": 18,
    "word": 15,
    "date": 12,
    "count": 12,
    "days": 12,
    "number": 10,
    "yes-no": 9,
    "genus": 16,
}
_FORMATS = {"id": "@", "text": "@", "genus": "@", "word": "@", "yes-no": "@", "date": "yyyy-mm-dd"}
# Where `5+` may stand the column is text: one spreadsheet program takes a typed `5+` for 5.

HOW = (
    ("An empty cell means: not looked at.", "Never write 0 for a thing you did not look at."),
    (
        "0 means: looked, and saw none.",
        "A founding whose queens are all dead gets a last row with 0.",
    ),
    ("5+ means: at least five.", "For queens and workers that were too many to count."),
    (
        "One row for each container, one row for each look.",
        "The container with its queens is the founding; its number is never used again.",
    ),
    (
        "Nothing changed in all the others?",
        "One row with rest as the number and same as queens_alive stands for every open founding "
        "of this file that was not named that day.",
    ),
    ("Two kinds never share a container.", "Ants that look alike to you are one kind; see kinds."),
    ("Extra columns are yours.", "They are kept and not read."),
    ("Notes are never printed.", "Still, write the region and no address."),
)


def blank_workbook(
    keeper: str = "",
    *,
    numbers: int | Sequence[str] = 99,
    settings: Mapping[str, str] | None = None,
) -> bytes:
    """Bytes of an empty workbook (XLSX).

    Parameters
    ----------
    keeper : str
        Sign of the keeper whose numbers are filled in; blank: no numbers are filled in.
    numbers : int or sequence of str
        How many numbers stand ready in the tab ``foundings`` (``K1-01``, ``K1-02`` ...), or which.
    settings : mapping of str to str, optional
        Settings agreed for the study, put into the tab ``study``.

    Returns
    -------
    bytes
        The same for the same arguments.
    """
    out = io.BytesIO()
    book = xlsxwriter.Workbook(
        out,
        {
            "in_memory": True,
            "strings_to_formulas": False,
            "strings_to_urls": False,
            "strings_to_numbers": False,
        },
    )
    book.set_properties(
        {"title": f"Foundings {keeper}".strip(), "created": dt.datetime(2026, 1, 1)}
    )
    formats = _formats(book)
    tabs = {name: book.add_worksheet(name) for name in ("words", *SHEETS)}
    _explain(tabs["words"], formats, keeper)
    for sheet in SHEETS.values():
        if sheet.name == "study":
            _settings(tabs["study"], formats, settings or {})
        else:
            _sheet(tabs[sheet.name], sheet, formats)
    if keeper:
        ready = next_numbers(keeper, (), numbers) if isinstance(numbers, int) else numbers
        for row, number in enumerate(ready, start=1):
            tabs["foundings"].write_string(row, 0, number, formats["@"])
            place = SHEETS["foundings"].names.index("keeper")
            tabs["foundings"].write_string(row, place, keeper, formats["@"])
    book.close()
    return out.getvalue()


def _formats(book: Any) -> dict[str, Any]:
    base = {"font_name": "Arial", "font_size": 10, "valign": "top"}
    head = {**base, "bold": True, "border": 1, "valign": "vcenter"}
    return {
        "@": book.add_format({**base, "num_format": "@"}),
        "yyyy-mm-dd": book.add_format({**base, "num_format": "yyyy-mm-dd"}),
        "": book.add_format(base),
        "wrap": book.add_format({**base, "text_wrap": True}),
        "word": book.add_format({**base, "text_wrap": True, "font_color": "#2F4B3C", "indent": 1}),
        "bold": book.add_format({**base, "bold": True, "text_wrap": True}),
        "title": book.add_format({**base, "bold": True, "font_size": 15}),
        "yes": book.add_format({**head, "bg_color": "#2F4B3C", "font_color": "#FFFFFF"}),
        "one-of": book.add_format({**head, "bg_color": "#9DB5A6"}),
        "no": book.add_format({**head, "bg_color": "#E4EAE6"}),
    }


# --- the first tab ------------------------------------------------------------------------------


def _explain(tab: Any, formats: dict[str, Any], keeper: str) -> None:
    tab.hide_gridlines(2)
    for column, width in enumerate((22, 20, 10, 84)):
        tab.set_column(column, column, width, formats["wrap"])
    row = 0
    tab.write_string(
        row, 0, f"What the words mean{f' ({keeper})' if keeper else ''}", formats["title"]
    )
    row = _pairs(tab, formats, row + 2, HOW)
    tab.write_string(row + 1, 0, "Before you go out", formats["title"])
    row = _pairs(tab, formats, row + 2, CAUTIONS)
    tab.write_string(row + 1, 0, "Every column", formats["title"])
    row += 2
    for sheet in SHEETS.values():
        row = _columns(tab, formats, row, sheet)
    tab.write_string(row, 0, f"Sheets of contract version {CONTRACT_VERSION}.", formats[""])
    tab.set_landscape()
    tab.set_paper(9)
    tab.fit_to_pages(1, 0)


def _pairs(tab: Any, formats: dict[str, Any], row: int, pairs: tuple[tuple[str, str], ...]) -> int:
    for word, text in pairs:
        tab.merge_range(row, 0, row, 1, word, formats["bold"])
        tab.merge_range(row, 2, row, 3, text, formats["wrap"])
        tab.set_row(row, 15 * max(1, -(-len(text) // 95), -(-len(word) // 36)))
        row += 1
    return row


def _columns(tab: Any, formats: dict[str, Any], row: int, sheet: Sheet) -> int:
    tab.write_string(row, 0, f"tab {sheet.name}", formats["bold"])
    tab.merge_range(row, 1, row, 3, sheet.purpose, formats["bold"])
    row += 1
    for j, word in enumerate(("column", "example", "needed", "meaning")):
        tab.write_string(row, j, word, formats["no"])
    row += 1
    columns = tuple(SETTINGS.values()) if sheet.name == "study" else sheet.columns
    for column in columns:
        row = _explain_column(tab, formats, row, column, sheet.name == "study")
    return row + 1


def _explain_column(
    tab: Any, formats: dict[str, Any], row: int, column: Column, setting: bool
) -> int:
    need = {"yes": "yes", "one-of": "one of", "no": "no"}[column.need]
    unit = f" ({column.unit})" if column.unit and column.unit not in column.meaning else ""
    tab.write_string(row, 0, column.name, formats["bold"])
    tab.write_string(row, 1, column.example, formats["wrap"])
    tab.write_string(row, 2, "no" if setting else need, formats["wrap"])
    tab.write_string(row, 3, column.meaning + unit, formats["wrap"])
    tab.set_row(row, 14 * max(1, -(-len(column.meaning + unit) // 80)))
    row += 1
    if column.kind == "word":
        for word in column.allowed:
            told = column.meanings.get(word, "another word for the same")
            tab.write_string(row, 1, word, formats["word"])
            tab.write_string(row, 3, told, formats["word"])
            tab.set_row(row, 14 * max(1, -(-len(told) // 80)))
            row += 1
    return row


# --- the tabs to fill in ------------------------------------------------------------------------


def _sheet(tab: Any, sheet: Sheet, formats: dict[str, Any]) -> None:
    tab.freeze_panes(1, 1)
    tab.set_row(0, 22)
    for j, column in enumerate(sheet.columns):
        form = formats["@" if column.at_least else _FORMATS.get(column.kind, "")]
        tab.set_column(j, j, max(_WIDTH[column.kind], len(column.name) + 3), form)
        tab.write_string(0, j, column.name, formats[column.need])
        tab.write_comment(0, j, _comment(column), {"x_scale": 2, "y_scale": 1.2})
        rule = _rule(sheet, column, j)
        if rule:
            tab.data_validation(1, j, ROOM, j, rule)
        if column.at_least:
            tab.ignore_errors({"number_stored_as_text": f"{chr(65 + j)}2:{chr(65 + j)}{ROOM + 1}"})
    tab.set_landscape()
    tab.set_paper(9)
    tab.repeat_rows(0)
    tab.fit_to_pages(1, 0)


def _comment(column: Column) -> str:
    words = f"\nOne of: {', '.join(column.allowed)}." if column.allowed else ""
    return f"{column.meaning}.\nExample: {column.example}{words}"


def _rule(sheet: Sheet, column: Column, j: int) -> dict[str, Any]:
    """Rule of a column's cells as the workbook writer wants it; empty where any text will do."""
    cell = f"{chr(65 + j)}2"  # no sheet has more than 26 columns
    alert = {
        "ignore_blank": True,
        "error_title": column.name,
        "error_message": f"{column.meaning}. Example: {column.example}"[:255],
    }
    if column.kind in ("word", "yes-no"):
        return {"validate": "list", "source": list(column.allowed), **alert}
    if column.kind == "date":
        return {"validate": "date", "criteria": ">=", "value": EARLIEST, **alert}
    if column.kind == "count" and column.at_least:
        bare = f'VALUE(SUBSTITUTE({cell},"+",""))'
        formula = f'=OR({cell}="same",IFERROR(AND({bare}>=0,{bare}=INT({bare})),FALSE))'
        return {"validate": "custom", "value": formula, **alert}
    if column.kind == "count":
        least = 1 if (sheet.name, column.name) == ("foundings", "queens") else 0
        return {"validate": "integer", "criteria": ">=", "value": least, **alert}
    if column.kind == "days":
        return {"validate": "decimal", "criteria": ">=", "value": 0, **alert}
    if column.kind == "number":
        return {
            "validate": "decimal",
            "criteria": "between",
            "minimum": -60,
            "maximum": 80,
            **alert,
        }
    if column.name == "founding" and sheet.name in ("checks", "events"):
        return {
            "validate": "list",
            "source": f"=foundings!$A$2:$A${ROOM + 1}",
            "show_error": False,
            "ignore_blank": True,
        }
    return {}


def _settings(tab: Any, formats: dict[str, Any], settings: Mapping[str, str]) -> None:
    tab.freeze_panes(1, 1)
    for j, (word, width) in enumerate((("setting", 20), ("value", 42), ("meaning", 76))):
        tab.set_column(j, j, width, formats["@" if j < 2 else "wrap"])
        tab.write_string(0, j, word, formats["yes" if j < 2 else "no"])
    for row, column in enumerate(SETTINGS.values(), start=1):
        tab.write_string(row, 0, column.name, formats["@"])
        value = settings.get(column.name, "")
        if value:
            tab.write_string(row, 1, value, formats["@"])
        words = f" One of: {', '.join(column.allowed)}." if column.allowed else ""
        told = f"{column.meaning}. Example: {column.example}.{words}"
        tab.write_string(row, 2, told, formats["wrap"])
        tab.set_row(row, 14 * -(-len(told) // 76))
        if column.kind in ("word", "yes-no") and "commas" not in column.meaning:
            tab.data_validation(
                row,
                1,
                row,
                1,
                {"validate": "list", "ignore_blank": True, "source": list(column.allowed)},
            )
