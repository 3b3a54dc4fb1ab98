"""Columns of a keeper's own in the sheets: kept as typed, read by no rule, written nowhere."""

import datetime as dt
import shutil
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import xlsxwriter

import cohort
from cohort.audit import audit
from cohort.face import material_of
from cohort.model.covariates import covariate_columns
from cohort.terms.adjusting import Adjust

ROOT = Path(__file__).parents[2]
TODAY = dt.date(2026, 11, 1)
HEAD = "founding,genus,queens,started,Height above sea,wing,note\n"
ROWS = (
    "K1-01,Lasius,1,2026-07-04, 0210 ,short,my own words\n"
    "K1-02,Lasius,3,2026-07-04,,long,\n"
    "K1-03,Messor,1,2026-07-04,640,short,\n"
)
LOOKS = "founding,date,queens_alive,workers\n" + "".join(
    f"K1-0{i},2026-08-{10 + i},1,{i}\n" for i in (1, 2, 3)
)
SECRET = "blue shed behind the mill"


def folder(place, **files):
    place.mkdir(parents=True, exist_ok=True)
    for name, text in files.items():
        (place / f"{name.replace('_', '-')}.csv").write_text(text, encoding="utf-8")
    return place


@pytest.fixture
def study(tmp_path):
    place = folder(tmp_path / "study", foundings=HEAD + ROWS, checks=LOOKS)
    return cohort.read_study(place, today=TODAY)


def test_they_are_kept_as_typed_under_the_heading_as_typed(study):
    for frame in (study.foundings, study.history().foundings):
        rows = frame.set_index("founding")
        assert rows["Height above sea"].to_dict() == {"K1-01": "0210", "K1-02": "", "K1-03": "640"}
        assert rows["wing"].tolist() == ["short", "long", "short"]
    assert study.foundings["note"].tolist()[0] == "my own words"  # a column of the contract: once


def test_the_note_on_them_stays(study, tmp_path):
    found = audit(cohort.read_sheets(tmp_path / "study"), TODAY)
    assert {f.column for f in found if f.rule == "extra-column"} == {"Height above sea", "wing"}
    assert {f.level for f in found if f.rule == "extra-column"} == {"note"}


def test_a_part_can_be_chosen_by_them(study):
    assert study.only(wing="short").foundings["founding"].tolist() == ["K1-01", "K1-03"]
    with pytest.raises(cohort.StudyError, match=r"No founding has 'shrt' in wing. Did you mean"):
        study.only(wing="shrt")


def test_they_follow_their_founding_through_faults_and_repeated_rows(tmp_path):
    """The first founding is in error, the second stands twice; the third keeps its own words."""
    rows = ROWS.replace("K1-01,Lasius,1", "K1-01,Lasius,x").splitlines(keepends=True)
    text = HEAD + rows[0] + rows[1] + "\n" + rows[1] + rows[2]
    place = folder(tmp_path / "study", foundings=text, checks=LOOKS.replace("K1-01,", "K1-02,", 1))
    study = cohort.read_study(place, without_faulty=True, today=TODAY)
    rows = study.foundings.set_index("founding")
    assert rows["wing"].to_dict() == {"K1-02": "long", "K1-03": "short"}
    assert rows["Height above sea"].to_dict() == {"K1-02": "", "K1-03": "640"}


def test_several_files_and_tabs_of_a_workbook_meet_row_by_row(tmp_path):
    """Two tabs whose rows bear the same numbers, and a file without the column."""
    place = folder(
        tmp_path / "study",
        foundings="founding,genus,queens,started\nK9-01,Messor,2,2026-07-05\n",
        foundings_K1=HEAD + ROWS,
        checks=LOOKS,
    )
    with xlsxwriter.Workbook(str(place / "K2.xlsx")) as book:
        for tab, founding, wing in (
            ("foundings", "K2-01", "red"),
            ("foundings more", "K2-02", "black"),
        ):
            sheet = book.add_worksheet(tab)
            for at, cells in enumerate(
                [
                    ["founding", "genus", "queens", "started", "wing"],
                    [founding, "Lasius", 1, "2026-07-04", wing],
                ]
            ):
                sheet.write_row(at, 0, cells)
    wing = cohort.read_study(place, today=TODAY).foundings.set_index("founding")["wing"]
    assert wing.to_dict() == {
        "K1-01": "short", "K1-02": "long", "K1-03": "short",
        "K2-01": "red", "K2-02": "black", "K9-01": "",
    }  # fmt: skip


