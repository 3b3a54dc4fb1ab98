"""The table of published findings keeps its form (its facts cannot be tested here)."""

import re
from pathlib import Path

import pandas as pd

from cohort.terms.questions import QUESTIONS

TABLE = Path(__file__).parents[2] / "data" / "findings.csv"


def read():
    return pd.read_csv(TABLE, dtype=str, keep_default_na=False)


def test_rows_are_complete_and_speak_our_words():
    table = read()
    assert list(table.columns) == [
        "genus", "species", "authors", "year", "source", "doi", "design", "question", "groups",
        "finding",
    ]  # fmt: skip
    assert (table["finding"] != "").all()
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


def test_the_sign_differs_between_genera():
    table = read()
    survival = table[table["question"] == "queen_survival"].groupby("groups")["genus"].nunique()
    assert survival["better"] >= 2
    assert survival["worse"] >= 2
