"""Somebody's own table with a day above each column, titles, two rows of headings, any language."""

import datetime as dt
import sys
from pathlib import Path

import pytest
import xlsxwriter
from hypothesis import given
from hypothesis import strategies as st

from cohort.base.errors import SheetError, StudyError
from cohort.desk.begin import begin
from cohort.desk.bring import look, read_grid, read_mapping, write_mapping
from cohort.desk.bring import write as write_all
from cohort.desk.bring.counted import counted
from cohort.desk.bring.grid import Grid
from cohort.desk.bring.guess import ALSO, FIELDS
from cohort.desk.bring.headings import OTHER_TONGUES, headings
from cohort.desk.bring.heads import find_head
from cohort.desk.bring.mapping import Mapping
from cohort.desk.bring.row import BLANKS
from cohort.desk.bring.rows import convert
from cohort.desk.bring.run import trial
from cohort.desk.correct import correct
from cohort.sheets.note_counts import NOT_LOOKED
from cohort.sheets.raw import Sheets
from cohort.study import read_study
from cohort.terms import words

sys.path.insert(0, str(Path(__file__).parents[1] / "sheets"))
from made_books import cells, ods

GERMAN = """\
Meine Königinnen 2024;;;;;;;;
;;;;;;;;
Röhrchen;Ameisenart;Angesetzt;Königinnen;4.7.;8.7.;12.7.;Erste Arbeiterin;Bemerkung
A;Lasius niger;3.7.24;3 Königinnen;3;3;2;;ruhig
B;Lasius niger;3.7.24;Q1, Q2, Q3;3;~3;tot;;
C;Messor barbarus;15.6.24;1;1;?;1, Eier;20.8.24;
D;Lasius flavus;3.7.24;2,0;2;2 tot;2 0 Schimmel;;
E;Lasius flavus;3.7.24;1;1;1;tot;;
"""


@pytest.fixture
def study(tmp_path):
    begin(tmp_path / "study", 1)
    return tmp_path / "study"


def seen_of(file, study, **more):
    return look(file, study, keeper="K4", failed="all", look_every=0, **more)


def looks(study):
    made = read_study(study)
    return [
        (r.founding, f"{r.date:%m-%d}", r.queens_alive, r.workers, r.brood, r.note)
        for r in made.checks.fillna(-1).itertuples()
    ]


def test_a_day_above_each_column_with_titles_in_german(tmp_path, study):
    file = tmp_path / "meine.csv"
    file.write_text(GERMAN, "utf-8")
    seen = seen_of(file, study)
    assert seen.mapping.date_order == ""  # 3.7.24 could be of 2003
    with pytest.raises(StudyError, match=rf"'4.7.'.*{seen.mapping_file.name}.*--date-order"):
        write_all(seen, study)
    seen = seen_of(file, study, date_order="dmy")
    assert {t.heading: t.field for t in seen.taken} == {
        "Röhrchen": "founding", "Ameisenart": "genus", "Angesetzt": "started",
        "Königinnen": "queens", "4.7.": "look", "8.7.": "look", "12.7.": "look",
        "Erste Arbeiterin": "first_worker", "Bemerkung": "note",
    }  # fmt: skip
    assert seen.mapping.days["12.7."] == "2024-07-12"
    assert seen.mapping.under_dates == "queens"
    _, brought = write_all(seen, study)
    assert looks(study) == [
        ("K4-01", "07-04", 3, -1, "", ""), ("K4-01", "07-08", 3, -1, "", ""),
        ("K4-01", "07-12", 2, -1, "", ""),
        ("K4-02", "07-04", 3, -1, "", ""), ("K4-02", "07-08", -1, -1, "", "~3"),
        ("K4-02", "07-12", 0, -1, "", ""),
        ("K4-03", "07-04", 1, -1, "", ""), ("K4-03", "07-12", 1, -1, "eggs", ""),
        ("K4-03", "08-20", -1, 1, "", ""),
        ("K4-04", "07-04", 2, -1, "", ""), ("K4-04", "07-08", -1, -1, "", "2 tot"),
        ("K4-04", "07-12", 2, 0, "", ""),
        ("K4-05", "07-04", 1, -1, "", ""), ("K4-05", "07-08", 1, -1, "", ""),
        ("K4-05", "07-12", 0, -1, "", ""),
    ]  # fmt: skip
    made = read_study(study)
    assert made.foundings["queens"].tolist() == [3, 3, 1, 2, 1]
    assert "queens: Q1, Q2, Q3" in made.foundings["note"].iloc[1]
    assert made.events["event"].tolist() == ["mould"]
    told = [(f.row, f.column) for f in brought.findings if f.level == "warning"]
    assert told == [(5, "8.7."), (7, "8.7.")]
    assert all("§" not in f.what + f.remedy for f in brought.findings)


