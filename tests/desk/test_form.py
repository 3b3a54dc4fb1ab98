"""The form for the phone: tapped in a browser at phone size, and read back by our own reader."""

import datetime as dt
import re
import tomllib
from pathlib import Path

import pytest

from cohort.cli import main
from cohort.desk.form import LANGUAGES, form_material, render_form
from cohort.desk.log import log_notes
from cohort.sheets.notes import read_notes
from cohort.study import read_study
from cohort.terms import words

TODAY = dt.date.today()
STARTED = TODAY - dt.timedelta(days=30)
LAST = TODAY - dt.timedelta(days=4)
PHONE = {"width": 360, "height": 740}
FOUNDINGS = f"""founding,genus,started,queens,note
K1-01,Lasius,{STARTED},1,behind the kettle
K1-02,Lasius,{STARTED},3,
K1-03,Messor,{STARTED},2,</script><b>
K2-01,Messor,{STARTED},1,
K1-04,Lasius,{STARTED},1,
"""
CHECKS = f"""founding,date,queens_alive,workers,brood,note
K1-01,{LAST},1,0,larvae,private
K1-02,{LAST},2,4,,
K1-04,{LAST},0,0,,
K2-01,{LAST},1,0,,
"""


@pytest.fixture
def study(tmp_path):
    folder = tmp_path / "study"
    folder.mkdir()
    (folder / "foundings.csv").write_text(FOUNDINGS, "utf-8")
    (folder / "checks.csv").write_text(CHECKS, "utf-8")
    (folder / "study.toml").write_text('title = "Try <it>"\nseason = "2026"\n', "utf-8")
    return folder


def page_of(study, keeper="K1", language="en"):
    return render_form(form_material(read_study(study), keeper), language)


def test_a_form_holds_the_open_foundings_of_its_keeper_and_nothing_private(study):
    material = form_material(read_study(study), "K1")
    shown = [(f.number, f.queens, f.workers) for f in material.foundings]
    assert shown == [("K1-01", "1", "0"), ("K1-02", "2", "4"), ("K1-03", "2", "")]
    text = page_of(study)
    for word in ("kettle", "private", "K2-01", "K1-04"):
        assert word not in text
    assert "Try &lt;it&gt;" in text
    # nothing of the sheets can end the element that carries it
    data = re.search(r'id="data">(.*?)</script>', text, re.DOTALL)[1]
    assert "<" not in data


def test_a_form_asks_nothing_of_any_network(study):
    text = page_of(study)
    assert "default-src 'none'" in text
    assert not re.search(r"(?:src|href)=|https?://|@import|url\(|fetch\(|XMLHttp", text)


def test_every_language_has_the_same_words_and_every_word_of_the_sheets(study):
    folder = Path(__file__).parents[2] / "cohort" / "desk" / "form" / "words"
    told = {path.stem: tomllib.loads(path.read_text("utf-8")) for path in folder.glob("*.toml")}
    assert set(told) == set(LANGUAGES)
    fields = re.compile(r"\{(\w+)\}")
    for language, texts in told.items():
        assert set(texts) == set(told["en"]), language
        for key, text in texts.items():
            assert sorted(fields.findall(text)) == sorted(fields.findall(told["en"][key])), key
            assert text.strip()
    for language in LANGUAGES:
        page = page_of(study, language=language)
        assert "built-in" not in page  # a word whose key is also a method of a mapping
    assert {f"brood_{word}" for word in words.BROOD} <= set(told["en"])
    assert {f"end_{word.replace('-', '_')}" for word in words.END_WHY} <= set(told["en"])


