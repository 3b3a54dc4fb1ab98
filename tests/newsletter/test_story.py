"""story.txt and captions.txt: word limits over a grid of results, whole sentences of the page."""

from __future__ import annotations

import dataclasses
import re
import types
from pathlib import Path

import pytest
from test_words import change, contrast

from cohort import figures
from cohort.newsletter import content, story, voice
from cohort.newsletter.captions import short_captions
from cohort.newsletter.content import with_drawings
from cohort.newsletter.plain_text import captions
from cohort.newsletter.speech import without_marks
from cohort.newsletter.words import sayings

LANGUAGES = ("en", "de", "es", "fr")
MANY = tuple(f"Genus{chr(97 + i)}" for i in range(9))
TWO = {"genera": ("Lasius", "Messor"), "per": 13}
GRID = {
    "nothing to compare": lambda make, base: make(
        multi=False, settled=False, per=13, genera=("Lasius",)
    ),
    "gate shut": lambda make, base: make(shut=True, **TWO),
    "no workers": lambda make, base: make(workers=False, shut=True, **TWO),
    "too few": lambda make, base: make(per=6, genera=("Lasius",)),
    "all dead": lambda make, base: make(all_dead=True, **TWO),
    "one kind": lambda make, base: make(genera=("Lasius",), per=24),
    "many kinds": lambda make, base: make(genera=MANY, per=4),
    "stinging kinds": lambda make, base: make(genera=("Myrmica", "Solenopsis"), per=13),
    "not yet named": lambda make, base: make(genera=("Lasius", "kind brown"), per=13),
    "twelve of twelve": lambda make, base: make(chance=(0.996, 0.996), **TWO),
    "very clear": lambda make, base: contrast(base, 0.999),
    "about the same": lambda make, base: contrast(base, 0.6, equal=0.95),
    "assumed beforehand": lambda make, base: change(base, prior_rules=True),
    "keepers named": lambda make, base: named(base),
}


def named(material):
    """As many keepers as foundings, with long names, all of them shown."""
    foundings = material.history.foundings.copy()
    foundings["keeper"] = [f"Keeper number {i} of the club" for i in range(len(foundings))]
    history = dataclasses.replace(material.history, foundings=foundings)
    shown = types.SimpleNamespace(**{**vars(material.study.settings), "show_keepers": True})
    study = dataclasses.replace(material.study, settings=shown)
    return dataclasses.replace(material, history=history, study=study)


@pytest.fixture(scope="module")
def base(make):
    return make(**TWO)


@pytest.fixture(scope="module", params=GRID)
def told(request, make, base):
    """A study of the grid, in every language: language -> what its page says."""
    material = GRID[request.param](make, base)
    return {language: content(material, {}, voice(language)) for language in LANGUAGES}


def test_both_versions_keep_to_their_words(told):
    for said in told.values():
        for limit in (350, 700):
            text = " ".join(story.version(said, limit))
            assert 60 < len(without_marks(text).split()) <= limit


def test_both_versions_are_whole(told):
    """Headline, what was found or why nothing is compared, law, and the counts behind it."""
    for said in told.values():
        for limit in (350, 700):
            paragraphs = story.version(said, limit)
            text = " ".join(paragraphs)
            assert paragraphs[0] == said.headline
            assert " ".join(said.lead) in text
            assert said.cautions[0] in text
            assert said.not_seen[0] in text
            if len(said.study_line.split()) < 60:  # so many keepers by name leave no room
                assert said.study_line in text


def test_the_longer_version_says_all_that_the_shorter_one_says(told):
    for said in told.values():
        longer = " ".join(story.version(said, 700))
        for paragraph in story.version(said, 350):
            for sentence in re.split(r"(?<=\.) (?=[A-ZÄÖÜ\d\ue000])", paragraph):
                assert sentence in longer


def test_every_sentence_stands_on_the_page(told):
    for said in told.values():
        page = [said.headline, said.study_line, said.credits, said.level, said.title, said.season]
        for texts in (said.lead, said.kind_leads, said.by_kind_says, said.sure, said.counted,
                      said.not_seen, said.cautions, said.how, said.next_season,
                      *vars(said.few).values()):  # fmt: skip
            page += texts
        page += [s.text for s in said.sayings]
        whole = " ".join((*page, said.voice.say("season", season=said.season), said.place))
        for paragraph in story.version(said, 700):
            for sentence in re.split(r"(?<=\.) (?=[A-ZÄÖÜ\d\ue000])", paragraph):
                assert sentence.rstrip(".").split(", Estuary")[0] in whole


