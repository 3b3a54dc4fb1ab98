"""The style sheet of the catalogue, counted on pages: short sentences, nothing twice, no jargon.

How long a sentence may be is common practice of plain-language guides (fifteen to twenty words on
average), from memory; what is forbidden is what earlier pages of ours said too often.
"""

from __future__ import annotations

import re
from collections import Counter

import pytest
from test_page import Reader

from cohort import figures
from cohort.newsletter import content, story, voice
from cohort.newsletter.catalogue import load
from cohort.newsletter.speech import without_marks

FORBIDDEN = {
    "en": ("behind it:", "before any sheet was read", "leans towards", "came out ahead",
           "clearly ahead", "keeping them singly", "a kind nobody", "has not settled",
           "carried over", "nobody learns", "kept singly", "such groups"),
    "de": ("dahinter:", "deutet mehr auf", "neigt zu", "lagen dieselben", "nicht gefestigt",
           "aus nur einer weise"),
    "es": ("se inclina", "significativ", "horizonte", "brazo", "convergi", "llevar sobre"),
    "fr": ("significati", "de manière", "au niveau de", "bras ", "risque relatif"),
}  # fmt: skip
MOST_RANGES = 5
"""Times a page may say `likely range`: it is explained once and then shown in brackets."""
LONGEST = 40
ON_AVERAGE = 17.0


def sentences(text: str) -> list[str]:
    """Sentences of plain text; what stands in brackets belongs to the sentence round it."""
    flat = " ".join(without_marks(text).split())
    return [s for s in re.split(r"(?<=[.!?])\)? (?=[(\"“„«A-ZÀÄÉÖÜ¿\d])", flat) if s]


def words(sentence: str) -> int:
    """Words of a sentence; numbers and signs of a division are none."""
    return len(re.findall(r"[^\W\d_][\w'’-]*", sentence))


def said(page) -> list[str]:
    """Every text of the page proper, as it is set."""
    return [page.headline, *page.lead, page.level, *page.kind_leads, *page.by_kind_says,
            *page.next_season, *page.sure, *page.not_seen, *page.how, page.left_some]  # fmt: skip


def repeated(text: str, length: int = 8) -> list[str]:
    """Runs of so many words that stand more than once, numbers left out of account."""
    flat = re.findall(r"[^\W_]+", text.lower())
    runs = Counter(tuple(flat[i : i + length]) for i in range(len(flat) - length))
    return [" ".join(run) for run, n in runs.items() if n > 1]


def forbidden(text: str, language: str) -> list[str]:
    low = text.lower()
    return [phrase for phrase in FORBIDDEN[language] if phrase in low]


@pytest.fixture(scope="module")
def pages(demo, make):
    """Pages of a large study, of one kind, of counts alone and of too few, in both languages."""
    materials = {
        "demo": demo,
        "one kind": make(genera=("Lasius",), per=24),
        "not settled": make(shut=True),
        "few": make(per=6, genera=("Lasius",)),
    }
    return {
        (name, language): content(m, figures.numbers(m), voice(language))
        for name, m in materials.items()
        for language in ("en", "de", "es", "fr")
    }


def test_sentences_are_short(pages):
    for (name, language), page in pages.items():
        every = [s for text in said(page) for s in sentences(text)]
        count = [words(s) for s in every]
        assert max(count) <= LONGEST, (name, language, max(every, key=words))
        assert sum(count) / len(count) <= ON_AVERAGE, (name, language)


def test_no_paragraph_of_the_page_is_said_twice(pages):
    """Not on the page, and the story says it no more than once in each of its versions."""
    for (name, language), page in pages.items():
        every = [s for text in said(page) for s in sentences(text) if words(s) > 5]
        twice = [s for s, n in Counter(every).items() if n > 1]
        # how sure and why are said of each verdict; two kinds may have the same numbers
        of_each = (
            "We say",
            "Wir sagen",
            "We are",
            "Wir sind",
            "(Based",
            "(Beruht",
            "Nous disons",
            "Nous sommes",
            "Nous en",
            "(D",
            "Con una",
            "Lo decimos",
            "De eso",
            "Decimos",
            "(Se basa",
        )
        rest = [s for s in twice if not s.startswith(of_each)]
        assert rest == [], (name, language)
        told = " ".join(story.version(page, 700))
        for text in page.lead:
            assert told.count(text) == 1


def test_what_a_group_can_give_is_said_once(pages):
    for (name, language), page in pages.items():
        line = {
            "en": "can become one colony at most",
            "de": "höchstens eine Kolonie",
            "es": "como mucho una colonia",
            "fr": "donne au plus une colonie",
        }[language]
        whole = " ".join(said(page))
        assert whole.count(line) == (name in ("demo", "one kind"))


def test_forbidden_phrases_stand_nowhere(pages, written):
    for (_, language), page in pages.items():
        text = " ".join((*said(page), *page.counted, *(s.text for s in page.sayings),
                         story.story(page)))  # fmt: skip
        assert forbidden(text, language) == []
    for name in ("newsletter.html", "details.html"):
        text = Reader((written / name).read_text(encoding="utf-8")).text
        of_pictures = {"kept singly"} if name == "details.html" else set()
        assert set(forbidden(text, "en")) <= of_pictures, name
    for language, phrases in FORBIDDEN.items():
        sentences = load(language).sentences
        own = {key: form for key, form in sentences.items()
               if not key.startswith(("cap_", "short_", "alt_"))}  # fmt: skip
        for key, form in own.items():
            for text in [form] if isinstance(form, str) else form.values():
                assert not any(p in text.lower() for p in phrases), key


def test_likely_range_is_explained_once_and_then_shown(pages, written):
    text = Reader((written / "newsletter.html").read_text(encoding="utf-8")).text.lower()
    assert 1 <= text.count("likely range") <= MOST_RANGES
    for language, phrase in (
        ("en", "likely range"),
        ("de", "wahrscheinliche bereich"),
        ("es", "intervalo probable"),
        ("fr", "fourchette probable"),
    ):
        whole = " ".join(said(pages["demo", language])).lower()
        assert whole.count(phrase) == 1
        assert re.search(r"\(\d+ (to|bis|a|à) \d+\)", whole)
        assert phrase not in " ".join(said(pages["few", language])).lower()  # no range, no word


def test_the_page_is_two_minutes_of_reading(pages):
    """At 200 words a minute, without cautions and lists."""
    for (name, language), page in pages.items():
        answer = " ".join((page.headline, *page.lead, *page.kind_leads[:1], *page.by_kind_says,
                           *page.next_season[:1], *page.sure))  # fmt: skip
        assert words(answer) <= 400, (name, language)


def test_the_counters_can_fail():
    long = "This is " + "very " * 45 + "long. And short."
    assert max(map(words, sentences(long))) > LONGEST
    assert len(sentences("Based on it. (Based on 3 queens.) It is so.")) == 3
    assert forbidden("Behind it: 36 foundings", "en") == ["behind it:"]
    assert forbidden("Es neigt zu zusammen", "de") == ["neigt zu"]
    twice = "the same queens kept apart had at least one colony"
    assert repeated(f"{twice} and {twice}")
    assert repeated(twice) == []


def test_long_runs_of_words_are_not_repeated(pages):
    """Eight words on end that stand twice within the lead, the kinds and how sure we are."""
    page = pages["demo", "en"]
    text = " ".join((*page.lead, *page.sure, *page.not_seen, *page.how))
    assert [run for run in repeated(text) if "probably" not in run and "lots" not in run] == []
