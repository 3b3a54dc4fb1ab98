"""Every language of the commands says the same, with the same blanks, and numbers its way."""

from __future__ import annotations

import datetime as dt
import re
import string
from importlib import resources

import pytest

from cohort.base.display import TIE, untied
from cohort.base.errors import StudyError
from cohort.terms.voice import ROOMS, SHARED, Told, languages, read, told, voice

EVERY = (SHARED, *ROOMS)
OTHERS = [language for language in languages() if language != "en"]
WORDS_AT_MOST = 45
"""Words between two stops; a caution of law may need more."""
STIFF = re.compile(
    r"\b(signific\w*|utili[sz]\w*|nobody here has tried|do not go together|comes? to nought|"
    r"Nobody learns|mend\w*|horizon|arms?)\b",
    re.I,
)

COGNATES = {
    "es": {"level_error"},
    "fr": {"number_6", "colonies", "date", "count_note", "head_note", "level_note"},
}
"""Keys whose word is the same in English."""


def blanks(text):
    return {name for _, name, _, _ in string.Formatter().parse(text) if name}


def forms(sentence):
    return [sentence] if isinstance(sentence, str) else list(sentence.values())


def test_there_are_three_languages_at_least():
    assert {"en", "de", "fr"} <= set(languages())


@pytest.mark.parametrize("room", EVERY)
@pytest.mark.parametrize("language", OTHERS)
def test_a_language_has_the_keys_and_blanks_of_english(room, language):
    english, other = read(room, "en")["sentences"], read(room, language)["sentences"]
    assert list(other) == list(english)  # in the same order, for who translates
    for key, sentence in english.items():
        assert isinstance(sentence, str) == isinstance(other[key], str), key
        wanted = set().union(*map(blanks, forms(sentence)))
        assert set().union(*map(blanks, forms(other[key]))) == wanted, key
        for form in forms(other[key]):  # pairs of stars are bold
            assert form.count("*") == forms(sentence)[0].count("*"), key


@pytest.mark.parametrize("room", EVERY)
@pytest.mark.parametrize("language", OTHERS)
def test_a_language_is_translated(room, language):
    english, other = read(room, "en")["sentences"], read(room, language)["sentences"]
    same = {
        key
        for key, sentence in english.items()
        if sentence == other[key]
        and re.search(r"[a-z]{3}", re.sub(r"\{\w+\}", "", " ".join(forms(sentence))))
    }
    assert same - COGNATES.get(language, set()) == set()


@pytest.mark.parametrize("room", EVERY)
def test_english_is_short_and_plain(room):
    for key, sentence in read(room, "en")["sentences"].items():
        for form in forms(sentence):
            assert not STIFF.search(form), key
            for part in re.split(r"[.?!] |: ", form):
                assert len(part.split()) <= WORDS_AT_MOST, (key, part)


def test_no_room_says_what_all_say_otherwise():
    shared = set(read(SHARED, "en")["sentences"])
    for room in ROOMS:
        assert not shared & set(read(room, "en")["sentences"]), room


def test_every_file_is_of_a_language():
    for room in EVERY:
        files = {f.name for f in (resources.files(room) / "catalogue").iterdir()}
        assert {f for f in files if f.endswith(".toml")} == {f"{one}.toml" for one in languages()}


def test_another_language_is_misuse_told_plainly():
    with pytest.raises(StudyError, match=r"'xx' is no language of this command\. Write de or en"):
        voice(SHARED, "xx")


# --- numbers and dates as the language writes them (CLDR, through babel) --------------------------


def test_numbers_and_dates():
    english, german = voice(SHARED), voice(SHARED, "de")
    assert (english.decimal(1234.56, 1), german.decimal(1234.56, 1)) == ("1,234.6", "1.234,6")
    day = dt.date(2026, 7, 4)
    assert (english.write(day), german.write(day)) == ("4 July 2026", "4. Juli 2026")
    assert (untied(english.day(day)), untied(german.day(day))) == ("4 Jul", "4. Juli")
    french = voice(SHARED, "fr")
    assert french.decimal(1234.56, 1) == "1\u202f234,6"
    assert (french.write(day), untied(french.day(day))) == ("4 juillet 2026", "4 juil.")
    first = dt.date(2026, 8, 1)
    assert (french.write(first), untied(french.day(first))) == ("1er août 2026", "1er août")
    assert french.write(dt.date(2026, 8, 11)) == "11 août 2026"
    assert german.write(first) == "1. August 2026"
    later = dt.date(2026, 8, 9)
    assert untied(english.days(day, later)) == "4 Jul–9 Aug"
    assert untied(english.days(day, dt.date(2026, 7, 9))) == "4–9 Jul"
    assert " " not in german.days(day, later)
    assert TIE in german.days(day, later)


def test_nothing_is_certain():
    english, german = voice(SHARED), voice(SHARED, "de")
    assert [english.of_100(p) for p in (0, 0.125, 1)] == ["under 1", "13", "over 99"]
    assert [german.of_100(p) for p in (0, 0.125, 1)] == ["unter 1", "13", "über 99"]
    assert [english.short_of_100(p) for p in (0, 0.125, 1)] == ["<1", "13", ">99"]
    assert untied(german.percent(1)) == "mehr als 99 %"
    assert untied(english.percent(0.866)) == "87 %"


def test_spanish_numbers_dates_and_chances():
    own, day = voice(SHARED, "es"), dt.date(2026, 7, 4)
    assert (own.decimal(12345.67, 1), own.number(3)) == ("12.345,7", "tres")
    assert own.write(day) == "4 de julio de 2026"
    assert untied(own.days(day, dt.date(2026, 8, 9))) == "4 jul–9 ago"
    assert [own.of_100(p) for p in (0, 0.125, 1)] == ["menos de 1", "13", "más de 99"]
    assert [untied(own.percent(p)) for p in (0, 0.866, 1)] == [
        "menos del 1 %", "87 %", "más del 99 %",
    ]  # fmt: skip
    assert own.listing(["a", "b", "c"]) == "a, b y c"
    assert [own.say("foundings", n=n) for n in (1, 2)] == ["1 fundación", "2 fundaciones"]


def test_plurals_lists_and_number_words():
    english, german = voice(SHARED), voice(SHARED, "de")
    assert [english.say("foundings", n=n) for n in (1, 2)] == ["1 founding", "2 foundings"]
    assert german.say("foundings", n=1200) == "1.200 Gründungen"
    assert english.listing(["a", "b", "c"]) == "a, b and c"
    assert german.listing(["a", "b"]) == "a und b"
    assert (english.number(12), english.number(13), german.number(3)) == ("twelve", "13", "drei")


def test_what_is_to_be_said_is_said_in_any_language():
    one = told("based_on", foundings=told("foundings", n=1), kinds=told("kinds", n=1))
    assert one == Told("based_on", one.values)
    assert voice(SHARED).tell([one]) == ("Based on 1 founding of 1 kind.",)
    nested = told("and", first=told("foundings", n=1), last=told("foundings", n=2))
    assert voice(SHARED, "de").write(nested) == "1 Gründung und 2 Gründungen"
