"""Workbooks as spreadsheet programs and their users make them: read right, or the cell is named.

Date systems: serial 1 is 1900-01-01 in the one and 0 is 1904-01-01 in the other (ECMA-376 part 1,
18.17.4.1). That 2008-01-01 is serial 39448 in the first stands in the help of spreadsheet programs
(from memory); the second lies 1462 days lower.
"""

from __future__ import annotations

import datetime as dt
import io
import struct
import zipfile
import zlib
from typing import Any

import pytest
from made_books import HEAD, altered, book, cells, ods

from cohort.base.errors import Finding
from cohort.sheets import container
from cohort.sheets.blank import ROOM, blank_workbook
from cohort.sheets.raw import RawTable
from cohort.sheets.workbook import read_workbook


def simple(made: Any, tab: Any) -> None:
    tab.write_row(0, 0, HEAD)
    tab.write_row(1, 0, ("K2-01", "Lasius", "2026-07-04", 1, "calm"))
    tab.write_row(2, 0, ("K2-02", "Lasius", "2026-07-04", 3, "=1+1"))


def one(data: bytes) -> tuple[RawTable, list[Finding]]:
    tables, findings = read_workbook(data, "K2.xlsx")
    assert len(tables) == 1, findings
    return tables[0], findings


def test_titles_blank_rows_and_thousands_of_formatted_rows() -> None:
    def fill(made: Any, tab: Any) -> None:
        form = made.add_format({"bg_color": "yellow"})
        tab.merge_range(0, 0, 0, 4, "Foundings of keeper two, season 2026")
        tab.write(2, 0, "please fill in")
        tab.write_row(4, 1, [f" {name.title()} " for name in HEAD])
        tab.write_row(5, 1, ("K2-01", " Lasius ", "2026-07-04", 1, "calm\u00a0"))
        tab.write_row(9, 1, ("K2-02", "Lasius", "2026-07-05", 3.0, ""))
        for row in range(10, 6000):
            tab.write_blank(row, 1, None, form)

    table, findings = one(book(fill))
    assert table.rows.tolist() == [6, 10]
    assert table.frame["Founding"].tolist() == ["K2-01", "K2-02"]
    assert table.frame.iloc[0].tolist() == ["K2-01", "Lasius", "2026-07-04", "1", "calm"]
    assert table.frame.iloc[1].tolist() == ["K2-02", "Lasius", "2026-07-05", "3", ""]
    assert findings == []


@pytest.mark.parametrize(
    ("from_1904", "serial", "day"),
    [
        (False, 61, "1900-03-01"),
        (False, 39448, "2008-01-01"),
        (False, 46207, "2026-07-04"),
        (True, 37986, "2008-01-01"),
        (True, 44745, "2026-07-04"),
    ],
)
def test_both_date_systems(from_1904: bool, serial: int, day: str) -> None:
    def fill(made: Any, tab: Any) -> None:
        tab.write_row(0, 0, HEAD)
        tab.write_row(1, 0, ("K2-01", "Lasius", "", 1))
        tab.write_number(1, 2, serial, made.add_format({"num_format": "dd.mm.yyyy"}))

    table, findings = one(book(fill, date_1904=from_1904))
    assert table.frame["started"].tolist() == [day]
    assert findings == []


def test_text_dates_stay_as_typed_and_a_time_of_day_is_cut_off() -> None:
    def fill(made: Any, tab: Any) -> None:
        tab.write_row(0, 0, HEAD)
        tab.write_row(1, 0, ("K2-01", "Lasius", "4.7.2026", 1))
        tab.write_row(2, 0, ("K2-02", "Lasius", "", 1))
        tab.write_datetime(
            2,
            2,
            dt.datetime(2026, 7, 4, 21, 30),
            made.add_format({"num_format": "yyyy-mm-dd hh:mm"}),
        )

    table, _ = one(book(fill))
    assert table.frame["started"].tolist() == ["4.7.2026", "2026-07-04"]


def test_numbers_pre_filled_rows_are_no_findings() -> None:
    tables, findings = read_workbook(blank_workbook("K1"), "K1.xlsx")
    assert [table.sheet for table in tables] == ["study"]
    assert findings == []


