"""What a finding tells a keeper to write is taken when it is written so.

Each case is a fault in the small study of `conftest.StudyFolder`, the remedy's words, and the
files as the keeper who follows them to the letter would leave them. Read on 2026-07-15.
"""

import datetime as dt

import pytest

from cohort.audit import audit
from cohort.audit.cells import Problem, date
from cohort.sheets.folder import read_folder
from cohort.sheets.numbers import near_number

HEAD_E = "founding,date,event,number,other\n"
HEAD_C = "founding,date,queens_alive,workers\n"
NEW = (
    "founding,genus,started,queens,keeper,from,left_out\n"
    "K2-01,Lasius,2026-07-04,1,K2,,\nK2-02,Lasius,2026-07-04,3,K2,,\n"
    "K2-03,Lasius,2026-07-14,1,K2,K2-02,split-off\n"
)
E, C, F, S = "events.csv", "checks.csv", "foundings.csv", "study.toml"


def happened(row: str) -> dict[str, str]:
    return {E: HEAD_E + row + "\n"}


CASES = {
    "escaped, all": (
        happened("K2-02,2026-07-14,escaped,,"),
        "If all queens left, write end under event and escaped under other",
        happened("K2-02,2026-07-14,end,,escaped"),
    ),
    "escaped, one": (
        happened("K2-02,2026-07-14,Escaped,,"),
        "queens-out under event, how many left under number and escaped under other",
        happened("K2-02,2026-07-14,queens-out,1,escaped"),
    ),
    "one queen sold": (
        happened("K2-02,2026-07-14,one queen sold,,"),
        "queens-out under event, how many left under number and given under other",
        happened("K2-02,2026-07-14,queens-out,1,given"),
    ),
    "sold under other": (
        happened("K2-02,2026-07-14,queens-out,1,sold"),
        "Write given.",
        happened("K2-02,2026-07-14,queens-out,1,given"),
    ),
    "sold under end": (
        happened("K2-02,2026-07-14,end,,sold"),
        "Write given.",
        happened("K2-02,2026-07-14,end,,given"),
    ),
    "split": (
        happened("K2-02,2026-07-14,split,,"),
        "give that founding a row with this one under from and split-off under left_out",
        {**happened("K2-02,2026-07-14,queens-out,1,K2-03"), F: NEW},
    ),
    "spilled": (
        happened("K2-02,2026-07-14,spilled,,"),
        "Write end under event, and accident under other.",
        happened("K2-02,2026-07-14,end,,accident"),
    ),
    "winter": (
        happened("K2-02,2026-07-14,winter,,"),
        "Write winter-in if it was put to winter rest",
        happened("K2-02,2026-07-14,winter-in,,"),
    ),
    "died": (
        happened("K2-02,2026-07-15,died,,"),
        "Take this row out and write the living queens of that day in checks, 0 if none",
        {C: "+K2-02,2026-07-15,0,\n"},
    ),
    "died under end": (
        happened("K2-02,2026-07-15,end,,dead"),
        "Take this row out and write 0 under queens_alive in checks",
        {C: "+K2-02,2026-07-15,0,\n"},
    ),
    "rest, an event": (
        happened("rest,2026-07-14,moved,,"),
        "Write all for every open founding of this file",
        happened("all,2026-07-14,moved,,"),
    ),
    "all, a look": (
        {C: "+all,2026-07-15,same,0\n"},
        "Write rest, with same under queens_alive",
        {C: "+rest,2026-07-15,same,0\n"},
    ),
    "same of one": (
        {C: "+K2-01,2026-07-15,same,0\n"},
        "or rest under founding for all that are not named",
        {C: "+rest,2026-07-15,same,0\n"},
    ),
    "k2-1": (
        {C: "+k2-1,2026-07-15,1,0\n"},
        "Write K2-01 if that is meant",
        {C: "+K2-01,2026-07-15,1,0\n"},
    ),
    "k2-3 not there": (
        {C: "+K2-03,2026-07-15,1,0\n"},
        "Give K2-03 a row in foundings",
        {C: "+K2-03,2026-07-15,1,0\n", F: "+K2-03,Lasius,2026-07-14,1,K2\n"},
    ),
    "other founding misspelt": (
        {**happened("K2-02,2026-07-14,queens-out,1,k2-3"), F: NEW},
        "Did you mean 'K2-03'?",
        {**happened("K2-02,2026-07-14,queens-out,1,K2-03"), F: NEW},
    ),
    "from misspelt": (
        {**happened("K2-02,2026-07-14,queens-out,1,K2-03"), F: NEW.replace("K2,K2-02", "K2,k2-2")},
        "Write K2-02 if that is meant.",
        {**happened("K2-02,2026-07-14,queens-out,1,K2-03"), F: NEW},
    ),
    "queens out on the day of a look": (
        {
            C: "+K2-02,2026-07-15,3,0\n",
            **happened("K2-02,2026-07-14,queens-out,1,given"),
        },
        "write 4 there if they were gone already, or date the event a day earlier",
        {
            C: "+K2-02,2026-07-15,3,0\n",
            F: "founding,genus,started,queens,keeper\nK2-01,Lasius,2026-07-04,1,K2\n"
            "K2-02,Lasius,2026-07-04,4,K2\n",
            **happened("K2-02,2026-07-07,queens-out,1,given"),
        },
    ),
    "a date in two orders": (
        {C: "+K2-02,12.07.2026,3,0\n"},
        "Write 2026-07-12 if that is it, or set date_order in the tab study or study.toml to dmy.",
        {C: "+K2-02,2026-07-12,3,0\n"},
    ),
    "date_order": (
        {C: "+K2-02,12.07.2026,3,0\n"},
        "or set date_order in the tab study or study.toml to dmy.",
        {C: "+K2-02,12.07.2026,3,0\n", S: 'date_order = "dmy"\n'},
    ),
    "a short year": (
        {C: "+K2-02,12.7.26,3,0\n"},
        "Write 2026-07-12 if that is it, or set date_order in the tab study or study.toml to dmy.",
        {C: "+K2-02,12.7.26,3,0\n", S: 'date_order = "dmy"\n'},
    ),
    "the wrong order": (
        {C: "+K2-02,07/13/2026,3,0\n", S: 'date_order = "dmy"\n'},
        "Write it as YYYY-MM-DD, such as 2026-07-13 if that is the day.",
        {C: "+K2-02,2026-07-13,3,0\n", S: 'date_order = "dmy"\n'},
    ),
    "year first": (
        {C: "+K2-02,12.07.2026,3,0\n", S: 'date_order = "ymd"\n'},
        "Write 2026-07-12 if that is it.",
        {C: "+K2-02,2026-07-12,3,0\n", S: 'date_order = "ymd"\n'},
    ),
}


