"""The contract: every word once, every column told, genera against published lists."""

import math

import pytest

from cohort.terms import (
    GENERA,
    QUANTITIES,
    QUESTIONS,
    SETTINGS,
    SHEETS,
    cautions,
    did_you_mean,
    needs_host,
    words,
)
from cohort.terms.genera import near_genus, spelled, split_name, spreading

COLUMNS = [(sheet.name, column) for sheet in SHEETS.values() for column in sheet.columns]


def test_sheets_are_those_of_the_contract():
    assert list(SHEETS) == [
        "study",
        "kinds",
        "foundings",
        "checks",
        "events",
        "catches",
        "temperatures",
    ]
    assert SHEETS["foundings"].needed == ("founding", "started", "queens")
    assert SHEETS["checks"].names == (
        "founding",
        "date",
        "queens_alive",
        "workers",
        "brood",
        "fed",
        "give_or_take",
        "photo",
        "note",
    )
    assert {c.name for c in SHEETS["checks"].columns if c.at_least} == {"queens_alive", "workers"}


@pytest.mark.parametrize(("sheet", "column"), COLUMNS, ids=lambda v: getattr(v, "name", v))
def test_every_column_tells_itself(sheet, column):
    assert column.meaning
    assert column.example
    assert bool(column.allowed) == (column.kind in ("word", "yes-no"))
    if column.allowed:
        assert column.example in column.allowed


def test_names_stand_once_in_a_sheet():
    for sheet in SHEETS.values():
        assert len(set(sheet.names)) == len(sheet.names)
    with pytest.raises(KeyError):
        SHEETS["checks"].column("weather")


def test_settings_have_the_default_horizon():
    assert SETTINGS["horizon_days"].example == "180"
    assert set(SETTINGS["clock"].allowed) == {"setup", "flight"}


def test_events_whose_other_is_fixed_are_events():
    assert set(words.OTHER_WORDS) <= set(words.EVENTS)
    assert set(words.NEEDS_NUMBER) <= set(words.EVENTS)
    assert set(words.FEEDING_ALSO.values()) <= set(words.FEEDING)


def test_no_reserved_word_is_an_event_or_a_genus():
    assert not set(words.RESERVED_IDS) & (set(words.EVENTS) | {name.lower() for name in GENERA})


def test_quantities_have_known_questions_and_bands():
    for (question, _), quantity in QUANTITIES.items():
        assert question in QUESTIONS
        if quantity.better == "none":
            assert math.isnan(quantity.equal_low)
            assert math.isnan(quantity.equal_high)
        elif quantity.unit == "ratio":
            # ratios .9 to 1.11: the same distance both ways on the log scale, to a hundredth
            product = quantity.equal_low * quantity.equal_high
            assert product == pytest.approx(1, abs=0.01)
        elif not math.isnan(quantity.equal_high):
            assert quantity.equal_low == -quantity.equal_high
    assert QUANTITIES["colony", "chance_lasting"].equal_high == 0.05
    assert QUANTITIES["first_worker", "median_day"].better == "lower"


def test_eu_list_of_ants():
    # Commission Implementing Regulation (EU) 2022/1203, annex: the four ants added to the list.
    listed = [
        ("Solenopsis", "geminata"),
        ("Solenopsis", "invicta"),
        ("Solenopsis", "richteri"),
        ("Wasmannia", "auropunctata"),
    ]
    for pair in listed:
        assert spreading(*pair)
        assert "2022/1203" in cautions(*pair)[0]
    assert not spreading("Solenopsis", "fugax")
    assert "2022/1203" not in " ".join(cautions("Solenopsis", "fugax"))


@pytest.mark.parametrize(
    ("genus", "species", "host"),
    [
        # common practice, no source
        ("Lasius", "umbratus", True),
        ("Lasius", "cf. fuliginosus", True),
        ("Lasius", "niger", False),
        ("Lasius", "", False),
        ("Formica", "sanguinea", True),
        ("Formica", "fusca", False),
        ("Polyergus", "", True),
        ("Nonsense", "rufa", False),
    ],
)
def test_kinds_that_need_a_host(genus, species, host):
    assert needs_host(genus, species) is host


def test_stings_carry_a_caution_and_others_do_not():
    assert any("emergency number" in text for text in cautions("Myrmecia"))
    assert cautions("Lasius", "niger") == ()


def test_close_matches():
    assert near_genus("Lasuis") == "Lasius"
    assert near_genus("Camponotous") == "Camponotus"
    assert near_genus("mesor") == "Messor"
    assert near_genus("big-black") == ""
    assert spelled("LASIUS") == "Lasius"
    assert spelled("Lasuis") == ""
    assert did_you_mean("mitse", words.LEFT_OUT) == "Did you mean 'mites'?"
    assert did_you_mean("zzz", words.LEFT_OUT) == ""


def test_every_genus_keeps_its_own_name():
    for name in GENERA:
        assert spelled(name) == name
        assert name == name.capitalize()


def test_names_in_one_cell_are_parted():
    assert split_name("Lasius cf. niger") == ("Lasius", "cf. niger")
    assert split_name("Lasius sp.") == ("Lasius", "")
    assert split_name("") == ("", "")
