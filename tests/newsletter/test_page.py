"""The page: one set of numbers in sentence, picture, table, web page and print; nothing harmful."""

from __future__ import annotations

import base64
import dataclasses
import hashlib
import re
from html.parser import HTMLParser
from itertools import pairwise

import made
import pytest
from made_results import spoken
from pypdf import PdfReader
from svg_read import words_of

from cohort import figures
from cohort.figures import ink, svg
from cohort.figures.labels import ENGLISH
from cohort.figures.names import of_100
from cohort.newsletter import content, story, voice, write_newsletter
from cohort.newsletter.page import rich
from cohort.newsletter.speech import without_marks

CSV = "data:text/csv;charset=utf-8;base64,"
PAGE_OF = {
    one.name: f"{'newsletter' if one.section in ('short', 'sure', 'fates') else 'details'}.html"
    for one in figures.PICTURES
}
"""Page on which a picture stands."""
HOSTILE = '<script>alert(1)</script>"><img src=x onerror=alert(2)>'
TRAVERSAL = "../../etc/x"


class Reader(HTMLParser):
    """Text, tags and attributes of a page."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self._quiet = 0
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        self._quiet += tag in ("style", "title", "desc")

    def handle_endtag(self, tag):
        self._quiet -= tag in ("style", "title", "desc")

    def handle_data(self, data):
        if not self._quiet:
            self.words.append(data)

    @property
    def text(self) -> str:
        return " ".join("".join(self.words).split())


@pytest.fixture(scope="module")
def page(written):
    return Reader((written / "newsletter.html").read_text(encoding="utf-8"))


def printed(path) -> str:
    text = " ".join(p.extract_text() for p in PdfReader(path).pages)
    return re.sub(r"-\s+(?=[a-z])", "", " ".join(text.split()))


# ------------------------------------------------------------------ the files


def test_all_files_are_there(written):
    wanted = {"newsletter.html", "newsletter.pdf", "details.html", "story.txt", "captions.txt"}
    assert wanted <= {p.name for p in written.iterdir()}
    assert (written / "newsletter.html").stat().st_size < 600_000


def test_print_has_two_pages_of_a4(written):
    pages = PdfReader(written / "newsletter.pdf").pages
    assert len(pages) == 2
    box = pages[0].mediabox
    assert [float(box.width), float(box.height)] == pytest.approx([595.28, 841.89], abs=0.1)


# ------------------------------------------------------------------ one set of numbers


def test_the_headline_paragraph_is_word_for_word_the_same_everywhere(demo, written, page):
    from cohort.newsletter.words import sayings

    said = next(s for s in sayings(demo, voice("en")) if s.genus == "average")
    text = " ".join(without_marks(said.head).split())  # as the readers below see blanks
    assert text in page.text
    assert page.text.count(text) == 1
    assert text in " ".join((written / "story.txt").read_text(encoding="utf-8").split())
    assert text in printed(written / "newsletter.pdf")


def test_sentence_picture_and_table_give_one_number(demo, written, page):
    """The chance of a colony for groups of all kinds: five places, one number."""
    table = spoken(demo.results.comparisons)
    from cohort.nonparametric.counts import headline_size

    size = headline_size(demo.history.foundings)
    row = table[(table["quantity"] == "chance_per_founding") & (table["genus"] == "average")
                & (table["arm"] == "multi") & (table["queens"] == size)
                & (table["day"] == 180)].iloc[0]  # fmt: skip
    mean, low, high = (of_100(row[c]) for c in ("mean", "low", "high"))
    assert f"Of 100 trios housed together, we expect {mean} to have a colony" in page.text
    assert f"All kinds together: of 100 sets {mean} housed together" in _alts(written)["both_ways"]
    cells = _table(written / "newsletter.html", "both_ways")
    assert ["all kinds together", any_colony(size), "together", "model", str(mean), str(low),
            str(high), str(row["foundings"])] in cells  # fmt: skip
    details = _rows((written / "details.html").read_text(encoding="utf-8"))
    assert any(r[:7] == ["all kinds together", "together", str(size), "180", str(mean), str(low),
                         str(high)] for r in details)  # fmt: skip


def any_colony(size: int) -> str:
    """What the first panel of the fair pair is called."""
    return ENGLISH.any_colony.format(k=size, word=ENGLISH.numbers[size])


def _alts(folder, name: str = "newsletter.html") -> dict[str, str]:
    """What each picture of a page tells a reader who cannot see it."""
    text = (folder / name).read_text(encoding="utf-8")
    drawn = re.findall(r'<figure id="picture-(\w+)".*?(<svg.*?</svg>)', text, flags=re.S)
    return {name: svg.told(picture) for name, picture in drawn}


def _rows(text: str) -> list[list[str]]:
    rows = re.findall(r"<tr>(.*?)</tr>", text, flags=re.S)
    return [
        [" ".join(re.sub(r"<[^>]+>", "", c).split()) for c in re.findall(
            r"<t[hd][^>]*>(.*?)</t[hd]>", row, flags=re.S)]
        for row in rows
    ]  # fmt: skip


def _table(path, name: str) -> list[list[str]]:
    text = path.read_text(encoding="utf-8")
    start = text.index(f'id="picture-{name}"')
    return _rows(text[start : text.index("</figure>", start)])


def test_the_hundred_queens_are_the_same_in_picture_and_table(written):
    words = svg.words((written / "figures" / "hundred-175.svg").read_text(encoding="utf-8"))
    table = _table(written / PAGE_OF["hundred"], "hundred")[1:]
    in_picture = sorted(int(w.split()[0]) for w in words if re.match(r"\d+ +\D", w))
    assert in_picture == sorted(int(r[2]) for r in table if int(r[2]))
    shares = sorted(int(w) for w in words if w.isdigit())
    assert shares == sorted(int(r[3]) for r in table if int(r[2]))


def test_the_flow_is_the_same_in_picture_and_table(written):
    words = " ".join(svg.words((written / "figures" / "flow-85.svg").read_text(encoding="utf-8")))
    for step, _, queens in _table(written / PAGE_OF["flow"], "flow")[1:]:
        assert step in words
        assert f"{queens} queen" in words


def test_captions_name_every_picture_and_its_files(written):
    text = (written / "captions.txt").read_text(encoding="utf-8")
    for path in (written / "figures").iterdir():
        assert path.name in " ".join(text.split())


# ------------------------------------------------------------------ the page as a page


def test_nothing_is_fetched_and_nothing_runs(written):
    for name in ("newsletter.html", "details.html"):
        text = (written / name).read_text(encoding="utf-8")
        reader = Reader(text)
        tags = {tag for tag, _ in reader.tags}
        assert not tags & {"script", "iframe", "object", "embed", "img", "form", "base"}
        for tag, attrs in reader.tags:
            assert not any(a.startswith("on") or a in ("style", "src") for a in attrs), (tag, attrs)
            for key in ("href", "xlink:href"):
                target = attrs.get(key) or "#"
                local = ("#", "details.html", "newsletter.html", "data:,")
                saved = tag == "a" and "download" in attrs and target.startswith(CSV)
                assert saved or target.startswith(local), target
        policy = next(a["content"] for t, a in reader.tags if a.get("http-equiv"))
        assert policy.startswith("default-src 'none'")
        assert "unsafe" not in policy
        style = re.search(r"<style>(.*?)</style>", text, flags=re.S)[1]
        digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
        assert f"'sha256-{digest}'" in policy


def test_links_inside_the_page_lead_somewhere_and_ids_are_unique(written):
    for name in ("newsletter.html", "details.html"):
        reader = Reader((written / name).read_text(encoding="utf-8"))
        ids = [a["id"] for _, a in reader.tags if a.get("id")]
        assert len(ids) == len(set(ids))
        for tag, attrs in reader.tags:
            if tag == "a" and (attrs["href"] or "").startswith("#"):
                assert attrs["href"][1:] in ids


def test_regions_bear_names_of_their_own(written):
    for name in ("newsletter.html", "details.html"):
        reader = Reader((written / name).read_text(encoding="utf-8"))
        labels = [a["aria-label"] for _, a in reader.tags if a.get("role") == "region"]
        assert len(labels) == len(set(labels)) >= 2


def test_the_page_has_order(page):
    levels = [int(tag[1]) for tag, _ in page.tags if re.fullmatch(r"h[1-6]", tag)]
    assert levels.count(1) == 1
    assert all(b - a <= 1 for a, b in pairwise(levels))
    tags = [tag for tag, _ in page.tags]
    assert {"main", "nav", "header", "footer", "figure", "figcaption", "details"} <= set(tags)
    assert next(a["lang"] for t, a in page.tags if t == "html") == "en"


def test_every_picture_says_what_it_shows(written):
    alts = _alts(written)
    alts |= _alts(written, "details.html")
    assert set(alts) == {one.name for one in figures.PICTURES}
    for name, alt in alts.items():
        assert len(alt) > 30, name
        assert re.search(r"\d", alt), name


def test_words_of_the_workshop_do_not_reach_the_page(page):
    bad = r"\b(signific\w*|arms?|horizon|hazard\w*|average genus|new genus)\b"
    assert not re.search(bad, page.text, re.I)
    attributes = " ".join(v or "" for _, a in page.tags for k, v in a.items() if "aria" in k)
    assert not re.search(bad, attributes, re.I)


def test_scientific_names_are_in_italics(written):
    text = (written / "newsletter.html").read_text(encoding="utf-8")
    body = text[text.index("<main>") :]
    body = re.sub(r'aria-label="[^"]*"', "", body)
    body = re.sub(r"<svg\b.*?</svg>", "", body, flags=re.S)
    for path in (written / "figures").glob("*.svg"):
        for _, word, look in words_of(path):
            assert (look.get("font-style") == "italic") == (word in made.GENERA), (path, word)
    for name in ("Lasius", "Messor"):
        for hit in re.finditer(name, body):
            before = body[max(0, hit.start() - 120) : hit.start()]
            inside = before.rstrip().endswith('<i class="name">')
            assert inside, body[hit.start() - 60 : hit.end() + 20]


def test_a_kind_not_yet_named_is_upright_and_said_so(make):
    material = make(genera=("Lasius", "kind brown"), per=20)
    said = content(material, figures.numbers(material), voice("en"))
    titles = [str(rich(kind.title)) for kind in said.kinds]
    assert any(t.startswith('<i class="name">Lasius</i>') for t in titles)
    assert any(t.startswith("Kind brown (not yet named)") for t in titles)


# ------------------------------------------------------------------ what keepers wrote


SECRET = "behind the shed of my neighbour"


@pytest.fixture(scope="module")
def hostile(make, tmp_path_factory):
    """A page of a study whose texts try to break out, in a folder of its own."""
    material = make(note=f"{SECRET} {HOSTILE}", names=(TRAVERSAL, HOSTILE))
    foundings = material.history.foundings.copy()
    foundings.loc[:1, "compared"] = False
    foundings.loc[:1, "left_out"] = "mites"
    settings = material.study.settings
    settings.title, settings.place = f"Study {HOSTILE}", HOSTILE
    material.study.faulty.loc[0] = [TRAVERSAL, HOSTILE, "x", 1]
    history = dataclasses.replace(material.history, foundings=foundings)
    top = tmp_path_factory.mktemp("hostile")
    out = top / "deep" / "out"
    paths = write_newsletter(dataclasses.replace(material, history=history), out)
    return top, out, paths


def test_a_note_with_a_script_and_an_id_with_a_path_are_harmless(hostile):
    top, out, paths = hostile
    assert all(out in path.resolve().parents for path in paths)
    assert {p.name for p in top.iterdir()} == {"deep"}
    assert {p.name for p in (top / "deep").iterdir()} == {"out"}
    for name in ("newsletter.html", "details.html"):
        text = (out / name).read_text(encoding="utf-8")
        assert "<script" not in text
        assert "<img" not in text
        assert {t for t, _ in Reader(text).tags}.isdisjoint({"script", "img"})
    assert "&lt;script&gt;" in (out / "newsletter.html").read_text(encoding="utf-8")


def test_notes_are_never_printed(hostile):
    _, out, _ = hostile
    for path in out.rglob("*"):
        if path.suffix in (".html", ".txt", ".svg"):
            assert SECRET not in path.read_text(encoding="utf-8")
    assert SECRET not in printed(out / "newsletter.pdf")


def test_keepers_are_counted_not_named(written):
    text = (written / "story.txt").read_text(encoding="utf-8")
    assert "by 5 keepers" in " ".join(text.split())


def test_names_of_foundings_stay_off_the_pages_unless_keepers_are_shown(demo, make, written):
    """A name such as K1-001 tells whose a founding is; the table and its CSV number them."""
    names = re.compile(r"\bK\d-\d{3}\b")
    assert any(names.fullmatch(str(name)) for name in demo.history.foundings["founding"])
    assert not demo.history.foundings["compared"].all()  # some were left out, and are listed
    for page in ("newsletter.html", "details.html"):
        reader = Reader((written / page).read_text(encoding="utf-8"))
        links = [a["href"] or "" for tag, a in reader.tags if tag == "a"]
        files = [base64.b64decode(x.removeprefix(CSV)).decode() for x in links if x.startswith(CSV)]
        assert files
        for text in (reader.text, *files, *(v or "" for _, a in reader.tags for v in a.values())):
            assert not names.search(text)
    shown = make()
    shown.study.settings.show_keepers = True
    said = content(shown, figures.numbers(shown), voice("en"))
    assert any(names.search(row[0]) for row in said.pictures["season"].table.rows)
    assert any(names.search(line) for line in said.left_out)


# ------------------------------------------------------------------ when nothing is compared


@pytest.mark.parametrize(
    ("wish", "line"),
    [(dict(shut=True), "The comparison did not settle"),
     (dict(multi=False, settled=False), "there is nothing to compare"),
     (dict(workers=False, shut=True), "No founding has had workers so far"),
     (dict(per=6, genera=("Lasius",)), "8 of each way are needed, and there are 3 apart and 3 to")],
)  # fmt: skip
def test_when_nothing_is_compared_the_page_says_why_and_tells_counts(make, wish, line):
    material = make(**wish)
    said = content(material, figures.numbers(material), voice("en"))
    text = " ".join(story.story(said).split())
    assert line in text
    assert "Of these queens: " in text
    assert re.search("What became of the queens|Too few foundings to compare yet", text)
    for chance in ("% sure", "of 100", "likely range", "better"):
        assert chance not in text


def test_a_page_from_counts_alone(make, tmp_path):
    write_newsletter(make(shut=True), tmp_path)
    line = "The comparison did not settle"
    text = Reader((tmp_path / "newsletter.html").read_text(encoding="utf-8")).text
    assert line in text
    assert "of 100 such" not in text
    assert line in printed(tmp_path / "newsletter.pdf")
    assert len(PdfReader(tmp_path / "newsletter.pdf").pages) == 2


def test_nothing_at_all(make, tmp_path):
    material = make(catches=False)
    empty = {name: getattr(material.history, name).iloc[:0] for name in ("foundings", "intervals")}
    study = dataclasses.replace(
        material.study, foundings=material.study.foundings.iloc[:0],
        checks=material.study.checks.iloc[:0], events=material.study.events.iloc[:0],
    )  # fmt: skip
    results = dataclasses.replace(
        material.results, comparisons=material.results.comparisons.iloc[:0],
        raw=material.results.raw.iloc[:0], curves=material.results.curves.iloc[:0],
        diagnosis={"settled": False, "reasons": ["nothing"]},
    )  # fmt: skip
    nothing = dataclasses.replace(
        material, history=dataclasses.replace(material.history, **empty), study=study,
        results=results,
    )  # fmt: skip
    write_newsletter(nothing, tmp_path)
    assert "There is no founding in the sheets yet" in (tmp_path / "newsletter.html").read_text(
        encoding="utf-8"
    )


def test_german_page(demo):
    speaker = voice("de")
    said = content(demo, figures.numbers(demo), speaker)
    text = story.story(said)
    flat = " ".join(text.split())
    assert "der wahrscheinliche Bereich" in flat
    assert "likely range" not in flat
    assert re.search(r"im Mittel \d,\d Kolonien", flat)
    picture = next(p for p in figures.PICTURES if p.name == "hundred")
    with ink.style():
        drawn = ink.as_svg(picture.draw(said.pictures["hundred"].drawing.frame, 85, speaker.labels),
                           "h", "h")  # fmt: skip
    assert any("Arbeiterin" in word for word in svg.words(drawn))


@pytest.mark.slow
def test_thirty_kinds_fit_two_printed_pages(make, tmp_path):
    genera = tuple(f"Genus{chr(97 + i)}" for i in range(26))
    write_newsletter(make(genera=genera, per=8), tmp_path)
    assert len(PdfReader(tmp_path / "newsletter.pdf").pages) == 2


@pytest.mark.parametrize(
    ("show", "told"), [(False, "by 5 keepers"), (True, "by K1, K2, K3, K4 and K5")]
)
def test_keepers_are_named_only_when_the_study_says_so(make, show, told):
    material = make()
    material.study.settings.show_keepers = show
    said = content(material, figures.numbers(material), voice("en"))
    assert told in said.study_line


def test_the_check_without_a_model_is_told(make):
    from cohort.newsletter.counts import permutation

    material = make()
    assert permutation(material, voice("en")) == ""
    done = dict(
        done=True, why="", day=180, foundings=26, single=12, multi=14, shuffles=4000,
        any=-0.12, any_expected=0.004, any_chance=0.236, count=-1.1, count_expected=-0.6,
        count_chance=0.004,
    )  # fmt: skip
    material.results.diagnosis["permutation"] = done
    text = permutation(material, voice("en"))
    assert "by 26 foundings for which lots were drawn" in text
    assert "came to -12 of 100 for at least one colony and to -1.1 colonies" in text
    assert "would turn up 24 and less than 1 times in 100." in text
    blank = dict.fromkeys(k for k in done if k.startswith(("any", "count")))
    few = done | blank | dict(done=False, why="few", single=2, multi=5, foundings=7, shuffles=0)
    material.results.diagnosis["permutation"] = few
    text = permutation(material, voice("en"))
    assert text.startswith("There is no check without a model")
    assert "the fate of 2 and 5 was known" in text


@pytest.mark.parametrize("species", ["", "invicta", "rubra"])
def test_every_language_has_the_cautions_of_each_kind(species):
    """English in the catalogue is word for word what the terms say; German says as many."""
    from cohort.newsletter.counts import _translated
    from cohort.terms import genera
    from cohort.terms.genus_list import EU_LISTED, PROTECTED_MOUNDS, SPREADING

    pairs = [(genus, species) for genus in genera.GENERA]
    pairs += [*EU_LISTED, *SPREADING, *(("Formica", name) for name in PROTECTED_MOUNDS)]
    english, german = voice("en"), voice("de")
    for genus, name in pairs:
        told = genera.cautions(genus, name)
        assert tuple(_translated(english, genus, name)) == told
        other = _translated(german, genus, name)
        assert len(other) == len(told)
        assert all(genus in text and "authority" not in text for text in other)
    assert any(len(genera.cautions(*pair)) > 1 for pair in pairs)
    assert _translated(german, "Lasius", "cf. neglectus")[0].startswith("Lasius neglectus ")
    assert "17. Juli 2025" in _translated(german, "Brachyponera", "chinensis")[0]


def test_what_did_not_enter_the_model_stands_in_the_details(make, tmp_path):
    from cohort.newsletter.page import render_details

    for shut, key, line in ((False, "notes", "Differences from keeper to keeper"),
                            (True, "reasons", "R-hat of the slope is 1.04")):  # fmt: skip
        material = make(per=10, shut=shut, genera=("Lasius",), multi=not shut)
        material.results.diagnosis[key] = [f"{line} <b>"]
        said = content(material, {}, voice("en"))
        text = render_details(said, material, "")
        assert f"<li>{line} &lt;b&gt;</li>" in text
        assert Reader(text).text.count(line) == 1
    material = make(per=10, genera=("Lasius",))
    material.results.diagnosis["reasons"] = ["was shut once"]
    assert "was shut once" not in render_details(content(material, {}, voice("en")), material, "")


def test_numbers_still_being_written_are_waited_for(make, tmp_path):
    """A disk that is full is told of, and no page stands beside half of the numbers."""

    class Written:
        def result(self, timeout=None):
            raise OSError("no space left")

    with pytest.raises(OSError, match="no space left"):
        write_newsletter(make(), tmp_path, written=Written())
    assert not (tmp_path / "newsletter.html").exists()
