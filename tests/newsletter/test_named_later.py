"""A kind that got its name late: the page says since when, in every language."""

import early
import pytest

from cohort.newsletter import counts, voice

CALLED = {
    "en": "“amber-leg” has been known as",
    "de": "„amber-leg“ hieß",
    "es": "«amber-leg»",
    "fr": "« amber-leg »",
}


@pytest.fixture(scope="module")
def material(tmp_path_factory):
    made = tmp_path_factory.mktemp("named") / "study"
    sheets = early.STUDIES["no workers yet"]
    head = early.HEAD
    with pytest.MonkeyPatch.context() as patch:
        patch.setitem(head, "kinds", "kind,genus,first_called")
        rows = [("amber-leg", "Lasius", "2025-09-06"), ("dull", "", ""), ("big", "Lasius", "")]
        return early.material_of({**sheets, "kinds": rows}, made)


@pytest.mark.parametrize("language", CALLED)
def test_since_when_a_kind_has_its_name(language, material):
    told = [note for note in counts.notes(material, voice(language), ()) if "amber" in note]
    assert len(told) == 1
    plain = told[0].replace("\u00a0", " ").replace("\u202f", " ")
    assert CALLED[language] in plain
    assert "2025" in plain
    assert "Lasius" in plain


def test_nothing_is_said_of_kinds_named_from_the_start(material):
    text = " ".join(counts.notes(material, voice("en"), ()))
    assert "dull" not in text
    assert "“big”" not in text