def test_a_day_over_queens_and_workers_in_merged_cells(tmp_path, study):
    book = xlsxwriter.Workbook(str(tmp_path / "b.xlsx"))
    tab, form = book.add_worksheet("Ants"), book.add_format({"num_format": "d mmm"})
    tab.merge_range(0, 0, 0, 8, "Queens of the summer 2024")
    for column, day in ((3, dt.datetime(2024, 7, 4)), (5, dt.datetime(2024, 7, 8))):
        tab.merge_range(2, column, 2, column + 1, "")
        tab.write_datetime(2, column, day, form)
    heads = ("No", "Genus", "Set up", "queens", "workers", "queens", "workers", "Queens", "Notes")
    tab.write_row(3, 0, heads)
    tab.write_row(4, 0, ("A", "Lasius", "2024-07-01", 3, 0, 2, "5+", 3, "hm"))
    tab.write_row(5, 0, ("B", "Lasius", "2024-07-01", 1, 0, "dead", "", 1, ""))
    book.close()
    seen = seen_of(tmp_path / "b.xlsx", study)
    fields = {t.heading: t.field for t in seen.taken}
    assert fields["2024-07-04 queens"] == "look_queens"
    assert fields["2024-07-08 workers"] == "look_workers"
    assert (fields["Queens"], fields["Notes"]) == ("queens", "note")
    write_all(seen, study)
    assert looks(study) == [
        ("K4-01", "07-04", 3, 0, "", ""), ("K4-01", "07-08", 2, 5, "", ""),
        ("K4-02", "07-04", 1, 0, "", ""), ("K4-02", "07-08", 0, -1, "", ""),
    ]  # fmt: skip


def test_a_month_over_its_days_in_an_ods_file(tmp_path, study):
    rows = b"".join(
        cells(*row)
        for row in (
            ("Fourmis",),
            ("Tube", "Genre", "Début", "Reines", "juillet", "", "août"),
            ("", "", "", "", "4", "12", "2"),
            ("A", "Lasius", "1 juillet 2024", "2", "2", "1", "morte"),
            ("B", "Lasius", "1 juillet 2024", "1", "1", "1", "1"),
        )
    )
    file = tmp_path / "mes.ods"
    file.write_bytes(ods(rows, b"Feuille"))
    seen = seen_of(file, study)
    assert seen.mapping.days == {
        "juillet 4": "2024-07-04", "juillet 12": "2024-07-12", "août 2": "2024-08-02",
    }  # fmt: skip
    write_all(seen, study)
    assert [look[:3] for look in looks(study)] == [
        ("K4-01", "07-04", 2), ("K4-01", "07-12", 1), ("K4-01", "08-02", 0),
        ("K4-02", "07-04", 1), ("K4-02", "07-12", 1), ("K4-02", "08-02", 1),
    ]  # fmt: skip


