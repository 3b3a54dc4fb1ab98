"""What the audit says is said in every language: a key for each sentence, and no plain English.

Keys and the values given to them are read from the source, so that a new rule shows here before
anybody meets it.
"""

from __future__ import annotations

import ast
import copy
import json
import pickle
import re
import string
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import NamedTuple

import pytest

import cohort
from cohort.audit.find import place_of, tell
from cohort.audit.show import THE_STUDY, counted, lines
from cohort.base.errors import Finding
from cohort.terms.contract import SHEETS
from cohort.terms.near import did_you_mean
from cohort.terms.voice import SHARED, Said, beside, either, in_language, languages, read, voice

HOUSE = Path(cohort.__file__).parent
OTHERS = [language for language in languages() if language != "en"]
DESK = ("desk", "desk/share", "desk/bring")
ROOMS = {
    "audit": "cohort.audit",
    "sheets": "cohort.sheets",
    "terms": SHARED,
    **dict.fromkeys(DESK, "cohort.desk"),
}

PLAIN_ENGLISH: dict[str, int] = {}
"""Modules whose findings are told in English only, and how many sentences of each."""

NO_FINDINGS = ("sheets/blank.py", "sheets/lists.py", "sheets/put.py", "sheets/written.py")
"""Modules that print sheets or raise errors; `against_lists` of lists is tried in tests/sheets."""

NO_FINDING = ("StudyError", "ValueError", "BadParameter", "AssertionError", "TypeError", "compile")
"""Calls whose texts are no findings: errors of commands are English, as everywhere."""

SENTENCE = re.compile(r"\A['\"A-Z{][^\n]* [^\n]*[.?]\Z")


class Call(NamedTuple):
    """A sentence asked for: where, whose, its keys (None: made of parts) and the values given."""

    where: str
    room: str
    keys: tuple[str | None, ...]
    values: frozenset[str]


def modules() -> Iterator[tuple[str, str, ast.Module]]:
    for name, room in ROOMS.items():
        for path in sorted((HOUSE / name).glob("*.py")):
            yield f"{name}/{path.name}", room, ast.parse(path.read_text("utf-8"))


def constants(node: ast.expr) -> tuple[str | None, ...]:
    """Keys that an expression may give."""
    if isinstance(node, ast.Constant):
        return (str(node.value),)
    if isinstance(node, ast.IfExp):
        return (*constants(node.body), *constants(node.orelse))
    return (None,)


@cache
def calls() -> tuple[Call, ...]:
    found = []
    for where, room, tree in modules():
        for node in ast.walk(tree):
            if not isinstance(node, ast.Call):
                continue
            name = getattr(node.func, "id", "")
            at = 1 if name == "Said" else 0
            if name not in ("tell", "_tell", "Said") or len(node.args) <= at:
                continue
            whose = SHARED if name == "Said" else room
            values = frozenset(word.arg or "**" for word in node.keywords)
            line = f"{where}:{node.lineno}"
            found.append(Call(line, whose, constants(node.args[at]), values))
    return tuple(found)


def blanks(sentence: str | dict[str, str]) -> set[str]:
    forms = [sentence] if isinstance(sentence, str) else list(sentence.values())
    named = {n for form in forms for _, n, _, _ in string.Formatter().parse(form) if n}
    return named if isinstance(sentence, str) else named | {"n"}


def test_every_key_of_a_rule_is_in_the_catalogue_and_gets_its_blanks():
    assert len(calls()) > 250
    for call in calls():
        sentences = read(call.room, "en")["sentences"]
        for key in call.keys:
            if key is not None and "**" not in call.values:
                assert key in sentences, (call.where, key)
                wanted = blanks(sentences[key])
                assert wanted <= call.values, (call.where, key, wanted - call.values)
                if len(call.keys) == 1:  # else one of the two may need less
                    assert call.values - wanted <= {"n"}, (call.where, key)


