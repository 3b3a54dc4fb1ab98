"""Genera of ants that a keeper may name, with what is commonly known of them.

What comes in: nothing. What goes out: plain tuples of names for `cohort.terms.genera`. Spelling
and founding habits are common practice, written from memory, no source; the lists of listed
invasive species name theirs. A genus that is missing here can still be used (the audit asks for
a second look at the spelling).
"""

from __future__ import annotations

# Lists of words read best as lines of words.
# fmt: off
# Sealed in, rear the first brood from reserves.
CLAUSTRAL = (
    "Acropyga", "Anonychomyrma", "Anoplolepis", "Aphaenogaster", "Atta", "Azteca",
    "Brachymyrmex", "Camponotus", "Cardiocondyla", "Carebara", "Cataglyphis", "Colobopsis",
    "Crematogaster", "Dolichoderus", "Dorymyrmex", "Formica", "Goniomma", "Iridomyrmex",
    "Lasius", "Lepisiota", "Leptomyrmex", "Liometopum", "Melophorus", "Messor", "Meranoplus",
    "Monomorium", "Myrmecocystus", "Myrmelachista", "Nylanderia", "Ochetellus", "Oecophylla",
    "Oxyopomyrmex", "Papyrius", "Paratrechina", "Pheidole", "Philidris", "Plagiolepis",
    "Polyrhachis", "Prenolepis", "Proformica", "Pseudolasius", "Solenopsis", "Stenamma",
    "Tapinoma", "Technomyrmex", "Temnothorax", "Tetramorium", "Trichomyrmex", "Veromessor",
    "Zatania",
)

# Leave the nest, or must be fed, while founding.
SEMI_CLAUSTRAL = (
    "Acanthognathus", "Acanthomyrmex", "Acanthoponera", "Acromyrmex", "Amblyopone",
    "Anochetus", "Apterostigma", "Atopomyrmex", "Bothroponera", "Brachyponera", "Centromyrmex",
    "Cephalotes", "Cryptopone", "Cyphomyrmex", "Daceton", "Diacamma", "Ectatomma", "Ectomomyrmex",
    "Euponera", "Fisheropone", "Gigantiops", "Gnamptogenys", "Harpegnathos", "Heteroponera",
    "Holcoponera", "Hypoponera", "Hylomyrma", "Leptogenys", "Leptothorax", "Manica", "Megaponera",
    "Mesoponera", "Mycetomoellerius", "Mycetophylax", "Mycetosoritis", "Mycocepurus", "Myopias",
    "Myrmecia", "Myrmecina", "Myrmica", "Myrmicaria", "Myrmoteras", "Neoponera", "Nothomyrmecia",
    "Novomessor", "Odontomachus", "Odontoponera", "Opisthopsis", "Pachycondyla", "Paltothyreus",
    "Paraponera", "Parvaponera", "Platythyrea", "Pogonomyrmex", "Ponera", "Poneracantha",
    "Prionopelta", "Proceratium", "Pseudomyrmex", "Pseudoneoponera", "Pseudoponera",
    "Rhytidoponera", "Sericomyrmex", "Stictoponera", "Stigmatomma", "Strumigenys", "Tetraponera",
    "Thaumatomyrmex", "Trachymyrmex", "Typhlomyrmex", "Xymmer",
)

# New colonies by splitting; a queen does not found alone.
SPLITTING = (
    "Aenictogiton", "Aenictus", "Cheliomyrmex", "Dinoponera", "Dorylus", "Eciton", "Labidus",
    "Leptanilla", "Neivamyrmex", "Nomamyrmex", "Onychomyrmex", "Simopelta", "Streblognathus",
)

# Every kind of the genus needs a host colony.
PARASITIC = (
    "Anergates", "Bothriomyrmex", "Chalepoxenus", "Epimyrma", "Harpagoxenus", "Myrmoxenus",
    "Polyergus", "Protomognathus", "Rossomyrmex", "Strongylognathus", "Teleutomyrmex",
)