def test_what_the_numbers_count_is_asked_where_it_cannot_be_known(tmp_path, study):
    file = tmp_path / "m.csv"
    file.write_text(
        "Tube,Genus,Set up,Queens,2024-07-08,2024-07-12\nA,Lasius,2024-07-04,3,3/0,2/1\n", "utf-8"
    )
    seen = seen_of(file, study)
    with pytest.raises(StudyError, match=rf"under-dates.*{seen.mapping_file.name}"):
        write_all(seen, study)
    text = seen.mapping_file.read_text("utf-8")
    seen.mapping_file.write_text(
        text.replace('under_dates = ""', 'under_dates = "queens/workers"'), "utf-8"
    )
    write_all(seen_of(file, study), study)
    assert looks(study) == [
        ("K4-01", "07-08", 3, 0, "", ""), ("K4-01", "07-12", 2, 1, "", ""),
    ]  # fmt: skip


def test_two_columns_of_a_day_that_disagree_are_told(tmp_path, study):
    file = tmp_path / "m.csv"
    file.write_text(
        "Tube,Genus,Set up,Queens,2024-07-08,2024-07-08\nA,Lasius,2024-07-04,3,3,2\n"
        "B,Lasius,2024-07-04,3,3,3 calm\n", "utf-8")  # fmt: skip
    _, brought = write_all(seen_of(file, study), study)
    assert [look[2] for look in looks(study)] == [3, 3]
    [told] = [f for f in brought.findings if f.level == "warning"]
    assert (told.row, "queens_alive 2 here and 3 elsewhere" in told.what) == (2, True)


def test_numbers_above_the_queens_are_not_taken_for_queens(tmp_path, study):
    file = tmp_path / "m.csv"
    file.write_text("Tube,Genus,Set up,Queens,2024-07-08\nA,Lasius,2024-07-04,3,12\n", "utf-8")
    seen = seen_of(file, study)
    assert seen.mapping.under_dates == ""
    with pytest.raises(StudyError, match="under-dates"):
        trial(seen, Sheets((), (), ()), study)


def test_a_mapping_with_days_is_read_back_and_a_wrong_day_is_told(tmp_path, study):
    file = tmp_path / "meine.csv"
    file.write_text(GERMAN, "utf-8")
    seen = seen_of(file, study, date_order="dmy")
    text = write_mapping(seen.mapping, seen.taken)
    assert read_mapping(text, "m.toml") == seen.mapping
    with pytest.raises(StudyError, match="2024-07-32"):
        read_mapping(text.replace('"2024-07-12"', '"2024-07-32"'), "m.toml")
    with pytest.raises(StudyError, match="under_dates is one of"):
        read_mapping(text.replace('"queens"  # What', '"beetles"  # What'), "m.toml")


def test_headings_stand_where_they_stand():
    table = [["My ants", "", ""], [], ["Tube", "Queens", "Notes"], ["A", "3", ""], ["B", "1", ""]]
    head = find_head(table)
    assert head is not None
    assert (head.row, head.headings) == (2, ("Tube", "Queens", "Notes"))
    assert find_head([["1", "2"], ["3", "4"]]) is None
    grid = read_grid(b"My ants\n\nTube,Queens\nA,3\n", "m.csv")
    assert (grid.headings, grid.numbers) == (("Tube", "Queens"), (4,))


@pytest.mark.parametrize(
    ("text", "field", "count"),
    [
        ("3", "queens", 3), ("3,0", "queens", 3), ("3 queens", "queens", 3),
        ("2 Königinnen", "queens_left", 2), ("Q1, Q2, Q3", "queens", 3), ("Q1 + Q3", "queens", 2),
        ("dead", "queens_left", 0), ("†", "queens_left", 0), ("toutes", "queens_left", None),
        ("12 ouvrières", "workers", 12), ("keine Arbeiterinnen", "workers", 0),
        ("5+", "workers", 5),
        ("~3", "queens", None), ("ca. 3", "queens", None), ("3?", "queens", None),
        ("2,5", "queens", None), ("3 workers", "queens", None), ("dead", "workers", None),
        ("Q1, Q1", "queens", None), ("1, 2", "queens", None), ("3 or 4", "queens", None),
    ],
)  # fmt: skip
def test_a_count_as_people_write_it_or_none(text, field, count):
    got = counted(text, field)
    assert getattr(got, "number", None) == count
    if count is None:
        assert got.remedy


