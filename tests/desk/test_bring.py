"""Somebody's own table: what it is taken for, and that nothing is invented."""

from __future__ import annotations

import datetime as dt
import hashlib
import io
import os
import tomllib
from pathlib import Path
from typing import Any

import pytest
import xlsxwriter
from hypothesis import given
from hypothesis import strategies as st

from cohort.base.errors import SheetError, StudyError
from cohort.cli import main
from cohort.desk.begin import begin
from cohort.desk.bring import guess, look, read_grid, read_mapping, write_mapping
from cohort.desk.bring import write as write_all
from cohort.desk.bring.guess import ALSO, FIELDS
from cohort.desk.bring.mapping import Mapping
from cohort.sheets.append import locked
from cohort.study import read_study

ROWS: list[tuple[Any, ...]] = [
    (
        "Bertha",
        "Lasius niger",
        dt.date(2024, 7, 3),
        dt.date(2024, 7, 4),
        1,
        dt.date(2024, 7, 12),
        None,
        "yes",
        dt.date(2024, 10, 1),
        14,
        "none",
        "calm",
    ),
    (
        "Trio",
        "Lasius niger",
        dt.date(2024, 7, 3),
        dt.date(2024, 7, 4),
        3,
        dt.date(2024, 7, 6),
        None,
        "yes",
        dt.date(2024, 10, 1),
        "20+",
        "claustral",
        "",
    ),
    (
        "Clara",
        "Messor barbarus",
        None,
        dt.date(2024, 5, 10),
        2,
        None,
        dt.date(2024, 6, 1),
        "no",
        None,
        "",
        "honey water",
        "=mould?",
    ),
]
HEADS = (
    "Colony",
    "Species",
    "Date caught",
    "Set up",
    "No. of queens",
    "First worker",
    "Died",
    "Alive?",
    "Last checked",
    "Workers now",
    "Fed",
    "Comments",
)


def table(path: Path, rows: list[tuple[Any, ...]], heads: tuple[str, ...] = HEADS) -> Path:
    book = xlsxwriter.Workbook(str(path), {"strings_to_formulas": False})
    tab = book.add_worksheet("Ants")
    day = book.add_format({"num_format": "d mmm yyyy"})
    tab.merge_range(0, 0, 0, 4, "My queens")
    tab.write_row(2, 0, heads)
    for i, row in enumerate(rows, start=3):
        for j, cell in enumerate(row):
            if isinstance(cell, dt.date):
                tab.write_datetime(i, j, dt.datetime.combine(cell, dt.time()), day)
            elif cell not in (None, ""):
                tab.write(i, j, cell)
    book.close()
    return path


@pytest.fixture
def study(tmp_path: Path) -> Path:
    begin(tmp_path / "study", 1)
    return tmp_path / "study"


def bring(file: Path, study: Path, failed: str = "all", every: int = 4, **more: Any) -> Any:
    seen = look(file, study, keeper="K4", failed=failed, look_every=every)
    return write_all(seen, study, **more)


def test_each_heading_is_taken_for_something_with_a_reason(tmp_path: Path) -> None:
    file = table(tmp_path / "mine.xlsx", ROWS, (*HEADS[:-1], "Comments"))
    taken = {t.heading: (t.field, t.why) for t in guess(read_grid(file.read_bytes(), file.name))}
    assert {heading: field for heading, (field, _) in taken.items()} == dict(
        zip(
            HEADS,
            (
                "founding",
                "genus",
                "flight_date",
                "started",
                "queens",
                "first_worker",
                "all_dead",
                "status",
                "last_look",
                "workers",
                "feeding",
                "note",
            ),
            strict=True,
        )
    )
    assert "genus" in taken["Species"][1]
    assert all(why for _, why in taken.values())


def test_a_heading_whose_cells_do_not_fit_is_taken_for_nothing(tmp_path: Path) -> None:
    file = table(
        tmp_path / "m.xlsx",
        [("a", "many", "soon"), ("b", "few", "later")],
        ("Colony", "Queens", "First worker"),
    )
    taken = {t.heading: t for t in guess(read_grid(file.read_bytes(), file.name))}
    assert taken["Queens"].field == taken["First worker"].field == ""
    assert "no dates" in taken["First worker"].why


