"""Genera of ants that a keeper may name, with how their queens found and what that rests on.

What comes in: nothing. What goes out: plain tuples of names for `cohort.terms.genera`. `FOUNDING`
has one row for each way of founding and basis; what was read for a basis stands in
`cohort.terms.genus_sources`. A genus stands under the way of most of its kinds as far as is known;
kinds that differ stand in `FOUNDING_OF_SPECIES` and `PARASITIC_SPECIES`. A genus that is missing
here can still be used (the audit asks for a second look at the spelling).
"""

from __future__ import annotations

import datetime as dt
from typing import Final, Literal

from cohort.terms.genus_sources import MEMORY, PRACTICE

FoundingMode = Literal[
    "claustral",
    "semi-claustral",
    "by splitting",
    "without queens",
    "with a host",
    "several ways",
    "",
]
"""claustral: sealed in, rears the first brood from reserves. semi-claustral: leaves the nest, or
must be fed, while founding. by splitting: new colonies come from a split, a queen does not found
alone. without queens: mated workers lay; colonies split. with a host: every kind of the genus
needs a host colony. several ways: kinds differ, and some do not found alone. Blank: not known."""

# Lists of words read best as lines of words.
# fmt: off
FOUNDING: Final[tuple[tuple[FoundingMode, str, str], ...]] = (
    ("claustral", "Hamidi et al. 2017", "Crematogaster"),
    ("claustral", "Johnson 2002", "Pogonomyrmex"),
    ("claustral", "Keller & Passera 1990", "Camponotus Lasius"),
    ("claustral", "Motro et al. 2017", "Messor"),
    ("claustral", "Offenberg et al. 2012", "Oecophylla"),
    ("claustral", "PLoS ONE 2016", "Solenopsis"),
    ("claustral", PRACTICE,
     "Atta Colobopsis Formica Iridomyrmex Myrmecocystus Pheidole Prenolepis Temnothorax "
     "Tetramorium Veromessor"),
    ("claustral", MEMORY,
     "Acropyga Anonychomyrma Anoplolepis Azteca Brachymyrmex Carebara Dolichoderus Dorymyrmex "
     "Goniomma Lepisiota Liometopum Melophorus Meranoplus Myrmelachista Nylanderia Ochetellus "
     "Oxyopomyrmex Papyrius Paratrechina Philidris Pseudolasius Stenamma Trichomyrmex Zatania"),
    ("semi-claustral", "Trunzer et al. 1998", "Neoponera"),
    ("semi-claustral", PRACTICE,
     "Acromyrmex Ectatomma Manica Myrmecia Myrmica Odontomachus Pachycondyla Paraponera Ponera"),
    ("semi-claustral", MEMORY,
     "Acanthognathus Acanthoponera Amblyopone Anochetus Apterostigma Bothroponera Brachyponera "
     "Centromyrmex Cryptopone Cyphomyrmex Daceton Ectomomyrmex Euponera Fisheropone Gigantiops "
     "Harpegnathos Heteroponera Hypoponera Mesoponera Mycetomoellerius Mycetophylax "
     "Mycetosoritis Mycocepurus Myopias Nothomyrmecia Odontoponera Paltothyreus Parvaponera "
     "Prionopelta Proceratium Pseudomyrmex Pseudoneoponera Pseudoponera Sericomyrmex "
     "Stictoponera Stigmatomma Strumigenys Tetraponera Thaumatomyrmex Trachymyrmex "
     "Typhlomyrmex Xymmer"),
    ("by splitting", "Schmidt & Shattuck 2014", "Megaponera"),
    ("by splitting", "Ito 1997", "Leptogenys"),
    ("by splitting", "Molet et al. 2009", "Onychomyrmex"),
    ("by splitting", PRACTICE,
     "Aenictus Cheliomyrmex Dorylus Eciton Labidus Neivamyrmex Nomamyrmex"),
    ("by splitting", MEMORY, "Aenictogiton Leptanilla Simopelta"),
    ("without queens", "Schmidt & Shattuck 2014", "Diacamma Streblognathus"),
    ("without queens", PRACTICE, "Dinoponera"),
    ("without queens", MEMORY, "Ophthalmopone"),
    ("with a host", "Buschinger 2009",
     "Anergates Chalepoxenus Epimyrma Formicoxenus Harpagoxenus Myrmoxenus Polyergus "
     "Protomognathus Rossomyrmex Strongylognathus Teleutomyrmex"),
    ("with a host", "AntWiki", "Pseudoatta"),
    ("with a host", MEMORY, "Bothriomyrmex"),
    ("several ways", "Schrempf & Heinze 2007", "Cardiocondyla"),
    ("several ways", "AntWiki", "Aphaenogaster Leptomyrmex"),
    ("several ways", "Molet et al. 2009", "Mystrium"),
    ("several ways", "Johnson & Overson 2017", "Monomorium"),
    ("several ways", "Keller & Passera 1990", "Linepithema Plagiolepis"),
    ("several ways", "Lenoir et al. 1988", "Cataglyphis"),
    ("several ways", "Ulrich et al. 2016", "Ooceraea"),
    ("several ways", "Blatrix & Jaisson 2001", "Gnamptogenys Holcoponera"),
    ("several ways", MEMORY,
     "Leptothorax Myrmecina Platythyrea Polyrhachis Poneracantha Pristomyrmex Proformica "
     "Rhytidoponera Tapinoma Technomyrmex Wasmannia"),
    ("", MEMORY,
     "Acanthomyrmex Acanthostichus Adelomyrmex Adetomyrma Adlerzia Agraulomyrmex Alloformica "
     "Allomerus Ancyridris Ankylomyrma Aphomomyrmex Apomyrma Aptinoma Arnoldius "
     "Asphinctanilloides Atopomyrmex Austromorium Austroponera Axinidris Bajcaridris "
     "Bariamyrma Basiceros Belonopelta Blepharidatta Boloponera Bondroitia Bregmatomyrma "
     "Buniapone Calomyrmex Calyptomyrmex Cephalotes Cerapachys Chelaner Chronoxenus Chrysapace "
     "Cladomyrma Concoctio Cyatta Cylindromyrmex Dacatria Dacetinops Dicroaspis Dilobocondyla "
     "Diplomorium Discothyrea Doleromyrma Dolioponera Dolopomyrmex Echinopla Ecphorella "
     "Emeryopone Euprenolepis Eurhopalothrix Eusphinctus Eutetramorium Feroponera Forelius "
     "Froggattella Fulakora Gauromyrmex Gesomyrmex Gracilidris Hagensia Huberia Hylomyrma "
     "Iberoformica Indomyrma Iroponera Ishakidris Kalathomyrmex Kartidris Kempfidris "
     "Lachnomyrmex Lasiomyrma Lasiophanes Lenomyrmex Leptomyrmula Liomyrmex Lioponera "
     "Lividopone Loboponera Lophomyrmex Lordomyrma Loweriella Malagidris Martialis Mayaponera "
     "Mayriella Megalomyrmex Melissotarsus Mesostruma Metapone Mycetagroicus Mycetarotes "
     "Myrcidris Myrmicaria Myrmicocrypta Myrmoteras Nebothriomyrmex Neocerapachys Nesomyrmex "
     "Noonilla Notoncus Notostigma Novomessor Ochetomyrmex Octostruma Opamyrma Opisthopsis "
     "Orectognathus Overbeckia Paramycetophylax Paraparatrechina Parasyscia Parvimyrma "
     "Patagonomyrmex Perissomyrmex Peronomyrmex Petalomyrmex Phalacromyrmex Phasmomyrmex "
     "Phrynoponera Pilotrochus Plectroctena Podomyrma Poecilomyrma Proatta Probolomyrmex "
     "Procryptocerus Prolasius Promyopias Propodilobus Protalaridris Protanilla Psalidomyrmex "
     "Pseudoaphomomyrmex Pseudonotoncus Rasopone Ravavy Recurvidris Rhopalomastix Rhopalothrix "
     "Rhoptromyrmex Rogeria Romblonella Rostromyrmex Royidris Santschiella Secostruma Simopone "
     "Sphinctomyrmex Stegomyrmex Stereomyrmex Stigmacros Syllophopsis Syscia Talaridris "
     "Tanipone Tatuidris Terataner Teratomyrmex Tetheamyrma Tranopelta Tropidomyrmex Turneria "
     "Tyrannomyrmex Vicinopone Vitsika Vollenhovia Vombisidris Xenomyrmex Xerolitor Yavnella "
     "Yunodorylus Zasphinctus"),
)
"""Way of founding, basis (`MEMORY`, `PRACTICE` or a key of `SOURCES`), genera."""