CELLS = ("3", "2", "0", "4", "3q 0w", "dead", "tot", "†", "x", "~3", "2 dead", "Q1, Q2", "3 eggs",
         "Larven", "mould", "escaped", "calm", "3/0", "5+", "2,5", "?", "-",
         "end given")  # fmt: skip


@given(st.lists(st.sampled_from(CELLS) | st.text(max_size=6), min_size=3, max_size=3))
def test_each_cell_below_a_day_is_a_look_or_an_event_or_is_told(texts):
    days = ("2024-07-08", "2024-07-12", "2024-07-16")
    texts = [" ".join(text.split()) for text in texts]
    heads = ("Tube", "Genus", "Set up", "Queens", *days)
    rows = (("A", "Lasius", "2024-07-04", "3", *texts),)
    grid = Grid("m.csv", "", heads, rows, (2,), (), tuple(("", head) for head in heads))
    fields = dict(
        zip(heads, ("founding", "genus", "started", "queens", *["look"] * 3), strict=True)
    )
    mapping = Mapping("m.csv", "", "", fields, "K4", "all", under_dates="queens",
                      days={day: day for day in days})  # fmt: skip
    brought = convert(grid, mapping, lambda own: "K4-01")
    assert len(brought.foundings) == 1
    seen = {row["date"] for row in (*brought.checks, *brought.events)}
    told = {finding.column for finding in brought.findings}
    for day, text in zip(days, texts, strict=True):
        assert day in seen | told or text.lower() in ("", *BLANKS, *NOT_LOOKED), text
    for row in brought.checks:  # no count that the cell does not hold
        typed = texts[days.index(row["date"])]
        number = row.get("queens_alive", "").rstrip("+")
        assert not number or number in typed or number == "0" or typed.count(",") + 1 == int(number)


def test_headings_of_other_languages_mean_one_field_each():
    every = [w.strip() for texts in OTHER_TONGUES.values()
             for part in texts.split(";") for w in set(part.split(","))]  # fmt: skip
    assert set(OTHER_TONGUES) <= set(FIELDS)
    by_word = headings()
    english = {w: name for name, others in ALSO.items() for w in (name, *others)}
    for word in every:
        assert english.get(word, by_word[word]) == by_word[word], word
        same = [f for f, t in OTHER_TONGUES.items()
                if word in [w.strip() for w in t.replace(";", ",").split(",")]]  # fmt: skip
        assert len(same) == 1, word
    assert set(words.MONTHS.values()) == set(range(1, 13))


# --- the same table again, a month later --------------------------------------------------------

ALLOTTED = """\
founding,genus,started,queens,keeper
K2-01,Lasius,2024-07-06,3,K2
K2-02,Lasius,2024-07-06,1,K2
"""
HEADS = "Tube;What;Set up;Queens at the start"


def grown(days, *rows, under=""):
    """The table with some of its days."""
    lines = [";".join((HEADS, *days)), *(";".join(row) for row in rows), under]
    return "\n".join(lines) + "\n"


@pytest.fixture
def club(tmp_path):
    folder = tmp_path / "club"
    folder.mkdir()
    (folder / "foundings-K2.csv").write_text(ALLOTTED, "utf-8")
    (folder / "study.toml").write_text('date_order = "dmy"\n', "utf-8")
    return folder


def brought_again(folder, tmp_path, text, **asked):
    file = tmp_path / "mine.csv"
    file.write_text(text, "utf-8")
    return write_all(look(file, folder, **asked), folder)


