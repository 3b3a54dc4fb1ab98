"""What people write above columns in German, French and Spanish, by field; and states.

What comes in: nothing. What goes out: words as `plain` writes them, without accents. Written by
us: common practice, no source. Words that may mean two fields are left out.
"""

from __future__ import annotations

from typing import Final

OTHER_TONGUES: Final[dict[str, str]] = {
    "founding": "nummer, kolonie, grundung, rohrchen, reagenzglas, behalter nr; "
    "numero, colonie, tube, nom, fondation; numero de tubo, colonia, tubo, nombre, fundacion",
    "genus": "gattung, ameise, ameisenart; genre, fourmi; genero, hormiga",
    "species": "art, spezies; espece; especie",
    "kind": "sorte; sorte de fourmi; tipo",
    "started": "beginn, angesetzt, angesetzt am, eingesetzt, eingesetzt am, gegrundet, start am; "
    "debut, mise en tube, date de debut, installee; inicio, fecha de inicio, instalada",
    "flight_date": "schwarmflug, gefangen, gefangen am, fangdatum, fund; vol nuptial, capture, "
    "date de capture, essaimage; vuelo, vuelo nupcial, captura, fecha de captura",
    "queens": "koniginnen, konigin, anzahl koniginnen, koniginnen am anfang; reines, reine, "
    "nombre de reines, reines au debut; reinas, reina, numero de reinas, reinas al inicio",
    "keeper": "halter, halterin; eleveur, eleveuse, proprietaire; cuidador, cuidadora",
    "housing": "behalter, nest; recipient, nid; recipiente, nido",
    "feeding": "futterung, futter, gefuttert; nourriture, nourrissage; alimentacion, comida",
    "note": "notiz, notizen, bemerkung, bemerkungen, anmerkung, kommentar; remarque, remarques, "
    "commentaire, commentaires; nota, notas, observaciones, comentario, comentarios",
    "eggs": "eier, erste eier; oeufs, premiers oeufs; huevos, primeros huevos",
    "larvae": "larven, erste larven, erste larve; larves, premieres larves; larvas, "
    "primeras larvas",
    "pupae": "puppen, erste puppen, erste puppe; nymphes, premieres nymphes; pupas, primeras pupas",
    "first_worker": "erste arbeiterin, erste arbeiterinnen, erste pygmaen; premiere ouvriere, "
    "premieres ouvrieres; primera obrera, primeras obreras",
    "all_dead": "gestorben, tot am, gestorben am, verendet; morte le, mort le, date de mort; "
    "muerta el, murio, fecha de muerte",
    "last_look": "letzte kontrolle, kontrolle, kontrolliert, zuletzt gesehen, stand; "
    "dernier controle, controle, vue le; ultima revision, revision, vista el",
    "status": "zustand, lebt, ergebnis; etat, vivante, resultat; estado, viva, resultado",
    "queens_left": "lebende koniginnen, koniginnen jetzt, koniginnen ubrig; reines vivantes, "
    "reines restantes; reinas vivas, reinas ahora",
    "workers": "arbeiterinnen, arbeiter, anzahl arbeiterinnen, arbeiterinnen jetzt; ouvrieres, "
    "nombre d ouvrieres; obreras, numero de obreras, obreras ahora",
}
ALIVE: Final = (
    *("lebt", "lebendig", "gesund", "ja", "vivante", "vivantes", "vivant", "en vie", "oui"),
    *("viva", "vivas", "sana", "si", "sí"),
)
DEAD: Final = (
    *("tot", "gestorben", "verendet", "eingegangen", "nein", "morte", "mortes", "mort", "non"),
    *("muerta", "muertas", "murió", "murio"),
)


def headings() -> dict[str, str]:
    """Heading -> field."""
    return {
        word.strip(): field
        for field, texts in OTHER_TONGUES.items()
        for word in texts.replace(";", ",").split(",")
    }
