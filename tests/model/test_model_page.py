"""``MODEL.md`` gives every prior as the table of parameters has it."""

import importlib.resources

import pytest

from cohort.model.model_page import BEGIN, priors_table, renewed
from cohort.model.parameters import TABLE

PAGE = (importlib.resources.files("cohort.model") / "MODEL.md").read_text(encoding="utf-8")


def test_the_page_has_the_priors_of_the_table():
    assert renewed(PAGE) == PAGE
    for name, row in TABLE.items():
        assert (f"| `{name}` |" in PAGE) == (row.prior is not None)


def test_a_prior_written_otherwise_is_noticed():
    other = PAGE.replace("Normal(0, 0.4)", "Normal(0, 0.3)")
    assert other != PAGE
    assert renewed(other) == PAGE


def test_without_its_marks_nothing_is_written():
    with pytest.raises(ValueError, match="marks"):
        renewed(PAGE.replace(BEGIN, ""))


def test_reasons_would_not_break_the_table():
    assert all(line.count("|") == 5 for line in priors_table().splitlines())
