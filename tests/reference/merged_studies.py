"""Any two small studies of two keepers, and what must hold when one is merged into the other.

Foundings with one number may be the same or two; looks may agree or not; `rest` may stand in both,
and foundings may have been handed over, by one study or by both.
"""

from __future__ import annotations

import csv
import io
from pathlib import Path

from hypothesis import strategies as st

from cohort.audit import examine
from cohort.base.errors import SheetError
from cohort.desk.share import merge, pack
from cohort.sheets.folder import read_folder

NUMBERS = st.sampled_from(["K1-01", "K1-02", "K2-01", "K2-02"])
FOUNDINGS = st.dictionaries(
    NUMBERS,
    st.tuples(
        st.sampled_from(["Lasius", "Messor"]),
        st.sampled_from(["2025-05-01", "2025-06-01"]),
        st.integers(1, 3),
    ),
    min_size=1,
)
LOOKS = st.lists(
    st.tuples(NUMBERS, st.integers(1, 5), st.integers(0, 1)),
    max_size=6,
    unique_by=lambda look: look[:2],
)
REST = st.lists(
    st.tuples(st.sampled_from(["K1", "K2"]), st.integers(1, 5)), max_size=2, unique=True
)
HANDED = st.dictionaries(NUMBERS, st.tuples(st.integers(1, 4), st.sampled_from(["K1", "K2"])),
                         max_size=2)  # fmt: skip
STUDY = st.tuples(FOUNDINGS, LOOKS, REST, HANDED)


def sheets(folder: Path) -> dict[str, bytes]:
    """Every file of a study but its earlier versions."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file() and "earlier" not in path.parts
    }


def made(place: Path, what: tuple) -> Path:
    """A study in a new folder."""
    foundings, looks, rest, handed = what
    place.mkdir(parents=True)
    for sign in ("K1", "K2"):
        rows = [f"{n},{g},{d},{q}" for n, (g, d, q) in foundings.items() if n.startswith(sign)]
        if rows:
            text = "\n".join(["founding,genus,started,queens", *rows]) + "\n"
            (place / f"foundings-{sign}.csv").write_text(text)
        mine = [
            f"{n},2025-07-0{day},{foundings[n][2]},{workers}"
            for n, day, workers in looks
            if n in foundings and n.startswith(sign)
        ]
        mine += [f"rest,2025-07-0{day},same,0" for s, day in rest if s == sign and rows]
        if mine:
            text = "\n".join(["founding,date,queens_alive,workers", *mine]) + "\n"
            (place / f"checks-{sign}.csv").write_text(text)
    given = [
        f"{n},2025-07-0{d},handed-over,{to}" for n, (d, to) in handed.items() if n in foundings
    ]
    if given:
        text = "\n".join(["founding,date,event,other", *given]) + "\n"
        (place / "events.csv").write_text(text)
    return place


def looked(folder: Path) -> set[tuple[str, str]]:
    """Foundings and days of all looks that the audit reads, those of `rest` too."""
    looks = examine(read_folder(folder)).seen.looks
    return {(str(row.founding), f"{row.date:%Y-%m-%d}") for row in looks.itertuples()}


def counted(files: dict[str, bytes]) -> int:
    """Rows below the headings of all sheets."""
    texts = [data.decode() for name, data in files.items() if name.endswith(".csv")]
    return sum(len(list(csv.reader(io.StringIO(text)))) - 1 for text in texts)


def merged_twice(one: tuple, two: tuple, place: Path) -> None:
    """Rows of ours are never lost, each new one comes once, and a second time changes no byte.

    Nor does `rest` come to speak of others: no look is there that neither study had, and one of
    ours goes only where the sender has the same `rest` and handed the founding over.
    """
    a, b = made(place / "a", one), made(place / "b", two)
    before, looks, sent = sheets(a), looked(a), looked(b)
    parcel = place / "b.zip"
    parcel.write_bytes(pack(b).data)
    try:
        done = merge(a, parcel)
    except SheetError:
        assert sheets(a) == before  # workers that go back to none, and the like
        return
    after = sheets(a)
    for name, data in before.items():
        assert after[name].startswith(data)
    assert counted(after) == counted(before) + sum(done.rows.values())
    now = looked(a)
    assert now <= looks | sent
    for number, day in looks - now:
        assert number in two[3]
        assert int(day[-1]) in {on for _, on in two[2]}
    again = merge(a, parcel)
    assert sheets(a) == after
    assert again.rows == {}
    assert len(again.conflicts) == len(done.conflicts)
    assert len(again.held) == len(done.held)
    assert again.already == done.already + sum(done.rows.values())