# Founding not commonly known, or not one way for the genus.
OTHERS = (
    "Acanthostichus", "Adelomyrmex", "Adetomyrma", "Adlerzia", "Agraulomyrmex",
    "Allomerus", "Alloformica", "Ancyridris", "Ankylomyrma", "Aphomomyrmex", "Apomyrma",
    "Aptinoma", "Arnoldius", "Asphinctanilloides", "Austromorium", "Austroponera",
    "Axinidris", "Bajcaridris", "Bariamyrma", "Basiceros", "Belonopelta", "Blepharidatta",
    "Bondroitia", "Boloponera", "Bregmatomyrma", "Buniapone", "Calomyrmex", "Calyptomyrmex",
    "Cerapachys", "Chelaner", "Chronoxenus", "Chrysapace", "Cladomyrma",
    "Concoctio", "Cylindromyrmex", "Cyatta", "Dacatria", "Dacetinops",
    "Dicroaspis", "Dilobocondyla", "Diplomorium", "Discothyrea", "Dolioponera", "Dolopomyrmex",
    "Doleromyrma", "Echinopla", "Ecphorella", "Emeryopone", "Eurhopalothrix", "Eusphinctus",
    "Euprenolepis", "Eutetramorium", "Feroponera", "Formicoxenus", "Forelius",
    "Froggattella", "Fulakora", "Gauromyrmex", "Gesomyrmex", "Gracilidris", "Hagensia",
    "Huberia", "Iberoformica", "Ishakidris", "Indomyrma", "Iroponera", "Kalathomyrmex",
    "Kartidris", "Kempfidris", "Lachnomyrmex", "Lasiomyrma", "Lasiophanes", "Lenomyrmex",
    "Leptomyrmula", "Lioponera", "Linepithema", "Liomyrmex", "Lividopone",
    "Lophomyrmex", "Lordomyrma", "Loboponera", "Loweriella", "Malagidris", "Martialis",
    "Mayriella", "Megalomyrmex", "Melissotarsus", "Mesostruma", "Metapone",
    "Mayaponera", "Mycetagroicus", "Mycetarotes", "Myrcidris", "Myrmicocrypta", "Mystrium",
    "Nebothriomyrmex", "Neocerapachys", "Nesomyrmex", "Noonilla", "Notoncus", "Notostigma",
    "Ochetomyrmex", "Octostruma", "Ooceraea", "Ophthalmopone", "Opamyrma", "Orectognathus",
    "Overbeckia", "Parasyscia", "Paramycetophylax", "Paraparatrechina",
    "Parvimyrma", "Patagonomyrmex", "Perissomyrmex", "Peronomyrmex", "Petalomyrmex",
    "Phalacromyrmex", "Phasmomyrmex", "Phrynoponera", "Pilotrochus",
    "Plectroctena", "Podomyrma", "Poecilomyrma", "Pristomyrmex", "Probolomyrmex",
    "Procryptocerus", "Proatta", "Promyopias", "Propodilobus", "Prolasius",
    "Protalaridris", "Protanilla", "Psalidomyrmex", "Pseudoaphomomyrmex", "Pseudoatta",
    "Pseudonotoncus", "Rasopone", "Ravavy", "Recurvidris", "Rhopalomastix", "Rhopalothrix",
    "Rhoptromyrmex", "Rogeria", "Romblonella", "Rostromyrmex", "Royidris", "Santschiella",
    "Secostruma", "Simopone", "Sphinctomyrmex", "Stegomyrmex", "Stereomyrmex", "Stigmacros",
    "Syllophopsis", "Syscia", "Talaridris", "Tanipone", "Tatuidris",
    "Teratomyrmex", "Terataner", "Tetheamyrma", "Tranopelta", "Tropidomyrmex", "Turneria",
    "Tyrannomyrmex", "Vicinopone", "Vitsika", "Vollenhovia", "Vombisidris", "Wasmannia",
    "Xenomyrmex", "Xerolitor", "Yavnella", "Yunodorylus", "Zasphinctus",
)

# Kinds in genera that otherwise found alone: the queen needs a host colony.
PARASITIC_SPECIES = {
    "Lasius": (
        "umbratus", "mixtus", "meridionalis", "sabularum", "jensi", "bicornis", "balcanicus",
        "distinguendus", "citrinus", "nitidigaster", "rabaudi", "fuliginosus", "spathepus",
        "nipponensis", "capitatus", "orientalis", "claviger", "interjectus", "latipes",
        "californicus", "murphyi", "subglaber", "aphidicola", "subumbratus", "speculiventris",
        "minutus", "carniolicus", "reginae", "viehmeyeri",
    ),
    "Formica": (
        "sanguinea", "rufa", "polyctena", "pratensis", "truncorum", "lugubris", "aquilonia",
        "paralugubris", "yessensis", "exsecta", "pressilabris", "foreli", "forsslundi", "bruni",
        "suecica", "fennica", "exsectoides", "ulkei", "obscuripes", "integra", "obscuriventris",
        "rubicunda", "subintegra", "subnuda", "aserva", "pergandei", "puberula", "difficilis",
        "dakotensis", "ravida", "haemorrhoidalis",
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
    "Myrmica": ("karavajevi", "hirsuta", "lampra", "quebecensis"),
    "Solenopsis": ("daguerrei",),
    "Plagiolepis": ("xene", "grassei", "ampeloni"),
    "Acromyrmex": ("insinuator", "ameliae"),
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

# Union list of invasive alien species: Commission Implementing Regulation (EU) 2022/1203.
EU_LISTED = (
    ("Solenopsis", "geminata"),
    ("Solenopsis", "invicta"),
    ("Solenopsis", "richteri"),
    ("Wasmannia", "auropunctata"),
)

# Spread by people in many countries; from memory, not a legal list.
SPREADING = (
    ("Anoplolepis", "gracilipes"), ("Brachyponera", "chinensis"), ("Cardiocondyla", "obscurior"),
    ("Lasius", "neglectus"), ("Lepisiota", "frauenfeldi"), ("Linepithema", "humile"),
    ("Monomorium", "pharaonis"), ("Myrmica", "rubra"), ("Nylanderia", "fulva"),
    ("Paratrechina", "longicornis"), ("Pheidole", "megacephala"), ("Tapinoma", "magnum"),
    ("Tapinoma", "melanocephalum"), ("Technomyrmex", "albipes"), ("Trichomyrmex", "destructor"),
)

# Builders of protected mounds in several European countries; from memory.
PROTECTED_MOUNDS = (
    "rufa", "polyctena", "pratensis", "lugubris", "aquilonia", "paralugubris", "truncorum",
    "exsecta",
)
