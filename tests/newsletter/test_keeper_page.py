"""A keeper's own page: own numbers beside the club's, what is due, what the rows need; harmless."""

from __future__ import annotations

import dataclasses
import datetime as dt
import re

import pytest
from browsing import opened
from test_page import Reader, _rows

from cohort.audit import examine
from cohort.base.errors import Finding, StudyError
from cohort.figures.material import Material
from cohort.history import history
from cohort.newsletter import page, voice, write_keeper_page
from cohort.newsletter.ahead import ahead
from cohort.newsletter.keeper import (
    file_name,
    find,
    findings_of,
    keeper_content,
    known,
    own,
)
from cohort.outcomes.basis import prior_basis
from cohort.sheets.folder import read_folder
from cohort.study import read_study

TODAY = dt.date(2026, 1, 5)
ODD = "../K2 <b>x</b>"
FOUNDINGS = f"""founding,genus,started,queens,keeper,left_out
A-01,Lasius,2025-06-01,1,A,
A-02,Lasius,2025-06-01,3,A,
A-04,Messor,2025-06-01,1,A,mites
B-01,Lasius,2025-06-01,1,B,
B-02,Lasius,2025-06-01,2,B,
N-01,Lasius,2025-06-01,1,N,mites
O-01,Lasius,2025-06-01,2,{ODD},
"""
LOOKS = {  # day since 1 June -> queens alive, workers
    "A-01": [(20, 1, 0), (44, 1, 2)],
    "A-02": [(20, 3, 0), (50, 2, 4), (60, 1, 9)],
    "A-04": [(20, 1, 0)],
    "B-01": [(20, 0, 0)],
    "B-02": [(20, 2, 0), (60, 2, 3)],
    "N-01": [(20, 1, 0)],
    "O-01": [(20, 2, 0)],
}


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """Seven foundings of four keepers; A-03 is missing from the series of A."""
    out = tmp_path_factory.mktemp("keepers")
    (out / "study.toml").write_text(
        'title = "Four shelves"\nseason = "2025"\nhorizon_days = 160\nends = 2025-12-31\n'
        'look_every = 7\nshow_keepers = false\n', "utf-8")  # fmt: skip
    (out / "foundings.csv").write_text(FOUNDINGS, "utf-8")
    first = dt.date(2025, 6, 1)
    rows = [
        f"{name},{first + dt.timedelta(days=day)},{queens},{workers}"
        for name, looks in LOOKS.items()
        for day, queens, workers in looks
    ]
    (out / "checks.csv").write_text(
        "founding,date,queens_alive,workers\n" + "\n".join(rows) + "\n", "utf-8"
    )
    (out / "catches.csv").write_text(
        "catch,date,genus,queens,method,keeper\nC1,2025-05-31,Lasius,4,hand,Z\n", "utf-8"
    )
    return out


@pytest.fixture(scope="module")
def examined(folder):
    return [examine(read_folder(folder), TODAY)]


@pytest.fixture(scope="module")
def material(folder, demo):
    study = read_study(folder, today=TODAY)
    return Material(demo.results, history(study), study)


@pytest.fixture(scope="module")
def counted(material):
    """The same club with nothing compared: one founding each is no comparison."""
    shut = dataclasses.replace(material.results, diagnosis={"settled": False, "reasons": ["few"]})
    return dataclasses.replace(material, results=shut)


def text_of(path) -> str:
    return Reader(path.read_text(encoding="utf-8")).text


@pytest.fixture(scope="module")
def page_of_a(counted, examined, tmp_path_factory):
    out = tmp_path_factory.mktemp("a")
    mine = findings_of("A", examined)
    return write_keeper_page(counted, out, "A", mine, on=dt.date(2025, 6, 30))