def test_names_that_a_study_makes_are_made_anew(tmp_path):
    text = "founding,genus,queens,started,season,row,named\n" + "K1-01,Lasius,1,2026-07-04,s,r,n\n"
    study = cohort.read_study(folder(tmp_path / "study", foundings=text), today=TODAY)
    assert study.foundings.columns.is_unique
    assert study.foundings[["season", "row", "named"]].iloc[0].tolist() == ["2026", 2, True]


def test_pooled_studies_keep_the_columns_of_each(tmp_path):
    plain = "founding,genus,queens,started\nK5-01,Messor,2,2026-07-05\n"
    one = folder(tmp_path / "one", foundings=HEAD + ROWS, checks=LOOKS)
    other = folder(tmp_path / "other", foundings=plain)
    both = cohort.pool_studies([cohort.read_study(p, today=TODAY) for p in (one, other)])
    assert both.foundings["wing"].tolist() == ["short", "long", "short", ""]
    assert both.only(wing="").foundings["founding"].tolist() == ["K5-01"]


def test_numbers_of_ones_own_are_adjusted_for_as_numbers():
    """Text that holds numbers throughout; one word among them, and all are words."""
    frame = pd.DataFrame({"height": ["210", "", "640,5", "0300"], "wing": ["a", "b", "a", "12"]})
    made = covariate_columns(frame, Adjust.of(["height", "wing"]))
    x = np.array([210, np.nan, 640.5, 300])
    x[1] = np.nanmean(x)
    np.testing.assert_allclose(made.x[:, 0], (x - x.mean()) / x.std())
    assert made.names == ("height", "wing: b v a", "wing: 12 v a")
    assert "'height' holds nothing but numbers and enters as such." in made.notes
    assert not any("wing" in note and "numbers" in note for note in made.notes)
    with pytest.raises(cohort.StudyError, match="'height, m' holds a comma"):
        covariate_columns(frame.rename(columns={"height": "height, m"}), ["height, m"])


@pytest.mark.slow
def test_an_own_column_moves_the_first_worker_and_no_file_of_results_bears_it(tmp_path):
    """What a keeper wrote for herself stays with her: neither its words nor its heading go out."""
    place = tmp_path / "study"
    shutil.copytree(ROOT / "data" / "demo", place)
    seen = cohort.read_study(place).foundings
    for path in sorted(place.glob("foundings*.csv")):
        frame = pd.read_csv(path, dtype=str, keep_default_na=False)
        frame["my_place"] = SECRET
        frame["altitude"] = [str(100 + 7 * i) for i in range(len(frame))]
        frame.to_csv(path, index=False)
    study = cohort.read_study(place)
    assert set(study.foundings["my_place"]) <= {SECRET, ""}
    assert len(study.foundings) == len(seen)
    few = study.only(genus=list(seen["genus"].value_counts().index[:2]))
    with pytest.raises(cohort.StudyError, match="'my_place' has the same value"):
        cohort.fit(few, seed=1, adjust=["my_place"])
    made = cohort.compare(few, adjust={"first_worker": ["altitude"]}, draws=100, seed=1)
    assert "slope_first_worker" in made.fit.posterior
    assert any("'altitude' holds nothing but numbers" in n for n in made.results.diagnosis["notes"])
    out = tmp_path / "out"
    made.write(out)
    for path in out.rglob("*"):
        if path.is_file():
            data = path.read_bytes()
            assert SECRET.encode() not in data, path
            assert b"my_place" not in data, path
    again = cohort.read_results(out)
    pd.testing.assert_frame_equal(again.comparisons, made.results.comparisons, rtol=1e-5)
    kept = material_of(again).study
    assert kept.settings.adjust == Adjust(first_worker=("altitude",))
    assert not {"my_place", "altitude"} & set(kept.foundings)
    again.newsletter(tmp_path / "page")
    assert "altitude" in (tmp_path / "page" / "details.html").read_text(encoding="utf-8")


def test_what_to_adjust_for_is_said_in_four_ways():
    """The same of a word, a list, lists behind parts; a part that is none is named."""
    assert Adjust.of("feeding") == Adjust.of(["feeding"]) == Adjust(("feeding",), ("feeding",))
    by_part = Adjust(before=("feeding",), first_worker=("altitude", "wing"))
    given = {"before": "feeding", "first_worker": ["altitude", "wing"]}
    assert Adjust.of(given) == Adjust.of(by_part) == by_part
    with pytest.raises(cohort.StudyError, match=r"'first' is no part .* first_worker, mated"):
        Adjust.of({"first": ["altitude"]})
    for one in (by_part, Adjust.of(["feeding", "altitude"]), Adjust(), Adjust(mated=("wing",))):
        assert Adjust.read(one.said()) == one
