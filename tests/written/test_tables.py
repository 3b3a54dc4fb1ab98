"""Every written table keeps to its columns, comes back as it was, and runs in no spreadsheet."""

from __future__ import annotations

import csv
import datetime as dt
import io
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cohort.base.errors import StudyError
from cohort.sheets import written
from cohort.sheets.guard import guard_text, unguard_text
from cohort.terms.written import WRITTEN

ROOT = Path(__file__).parents[2]
README = ROOT / "data" / "README.md"
STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "\0", "＝", "＋", "－", "＠")
HOSTILE = [
    "=cmd|' /C calc'!A0",
    "@SUM(1+1)",
    "+1+1",
    "-2+3",
    "-7",
    "\t=1",
    "\r=1",
    "'=1",
    "''@x",
    "a;=1",
    "a\n=1",
    "＝1",
    'quo"te,comma',
    "NA",
    "nan",
    "None",
    "inf",
    "True",
    "007",
    " led by a blank",
    "",
]
DTYPES = {"text", "whole", "number", "yes-no", "date"}


def a_frame(name: str, rows: int = len(HOSTILE)) -> pd.DataFrame:
    """Values of every type, with blanks where the table allows them."""
    rng, out = np.random.default_rng(4), {}
    for cell in WRITTEN[name].cells:
        if cell.dtype == "text":
            column = pd.Series([*HOSTILE[1:], HOSTILE[0]], dtype=object)[:rows]
        elif cell.dtype == "whole":
            column = pd.Series(rng.integers(-3, 10**6, rows), dtype=written.dtype_of(cell))
        elif cell.dtype == "number":
            column = pd.Series(rng.normal(size=rows).round(4))
            column.iloc[0] = np.inf
        elif cell.dtype == "yes-no":
            column = pd.Series(rng.random(rows) < 0.5, dtype=written.dtype_of(cell))
        else:
            column = pd.Series(pd.date_range("2025-06-01", periods=rows))
        if cell.blank and cell.dtype != "text":
            column.iloc[-1] = pd.NaT if cell.dtype == "date" else pd.NA
        out[cell.name] = column
    return pd.DataFrame(out)


@pytest.mark.parametrize("name", WRITTEN)
def test_every_table_comes_back_as_it_was(name, tmp_path):
    frame = written.typed(a_frame(name), name)
    back = written.read(written.write(frame, name, tmp_path / "it.csv"), name)
    pd.testing.assert_frame_equal(back, frame)


@pytest.mark.parametrize("name", WRITTEN)
def test_no_cell_of_text_begins_a_formula(name, tmp_path):
    frame = a_frame(name)
    path = written.write(frame, name, tmp_path / "it.csv")
    texts = [cell.name for cell in WRITTEN[name].cells if cell.dtype == "text"]
    for separator in ",;\t":  # a spreadsheet may be set to any of these
        rows = list(csv.reader(io.StringIO(path.read_text("utf-8")), delimiter=separator))
        where = [rows[0].index(n) for n in texts] if separator == "," else None
        for row in rows[1:]:
            cells = row if where is None else [row[i] for i in where]
            assert not [c for c in cells if c.startswith(STARTS)], (separator, row)


@pytest.mark.parametrize("name", WRITTEN)
def test_an_empty_table_keeps_its_types(name, tmp_path):
    frame = written.empty(name)
    back = written.read(written.write(frame, name, tmp_path / "it.csv"), name)
    assert back.dtypes.equals(frame.dtypes)
    assert len(back) == 0


@pytest.mark.parametrize("name", WRITTEN)
def test_every_column_is_described(name):
    table = WRITTEN[name]
    assert len(set(table.names)) == len(table.names)
    for cell in table.cells:
        assert cell.dtype in DTYPES
        assert cell.meaning
        assert cell.meaning[0].isupper() or cell.meaning[0] in "`0123456789"
        assert "|" not in cell.meaning + cell.unit + cell.blank
        assert not cell.meaning.endswith(".")


def test_what_is_in_no_table_is_not_written(tmp_path):
    frame = a_frame("curves")
    with pytest.raises(AssertionError, match="at_risk is missing"):
        written.write(frame.drop(columns="at_risk"), "curves", tmp_path / "it.csv")
    with pytest.raises(AssertionError, match="the column mood is in no table"):
        written.write(frame.assign(mood=1), "curves", tmp_path / "it.csv")
    with pytest.raises(AssertionError, match=r"curves\.csv, day: not of type number"):
        written.write(frame.assign(day="Monday"), "curves", tmp_path / "it.csv")
    assert not (tmp_path / "it.csv").exists()


