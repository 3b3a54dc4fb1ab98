"""The contract as the audit reads it, and genera against published lists."""

import math
import re
from typing import get_args

import pytest

from cohort.audit import audit, cells
from cohort.sheets.folder import read_folder
from cohort.terms import (
    GENERA,
    QUANTITIES,
    SETTINGS,
    SHEETS,
    cautions,
    did_you_mean,
    genus_list,
    genus_sources,
    needs_host,
    words,
)
from cohort.terms.genera import (
    LAW_FIRST,
    cautions_of,
    founding_doubt,
    founding_of,
    founds_by_splitting,
    near_genus,
    spelled,
    split_name,
    spreading,
)

COLUMNS = [(sheet.name, column) for sheet in SHEETS.values() for column in sheet.columns]
COLUMNS += [("settings", column) for column in SETTINGS.values()]
READERS = {
    "count": lambda text, column: cells.count(text, column),
    "number": lambda text, column: cells.number(text, column),
    "days": lambda text, column: cells.number(text, column),
    "date": lambda text, column: cells.date(text, ""),
    "word": cells.word,
    "yes-no": cells.word,
}
"""How the audit reads a cell of a kind; ids, names and texts are taken as they stand."""
WRONG = {"count": "2.5", "number": "warm", "days": "a few", "date": "2026-02-30",
         "word": "qqqq", "yes-no": "perhaps"}  # fmt: skip
FREE = {"text", "id", "genus"}


@pytest.mark.parametrize(("sheet", "column"), COLUMNS, ids=lambda v: getattr(v, "name", v))
def test_the_example_of_a_column_is_read_and_another_kind_of_cell_is_not(sheet, column):
    """What a blank sheet shows a keeper as an example, the audit takes."""
    if column.kind in FREE:
        assert column.example
        assert column.kind != "genus" or spelled(column.example) == column.example
        return
    read = READERS[column.kind]
    several = sheet == "settings" and column.kind == "word"  # lists, with commas between
    for part in column.example.split(", ") if several else [column.example]:
        assert not isinstance(read(part, column), cells.Problem)
    assert isinstance(read(WRONG[column.kind], column), cells.Problem)
    for word in column.allowed:
        assert not isinstance(read(word.upper(), column), cells.Problem)
    assert set(column.meanings) <= set(column.allowed)
    assert all(column.meanings.values())


def test_at_least_is_read_where_the_contract_says_so_and_nowhere_else():
    counts = [column for _, column in COLUMNS if column.kind == "count"]
    taken = {c.name for c in counts if not isinstance(cells.count("5+", c), cells.Problem)}
    assert taken == {c.name for c in counts if c.at_least}
    assert {"queens_alive", "workers"} <= taken
    assert "queens" not in taken


def test_a_needed_column_that_is_not_there_is_an_error(folder, today):
    """Each by itself, from the sheets through the audit."""

    def errors():
        return [f for f in audit(read_folder(folder.path), today) if f.level == "error"]

    assert not errors()
    whole = (folder.path / "foundings.csv").read_text()
    for needed in SHEETS["foundings"].needed:
        folder.put("foundings.csv", whole.replace(needed, "xyz", 1))
        assert any(needed in f.what + f.remedy for f in errors()), needed


def test_names_stand_once_in_a_sheet():
    for sheet in SHEETS.values():
        assert len(set(sheet.names)) == len(sheet.names)
    with pytest.raises(KeyError):
        SHEETS["checks"].column("weather")


def test_no_reserved_word_is_an_event_or_a_genus():
    assert not set(words.RESERVED_IDS) & (set(words.EVENTS) | {name.lower() for name in GENERA})


@pytest.mark.parametrize("quantity", QUANTITIES.values(), ids=lambda q: q.name)
def test_bands_of_practical_equality_are_the_same_both_ways(quantity):
    if quantity.better == "none":
        assert math.isnan(quantity.equal_low)
        assert math.isnan(quantity.equal_high)
        return
    if math.isnan(quantity.equal_high):
        return
    if quantity.unit == "ratio":
        # .9 to 1.11: the same distance both ways on the log scale, to a hundredth
        assert quantity.equal_low * quantity.equal_high == pytest.approx(1, abs=0.01)
    else:
        assert quantity.equal_low == -quantity.equal_high


