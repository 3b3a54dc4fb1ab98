"""newsletter.pdf: paper, number of pages and what must stand on them; words of next season."""

from __future__ import annotations

import dataclasses
import re
import shutil
import types

import pytest
from pypdf import PdfReader

from cohort import figures
from cohort.base.errors import StudyError
from cohort.figures import svg
from cohort.newsletter import _plan_drawn, content, next_season, print_pages, voice
from cohort.newsletter.content import with_drawings, with_plans
from cohort.newsletter.speech import without_marks
from cohort.outcomes.basis import Kind, prior_basis
from cohort.plan import plan

SIZES = {"a4": (595.28, 841.89), "letter": (612.0, 792.0)}


@pytest.fixture(scope="module")
def ready(demo, written, tmp_path_factory):
    """Content of the invented study with what we would do next season, and its drawn pictures."""
    out = tmp_path_factory.mktemp("print")
    shutil.copytree(written / "figures", out / "figures")
    numbered = figures.numbers(demo)
    drawn = {
        name: dataclasses.replace(d, paths=tuple((out / "figures").glob(f"{name}-*")))
        for name, d in numbered.items()
    }
    basis = prior_basis(draws=200, genera=("Lasius", "Messor"))
    said = with_plans(content(demo, numbered, voice("en")), demo, basis)
    return with_drawings(said, drawn), basis, out


def text_of(path) -> list[str]:
    pages = [" ".join(p.extract_text().split()) for p in PdfReader(path).pages]
    return [re.sub(r"-\s+(?=[a-z])", "", page) for page in pages]


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_two_pages_hold_what_an_editor_needs(ready, paper):
    said, _, out = ready
    path = print_pages.write(said, out, "", paper=paper)
    for page in PdfReader(path).pages:
        box = page.mediabox
        assert (float(box.width), float(box.height)) == pytest.approx(SIZES[paper], abs=0.1)
    pages = text_of(path)
    assert len(pages) == 2
    for text in (said.headline, *said.lead, *said.kind_leads[:2], "What we would do next season",
                 said.next_season[0], said.pictures["hundred"].caption[:40],
                 said.by_kind.title, *(cell for row in said.by_kind.rows for cell in row),
                 ):  # fmt: skip
        assert " ".join(without_marks(text).split()) in pages[0]
    season = said.pictures["season"].caption[:40]
    for text in (season, "Take care", "calling the emergency number", "How it was done",
                 *said.how[:2], "Local law and licensed advice come first"):  # fmt: skip
        assert text in pages[1]
    assert all(said.credits in page for page in pages)


def test_four_pages_hold_each_kind_and_more_pictures(ready):
    said, _, out = ready
    pages = text_of(print_pages.write(said, out, "", pages=4))
    assert 2 < len(pages) <= 4
    rest = " ".join(pages[2:])
    for part in said.kinds:
        assert without_marks(part.said[0][1])[:60] in rest
    assert said.pictures["queen_survival"].caption[:40] in rest


@pytest.mark.parametrize(("paper", "pages"), [("a5", 2), ("a4", 3), ("a4", 0)])
def test_other_paper_and_pages_are_refused(paper, pages):
    with pytest.raises(StudyError, match=r"can be had|not set"):
        print_pages.check(paper, pages)


@pytest.mark.parametrize("language", ["en", "de", "es", "fr"])
def test_the_lead_takes_four_short_sentences(demo, language):
    """What became of the same queens, and what a group can give; then how sure, and why."""
    said = content(demo, {}, voice(language))
    assert len(said.lead) == 2
    assert len(re.findall(r"[.!?](?:\s|$)", said.lead[0])) == 4
    assert max(len(text.split()) for text in re.split(r"(?<=[.!?]) ", said.lead[0])) <= 25


def test_how_it_was_done_takes_ten_sentences_at_most(demo, make):
    for material in (demo, make(shut=True)):
        said = content(material, figures.numbers(material), voice("en"))
        assert len(said.how) == 4
        assert len(re.findall(r"[.!?](?:\s|$)", " ".join(said.how))) <= 10


@pytest.fixture(scope="module")
def many(make, tmp_path_factory):
    """Twenty-five genera with long names: the printed pages cannot hold everything."""
    material = make(genera=tuple(f"Longnamedgenus{chr(97 + i)}" for i in range(25)), per=10)
    out = tmp_path_factory.mktemp("many")
    numbered = figures.numbers(material)
    basis = prior_basis(draws=200, genera=tuple(k.genus for k in material.kinds))
    said = with_plans(content(material, numbered, voice("en")), material, basis)
    return dataclasses.replace(said, pictures={}), out


def test_full_pages_fold_the_table_and_keep_the_answer(many):
    said, out = many
    text = text_of(print_pages.write(said, out, ""))[0]
    for wanted in (said.headline, *said.lead, *said.next_season):
        assert " ".join(without_marks(wanted).split()) in text
    long = dataclasses.replace(said, kind_leads=(), next_season=said.next_season * 2)
    text = text_of(print_pages.write(long, out, ""))[0]
    for wanted in (said.headline, *said.lead, *said.next_season):
        assert " ".join(without_marks(wanted).split()) in text
    rows = sum(f"Longnamedgenus{chr(97 + i)} Apart" in text for i in range(25))
    assert 3 <= rows < 25
    cut = len(said.by_kind.rows) - int(re.search(r"and (\d+) more kinds", text).group(1))
    assert cut in print_pages.FOLDS


