"""What was sent: a folder, or a packed study that is looked at before it is believed.

Comes in: a path. Goes out: `Sent`: its sheets and its drawn lists. A packed study is read only if
every file in it is named in its manifest and has the checksum that stands there, lies where such a
file may lie, and is not larger than a club can type. Never: a file written outside of a folder of
its own that is gone afterwards.
"""

from __future__ import annotations

import hashlib
import json
import re
import tempfile
import zipfile
import zlib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from cohort.base.errors import StudyError
from cohort.desk.sentences import tell
from cohort.desk.share.pack import FORM, MANIFEST, VERSION
from cohort.sheets.files import bytes_of, inner, told
from cohort.sheets.folder import read_folder
from cohort.sheets.lists import FOLDER, MAX_LIST
from cohort.sheets.raw import Sheets
from cohort.terms.voice import beside

MAX_PACKED: Final = 60_000_000
"""Largest packed study read (bytes)."""
MAX_UNPACKED: Final = 200_000_000
"""Most bytes that its files may unpack to."""
MAX_FILES: Final = 2_000
_PLAIN: Final = re.compile(rf"(?:{FOLDER}/)?[A-Za-z0-9][A-Za-z0-9._-]{{0,100}}\.csv")
"""Names that a file in a packed study may have."""
_AGAIN: Final = tell("sent_again")


@dataclass(frozen=True)
class Sent:
    """What was sent.

    Attributes
    ----------
    name : str
        Of the folder or file.
    sheets : Sheets
    lists : mapping
        Name of a drawn list -> its bytes.
    """

    name: str
    sheets: Sheets
    lists: Mapping[str, bytes]


def read_sent(path: Path) -> Sent:
    """Sheets and lists of a folder or of a packed study.

    Raises
    ------
    StudyError
        Nothing there, no packed study, damaged, too large, or a name in it that is none of ours.
    """
    if path.is_dir():
        return _folder(path, path.name or str(path))
    if not path.is_file():
        raise StudyError(tell("sent_none", path=str(path)))
    files = unpacked(bytes_of(path, MAX_PACKED), told(path))
    with tempfile.TemporaryDirectory() as place:
        for name, data in files.items():
            target = Path(place) / name
            target.parent.mkdir(exist_ok=True)
            target.write_bytes(data)
        return _folder(Path(place), told(path))


def _folder(folder: Path, name: str) -> Sent:
    lists = sorted(inner(folder, FOLDER).glob("*.csv"))
    return Sent(name, read_folder(folder), {p.stem: bytes_of(p, MAX_LIST) for p in lists})


def unpacked(data: bytes, name: str) -> dict[str, bytes]:
    """Files of a packed study, without its manifest.

    Parameters
    ----------
    data : bytes
        Of the ZIP file.
    name : str
        Its name, for messages.

    Raises
    ------
    StudyError
        See `read_sent`.
    """
    try:
        with zipfile.ZipFile(_bytes(data)) as packet:
            listed = packet.infolist()
            _countable(listed, name)
            files: dict[str, bytes] = {}
            room = MAX_UNPACKED
            for info in listed:
                with packet.open(info) as part:
                    files[info.filename] = part.read(room + 1)
                room -= len(files[info.filename])
                if room < 0:
                    raise StudyError(
                        tell("sent_unpacks", name=name, millions=str(MAX_UNPACKED // 1_000_000))
                    )
    except (zipfile.BadZipFile, zlib.error, OSError, EOFError, ValueError) as fault:
        raise StudyError(beside(tell("sent_damaged", name=name), _AGAIN)) from fault
    except (NotImplementedError, RuntimeError) as fault:
        raise StudyError(beside(tell("sent_way", name=name), _AGAIN)) from fault
    return _believed(files, name)


def _bytes(data: bytes) -> Any:
    import io

    return io.BytesIO(data)


def _countable(listed: list[zipfile.ZipInfo], name: str) -> None:
    if len(listed) > MAX_FILES:
        raise StudyError(tell("sent_files", name=name, most=MAX_FILES))
    names = [info.filename for info in listed]
    if len({one.lower() for one in names}) < len(names):
        raise StudyError(tell("sent_twice", name=name))
    for one in names:
        if one != MANIFEST and not _PLAIN.fullmatch(one):
            raise StudyError(tell("sent_foreign", name=name, file=one[:60]))


def _believed(files: dict[str, bytes], name: str) -> dict[str, bytes]:
    """Files without the manifest, after they were compared with it."""
    try:
        manifest = json.loads(files.pop(MANIFEST))
        form, version, sums = manifest["form"], manifest["version"], dict(manifest["files"])
    except (KeyError, ValueError, TypeError, RecursionError) as fault:
        raise StudyError(beside(tell("sent_manifest", name=name), _AGAIN)) from fault
    if form != FORM:
        raise StudyError(beside(tell("sent_no_pack", name=name), _AGAIN))
    if version != VERSION:
        raise StudyError(tell("sent_version", name=name, form=str(version), ours=str(VERSION)))
    now = {one: hashlib.sha256(data).hexdigest() for one, data in files.items()}
    if now != sums:
        odd = sorted(one for one in {*now, *sums} if now.get(one) != sums.get(one))
        raise StudyError(beside(tell("sent_sum", name=name, file=odd[0]), _AGAIN))
    return files