def found(folder, files, today):
    base = type(folder)(folder.path)
    for name, text in files.items():
        base.put(name, text)
    told = audit(read_folder(folder.path), today)
    for name in (E, S):
        (folder.path / name).unlink(missing_ok=True)
    return told


@pytest.mark.parametrize("case", CASES)
def test_who_follows_a_remedy_to_the_letter_is_rid_of_the_fault(case, folder, today):
    fault, remedy, mended = CASES[case]
    told = found(folder, fault, today)
    errors = [f for f in told if f.level == "error"]
    assert len(errors) == 1
    assert remedy in errors[0].remedy
    assert errors[0].file
    assert errors[0].row
    assert found(folder, mended, today) == ()


NOTES = "2026-07-08\nK2-01 1 0\nK2-02 3 0\n2026-07-14\nK2-01 1 0\n"


@pytest.mark.parametrize(
    ("line", "remedy", "mended"),
    [
        ("K2-02 3 0 many eggs", "such as K2-07 3 0 eggs", "K2-02 3 0 eggs many"),
        ("K2-02 3 0 no eggs", "one of none, eggs", "K2-02 3 0 none no eggs"),
        (
            "K2-02 2 0 one escaped",
            "the event queens-out, with number 1 and other escaped, with the date 2026-07-13",
            "K2-02 2 0 one escaped\n2026-07-13\nK2-02 queens-out 1 escaped",
        ),
        (
            "K2-02 0 0 all escaped",
            "the event end, with other escaped, with the date 2026-07-13",
            "K2-02 0 0 all escaped\n2026-07-13\nK2-02 end escaped",
        ),
        (
            "K2-02 2 0 escaped",
            "write K2-02 3 0 queens-out 1 escaped",
            "K2-02 3 0 queens-out 1 escaped",
        ),
        ("K2-02 3 larvea", "", "K2-02 3 0 larvae"),
        (
            "rest same moved",
            "Write rest same alone in its line. Write the event of all open foundings",
            "rest same\nall moved",
        ),
        ("rest same 2", "then rest same", "K2-02 3 2\nrest same"),
    ],
)
def test_remedies_for_phone_notes_work_in_the_file(line, remedy, mended, folder, today):
    (folder.path / "checks.csv").unlink()
    folder.put("checks-K2.txt", f"{NOTES}{line}\n")
    told = audit(read_folder(folder.path), today)
    assert len(told) == 1
    assert remedy in told[0].remedy
    assert (told[0].file, told[0].row) == ("checks-K2.txt", 6)
    folder.put("checks-K2.txt", f"{NOTES}{mended}\n")
    assert audit(read_folder(folder.path), today) == ()


