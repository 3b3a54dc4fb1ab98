"""Check notes and chats read by what the study knows: numbers, days without a year, senders."""

import datetime as dt

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cohort.base.errors import SheetError
from cohort.desk.log import log_message
from cohort.sheets.folder import read_folder
from cohort.sheets.known import NOTHING, Known, known_of
from cohort.sheets.note_dates import order_of, readings
from cohort.sheets.notes import all_notes, read_notes
from cohort.terms import words

STUDY = Known(
    queens={"K1-01": "1", "K1-02": "3", "K1-03": "2", "K2-01": "1", "K3-7": "1", "K3-07": "1"},
    signs=frozenset({"K1", "K2", "K3"}),
    order="dmy",
    first=dt.date(2026, 6, 20),
    last=dt.date(2027, 2, 10),
)


def rows(text, known=STUDY):
    notes = all_notes(text.encode(), "checks.txt", known)
    looks = [(r.cells["founding"], r.cells["date"], r.cells.get("queens_alive", ""), r.number)
             for r in notes.rows if r.sheet == "checks"]  # fmt: skip
    return looks, [(f.level, f.row, f.what) for f in notes.findings]


@pytest.mark.parametrize(
    ("typed", "number"), [("k1-3", "K1-03"), ("K1-3", "K1-03"), ("K1–03:", "K1-03"),
                          ("k2-001", "K2-01"), ("K3-7", "K3-7"), ("K3-07", "K3-07")]
)  # fmt: skip
def test_a_number_in_another_case_or_without_zeros_is_the_one_that_fits(typed, number):
    looks, told = rows(f"2026-07-12\n{typed} 1 0\n")
    assert looks == [(number, "2026-07-12", "1", 2)]
    same = typed.rstrip(":") == number
    assert [(level, row) for level, row, _ in told] == ([] if same else [("note", 2)])
    assert all(f"was read as {number}" in what for _, _, what in told)


@pytest.mark.parametrize("typed", ["k3-7", "K3-007"])
def test_a_number_that_fits_two_foundings_is_refused_and_names_both(typed):
    looks, told = rows(f"2026-07-12\n{typed} 1 0\n")
    assert looks == []
    assert told[0][:2] == ("error", 2)
    assert "K3-7 or K3-07" in told[0][2]


def test_a_number_that_looks_like_a_date_is_the_founding_that_bears_it():
    known = Known({"May": "1", "7.12": "1", "3": "1"}, order="dmy", first=STUDY.first,
                  last=STUDY.last)  # fmt: skip
    looks, told = rows("2026-07-12\nMay 1 0\n7.12 1 0\n3 July\n3 1 0\n", known)
    assert [look[:2] for look in looks] == [
        ("May", "2026-07-12"), ("7.12", "2026-07-12"), ("3", "2026-07-03"),
    ]  # fmt: skip
    assert [level for level, _, _ in told] == ["note"]


def test_a_letter_for_a_digit_and_another_number_are_left_as_typed():
    looks, told = rows("2026-07-12\nK1-O3 1 0\nK1-30 1 0\n")
    assert [look[0] for look in looks] == ["K1-O3", "K1-30"]  # the audit knows no such founding
    assert told == []


@pytest.mark.parametrize(
    ("line", "day"),
    [
        ("12.7.", "2026-07-12"),
        ("12. 7", "2026-07-12"),
        ("Sun 12.7.:", "2026-07-12"),
        ("So 12.7.", "2026-07-12"),
        ("12/7", "2026-07-12"),
        ("12 July", "2026-07-12"),
        ("July 12", "2026-07-12"),
        ("12. Juli", "2026-07-12"),
        ("12 juillet", "2026-07-12"),
        ("le 1er juillet", "2026-07-01"),
        ("12 de julio", "2026-07-12"),
        ("3. März", ""),  # before the first queen went in, and after the end
        ("12.1.", "2027-01-12"),  # the winter after
        ("1 août", "2026-08-01"),
        ("31.2.", ""),
        ("12. Juli 2026", "12. Juli 2026"),
        ("12 de julio de 2026", "12 de julio de 2026"),
    ],
)
def test_a_day_without_a_year_is_the_one_of_the_study(line, day):
    looks, told = rows(f"{line}\nK1-01 1 0\n")
    assert [look[1] for look in looks] == ([day] if day else [])
    levels = [level for level, _, _ in told]
    assert levels == (["error", "error"] if not day else ["note"] if day[0] == "2" else [])


