"""One photograph for the page, if the sheets name one: smaller, and without its hidden data.

In come the `photo` columns of the sheets and the folders of the studies; out comes a JPEG file
made from the pixels alone, so that place, time, camera and owner hidden in the keeper's file stay
at home. Never changes the keeper's file, and never reads a file outside the folder of a study.
"""

from __future__ import annotations

import io
import warnings
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from cohort.figures.material import Material, each
from cohort.newsletter.speech import Voice, plain
from cohort.nonparametric.followed import compared
from cohort.sheets.photos import inside

LONGEST: Final = 1100
"""Pixels of the longer side: 85 mm at 300 dots an inch, and a little to spare."""
QUALITY: Final = 82
MOST_BYTES: Final = 40_000_000
PHOTO: Final = "photo.jpg"
"""Its file in the folder of figures."""


@dataclass(frozen=True)
class Photo:
    """A photograph ready to be printed.

    Parameters
    ----------
    data : bytes
        JPEG with nothing in it but the picture.
    caption, alt : str
        What stands under it with its credit; what it says to a reader who cannot see it.
    """

    data: bytes
    caption: str
    alt: str


def photo(
    material: Material, folders: tuple[Path, ...], voice: Voice
) -> tuple[Photo | None, list[str]]:
    """The first photograph that can be read, of a founding inside the comparison first.

    Parameters
    ----------
    material : Material
        Results, history and study.
    folders : tuple of pathlib.Path
        Folders of the studies.
    voice : Voice
        Language.

    Returns
    -------
    tuple of (Photo or None, list of str)
        And the names of files that are named but could not be read.
    """
    faults: list[str] = []
    for genus, named, name in _named(material):
        path = _inside(name, folders)
        data = stripped(path) if path else None
        if data is None:
            faults.append(plain(name))
            continue
        credit = plain(material.study.settings.photo_credit)
        kind = voice.kind(genus, named)
        told = voice.say("photo_caption", kind=kind)
        if credit:
            told = f"{told} {voice.say('photo_credit', credit=credit)}"
        return Photo(data, told, voice.say("photo_alt", kind=kind)), faults
    return None, faults


def _named(material: Material) -> Iterator[tuple[str, bool, str]]:
    """Kind and file of every photograph in the sheets; compared foundings first."""
    inside = set(compared(material.history.foundings)["founding"])
    kinds = {
        str(r.founding): (str(r.genus), bool(r.named)) for r in each(material.history.foundings)
    }
    found = [
        (str(r.founding), str(r.photo).strip())
        for table in (material.study.foundings, material.study.checks)
        if "photo" in table
        for r in each(table[table["photo"].notna()])
        if str(r.photo).strip()
    ]
    for founding, name in sorted(found, key=lambda pair: pair[0] not in inside):
        yield *kinds.get(founding, ("", False)), name


def _inside(name: str, folders: tuple[Path, ...]) -> Path | None:
    """The file of a name, if it lies in (or below) the folder of a study."""
    found = (inside(folder, name) for folder in folders)
    return next((path for path in found if path), None)


def stripped(path: Path) -> bytes | None:
    """A JPEG of the pixels alone, upright and no longer than `LONGEST`; None if unreadable."""
    from PIL import Image, ImageOps

    if path.stat().st_size > MOST_BYTES:
        return None
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            with Image.open(path, formats=("JPEG", "PNG")) as opened:
                upright = ImageOps.exif_transpose(opened).convert("RGB")
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombWarning,
            Image.DecompressionBombError):  # fmt: skip
        return None
    upright.thumbnail((LONGEST, LONGEST))
    # a fresh image bears no profile, comment or tag of the file it came from
    clean = Image.new("RGB", upright.size)
    clean.paste(upright)
    out = io.BytesIO()
    clean.save(out, "JPEG", quality=QUALITY, optimize=True)
    return out.getvalue()
