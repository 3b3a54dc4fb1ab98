"""What a founding or a catch is of: the word under which it is analysed.

What comes in: the cells ``genus``, ``kind`` and ``species`` and the sheet `kinds`. What goes out:
for each row a label (genus, or the kind's own word while it has no name) and findings. A kind
without a name stays in; a name is never put in place of a misspelt one.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import NamedTuple

import numpy as np
import pandas as pd

from cohort.audit.find import at, days, tell
from cohort.base.errors import Level
from cohort.sheets.found import Found
from cohort.terms.genera import GENERA, SAYS_NOTHING, near_genus, spelled, split_name
from cohort.terms.near import did_you_mean
from cohort.terms.voice import beside


class Kind(NamedTuple):
    """A row of the sheet `kinds`: genus and species, blank while not known."""

    genus: str
    species: str


class Name(NamedTuple):
    """What one row is of; `rule` is blank when nothing is wrong."""

    label: str
    named: bool
    species: str
    level: Level = "error"
    rule: str = ""
    column: str = "genus"
    what: str = ""
    remedy: str = ""


_TWO = re.compile(r"\s[+&]\s|\+|&|/|,|;|\band\b", re.IGNORECASE)


def genus_of(text: str) -> Name:
    """Name for a genus cell alone, such as ``lasius`` or ``Lasius cf. niger``.

    A word that is nearly a genus of the list is an error with the close match; a word that is
    near to none is taken as typed, with a warning.
    """
    if _TWO.search(text):
        return Name(
            "",
            False,
            "",
            rule="two-kinds",
            what=tell("two_kinds_in_cell", text=text),
            remedy=tell("two_kinds_in_cell_do"),
        )
    first, species = split_name(text)
    if first.lower() in SAYS_NOTHING or not any(sign.isalpha() for sign in first):
        return Name(
            "",
            False,
            "",
            rule="genus-unknown",
            what=tell("no_genus", text=text),
            remedy=tell("no_genus_do"),
        )
    known = spelled(first)
    if known:
        return Name(known, True, species)
    near = near_genus(first)
    if near:
        return Name(
            "",
            False,
            "",
            rule="genus-unknown",
            what=tell("genus_unknown", genus=first),
            remedy=tell("genus_unknown_do", near=near),
        )
    return Name(
        first,
        True,
        species,
        level="warning",
        rule="genus-not-listed",
        what=tell("genus_not_listed", genus=first, genera=len(GENERA)),
        remedy=tell("genus_not_listed_do"),
    )


def name_of(genus: str, kind: str, kinds: Mapping[str, Kind]) -> Name:
    """Name for a row that may give a genus, a kind or both."""
    if kind:
        return _of_kind(genus, kind, kinds)
    if not genus:
        return Name(
            "",
            False,
            "",
            rule="cell-missing",
            what=tell("neither_genus_nor_kind"),
            remedy=tell("neither_genus_nor_kind_do"),
        )
    name = genus_of(genus)
    if name.rule and genus in kinds:
        return _of_kind("", genus, kinds)
    return name


def _of_kind(genus: str, kind: str, kinds: Mapping[str, Kind]) -> Name:
    entry = kinds.get(kind)
    if entry is None:
        hint = did_you_mean(kind, kinds)
        return Name(
            "",
            False,
            "",
            rule="kind-unknown",
            column="kind",
            what=tell("kind_unknown", kind=kind),
            remedy=beside(hint, tell("kind_unknown_do")),
        )
    if not genus:
        return Name(entry.genus or kind, bool(entry.genus), entry.species)
    name = genus_of(genus)
    if name.label and entry.genus and name.label != entry.genus:
        return Name(
            "",
            False,
            "",
            rule="two-kinds",
            column="kind",
            what=tell("two_kinds_in_row", genus=name.label, kind=kind, other=entry.genus),
            remedy=tell("two_kinds_do"),
        )
    return name._replace(species=name.species or entry.species)


def known_kinds(kinds: pd.DataFrame) -> tuple[dict[str, Kind], Found]:
    """Kinds by their own word, and findings on the sheet `kinds`."""
    entries: dict[str, Kind] = {}
    first: dict[str, int] = {}
    names: list[Name] = []
    twice: list[int] = []
    for place, (kind, genus, species) in enumerate(
        zip(kinds["kind"], kinds["genus"], kinds["species"], strict=True)
    ):
        name = genus_of(genus) if genus else Name("", False, "")
        names.append(name)
        entry = Kind(name.label, species or name.species)
        before = entries.get(kind, entry)
        if any(one and other and one != other for one, other in zip(before, entry, strict=True)):
            twice.append(place)
        elif kind:  # what one row leaves blank another may say
            entries[kind] = Kind(before.genus or entry.genus, before.species or entry.species)
            first.setdefault(kind, place)
    return entries, _faults(kinds, names) + _kind_twice(kinds, twice, first)


def named_later(kinds: pd.DataFrame) -> Found:
    """When a kind got its genus, as a note; a day without a genus, as a warning."""
    dated = kinds["first_called"].notna().to_numpy() & (kinds["kind"] != "").to_numpy()
    genus = kinds["genus"].to_numpy()
    named = np.flatnonzero(dated & (genus != ""))
    sure = kinds["id_confidence"].to_numpy()
    word = kinds["kind"].to_numpy()
    days_ = days(kinds["first_called"])
    return at(
        kinds,
        named,
        level="note",
        rule="kind-named",
        column="first_called",
        what=lambda n: tell(
            "kind_named_sure" if sure[named[n]] else "kind_named",
            kind=word[named[n]],
            genus=genus[named[n]],
            day=days_[named[n]],
            sure=sure[named[n]],
        ),
        remedy=tell("kind_named_do"),
    ) + at(
        kinds,
        dated & (genus == ""),
        level="warning",
        rule="kind-without-name",
        column="genus",
        what=tell("kind_without_name"),
        remedy=tell("kind_without_name_do"),
    )


def _kind_twice(kinds: pd.DataFrame, twice: list[int], first: dict[str, int]) -> Found:
    again = [(kind, first[kind]) for kind in kinds["kind"].to_numpy()[twice]]
    return at(
        kinds,
        np.array(twice, dtype=np.int64),
        level="error",
        rule="kind-twice",
        column="kind",
        what=[
            tell(
                "kind_twice",
                kind=kind,
                row=str(kinds["row"].iloc[place]),
                file=str(kinds["file"].iloc[place]),
            )
            for kind, place in again
        ],
        remedy=tell("kind_twice_do"),
    )


def _faults(table: pd.DataFrame, names: list[Name]) -> Found:
    """Findings of the names with a rule, those of one rule at a time."""
    sorted_out: dict[tuple[Level, str, str], list[int]] = {}
    for place, name in enumerate(names):
        if name.rule:
            sorted_out.setdefault((name.level, name.rule, name.column), []).append(place)
    findings = Found()
    for (level, rule, column), places in sorted_out.items():
        findings += at(
            table,
            np.array(places),
            level=level,
            rule=rule,
            column=column,
            what=[names[place].what for place in places],
            remedy=[names[place].remedy for place in places],
        )
    return findings


def named(table: pd.DataFrame, kinds: Mapping[str, Kind]) -> tuple[pd.DataFrame, Found]:
    """Labels of the rows of `foundings` or `catches`.

    Parameters
    ----------
    table : DataFrame
        With the columns genus and kind, and perhaps species.
    kinds : mapping
        From `known_kinds`.

    Returns
    -------
    labels : DataFrame, shape (len(table), 3)
        Columns label, named, species.
    findings : Found
    """
    genera, kind_words = table["genus"].tolist(), table["kind"].tolist()
    pairs = list(zip(genera, kind_words, strict=True))
    by_pair = {pair: name_of(*pair, kinds) for pair in dict.fromkeys(pairs)}
    names = [by_pair[pair] for pair in pairs]
    findings = _faults(table, names)
    own = table["species"].tolist() if "species" in table else [""] * len(table)
    labels = pd.DataFrame(
        {
            "label": [name.label for name in names],
            "named": [name.named for name in names],
            "species": [mine or name.species for mine, name in zip(own, names, strict=True)],
        }
    )
    return labels.astype({"label": object, "named": bool, "species": object}), findings
