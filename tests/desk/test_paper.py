"""Paper that can be read and written on: letters large enough, boxes as check notes take them."""

from __future__ import annotations

import io
import re
from pathlib import Path

import pytest
from pypdf import PdfReader

from cohort.cli import main
from cohort.desk.allot import Ask
from cohort.desk.print import (
    CheckRow,
    Label,
    blocks_for,
    check_sheet,
    label_sheet,
    night_list,
    night_sheet,
)
from cohort.desk.print.open import open_rows
from cohort.desk.print.pages import speaks
from cohort.sheets.notes import read_line
from cohort.study import read_study
from cohort.terms.voice import languages

DEMO = Path(__file__).parents[2] / "data" / "demo"
pytestmark = pytest.mark.quick
LEAST = 8.0
"""Points below which a column head cannot be read at arm's length (common practice, no source)."""


def letters(pdf: bytes) -> list[list[tuple[str, float, float]]]:
    """Pieces of text on each page: text, size in points, distance from the foot in points."""
    out = []
    for page in PdfReader(io.BytesIO(pdf)).pages:
        found: list[tuple[str, float, float]] = []

        def see(text, cm, tm, _font, size, found=found):
            if text.strip():
                scale = abs(tm[3] * cm[3]) or abs(tm[1] * cm[1])
                found.append((text.strip(), size * scale, tm[5] * cm[3] + cm[5]))

        page.extract_text(visitor_text=see)
        out.append(found)
    return out


def test_the_measure_finds_small_letters():
    (page,) = letters(label_sheet(["K1-01"], line="tiny"))
    sizes = {text: round(size, 1) for text, size, _ in page}
    assert sizes["tiny"] == 6.0  # as set in the template
    assert sizes["K1-01"] == 19.0


@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("dates", [1, 6])
def test_column_heads_are_large_enough(dates, language):
    own = speaks(language)
    rows = [CheckRow("K1-01", "Crematogaster", True, "3 12+")] * 4
    (page,) = letters(check_sheet(rows, dates=dates, language=language))
    size = {text: s for text, s, _ in page}
    heads = [own.say(key) for key in ("number", "kind", "date", "last_look")]
    words = {word for head in heads for word in head.split()}
    foot = 60  # points: the name of the sheet stands again at the foot
    seen = [s for text, s, y in page if set(text.split()) & words and len(text) < 20 and y > foot]
    assert len(seen) >= 3 + dates
    assert min(seen) >= LEAST
    assert size["Crematogaster"] >= LEAST
    assert size["3 12+"] >= LEAST
    lots = night_list(Ask(), 1)
    first = letters(night_sheet(lots, ["K1-01"] * 6, language=language))[0]
    heads = {own.say(k) for k in ("queens_head", "container", "lot")}
    assert min(s for text, s, _ in first if text in heads) >= LEAST


@pytest.mark.parametrize("language", languages())
def test_what_the_legend_writes_into_a_box_is_what_log_understands(language):
    told = str(speaks(language).sentences["checks_legend"])
    examples = [one for one in re.findall(r"\*([^*]+)\*", told) if one[0].isdigit()]
    assert len(examples) == 3
    looks = [read_line(f"K1-03 {one}", "2026-07-12") for one in examples]
    seen = [(one.check["queens_alive"], one.check["workers"], one.check["brood"]) for one in looks]
    assert seen == [("3", "0", "eggs"), ("2", "5", "larvae"), ("1", "12+", "")]
    assert [event["event"] for event in looks[2].events] == ["fight"]
    assert not any(one.check["note"] for one in looks)


def test_the_last_look_stands_as_it_would_be_typed():
    rows = open_rows(read_study(DEMO))
    assert len(rows) > 20
    for row in rows:
        got = read_line(f"{row.number} {row.last} eggs", "2026-07-12").check
        counts = [got["queens_alive"] or "–", got["workers"] or "–"]
        assert " ".join(counts) == row.last


@pytest.mark.parametrize(("rows", "pages"), [(14, 1), (15, 1), (16, 2), (31, 3)])
def test_no_check_sheet_ends_with_a_row_or_two(rows, pages):
    made = letters(check_sheet([CheckRow(f"K1-{n:02d}") for n in range(1, rows + 1)]))
    each = [sum(bool(re.fullmatch(r"K1-\d\d", text)) for text, _, _ in page) for page in made]
    assert (len(each), sum(each)) == (pages, rows)
    assert max(each) - min(each) <= pages - 1
    for page in made:  # the notes' heading stands under the table, on the same page
        assert any(text.startswith("Notes") for text, _, _ in page)


@pytest.mark.parametrize(
    ("numbers", "ask", "blocks"),
    [(6, Ask(), 2), (16, Ask(), 4), (40, Ask(), 4), (1, Ask(), 1), (16, Ask(block=6), 2),
     (16, Ask(block=24), 1)],
)  # fmt: skip
def test_lots_are_as_many_as_the_numbers_can_use(numbers, ask, blocks):
    assert blocks_for(numbers, ask) == blocks


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("numbers", [4, 16])
def test_a_night_sheet_is_three_pages_and_its_lots_reach_down(numbers, paper):
    lots = night_list(Ask(), 3, blocks=blocks_for(numbers, Ask()))
    made = letters(night_sheet(lots, [f"K1-{n:02d}" for n in range(numbers)], paper=paper))
    assert len(made) == 3
    if numbers == 16:  # the last lot stands in the lowest quarter of the page
        lowest = min(y for text, _, y in made[1] if re.match(r"L1-A4\.4", text))
        assert lowest < 0.25 * 792


def test_labels_of_a_whole_study_bear_kind_queens_and_day(tmp_path, capsys):
    out = tmp_path / "all.pdf"
    with pytest.raises(SystemExit) as end:
        main(["print", "labels", str(DEMO), "--all", "--out", str(out)])
    assert end.value.code == 0
    text = " ".join(t for page in letters(out.read_bytes()) for t, _, _ in page)
    rows = open_rows(read_study(DEMO))
    assert {text.count(row.number) for row in rows} == {2}
    assert "Crematogaster" in text
    assert "3 queens · 2025-05-11" in text
    for words, code in ((["--all"], 2), ([str(DEMO), "--all", "--keeper", "K9"], 1)):
        with pytest.raises(SystemExit) as end:
            main(["print", "labels", *words, "--out", str(out)])
        assert end.value.code == code
    capsys.readouterr()


def test_labels_say_of_which_numbers_they_are(tmp_path, capsys, monkeypatch):
    """After a night the next free numbers are not those of the containers on the table."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "club").mkdir()
    (tmp_path / "club" / "foundings-K1.csv").write_text(
        "founding,genus,started,queens,keeper\nK1-04,Lasius,2025-07-06,1,K1\n", "utf-8"
    )
    with pytest.raises(SystemExit):
        main(["print", "labels", "club", "--keeper", "K1", "--numbers", "8"])
    told = capsys.readouterr().out
    assert "Numbers K1-05 to K1-12, for the foundings to come." in told
    assert "--all" in told
    with pytest.raises(SystemExit):
        main(["print", "labels", "club", "--keeper", "K1", "--first", "4", "--numbers", "1"])
    assert "to come" not in capsys.readouterr().out


def test_a_long_kind_stays_inside_its_label():
    long = Label("K1-01", "a kind with a very long name of its own", False, "3 queens · 2026-07-04")
    (page,) = letters(label_sheet([long]))
    assert sum("K1-01" in text for text, _, _ in page) == 2