def test_milestones_become_brackets(tmp_path: Path, study: Path) -> None:
    """A first worker on 12 July, looks every 4 days: not there on 8 July, there on 12 July."""
    bring(table(tmp_path / "mine.xlsx", ROWS), study)
    made = read_study(study)
    looks = made.checks[made.checks["founding"] == "K4-01"]
    workers = [
        (str(d.date()), int(w), bool(p))
        for d, w, p in zip(looks["date"], looks["workers"], looks["workers_at_least"], strict=True)
    ]
    assert workers == [("2024-07-08", 0, False), ("2024-07-12", 1, True), ("2024-10-01", 14, False)]
    trio = made.checks[made.checks["founding"] == "K4-02"]
    assert [str(d.date()) for d in trio["date"]] == ["2024-07-06", "2024-10-01"]  # not before day 0
    clara = made.checks[made.checks["founding"] == "K4-03"]
    assert [
        (str(d.date()), int(q), bool(p))
        for d, q, p in zip(clara["date"], clara["queens_alive"], clara["at_least"], strict=True)
    ] == [("2024-05-28", 1, True), ("2024-06-01", 0, False)]
    assert made.foundings["note"].tolist() == [
        "own name: Bertha; calm",
        "own name: Trio",
        "own name: Clara; =mould?; feeding: honey water",
    ]
    assert made.foundings["feeding"].tolist() == ["none", "none", ""]
    assert made.foundings["species"].tolist() == ["niger", "niger", "barbarus"]


def test_without_a_rhythm_nothing_is_said_of_the_time_before(tmp_path: Path, study: Path) -> None:
    bring(table(tmp_path / "mine.xlsx", ROWS), study, every=0)
    made = read_study(study)
    assert made.checks["workers"].eq(0).fillna(False).sum() == 0
    assert len(made.checks) == 5


@pytest.mark.parametrize(
    ("failed", "left_out"), [("all", {""}), ("some", {"other"}), ("no", {"other"})]
)
def test_only_all_enters_the_comparison(
    failed: str, left_out: set[str], tmp_path: Path, study: Path
) -> None:
    bring(table(tmp_path / "mine.xlsx", ROWS), study, failed=failed)
    made = read_study(study).foundings
    assert set(made["left_out"]) == left_out
    assert made["note"].str.contains("not all failed ones").all() == (failed != "all")


def test_the_open_question_stops_writing(tmp_path: Path, study: Path) -> None:
    seen = look(table(tmp_path / "mine.xlsx", ROWS), study, keeper="K4")
    with pytest.raises(StudyError, match="all, some or no"):
        write_all(seen, study)
    assert not (study / "foundings-K4.csv").exists()


def test_a_blank_stays_a_blank(tmp_path: Path, study: Path) -> None:
    rows = [
        ("no day", "Lasius", None, None, 1, None, None, "", None, "", "", ""),
        ("no queens", "Lasius", None, dt.date(2024, 7, 4), "", None, None, "", None, "", "", ""),
        ("words", "Lasius", None, dt.date(2024, 7, 4), "two", None, None, "", None, "", "", ""),
        ("no kind", "", None, dt.date(2024, 7, 4), 1, None, None, "", None, "", "", ""),
        ("dead once", "Lasius", None, dt.date(2024, 7, 4), 1, None, None, "no", None, "", "", ""),
        (
            "soon",
            "Lasius",
            None,
            dt.date(2024, 7, 4),
            1,
            "soon",
            None,
            "maybe",
            dt.date(2024, 8, 1),
            "",
            "",
            "",
        ),
        (
            "fine",
            "Lasius",
            None,
            dt.date(2024, 7, 4),
            1,
            dt.date(2024, 8, 1),
            None,
            "",
            None,
            "",
            "",
            "",
        ),
        (
            "ok",
            "Lasius",
            None,
            dt.date(2024, 7, 4),
            1,
            dt.date(2024, 8, 1),
            None,
            "",
            None,
            "",
            "",
            "",
        ),
    ]
    file = table(tmp_path / "mine.xlsx", rows)
    with pytest.raises(SheetError) as told:
        bring(file, study)
    errors = [f for f in told.value.findings if f.level == "error"]
    assert [f.row for f in errors] == [4, 5, 6, 7]
    assert all(f.file == "mine.xlsx" and f.tab == "Ants" and f.column for f in errors)
    _, brought = bring(file, study, without_faulty=True)
    made = read_study(study)
    assert len(made.foundings) == 4
    assert made.checks["queens_alive"].isna().all()  # no death and no life was made up
    assert {f.rule for f in brought.findings if f.level == "warning"} == {
        "no-day",
        "not-a-date",
        "unknown-word",
    }


