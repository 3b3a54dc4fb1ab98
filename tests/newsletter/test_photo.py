"""The photograph: credited, upright, small, and without place, time, camera or owner."""

from __future__ import annotations

import dataclasses
import io
import re
import shutil
import types

import pytest
from PIL import Image
from pypdf import PdfReader

from cohort import figures
from cohort.newsletter import content, voice, write_newsletter
from cohort.newsletter.photo import LONGEST, PHOTO, photo, stripped

CREDIT = "Members of the circle"
GPS, MAKE, ARTIST, ORIENTATION = 0x8825, 0x010F, 0x013B, 0x0112
"""Tags of the Exif standard (CIPA DC-008, section 4.6)."""


def with_place(path, size=(1600, 900), orientation=1, **more):
    """A JPEG as a phone writes it: position, maker, owner, XMP and a comment. Made here."""
    picture = Image.new("RGB", size, (90, 120, 60))
    picture.paste((200, 40, 40), (0, 0, size[0] // 4, size[1] // 4))
    exif = Image.Exif()
    exif[MAKE], exif[ARTIST], exif[ORIENTATION] = "Maker of phones", "Owner of it", orientation
    exif.get_ifd(GPS).update({1: "N", 2: (48.0, 12.0, 33.0), 3: "E", 4: (16.0, 22.0, 11.0)})
    xmp = b'<x:xmpmeta xmlns:x="adobe:ns:meta/"><exif:GPSLatitude>48</exif:GPSLatitude></x:xmpmeta>'
    picture.save(path, "JPEG", exif=exif, xmp=xmp, comment=b"behind the shed", **more)
    return path


def hidden(data: bytes) -> set[str]:
    """What a JPEG tells beside its picture: its tags, and what else it bears."""
    found = Image.open(io.BytesIO(data))
    names = {f"exif {tag}" for tag in found.getexif()}
    if found.getexif().get_ifd(GPS):
        names.add("gps")
    return names | (set(found.info) - {"jfif", "jfif_version", "jfif_unit", "jfif_density"})


@pytest.fixture
def study(demo, tmp_path):
    """A study whose second founding names a photograph that lies in its folder."""
    folder = tmp_path / "study"
    folder.mkdir()
    with_place(folder / "start.jpg")
    table = demo.study.foundings.copy()
    table.loc[1, "photo"] = "start.jpg"
    settings = types.SimpleNamespace(**{**vars(demo.study.settings), "photo_credit": CREDIT})
    study = dataclasses.replace(demo.study, foundings=table, settings=settings)
    return dataclasses.replace(demo, study=study), folder


def test_place_and_owner_stay_at_home(tmp_path):
    path = with_place(tmp_path / "a.jpg")
    before = path.read_bytes()
    assert {"gps", f"exif {MAKE}", f"exif {ARTIST}", "xmp", "comment"} <= hidden(before)
    after = stripped(path)
    assert hidden(after) == set()
    for secret in (b"Exif", b"adobe", b"GPS", b"Owner", b"Maker", b"shed"):
        assert secret in before
        assert secret not in after
    assert path.read_bytes() == before


def test_a_plain_copy_would_be_found_out(tmp_path):
    """The wrong way: made smaller with Pillow, its tags handed on."""
    path = with_place(tmp_path / "a.jpg")
    with Image.open(path) as opened:
        out = io.BytesIO()
        opened.resize((80, 45)).save(out, "JPEG", exif=opened.getexif())
    assert "gps" in hidden(out.getvalue())


def test_it_is_turned_upright_and_made_smaller(tmp_path):
    """Orientation 6 (Exif): to be turned a quarter to the right, so width and height change."""
    after = Image.open(io.BytesIO(stripped(with_place(tmp_path / "a.jpg", orientation=6))))
    assert after.size == (round(LONGEST * 900 / 1600), LONGEST)
    red, green, _ = after.getpixel((after.width - 5, 5))
    assert red > green  # the red corner, upper left in the file, now stands upper right


def test_page_and_print_show_it_with_its_credit(study, written, monkeypatch, tmp_path):
    material, folder = study
    out = tmp_path / "out"
    shutil.copytree(written / "figures", out / "figures")

    def as_drawn(begun):  # the pictures are those of the page without a photograph
        return {
            name: dataclasses.replace(d, paths=tuple((out / "figures").glob(f"{name}-*")))
            for name, d in begun.numbered.items()
        }

    monkeypatch.setattr("os.cpu_count", lambda: 1)  # so nothing is begun beside
    monkeypatch.setattr(figures.Begun, "drawn", as_drawn)
    write_newsletter(material, out, folders=[folder])
    page = (out / "newsletter.html").read_text(encoding="utf-8")
    assert page.count("<img") == 1
    assert re.search(r'<img src="data:image/jpeg;base64,[^"]+" alt="Photograph of a founding', page)
    assert f"Photograph: {CREDIT}." in page
    assert len(page) < 1_500_000
    text = " ".join(
        " ".join(p.extract_text() for p in PdfReader(out / "newsletter.pdf").pages).split()
    )
    assert f"Photograph: {CREDIT}." in text
    assert len(PdfReader(out / "newsletter.pdf").pages) == 2
    captions = " ".join((out / "captions.txt").read_text(encoding="utf-8").split())
    assert f"{PHOTO} " in captions
    assert f"Photograph: {CREDIT}." in captions
    for path in (out / "figures" / PHOTO, out / "newsletter.pdf"):
        assert b"Owner of it" not in path.read_bytes()
    assert hidden((out / "figures" / PHOTO).read_bytes()) == set()


@pytest.mark.parametrize(
    "name", ["../secret.jpg", "/etc/hostname", "none.jpg", "notes.txt", "no.jpg"]
)
def test_what_is_no_photograph_of_the_folder_is_told_and_left_out(study, tmp_path, name):
    material, folder = study
    with_place(tmp_path / "secret.jpg")
    (folder / "notes.txt").write_text("not a picture")
    (folder / "no.jpg").write_text("not a picture")
    material.study.foundings.loc[1, "photo"] = name
    found, faults = photo(material, (folder,), voice("en"))
    assert found is None
    assert faults == [name]
    said = content(material, figures.numbers(material), voice("en"), faults=faults)
    assert any(name in note and "could not be read" in note for note in said.notes)


def test_no_photograph_no_credit_for_one(make):
    material = make(per=10)
    material.study.settings.photo_credit = CREDIT
    assert photo(material, (), voice("en")) == (None, [])
    said = content(material, figures.numbers(material), voice("en"))
    assert CREDIT not in said.credits