# The ants in the Union list of Regulation (EU) No 1143/2014: Commission Implementing Regulation
# (EU) 2016/1141 as amended by 2022/1203 (recital 2, four ants) and 2025/1422 of 17 July 2025
# (recital 2, one ant).
UNION_LIST = {
    ("Brachyponera", "chinensis"): "2025/1422",
    ("Solenopsis", "geminata"): "2022/1203",
    ("Solenopsis", "invicta"): "2022/1203",
    ("Solenopsis", "richteri"): "2022/1203",
    ("Wasmannia", "auropunctata"): "2022/1203",
}


def test_eu_list_of_ants():
    assert genus_list.EU_LISTED == UNION_LIST
    assert genus_list.EU_LIST_AS_OF.isoformat() == "2025-07-17"
    assert genus_list.EU_LIST_READ > genus_list.EU_LIST_AS_OF
    for pair, act in UNION_LIST.items():
        assert spreading(*pair)
        text = cautions(*pair)[0]
        assert f"Regulation {act}, list as of 17 July 2025" in text
        assert LAW_FIRST in text
    assert not spreading("Solenopsis", "fugax")
    assert "Regulation" not in " ".join(cautions("Solenopsis", "fugax"))


def test_an_ant_at_home_is_not_called_foreign():
    # Myrmica rubra: native to Europe and northern Asia (University of Maine; UF/IFAS IN746).
    (text, _sting) = cautions("Myrmica", "rubra")
    assert text.index("native to Europe") < text.index("there, never release")
    for pair in genus_list.SPREADING:
        assert "Where it is not native, never release it" in cautions(*pair)[0]


def test_no_caution_bids_to_post():
    pairs = [*genus_list.EU_LISTED, *genus_list.SPREADING, *genus_list.INVASIVE_IN_NORTH_AMERICA]
    told = " ".join(text for pair in pairs for text in cautions(*pair))
    assert " post " not in told
    assert "by mail" in told


def test_each_genus_has_its_way_of_founding_with_a_basis():
    names = [name for _, _, row in genus_list.FOUNDING for name in row.split()]
    assert len(names) == len(set(names)) == len(GENERA)
    modes = set(get_args(genus_list.FoundingMode))
    used = {genus.basis for genus in GENERA.values()}
    used |= {basis for _, basis in genus_list.FOUNDING_OF_SPECIES.values()}
    assert used <= {*genus_sources.SOURCES, genus_sources.PRACTICE, genus_sources.MEMORY}
    assert {genus.founding for genus in GENERA.values()} == modes
    assert set(genus_list.FOUNDING_NOTES) <= set(GENERA)
    assert {genus for genus, _ in genus_list.FOUNDING_OF_SPECIES} <= set(GENERA)
    # the other way round: a source that nothing rests on has no place, save that of a comment
    assert set(genus_sources.SOURCES) - used == {"Rabeling et al. 2019"}


@pytest.mark.parametrize("text", genus_sources.SOURCES.values())
def test_a_source_says_where_it_stands_and_what_was_read(text):
    assert re.search(r"doi 10\.\d{4,9}/\S+|\d\)?:[e\d]|PMC\d+|antwiki\.org", text), text
    assert re.search(r"[Aa]bstract|[Tt]ext|[Ff]irst page|pages", text), text