def test_a_row_per_look_is_put_together_by_name(tmp_path: Path, study: Path) -> None:
    heads = (
        "Colony",
        "Genus",
        "Set up",
        "Queens at start",
        "Last checked",
        "Queens now",
        "Workers now",
        "Notes",
    )
    day0 = dt.date(2024, 7, 4)
    rows = [
        ("A", "Lasius", day0, 3, dt.date(2024, 7, 8), 3, 0, "calm"),
        ("B", "Lasius", day0, 1, dt.date(2024, 7, 8), 1, 0, ""),
        ("A", "", None, "", dt.date(2024, 7, 12), 2, 1, "fight"),
    ]
    bring(table(tmp_path / "mine.xlsx", rows, heads), study)
    made = read_study(study)
    assert made.foundings["queens"].tolist() == [3, 1]
    assert made.checks["founding"].tolist() == ["K4-01", "K4-01", "K4-02"]
    assert made.checks["queens_alive"].tolist() == [3, 2, 1]
    assert made.checks["note"].tolist() == ["calm", "fight", ""]
    clash = [*rows, ("B", "Messor", None, "", dt.date(2024, 7, 12), 1, 0, "")]
    with pytest.raises(SheetError, match="same container"):
        bring(table(tmp_path / "other.xlsx", clash, heads), study)


def test_the_original_is_kept_with_its_checksum_and_not_brought_twice(
    tmp_path: Path, study: Path
) -> None:
    file = table(tmp_path / "my own (2024).xlsx", ROWS)
    digest = hashlib.sha256(file.read_bytes()).hexdigest()
    seen = look(file, study, keeper="K4", failed="all")
    assert seen.original.read_bytes() == file.read_bytes()
    assert digest[:10] in seen.original.name
    assert seen.original.parent == study / "brought"
    assert tomllib.loads(seen.mapping_file.read_text())["sha256"] == digest
    write_all(seen, study)
    with pytest.raises(StudyError, match="brought before"):
        write_all(seen, study)
    assert "K4-01,Bertha,4" in seen.names_file.read_text()


def test_a_corrected_mapping_is_used(tmp_path: Path, study: Path) -> None:
    heads = (*HEADS[:3], "Tag Null", *HEADS[4:])
    file = table(tmp_path / "mine.xlsx", ROWS, heads)
    seen = look(file, study, keeper="K4", failed="all")
    assert seen.new
    with pytest.raises(StudyError, match="no heading was taken for started"):
        write_all(seen, study)
    text = seen.mapping_file.read_text()
    assert '"Tag Null" = ""' in text
    seen.mapping_file.write_text(text.replace('"Tag Null" = ""', '"Tag Null" = "started"'))
    again = look(file, study)
    assert not again.new
    assert [t.why for t in again.taken if t.heading == "Tag Null"] == ["corrected by hand"]
    write_all(again, study)
    assert len(read_study(study).foundings) == 3


def test_own_numbers_of_the_series_stay_and_others_are_given(tmp_path: Path, study: Path) -> None:
    rows = [("K4-07", *ROWS[0][1:]), ("Trio", *ROWS[1][1:]), ("K4-07b", *ROWS[0][1:])]
    bring(table(tmp_path / "mine.xlsx", rows), study)
    assert read_study(study).foundings["founding"].tolist() == ["K4-07", "K4-08", "K4-09"]


def test_ambiguous_dates_ask_for_an_order(tmp_path: Path, study: Path) -> None:
    file = tmp_path / "mine.csv"
    file.write_text("Colony;Genus;Set up;Queens\nA;Lasius;4/7/2024;1\nB;Lasius;5/7/2024;3\n")
    with pytest.raises(SheetError, match="date_order"):
        bring(file, study)
    mapping = next((study / "brought").glob("*.toml"))
    mapping.write_text(mapping.read_text().replace('date_order = ""', 'date_order = "dmy"'))
    bring(file, study)
    assert [str(d.date()) for d in read_study(study).foundings["started"]] == [
        "2024-07-04",
        "2024-07-05",
    ]


