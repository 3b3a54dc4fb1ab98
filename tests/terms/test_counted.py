"""One and many in every language: no '1 lost queens', in a sentence, a label or a table's head.

A blank before a noun in the plural is a count. It must be the count `n` that chooses the form of
its sentence, or one that is never one, which `NEVER_ONE` says and why.
"""

from __future__ import annotations

import re
from typing import Any

import pytest
from babel import Locale

from cohort.newsletter import catalogue
from cohort.newsletter.speech import voice as page_voice
from cohort.terms.voice import ROOMS, SHARED, languages, read, voice

# Singular and plural of what is counted: nouns, and words that stand in a noun's place.
NOUNS: dict[str, dict[str, str]] = {
    "en": {
        "founding": "foundings", "queen": "queens", "kind": "kinds", "look": "looks",
        "group": "groups", "day": "days", "worker": "workers", "colony": "colonies",
        "keeper": "keepers", "row": "rows", "line": "lines", "file": "files", "genus": "genera",
        "error": "errors", "warning": "warnings", "note": "notes", "lot": "lots", "year": "years",
        "person": "people", "season": "seasons", "container": "containers", "sign": "signs",
        "cell": "cells", "tab": "tabs", "part": "parts", "word": "words", "unit": "units",
        "division": "divisions",
    },
    "de": {
        "Gründung": "Gründungen", "Königin": "Königinnen", "Art": "Arten", "Gruppe": "Gruppen",
        "Kontrolle": "Kontrollen", "Tag": "Tage", "Arbeiterin": "Arbeiterinnen", "Los": "Lose",
        "Kolonie": "Kolonien", "Zeile": "Zeilen", "Datei": "Dateien", "Gattung": "Gattungen",
        "Warnung": "Warnungen", "Hinweis": "Hinweise", "Person": "Personen", "Saison": "Saisons",
        "Zelle": "Zellen", "Teil": "Teile", "Wort": "Wörter", "Aufteilung": "Aufteilungen",
    },
    "fr": {
        "fondation": "fondations", "reine": "reines", "sorte": "sortes", "contrôle": "contrôles",
        "groupe": "groupes", "jour": "jours", "ouvrière": "ouvrières", "colonie": "colonies",
        "ligne": "lignes", "fichier": "fichiers", "genre": "genres", "erreur": "erreurs",
        "alerte": "alertes", "note": "notes", "personne": "personnes", "saison": "saisons",
        "tirage": "tirages", "case": "cases", "signe": "signes", "onglet": "onglets",
        "partie": "parties", "mot": "mots", "unité": "unités", "perdue": "perdues",
        "disparue": "disparues", "répartition": "répartitions", "récipient": "récipients",
    },
    "es": {
        "fundación": "fundaciones", "reina": "reinas", "tipo": "tipos", "revisión": "revisiones",
        "grupo": "grupos", "día": "días", "obrera": "obreras", "colonia": "colonias",
        "fila": "filas", "archivo": "archivos", "género": "géneros", "error": "errores",
        "aviso": "avisos", "nota": "notas", "persona": "personas", "temporada": "temporadas",
        "casilla": "casillas", "celda": "celdas", "signo": "signos", "pestaña": "pestañas",
        "parte": "partes", "palabra": "palabras", "unidad": "unidades", "perdida": "perdidas",
        "reparto": "repartos", "recipiente": "recipientes", "línea": "líneas",
    },
}  # fmt: skip

NEVER_ONE = {
    "k": "queens of a group, two at least",
    "word": "the same in words",
    "all": "all of which some are told apart, two at least",
    "least": "what a comparison needs: 8, 4 or 3",
    "day": "so many days after the first worker: 30 or 60",
    "most": "a limit of what is read, or queens of the largest group",
    "lines": "of a cell that spans several, or more than are read",
    "cells": "millions",
    "millions": "12 or 200",
    "signs": "more than are shown",
    "rows": "among which headings are looked for: 40",
    "count": "an average, with its places",
    "count_lots": "an average, with its places",
    "value": "an average, with its places",
    "many": "an average, with its places",
    "each": "an average, with its places",
    "colonies": "an average, with its places",
    "apart": "an average, with its places",
    "mean_single": "of 100 queens, or an average",
    "queens": "to be divided: two at least",
    "size": "of a group, two at least",
    "units": "of a textbook's study, many",
    "genera": "of the list of genera: hundreds",
    "length": "days without a look: more than three rhythms",
}
NEVER_ONE_HERE = {
    ("flags_none", "n"): "all numbers that are checked",
    ("a_one", "n"): "7 or 14 days",
    ("a_all", "n"): "7 or 14 days",
    ("story_limit", "n"): "40 to 500 words",
    ("needed", "n"): "so many foundings that a range is narrow",
    ("needed_beyond", "n"): "so many foundings that a range is narrow",
    ("queens_named", "kind"): "a name",
    ("few_who", "kind"): "a name",
    ("foundings", "n"): "a label with `founding_one` beside it",
    ("queens", "n"): "a label with `queen_one` beside it",
    ("groups", "n"): "a label with `group_one` beside it",
    ("without_row", "n"): "a label with `without_row_one` beside it",
    ("without_row", "foundings"): "with a word of their own: '12 foundings'",
    ("without_row_one", "foundings"): "of a kind that has a row only with several",
}


