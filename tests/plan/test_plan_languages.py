"""A plan says the same in every language: numbers by pen, words by the catalogue."""

from __future__ import annotations

import numpy as np
import pytest
from plan_made import KNOWN, basis

from cohort.base.display import untied
from cohort.outcomes.basis import Kind
from cohort.plan import phrases, plan, words
from cohort.plan.advice import advice
from cohort.terms.voice import languages

APART, TRIO = (1, 1, 1), (3,)
# apart is better in 3 of 3 draws; before the season in 2 of 3
NOW = np.array([[0.875, 0.936, 0.999], [0.8, 0.7, 0.9]])
BEFORE = np.array([[0.5, 0.6, 0.7], [0.6, 0.5, 0.68]])


def test_advice_in_german():
    german = phrases.speaks("de")
    assert untied(phrases.advice_text(advice("one", APART, TRIO, NOW, BEFORE), german)) == (
        "Für mindestens eine Kolonie: die drei einzeln halten. Wir sind zu mehr als 99 % sicher, "
        "dass das besser ist als ein Trio (vor der Saison: 67 %)."
    )
    many = advice("many", TRIO, APART, np.array([[1.1], [1.0]]))
    assert untied(phrases.advice_text(many, german)) == (
        "Es macht wenig Unterschied: im Mittel 1,1 Kolonien als ein Trio, 1,0 bei drei einzeln "
        "gehaltenen. Wir sind zu mehr als 99 % sicher, dass beide höchstens 0,15 Kolonien "
        "auseinanderliegen."
    )
    assert phrases.named((4, 3, 2, 2, 1), german) == (
        "eine Gruppe von vier, ein Trio, zwei Paare und eine Königin allein"
    )


def test_advice_in_spanish():
    spanish = phrases.speaks("es")
    assert untied(phrases.advice_text(advice("one", APART, TRIO, NOW, BEFORE), spanish)) == (
        "Para tener al menos una colonia: alojar las tres separadas. Con una seguridad de más del "
        "99 %, eso es mejor que un trío (antes de la temporada: 67 %)."
    )
    many = advice("many", TRIO, APART, np.array([[1.1], [1.0]]))
    assert untied(phrases.advice_text(many, spanish)) == (
        "Apenas hay diferencia: con un trío hay una media de 1,1 colonias; con las tres separadas, "
        "de 1,0. Con una seguridad de más del 99 %, la diferencia es como mucho de 0,15 colonias."
    )
    assert phrases.named((4, 3, 2, 2, 1), spanish) == (
        "un grupo de cuatro, un trío, dos parejas y una reina sola"
    )


def test_advice_in_french():
    french = phrases.speaks("fr")
    assert untied(phrases.advice_text(advice("one", APART, TRIO, NOW, BEFORE), french)) == (
        "Pour obtenir au moins une colonie, logez les trois reines séparément. Par rapport à un "
        "trio, nous sommes sûrs à plus de 99 % que c’est mieux (avant la saison : 67 %)."
    )
    many = advice("many", TRIO, APART, np.array([[1.1], [1.0]]))
    assert untied(phrases.advice_text(many, french)) == (
        "Cela ne change pas grand-chose : le nombre moyen de colonies est de 1,1 avec un trio, et "
        "de 1,0 avec les trois reines séparées. Nous sommes sûrs à plus de 99 % que les deux ne "
        "diffèrent pas de plus de 0,15 colonie."
    )
    assert phrases.named((4, 3, 2, 2, 1), french) == (
        "un groupe de quatre, un trio, deux paires et une reine seule"
    )


@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("want", ["one", "many", "workers"])
def test_every_sentence_of_a_plan_is_there(language, want):
    own = phrases.speaks(language)
    what = plan(4, Kind("Lasius", 0), basis(KNOWN), day=160, want=want)
    told = (*words.first_words(what, own), *words.sentences(what, own), what.titled(own))
    assert all(told)
    assert not any("{" in text for text in told)
    rows = words.rows(what, own)
    assert {len(row) for row in rows} == {len(words.headings(want, own))}
    values = words.as_json(what, own)
    assert values["advice"]["text"] == told[0]
    has_column = own.say("teach") in words.headings(want, own)
    assert any(own.say("teach_column") in text for text in told) == has_column


def test_a_range_that_is_one_number_is_told_as_one():
    own = phrases.speaks()
    what = plan(4, Kind("Lasius", 0), basis(KNOWN), day=160)  # one draw: no range
    assert not any("(" in cell for row in words.rows(what, own) for cell in row)