def test_a_queen_who_left_by_the_note_is_told_only_when_she_counts_as_dead(folder, today):
    (folder.path / "checks.csv").unlink()
    for line in (
        "K2-02 3 0 one escaped worker",
        "K2-02 3 0 queens-out 1 escaped",
        "K2-02 2 0 calm",
    ):
        folder.put("checks-K2.txt", f"{NOTES}{line}\n")
        assert audit(read_folder(folder.path), today) == ()


@pytest.mark.parametrize(
    ("text", "order", "what", "remedy"),
    [
        # Ordinary practice, no source: nobody writes down a look of 2004, or of next month.
        ("4.7.26", "", "2026-07-04 (day first) or 2026-04-07 (month first)", "dmy (day first) or"),
        ("04/07/2026", "", "2026-07-04 (day first) or 2026-04-07", "or mdy (month first)."),
        ("12.07.2026", "", "leaves open", "Write 2026-07-12 if"),
        ("10.11.12", "", "2012-11-10 (day first) or 2012-10-11", "or ymd (year first)."),
        ("26.07.04", "", "leaves open", "Write 2026-07-04 if that is it, or set date_order"),
        ("7.7.26", "", "leaves open", "Write 2026-07-07 if"),
        ("12.11.2026", "", "could be 2026-11-12 or 2026-12-11, and neither", "2026-07-15"),
        ("4.7.", "", "has no year", "YYYY-MM-DD"),
        ("July 4", "", "has no year", "YYYY-MM-DD"),
        ("4 Juhu 2026", "", "'Juhu' is not the name of a month", "YYYY-MM-DD"),
    ],
)
def test_a_date_proposes_what_can_be_right(text, order, what, remedy, today):
    got = date(text, order, today)
    assert isinstance(got, Problem)
    assert what in got.what
    assert remedy in got.remedy
    assert "2004" not in got.what + got.remedy
    assert "2026-12-07" not in got.what + got.remedy


def test_what_is_proposed_never_changes_what_is_read():
    # A sheet must not be read one way in July and another in December.
    for text in ("12.07.2026", "4.7.26", "15/07/2026", "2026-07-04", "31/07/26"):
        read = {
            isinstance(date(text, "", day), Problem)
            for day in (None, dt.date(2026, 7, 15), dt.date(2026, 12, 24), dt.date(2031, 1, 1))
        }
        assert len(read) == 1, text


KNOWN = ("K1-01", "K1-02", "K1-03", "K1-13", "K1-30", "K2-03", "Anna-3")


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("k1-3", "K1-03"),
        ("K1-3", "K1-03"),
        ("K1-003", "K1-03"),
        ("K1 03", "K1-03"),
        ("K1_03", "K1-03"),
        ("K1-03.", "K1-03"),
        ("K1–03", "K1-03"),  # phones put a dash for a hyphen
        ("K1-O3", "K1-03"),
        ("Kl-03", "K1-03"),
        ("anna-03", "Anna-3"),
        ("Ana-3", "Anna-3"),
        ("K1-20", ""),  # another number of the series is another founding
        ("K1-04", ""),
        ("03", ""),
        ("", ""),
    ],
)
def test_a_number_in_another_spelling_is_the_one_proposed(typed, meant):
    assert near_number(typed, KNOWN) == meant
