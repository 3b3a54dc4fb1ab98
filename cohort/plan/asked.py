"""Whom a plan is asked for, and the cautions that come before it.

Comes in: words of the command line and a `Basis`. Goes out: the kind meant and what must be said
first. Never: print. A species that is invasive or lives with a host never gets past its caution by
way of a spelling that is not known here.
"""

from __future__ import annotations

from dataclasses import dataclass

from cohort.base.errors import StudyError
from cohort.outcomes.basis import Basis, Kind, kind_of
from cohort.plan.phrases import speaks
from cohort.terms.genera import (
    LAW_FIRST,
    cautions,
    founding_doubt,
    founds_by_splitting,
    near_genus,
    needs_host,
    spelled,
    split_name,
)
from cohort.terms.voice import Voice


@dataclass(frozen=True)
class Asked:
    """Whom a plan is asked for.

    Attributes
    ----------
    kind : Kind
    first : tuple of str
        Cautions, to be said before any number.
    doubt : str
        What to look at where kinds of the genus differ; blank when the species is known.
    """

    kind: Kind
    first: tuple[str, ...]
    doubt: str = ""


def asked(word: str, basis: Basis, own: Voice | None = None) -> Asked:
    """The kind meant by one word or a genus with its species, and its cautions in a language.

    Raises
    ------
    StudyError
        No such kind here and no such genus known; queens that do not found alone.
    """
    own = own or speaks()
    word = " ".join(word.split())
    if word.lower() in {name.lower() for name in basis.draws.genera}:
        kind = kind_of(word, basis)
        return Asked(kind, cautions(kind.name, "", own), founding_doubt(kind.name, "", own))
    typed, species = split_name(word)
    genus = spelled(typed) or near_genus(typed)
    if needs_host(genus, species):
        raise StudyError(
            f"{LAW_FIRST} Queens of {_name(genus, species)} found inside a host colony, never "
            f"alone, so there is no way to divide them.{_meant(genus, typed, species)}"
        )
    if species and founds_by_splitting(genus, species):
        told = " ".join((*cautions(genus, species), LAW_FIRST))
        raise StudyError(
            f"{told} A queen of {_name(genus, species)} does not found alone: colonies of this "
            f"kind split. So there is no way to divide queens.{_meant(genus, typed, species)}"
        )
    first = cautions(genus, species)
    if spelled(typed):
        kind = kind_of(typed, basis)
        before = cautions(genus, species, own) + _by_genus(kind, species, own)
        return Asked(kind, before, founding_doubt(kind.name, species, own))
    if first:  # a name nearly right must not lead past its caution
        raise StudyError(
            f"{' '.join(first)} '{word}' is no genus known here.{_meant(genus, typed, species)}"
        )
    return Asked(kind_of(word, basis), ())


def _name(genus: str, species: str) -> str:
    return f"{genus} {species}".strip()


def _meant(genus: str, typed: str, species: str) -> str:
    return "" if spelled(typed) else f" Did you mean '{_name(genus, species)}'?"


def _by_genus(kind: Kind, species: str, own: Voice) -> tuple[str, ...]:
    return (own.say("by_genus", kind=kind.name, species=species),) if species else ()
