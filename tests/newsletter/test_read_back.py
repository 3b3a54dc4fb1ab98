"""One set of numbers: read back out of sentence, SVG, HTML table, CSV and PDF, and compared.

In a picture most numbers are no words but places; they are read as a reader does, by holding the
mark against the axis beside it.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from pypdf import PdfReader
from svg_read import marks, strokes, words_of
from test_page import Reader, _table, any_colony, printed

from cohort import results as store
from cohort.figures import svg
from cohort.figures.material import days_to_speak_of
from cohort.figures.names import of_100
from cohort.figures.palette import WAY
from cohort.newsletter import voice
from cohort.nonparametric.counts import headline_size
from cohort.terms.questions import headline_reading

SINGLY = voice("en").say("way_single")
NEAR = 0.35
"""Of 100: a hundredth of a point on paper is .01 mm, the axis is some 45 mm long."""


@pytest.fixture(scope="module")
def frozen(demo, tmp_path_factory) -> pd.DataFrame:
    """The comparisons as they lie in comparisons.csv."""
    folder = tmp_path_factory.mktemp("results") / "out"
    store.write(folder, demo.results)
    return pd.read_csv(folder / "comparisons.csv")


def row(frozen, demo, quantity, arm, genus, queens=None):
    """A row of the last day to which a kind was followed."""
    size = headline_size(demo.history.foundings) if queens is None else queens
    day = days_to_speak_of(demo, quantity, genus)[-1]
    hit = frozen[(frozen["quantity"] == quantity) & (frozen["arm"] == arm) & (frozen["day"] == day)
                 & (frozen["reading"] == headline_reading(quantity))
                 & (frozen["genus"] == genus) & (frozen["queens"] == size)]  # fmt: skip
    assert len(hit) == 1
    return hit.iloc[0]


def places(path, colour: str) -> list[tuple[float, float]]:
    """Places (x, y; points) of all marks filled with a colour."""
    return [(x, y) for x, y, look in marks(path) if look.get("fill") == colour]


def bars(path, colour: str) -> list[tuple[float, float, float]]:
    """Left end, right end and height (points) of all level lines of a colour."""
    return [
        (a[0], b[0], a[1])
        for (a, b), look in strokes(path)
        if look.get("stroke") == colour and a[1] == b[1]
    ]


def axis(path, labels: list[str]):
    """How to read an axis: place of a mark -> value, by the first tick labels of these words."""
    found = {}
    for x, word, look in words_of(path):
        if word in labels and word not in found and look.get("text-anchor") == "middle":
            found[word] = x
    assert set(found) == set(labels)
    slope, start = np.polyfit([found[w] for w in labels], [float(w) for w in labels], 1)
    return lambda x: slope * x + start


def seen(written, way: str) -> list[tuple[float, float, float]]:
    """Low, middle and high of the left panel of the fair pair, from above, read off its axis."""
    path = written / "figures" / "both_ways-175.svg"
    read = axis(path, ["0", "25", "50", "75", "100"])
    end = max(x for x in np.arange(0, 600) if read(x) <= 102)
    shown = sorted((y, x) for x, y in places(path, WAY[way]) if x <= end)
    lines = {y: (low, high) for low, high, y in bars(path, WAY[way]) if high <= end + 2}
    # the mark of the key stands on no line
    return [(read(lines[y][0]), read(x), read(lines[y][1])) for y, x in shown if y in lines]


@pytest.mark.parametrize(
    ("way", "quantity"),
    [("multi", "chance_per_founding"), ("single", "at_least_one_from_same_queens")],
)
def test_marks_and_bars_stand_where_the_csv_says(written, demo, frozen, way, quantity):
    table = _table(written / "newsletter.html", "both_ways")
    kinds = list(dict.fromkeys(r[0] for r in table[1:] if r[3] == "model"))
    label = {"all kinds together": "average", "a genus new to the club": "new"}
    drawn = seen(written, way)
    assert len(drawn) == len(kinds) > 3
    for kind, there in zip(kinds, drawn, strict=True):
        hit = row(frozen, demo, quantity, way, label.get(kind, kind))
        wanted = [100 * hit[c] for c in ("low", "mean", "high")]
        assert there == pytest.approx(wanted, abs=NEAR), kind


def test_a_mark_one_of_a_hundred_off_would_be_found(written, demo, frozen):
    hit = row(frozen, demo, "chance_per_founding", "multi", "average")
    middle = [there[1] for there in seen(written, "multi")]
    assert any(abs(x - 100 * hit["mean"]) < NEAR for x in middle)
    assert not any(abs(x - 100 * hit["mean"] - 1) < NEAR for x in middle)


def test_csv_sentence_table_summary_and_print_say_the_same(written, demo, frozen):
    """The fair pair of all kinds together: nine numbers, five places."""
    together = row(frozen, demo, "chance_per_founding", "multi", "average")
    apart = row(frozen, demo, "at_least_one_from_same_queens", "single", "average")
    many = row(frozen, demo, "colonies_from_same_queens", "single", "average")
    a, b, c = (of_100(together[x]) for x in ("mean", "low", "high"))
    d, e, f = (of_100(apart[x]) for x in ("mean", "low", "high"))
    page = Reader((written / "newsletter.html").read_text(encoding="utf-8")).text
    story = " ".join((written / "story.txt").read_text(encoding="utf-8").split())
    pdf = printed(written / "newsletter.pdf")
    for text in (page, story, pdf):
        for told in (
            f"we expect {a} to have a colony (workers and a living queen) on day 180 ({b} to {c})",
            f"we expect {d} to have at least one ({e} to {f}), and {many['mean']:.1f} colonies on "
            f"average ({many['low']:.1f} to {many['high']:.1f})",
            f"(Based on {apart['foundings']} single queens and {together['foundings']} trios.)",
        ):
            assert told in text
    cells = _table(written / "newsletter.html", "both_ways")
    for way, count, numbers in (("together", together["foundings"], (a, b, c)),
                                (SINGLY, apart["foundings"], (d, e, f))):  # fmt: skip
        assert ["all kinds together", any_colony(int(together["queens"])), way, "model",
                *map(str, numbers), str(count)] in cells  # fmt: skip


def test_foundings_behind_each_kind_are_the_same_in_svg_csv_and_print(written, demo, frozen):
    words = svg.words((written / "figures" / "both_ways-175.svg").read_text(encoding="utf-8"))
    pdf = PdfReader(written / "newsletter.pdf").pages[0].extract_text()
    for genus in sorted(set(demo.history.foundings["genus"])):
        single = row(frozen, demo, "at_least_one_from_same_queens", "single", genus)["foundings"]
        multi = row(frozen, demo, "chance_per_founding", "multi", genus)["foundings"]
        assert f"{single}+{multi}" in words
        assert f"{single}+{multi}" in pdf


def test_pictures_in_print_bear_the_words_of_the_svg(written):
    """Season chart and hundred queens stand in the PDF as drawn, word for word."""
    pages = [
        " ".join(p.extract_text().split()) for p in PdfReader(written / "newsletter.pdf").pages
    ]
    pages.append(" ".join(pages))  # the queens stand where there is room
    for name, page in (("hundred-85", 2), ("both_ways-175", 0), ("season-175", 1)):
        words = svg.words((written / "figures" / f"{name}.svg").read_text(encoding="utf-8"))
        assert len(words) > 8
        assert {w for w in words if " ".join(w.split()) not in pages[page]} == set(), name
