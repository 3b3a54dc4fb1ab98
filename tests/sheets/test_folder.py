"""A folder of sheets: what is read, what is not, and the marks of what was read."""

import hashlib

import pytest

from cohort.base.errors import StudyError
from cohort.sheets.folder import read_folder
from cohort.sheets.setting import read_settings


def test_files_of_several_keepers_are_read_together(folder):
    folder.put("foundings-K3.csv", "Founding;Genus;Started;Queens\nK3-01;Messor;2026-07-05;2\n")
    folder.put("study.toml", 'title = "A club"\n')
    sheets = read_folder(folder.path)
    assert [(t.sheet, t.file) for t in sheets.tables] == [
        ("checks", "checks.csv"),
        ("foundings", "foundings-K3.csv"),
        ("foundings", "foundings.csv"),
        ("study", "study.toml"),
    ]
    assert [t.file for t in sheets.of("foundings")] == ["foundings-K3.csv", "foundings.csv"]


def test_every_file_bears_the_mark_of_its_bytes(folder):
    # FIPS 180-2, appendix B.1: the digest of "abc".
    folder.put("kinds.csv", b"abc")
    digests = {source.name: source.sha256 for source in read_folder(folder.path).sources}
    assert digests["kinds.csv"] == (
        "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    )
    raw = (folder.path / "checks.csv").read_bytes()
    assert digests["checks.csv"] == hashlib.sha256(raw).hexdigest()


def test_reading_changes_no_byte(folder):
    folder.put("events.csv", "founding;date;event\r\nK2-01 ; 2026-07-08;fight\r\n".encode("cp1252"))
    before = {path.name: path.read_bytes() for path in folder.path.iterdir()}
    read_folder(folder.path)
    assert {path.name: path.read_bytes() for path in folder.path.iterdir()} == before


def test_other_files_are_passed_over(folder):
    for name in ("photo.jpg", ".checks.csv.swp", "~$K2.xlsx", "letter.md"):
        folder.put(name, "x")
    (folder.path / "out").mkdir()
    (folder.path / "out" / "foundings.csv").write_text("founding\nK9\n", "utf-8")
    sheets = read_folder(folder.path)
    assert len(sheets.sources) == 2
    assert sheets.notices == ()


@pytest.mark.parametrize(
    ("name", "level"),
    [("finds.csv", "note"), ("diary.txt", "note"), ("K2.xls", "warning"), ("old.toml", "note")],
)
def test_a_file_that_may_be_meant_is_told(folder, name, level):
    folder.put(name, "x")
    notices = read_folder(folder.path).notices
    assert [(n.rule, n.level, n.file) for n in notices] == [("file-not-read", level, name)]


def test_missing_folder_is_one_plain_message(tmp_path):
    with pytest.raises(StudyError, match="There is no folder") as raised:
        read_folder(tmp_path / "nowhere")
    assert "\n" not in str(raised.value)


def test_file_for_folder_and_folder_without_sheets(tmp_path):
    (tmp_path / "a.csv").write_text("x", "utf-8")
    with pytest.raises(StudyError, match="is a file"):
        read_folder(tmp_path / "a.csv")
    with pytest.raises(StudyError, match="No sheets"):
        read_folder(tmp_path)


def test_settings_keep_their_lines_and_text():
    table, notices = read_settings(
        b'# agreed in May\ntitle = "A"\n\nends = 2026-12-15\nleave_out = ["mites", "boosted"]\n'
        b"show_keepers = true\nhorizon_days = 160\n",
        "study.toml",
    )
    assert notices == []
    told = dict(zip(table.frame["setting"], table.frame["value"], strict=True))
    assert told == {
        "title": "A",
        "ends": "2026-12-15",
        "leave_out": "mites, boosted",
        "show_keepers": "yes",
        "horizon_days": "160",
    }
    assert table.rows.tolist() == [2, 4, 5, 6, 7]
