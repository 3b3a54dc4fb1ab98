"""Every language says the same things with the same blanks, and none says what it must not."""

from __future__ import annotations

import re
import string
import tomllib
from importlib import resources

import pytest

from cohort.base.errors import StudyError
from cohort.figures import PICTURES
from cohort.newsletter import captions, tables
from cohort.newsletter.catalogue import languages, load
from cohort.newsletter.speech import ITALIC, UPRIGHT, plain, voice

FORBIDDEN = re.compile(
    r"\b(signific\w*|arms?|horizon|hazard\w*|average genus|new genus|prove[sdn]?|p-value)\b", re.I
)


COGNATES = {"fr": {"tube", "tubes", "k_club", "t_date", "t_word", "t_colonies"}}
"""Keys whose word is the same in English."""


def blanks(text: str) -> set[str]:
    return {name for _, name, _, _ in string.Formatter().parse(text) if name}


def forms(sentence) -> list[str]:
    return [sentence] if isinstance(sentence, str) else list(sentence.values())


def texts_of(words) -> list[str]:
    """Every text of a file of words, however deep."""
    if isinstance(words, str):
        return [words]
    return [text for part in words.values() for text in texts_of(part)]


def leaves(labels) -> dict[str, str]:
    out = {}
    for name, value in vars(labels).items():
        if isinstance(value, dict):
            out |= {f"{name}.{key}": word for key, word in value.items()}
        else:
            out[name] = value
    return out


def test_there_are_three_languages_at_least():
    assert {"en", "de", "fr"} <= set(languages())


@pytest.mark.parametrize("language", [x for x in languages() if x != "en"])
def test_a_language_has_the_keys_and_blanks_of_english(language):
    english, other = load("en"), load(language)
    assert set(other.sentences) == set(english.sentences)
    for key, sentence in english.sentences.items():
        assert isinstance(sentence, str) == isinstance(other.sentences[key], str), key
        wanted = set().union(*map(blanks, forms(sentence)))
        assert set().union(*map(blanks, forms(other.sentences[key]))) == wanted, key
    ours, theirs = leaves(english.labels), leaves(other.labels)
    assert set(ours) == set(theirs)
    for name, text in ours.items():
        assert blanks(text) == blanks(theirs[name]), name


def lacking(picture: str) -> list[str]:
    """What a picture must have and has not, besides its numbers and its ink."""
    known = load("en").sentences
    out = [f"{key}_{picture}" for key in ("cap", "short") if f"{key}_{picture}" not in known]
    out += ["captions.ALT"] if picture not in captions.ALT else []
    return out + (["tables.OF_PICTURE"] if picture not in tables.OF_PICTURE else [])


def test_every_picture_has_its_words_and_its_table():
    assert {one.name: lacking(one.name) for one in PICTURES if lacking(one.name)} == {}
    assert set(captions.ALT) == set(tables.OF_PICTURE) == {one.name for one in PICTURES}
    assert lacking("nowhere") == [
        "cap_nowhere", "short_nowhere", "captions.ALT", "tables.OF_PICTURE",
    ]  # fmt: skip


@pytest.mark.parametrize("language", [x for x in languages() if x != "en"])
def test_a_language_is_translated(language):
    english, other = load("en"), load(language)
    same = {k for k, v in english.sentences.items() if v == other.sentences[k] and forms(v) != [""]}
    same -= COGNATES.get(language, set())
    # a few sentences hold blanks and signs only
    assert {k for k in same if re.search(r"[a-z]{3}", re.sub(r"\{\w+\}", "", str(forms(
        english.sentences[k]))))} == set()  # fmt: skip


@pytest.mark.parametrize("language", languages())
def test_plural_forms_are_those_the_language_has(language):
    from babel import Locale

    catalogue = load(language)
    tags = {*Locale.parse(catalogue.locale).plural_form.tags, "other"}
    for key, sentence in catalogue.sentences.items():
        if not isinstance(sentence, str):
            assert set(sentence) == tags, key


def test_english_never_uses_the_words_of_the_workshop():
    catalogue = load("en")
    texts = [t for s in catalogue.sentences.values() for t in forms(s)]
    texts += list(leaves(catalogue.labels).values())
    assert [t for t in texts if FORBIDDEN.search(t)] == []


def test_the_filter_can_fail():
    assert FORBIDDEN.search("the multi arm did significantly better")
    assert not FORBIDDEN.search("no harm, a warm charm")


def test_numbers_and_dates_are_written_as_the_language_does():
    import datetime as dt

    english, german, french = voice("en"), voice("de"), voice("fr")
    assert english.write(1234) == "1,234"
    assert german.write(1234) == "1.234"
    assert (english.decimal(1.55), german.decimal(1.55)) == ("1.6", "1,6")
    assert english.write(dt.date(2025, 6, 3)) == "3 June 2025"
    assert german.write(dt.date(2025, 6, 3)) == "3. Juni 2025"
    # CLDR: a narrow no-break space between thousands, a comma before the places
    assert (french.write(1234), french.decimal(1.55)) == ("1\u202f234", "1,6")
    assert french.write(dt.date(2025, 6, 3)) == "3 juin 2025"