def test_a_date_that_could_be_two_days_is_refused_with_both():
    for known, could in (
        (Known(STUDY.queens, order="", first=STUDY.first, last=STUDY.last),
         "2026-07-12 or 2026-12-07"),
        (Known(STUDY.queens, order="ymd", first=STUDY.first, last=STUDY.last),
         "2026-07-12 or 2026-12-07"),
        (Known(STUDY.queens, order="dmy", first=STUDY.first, last=dt.date(2027, 9, 1)),
         "2026-07-12 or 2027-07-12"),
        # a message of the second summer: the study has ended, and the last 12 July is another
        (Known(STUDY.queens, order="dmy", first=STUDY.first, last=STUDY.last,
               today=dt.date(2027, 7, 13)), "2026-07-12 or 2027-07-12"),
    ):  # fmt: skip
        looks, told = rows("12.7.\nK1-01 1 0\n", known)
        assert looks == []
        assert could in told[0][2]
    assert rows("12.7.\nK1-01 1 0\n", NOTHING)[0] == []


def test_how_a_file_is_read_does_not_hang_on_the_day_it_is_read():
    text = "12.7.\nK1-01 1 0\n"
    later = Known(STUDY.queens, order="dmy", first=STUDY.first, last=STUDY.last,
                  today=dt.date(2026, 12, 1))  # fmt: skip
    assert rows(text)[0] == rows(text, later)[0]


def test_a_date_before_a_look_is_of_that_line():
    looks, told = rows("12.7. K1-01 1 0\nK1-02 3 0\n13.7.2026: k1-2 3 0\n")
    assert looks == [("K1-01", "2026-07-12", "1", 1), ("K1-02", "13.7.2026", "3", 3)]
    assert [(level, row) for level, row, _ in told if level == "error"] == [("error", 2)]


def test_dead_is_a_count_of_0_where_one_queen_went_in():
    looks, told = rows("2026-07-12\nK1-01 dead\nK1-02 dead\nK1-02 all dead\nk2-1 tot 💀\n")
    assert [(look[0], look[2]) for look in looks] == [
        ("K1-01", "0"), ("K1-02", "0"), ("K2-01", "0"),
    ]  # fmt: skip
    errors = [what for level, _, what in told if level == "error"]
    assert len(errors) == 1
    assert "how many queens are alive" in errors[0]


CHAT = """\
\u200e[12.07.26, 20:14] Anna: K2-01 1 0
K1-02 3 0 eggs
[12.07.26, 20:15:31] Ben: how are yours?
[13.07.26, 08:01] Anna: K1-01 2 or 3
[13.07.26, 08:02] Anna: 🎉
[13.07.26, 09:00] Anna: 11.7.
K1-03 2 0
[25.07.26, 07:00] k2: rest same
"""


def test_a_chat_gives_the_day_of_each_message_and_passes_over_talk():
    looks, told = rows(CHAT)
    assert looks == [
        ("K2-01", "2026-07-12", "1", 1),
        ("K1-02", "2026-07-12", "3", 2),
        ("K1-03", "2026-07-11", "2", 7),
        ("rest", "2026-07-25", "same", 8),
    ]
    assert [(level, row) for level, row, _ in told] == [
        ("note", 3), ("error", 4), ("note", 5), ("note", 6),
    ]  # fmt: skip
    assert not any(word in what for _, _, what in told for word in ("Anna", "Ben", "yours"))
    senders = {row.sender for row in all_notes(CHAT.encode(), "c.txt", STUDY).rows}
    assert senders == {"", "K2"}  # a name that is no keeper's sign is kept nowhere


