"""A folder of results is one whole comparison, and is the same for the same sheets and seed."""

from __future__ import annotations

import errno
import json
import os
import shutil
from dataclasses import replace
from pathlib import Path

import pytest
from test_club import EARLY, WITH_WORKERS, run, written

from cohort import comparison, results
from cohort.base import making
from cohort.base.errors import StudyError
from cohort.sheets import written as written_tables
from cohort.study import read_study

ALONE = [("K1-01", 1), ("K1-02", 1)]
"""Foundings that cannot be compared: nothing is fitted, a page is made."""
NUMBERS = {
    *(f"{name}.csv" for name in ("comparisons", "verdicts", "sensitivity", "curves", "foundings")),
    "second_opinion.csv", "diagnosis.json", "run.json", "study",
}  # fmt: skip
PAGE = {"newsletter.html", "newsletter.pdf", "details.html", "story.txt", "captions.txt"}


def bytes_of(folder: Path) -> dict[str, bytes]:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def names(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


@pytest.fixture(scope="module")
def alone(tmp_path_factory) -> Path:
    return written(tmp_path_factory.mktemp("whole") / "alone", ALONE, WITH_WORKERS)


@pytest.fixture(scope="module")
def paged(alone, tmp_path_factory) -> Path:
    """The page of a study of singles, made with one core, with a keeper's own."""
    out = tmp_path_factory.mktemp("paged") / "out"
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(os, "cpu_count", lambda: 1)
        said = run("newsletter", str(alone), "--out", str(out), "--quiet", "--keeper", "K1",
                   "--on", "2025-06-20")  # fmt: skip
    assert "no group to compare with" in said.output, said.output
    return out


@pytest.fixture
def out(paged, tmp_path) -> Path:
    """A copy of that page."""
    return Path(shutil.copytree(paged, tmp_path / "out"))


def test_with_one_core_the_page_goes_to_a_new_folder(paged):
    assert names(paged) == NUMBERS | PAGE | {"figures", "keeper-K1.html"}
    assert list(paged.parent.iterdir()) == [paged]


@pytest.mark.parametrize("name", EARLY)
def test_a_study_not_fitted_gets_its_page_in_a_new_folder(name, tmp_path):
    foundings, looks, reason = EARLY[name]
    study = written(tmp_path / "study", foundings, looks)
    said = run("newsletter", str(study), "--out", str(tmp_path / "out"), "--quiet")
    assert said.exit_code == 1
    assert reason in said.output
    assert names(tmp_path / "out") == NUMBERS | PAGE | {"figures"}


def test_the_same_sheets_give_the_same_bytes_with_two_cores(alone, paged, tmp_path, monkeypatch):
    monkeypatch.setattr(os, "cpu_count", lambda: 2)
    again = tmp_path / "again"
    run("newsletter", str(alone), "--out", str(again), "--quiet", "--keeper", "K1", "--on",
        "2025-06-20")  # fmt: skip
    before, after = bytes_of(paged), bytes_of(again)
    assert set(before) == set(after)
    assert [name for name in before if before[name] != after[name]] == []


def test_a_comparison_over_a_page_leaves_no_page_of_before(out, tmp_path):
    other = written(tmp_path / "other", [("K1-01", 3)], WITH_WORKERS)
    run("compare", str(other), "--out", str(out), "--quiet")
    assert names(out) == NUMBERS
    sheets = json.loads((out / "run.json").read_text("utf-8"))["sheets"]
    assert set(sheets) == {"checks.csv", "foundings.csv", "study.toml"}


def test_what_further_fits_gave_stays_with_its_comparison_alone(alone, out, tmp_path):
    (out / "thorough").mkdir()
    (out / "thorough" / "checks.csv").write_text("check\n")
    run("newsletter", str(alone), "--out", str(out), "--quiet")
    assert "thorough" in names(out)
    run("compare", str(alone), "--out", str(out), "--quiet", "--seed", "5")
    assert names(out) == NUMBERS


@pytest.mark.parametrize("seed", ["5", "6"])
def test_what_further_fits_gave_goes_to_no_other_comparison(seed, alone, tmp_path, monkeypatch):
    """Another command compares into the folder during the fits: other numbers, or the same."""
    out, usual = tmp_path / "out", comparison.compare

    def fitted(*args, **kwargs):
        return replace(usual(*args, **kwargs), fit=object())

    def meanwhile(made, *, say, mark, **how):
        assert how == {"folder": out, "jobs": 2, "scheduler": "tcp://192.0.2.7:8786"}
        assert mark == results.mark_of(out)
        run("compare", str(alone), "--out", str(out), "--quiet", "--seed", seed)
        return {}

    monkeypatch.setattr(comparison, "compare", fitted)
    monkeypatch.setattr("cohort.comparison.thorough.thorough", meanwhile)
    said = run("compare", str(alone), "--out", str(out), "--quiet", "--seed", "5", "--thorough",
               "--jobs", "2", "--scheduler", "tcp://192.0.2.7:8786")  # fmt: skip
    assert said.exit_code == 1
    assert json.loads((out / "run.json").read_text("utf-8"))["seed"] == int(seed)
    assert ("holds another comparison by now" in said.output) == (seed == "6")
    assert names(out) == NUMBERS | ({"thorough"} if seed == "5" else set())
    assert list(out.parent.iterdir()) == [out]


def test_a_page_of_one_keeper_writes_nothing_else(alone, out):
    before = bytes_of(out)
    run("newsletter", str(alone), "--out", str(out), "--quiet", "--keeper", "K1", "--on",
        "2025-07-20")  # fmt: skip
    after = bytes_of(out)
    assert {name for name in after if after[name] != before[name]} == {"keeper-K1.html"}
    assert list(out.parent.iterdir()) == [out]


@pytest.mark.parametrize("error", [KeyboardInterrupt, OSError(errno.ENOSPC, "No space left")])
@pytest.mark.parametrize("where", ["fill", "page"])
def test_an_error_while_writing_leaves_all_as_it_was(alone, out, error, where, monkeypatch):
    before = bytes_of(out)

    def broken(*args, **kwargs):
        raise error

    monkeypatch.setattr(os, "cpu_count", lambda: 1)
    if where == "fill":
        monkeypatch.setattr(written_tables, "write", broken)
    else:
        monkeypatch.setattr("cohort.newsletter.print_pages.write", broken)
    words = ["newsletter", str(alone), "--out", str(out), "--quiet"]
    said = run(*words)
    if error is not KeyboardInterrupt:
        assert said.exit_code == 1
        assert said.output.count("\n") == 1
        assert "there is no room for the files" in said.output
    assert bytes_of(out) == before
    assert list(out.parent.iterdir()) == [out]


# --- what is refused before any work --------------------------------------------------------------


@pytest.fixture
def no_work(monkeypatch):
    monkeypatch.setattr(comparison, "compare", lambda *args, **kwargs: pytest.fail("it compares"))


@pytest.mark.usefixtures("no_work")
@pytest.mark.parametrize("command", ["compare", "newsletter"])
def test_files_of_others_are_named(alone, out, command):
    for name in ("notes.txt", "figures/mine.png", "foundings-K2.csv"):
        (out / name).write_text("mine")
    said = run(command, str(alone), "--out", str(out))
    assert said.exit_code == 1
    told = "not results of this program: figures/mine.png, foundings-K2.csv, notes.txt. Name a new"
    assert told in said.output
    assert {"notes.txt", "figures", "foundings-K2.csv", "newsletter.html"} <= names(out)


@pytest.mark.usefixtures("no_work")
@pytest.mark.parametrize("command", ["compare", "newsletter"])
def test_a_linked_folder_of_pictures_is_refused(alone, out, tmp_path, command):
    (out / "figures").rename(tmp_path / "home")
    (out / "figures").symlink_to(tmp_path / "home")
    before = bytes_of(tmp_path / "home")
    said = run(command, str(alone), "--out", str(out))
    assert said.exit_code == 1
    assert "figures is a link to a folder elsewhere, and nothing is written" in said.output
    assert (out / "figures").is_symlink()
    assert bytes_of(tmp_path / "home") == before


@pytest.mark.usefixtures("no_work")
def test_a_folder_of_another_with_the_name_of_a_workshop_is_named(alone, out):
    (out / ".making").mkdir()
    (out / ".making" / "song.txt").write_text("mine")
    said = run("compare", str(alone), "--out", str(out))
    assert "not results of this program: .making/song.txt. Name a new folder" in said.output
    assert (out / ".making" / "song.txt").read_text() == "mine"


@pytest.mark.usefixtures("no_work")
def test_a_study_or_a_run_of_another_program_is_no_folder_of_results(alone, tmp_path):
    said = run("compare", str(alone), "--out", str(alone))
    assert "checks.csv, foundings.csv, study.toml" in said.output
    (tmp_path / "run.json").write_text('{"learning_rate": 0.1}')
    (tmp_path / "curves.csv").write_text("mine")
    said = run("compare", str(alone), "--out", str(tmp_path))
    assert "not results of this program: curves.csv, run.json" in said.output


@pytest.mark.usefixtures("no_work")
@pytest.mark.parametrize("versions", [3, None, ["founding-cohort"], "founding-cohort"])
@pytest.mark.parametrize("words", [["compare"], ["newsletter", "--keeper", "K1"]])
def test_a_run_whose_versions_are_no_list_by_name_is_not_ours(alone, out, words, versions):
    run_of = json.loads((out / "run.json").read_text("utf-8"))
    (out / "run.json").write_text(json.dumps(run_of | {"versions": versions}))
    before = bytes_of(out)
    said = run(*words, str(alone), "--out", str(out))
    assert said.exit_code == 1
    assert "not results of this program: captions.txt, comparisons.csv, curves.csv" in said.output
    assert bytes_of(out) == before


@pytest.mark.usefixtures("no_work")
def test_a_folder_that_cannot_be_written_to_is_told_before_the_work(alone, out, monkeypatch):
    access = os.access
    monkeypatch.setattr(
        os,
        "access",
        lambda at, how: not (how & os.W_OK and Path(at) == out) and access(at, how),
    )
    said = run("compare", str(alone), "--out", str(out), "--quiet")
    assert said.exit_code == 1
    assert f"{out} cannot be written to (Permission denied)" in said.output


@pytest.mark.usefixtures("no_work")
def test_a_full_disk_is_told_before_the_work(alone, tmp_path, monkeypatch):
    monkeypatch.setattr(making, "ROOM", 10**18)
    said = run("newsletter", str(alone), "--out", str(tmp_path / "out"), "--quiet")
    assert said.exit_code == 1
    assert "MB are free there" in said.output
    assert list(tmp_path.iterdir()) == []


def test_what_a_system_leaves_in_a_folder_is_no_hindrance(alone, out):
    (out / ".DS_Store").write_bytes(b"\0")
    (out / "figures" / ".DS_Store").write_bytes(b"\0")
    said = run("compare", str(alone), "--out", str(out), "--quiet")
    assert "not results" not in said.output
    assert names(out) == NUMBERS


# --- damaged results ----------------------------------------------------------------------------


def empty(path: Path) -> None:
    path.write_bytes(b"")


def cut(path: Path) -> None:
    data = path.read_bytes()
    path.write_bytes(data[: len(data) // 2])


def cut_by_a_sign(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:-2])


def zeros(path: Path) -> None:
    path.write_bytes(b"\0" * path.stat().st_size)


def a_list(path: Path) -> None:
    path.write_bytes(b"[]\n")


WAYS = (empty, cut, cut_by_a_sign, zeros, a_list)


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("name", [*sorted(NUMBERS - {"study"}), "study/checks.csv"])
def test_damaged_results_are_told_by_the_file(out, name, way):
    way(out / name)
    with pytest.raises(results.DamagedError) as fault:
        results.read(out)
    assert str(fault.value).startswith(f"{out / name} is damaged: ")
    assert str(fault.value).endswith("Make it again with 'cohort compare STUDY --out FOLDER'.")


@pytest.mark.parametrize(
    ("name", "value"),
    [("versions", 3), ("versions", None), ("versions", ["founding-cohort"]), ("sheets", []),
     ("horizon", "long"), ("seed", None), ("level", "high")],
)  # fmt: skip
def test_a_run_with_a_value_of_another_kind_is_damaged(out, name, value):
    run_of = json.loads((out / "run.json").read_text("utf-8"))
    (out / "run.json").write_text(json.dumps(run_of | {name: value}))
    with pytest.raises(results.DamagedError, match=rf"run\.json is damaged: no usable {name} is"):
        results.read(out)


@pytest.mark.parametrize("name", ["run.json", "comparisons.csv"])
def test_for_a_page_of_one_keeper_damaged_results_are_made_again(alone, out, name):
    whole = bytes_of(out)
    cut(out / name)
    said = run("newsletter", str(alone), "--out", str(out), "--quiet", "--keeper", "K1", "--on",
               "2025-06-20")  # fmt: skip
    assert f"{out / name} is damaged" in said.output
    assert "All is made again." in said.output
    assert bytes_of(out) == whole


def test_for_a_page_of_one_keeper_results_of_another_version_are_made_again(alone, out):
    whole = bytes_of(out)
    run_of = json.loads((out / "run.json").read_text("utf-8"))
    del run_of["files"], run_of["layout"]  # as the version before wrote it
    (out / "run.json").write_text(json.dumps(run_of))
    with pytest.raises(StudyError, match=r"another version .* Make it again with 'cohort compare"):
        results.read(out)
    said = run("newsletter", str(alone), "--out", str(out), "--quiet", "--keeper", "K1", "--on",
               "2025-06-20")  # fmt: skip
    assert f"{out} was changed, or is of another version. All is made again." in said.output
    assert bytes_of(out) == whole


def test_a_run_without_sums_is_still_read(out):
    run_of = json.loads((out / "run.json").read_text("utf-8"))
    del run_of["files"]
    (out / "run.json").write_text(json.dumps(run_of))
    assert len(results.read(out).foundings) == 2
    empty(out / "comparisons.csv")
    with pytest.raises(StudyError, match=r"comparisons\.csv: cannot be read .* Make it again\."):
        results.read(out)


def test_a_script_gets_whole_results_too(alone, out):
    from cohort import write_figures, write_newsletter

    made = comparison.compare(read_study(alone))
    assert made.write(out).folder == out
    assert names(out) == NUMBERS
    paths = write_newsletter(made, out)
    assert names(out) == NUMBERS | PAGE | {"figures"}
    assert all(path.is_file() for path in paths)
    before = bytes_of(out)
    drawn = write_figures(made, out, only=["season"])
    assert [path.name for path in drawn[:3]] == ["season-85.svg", "season-85.pdf", "season-85.png"]
    assert set(bytes_of(out)) == set(before)


def test_a_reader_finishes_what_a_killed_command_left_between_two_renames(out):
    whole, shop = bytes_of(out), out.parent / ".out.making"
    (shop / "old").mkdir(parents=True)
    out.rename(shop / "new-1")
    (shop / "swapping").write_text("new-1")
    assert len(results.read(out).foundings) == 2
    assert bytes_of(out) == whole
    assert not shop.exists()