def test_ids_that_became_dates_or_numbers_are_refused_by_cell() -> None:
    def fill(made: Any, tab: Any) -> None:
        tab.write_row(0, 0, HEAD)
        day = made.add_format({"num_format": "d-mmm"})
        tab.write_datetime(1, 0, dt.datetime(2026, 7, 2), day)
        tab.write_row(1, 1, ("Lasius", "2026-07-04", 1))
        tab.write_row(2, 0, (2.07, "Lasius", "2026-07-04", 1))
        tab.write_row(3, 0, (7, "Lasius", "2026-07-04", 1))

    table, findings = one(book(fill))
    assert [(f.level, f.rule, f.row) for f in findings] == [
        ("error", "turned-into-date", 2),
        ("error", "turned-into-number", 3),
    ]
    assert "Cell A2" in findings[0].what
    assert "Cell A3" in findings[1].what
    assert table.frame["founding"].tolist()[2] == "7"


def test_formulas_give_their_stored_result_or_are_refused() -> None:
    def fill(made: Any, tab: Any) -> None:
        tab.write_row(0, 0, HEAD)
        tab.write_row(1, 0, ("K2-01", "Lasius", "2026-07-04"))
        tab.write_formula(1, 3, "=1+2", None, 3)
        tab.write_row(2, 0, ("K2-02", "Lasius", "2026-07-04"))
        tab.write_formula(2, 3, "=1/0", None, "#DIV/0!")
        tab.write_row(3, 0, ("K2-03", "Lasius", "2026-07-04"))
        tab.write_formula(3, 3, "=5+2", None, 4321)

    data = altered(
        book(fill), "xl/worksheets/sheet1.xml", lambda xml: xml.replace(b"<v>4321</v>", b"")
    )
    table, findings = one(data)
    assert table.frame["queens"].tolist() == ["3", "", ""]
    assert [(f.rule, f.row, f.column) for f in findings] == [
        ("cell-error", 3, "queens"),
        ("cell-formula", 4, "queens"),
    ]
    assert "D3" in findings[0].what
    assert "#DIV/0!" in findings[0].what
    assert "D4" in findings[1].what


def test_merged_cells_over_rows_are_refused() -> None:
    def fill(made: Any, tab: Any) -> None:
        simple(made, tab)
        tab.merge_range(1, 2, 2, 2, "2026-07-04")

    _, findings = one(book(fill))
    assert [(f.level, f.rule, f.row) for f in findings] == [("error", "merged-cells", 2)]
    assert "C2:C3" in findings[0].what


def test_text_that_looks_like_a_formula_is_text() -> None:
    table, _ = one(book(simple, strings_to_formulas=False))
    assert table.frame["note"].tolist() == ["calm", "=1+1"]


def test_headings_missing_or_twice_and_unknown_tabs_are_told() -> None:
    def none(made: Any, tab: Any) -> None:
        tab.write_row(0, 0, ("a", "b"))
        tab.write_row(1, 0, ("1", "2"))
        made.add_worksheet("shopping").write(0, 0, "cotton")

    tables, findings = read_workbook(book(none), "K2.xlsx")
    assert tables == []
    assert [(f.level, f.rule, f.tab) for f in findings] == [
        ("error", "no-headings", "foundings"),
        ("note", "unknown-tab", "shopping"),
    ]

    def twice(made: Any, tab: Any) -> None:
        tab.write_row(0, 0, (*HEAD, "Queens"))
        tab.write_row(1, 0, ("K2-01", "Lasius", "2026-07-04", 1, "", 2))

    table, findings = one(book(twice))
    assert [f.rule for f in findings] == ["heading-twice"]
    assert table.frame["queens"].tolist() == ["1"]


def test_macros_and_links_are_left_alone_with_a_note() -> None:
    plain = book(simple)
    data = altered(
        plain,
        "",
        bytes,
        xl__vbaProject_dot_bin=b"x",
        xl__externalLinks__externalLink1_dot_xml=b"<x/>",
    )
    table, findings = one(data)
    assert len(table.rows) == 2
    assert [(f.level, f.rule) for f in findings] == [("note", "macros"), ("note", "links")]


# --- files made to do harm, or broken ---------------------------------------------------------


def refused(data: bytes) -> str:
    tables, findings = read_workbook(data, "K2.xlsx")
    assert tables == []
    assert [f.level for f in findings] == ["error"]
    assert findings[0].file == "K2.xlsx"
    return f"{findings[0]}"