@pytest.mark.parametrize(
    ("genus", "species", "way"),
    [
        ("Pogonomyrmex", "", "claustral"),  # Johnson 2002, doi 10.1007/s00442-002-0960-2
        ("Pogonomyrmex", "californicus", "semi-claustral"),  # the same
        ("Diacamma", "", "without queens"),  # Schmidt & Shattuck 2014
        ("Megaponera", "", "by splitting"),  # Schmidt & Shattuck 2014: wingless queens
        ("Leptomyrmex", "", "several ways"),  # AntWiki: wingless in all but a handful
        ("Cardiocondyla", "", "several ways"),  # doi 10.1111/j.1420-9101.2006.01235.x
        ("Formicoxenus", "", "with a host"),  # Buschinger 2009
        ("Pseudoatta", "argentina", "with a host"),  # AntWiki; doi 10.1007/s00040-019-00705-z
        ("Acromyrmex", "fowleri", "with a host"),  # doi 10.1007/s00040-019-00705-z
        ("Mycocepurus", "castrator", "with a host"),  # the same
        ("Linepithema", "humile", "by splitting"),  # Keller & Passera 1990
        ("Lasius", "niger", "claustral"),  # the same
        ("Myrmica", "cf. rubra", "semi-claustral"),  # common practice, no source
        ("Nonsense", "", ""),
    ],
)
def test_how_queens_found(genus, species, way):
    assert founding_of(genus, species)[0] == way
    assert founds_by_splitting(genus, species) is (way in ("by splitting", "without queens"))
    assert needs_host(genus, species) is (way == "with a host")


def test_a_genus_whose_kinds_differ_says_so_until_the_species_is_known():
    for name, genus in GENERA.items():
        differs = genus.founding == "several ways" or name in genus_list.FOUNDING_NOTES
        assert bool(founding_doubt(name)) is differs
        assert founding_doubt(name, "nigra") == ""
    assert "offer food" in founding_doubt("Pogonomyrmex")


def test_kinds_that_sting_share_one_sentence():
    told = cautions_of([("Myrmica", "rubra"), ("Manica", ""), ("Lasius", "niger"), ("Manica", "")])
    assert len(told) == 2
    assert told[1].startswith("A sting of Manica or Myrmica can cause")
    assert cautions_of([("Lasius", "niger")]) == ()


@pytest.mark.parametrize(
    ("genus", "species", "host"),
    [
        # common practice, no source
        ("Lasius", "umbratus", True),
        ("Lasius", "cf. fuliginosus", True),
        ("Lasius", "niger", False),
        ("Lasius", "", False),
        ("Formica", "sanguinea", True),
        ("Formica", "fusca", False),
        ("Polyergus", "", True),
        ("Nonsense", "rufa", False),
    ],
)
def test_kinds_that_need_a_host(genus, species, host):
    assert needs_host(genus, species) is host


def test_stings_carry_a_caution_and_others_do_not():
    assert any("emergency number" in text for text in cautions("Myrmecia"))
    assert cautions("Lasius", "niger") == ()


def test_close_matches():
    assert near_genus("Lasuis") == "Lasius"
    assert near_genus("Camponotous") == "Camponotus"
    assert near_genus("mesor") == "Messor"
    assert near_genus("big-black") == ""
    assert spelled("LASIUS") == "Lasius"
    assert spelled("Lasuis") == ""
    assert did_you_mean("mitse", words.LEFT_OUT) == "Did you mean 'mites'?"
    assert did_you_mean("zzz", words.LEFT_OUT) == ""


def test_every_genus_keeps_its_own_name():
    for name in GENERA:
        assert spelled(name) == name
        assert name == name.capitalize()


def test_names_in_one_cell_are_parted():
    assert split_name("Lasius cf. niger") == ("Lasius", "cf. niger")
    assert split_name("Lasius sp.") == ("Lasius", "")
    assert split_name("") == ("", "")


def test_a_kind_that_a_note_sets_apart_is_known_by_its_name():
    """Who types the species is told what the note on the genus says of it."""
    import re

    for genus in genus_list.FOUNDING_NOTES:
        note = founding_doubt(genus)
        for epithet in re.findall(r"\b[A-Z]\. ([a-z]+)", note):
            assert (genus, epithet) in genus_list.FOUNDING_OF_SPECIES, (genus, epithet)