def test_a_blank_without_a_meaning_is_found():
    frame = a_frame("curves")
    assert written.blanks(frame.assign(curve="x", genus="y", arm="z"), "curves") == []
    assert written.blanks(frame.assign(arm="z", curve="x", day=np.nan), "curves") == [
        "genus",
        "day",
    ]


@pytest.mark.parametrize(
    ("column", "cell", "told"),
    [
        ("queens", "3.5", "row 2, queens: '3.5' is no whole number"),
        ("queens", "", "row 2, queens: '' is no whole number"),
        ("day", "soon", "row 2, day: 'soon' is no whole number"),
        ("mean", "much", "row 2, mean: 'much' is no number"),
        ("prior_rules", "maybe", "row 2, prior_rules: 'maybe' is no True or False"),
    ],
)
def test_a_damaged_cell_is_told_with_its_place(column, cell, told, tmp_path):
    path = written.write(a_frame("comparisons"), "comparisons", tmp_path / "comparisons.csv")
    raw = pd.read_csv(path, dtype=str, keep_default_na=False)
    raw.loc[0, column] = cell
    raw.to_csv(path, index=False, quoting=csv.QUOTE_ALL)
    with pytest.raises(StudyError, match=told):
        written.read(path, "comparisons")


def test_a_file_of_another_version_is_told(tmp_path):
    path = tmp_path / "comparisons.csv"
    path.write_text("question,quantity\nx,y\n", "utf-8")
    with pytest.raises(StudyError, match=r"unit, reading, genus, .* is missing"):
        written.read(path, "comparisons")
    path.write_text("", "utf-8")
    with pytest.raises(StudyError, match="cannot be read"):
        written.read(path, "comparisons")


def test_optional_columns_may_be_there_or_not(tmp_path):
    frame = a_frame("foundings")
    for dropped in ([], ["keeper"], ["keeper", "shelf_temperature"]):
        some = frame.drop(columns=dropped)
        back = written.read(
            written.write(some, "foundings", tmp_path / "foundings.csv"), "foundings"
        )
        assert list(back.columns) == list(some.columns)


def test_dates_are_written_as_days(tmp_path):
    path = written.write(a_frame("looks"), "looks", tmp_path / "looks.csv")
    assert pd.read_csv(path)["due"].iloc[0] == dt.date(2025, 6, 1).isoformat()


@given(st.text())
def test_guarded_text_comes_back_and_begins_no_formula(text):
    out = guard_text(text)
    assert unguard_text(out) == text
    for part in out.replace("\t", ";").replace("\n", ";").replace("\r", ";").split(";"):
        assert not part.startswith(("=", "+", "-", "@", "＝", "＋", "－", "＠", "\0"))


@given(st.text(alphabet="'=+-@;\t\r\n\0 ＝a,1"))
def test_nothing_but_signs_comes_back_too(text):
    assert unguard_text(guard_text(text)) == text


def test_text_without_such_a_sign_is_left_as_it_is():
    for text in ("Lasius", "'tis calm", "K1-03", "3 + 2", "a@b", "x-y; z", "Über", "a ;b"):
        assert guard_text(text) == text
        assert unguard_text(text) == text


def test_the_tables_are_those_that_the_makers_name():
    from cohort.history import FOUNDING_COLUMNS
    from cohort.nonparametric.table import COLUMNS as CURVES
    from cohort.outcomes.table import COLUMNS as COMPARISONS
    from cohort.sheets.lists import COLUMNS as LISTS

    assert WRITTEN["comparisons"].names == COMPARISONS
    assert WRITTEN["curves"].names == CURVES
    assert WRITTEN["lists"].names == LISTS
    counted = WRITTEN["foundings"].names[len(FOUNDING_COLUMNS) :]
    assert set(FOUNDING_COLUMNS) == set(WRITTEN["foundings"].names) - set(counted)
    assert "lost_after" in FOUNDING_COLUMNS
    assert "lost_after" not in counted


# --- the dictionary of columns ------------------------------------------------------------------


def test_the_dictionary_of_columns_is_the_one_of_the_tables():
    assert written.in_readme(README.read_text("utf-8")) == README.read_text("utf-8"), (
        f"data/README.md is stale. Renew it: {written.RENEW}"
    )


def test_the_dictionary_would_be_found_stale():
    text = README.read_text("utf-8")
    older = text.replace("Queens lost after the first worker was seen", "Losses")
    assert older != text
    assert written.in_readme(older) == text


def test_the_dictionary_names_every_column():
    told = written.dictionary()
    for table in WRITTEN.values():
        part = told.split(f"### `{table.file}`\n")[1].split("\n###")[0]
        assert [line.split("|")[1].strip().strip("`") for line in part.splitlines()
                if line.startswith("| `")] == list(table.names)  # fmt: skip