BAD_SPACES = re.compile(r"(?<!^)[ ][:;!?%»]|«(?!\u00a0)|(?<![\u00a0{\d])[;!?%»]|\w'|\w:(?:\s|$)")
"""What French typography forbids: a breaking space, or none, before a high sign; straight quotes.
Source: Imprimerie nationale, Lexique des règles typographiques (from memory)."""


BY_CODE = re.compile(r"""["']; ["']\.join|["']: ["'] ?~|~ ?["']: ["']|f["'][^"']*\}: ?["']""")
"""Signs between parts of a sentence that code sets itself, as English has them."""


def test_the_language_sets_the_signs_between_parts_of_a_sentence():
    bad = {}
    for room in ("newsletter", "forecast", "plan", "power", "audit", "desk/print"):
        files = (resources.files("cohort") / room).iterdir()
        texts = {f"{room}/{f.name}": f.read_text("utf-8") for f in files if f.name.endswith(".py")}
        bad |= {name: BY_CODE.findall(text) for name, text in texts.items()}
    for file in (resources.files("cohort") / "newsletter" / "templates").iterdir():
        bad[file.name] = BY_CODE.findall(file.read_text("utf-8"))
    assert {name: found for name, found in bad.items() if found} == {}
    for wrong in ('"; ".join(parts)', "say('x') ~ ': ' ~ title", 'f"{name}: "'):
        assert BY_CODE.search(wrong), wrong
    assert voice("fr").strung(["un", "deux", "trois"]) == "un\u00a0; deux\u00a0; trois"
    assert voice("en").strung(["one", "two"]) == "one; two"
    assert voice("fr").say("headed", head="Nombres", text="x") == "Nombres\u00a0: x"
    assert voice("de").strung([]) == ""


def test_french_keeps_its_signs_to_their_words():
    folders = ("newsletter/catalogue", "newsletter/checklists", "plan/catalogue", "terms/catalogue",
               "forecast/catalogue", "power/catalogue", "desk/print/catalogue", "audit/catalogue",
               "sheets/catalogue", "published/catalogue", "tonight/catalogue",
               "desk/form/words", "desk/catalogue")  # fmt: skip
    bad = []
    for folder in folders:
        text = (resources.files("cohort") / folder / "fr.toml").read_text(encoding="utf-8")
        bad += [t for t in texts_of(tomllib.loads(text)) if BAD_SPACES.search(t)]
    assert bad == []
    for wrong in ("jour : 3", "99 %", "«mieux»", "l'eau", "Pourquoi?", "jour: 3"):
        assert BAD_SPACES.search(wrong), wrong
    assert not BAD_SPACES.search("l’eau\u00a0: «\u00a0oui\u00a0» à 5\u00a0%")


def test_spanish_writes_a_comma_and_the_month_in_small_letters():
    import datetime as dt

    spanish = voice("es")
    assert (spanish.decimal(1.55), spanish.write(12345)) == ("1,6", "12.345")
    assert spanish.write(dt.date(2025, 6, 3)) == "3 de junio de 2025"
    assert [spanish.say("queens", n=n) for n in (0, 1, 2)] == ["0 reinas", "1 reina", "2 reinas"]


def test_spanish_parts_a_number_from_its_percent_sign_and_turns_its_question_marks():
    """The first by the Ortografía of the Spanish academies (2010), from memory."""
    catalogue = load("es")
    for key, sentence in catalogue.sentences.items():
        for form in forms(sentence):
            assert not re.search(r"[\d}] ?%", form), key  # a narrow blank that breaks no line
            assert form.count("¿") == form.count("?"), key
            assert not re.search(r"[\"“”']", form), key  # «so», not "so"


def test_one_and_many():
    say = voice("en").say
    assert say("foundings", n=1) == "1 founding"
    assert say("foundings", n=0) == "0 foundings"
    assert voice("de").say("queens", n=2) == "2 Königinnen"
    assert [voice("fr").say("queens", n=n) for n in (0, 2)] == ["0 reine", "2 reines"]


def test_chances_are_never_printed_as_certain():
    speaker = voice("en")
    assert speaker.chance(0.0) == "less than 1"
    assert speaker.chance(1.0) == "more than 99"
    assert speaker.chance(0.5) == "50"


def test_an_unknown_language_says_which_can_be_had():
    with pytest.raises(StudyError, match="de, en"):
        voice("xx")


def test_a_language_is_not_a_path():
    with pytest.raises(StudyError):
        voice("../catalogue/en")


def test_a_keepers_text_cannot_hold_our_italics_or_line_breaks():
    assert plain(f"a{ITALIC}b{UPRIGHT}\n\tc\x00") == "ab c"