def test_the_command_writes_a_page_for_each_keeper(study, tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    with pytest.raises(SystemExit) as end:
        main(["form", str(study), "--out", "pages"])
    assert end.value.code == 0
    assert sorted(p.name for p in (tmp_path / "pages").iterdir()) == [
        "form-K1.html",
        "form-K2.html",
    ]
    assert "cohort log" in capsys.readouterr().out
    (tmp_path / "pages" / "form-K1.html").write_text("a page of her own")
    with pytest.raises(SystemExit) as end:
        main(["form", str(study), "--out", "pages", "--keeper", "K1"])
    assert end.value.code == 1
    assert (tmp_path / "pages" / "form-K1.html").read_text() == "a page of her own"


# --- in a browser -------------------------------------------------------------------------------


class Phone:
    """A phone with one page of the form open."""

    def __init__(self, browser, path, **how):
        self.context = browser.new_context(
            viewport=PHONE, has_touch=True, is_mobile=True, locale="en-GB", **how
        )
        self.path, self.said, self.asked = path, [], []
        self.page = self.opened()

    def opened(self):
        page = self.context.new_page()
        page.on("console", lambda message: self.said.append(message.text))
        page.on("pageerror", lambda fault: self.said.append(str(fault)))
        page.on("request", lambda request: self.asked.append(request.url))
        page.goto(self.path.as_uri())
        return page

    def again(self):
        """The page closed in the middle and opened anew."""
        self.page.close()
        self.page = self.opened()

    def open(self, number):
        self.page.locator("#list button", has_text=number).tap()

    def pick(self, place, value):
        self.page.locator(f"#{place} button[data-value='{value}']").tap()

    def lines(self):
        """Close the founding that is open, and see what would be sent."""
        self.last = self.page.locator("#which").inner_text() if self.is_open() else ""
        if self.last:
            self.page.locator("#keep").tap()
        self.page.locator("#send").tap()
        return self.page.locator("#lines").input_value()

    def is_open(self):
        return self.page.locator("#entry").is_visible()

    def back(self):
        """To the founding that was open."""
        self.page.locator("#back").tap()
        if self.last:
            self.open(self.last.split()[0])


@pytest.fixture
def phone(browser, study, tmp_path):
    path = tmp_path / "form-K1.html"
    path.write_text(page_of(study), "utf-8")
    held = Phone(browser, path)
    yield held
    held.context.close()
    assert held.said == []
    assert [url for url in held.asked if not url.startswith("file:")] == []


def test_what_is_tapped_is_read_by_our_own_reader(phone, study, tmp_path):
    phone.open("K1-02")
    phone.pick("queens", "1")
    phone.pick("workers", "10+")
    phone.pick("brood", "pupae")
    phone.pick("events", "fight")
    phone.page.locator("#note").fill("lost the lid, escaped none")
    phone.page.locator("#keep").tap()
    phone.page.locator("#rest").check()
    text = phone.lines()
    assert text.split("\n") == [
        TODAY.isoformat(),
        "K1-02 1 10+ pupae fight note: lost the lid, escaped none",
        "rest same",
        "",
    ]
    sent = tmp_path / f"checks-K1-{TODAY}.txt"
    sent.write_text(text, "utf-8")
    done = log_notes(study, sent)  # the file's name tells the keeper: rest is of K1 alone
    assert done.rows == 3
    assert log_notes(study, sent).rows == 0  # sent twice
    read = read_study(study)
    mine = read.checks[read.checks["date"] == read.checks["date"].max()].set_index("founding")
    assert set(mine.index) == {"K1-01", "K1-02", "K1-03"}
    assert mine.loc["K1-02", "queens_alive"] == 1
    assert mine.loc["K1-03", "queens_alive"] == 2
    assert mine.loc["K1-02", "note"] == "lost the lid, escaped none"


def test_every_line_a_form_can_make_is_understood(phone):
    """Each chip by itself, and a queen who left: none of it is refused, all of it comes back."""
    page = phone.page
    phone.open("K1-02")
    for summary in page.locator("details summary").all():
        summary.tap()
    for place in ("queens", "workers", "brood", "events", "handed", "ended"):
        values = page.locator(f"#{place} button").evaluate_all(
            "all => all.map(b => b.dataset.value)"
        )
        assert values
        for value in values:
            phone.pick(place, value)
            tables, findings = read_notes(phone.lines().encode(), "checks.txt")
            assert findings == [], value
            seen = place in ("queens", "workers", "brood")
            assert [table.sheet for table in tables] == ["checks" if seen else "events"]
            phone.back()
            phone.pick(place, value)  # and off again
    phone.pick("queens", "1")
    phone.pick("events", "escaped")
    text = phone.lines()
    # she was there at the look, and left after it
    assert "K1-02 2 queens-out 1 escaped" in text
    tables, findings = read_notes(text.encode(), "checks.txt")
    assert findings == []
    assert tables[1].frame.loc[0, ["event", "number", "other"]].tolist() == [
        "queens-out",
        "1",
        "escaped",
    ]


def test_a_founding_handed_over_is_the_other_keepers_from_the_next_day(phone, study, tmp_path):
    page, yesterday = phone.page, TODAY - dt.timedelta(days=1)
    page.locator("#day").fill(yesterday.isoformat())
    phone.open("K1-02")
    for summary in page.locator("details summary").all():
        summary.tap()
    phone.pick("queens", "2")
    phone.pick("ended", "given")
    phone.pick("handed", "K2")  # what goes on has not ended
    phone.pick("events", "moved")
    page.locator("#keep").tap()
    page.locator("#rest").check()
    page.locator("#day").fill(TODAY.isoformat())
    row = page.locator("#list button", has_text="K1-02")
    assert "handed over to K2" in row.inner_text()
    page.locator("#rest").check()
    text = phone.lines()
    assert text.split("\n")[1] == "K1-02 2 moved handed-over K2"
    page.locator("#done").tap()
    phone.again()
    row = phone.page.locator("#list button", has_text="K1-02")
    assert "handed over to K2" in row.inner_text()
    sent = tmp_path / f"checks-K1-{TODAY}.txt"
    sent.write_text(text, "utf-8")
    log_notes(study, sent)
    read = read_study(study)
    assert [f.number for f in form_material(read, "K1").foundings] == ["K1-01", "K1-03"]
    assert [f.number for f in form_material(read, "K2").foundings] == ["K1-02", "K2-01"]
    days = read.checks.loc[read.checks["founding"] == "K1-02", "date"].dt.date
    assert days.max() == yesterday  # `rest same` of today speaks of it no longer


def test_a_keeper_of_whom_the_form_knows_nothing_is_typed(phone):
    phone.open("K1-02")
    for summary in phone.page.locator("details summary").all():
        summary.tap()
    phone.page.locator("#sign").fill(" K 9! ")
    assert "K1-02 handed-over K9" in phone.lines()
    phone.back()
    assert phone.page.locator("#sign").input_value() == "K9"
    phone.pick("handed", "K2")
    assert phone.page.locator("#sign").input_value() == ""
    text = phone.lines()
    assert "K1-02 handed-over K2" in text
    tables, findings = read_notes(text.encode(), "checks.txt")
    assert (findings, tables[0].frame.loc[0, "other"]) == ([], "K2")


def test_who_has_no_sign_hands_nothing_over(study):
    assert 'id="handed"' not in page_of(study, keeper="")
    assert form_material(read_study(study), "").others == ()


def test_entries_outlive_a_reload_and_a_page_closed_in_the_middle(phone):
    phone.open("K1-01")
    phone.pick("queens", "1")
    phone.page.reload()
    assert phone.page.locator("#which").inner_text().startswith("K1-01")
    phone.pick("workers", "2")
    phone.again()
    assert "K1-01 1 2" in phone.lines()
    phone.page.locator("#done").tap()  # they have them
    assert phone.page.locator("#send").is_disabled()
    phone.again()
    # what was sent is the last look of the next one
    assert "workers 2" in phone.page.locator("#list button", has_text="K1-01").inner_text()


def test_warnings_are_those_of_the_log(phone):
    phone.open("K1-02")
    phone.pick("queens", "3")
    assert phone.page.locator("#queenswarn").is_visible()
    phone.pick("queens", "2")
    assert phone.page.locator("#queenswarn").is_hidden()
    phone.pick("workers", "0")
    assert phone.page.locator("#workerswarn").is_visible()
    ahead = (TODAY + dt.timedelta(days=2)).isoformat()
    phone.page.locator("#day").fill(ahead)
    assert phone.page.locator("#daywarn").is_visible()


def test_a_phone_that_keeps_nothing_says_so_and_still_sends(browser, study, tmp_path):
    path = tmp_path / "form.html"
    path.write_text(page_of(study), "utf-8")
    context = browser.new_context(viewport=PHONE, has_touch=True, is_mobile=True)
    context.add_init_script(
        "Object.defineProperty(window, 'localStorage',"
        " { get() { throw new DOMException('no', 'SecurityError'); } });"
    )
    page = context.new_page()
    page.goto(path.as_uri())
    assert page.locator("#refused").is_visible()
    page.locator("#rest").check()
    page.locator("#send").tap()
    assert "rest same" in page.locator("#lines").input_value()
    context.close()


def test_two_keepers_on_one_phone_do_not_mix(browser, study, tmp_path):
    for keeper in ("K1", "K2"):
        (tmp_path / f"{keeper}.html").write_text(page_of(study, keeper), "utf-8")
    context = browser.new_context(viewport=PHONE, has_touch=True, is_mobile=True)
    one, two = context.new_page(), context.new_page()
    one.goto((tmp_path / "K1.html").as_uri())
    one.locator("#rest").check()
    two.goto((tmp_path / "K2.html").as_uri())
    assert two.locator("#send").is_disabled()
    assert not two.locator("#rest").is_checked()
    context.close()


@pytest.mark.parametrize(
    ("scheme", "language"), [("light", "de"), ("dark", "de"), ("light", "es"), ("light", "fr")]
)
def test_targets_are_large_and_nothing_runs_out_of_the_phone(
    browser, study, tmp_path, scheme, language
):
    path = tmp_path / "form.html"
    path.write_text(page_of(study, language=language), "utf-8")
    context = browser.new_context(
        viewport=PHONE, has_touch=True, is_mobile=True, color_scheme=scheme
    )
    page = context.new_page()
    page.goto(path.as_uri())
    page.locator("#list button").first.tap()
    for summary in page.locator("details summary").all():
        summary.tap()
    sizes = page.locator("button:visible, summary:visible, input:visible").evaluate_all(
        "all => all.map(e => { const box = (e.closest('label') || e).getBoundingClientRect();"
        " return [e.id || e.textContent, box.width, box.height]; })"
    )
    # WCAG 2.2, 2.5.5 (AAA): 44 by 44 CSS pixels
    assert [one for one in sizes if one[1] < 44 or one[2] < 44] == []
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    context.close()
