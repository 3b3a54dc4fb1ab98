"""Results read from a folder: the same types, the same pictures, and the page without a fit."""

import shutil
from dataclasses import fields, replace

import matplotlib.pyplot as plt
import numpy as np
import pandas as pd
import pytest
from made_ours import invented

import cohort
from cohort import figures, results
from cohort.base.errors import StudyError
from cohort.face import material_of
from cohort.figures.labels import ENGLISH
from cohort.model.asked import Asked
from cohort.newsletter import content, story, voice
from cohort.nonparametric.counts import raw_table
from cohort.results import Results, headline_draws
from cohort.study import Settings, read_study
from cohort.terms.written.kept import FOLDER


@pytest.fixture(scope="module")
def ours():
    return invented()


@pytest.fixture(scope="module")
def folder(ours, tmp_path_factory):
    out = tmp_path_factory.mktemp("again") / "out"
    ours.write(out)
    return out


FRAMES = [f.name for f in fields(Results) if "Frame" in str(f.type)]


# the draws of a fit have a test of their own in tests/cli/test_club.py: nothing was fitted here
@pytest.mark.parametrize("name", [name for name in FRAMES if name != "contrasts"])
def test_every_table_is_read_as_it_was_in_memory(ours, folder, name):
    before, after = getattr(ours.results, name), getattr(cohort.read_results(folder), name)
    assert len(before)
    pd.testing.assert_frame_equal(after, before, rtol=1e-5)  # six digits are written
    assert after.attrs == before.attrs


@pytest.mark.parametrize("level", [0.8, 0.9])
def test_the_counts_keep_the_level_of_the_run(ours, tmp_path, level):
    found = ours.results
    wide = raw_table(found.foundings, ours.history.horizon, level=level)
    results.write(tmp_path / "out", replace(found, run=found.run | {"level": level}))
    pd.testing.assert_frame_equal(cohort.read_results(tmp_path / "out").raw, wide)


def test_a_comparison_of_sheets_has_the_types_of_its_files(tmp_path):
    """Singles alone: nothing to fit, all tables that are counted."""
    made_of = cohort.compare(read_study("data/demo").only(queens=1))
    made_of.write(str(tmp_path / "out"))  # a path as text
    again = cohort.read_results(str(tmp_path / "out"))
    for name in ("comparisons", "curves", "foundings", "second_opinion", "verdicts"):
        before, after = getattr(made_of.results, name), getattr(again, name)
        pd.testing.assert_frame_equal(after, before, rtol=1e-5)
    assert again.foundings["started"].dtype == "datetime64[ns]"
    assert again.foundings["species"].eq("").any()
    assert again.raw["day"].tolist() == [180] * len(again.raw)


def test_the_study_in_the_folder_has_the_same_history(ours, folder):
    material = material_of(cohort.read_results(folder))
    for name in ("foundings", "intervals", "later"):
        before, after = getattr(ours.history, name), getattr(material.history, name)
        pd.testing.assert_frame_equal(
            after.drop(columns="keeper", errors="ignore"),
            before.drop(columns="keeper", errors="ignore"),
        )
    said = {f.name: getattr(ours.study.settings, f.name) for f in fields(Settings)}
    assert {f: getattr(material.study.settings, f) for f in said} == said


@pytest.mark.parametrize("show", [False, True])
def test_the_folder_keeps_nothing_private(tmp_path, show):
    ours = invented(show_keepers=show)
    frames = {
        name: ours.study.foundings.assign(note="buried treasure", photo="me.jpg")
        for name in ("foundings",)
    }
    study = replace(ours.study, **frames)
    replace(ours, study=study).write(tmp_path / "out")
    kept = "".join(p.read_text("utf-8") for p in (tmp_path / "out" / FOLDER).iterdir())
    assert "treasure" not in kept
    assert "me.jpg" not in kept
    assert "Estuary" not in (tmp_path / "out" / FOLDER / "catches.csv").read_text("utf-8")
    keepers = pd.read_csv(tmp_path / "out" / FOLDER / "foundings.csv", dtype=str)["keeper"]
    assert set(keepers) == ({f"K{i}" for i in range(1, 6)} if show else set("12345"))


def test_pictures_from_the_folder_have_the_same_numbers(ours, folder):
    again = cohort.read_results(folder)
    one, other = material_of(ours), material_of(again)
    drawn = 0
    for picture in figures.PICTURES:
        try:
            expected = picture.frame(one)
        except figures.NotDrawn:
            continue
        frame = picture.frame(other)
        pd.testing.assert_frame_equal(frame, expected, rtol=1e-4, check_dtype=False)
        drawn += 1
    assert drawn >= 10
    for door in (ours, again):
        figure = door.figure("both_ways", width=85)
        assert figure.get_size_inches()[0] * 25.4 == pytest.approx(85)
        plt.close(figure)


