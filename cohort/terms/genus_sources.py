"""What the rows of `cohort.terms.genus_list` rest on.

What comes in: nothing. What goes out: `SOURCES`, a reference for each short name, and the two
marks for rows without one. "Abstract" or "text" says what was read, in November 2026, in stored
copies of the pages; no reference was taken from another one's list. Reviews that are known to
treat the matter and could not be read are not cited.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

PRACTICE: Final = "common practice, no source"
"""Everyday knowledge of those who keep or study these ants."""
MEMORY: Final = "from memory"
"""Believed to be so; nothing was read for this row."""

SOURCES: Final[Mapping[str, str]] = MappingProxyType(
    {
        "Blatrix & Jaisson 2001": "Blatrix R, Jaisson P (2001) Reproductive strategy of the "
        "ponerine ant Gnamptogenys striatula. Sociobiology 37:147-161. Abstract: colonies with "
        "queens and colonies with mated workers alone; it stands in Holcoponera now (memory).",
        "Buschinger 2009": "Buschinger A (2009) Social parasitism among ants: a review. "
        "Myrmecological News 12:219-235. Abstract; the genera are from memory.",
        "Hamidi et al. 2017": "Hamidi R and others (2017) Dispersal strategies in the highly "
        "polygynous ant Crematogaster pygmaea. PLoS ONE, doi 10.1371/journal.pone.0178813. "
        "Abstract: lone queens founded in the laboratory.",
        "Ito 1997": "Ito F (1997) Colony composition and morphological caste differentiation "
        "between ergatoid queens and workers in the ponerine ant genus Leptogenys. Ethology "
        "Ecology & Evolution 9:335-343, doi 10.1080/08927014.1997.9522876. Abstract: of 14 kinds "
        "ten have wingless queens and four mated workers. Author from memory.",
        "Johnson 2002": "Johnson RA (2002) Semi-claustral colony founding in the seed-harvester "
        "ant Pogonomyrmex californicus. Oecologia 132:60-67, doi 10.1007/s00442-002-0960-2. "
        "Abstract: queens of P. californicus must forage, those of several congeners need not, "
        "and several others do.",
        "Johnson 2010": "Johnson RA (2010) Independent colony founding by ergatoid queens in the "
        "ant genus Pogonomyrmex. Insectes Sociaux 57:169-176, doi 10.1007/s00040-010-0065-6. "
        "Abstract: P. huachucanus must forage; a queen of P. cunicularius was seen to.",
        "Johnson & Overson 2017": "Johnson RA, Overson RP (2017) with a review of queen "
        "phenotypes in the genus Monomorium. PLoS ONE 12(7):e0180595, "
        "doi 10.1371/journal.pone.0180595. Abstract: queens with and without wings.",
        "Keller & Passera 1990": "Keller L, Passera L (1990) Fecundity of ant queens in relation "
        "to their age and the mode of colony founding. Insectes Sociaux 37:116-130. Abstract: "
        "Lasius niger, Camponotus ligniperda and C. herculeanus found alone, Plagiolepis "
        "pygmaea and Linepithema humile (as Iridomyrmex) with workers.",
        "Lenoir et al. 1988": "Lenoir A, Querard L, Pondicq N, Berton F (1988) Reproduction and "
        "dispersal in the ant Cataglyphis cursor. Psyche 95:21. First page: no queen was ever "
        "found alone; that colonies split is from memory.",
        "Molet et al. 2009": "(2009) Shift from independent to dependent colony foundation and "
        "evolution of 'multi-purpose' ergatoid queens in Mystrium ants. Biological Journal of "
        "the Linnean Society, doi 10.1111/j.1095-8312.2009.01257.x. Abstract; authors from "
        "memory.",
        "Motro et al. 2017": "Motro M, Motro U, Cohen D (2017) Insectes Sociaux 64:179-187, "
        "doi 10.1007/s00040-017-0551-1. Abstract: Messor semirufus.",
        "Offenberg et al. 2012": "Offenberg J, Peng R, Nielsen MG (2012) Development rate and "
        "brood production in haplo- and pleometrotic colonies of Oecophylla smaragdina. Insectes "
        "Sociaux (3):307-311. Abstract: a claustral phase.",
        "PLoS ONE 2016": "(2016) Dispersal polymorphisms in invasive fire ants. PLoS ONE, "
        "doi 10.1371/journal.pone.0153955. Abstract: Solenopsis geminata and S. invicta have "
        "claustral queens, and small ones that enter nests of their own kind.",
        "Rabeling et al. 2019": "Rabeling C and others (2019) Acromyrmex fowleri: a new inquiline "
        "social parasite. Insectes Sociaux (3):435-451, doi 10.1007/s00040-019-00705-z. Abstract: "
        "four in Acromyrmex and its close relative Pseudoatta, one in Mycocepurus.",
        "Schmidt & Shattuck 2014": "Schmidt CA, Shattuck SO (2014) The higher classification of "
        "the ant subfamily Ponerinae. Zootaxa 3817:1-242, doi 10.11646/zootaxa.3817.1.1. "
        "Text on Megaponera: queens without wings; that its colonies split is common practice. "
        "Cited by others for Diacamma and Streblognathus: no queen caste.",
        "Schrempf & Heinze 2007": "Schrempf A, Heinze J (2007) Back to one: consequences of "
        "derived monogyny in an ant with polygynous ancestors. Journal of Evolutionary Biology, "
        "doi 10.1111/j.1420-9101.2006.01235.x. Abstract: in Cardiocondyla kinds with many queens "
        "bud; queens of the others leave on foot and forage while founding. Year and second "
        "author from memory.",
        "Trunzer et al. 1998": "(1998) Cooperative colony founding and experimental primary "
        "polygyny in the ponerine ant Pachycondyla villosa (now Neoponera). Insectes Sociaux "
        "45:267-276. Abstract: one queen of a group forages. Authors from memory.",
        "Ulrich et al. 2016": "(2016) PMC5015688. Abstract: Ooceraea biroi (as Cerapachys) has "
        "no queens. Authors and journal from memory (Am Nat).",
        "AntWiki": "antwiki.org, pages Leptomyrmex (in all but a handful of kinds the queen is "
        "wingless and worker-like), Aphaenogaster senilis (queen flightless), Xenobiosis "
        "(Formicoxenus), Pseudoatta, Polyrhachis lamellidens.",
    }
)
"""Short name of a source to its full reference, with what was read of it."""
