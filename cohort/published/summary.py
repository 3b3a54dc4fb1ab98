"""What is published on a genus, or on its near kin, and which way it leans.

Comes in: a genus and, if known, a species. Goes out: a frozen `Published`. Never: a chance.

The lean goes by findings on survival and on colonies alone, and by one asymmetry. Where queens die
more often in company, the same queens kept apart have a colony more often: as many lone queens,
each with a better chance. Where they die less often in company nothing follows for the same queens,
because a group gives one colony at most and lone queens up to one each.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from cohort.published.kin import kin
from cohort.published.table import Finding, findings

Of = Literal["species", "genus", "kin", "nothing"]
Lean = Literal["apart", "company", "mixed", "open"]
WEIGHED: Final = ("queen_survival", "colony")
"""Questions whose findings lean one way; first workers and broods do not make a colony last."""


@dataclass(frozen=True)
class Published:
    """Findings on a genus or its kin.

    Attributes
    ----------
    genus, species : str
        As asked.
    of : {"species", "genus", "kin", "nothing"}
        Whom they speak of: the species, other species of the genus, near kin; or there are none.
    rows : tuple of Finding
    lean : {"apart", "company", "mixed", "open"}
        Against company, for it, both, or neither asked for survival nor for colonies.
    """

    genus: str
    species: str
    of: Of
    rows: tuple[Finding, ...]
    lean: Lean

    @property
    def names(self) -> tuple[str, ...]:
        """Species behind the findings, each as ``Genus species``, in the order of the table."""
        return tuple(dict.fromkeys(f"{row.genus} {row.species}" for row in self.rows))

    @property
    def papers(self) -> tuple[Finding, ...]:
        """One finding for each paper behind them, in the order of the table."""
        return tuple({(row.authors, row.year, row.journal): row for row in self.rows}.values())

    @property
    def weighed(self) -> tuple[Finding, ...]:
        """Findings that the lean goes by."""
        return tuple(row for row in self.rows if row.groups and row.question in WEIGHED)


def published(genus: str, species: str = "") -> Published:
    """What is published on a genus.

    Parameters
    ----------
    genus : str
        As spelled in the literature; blank where it is not known.
    species : str
        Findings on it come before those on the rest of the genus.

    Returns
    -------
    Published
        Of the species if there are any, else of the genus, else of its near kin.
    """
    own = tuple(row for row in findings() if genus and row.genus == genus)
    exact = tuple(row for row in own if species and row.species == species)
    near = kin(genus)
    related = tuple(row for row in findings() if row.genus in near)
    of: Of = "species" if exact else "genus" if own else "kin" if related else "nothing"
    rows = exact or own or related
    return Published(genus, species, of, rows, _lean(rows))


def _lean(rows: tuple[Finding, ...]) -> Lean:
    ways = {row.groups for row in rows if row.groups and row.question in WEIGHED} - {"same"}
    if not ways:
        return "open"
    if ways == {"worse"}:
        return "apart"
    return "company" if ways == {"better"} else "mixed"