def test_the_page_again_says_the_same_and_fits_nothing(ours, folder, tmp_path, monkeypatch):
    monkeypatch.setattr(Asked, "sampled", lambda *a, **k: pytest.fail("it fits"))
    again = cohort.read_results(folder)
    paths = again.newsletter(tmp_path / "again")
    assert paths[0] == tmp_path / "again" / "newsletter.html"
    assert {"newsletter.pdf", "details.html", "story.txt"} <= {p.name for p in paths}
    material = material_of(ours)
    told = story.story(content(material, figures.numbers(material), voice("en")))
    assert (tmp_path / "again" / "story.txt").read_text("utf-8") == told
    for name in ("comparisons.csv", "curves.csv", "verdicts.csv", f"{FOLDER}/checks.csv"):
        assert (tmp_path / "again" / name).read_bytes() == (folder / name).read_bytes()
    assert cohort.read_results(tmp_path / "again").comparisons.equals(again.comparisons)


def test_what_cannot_be_made_is_said(ours, folder, tmp_path):
    with pytest.raises(StudyError, match="These results lie in no folder"):
        ours.results.figure("both_ways")
    old = tmp_path / "old"
    shutil.copytree(folder, old)
    (old / FOLDER / "events.csv").unlink()
    told = rf"does not keep the study behind its numbers \({FOLDER}/events.csv is not there\)"
    with pytest.raises(StudyError, match=told):
        cohort.read_results(old).figure("both_ways")
    with (old / FOLDER / "kinds.csv").open("a") as kinds:
        kinds.write("more,,\n")
    with pytest.raises(StudyError, match=r"kinds\.csv is damaged"):
        cohort.read_results(old)


def test_a_wrong_picture_table_or_width_is_told(ours):
    with pytest.raises(StudyError, match=r"no picture 'both_way'\. Did you mean 'both_ways'"):
        ours.figure("both_way")
    with pytest.raises(StudyError, match=r"no picture 'x'\. There are both_ways, how_sure"):
        ours.figure("x")
    with pytest.raises(StudyError, match="85 or 175 mm wide, not 100"):
        ours.figure("both_ways", width=100)
    with pytest.raises(StudyError, match=r"no table 'curve'\. Did you mean 'curves'"):
        ours.results.tidy("curve")
    with pytest.raises(StudyError, match=r"no table 'x'\. There are comparisons, verdicts"):
        ours.results.tidy("x")


def test_tidy_tables_have_words_in_order_and_no_empty_text(ours):
    for name in ("comparisons", "verdicts", "sensitivity", "curves", "foundings", "raw"):
        frame = ours.results.tidy(name)
        texts = frame.select_dtypes(object)
        assert not texts.eq("").any().any(), name
        assert len(frame) == len(getattr(ours.results, name))
        assert frame.attrs["meanings"]
    curves = ours.results.tidy("curves")
    assert list(curves["way"].cat.categories) == ["one queen", "several queens"]
    assert curves["way"].cat.ordered
    assert {"source", "what", "kind"} <= set(curves)
    assert "counted" in curves["source"].cat.categories
    of = curves["curve"].eq("first_worker")
    assert curves.loc[of, "what"].eq("first worker seen").all()
    table = ours.results.tidy("comparisons")
    assert table.loc[table["genus"] == "average", "kind"].eq("all kinds, each alike").all()
    assert table["as_colony"].isna().any()
    assert ENGLISH  # labels of pictures are their own affair


def test_draws_of_the_headline_are_a_tidy_table(ours, folder):
    """As pictures take them, with words; a folder that keeps none gives a table without a row."""
    drawn = {name: np.array([[0.1, 0.2], [0.3, -0.4]]) for name in headline_draws.SOURCES}
    held = headline_draws.frame_of(
        headline_draws.as_dataset(drawn, ["Lasius", "average"], 3, [9, 9])
    )
    frame = replace(ours.results, contrasts=held).tidy("draws")
    assert frame["value"].tolist() == [0.1, 0.3, 0.2, -0.4] * 2
    assert set(frame["source"]) == {"posterior", "prior"}
    assert list(frame["kind"].cat.categories) == ["Lasius", "all kinds, each alike"]
    assert set(frame.attrs["meanings"]) == set(held)
    assert cohort.read_results(folder).tidy("draws").empty


def test_seaborn_style_grouping_works_on_tidy_tables(ours):
    curves = ours.results.tidy("curves")
    wide = curves.pivot_table(
        index="day", columns=["what", "way"], values="estimate", observed=True
    )
    assert wide.shape[1] >= 2
