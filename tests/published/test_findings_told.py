"""What is told of a genus is what its rows of data/findings.csv say, read and counted by hand.

The rows themselves were read in the papers; `tests/simulate/test_findings.py` holds the table.
"""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from cohort.base.errors import StudyError
from cohort.published import findings, found, published, sources, table
from cohort.published.kin import GROUPS, kin
from cohort.published.summary import _lean
from cohort.published.words import speaks
from cohort.terms.genera import GENERA, needs_host
from cohort.terms.voice import languages

pytestmark = pytest.mark.quick

# species -> rows, and the numbers that its sentence has to name, in the order of the English one
BY_HAND = {
    "Lasius niger": ((1, 2, 3, 4, 5, 6, 7), "6 26 83 3 4 60 20 130 75 227"),
    "Lasius paralienus": ((8,), "3 5 10 30"),
    "Solenopsis fugax": ((9,), "5"),
    "Solenopsis invicta": ((10, 11, 12, 13), "3 5 1 10 15 4 4"),
    "Veromessor pergandei": ((14, 15), "9"),
    "Messor semirufus": ((16, 17), ""),
    "Pogonomyrmex californicus": ((18, 19, 20), ""),
    "Crematogaster scutellaris": ((21, 22), ""),
    "Oecophylla smaragdina": ((23, 24), "3.2 68 4.3 8"),
    "Atta texana": ((25,), ""),
    "Acromyrmex versicolor": ((26,), ""),
    "Formica podzolica": ((27,), "8 16"),
    "Iridomyrmex purpureus": ((28,), ""),
}
# which way the rows on survival and colonies point: 11 worse and 12 mixed of Solenopsis; 16, 21, 27
# worse; 18, 19, 25, 26 better; none of Lasius (6 compares populations), Veromessor, Oecophylla
LEANS = {
    "Lasius": "open", "Solenopsis": "mixed", "Veromessor": "open", "Messor": "apart",
    "Pogonomyrmex": "company", "Crematogaster": "apart", "Oecophylla": "open", "Atta": "company",
    "Acromyrmex": "company", "Formica": "apart", "Iridomyrmex": "open",
}  # fmt: skip


def numbers(text):
    return sorted(one.replace(",", ".") for one in re.findall(r"\d+(?:[.,]\d+)?", text))


def test_every_row_on_a_species_is_told_and_no_other():
    rows = {}
    for one in findings():
        if one.genus:
            rows.setdefault(f"{one.genus} {one.species}", []).append(one.row)
    assert {name: tuple(own) for name, own in rows.items()} == {
        name: own for name, (own, _) in BY_HAND.items()
    }
    keys = {k for k in speaks().sentences if k.startswith("found_")}
    assert keys == {"found_" + name.replace(" ", "_") for name in BY_HAND}


@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("name", BY_HAND)
def test_the_numbers_of_a_sentence_are_those_of_its_rows(name, language):
    rows, wanted = BY_HAND[name]
    told = speaks(language).say("found_" + name.replace(" ", "_"))
    assert numbers(told) == sorted(wanted.split())
    printed = " ".join(f"{one.finding} {one.question}" for one in findings() if one.row in rows)
    designs = {"Lasius paralienus": "5 3", "Solenopsis fugax": "5", "Solenopsis invicta": "4",
               "Oecophylla smaragdina": "68"}  # fmt: skip
    allowed = {*numbers(printed), *designs.get(name, "").split(), "4" if "four" in printed else ""}
    assert set(numbers(told)) <= allowed


@pytest.mark.parametrize("genus", LEANS)
def test_the_lean_of_a_genus_by_hand(genus):
    assert published(genus).lean == LEANS[genus]


def test_first_workers_and_broods_lean_no_way():
    oecophylla = published("Oecophylla")
    assert {one.groups for one in oecophylla.rows} == {"more", "sooner"}
    assert (oecophylla.lean, oecophylla.weighed) == ("open", ())


def test_one_row_turned_turns_the_lean():
    rows = published("Messor").rows
    assert _lean(rows) == "apart"
    turned = tuple(replace(one, groups="better") if one.row == 16 else one for one in rows)
    assert _lean(turned) == "company"
    both = (*rows, replace(rows[0], groups="better"))
    assert _lean(both) == "mixed"


def test_a_species_comes_before_its_genus_and_kin_come_last():
    assert published("Solenopsis", "fugax").names == ("Solenopsis fugax",)
    assert published("Solenopsis", "fugax").lean == "open"
    assert published("Lasius", "flavus").of == "genus"
    near = published("Nylanderia")
    assert (near.of, {one.genus for one in near.rows}) == ("kin", {"Lasius"})
    assert published("Tetramorium").of == published("").of == "nothing"
    assert found(published(""), speaks())[0] == speaks().say("unnamed_nothing")


def test_kin_are_known_genera_that_found_alone_each_in_one_group():
    every = [genus for group in GROUPS for genus in group.split()]
    assert len(set(every)) == len(every)
    assert set(every) <= set(GENERA)
    assert not [genus for genus in every if needs_host(genus)]
    assert "Lasius" in kin("Nylanderia")
    assert kin("Crematogaster") == ()


def test_sources_name_authors_year_and_doi_where_it_was_read():
    lasius = sources(published("Lasius"), speaks())
    assert len(lasius) == 5  # papers, not rows: three rows are of 1995, two of 2017
    assert lasius[0] == "Sommer & Hoelldobler 1995, Animal Behaviour 50:287-294"
    assert "Madsen & Offenberg 2017, Asian Myrmecology 9 (partly from memory)" in lasius
    assert "Stukalyuk & Czaczkes 2024, doi:10.1101/2024.07.16.603683" in lasius
    for one in findings():
        if one.genus:
            (told,) = [s for s in sources(published(one.genus, one.species), speaks())
                       if s.startswith(f"{one.authors} {one.year}")]  # fmt: skip
            assert (f"doi:{one.doi}" in told) == bool(one.doi)
            assert ("from memory" in told) == one.from_memory


def test_an_installation_without_the_table_says_so(monkeypatch, tmp_path):
    monkeypatch.setattr(table, "_PLACES", (tmp_path / "findings.csv",))
    findings.cache_clear()
    with pytest.raises(StudyError, match="missing from this installation"):
        findings()
    monkeypatch.undo()
    findings.cache_clear()
    assert findings()