def test_the_other_shape_of_a_chat_and_what_the_chat_itself_says():
    text = (
        "12/07/2026, 20:10 - Messages are kept for 90 days\n"
        "12/07/2026, 20:14 - Anna: K2-01 1 0\n"
        "12/07/2026, 8:14 PM - Anna B.: K1-01: 1 0 note: one, two: three\n"
        "12/07/2026, 20:15 - K1-03: 2 0\n"
    )
    looks, told = rows(text)
    assert [look[:3] for look in looks] == [
        ("K2-01", "2026-07-12", "1"), ("K1-01", "2026-07-12", "1"), ("K1-03", "2026-07-12", "2"),
    ]  # fmt: skip
    assert [(level, row) for level, row, _ in told] == [("note", 1)]


def test_the_order_of_a_chats_dates_is_told_by_all_of_them_or_asked_for():
    known = Known(STUDY.queens, first=STUDY.first, last=STUDY.last)
    one = "[07/12/26, 20:14] Anna: K2-01 1 0\n"
    looks, told = rows(one, known)
    assert looks == []
    assert "2026-12-07 or 2026-07-12" in told[0][2]
    looks, _ = rows(one + "[07/25/26, 20:14] Anna: K2-01 1 0\n", known)
    assert [look[1] for look in looks] == ["2026-07-12", "2026-07-25"]


def test_a_messenger_has_an_order_of_its_own():
    """The sheets write the year first; 30.10.26 so would be a day of 2030."""
    text = "[30.10.26, 20:14] Anna: K2-01 1 0\n[08.11.26, 20:14] Anna: K2-01 1 0\n"
    for order in ("ymd", "mdy", ""):
        known = Known(STUDY.queens, order=order, first=STUDY.first, last=STUDY.last)
        assert [look[1] for look in rows(text, known)[0]] == ["2026-10-30", "2026-11-08"]


def test_what_a_study_tells_of_its_days(tmp_path):
    (tmp_path / "foundings-K1.csv").write_text(
        "founding,genus,started,queens,keeper\nK1-01,Lasius,2026-06-20,1,K1\n"
        "K1-02,Lasius,4.8.2026,3,K1\n", "utf-8")  # fmt: skip
    (tmp_path / "study.toml").write_text('date_order = "dmy"\nhorizon_days = 100\n', "utf-8")
    (tmp_path / "checks-K1.txt").write_text("12.7.\nk1-1 1 0\nK1-2 all dead\n", "utf-8")
    sheets = read_folder(tmp_path)
    known = known_of(sheets.tables)
    assert (known.first, known.last) == (dt.date(2026, 6, 20), dt.date(2026, 11, 12))
    assert known.signs == {"K1"}
    assert sheets.of("checks")[0].frame["founding"].tolist() == ["K1-01", "K1-02"]
    assert [t.file for t in sheets.tables] == sorted(t.file for t in sheets.tables)
    only_season = known_of([t for t in sheets.tables if t.sheet == "study"])
    assert only_season.first is None


