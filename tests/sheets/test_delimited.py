"""CSV files as keepers make them, and files that are damaged."""

import csv
import io

import hypothesis.strategies as st
import numpy as np
import pytest
from hypothesis import example, given, settings

from cohort.sheets.delimited import read_delimited
from cohort.sheets.raw import column_name, sheet_of, tag_of
from cohort.terms import SHEET_NAMES

TEXT = "founding,date,queens_alive,note\nK2-01,2026-07-08,1,größer\nK2-02,2026-07-08,3,\n"


def read(data: bytes):
    return read_delimited(data, "checks.csv", "checks")


@pytest.mark.parametrize(
    ("data", "rule"),
    [
        (TEXT.encode("utf-8"), None),
        (TEXT.encode("utf-8-sig"), None),
        (TEXT.encode("cp1252"), "encoding"),
        (TEXT.encode("utf-16"), None),
        (TEXT.replace(",", ";").encode("utf-8"), None),
        (TEXT.replace(",", "\t").encode("utf-8"), None),
        (("sep=;\n" + TEXT.replace(",", ";")).encode("cp1252"), "encoding"),
        (TEXT.replace("\n", "\r\n").encode("utf-8"), None),
        (TEXT.replace("\n", "\r").encode("utf-8"), None),
        (TEXT.replace(",", " , ").encode("utf-8"), None),
        (TEXT.replace("\n", ",,\n").encode("utf-8"), None),
        (TEXT.replace("größer", '"größer"').encode("utf-8"), None),
    ],
)
def test_every_way_of_saving_reads_alike(data, rule):
    table, notices = read(data)
    assert list(table.frame.columns) == ["founding", "date", "queens_alive", "note"]
    assert table.frame.to_numpy().tolist() == [
        ["K2-01", "2026-07-08", "1", "größer"],
        ["K2-02", "2026-07-08", "3", ""],
    ]
    assert [notice.rule for notice in notices] == ([rule] if rule else [])


def test_rows_are_those_of_the_spreadsheet():
    data = b'\n\nfounding,note\n\nK2-01,"two\nlines"\n , \nK2-02,\n\n\nK2-03,x\n'
    table, notices = read(data)
    assert table.frame["founding"].tolist() == ["K2-01", "K2-02", "K2-03"]
    # a cell of two lines is one row of a spreadsheet
    assert table.rows.tolist() == [5, 7, 10]
    assert table.frame["note"].tolist() == ["two\nlines", "", "x"]
    assert notices == []


def test_decimal_commas_stay_as_typed():
    table, _ = read_delimited(
        b"shelf;date;min_c;max_c\nS1;2026-07-08;19,5;24\n", "t.csv", "temperatures"
    )
    assert table.frame["min_c"].tolist() == ["19,5"]


def test_missing_words_of_other_programs_are_kept_as_text():
    # "NA" or "None" is what somebody typed, not a blank
    table, _ = read(b"founding,note\nNA,None\nnull,nan\n")
    assert table.frame.to_numpy().tolist() == [["NA", "None"], ["null", "nan"]]


def test_row_with_a_stray_comma_is_told_and_left_out():
    many = b"founding,date,note\nK2-01,2026-07-08,calm, fed, moved, dry\nK2-02,2026-07-08,\n"
    few = b"founding,date,note\nK2-01,2026-07-08,calm, fed\nK2-02,2026-07-08,\n"
    for data in (many, few):
        table, notices = read(data)
        assert table.frame["founding"].tolist() == ["K2-02"]
        assert table.rows.tolist() == [3]
        assert [(n.rule, n.level, n.row, n.founding) for n in notices] == [
            ("too-many-cells", "error", 2, "K2-01")
        ]


def test_open_quote_is_told_with_its_row():
    table, notices = read(b'founding,date\nK2-01,2026-07-08\n"K2-02,2026-07-08\nK2-03,2026-07-08\n')
    assert table.frame["founding"].tolist() == ["K2-01"]
    assert [(n.rule, n.row) for n in notices] == [("open-quote", 3)]


@pytest.mark.parametrize("data", [b"", b"\n\n \n", b"\xef\xbb\xbf", b";;;\n;;\n", b" , , \n"])
def test_empty_file(data):
    table, notices = read(data)
    assert len(table.frame) == 0
    assert [(n.rule, n.level) for n in notices] == [("empty-sheet", "error")]


@pytest.mark.parametrize(
    "data",
    [
        b"founding,date\nK2-\x0001,2026-07-08\n",
        b"\xff\xfe" + "founding,date\nK2-01,2026-07-08\n".encode("utf-16-le")[:-1],
        b"PK\x03\x04\x00\x00",
    ],
)
def test_damaged_file_is_an_error(data):
    _, notices = read(data)
    assert any(n.level == "error" and n.rule == "damaged-file" for n in notices)


def test_heading_twice_is_an_error():
    _, notices = read(b"founding,date,date\nK2-01,2026-07-08,2026-07-09\n")
    assert [(n.rule, n.column) for n in notices] == [("heading-twice", "date")]


def test_huge_cell_does_not_stop_the_reader():
    data = b'founding,date,note\nK2-01,2026-07-08,"' + b"x" * 200_000 + b'",1,2,3\n'
    _, notices = read(data)
    assert any(n.level == "error" for n in notices)


@settings(max_examples=400)
@given(st.binary(max_size=200))
@example(b'"')
@example(b'a,"b\n"c",d\n,,,,,,,\n"')
@example(b"\xff\xfe\x00")
def test_any_bytes_give_a_table_and_never_a_traceback(data):
    table, notices = read(data)
    assert len(table.rows) == len(table.frame)
    assert len(table.frame) or notices or not table.frame.columns.empty


@settings(max_examples=300)
@given(st.data())
def test_damaged_sheets_never_give_a_traceback(data):
    good = (TEXT * 3).encode("utf-8")
    at = data.draw(st.integers(0, len(good)))
    cut = data.draw(st.integers(0, 20))
    put = data.draw(st.sampled_from([b"", b'"', b"\x00", b"\n", b",", b";", b"\xff", b"\r", b"\t"]))
    table, _ = read(good[:at] + put + good[at + cut :])
    assert np.all(np.diff(table.rows) > 0)


SIGNS = st.characters(codec="utf-8", exclude_characters="\r\x00'", exclude_categories=("C",))
CELL = st.text(SIGNS, min_size=1, max_size=8).map(str.strip).filter(bool)


@settings(max_examples=200)
@given(
    st.lists(st.tuples(CELL, CELL, CELL), min_size=1, max_size=6),
    st.sampled_from([",", ";", "\t"]),
)
def test_what_a_csv_writer_wrote_is_read_back(rows, separator):
    # The writer of Python's standard library (RFC 4180 quoting) is the reference.
    file = io.StringIO()
    writer = csv.writer(file, delimiter=separator)
    writer.writerows([("founding", "date", "note"), *rows])
    table, notices = read(file.getvalue().encode("utf-8"))
    assert [tuple(row) for row in table.frame.to_numpy().tolist()] == rows
    assert notices == []


def test_headings_and_names_of_files():
    assert column_name(" Queens  alive ") == "queens_alive"
    assert column_name("give-or-take") == "give_or_take"
    assert sheet_of("Foundings-K2", SHEET_NAMES) == "foundings"
    assert sheet_of("checks (1)", SHEET_NAMES) == "checks"
    assert sheet_of("checksum", SHEET_NAMES) == ""
    assert tag_of("foundings-K2", SHEET_NAMES) == "K2"
    assert tag_of("K2", SHEET_NAMES) == "K2"