def test_a_table_of_allotted_foundings_adds_their_looks_and_no_founding(club, tmp_path):
    rows = (("K2-01", "Lasius", "6.7.24", "3", "3"), ("K2-02", "Lasius", "6.7.24", "1", "1"))
    logged, brought = brought_again(club, tmp_path, grown(["13.7.24"], *rows), keeper="K2")
    assert (brought.foundings, len(brought.checks), brought.known) == ((), 2, ("K2-01", "K2-02"))
    assert [path.name for path in logged.files] == ["checks-K2.csv"]
    assert (club / "foundings-K2.csv").read_text("utf-8") == ALLOTTED
    # it has grown: sign and answers are those of last time, and only what is new goes in
    more = [(*row, seen) for row, seen in zip(rows, ("2/4", "dead"), strict=True)]
    logged, brought = brought_again(
        club, tmp_path, grown(["13.7.24", "18.8.24"], *more), under_dates="queens/workers"
    )
    assert (logged.rows, brought.already) == (2, 2)
    assert looks(club) == [
        ("K2-01", "07-13", 3, -1, "", ""), ("K2-01", "08-18", 2, 4, "", ""),
        ("K2-02", "07-13", 1, -1, "", ""), ("K2-02", "08-18", 0, -1, "", ""),
    ]  # fmt: skip
    # saved once more with nothing new in it
    logged, brought = brought_again(
        club, tmp_path, grown(["13.7.24", "18.8.24"], *more, under=" ;;;;;")
    )
    assert (logged.rows, brought.already) == (0, 4)


def test_own_names_keep_the_numbers_they_were_given(study, tmp_path):
    rows = [("Fat Anna", "Lasius", "6.7.24", "3", "3")]
    asked = {"keeper": "K4", "failed": "all", "date_order": "dmy"}
    brought_again(study, tmp_path, grown(["13.7.24"], *rows), **asked)
    rows = [("Fat Anna", "Lasius", "6.7.24", "3", "3", "2"),
            ("Thin Bea", "Lasius", "7.7.24", "1", "", "1")]  # fmt: skip
    _, brought = brought_again(study, tmp_path, grown(["13.7.24", "20.7.24"], *rows))
    assert [(number, own) for number, own, _ in brought.names] == [
        ("K4-01", "Fat Anna"), ("K4-02", "Thin Bea"),
    ]  # fmt: skip
    assert [row["founding"] for row in brought.foundings] == ["K4-02"]
    assert [look[:3] for look in looks(study)] == [
        ("K4-01", "07-13", 3), ("K4-01", "07-20", 2), ("K4-02", "07-20", 1),
    ]  # fmt: skip
    assert "left_out" not in brought.foundings[0]  # all are in the file: as was said last time


def test_a_row_that_is_of_another_founding_than_its_number_is_refused(club, tmp_path):
    rows = [("K2-01", "Lasius", "6.7.24", "1", "1"), ("K2-02", "Messor", "6.7.24", "1", "1")]
    with pytest.raises(SheetError) as refused:
        brought_again(club, tmp_path, grown(["13.7.24"], *rows), keeper="K2")
    told = [(f.rule, f.row, f.what) for f in refused.value.findings]
    assert [one[:2] for one in told] == [("other-founding", 2), ("other-founding", 3)]
    assert "3 queens of Lasius since 2024-07-06" in told[0][2]
    assert not (club / "checks-K2.csv").exists()


def test_a_count_put_right_in_the_table_is_told_and_not_written_over(club, tmp_path):
    row = ("K2-01", "Lasius", "6.7.24", "3")
    brought_again(club, tmp_path, grown(["13.7.24"], (*row, "3")), keeper="K2")
    right = grown(["13.7.24"], (*row, "2"))
    with pytest.raises(SheetError, match="log --correct"):
        brought_again(club, tmp_path, right)
    correct(club, "K2-01", "2024-07-13", {"queens_alive": "2"})
    logged, brought = brought_again(club, tmp_path, right)
    assert (logged.rows, brought.already) == (0, 1)
    assert looks(club) == [("K2-01", "07-13", 2, -1, "", "")]


def test_a_line_of_explanation_below_the_table_is_passed_over(club, tmp_path):
    text = grown(["13.7.24"], ("K2-01", "Lasius", "6.7.24", "3", "3/0"),
                 under="2/4 = two queens, four workers;;;;")  # fmt: skip
    _, brought = brought_again(club, tmp_path, text, keeper="K2", under_dates="queens/workers")
    assert [(f.level, f.row) for f in brought.findings] == [("warning", 3)]
    assert len(brought.checks) == 1
