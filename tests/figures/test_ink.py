"""Ink: nothing overlaps, files are what they say, numbers can be read back."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from pathlib import Path

import numpy as np
import pytest
from matplotlib.figure import Figure
from PIL import Image
from pypdf import PdfReader

from cohort import figures
from cohort.figures import ink, svg
from cohort.figures.labels import ENGLISH, read_labels
from cohort.figures.names import of_100

LONG = ("Crematogaster", "Pogonomyrmex", "Camponotus", "Solenopsis", "Tetramorium", "Lasius")
THIRTY = (*LONG, *(f"kind {chr(65 + i)}{chr(97 + i)}" for i in range(24)))


def drawn_all(material, folder, **more):
    with figures.begin(material, folder, **more) as begun:
        return begun.drawn()


@pytest.fixture(scope="module")
def drawn(demo, tmp_path_factory):
    return drawn_all(
        demo, tmp_path_factory.mktemp("figures"), alts={"season": ("Fate & <i>", "All & <b>")}
    )


def studies(make):
    return {
        "demo": make(),
        "one kind": make(genera=("Crematogaster",), per=30, seed=4),
        "thirty kinds": make(genera=THIRTY, per=10, seed=5),
        "three hundred": make(genera=LONG[:5], per=60, seed=6),
        "no groups": make(multi=False, seed=7),
    }


@pytest.mark.parametrize(
    ("which", "language"),
    [("demo", "en"), ("demo", "de"), ("demo", "es"), ("demo", "fr"), ("one kind", "de"),
     ("thirty kinds", "en"), ("three hundred", "en"), ("no groups", "en")],
)  # fmt: skip
def test_no_words_overlap_and_none_leaves_the_paper(make, which, language):
    material = studies_once(make)[which]
    labels = read_labels(language)
    bad = {}
    with ink.style():
        numbers = figures.numbers(material)
        for picture in figures.PICTURES:
            ready = numbers[picture.name]
            for width in ink.WIDTHS if not ready.reason else ():
                found = ink.overlaps(picture.draw(ready.frame, width, labels))
                if found:
                    bad[picture.name, width] = found[:4]
    assert not bad


_STUDIES: dict[str, object] = {}


def studies_once(make):
    if not _STUDIES:
        _STUDIES.update(studies(make))
    return _STUDIES


def test_the_measure_of_overlap_can_fail():
    with ink.style():
        paper = ink.sheet(85, 20)
        paper.write(10, 10, "one word")
        paper.write(12, 10, "another")
        paper.write(80, 5, "over the edge")
        pairs = ink.overlaps(paper.figure)
    assert ("one word", "another") in pairs
    assert ("over the edge", "the edge") in pairs


def test_every_picture_comes_in_three_formats_those_of_the_page_at_two_widths(drawn):
    for drawing in drawn.values():
        assert not drawing.reason
        names = {path.name for path in drawing.paths}
        widths = (85, 175) if figures.picture(drawing.name).on_page else (85,)
        assert drawing.widths == widths
        assert names == {f"{drawing.name}-{w}.{e}" for w in widths for e in ("svg", "pdf", "png")}
    on_page = {one.name for one in figures.PICTURES if one.on_page}
    assert on_page == {"both_ways", "how_sure", "season", "hundred"}


SMALLEST = 7.0  # points in print
PHONE, LEAST_ON_PHONE = 360, 11.0  # points (CSS) across, and of the smallest letter


@pytest.mark.parametrize(
    "language",
    ["en", "de", *(pytest.param(other, marks=pytest.mark.slow) for other in ("es", "fr"))],
)
def test_letters_are_large_enough_in_print_and_on_a_phone(make, language):
    """What is drawn at 85 mm fills a phone; 11 of its points are 7.36 pt on that paper."""
    labels = read_labels(language)
    found = {}
    with ink.style():
        for which in ("demo", "thirty kinds"):
            for picture in figures.PICTURES:
                frame = picture.frame(studies_once(make)[which])
                for width in picture.widths:
                    figure = picture.draw(frame, width, labels)
                    size = min(text.get_fontsize() for text in ink.texts(figure))
                    found[picture.name, width] = min(size, found.get((picture.name, width), 99))
    assert min(found.values()) >= SMALLEST, found
    for (name, width), size in found.items():
        if width == 85:
            assert size / 72 * 25.4 / 85 * PHONE >= LEAST_ON_PHONE, name


def test_png_has_300_dots_to_the_inch_at_its_width(drawn):
    for path in drawn["season"].paths:
        if path.suffix == ".png":
            width = int(re.search(r"-(\d+)", path.stem)[1])
            with Image.open(path) as picture:
                assert picture.width == pytest.approx(width / 25.4 * 300, abs=2)
                assert picture.info["dpi"] == pytest.approx((300, 300), abs=0.01)
                assert picture.info["Title"] == "Fate & <i>"


def test_a_folder_of_the_same_name_elsewhere_is_another_folder(tmp_path, monkeypatch):
    saved = {}
    for place, heights in (("here", [0.0, 1.0]), ("there", [1.0, 0.0])):
        (tmp_path / place / "pictures").mkdir(parents=True)
        monkeypatch.chdir(tmp_path / place)
        figure = Figure(figsize=(1, 1))
        figure.add_axes((0, 0, 1, 1)).plot(heights)
        saved[place] = [path.read_bytes() for path in ink.save(figure, Path("pictures/a"), "a")]
    for here, there in zip(saved["here"], saved["there"], strict=True):
        assert here != there


def test_pdf_embeds_truetype_and_can_be_searched(drawn):
    for drawing in drawn.values():
        path = next(p for p in drawing.paths if p.name.endswith("-85.pdf"))
        page = PdfReader(path).pages[0]
        assert float(page.mediabox.width) / 72 * 25.4 == pytest.approx(85, abs=0.2)
        fonts = page["/Resources"].get("/Font", {})
        fonts = fonts or _fonts_of_forms(page)
        assert fonts
        for font in fonts.values():
            descendant = font.get_object()["/DescendantFonts"][0].get_object()
            assert descendant["/Subtype"] == "/CIDFontType2"  # TrueType outlines
            assert "/FontFile2" in descendant["/FontDescriptor"].get_object()


def _fonts_of_forms(page):
    out = {}
    for form in page["/Resources"].get("/XObject", {}).values():
        out.update(form.get_object().get("/Resources", {}).get("/Font", {}))
    return out


def test_a_picture_no_longer_made_leaves_nothing_of_an_earlier_run(demo, make, tmp_path):
    old = tmp_path / "catches-85.svg"
    old.write_text("from an earlier run", encoding="utf-8")
    wider = tmp_path / "flow-175.svg"  # once written, now at one width only
    wider.write_text("from an earlier run", encoding="utf-8")
    other = tmp_path / "mine.svg"
    other.write_text("of somebody else", encoding="utf-8")
    few = [p for p in figures.PICTURES if p.name in ("catches", "flow")]
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(figures, "PICTURES", tuple(few))
        drawn = drawn_all(make(catches=False), tmp_path)
    assert drawn["catches"].reason
    assert not old.exists()
    assert not wider.exists()
    assert (tmp_path / "flow-85.svg").exists()
    assert other.exists()


def test_svg_and_pdf_say_the_same_words(drawn):
    for name in ("both_ways", "hundred", "flow"):
        paths = {p.suffix: p for p in drawn[name].paths if "-85." in p.name}
        words = svg.words(paths[".svg"].read_text(encoding="utf-8"))
        printed = " ".join(PdfReader(paths[".pdf"]).pages[0].extract_text().split())
        for word in words:
            assert all(piece in printed for piece in word.split()), word


def test_svg_is_clean_enough_for_a_strict_page(drawn):
    seen: set[str] = set()
    for drawing in drawn.values():
        for path in (drawing.svg(width) for width in drawing.widths):
            text = path.read_text(encoding="utf-8")
            root = ET.fromstring(text)
            assert " style=" not in text
            assert "<style" not in text
            assert not re.search(r'(href|src)="(?!#)', text)
            ids = {e.get("id") for e in root.iter() if e.get("id")}
            assert not ids & seen
            seen |= ids
            assert root.get("role") == "img"
            assert svg.told(text)
            assert all(name in ids for name in root.get("aria-labelledby").split())


def test_what_a_picture_is_and_shows_is_escaped_not_markup(drawn):
    text = drawn["season"].svg(85).read_text(encoding="utf-8")
    assert svg.told(text) == "Fate & <i> All & <b>"
    root = ET.fromstring(text)
    assert [child.tag.rpartition("}")[2] for child in root][:2] == ["title", "desc"]


def test_every_colour_of_the_pictures_has_a_dark_one(drawn):
    from cohort.figures.palette import DARK

    used = set()
    for drawing in drawn.values():
        used |= set(re.findall(r"#[0-9a-f]{6}\b", drawing.svg(85).read_text(encoding="utf-8")))
    assert used <= set(DARK), used - set(DARK)


def test_numbers_of_a_hundred_queens_stand_in_the_picture(drawn):
    words = svg.words(drawn["hundred"].svg(175).read_text(encoding="utf-8"))
    for row in drawn["hundred"].frame.itertuples():
        if row.queens:
            first = f"{row.queens} {ENGLISH.fates[row.fate]}".split()[:3]
            assert any(word.split()[:3] == first for word in words)
            assert str(row.of_100) in words


def test_numbers_of_the_flow_stand_in_the_picture(drawn):
    words = " ".join(svg.words(drawn["flow"].svg(85).read_text(encoding="utf-8")))
    for row in drawn["flow"].frame.itertuples():
        if row.queens > 1:
            assert f"{row.queens} queens" in words


def test_marks_of_the_fair_pair_lie_where_the_numbers_say(demo):
    """The picture is held against its frame: read the marks back from the axes."""
    picture = next(p for p in figures.PICTURES if p.name == "both_ways")
    frame = figures.numbers(demo)["both_ways"].frame
    with ink.style():
        axes = picture.draw(frame, 175, ENGLISH).axes[0]
    marks = [float(line.get_xdata()[0]) for line in axes.lines if line.get_marker() in ("o", "D")]
    wanted = frame.loc[frame["panel"] == "any", "estimate"] * 100
    assert {"model", "counted"} == set(frame.loc[frame["panel"] == "any", "source"])
    assert sorted(marks) == pytest.approx(sorted(wanted))


def test_the_same_numbers_give_the_same_bytes(demo, tmp_path):
    picture = next(p for p in figures.PICTURES if p.name == "both_ways")
    frame = figures.numbers(demo)["both_ways"].frame
    files = []
    for folder in ("a", "b"):
        (tmp_path / folder).mkdir()
        with ink.style():
            paths = ink.save(picture.draw(frame, 85, ENGLISH), tmp_path / folder / "g-85", "g")
        files.append([path.read_bytes() for path in paths])
    assert files[0] == files[1]


def test_a_picture_written_again_is_new_in_print_too(tmp_path):
    for word in ("before", "after"):
        with ink.style():
            paper = ink.sheet(85, 20)
            paper.write(10, 10, word)
            paths = ink.save(paper.figure, tmp_path / "x-85", "x")
        assert PdfReader(paths[1]).pages[0].extract_text().strip() == word


@pytest.mark.parametrize("seed", range(20))
def test_spread_keeps_order_gap_and_bounds(seed):
    rng = np.random.default_rng(seed)
    wanted = list(rng.uniform(0, 100, 8))
    placed = ink.spread(wanted, 5, 0, 100)
    assert list(np.argsort(placed)) == list(np.argsort(wanted))
    assert np.min(np.diff(np.sort(placed))) >= 5 - 1e-9
    assert min(placed) >= -1e-9
    assert max(placed) <= 100 + 1e-9


def test_of_100_is_the_rounding_of_pictures_and_sentences():
    assert of_100(0.665) == 67


@pytest.mark.parametrize("cancelled", [True, False])
def test_every_picture_is_drawn_once_here_or_elsewhere(demo, tmp_path, monkeypatch, cancelled):
    """Whatever the second process has come to, each file is there and in its place."""
    made = []

    class Later:
        def __init__(self, work, order, *rest):
            self.work, self.given, self.taken = work, (order, *rest), False

        def cancel(self):
            self.taken = cancelled or self.given[0][1] == ink.WIDTHS[0]
            return self.taken

        def result(self):
            assert not self.taken
            return self.work(*self.given)

        def here(self):
            assert self.taken
            return self.work(*self.given)

    def noted(order, folder, labels):
        made.append(order[:2])
        return [folder / f"{order[0]}-{order[1]}.svg"]

    monkeypatch.setattr(figures.background, "start", Later)
    monkeypatch.setattr(figures, "_ink", noted)
    drawn = drawn_all(demo, tmp_path)
    want = [(p.name, width) for p in figures.PICTURES for width in p.widths]
    assert not any(d.reason for d in drawn.values())
    assert sorted(made) == sorted(want)
    if cancelled:
        assert made == want[::-1]  # from the last on
    for name, d in drawn.items():
        assert [p.name for p in d.paths] == [
            f"{name}-{width}.svg" for width in figures.picture(name).widths
        ]


def test_an_error_here_takes_back_what_is_not_begun(demo, tmp_path, monkeypatch):
    taken = []

    class Later:
        def __init__(self, work, order, *rest):
            self.order, self.work, self.rest = order, work, rest

        def cancel(self):
            taken.append(self.order[:2])
            return True

        def here(self):
            return self.work(self.order, *self.rest)

    def broken(order, folder, labels):
        raise OSError("no room")

    monkeypatch.setattr(figures.background, "start", Later)
    monkeypatch.setattr(figures, "_ink", broken)
    with pytest.raises(OSError, match="no room"):
        drawn_all(demo, tmp_path)
    assert set(taken) == {(p.name, width) for p in figures.PICTURES for width in p.widths}