def test_a_message_is_logged_to_the_keepers_whose_foundings_it_names(tmp_path):
    heads = "founding,genus,started,queens,keeper\n"
    for sign in ("K1", "K2"):
        (tmp_path / f"foundings-{sign}.csv").write_text(
            f"{heads}{sign}-01,Lasius,2024-06-20,1,{sign}\n{sign}-02,Lasius,2024-06-20,3,{sign}\n"
        )
    (tmp_path / "study.toml").write_text('date_order = "dmy"\n', "utf-8")
    text = (
        b"[12.07.24, 20:14] Anna: k1-1 1 0\n[12.07.24, 20:15] K2: rest same\n"
        b"[12.07.24, 20:16] Anna: what a night\n"
    )
    done = log_message(tmp_path, text, today=dt.date(2024, 12, 1))
    assert sorted(path.name for path in done.files) == ["checks-K1.csv", "checks-K2.csv"]
    assert done.rows == 2
    assert "K1-01,2024-07-12,1,0" in (tmp_path / "checks-K1.csv").read_text()
    assert "rest,2024-07-12,same" in (tmp_path / "checks-K2.csv").read_text()
    written = "".join(p.read_text() for p in tmp_path.glob("*.csv"))
    assert "Anna" not in written
    again = log_message(tmp_path, text, today=dt.date(2024, 12, 1))
    assert (again.rows, again.already) == (0, 2)
    with pytest.raises(SheetError, match="could be 2024-07-12 or 2026-07-12"):
        log_message(tmp_path, b"12.7.\nK1-01 1 0\n", today=dt.date(2026, 12, 1))


PIECES = (
    *("K1-01", "k1-2", "K1-O3", "rest", "all", "same", "reste", "🐜", "👑", "3", "0", "3q", "0w"),
    *("12.7.", "12.7.2026", "12. Juli", "juillet 12", "2026-07-12", "[12.07.26, 20:14] Anna:"),
    *("12/07/2026, 20:14 - Ben:", "dead", "alle tot", "3 queens", "no workers", "ca.", "~", ","),
    *("#", "\t", "-", "•", "?"),
    *words.EVENTS, *words.BROOD, *words.DEAD, *words.NONE_ALIVE, *words.ABOUT[:3],
)  # fmt: skip


@given(st.lists(st.lists(st.sampled_from(PIECES) | st.text(max_size=8), max_size=6), max_size=8))
def test_no_line_is_lost(lines):
    """Each line is read, is a date, or is a finding; one that is read is no error."""
    text = "\n".join(" ".join(words_) for words_ in lines)
    for known in (STUDY, NOTHING):
        notes = all_notes(text.encode("utf-8", "surrogatepass"), "c.txt", known)
        made = {row.number for row in notes.rows}
        errors = {f.row for f in notes.findings if f.level == "error"}
        told = {f.row for f in notes.findings}
        decoded = text.encode("utf-8", "surrogatepass").decode("utf-8", "replace")
        for number, line in enumerate(decoded.splitlines(), 1):
            if line.strip(" \t\ufeff") and not line.lstrip().startswith("#"):
                assert number in made | set(notes.dates) | told, line
        assert not made & errors
        assert not set(notes.dates) & errors
        assert all(f.remedy for f in notes.findings)


@settings(max_examples=30)
@given(st.text(max_size=40))
def test_nothing_typed_brings_down_the_reader(text):
    for line in (text, f"K1-01 {text}", f"[12.07.26, 20:14] {text}", f"12.7. {text}"):
        read_notes(f"2026-07-12\n{line}".encode("utf-8", "surrogatepass"), "checks.txt", STUDY)


@given(st.dates(dt.date(2000, 1, 1), dt.date(2099, 12, 31)))
def test_every_day_is_among_the_readings_of_its_own_spellings(day):
    for order, text in (
        ("dmy", f"{day.day}.{day.month}.{day.year}"),
        ("mdy", f"{day.month}/{day.day}/{day.year % 100:02d}"),
        ("ymd", f"{day.year % 100:02d}-{day.month:02d}-{day.day:02d}"),
        ("", f"{day.day} {day:%B} {day.year}"),
        ("", day.isoformat()),
    ):
        assert readings(text, order) == [day]
        assert order_of([text]) in ("", order)


# --- what a year of three keepers stumbled over -------------------------------------------------


def just_written(day, **more):
    """The study on a day of its own, its dates in no order that anybody set."""
    settings = {"order": "", "first": STUDY.first, "last": STUDY.last, **more}
    return Known(STUDY.queens, STUDY.signs, today=day, **settings)