FOUNDING_OF_SPECIES: Final[dict[tuple[str, str], tuple[FoundingMode, str]]] = {
    ("Aphaenogaster", "senilis"): ("by splitting", "AntWiki"),
    ("Cataglyphis", "cursor"): ("by splitting", "Lenoir et al. 1988"),
    ("Linepithema", "humile"): ("by splitting", "Keller & Passera 1990"),
    ("Monomorium", "pharaonis"): ("by splitting", PRACTICE),
    ("Ooceraea", "biroi"): ("without queens", "Ulrich et al. 2016"),
    ("Plagiolepis", "pygmaea"): ("by splitting", "Keller & Passera 1990"),
    ("Pogonomyrmex", "californicus"): ("semi-claustral", "Johnson 2002"),
    ("Pogonomyrmex", "cunicularius"): ("semi-claustral", "Johnson 2010"),
    ("Pogonomyrmex", "huachucanus"): ("semi-claustral", "Johnson 2010"),
}
"""Kinds that found otherwise than most of their genus, with the basis."""

FOUNDING_NOTES: Final = (
    "Aphaenogaster", "Cardiocondyla", "Cataglyphis", "Gnamptogenys", "Leptomyrmex", "Mystrium",
    "Ooceraea", "Plagiolepis", "Pogonomyrmex",
)  # fmt: skip
"""Genera whose kinds differ in a way of their own (the catalogue says how, ``doubt_...``); of
Cataglyphis from memory, of the rest as its row."""