def test_cells_with_errors_are_refused(tmp_path: Path, study: Path) -> None:
    out = io.BytesIO()
    book = xlsxwriter.Workbook(out)
    tab = book.add_worksheet()
    tab.write_row(0, 0, ("Colony", "Genus", "Set up", "Queens"))
    tab.write_row(1, 0, ("A", "Lasius", "2024-07-04"))
    tab.write_formula(1, 3, "=1/0", None, "#DIV/0!")
    tab.write_row(2, 0, ("B", "Lasius", "2024-07-04", 1))
    book.close()
    file = tmp_path / "mine.xlsx"
    file.write_bytes(out.getvalue())
    with pytest.raises(SheetError, match="D2"):
        bring(file, study)
    bring(file, study, without_faulty=True)
    assert len(read_study(study).foundings) == 1


@pytest.mark.parametrize(
    "text",
    [
        "x = ",
        'look_every = "4"',
        "look_every = 999",
        'failed = "perhaps"',
        'date_order = "ddmm"',
        '[headings]\n"a" = "nonsense"',
        '[headings]\n"a" = "queens"\n"b" = "queens"',
        "headings = 3",
        "tab = 7",
        '[same_for_all]\nfoo = "x"',
    ],
)
def test_a_mapping_that_makes_no_sense_is_told(text: str) -> None:
    with pytest.raises(StudyError, match=r"m\.toml"):
        read_mapping(text, "m.toml")


@given(
    st.dictionaries(
        st.text(st.characters(exclude_categories=("Cs",)), max_size=20), st.just(""), max_size=5
    ),
    st.text(st.characters(exclude_categories=("Cs",)), max_size=20),
)
def test_any_mapping_is_written_and_read_back(headings: dict[str, str], word: str) -> None:
    mapping = Mapping(word, "0" * 64, word, headings, word, "all", 4, "dmy", {"genus": word})
    assert read_mapping(write_mapping(mapping, ()), "m.toml") == mapping


def test_words_of_headings_belong_to_one_field() -> None:
    words = [word for name, others in ALSO.items() for word in (name, *others)]
    assert len(words) == len(set(words))
    assert set(ALSO) <= set(FIELDS)


def test_the_command(tmp_path: Path, study: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = table(tmp_path / "mine.xlsx", ROWS)
    for words, code in (
        ([], 1),
        (["--keeper", "K4"], 0),
        (["--write"], 1),
        (["--failed", "maybe"], 2),
        (["--failed", "all", "--look-every", "4", "--write"], 0),
        (["--write"], 1),
    ):
        with pytest.raises(SystemExit) as done:
            main(["bring", str(file), str(study), *words])
        said = capsys.readouterr()
        assert done.value.code == code, (words, said)
        assert "Traceback" not in said.err
    assert len(read_study(study).foundings) == 3
    with pytest.raises(SystemExit) as done:
        main(["bring", str(tmp_path / "none.xlsx"), str(study)])
    assert done.value.code == 1


def test_numbers_brought_leave_those_of_the_workbook_to_the_keeper(tmp_path: Path) -> None:
    begin(tmp_path / "study", ["K4"], numbers=20)
    bring(table(tmp_path / "mine.xlsx", ROWS), tmp_path / "study")
    made = read_study(tmp_path / "study").foundings
    assert made["founding"].tolist() == ["K4-21", "K4-22", "K4-23"]


def test_a_bring_that_was_cut_off_is_finished_or_can_be_done_again(
    tmp_path: Path, study: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Names, foundings and looks are three files; the names alone would bar a second try."""
    seen = look(table(tmp_path / "mine.xlsx", ROWS), study, keeper="K4", failed="all", look_every=4)
    real = os.replace
    for cut in (1, 3):  # at the note of what is to be done; when one of the three is in place
        left = iter(range(1, 10))

        def rename(source: Any, goal: Any, cut: int = cut, left: Any = left) -> None:
            if next(left) == cut:
                raise KeyboardInterrupt
            real(source, goal)

        with monkeypatch.context() as patch:
            patch.setattr(os, "replace", rename)
            with pytest.raises(KeyboardInterrupt):
                write_all(seen, study)
        assert seen.names_file.exists() == (cut == 3)
        assert not (study / "checks-K4.csv").exists()
    with locked(study):  # any command that writes
        pass
    made = read_study(study)
    assert made.foundings["founding"].tolist() == ["K4-01", "K4-02", "K4-03"]
    assert len(made.checks) > 0