@pytest.mark.parametrize(
    ("typed", "today", "day"),
    [
        ("10.8.", dt.date(2026, 8, 11), "2026-08-10"),  # 8 October is still to come
        ("8/10", dt.date(2026, 8, 11), "2026-08-10"),
        ("10.8.26", dt.date(2026, 8, 11), "2026-08-10"),
        ("19.4.", dt.date(2027, 4, 19), "2027-04-19"),  # after the agreed day: the second spring
        ("10.8.", dt.date(2026, 10, 9), ""),  # by now it could be both
        ("19.4.", dt.date(2026, 8, 1), ""),  # before the first queen went in
    ],
)
def test_a_message_just_written_tells_of_no_day_to_come(typed, today, day):
    looks, told = rows(f"{typed}\nK1-01 1 0\n", just_written(today))
    assert [look[1] for look in looks] == ([day] if day else [])
    assert ("error" in [level for level, _, _ in told]) is not bool(day)


def test_a_chat_of_the_second_spring_has_its_day():
    """14.03.27 is no day of 2014: the first queen went in later."""
    text = "[14.03.27, 10:24] Anna: K1-01 1 7\n"
    for known in (just_written(dt.date(2027, 3, 14)), just_written(None)):
        assert rows(text, known) == ([("K1-01", "2027-03-14", "1", 1)], [])


@pytest.mark.parametrize(
    "line",
    ["the rest same as before", "The rest is the same", "all others as before",
     "others unchanged", "alle anderen wie vorher", "der Rest unverändert",
     "les autres comme avant", "todas las demás como antes"],
)  # fmt: skip
def test_the_rest_as_people_say_it(line):
    for text in (f"2026-07-12\nK1-01 1 0\n{line}\n", f"[12.07.26, 20:14] Anna: {line}\n"):
        looks, told = rows(text)
        assert looks[-1][:3] == ("rest", "2026-07-12", "same")
        assert [(level, what) for level, _, what in told] == [
            ("note", f"'{line}' was read as rest same.")
        ]


def test_talk_of_a_rest_is_talk_and_others_without_a_count_are_asked_for():
    assert rows("[12.07.26, 20:14] Anna: the rest of the evening was fine\n")[0] == []
    looks, told = rows("[12.07.26, 20:14] Anna: all others are fine\n")
    assert looks == []
    assert told[0][0] == "error"


def test_a_second_founding_in_a_line_is_no_note():
    looks, told = rows(
        "2026-07-12\nK1-01 1 0 larvae, K1-2 still eggs\nK1-03 2 0 end joined K1-02\n"
    )
    assert [look[0] for look in looks] == ["K1-03"]
    assert [(level, row) for level, row, _ in told] == [("error", 2)]
    assert "two numbers of foundings" in told[0][2]


def test_dead_before_a_smile_or_before_what_killed_them():
    text = "2026-07-12\nK1-01 dead :(\nK1-02 all dead mould\nK2-01 dead, mould\nK1-03 dead fight\n"
    notes = all_notes(text.encode(), "checks.txt", STUDY)
    looks = [(r.cells["founding"], r.cells["queens_alive"]) for r in notes.rows
             if r.sheet == "checks"]  # fmt: skip
    assert looks == [("K1-01", "0"), ("K1-02", "0"), ("K2-01", "0")]
    assert [r.cells["event"] for r in notes.rows if r.sheet == "events"] == ["mould", "mould"]
    assert [(f.level, f.row) for f in notes.findings] == [("error", 5)]  # of two queens


def test_the_rest_of_a_study_of_one_keeper_needs_no_sign(tmp_path):
    (tmp_path / "foundings.csv").write_text(
        "founding,genus,started,queens,keeper\nK3-01,Lasius,2024-06-20,1,K3\n", "utf-8"
    )
    done = log_message(tmp_path, b"2024-07-14\nrest same\n", today=dt.date(2024, 7, 14))
    assert (done.rows, [path.name for path in done.files]) == (1, ["checks-K3.csv"])