def test_a_lone_cell_far_out_is_refused_and_takes_no_memory() -> None:
    data = altered(
        book(simple),
        "xl/worksheets/sheet1.xml",
        lambda xml: xml.replace(
            b"</sheetData>", b'<row r="1048576"><c r="XFD1048576"><v>1</v></c></row></sheetData>'
        ),
    )
    assert "row 1048576" in refused(data)


def test_what_unpacks_to_too_much_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(container, "MAX_UNPACKED", 3_000_000)
    data = altered(book(simple), "", bytes, xl__media__x_dot_bin=b"0" * 4_000_000)
    assert "unpacks to more" in refused(data)


def test_a_header_that_lies_about_the_size_is_seen_through(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(container, "MAX_UNPACKED", 3_000_000)
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        new.writestr("xl/workbook.xml", b"0" * 4_000_000)
    lying = out.getvalue().replace(struct.pack("<L", 4_000_000), struct.pack("<L", 10))
    with zipfile.ZipFile(io.BytesIO(lying)) as claims:
        assert claims.infolist()[0].file_size == 10
    assert "unpacks to more" in refused(lying)


def test_old_binary_locked_and_no_workbooks_are_refused() -> None:
    assert "old binary workbook" in refused(b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"0" * 600)
    assert "damaged or no workbook" in refused(b"founding,queens\n")
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as new:
        new.writestr("a.txt", "x")
    assert "no XLSX or ODS" in refused(out.getvalue())


def test_entities_that_multiply_do_not(tmp_path: Any) -> None:
    """The billion-laughs document (common knowledge, e.g. CWE-776) inside a sheet."""
    laughs = (
        b'<!DOCTYPE x [<!ENTITY a "haha">'
        + b"".join(b'<!ENTITY %c "%s">' % (98 + i, b"&%c;" % (97 + i) * 10) for i in range(9))
        + b"]>"
    )
    data = altered(
        book(simple),
        "xl/worksheets/sheet1.xml",
        lambda xml: xml.replace(b"<worksheet", laughs + b"<worksheet", 1),
    )
    tables, _ = read_workbook(data, "K2.xlsx")
    assert sum(len(table.rows) for table in tables) <= 2


def test_ods_errors_and_repeated_cells() -> None:
    broken = (
        b'<table:table-row><table:table-cell office:value-type="string"><text:p>K2-02'
        b'</text:p></table:table-cell><table:table-cell table:formula="of:=1/0" '
        b'office:value-type="string" calcext:value-type="error"><text:p>#DIV/0!</text:p>'
        b"</table:table-cell></table:table-row>"
    )
    data = ods(cells("founding", "queens") + cells("K2-01", "3") + broken)
    table, findings = one(data)
    assert table.frame["founding"].tolist() == ["K2-01", "K2-02"]
    assert [(f.rule, f.row, f.column) for f in findings] == [("cell-error", 3, "queens")]
    many = (
        b'<table:table-row table:number-rows-repeated="1000000"><table:table-cell '
        b'table:number-columns-repeated="16384" office:value-type="float" office:value="1"/>'
        b"</table:table-row>"
    )
    assert "tabs are read to row" in refused(ods(cells("founding", "queens") + many))


def test_blank_workbook_has_drop_downs_rules_and_room() -> None:
    with zipfile.ZipFile(io.BytesIO(blank_workbook("K1"))) as parts:
        names = parts.read("xl/workbook.xml").decode()
        checks = parts.read("xl/worksheets/sheet5.xml").decode()
        foundings = parts.read("xl/worksheets/sheet4.xml").decode()
        strings = parts.read("xl/sharedStrings.xml").decode()
    order = [
        names.index(f'name="{tab}"')
        for tab in ("words", "study", "kinds", "foundings", "checks", "events", "catches")
    ]
    assert order == sorted(order)
    assert ROOM >= 5000
    assert f"E2:E{ROOM + 1}" in checks
    assert "none,eggs,larvae,pupae" in checks
    assert 'type="date"' in checks
    assert 'type="whole"' in foundings
    assert 'state="frozen"' in checks
    for words in (
        "K1-01",
        "K1-99",
        "calling the emergency number",
        "Never release an ant where it was not caught. Never send ants by mail.",
        "a week in a freezer at -18 °C or colder",
        "keep the invoice",
        "by an open window",
        "out of their reach",
        "owner of the land",
        "out of rain",
        "Local law",
    ):
        assert words in strings, words


def test_blank_workbook_is_the_same_each_time() -> None:
    assert zlib.crc32(blank_workbook("K1")) == zlib.crc32(blank_workbook("K1"))
