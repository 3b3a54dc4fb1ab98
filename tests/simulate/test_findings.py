"""The table of published findings keeps its form (its facts cannot be tested here)."""

import math
import re
from pathlib import Path

import pandas as pd
import pytest

from cohort.terms.questions import QUESTIONS

TABLE = Path(__file__).parents[2] / "data" / "findings.csv"


def read():
    return pd.read_csv(TABLE, dtype=str, keep_default_na=False)


def test_rows_are_complete_and_speak_our_words():
    table = read()
    assert list(table.columns) == [
        "row", "genus", "species", "authors", "year", "journal", "volume", "pages", "doi",
        "reference", "what_was_read", "design", "question", "groups", "finding",
    ]  # fmt: skip
    assert table["row"].tolist() == [str(n) for n in range(1, len(table) + 1)]
    for column in ("finding", "authors", "journal", "what_was_read"):
        assert (table[column] != "").all(), column
    assert table["year"].str.fullmatch(r"(19|20)\d\d").all()
    assert set(table["question"]) <= {"", *QUESTIONS}
    assert set(table["groups"]) <= {"", "better", "worse", "same", "mixed", "more", "sooner"}
    assert not table.duplicated(["authors", "species", "finding"]).any()


def test_a_doi_has_the_form_of_one_and_one_paper_has_one_doi():
    table = read()
    known = table[table["doi"] != ""]
    assert len(known) >= 9
    assert known["doi"].map(lambda doi: bool(re.fullmatch(r"10\.\d{4,9}/\S+", doi))).all()
    assert (known.groupby(["authors", "year"])["doi"].nunique() == 1).all()
    assert (known.groupby("doi")["authors"].nunique() == 1).all()


def test_each_row_can_be_found_or_says_that_it_is_from_memory():
    table = read()
    assert set(table["reference"]) == {"read", "from memory"}
    placed = (table["doi"] != "") | ((table["volume"] != "") & (table["pages"] != ""))
    assert not table["row"][~placed & (table["reference"] == "read")].tolist()
    assert table["volume"].str.fullmatch(r"\d*").all()
    # what is from memory says which part was not seen
    said = table["what_was_read"][table["reference"] == "from memory"]
    assert said.str.contains("memory|not known").all()


def test_the_priors_name_rows_that_are_there():
    """Each effect of a genus names a row, or says that none gives it; the row speaks of it."""
    from cohort.model import parameters

    table = read().set_index("row")
    asks = {
        "founding_hazard": {"queen_survival"},
        "together": {"queen_survival"},
        "worker_hazard": {"queen_survival"},
        "rivalry": {"queens_after_workers"},
        "last_fight": {"queens_after_workers"},
        "first_worker": set(),
    }
    for name in parameters.EFFECTS:
        one = parameters.TABLE[name]
        rows = rows_named(one.why)
        assert set(table.loc[rows, "question"]) == asks[name], name
        assert rows or "no row" in one.why
    better, worse = re.split("worse", parameters.TABLE["together"].why)
    assert set(table.loc[rows_named(better), "groups"]) == {"better"}
    assert set(table.loc[rows_named(worse), "groups"]) == {"worse"}
    named = rows_named(
        " ".join([parameters.__doc__, *(row.why for row in parameters.TABLE.values())])
    )
    assert {"6", "14", "19", "22", "24", "27", "29", "30"} <= set(named) <= set(table.index)


def rows_named(text: str) -> list[str]:
    """Numbers after "row" or "rows": "rows 2, 8 and 9"."""
    lists = re.findall(r"\brows?\s+((?:\d+(?:,\s*|\s+and\s+)?)+)", text, re.I)
    return [number for found in lists for number in re.findall(r"\d+", found)]


def test_what_is_said_of_row_six():
    # fewer than 20 % alive at 130 days; 75 % alive at 227 days: even deaths, arithmetic
    from cohort.model import parameters

    assert -math.log(0.2) / 130 == pytest.approx(0.0124, abs=5e-5)
    assert -math.log(0.75) / 227 == pytest.approx(0.0013, abs=5e-5)
    finding = read().set_index("row").loc["6", "finding"]
    assert "20 % of queens alive after 130 days" in finding
    assert "75 % alive at 227 days" in finding
    why = parameters.TABLE["founding_hazard"].why
    assert "0.0013 and 0.0124 or more" in why
    prior, said = parameters.TABLE["founding_hazard"].prior, " ".join(parameters.__doc__.split())
    # halfway on the log scale: the square root of their product
    assert math.exp(prior.mean) == pytest.approx(math.sqrt(0.0013 * 0.0124), abs=5e-5)
    up, down = (abs(math.log(h) - prior.mean) / prior.sd for h in (0.0124, 0.0013))
    assert f"{down:.1f} SDs down, the 0.0124 lies {up:.1f} SDs up" in said
    assert f"each {up:.1f} SDs off" in why


def test_the_sign_differs_between_genera():
    table = read()
    survival = table[table["question"] == "queen_survival"].groupby("groups")["genus"].nunique()
    assert survival["better"] >= 2
    assert survival["worse"] >= 2
