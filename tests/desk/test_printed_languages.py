"""The printed sheets in other languages: the same boxes and lots, every word translated."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from pypdf import PdfReader

from cohort.cli import main
from cohort.desk.allot import Ask
from cohort.desk.print import CheckRow, check_sheet, label_sheet, night_list, night_sheet
from cohort.sheets.cautions import CAUTIONS, HEADS, PLACES, cautions_in, line_in
from cohort.sheets.numbers import next_numbers
from cohort.terms.voice import SHARED, languages, voice


def pages(pdf: bytes) -> list[str]:
    return [" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(pdf)).pages]


@pytest.mark.parametrize("language", languages())
def test_every_language_has_every_caution_law_first(language: str) -> None:
    own = voice(SHARED, language)
    told = cautions_in(own)
    assert len(told) == len(HEADS) == len(CAUTIONS)
    assert all(head and text for head, text in told)
    for place in PLACES:
        assert line_in(own, place).startswith(own.say("law_first"))


def test_the_german_night_sheet_has_the_same_lots() -> None:
    lots = night_list(Ask(), 7, name="L2")
    numbers = next_numbers("K2", [], 16)
    leave_out = ["*mites*", "_x_"]
    first, second, third = pages(
        night_sheet(lots, numbers, keeper="K2", leave_out=leave_out, language="de")
    )
    assert first.startswith("Nachtblatt · K2")
    assert "(*mites*, _x_)" in first  # what a keeper wrote is neither bold nor lost
    for head, text in cautions_in(voice(SHARED, "de")):
        assert f"{head}:" in first
        assert text[:30] in first
    assert second.count("EINE ALLEIN") == second.count("DREI ZUSAMMEN") == 18
    assert second.count("3 Königinnen, in Nr.") == 18
    assert all(third.count(number) == 2 for number in numbers)
    assert "Seite 1 von 3" in first
    for word in ("queen", "label", "container", "Before you go"):
        assert word not in " ".join((first, second, third))


def test_the_german_check_sheet_keeps_the_words_that_are_typed() -> None:
    rows = [CheckRow("K2-01", "Lasius", True, "3 12+")]
    (page,) = pages(check_sheet(rows, dates=2, language="de"))
    assert page.startswith("Kontrollblatt")
    assert "rest same" in page  # what the notes of a phone are read by
    assert line_in(voice(SHARED, "de"), "checks")[:40] in page
    for word in ("alive", "workers", "brood", "note", "date"):
        assert word not in page.replace("rest same", "").lower().split()
    assert "Etiketten: zwei von jeder Nummer" in pages(label_sheet(["K1-01"], language="de"))[0]


def test_the_spanish_sheets_have_the_same_lots_and_typed_words() -> None:
    lots = night_list(Ask(), 7, name="L2")
    numbers = next_numbers("K2", [], 16)
    first, second, third = pages(night_sheet(lots, numbers, keeper="K2", language="es"))
    assert first.startswith("Hoja de la noche · K2")
    for head, text in cautions_in(voice(SHARED, "es")):
        assert f"{head}:" in first
        assert text[:30] in first
    assert second.count("UNA SOLA") == second.count("TRES JUNTAS") == 18
    assert second.count("3 reinas, en el n.º") == 18
    assert all(third.count(number) == 2 for number in numbers)
    assert "página 1 de 3" in first
    for word in ("queen", "label", "container", "Before you go"):
        assert word not in " ".join((first, second, third))
    rows = [CheckRow("K2-01", "Lasius", True, "3 12+")]
    (page,) = pages(check_sheet(rows, dates=2, language="es"))
    assert page.startswith("Hoja de revisión")
    assert "rest same" in page  # what the notes of a phone are read by
    for word in ("alive", "workers", "brood", "note", "date"):
        assert word not in page.replace("rest same", "").lower().split()


def test_the_french_night_sheet_has_the_same_lots() -> None:
    lots = night_list(Ask(), 7, name="L2")
    numbers = next_numbers("K2", [], 16)
    first, second, third = pages(
        night_sheet(lots, numbers, keeper="K2", leave_out=["*mites*"], language="fr")
    )
    assert first.startswith("Feuille de nuit · K2")
    assert "(*mites*)" in first
    for head, text in cautions_in(voice(SHARED, "fr")):
        assert " ".join(head.split()) in first
        assert " ".join(text.split()[1:6]) in first
    assert second.count("UNE SEULE") == second.count("TROIS ENSEMBLE") == 18
    assert second.count("3 reines, dans n°") == 18
    assert all(third.count(number) == 2 for number in numbers)
    assert "page 1 sur 3" in first
    for word in ("queen", "label", "container", "Before you go", "Königin"):
        assert word not in " ".join((first, second, third))
    (sheet,) = pages(check_sheet([CheckRow("K2-01", "Lasius", True, "3 12+")], dates=2,
                                 language="fr"))  # fmt: skip
    assert sheet.startswith("Feuille de contrôle")
    assert "rest same" in sheet  # what the notes of a phone are read by


def test_print_takes_a_language(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "n.pdf"
    with pytest.raises(SystemExit) as done:
        main(["print", "night", "--seed", "1", "--language", "de", "--out", str(out)])
    assert not done.value.code
    told = capsys.readouterr().out
    assert told.splitlines() == [
        f"Geschrieben: {out}", "Startzahl 1.",
        "Ohne Studie sind die Lose nirgends aufgehoben als auf dem Papier.",
        "Das Recht am Ort und zugelassene Beratung gehen jeder Zeile des Blatts vor.",
    ]  # fmt: skip
    with pytest.raises(SystemExit) as done:
        main(["print", "labels", "--language", "xx", "--out", str(tmp_path / "l.pdf")])
    assert done.value.code == 2
    assert not (tmp_path / "l.pdf").exists()
