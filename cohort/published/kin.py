"""Which genera are near kin.

Comes in: a genus. Goes out: the others of its group. The groups are tribes of ants, or parts of
them, from memory. A tribe whose genera live too differently is not listed: *Crematogaster* and
*Tetramorium* stand in one, and say nothing of each other.
"""

from __future__ import annotations

from typing import Final

# Lists of words read best as lines of words.
# fmt: off
GROUPS: Final = (
    "Acropyga Euprenolepis Lasius Myrmecocystus Nylanderia Paraparatrechina Paratrechina "
    "Prenolepis Pseudolasius Zatania",
    "Alloformica Bajcaridris Cataglyphis Formica Iberoformica Proformica",
    "Aphaenogaster Goniomma Messor Novomessor Oxyopomyrmex Stenamma Veromessor",
    "Chelaner Monomorium Solenopsis Syllophopsis",
    "Hylomyrma Patagonomyrmex Pogonomyrmex",
    "Acromyrmex Apterostigma Atta Cyatta Cyphomyrmex Kalathomyrmex Mycetagroicus Mycetarotes "
    "Mycetomoellerius Mycetophylax Mycetosoritis Mycocepurus Myrmicocrypta Paramycetophylax "
    "Sericomyrmex Trachymyrmex Xerolitor",
    "Anonychomyrma Doleromyrma Froggattella Iridomyrmex Ochetellus Papyrius Philidris Turneria",
)
# fmt: on


def kin(genus: str) -> tuple[str, ...]:
    """Near kin of a genus, without itself; empty where none is listed."""
    groups = (group.split() for group in GROUPS)
    return tuple(other for group in groups if genus in group for other in group if other != genus)
