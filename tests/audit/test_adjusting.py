"""The setting `adjust`: a plain list, or part by part, in a cell and in study.toml."""

import pytest

from cohort.audit import examine
from cohort.sheets.folder import read_folder
from cohort.terms.adjusting import Adjust

PLAIN = Adjust(before=("feeding", "housing"), after=("feeding", "housing"))
PARTED = Adjust(before=("feeding", "housing"), first_worker=("housing",), mated=("housing",))
WARM = ("shelf_temperature",)


def said(folder, today, text):
    folder.put("study.toml", f'title = "A study"\n{text}\n')
    made = examine(read_folder(folder.path), today)
    return made.settings.adjust, [f for f in made.findings if f.level == "error"]


@pytest.mark.parametrize(
    ("text", "want"),
    [
        ('adjust = "feeding, housing"', PLAIN),
        ('adjust = ["feeding", "housing"]', PLAIN),
        ('adjust = "before: feeding, housing; first worker: housing; mated: housing"', PARTED),
        ('adjust = "Before: feeding, housing; FIRST-WORKER: housing; mated: housing;"', PARTED),
        (
            'adjust = {before = ["feeding", "housing"], first_worker = ["housing"], '
            'mated = "housing"}',
            PARTED,
        ),
        (
            '[adjust]\nbefore = ["feeding", "housing"]\nfirst_worker = ["housing"]\n'
            'mated = ["housing"]\nafter = []',
            PARTED,
        ),
        ('adjust = "temperature"', Adjust(WARM, WARM, WARM)),
        ('adjust = "before: temperature"', Adjust(before=WARM)),
        ('adjust = ""', Adjust()),
    ],
)
def test_what_is_written_is_what_is_adjusted_for(folder, today, text, want):
    got, errors = said(folder, today, text)
    assert not errors
    assert got == want
    if got:
        again, errors = said(folder, today, f'adjust = "{got.said()}"')
        assert (again, errors) == (got, [])


@pytest.mark.parametrize(
    ("text", "what", "remedy"),
    [
        ('adjust = "befor: feeding"', "'befor' is not a part of what is compared", "before"),
        ('adjust = "hazard: feeding"', "before, after, first worker, mated", "such as before:"),
        ('adjust = "before: fedding"', "'fedding' is not one of", "feeding"),
        ('adjust = "before: feeding; housing"', "'housing' is not a part", "such as before:"),
        ('adjust = "mated: mating_seen"', "in every comparison", "out of mated"),
        ('adjust = {before = {feeding = 1}}', "written in parts", "adjust = value"),
    ],
)  # fmt: skip
def test_what_cannot_be_read_is_told_with_the_way_out(folder, today, text, what, remedy):
    got, errors = said(folder, today, text)
    assert errors
    assert all(error.column == "adjust" for error in errors)
    assert any(what in error.what for error in errors), errors
    assert any(remedy in error.remedy for error in errors), errors
    assert got == Adjust()


def test_both_studies_of_a_pool_must_ask_for_it():
    assert PLAIN.within(PARTED) == Adjust(before=("feeding", "housing"))
    assert PARTED.names == ("feeding", "housing")
    assert PLAIN.said() == "feeding, housing"
    assert PARTED.said() == "before: feeding, housing; first worker: housing; mated: housing"