# Kinds in genera that otherwise found alone: the queen needs a host colony. From memory, save
# Acromyrmex and Mycocepurus (Rabeling et al. 2019, abstract) and Polyrhachis (AntWiki, page).
PARASITIC_SPECIES = {
    "Lasius": (
        "umbratus", "mixtus", "meridionalis", "sabularum", "jensi", "bicornis", "balcanicus",
        "distinguendus", "citrinus", "nitidigaster", "rabaudi", "fuliginosus", "spathepus",
        "nipponensis", "capitatus", "orientalis", "claviger", "interjectus", "latipes",
        "californicus", "murphyi", "subglaber", "aphidicola", "subumbratus", "speculiventris",
        "minutus", "carniolicus", "reginae", "viehmeyeri", "fuji", "morisitai", "pubescens",
    ),
    "Formica": (
        "sanguinea", "rufa", "polyctena", "pratensis", "truncorum", "lugubris", "aquilonia",
        "paralugubris", "yessensis", "exsecta", "pressilabris", "foreli", "forsslundi", "bruni",
        "suecica", "fennica", "exsectoides", "ulkei", "obscuripes", "integra", "obscuriventris",
        "rubicunda", "subintegra", "subnuda", "aserva", "pergandei", "puberula", "difficilis",
        "dakotensis", "ravida", "haemorrhoidalis", "uralensis", "ciliata", "criniventris", "oreas",
        "reflexa", "curiosa", "creightoni", "emeryi", "gynocrates",
    ),
    "Camponotus": ("universitatis",),
    "Polyrhachis": ("lamellidens",),
    "Aphaenogaster": ("tennesseensis", "mariae", "umphreyi"),
    "Temnothorax": (
        "americanus", "duloticus", "pilagens", "ravouxi", "muellerianus",
        "kutteri", "minutissimus",
    ),
    "Tetramorium": ("atratulum", "inquilinum", "microgyna"),
    "Leptothorax": ("kutteri", "pacis", "goesswaldi", "wilsoni", "faberi"),
    "Myrmica": ("karavajevi", "hirsuta", "lampra", "quebecensis", "bibikoffi"),
    "Solenopsis": ("daguerrei",),
    "Plagiolepis": ("xene", "grassei", "ampeloni"),
    "Acromyrmex": ("insinuator", "ameliae", "charruanus", "fowleri"),
    "Mycocepurus": ("castrator",),
    "Megalomyrmex": ("symmetochus",),
    "Pheidole": ("inquilina", "parasitica"),
    "Pogonomyrmex": ("anergismus", "colei"),
}