def test_no_chance_for_a_group_without_the_same_queens_kept_singly(told):
    of_groups = re.compile(r"(?i)of 100 (such )?(trios|pairs|sets of)")
    for limit in (350, 700):
        for paragraph in story.version(told["en"], limit):
            if of_groups.search(paragraph):
                assert re.search(r"(?i)\bapart\b", paragraph), paragraph


def test_the_look_for_a_lonely_chance_can_fail(demo):
    said = content(demo, {}, voice("en"))
    lonely = re.sub(r"; of 100 such .*?\)\.", ".", next(
        s.text for s in said.sayings if s.topic == "left"))  # fmt: skip
    assert re.search(r"(?i)of 100 (trios|pairs)", lonely)
    assert not re.search(r"(?i)\bapart\b", lonely)


def test_no_mark_up_and_one_paragraph_a_line(demo):
    text = story.story(content(demo, {}, voice("en")))
    assert not re.search(r"[<>*_#\ue000\ue001]", text)
    assert text.count(content(demo, {}, voice("en")).headline) == 2
    assert "At most 350 words\n\n" in text
    assert "At most 700 words\n\n" in text
    assert max(len(line) for line in text.split("\n")) > 400


def test_the_most_important_comes_first(demo):
    """What does not fit in 350 words is told in 700: first workers and queens left."""
    said = content(demo, {}, voice("en"))
    short, long = (" ".join(story.version(said, n)) for n in (350, 700))
    pooled = {s.topic: s.text for s in said.sayings if s.genus == "average"}
    assert pooled["survival"] in short
    for topic in ("survival", "first_worker", "left"):
        assert pooled[topic] in long
    kinds = [s for s in said.sayings if s.topic == "fair" and s.genus not in ("average", "new")]
    assert kinds[0].text in short
    assert kinds[1].text in long
    assert "A sting of" in long


# ------------------------------------------------------------------ captions


@pytest.fixture(scope="module")
def numbered(demo, make):
    """Pictures of a comparison, and of counts alone."""
    shut = make(shut=True)
    return [(demo, figures.numbers(demo)), (shut, figures.numbers(shut))]


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("which", [0, 1])
def test_every_caption_has_less_than_thirty_words_and_its_credit(numbered, language, which):
    material, drawings = numbered[which]
    said = content(material, drawings, voice(language))
    files = {name: dataclasses.replace(drawings[name], paths=(Path(f"{name}-85.svg"),))
             for name in said.pictures}  # fmt: skip
    said = with_drawings(said, files)
    assert len(said.pictures) >= (5, 10)[which == 0]
    blocks = captions(said).strip().split("\n\n")
    assert len(blocks) == len(said.pictures)
    for block, (name, shown) in zip(blocks, said.pictures.items(), strict=True):
        lines = block.split("\n")
        assert lines[:2] == [name, f"{name}-85.svg"]
        assert lines[-2] == without_marks(shown.short)
        assert 5 < len(lines[-2].split()) < 30, name
        assert said.credits in lines[-1]
        assert said.title in lines[-1]
        assert shown.alt not in block


def test_the_limit_holds_for_large_groups_too(numbered):
    """A trio is one word, `sets of 12` three: the caption has room for two more."""
    material, drawings = numbered[0]
    said = sayings(material, voice("en"))
    left = {"queens_left": drawings["queens_left"]}
    for language, words in (
        ("en", "of 100 such trios"),
        ("de", "von 100 solchen Dreiergruppen"),
        ("es", "de cada 100 tríos"),
        ("fr", "trios sur 100"),
    ):
        text = short_captions(left, said, material, voice(language))["queens_left"]
        assert words in text
        assert len(text.split()) + 2 < 30


def test_a_picture_of_groups_says_the_same_queens_kept_singly(numbered):
    material, drawings = numbered[0]
    said = content(material, drawings, voice("en"))
    assert re.search(r"Housed apart, \d+ of 100 such trios", said.pictures["queens_left"].short)
    material, drawings = numbered[1]
    counted = content(material, drawings, voice("en"))
    assert "apart" not in counted.pictures["queens_left"].short
