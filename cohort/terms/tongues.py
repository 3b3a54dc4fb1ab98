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
_QUEENS: Final = {"": "königin königinnen · reine reines · reina reinas"}
_WORKERS: Final = {"": "arbeiterin arbeiterinnen · ouvrière ouvrières · obrera obreras"}
_NO_WORKERS: Final = {
    "": "keine_arbeiterin keine_arbeiterinnen · pas_d'ouvrière pas_d'ouvrières aucune_ouvrière · "
    "sin_obreras ninguna_obrera",
}
_EVERY: Final = {"": "alle · toutes tous · todas"}
_NONE_ALIVE: Final = {
    "": "keine_lebt keine_königin_lebt · aucune_vivante aucune_reine_vivante · "
    "ninguna_viva ninguna_reina_viva",
}
_ABOUT: Final = {"": "ungefähr zirka etwa fast · environ presque · aproximadamente casi unas"}
_WEEKDAYS: Final = {
    "": "mo di mi do fr sa so montag dienstag mittwoch donnerstag freitag samstag sonnabend "
    "sonntag am den · lun mar mer jeu ven sam dim lundi mardi mercredi jeudi vendredi samedi "
    "dimanche le · "
    "mié jue vie sáb dom lunes martes miércoles jueves viernes sábado domingo el",
}
_MONTHS: Final = {
    "1": "januar jänner · janvier janv · enero ene",
    "2": "februar feber · février févr · febrero",
    "3": "märz mär mrz · mars · marzo",
    "4": "avril avr · abril abr",
    "5": "mai · mayo",
    "6": "juni · juin · junio",
    "7": "juli · juillet juil · julio",
    "8": "août · agosto ago",
    "9": "septembre · septiembre setiembre",
    "10": "oktober okt · octobre · octubre",
    "11": "novembre · noviembre",
    "12": "dezember dez · décembre déc · diciembre dic",
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
QUEENS: Final = tuple(_table(_QUEENS))
WORKERS: Final = tuple(_table(_WORKERS))
NO_WORKERS: Final = tuple(_table(_NO_WORKERS))
EVERY: Final = tuple(_table(_EVERY))
NONE_ALIVE: Final = tuple(_table(_NONE_ALIVE))
ABOUT: Final = tuple(_table(_ABOUT))
WEEKDAYS: Final = tuple(_table(_WEEKDAYS))
"""Names of weekdays, and what stands before a date."""
MONTHS: Final = {name: int(number) for name, number in _table(_MONTHS).items()}
"""Names of months that English spells otherwise -> number. ``mar`` and ``jul`` are English too."""
REST: Final = ("reste", "resto", "restliche")
"""What stands for ``rest`` at the beginning of a line; in German it is the same word."""
SAME: Final = ("gleich", "unverändert", "unveraendert", "pareil", "inchangé", "inchange", "igual")
"""What stands for ``same`` behind it."""
THE_REST: Final = tuple(
    _table(
        {
            "": "der_rest die_restlichen die_übrigen alle_übrigen die_anderen alle_anderen · "
            "le_reste tout_le_reste les_autres toutes_les_autres · "
            "el_resto los_demás las_demás todas_las_demás las_otras todas_las_otras"
        }
    )
)
"""What people write for ``rest`` at the beginning of a line, in more than a word."""
AS_BEFORE: Final = tuple(
    _table(
        {
            "": "wie_vorher wie_zuvor wie_bisher wie_letztes_mal gleich unverändert · "
            "comme_avant pareil pareils inchangé inchangées sans_changement · "
            "como_antes igual iguales sin_cambios"
        }
    )
)
"""What they write for ``same`` behind it."""
