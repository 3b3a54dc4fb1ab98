"""Numbers behind the pictures as CSV: the same as the table, saved from a page on a disk."""

from __future__ import annotations

import base64
import csv
import io
from pathlib import Path

import pytest
from browsing import opened
from test_page import CSV, HOSTILE, Reader, _table

from cohort import results as store
from cohort.figures import PICTURES
from cohort.newsletter import content, page, voice
from cohort.newsletter.csv_link import csv_link, csv_text
from cohort.newsletter.tables import Table


def saved(address: str) -> list[list[str]]:
    """Rows of a CSV file inside a link."""
    assert address.startswith(CSV)
    text = base64.b64decode(address.removeprefix(CSV)).decode("utf-8")
    assert text.startswith("\ufeff")
    return list(csv.reader(io.StringIO(text[1:])))


def links(path) -> dict[str, str]:
    tags = Reader(path.read_text(encoding="utf-8")).tags
    return {a["download"]: a["href"] for tag, a in tags if tag == "a" and "download" in a}


def test_every_table_of_a_picture_can_be_saved_and_is_the_one_shown(written):
    every = set()
    for page_name in ("newsletter.html", "details.html"):
        for name, address in links(written / page_name).items():
            picture = name.removesuffix(".csv")
            if picture in {one.name for one in PICTURES}:
                shown = _table(written / page_name, picture)
                assert [[" ".join(c.split()) for c in row] for row in saved(address)] == shown, name
                every.add(picture)
    assert every == {one.name for one in PICTURES}
    assert "counted.csv" in links(written / "details.html")


def test_files_beside_the_page_are_linked_only_where_they_lie(demo, tmp_path):
    said = content(demo, {}, voice("en"))
    assert 'href="curves.csv"' not in page.render_details(said, demo, "", tmp_path)
    out = tmp_path / "out"
    store.write(out, demo.results)
    text = page.render_details(said, demo, "", out)
    targets = [a["href"] for tag, a in Reader(text).tags if tag == "a" and "download" not in a]
    beside = [t for t in targets if t.endswith(".csv")]
    assert beside == ["comparisons.csv", "curves.csv", "foundings.csv", "second_opinion.csv"]
    assert all((out / name).is_file() for name in beside)


def test_a_picture_links_to_the_file_its_numbers_lie_in(demo, written, tmp_path):
    """Each file named for a picture is one of those a comparison leaves."""
    assert {one.file for one in PICTURES} - {""} <= set(page.BESIDE)
    out = tmp_path / "out"
    store.write(out, demo.results)
    assert all((out / name).is_file() for name in page.BESIDE)


@pytest.mark.parametrize("cell", ["=1+1", "+cmd", "-2+3", "@SUM(A1)", HOSTILE])
def test_a_cell_never_becomes_a_formula(cell):
    row = saved(csv_link(Table(("a", "b"), ((cell, "\ue000Lasius\ue001"),))))[1]
    assert row[0][0] not in "=+-@"
    assert row[0].removeprefix("'") == cell
    assert row[1] == "Lasius"


def test_numbers_below_nought_stay_numbers():
    assert csv_text(Table(("a",), (("-5.81",), ("-12",)))).splitlines()[1:] == ["-5.81", "-12"]


@pytest.mark.needs_program
def test_a_browser_saves_it_from_the_disk(browser, written):
    shown, seen, context = opened(browser, written, "details.html", 1280)
    shown.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
    with shown.expect_download() as caught:
        shown.locator("#picture-first_days a[download]").click()
    assert caught.value.suggested_filename == "first_days.csv"
    text = Path(caught.value.path()).read_text(encoding="utf-8-sig")
    assert [*csv.reader(io.StringIO(text))] == saved(
        shown.locator("#picture-first_days a[download]").get_attribute("href")
    )
    assert seen["console"] == []
    assert [u for u in seen["requests"] if u.startswith("http")] == []
    context.close()
