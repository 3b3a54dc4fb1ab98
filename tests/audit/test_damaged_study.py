"""Damaged sheets yield findings or a plain message, never a traceback."""

import datetime as dt
import tempfile
from pathlib import Path

import hypothesis.strategies as st
import pytest
from hypothesis import given, settings

from cohort.audit import examine
from cohort.base.errors import CohortError
from cohort.sheets.folder import read_folder
from cohort.study import study_of

TODAY = dt.date(2026, 9, 30)
FILES = {
    "study.toml": b'title = "A"\nhorizon_days = 160\nends = 2026-12-01\n',
    "kinds.csv": b"kind,genus,species\nbig,Lasius,niger\ntiny,,\n",
    "foundings.csv": b"founding,genus,kind,started,queens,arm,mating_seen,from,left_out,catch\n"
    b"K2-01,Lasius,,2026-07-04,1,single,1,,,C1\nK2-02,,big,2026-07-04,3,multi,,,,\n"
    b"K2-03,,tiny,2026-07-04,2,,,,mites,\n",
    "checks.csv": b"founding,date,queens_alive,workers,brood\nK2-01,2026-07-08,1,0,eggs\n"
    b"K2-02,2026-07-08,3,0,\nrest,2026-07-14,same,,\nK2-02,2026-07-20,2+,5+,pupae\n",
    "events.csv": b"founding,date,event,number,other\nK2-02,2026-07-20,queens-out,1,given\n"
    b"all,2026-08-20,moved,,\nK2-01,2026-08-21,end,,accident\n",
    "catches.csv": b"catch,date,genus,queens,died\nC1,2026-07-03,Lasius,4,1\n",
    "temperatures.csv": b'shelf,date,min_c,max_c\nS1,2026-07-08,"19,5",25\n',
}
SNIPPETS = st.sampled_from(
    [
        b"",
        b'"',
        b"\x00",
        b"\n",
        b",",
        b";",
        b"\xff",
        b"9999999999",
        b"-1",
        b"+",
        b"NaT",
        b"nan",
        b"rest",
        b"all",
        b"same",
        b"03/04/2026",
        b"9999-12-31",
        b"0001-01-01",
        b"=1+1",
        b"K2-01",
        "٣".encode(),
        b"1e400",
        b"Lasius/Messor",
        b" " * 5,
        b"\r",
    ]
)


@settings(max_examples=60)
@given(st.data())
def test_damage_anywhere_is_told_plainly(data):
    one_case(data)


@pytest.mark.slow
@settings(max_examples=400)
@given(st.data())
def test_much_damage_anywhere_is_told_plainly(data):
    one_case(data)


def one_case(data):
    with tempfile.TemporaryDirectory() as place:
        for name, good in FILES.items():
            (Path(place) / name).write_bytes(good)
        for name in data.draw(st.lists(st.sampled_from(sorted(FILES)), min_size=1, max_size=3)):
            path = Path(place) / name
            good = path.read_bytes()
            at = data.draw(st.integers(0, len(good)))
            cut = data.draw(st.integers(0, 12))
            path.write_bytes(good[:at] + data.draw(SNIPPETS) + good[at + cut :])
        try:
            sheets = read_folder(place)
        except CohortError as fault:
            assert str(fault).strip()  # noqa: PT017 - the property is: a message or a study
            return
        examined = examine(sheets, TODAY)
        for without in (False, True):
            try:
                study = study_of(examined, without_faulty=without)
            except CohortError as fault:
                assert str(fault).strip()  # noqa: PT017 - the property is: a message or a study
            else:
                assert study.foundings["founding"].is_unique
                assert (study.foundings["queens"] >= 1).all()
                assert study.checks["founding"].isin(study.foundings["founding"]).all()
