"""What keepers write in check notes in German, French and Spanish, by the word of the sheets.

What comes in: nothing. What goes out: for each list of `cohort.terms.words` the words of other
languages, also without their accents, as a phone without them types. Words that mean two things
are left out: nothing is guessed. Written by us; no published list is behind it.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Mapping
from typing import Final

_BROOD: Final = {
    "eggs": "eier ei · œufs œuf · huevos huevo",
    "larvae": "larven larve · larves · larvas",
    "pupae": "puppen puppe · nymphes nymphe · pupas",
    "none": "keine_brut · pas_de_couvain · sin_cría",
}
_FED: Final = {
    "yes": "gefüttert · nourrie nourries · alimentada alimentadas",
    "no": "nicht_gefüttert · pas_nourrie pas_nourries · sin_alimentar",
}
_EVENTS: Final = {
    "fight": "kampf kämpfe · combat combats bagarre · pelea peleas",
    "mould": "schimmel · moisissure moisissures · moho",
    "dry": "ausgetrocknet · à_sec · se_secó reseco",
    "flood": "überflutet überschwemmt · inondé inondée · inundado inundada",
    "moved": "umgesetzt umgezogen · déplacée déménagée · trasladada trasladado",
    "males": "männchen · mâles · machos",
    "brood-gone": "brut_weg · couvain_disparu · cría_desaparecida",
    "winter-in": "eingewintert · mise_en_hivernage · entra_en_invierno",
    "winter-out": "ausgewintert · sortie_d'hivernage · sale_del_invierno",
}
_FIRST_WORKER: Final = {
    "": "erste_arbeiterin erste_arbeiterinnen · première_ouvrière premières_ouvrières · "
    "primera_obrera primeras_obreras",
}
_LEFT: Final = {
    "escaped": "entkommen entwischt geflohen · échappée échappées enfuie enfuies · "
    "escapada escapadas escapó",
    "released": "freigelassen ausgesetzt · relâchée relâchées · liberada liberadas soltada",
    "given": "abgegeben verschenkt verkauft · donnée données vendue vendues · "
    "regalada regaladas vendida vendidas",
}
_ENDED: Final = {
    "accident": "unfall verschüttet · renversée · accidente volcada",
    "joined": "vereint zusammengelegt · réunie réunies · reunida reunidas",
    "frozen": "tiefgefroren · congelée congelées · congelada congeladas",
    "gave-up": "aufgegeben · abandonnée abandonnées · abandonada abandonadas",
}
_PARTED: Final = {"": "getrennt aufgeteilt · séparée séparées · separada separadas"}
_WINTER: Final = {
    "": "winterruhe überwinterung überwintert · hivernage · invierno invernada hibernación"
}
_DIED: Final = {
    "": "tot gestorben verendet · morte mortes mort · muerta muertas murió murieron",
}
_GONE: Final = {
    "": "weg verschwunden gefressen tote toten fehlen · disparues disparu mangés mangées morts · "
    "desaparecidas desaparecidos comidas comidos muertos faltan",
}


_SPELLED: Final[dict[str, str | int | None]] = {
    "ä": "ae",
    "ö": "oe",
    "ü": "ue",
    "ß": "ss",
    "œ": "oe",
}


def _spellings(word: str) -> Iterable[str]:
    """A word, and as it is typed without its accents."""
    yield word
    plain = word.replace("œ", "oe")
    yield unicodedata.normalize("NFKD", plain).encode("ascii", "ignore").decode()
    yield word.translate(str.maketrans(_SPELLED))


def _table(by_meaning: Mapping[str, str]) -> dict[str, str]:
    """Word -> what it means; ``_`` stands for a space inside of a word, ``·`` parts languages."""
    out: dict[str, str] = {}
    for meaning, text in by_meaning.items():
        for word in text.replace("·", " ").split():
            for spelled in _spellings(word.replace("_", " ")):
                out.setdefault(spelled, meaning)
    return out


BROOD: Final = _table(_BROOD)
FED: Final = _table(_FED)
EVENTS: Final = _table(_EVENTS)
FIRST_WORKER: Final = tuple(_table(_FIRST_WORKER))
LEFT: Final = _table(_LEFT)
ENDED: Final = _table(_ENDED)
PARTED: Final = tuple(_table(_PARTED))
WINTER: Final = tuple(_table(_WINTER))
DIED: Final = tuple(_table(_DIED))
GONE: Final = tuple(_table(_GONE))
REST: Final = ("reste", "resto", "restliche")
"""What stands for ``rest`` at the beginning of a line; in German it is the same word."""
SAME: Final = ("gleich", "unverändert", "unveraendert", "pareil", "inchangé", "inchange", "igual")
"""What stands for ``same`` behind it."""
