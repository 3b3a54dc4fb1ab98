"""What is flagged, in words: whole in every language, and no keeper named who is not to be."""

from __future__ import annotations

from types import SimpleNamespace

import pandas as pd
import pytest

from cohort.model.flags import SAYS, TOUCHES
from cohort.newsletter.catalogue import languages
from cohort.newsletter.flagged import sentence, sentences
from cohort.newsletter.speech import ITALIC, voice, without_marks
from cohort.terms.questions import QUESTIONS

NAMED = {"Lasius": True, "dull-brown": False}


def flag(check="losses_before_workers", by="keeper", group="K2", says="more", **more):
    return {
        "check": check, "by": by, "group": group, "genus": "", "observed": 31.0, "expected": 18.4,
        "tail_area": 1e-4, "touches": ["colony"], "says": says,
    } | more  # fmt: skip


def said(one, language="en", show=False):
    return without_marks(sentence(one, voice(language), NAMED, show_keepers=show))


def test_a_keeper_is_named_only_where_the_study_shows_keepers():
    assert said(flag(), show=True) == (
        "Keeper K2: more queens lost before workers than expected (31, against about 18)."
    )
    for language in languages():
        hidden = said(flag(), language)
        assert "K2" not in hidden
        assert "31" in hidden
    assert said(flag()).startswith("One keeper: more queens")
    together = flag(by="keeper_multi", says="fewer")
    assert said(together, show=True).startswith("Keeper K2 (together): fewer queens lost")


@pytest.mark.parametrize(
    ("one", "wanted"),
    [
        (flag(by="way", group="multi"), "Queens in groups: more queens lost before workers"),
        (flag(by="genus", group="Lasius", genus="Lasius"), "Lasius: more queens"),
        (flag(by="size", group="5"), "Groups of 5: more"),
        (flag(by="season", group="2024"), "Season 2024: more"),
        (flag("queens_lost", "month", "2025-08"), "August 2025: more queens lost than expected"),
        (flag("first_worker_clusters", "all", "", "clusters"), "All kinds together: the first"),
        (flag("looks_with_loss", "all", "", "looks_at_losses"), "31 looks showed a loss; about 18"),
        (flag("losses_after_by_size", "all", "", "from_larger"),
         "More queens lost after workers from large groups, and fewer from small ones, than "
         "expected."),
        (flag("allotment", "species", "niger", "more_groups", genus="Lasius"), "Lasius niger: m"),
    ],
)  # fmt: skip
def test_who_and_what(one, wanted):
    assert said(one).startswith(wanted)


def test_a_genus_is_set_in_italics():
    whole = sentence(flag(by="genus", group="Lasius", genus="Lasius"), voice("en"), NAMED,
                     show_keepers=False)  # fmt: skip
    assert whole.startswith(ITALIC)


@pytest.mark.parametrize("language", languages())
def test_every_check_has_a_sentence_for_more_and_for_less(language):
    for check in TOUCHES:
        for says in SAYS.get(check, ("more", "fewer")):
            text = said(flag(check, "all", "", says), language)
            assert text.endswith(".")
            assert "{" not in text
            assert check not in text  # its name stands for what has no words


def test_checks_bear_on_questions_there_are():
    names = set(QUESTIONS)
    assert {q for asked in TOUCHES.values() for q in asked} <= names


def test_two_keepers_who_are_not_named_are_said_once():
    material = SimpleNamespace(
        history=SimpleNamespace(foundings=pd.DataFrame({"genus": ["Lasius"], "named": [True]})),
        study=SimpleNamespace(settings=SimpleNamespace(show_keepers=False)),
        results=SimpleNamespace(diagnosis={"flags": [flag(), flag(group="K3")]}),
    )
    assert len(sentences(material, voice("en"))) == 1
    material.study.settings.show_keepers = True
    assert len(sentences(material, voice("en"))) == 2
    material.results.diagnosis = {}
    assert sentences(material, voice("en")) == ()