def test_own_counts_beside_the_clubs_by_hand(page_of_a):
    """A: A-01 and A-02 compared, both with workers; 2 of 4 queens alive. Club: 5, 3 and 4 of 9."""
    text = text_of(page_of_a)
    assert "You keep 3 foundings with 5 queens; 2 of them are in the comparison." in text
    assert "Workers were seen in 2 of your 2 foundings, and in 3 of the club's 5." in text
    assert "At the last look 2 of your 4 queens were alive, and 6 of the club's 9." in text
    assert "seen on days 44 to 50, half of them by day 47 with you" in text
    assert "on days 44 to 60, half of them by day 50 in the club" in text
    rows = _rows(page_of_a.read_text(encoding="utf-8"))
    assert ["with workers", "1 of 1", "1 of 1", "1 of 2", "2 of 3"] in rows
    assert ["queens alive at the last look", "1 of 1", "1 of 3", "1 of 2", "5 of 7"] in rows
    assert ["first worker seen, day", "44", "50", "44", "50 to 60, half by 55"] in rows


def test_its_season_chart_holds_own_foundings_alone(page_of_a):
    rows = _rows(page_of_a.read_text(encoding="utf-8"))
    assert {r[0] for r in rows if re.fullmatch(r"[A-Z]-\d\d", r[0])} == {"A-01", "A-02", "A-04"}
    assert page_of_a.read_text(encoding="utf-8").count("<svg") == 2


def test_looks_by_rhythm_when_nothing_settled(page_of_a):
    """Weekly looks, the last on 21 June: due on 28 June, two days late on the 30th."""
    text = text_of(page_of_a)
    assert "On 30 June 2025, 3 foundings of yours are still looked at." in text
    rows = _rows(page_of_a.read_text(encoding="utf-8"))
    assert ["A-02", "Lasius", "3", "21 Jun", "28 Jun (2 days late)"] in rows
    assert "only tells when to look" in text
    assert "of 100" not in text


def test_what_the_rows_still_need_is_of_this_keeper_only(page_of_a, examined):
    assert "A-03 is missing from the series" in text_of(page_of_a)
    assert not any("A-03" in f.what for f in findings_of("B", examined))


def test_a_finding_without_a_key_is_told_in_english_and_marked_so(counted, tmp_path):
    plain = Finding(level="error", rule="r", file="a.csv", row=7, what="It is odd.", remedy="Look.")
    said = keeper_content(counted, "A", voice("fr"), ahead=None, findings=(plain,))
    ((level, (need,)),) = said.needs
    assert (level, need.language, need.where) == ("error", "en", "a.csv, ligne 7")
    html = page.render_keeper(said, "", rhythm=True, club=False)
    assert re.search(r'<li lang="en">.*It is odd\. Look\.', html)


def test_it_names_its_keeper_and_nobody_else(page_of_a, counted, examined):
    assert "The foundings of A." in text_of(page_of_a)
    said = keeper_content(counted, "B", voice("en"), ahead=None, findings=())
    told = page.render_keeper(said, "", rhythm=True, club=False)
    assert "The foundings of B." in told
    assert not re.search(r"\bof A\b|A-0|O-01", Reader(told).text)


def test_forecasts_stand_beside_the_same_queens_kept_singly(demo, material):
    """With draws behind it: windows and groups, and never a group's chance alone."""
    basis = prior_basis(draws=60, genera=("Lasius", "Messor"))
    told = ahead(material.study, "A", dt.date(2025, 7, 18), basis, voice("en"))
    titles = [t.title for t in told.tables]
    assert titles[0] == "Looks"
    assert any(t.startswith("Groups near") for t in titles)
    assert told.groups
    said = keeper_content(demo, "K1", voice("en"), ahead=told, findings=())
    assert "trios housed apart, " in said.tail
    html = page.render_keeper(said, "", rhythm=False, club=False)
    assert said.tail.split(" (")[0] in Reader(html).text
    for language, first in (("de", "Ohne Ergebnisse (--from)"), ("fr", "Sans résultats (--from)")):
        own = ahead(material.study, "A", dt.date(2025, 7, 18), basis, voice(language))
        assert own.says[0].startswith(first)
        assert len(own.says) == len(told.says) > 1
        assert not set(own.says) & set(told.says)
    alone = ahead(material.study, "B", dt.date(2025, 6, 30), None, voice("en"))
    assert keeper_content(demo, "K1", voice("en"), ahead=alone, findings=()).tail == ""


def test_a_keeper_who_keeps_nothing_compared_still_gets_a_page(counted, tmp_path):
    for keeper, line in (("N", "nothing of yours to set beside"), ("Z", "no founding in the sh")):
        path = write_keeper_page(counted, tmp_path, keeper, (), on=dt.date(2025, 6, 30))
        text = text_of(path)
        assert line in text
        assert "Local law and licensed advice come first" in text
        assert "Nothing: your rows hold no fault" in text