@pytest.mark.parametrize("name", ["audit", "sheets"])
def test_no_sentence_of_a_catalogue_is_said_by_nobody(name):
    texts: list[str] = []
    for path in [*(HOUSE / name).glob("*.py"), *(HOUSE / "cli").glob("*.py")]:
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                texts.append(node.value)
    begun = tuple(text for text in texts if re.fullmatch(r"[a-z]+_", text))  # f"order_{name}"
    unsaid = {
        key for key in read(ROOMS[name], "en")["sentences"]
        if key not in texts and not key.startswith(begun)
    }  # fmt: skip
    assert unsaid == set()


def _said(node: ast.expr) -> str:
    """Text of a constant or of an f-string, blanks as braces."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return node.value
    if isinstance(node, ast.JoinedStr):
        return "".join(
            str(part.value) if isinstance(part, ast.Constant) else "{}" for part in node.values
        )
    return ""


def plain_sentences(tree: ast.Module) -> Iterator[str]:
    """Sentences in the source that are neither documentation nor of an error."""
    skip = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    for node in ast.walk(tree):
        if isinstance(node, ast.Call):
            name = getattr(node.func, "id", getattr(node.func, "attr", ""))
            if name in NO_FINDING:
                skip |= {id(inner) for inner in ast.walk(node)}
        if isinstance(node, ast.JoinedStr):
            skip |= {id(part) for part in node.values}
    for node in ast.walk(tree):
        if id(node) not in skip and isinstance(node, ast.Constant | ast.JoinedStr):
            text = _said(node)
            if SENTENCE.match(text):
                yield text


def test_sentences_that_are_english_only_are_these():
    found: dict[str, list[str]] = {}
    for where, _, tree in modules():
        if where.partition("/")[0] not in ("terms", "desk") and where not in NO_FINDINGS:
            sentences = list(plain_sentences(tree))
            if sentences:
                found[where] = sentences
    assert {where: len(sentences) for where, sentences in found.items()} == PLAIN_ENGLISH, found


ENGLISH_ERRORS = ("allot.py", "allot_study.py", "begin.py", "demo.py")
"""Of commands that speak English only."""


def test_refusals_of_the_desk_are_sentences_of_its_catalogue():
    found = {
        where: [_said(text) for text in ast.walk(node.args[0]) if SENTENCE.match(_said(text))]
        for where, _, tree in modules()
        if where.startswith("desk/") and not where.endswith(ENGLISH_ERRORS)
        for node in ast.walk(tree)
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "StudyError"
    }
    assert {where: texts for where, texts in found.items() if texts} == {}


@pytest.mark.parametrize("room", ["cohort.desk"])
def test_no_sentence_of_the_desk_is_said_by_nobody(room):
    paths = [path for name in (*DESK, "cli") for path in (HOUSE / name).glob("*.py")]
    texts = {
        node.value
        for path in paths
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
    }
    begun = ("list_", "head_")  # f"list_{why}" of what `undo` keeps, f"head_{name}" of a table
    assert set(begun) <= texts
    keys = {key for key in read(room, "en")["sentences"] if not key.startswith(begun)}
    assert keys - texts == set()


def test_a_plain_sentence_would_be_seen():
    tree = ast.parse(
        '"""Doc. Of a module."""\nFinding(what=f"The {x} is wrong.", remedy="Look at it.")\n'
        'raise StudyError("There is none.")\n'
    )
    assert sorted(plain_sentences(tree)) == ["Look at it.", "The {} is wrong."]


# --- the mechanism --------------------------------------------------------------------------------


def test_a_said_text_is_its_english_and_can_be_said_again():
    one = tell("id_unknown", founding="K2-99")
    assert one == "There is no founding 'K2-99'."
    assert in_language(one, "en") == one
    assert in_language(one, "de") == "Es gibt keine Gründung „K2-99“."
    assert in_language(one, "fr") == "Il n’y a pas de fondation «\u00a0K2-99\u00a0»."
    assert in_language("A sentence without a key.", "de") == "A sentence without a key."


def test_values_that_are_said_are_said_in_the_same_language():
    hint = beside(did_you_mean("Lasuis", ["Lasius"]), "", tell("kind_unknown_do"))
    assert hint == "Did you mean 'Lasius'? Give it a row there, or correct the word."
    assert in_language(hint, "es").startswith("¿Querías decir «Lasius»? Dale una fila")
    assert in_language(either(["a", "b", "c"]), "fr") == "a ou b ou c"
    assert beside() == either([]) == ""


def test_numbers_in_it_follow_the_language():
    one = tell("cell_too_long", signs=12345, start="x", most=200)
    assert "12,345 signs" in one
    assert "12.345 Zeichen" in in_language(one, "de")
    assert "12\u202f345 signes" in in_language(one, "fr")


def test_it_can_be_copied_kept_and_written_as_json():
    one = tell("id_twice", place=tell("row_of", file="a.csv", row="7"))
    for again in (copy.deepcopy(one), pickle.loads(pickle.dumps(one))):
        assert (again, type(again)) == (one, Said)
        assert in_language(again, "de") == "Die Nummer ist schon vergeben: a.csv, Zeile 7."
    assert json.loads(json.dumps(one)) == str(one)


def test_english_is_written_as_the_locale_has_it():
    """Numbers and plurals of English are made without babel, which is slow to load."""
    from babel import Locale
    from babel.numbers import format_decimal

    rule = Locale.parse("en_GB").plural_form
    for count in (0, 1, 2, 5, 11, 21, 999, 1000, 1234567):
        assert voice(SHARED).decimal(count, 0) == format_decimal(count, "#,##0", locale="en_GB")
        assert voice(SHARED).say("foundings", n=count).endswith("s") == (rule(count) != "one")


def test_what_a_cell_is_for_is_told_in_the_words_of_the_contract():
    told = read("cohort.audit", "en")["sentences"]
    needed = {
        f"means_{sheet.name}_{column.name}": column.meaning
        for sheet in SHEETS.values()
        for column in sheet.columns
        if column.need == "yes" and sheet.name != "study"  # settings are read otherwise
    }
    assert {key for key in told if key.startswith("means_")} == set(needed)
    for key, meaning in needed.items():
        assert told[key] == f"{meaning[0].lower()}{meaning[1:]}"


# --- the screen -----------------------------------------------------------------------------------


def at(**values: object) -> Finding:
    given = {"level": "error", "rule": "r", "what": "W.", "remedy": "R.", **values}
    return Finding(**given)  # type: ignore[arg-type]  # level is a plain word here


@pytest.mark.parametrize(
    "place",
    [
        {},
        {"file": "study.toml"},
        {"file": "checks.csv", "row": 1234},
        {"file": "K2.xlsx", "tab": "checks", "row": 7, "column": "workers"},
        {"file": "a\x1b[2Jb.csv", "column": "c\u202ed"},
    ],
)
def test_a_place_is_told_in_english_as_the_finding_has_it(place):
    assert place_of(at(**place)) == at(**place).where


@pytest.mark.parametrize("language", languages())
def test_levels_fit_before_the_place_and_lines_their_width(language):
    rows = range(2, 14)
    found = [
        at(file="checks.csv", row=row, founding=f"K2-{row}", level=level, what=tell("no_queen"))
        for level in ("error", "warning", "note")
        for row in rows
    ]
    told = list(lines(found, width=80, language=language))
    assert max(map(len, told)) <= 80
    heads = [line for line in told if not line.startswith(" ")]
    assert all(line[8] == " " and "checks.csv" in line for line in heads)
    assert len({line.split()[0] for line in heads}) == 3
    if language != "en":
        assert not re.search(r"\b(row|rows|more|error|warning)\b", " ".join(told))


def test_counts_and_the_study_in_other_languages():
    some = [at(), at(), at(level="note")]
    assert counted(some, "de") == "2 Fehler, 1 Hinweis"
    assert counted(some, "fr") == "2 erreurs, 1 note"
    assert counted(some, "es") == "2 errores, 1 nota"
    assert counted([], "fr") == "rien à corriger"
    assert [in_language(THE_STUDY, one) for one in languages()] == [
        "die Studie", "the study", "el estudio", "l’étude",
    ]  # fmt: skip