def test_next_season_says_the_numbers_of_the_plan(ready):
    said, basis, _ = ready
    what = plan(4, Kind("Lasius", basis.genus("Lasius")), basis, largest=3, day=180)
    alone = what.table[[set(p) == {1} for p in what.table["parts"]]].iloc[0]
    text = next(t for t in said.next_season if "Lasius" in t)
    assert text.startswith("Four ")
    mean, low, high = (round(100 * alone[f"at_least_one{x}"]) for x in ("", "_low", "_high"))
    assert (
        f"each alone: {mean} of 100 such sets would have a colony on day 180 ({low} to {high}), "
        f"and {alone['colonies']:.1f} colonies on average." in text
    )
    assert voice("en").labels.untried in said.next_season[-2]


def row(one, colonies):
    return types.SimpleNamespace(at_least_one=one, colonies=colonies)


@pytest.mark.parametrize(
    ("alone", "group", "said"),
    [(row(0.9, 2.0), row(0.7, 1.0), "singly"), (row(0.9, 2.0), row(0.89, 1.5), "more_singly"),
     (row(0.9, 1.5), row(0.7, 1.45), "singly"), (row(0.7, 1.0), row(0.72, 1.3), "more_together"),
     (row(0.5, 0.6), row(0.7, 0.9), "together"), (row(0.9, 2.0), row(0.92, 1.95), "same"),
     (row(0.6, 2.0), row(0.8, 1.0), "surer_together"),
     (row(0.8, 1.0), row(0.6, 2.0), "surer_singly")],
)  # fmt: skip
def test_what_we_would_do(alone, group, said):
    assert next_season.verdict(alone, group) == said


def test_nothing_is_planned_without_the_draws_of_this_comparison(demo, make, tmp_path):
    assert next_season.basis_for(demo, tmp_path) is None
    assert next_season.plans(demo, None) == ()
    assert next_season.sentences((), voice("en")) == ()
    (tmp_path / "draws.nc").write_bytes(b"of something else")
    assert next_season.basis_for(demo, tmp_path) is None
    assert next_season.basis_for(make(shut=True), tmp_path) is None


def test_the_picture_of_the_plan_holds_the_numbers_of_the_plan(ready):
    said, basis, _ = ready
    what = plan(4, Kind("Lasius", basis.genus("Lasius")), basis, largest=3, day=180)
    shown = said.pictures["plan"]
    alone = what.table[[set(p) == {1} for p in what.table["parts"]]].iloc[0]
    rows = {row[0].replace("\u00a0", " "): row[1:] for row in shown.table.rows}
    assert rows[alone["division"]][:3] == tuple(
        str(round(100 * alone[f"at_least_one{x}"])) for x in ("", "_low", "_high")
    )
    assert rows[alone["division"]][-1] == f"{alone['colonies']:.1f}"
    assert "each alone: " in shown.alt
    assert "The best division that includes a group, " in shown.alt
    assert len(shown.short.split()) < 30
    assert "each queen alone among them" in shown.caption


def test_the_picture_of_the_plan_is_drawn_and_an_old_one_taken_away(ready, tmp_path):
    said, _, _ = ready
    drawn = _plan_drawn(said, tmp_path)["plan"]
    assert {p.name for p in tmp_path.iterdir()} == {p.name for p in drawn.paths}
    assert len(drawn.paths) == 6
    assert "Four Lasius queens" in drawn.svg(85).read_text(encoding="utf-8")
    none = dataclasses.replace(said, pictures={})
    assert _plan_drawn(none, tmp_path) == {}
    assert list(tmp_path.iterdir()) == []


def test_words_inside_the_picture_are_those_of_the_language(demo, ready, tmp_path):
    said = with_plans(content(demo, {}, voice("de")), demo, ready[1])
    assert said.next_season
    drawn = _plan_drawn(said, tmp_path)["plan"]
    words = " ".join(svg.words(drawn.svg(85).read_text(encoding="utf-8")))
    for word in ("mindestens eine Kolonie", "Kolonien", "wahrscheinlicher Bereich"):
        assert word in words
    assert not re.search(r"\b(colon(y|ies)|of|likely)\b", words)


def test_what_finds_no_room_is_named_with_its_place(ready):
    said, _, out = ready
    dropped = "In newsletter.html: What was not seen; numbers: details.html."
    whole = text_of(print_pages.write(said, out, ""))
    assert "What was not seen" in whole[1]
    assert "In newsletter.html" not in " ".join(whole)
    long = dataclasses.replace(said, not_seen=said.not_seen * 20)
    assert all(dropped in page for page in text_of(print_pages.write(long, out, "")))


def test_marks_are_recoloured_inside_their_copies_too(written):
    """A browser matches rules inside a copied mark without its ancestors."""
    text = (written / "newsletter.html").read_text(encoding="utf-8")
    for part in ("fill", "stroke"):
        assert f'path[{part}="#20242a"]{{{part}:#e8eaed}}' in text