def test_a_day_before_the_study_has_nothing_due(counted, tmp_path):
    path = write_keeper_page(counted, tmp_path, "A", (), on=dt.date(2025, 1, 1))
    assert "No founding had been started by that day." in text_of(path)


def test_an_odd_keeper_is_harmless(counted, tmp_path):
    out = tmp_path / "out"
    path = write_keeper_page(counted, out, ODD, (), on=dt.date(2025, 6, 30))
    assert path.parent == out
    assert re.fullmatch(r"keeper-[\w-]+\.html", path.name)
    text = path.read_text(encoding="utf-8")
    assert "<b>" not in text
    assert "&lt;b&gt;" in text
    assert {p.name for p in tmp_path.iterdir()} == {"out"}


@pytest.mark.parametrize("name", ["K 2", "K/2", "..", "Ä", "x" * 300])
def test_file_names_are_safe_and_their_own(name):
    made = file_name(name)
    assert re.fullmatch(r"keeper-[A-Za-z0-9_-]+\.html", made)
    assert len(made) < 90
    assert made != file_name(name + "!")


def test_plain_signs_keep_their_file_name():
    assert file_name("K2") == "keeper-K2.html"


def test_the_keeper_meant_is_found_or_those_there_are_named(examined):
    there = known(examined)
    assert there == (ODD, "A", "B", "N", "Z")
    assert find(" a", there) == "A"
    with pytest.raises(StudyError, match=r"No keeper 'K9' in this study\. Keepers there are: .*A"):
        find("K9", there)
    with pytest.raises(StudyError, match="name none"):
        find("A", ())


def test_two_signs_that_differ_in_case_alone_are_told_apart():
    assert find("k", ("K", "k")) == "k"
    with pytest.raises(StudyError):
        find("AB", ("Ab", "aB"))


def test_only_own_rows_are_left(material):
    mine = own(material, "A")
    assert set(mine.study.checks["founding"]) == {"A-01", "A-02", "A-04"}
    codes = set(mine.history.intervals["code"])
    assert codes == set(material.history.foundings.index[:3])


def test_the_german_page_is_german(counted, examined, tmp_path):
    mine = findings_of("A", examined)
    path = write_keeper_page(
        counted, tmp_path, "A", mine, on=dt.date(2025, 6, 30), language="de", today=TODAY
    )
    text = text_of(path)
    assert "A-03 fehlt in der Reihe." in text
    assert 'lang="en"' not in path.read_text(encoding="utf-8")
    assert (
        "Arbeiterinnen gesehen: in 2 von 2 eigenen Gründungen und in 3 von 5 des Vereins." in text
    )
    assert "(2 Tage verspätet)" in text
    assert not re.search(r"\b(yours|looks|queens|due)\b", text)


def test_the_page_asks_for_nothing_and_is_in_order(page_of_a):
    reader = Reader(page_of_a.read_text(encoding="utf-8"))
    assert {t for t, _ in reader.tags}.isdisjoint({"script", "iframe", "img", "form", "base"})
    policy = next(a["content"] for t, a in reader.tags if a.get("http-equiv"))
    assert policy.startswith("default-src 'none'")
    ids = [a["id"] for _, a in reader.tags if a.get("id")]
    assert len(ids) == len(set(ids))
    for tag, attrs in reader.tags:
        if tag == "a" and "download" not in attrs:
            assert attrs["href"][1:] in ids  # no club page lies beside it, so none is linked
    labels = [a["aria-label"] for _, a in reader.tags if a.get("role") == "region"]
    assert len(labels) == len(set(labels)) >= 3


@pytest.mark.needs_program
@pytest.mark.parametrize("width", [360, 1280])
def test_it_opens_without_error_request_or_sideways_scroll(browser, page_of_a, width):
    shown, seen, context = opened(browser, page_of_a.parent, page_of_a.name, width, "dark")
    assert shown.evaluate("document.documentElement.scrollWidth") <= width
    assert seen["console"] == []
    assert len([u for u in seen["requests"] if not u.startswith("data:")]) == 1
    context.close()