COUNTS = ("n", "observed", "count", "number")
"""Blanks that tell the count by which a form is chosen."""


def spoken(language: str) -> list[tuple[str, str, Any]]:
    """Room, key and sentence of everything that is said in a language, labels of pictures too."""
    out = [
        (room, key, sentence)
        for room in (SHARED, *ROOMS)
        for key, sentence in read(room, language)["sentences"].items()
    ]
    page = catalogue.load(language)
    out += [("page", key, sentence) for key, sentence in page.sentences.items()]
    out += [("labels", key, text) for key, text in vars(page.labels).items() if type(text) is str]
    return out


def plural(language: str) -> re.Pattern[str]:
    return re.compile(rf"\{{(\w+)\}}[ \u00a0](?:{'|'.join(NOUNS[language].values())})\b")


def uncounted(language: str, key: str, sentence: Any) -> list[str]:
    """Blanks before a noun in the plural that may be one and choose no form."""
    forms = [sentence] if isinstance(sentence, str) else list(sentence.values())
    found = {blank for form in forms for blank in plural(language).findall(form)}
    chosen = set() if isinstance(sentence, str) else set(COUNTS)
    return sorted(
        blank for blank in found - chosen
        if blank not in NEVER_ONE and (key, blank) not in NEVER_ONE_HERE
    )  # fmt: skip


def ill_counted(language: str, count: int, text: str) -> list[str]:
    """Words of the wrong number behind a count, such as '1 perdidas' and '2 reina'."""
    one = str(Locale.parse(language).plural_form(count)) == "one"
    wrong = NOUNS[language].values() if one else NOUNS[language].keys()
    return re.findall(rf"(?<![\d.,]){count}[ \u00a0](?:{'|'.join(wrong)})\b", text)


@pytest.mark.parametrize("language", languages())
def test_no_count_stands_before_a_plural_for_good(language):
    found = {
        (room, key): uncounted(language, key, sentence)
        for room, key, sentence in spoken(language)
        if uncounted(language, key, sentence)
    }
    assert found == {}


@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("count", [0, 1, 2])
def test_every_counted_sentence_with_none_one_and_two(language, count):
    tried = 0
    for room, key, sentence in spoken(language):
        if isinstance(sentence, str):
            continue
        own = page_voice(language) if room == "page" else voice(room, language)
        blanks = {
            blank: "X" for form in sentence.values() for blank in re.findall(r"\{(\w+)", form)
        }
        counts = {name: count for name in COUNTS if name in {*blanks, "n"}}
        text = own.say(key, **{**blanks, **counts})
        assert ill_counted(language, count, text) == [], (room, key, text)
        tried += 1
    assert tried > 40


def test_ill_counted_forms_are_seen():
    assert ill_counted("es", 1, "De estas reinas: 1 perdidas antes.") == ["1 perdidas"]
    assert ill_counted("es", 2, "2 reina") == ["2 reina"]
    assert ill_counted("fr", 0, "0 reines") == ["0 reines"]  # French counts none as one
    assert ill_counted("en", 1, "11 queens, 1 queen") == []
    assert ill_counted("de", 1, "1 Königinnen") == ["1 Königinnen"]
    assert uncounted("es", "x", "{lost} perdidas antes") == ["lost"]
    assert uncounted("en", "x", {"one": "{n} queen", "other": "{n} queens of {far} looks"}) == [
        "far"
    ]


@pytest.mark.parametrize("language", languages())
def test_fates_and_groups_of_pictures_are_counted(language):
    from cohort.figures.names import fate_text, foundings_text, groups_text, queens_text

    labels = catalogue.load(language).labels
    assert set(labels.fates_one) == set(labels.fates)
    for count in (1, 2):
        told = [f"{count} {fate_text(count, fate, labels)}" for fate in labels.fates]
        told += [text(count, labels) for text in (groups_text, foundings_text, queens_text)]
        assert [ill_counted(language, count, text) for text in told] == [[]] * len(told)