# Stings that matter, or an allergy that is known; common practice, from memory.
STINGING = (
    "Brachyponera", "Diacamma", "Dinoponera", "Ectatomma", "Harpegnathos", "Hypoponera",
    "Leptogenys", "Manica", "Megaponera", "Myrmecia", "Myrmica", "Neoponera", "Odontomachus",
    "Odontoponera", "Pachycondyla", "Paltothyreus", "Paraponera", "Platythyrea", "Pogonomyrmex",
    "Pseudomyrmex", "Rhytidoponera", "Solenopsis", "Streblognathus", "Tetraponera", "Wasmannia",
)

EU_LIST_AS_OF: Final = dt.date(2025, 7, 17)
"""Day of the newest act that is taken up below."""
EU_LIST_READ: Final = dt.date(2026, 11, 29)
"""When the texts below were read, in stored copies; what was made law between the two dates and
after is not known here."""

# Union list of invasive alien species (Regulation (EU) No 1143/2014, Article 4): the ants in
# Implementing Regulation (EU) 2016/1141 as amended, each with the act that put it there. Read: the
# species named in 2016/1141 (the beginning of its list only), 2017/1263 (all 12), 2019/1262
# (all 17), 2022/1203 (all 22) and 2025/1422 (to the letter N; that its one ant is this one also
# stands in the project's notes on biology). The acts of 2016, 2017 and 2019 name no ant in what
# was read.
# What is forbidden (bringing in, keeping, breeding, moving, selling, exchanging, releasing):
# recital of 1143/2014 as read; its Article 7 has the wording. Article 31 (owners who had theirs
# before) was read in Italian only and is left to the authority.
EU_LISTED: Final = {
    ("Brachyponera", "chinensis"): "2025/1422",
    ("Solenopsis", "geminata"): "2022/1203",
    ("Solenopsis", "invicta"): "2022/1203",
    ("Solenopsis", "richteri"): "2022/1203",
    ("Wasmannia", "auropunctata"): "2022/1203",
}

# Spread by people in many countries; from memory, not a legal list. Each is native somewhere.
SPREADING = (
    ("Anoplolepis", "gracilipes"), ("Cardiocondyla", "obscurior"), ("Lasius", "neglectus"),
    ("Lepisiota", "frauenfeldi"), ("Linepithema", "humile"), ("Monomorium", "pharaonis"),
    ("Nylanderia", "fulva"), ("Paratrechina", "longicornis"), ("Pheidole", "megacephala"),
    ("Tapinoma", "magnum"), ("Tapinoma", "melanocephalum"), ("Technomyrmex", "albipes"),
    ("Trichomyrmex", "destructor"),
)

# Native to Europe and northern Asia, invasive in North America: University of Maine, European
# fire ant pages; Arevalo & Groden, UF/IFAS publication IN746 (both read).
INVASIVE_IN_NORTH_AMERICA = (("Myrmica", "rubra"),)

# Builders of protected mounds in several European countries; from memory.
PROTECTED_MOUNDS = (
    "rufa", "polyctena", "pratensis", "lugubris", "aquilonia", "paralugubris", "truncorum",
    "exsecta",
)
