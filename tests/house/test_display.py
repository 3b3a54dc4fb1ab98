"""Results speak for themselves in a terminal and in a notebook."""

import html.parser
from dataclasses import replace

import pandas as pd

from cohort import Priors, read_study
from cohort.base.display import Shown
from cohort.history import history
from cohort.model.sample import prepare
from cohort.outcomes import prior_draws
from cohort.results import Results

EMPTY = pd.DataFrame({"compared": [True, True, False]})


def results(settled):
    row = {"genus": "average", "queens": 3, "quantity": "same_queens_count", "day": 160}
    row |= {"reading": "seen"}
    row |= {"mean": -0.846, "low": -1.131, "high": -0.557, "level": 0.9}
    diagnosis = {"settled": settled, "headline": 3, "reasons": ["one <b>way</b> is missing"]}
    return Results(
        pd.DataFrame(
            [row | {"reading": "alike", "mean": -9.5}, row, row | {"day": 60, "mean": 0.1}]
        ),
        EMPTY,
        EMPTY,
        EMPTY,
        diagnosis,
        {"title": "Club & Sons"},
    )


def test_the_demo_in_a_few_lines():
    study = read_study("data/demo")
    for shown in (study, history(study)):
        text = repr(shown)
        assert len(text.splitlines()) <= 6
        assert max(map(len, text.splitlines())) < 160
        assert f"{len(study.foundings)}" in text
        assert "DataFrame" not in text


def test_a_design_and_draws_say_their_sizes_and_no_number():
    """A thousand lines of arrays are of no use to whoever types the name; alike are equal."""
    past = history(read_study("data/demo"))
    design, _ = prepare(past, adjust=["housing"])
    drawn = prior_draws(design, Priors(), seed=1, draws=20)
    for shown in (design, drawn, replace(design, variant="lasting")):
        text = repr(shown)
        assert len(text.splitlines()) <= 6
        assert max(map(len, text.splitlines())) < 160
        assert "array" not in text
    assert f"{len(design.foundings)} foundings of {len(design.genera)} kinds" in repr(design)
    assert "housing" in repr(design)
    assert "lasting" in repr(replace(design, variant="lasting"))
    assert "20 draws" in repr(drawn)
    assert "one not yet tried" in repr(drawn)
    assert design == prepare(past, adjust=["housing"])[0]
    assert design != replace(design, variant="lasting")
    assert drawn != replace(drawn, params=drawn.params + 1.0)


def test_results_say_the_same_queens_both_ways_and_when_they_must_not():
    assert "-0.85 (90%: -1.13 to -0.56)" in repr(results(True))
    assert "+0.10" not in repr(results(True))  # the last day only
    assert "-9.50" not in repr(results(True))  # as seen
    assert "-0.85" not in repr(results(False))
    assert "way" in repr(results(False))


def test_the_notebook_gets_a_table_with_nothing_to_run():
    class Cells(html.parser.HTMLParser):
        def __init__(self):
            super().__init__()
            self.tags, self.text = [], []

        def handle_starttag(self, tag, attrs):
            self.tags.append(tag)

        def handle_data(self, data):
            self.text.append(data)

    cells = Cells()
    cells.feed(results(False)._repr_html_())
    assert set(cells.tags) == {"table", "caption", "tbody", "tr", "th", "td"}
    assert "Results: Club & Sons" in cells.text
    assert "one <b>way</b> is missing" in cells.text


def test_a_class_without_facts_is_a_slip_of_ours():
    class Bare(Shown):
        pass

    try:
        repr(Bare())
    except NotImplementedError:
        return
    raise AssertionError("a class that is shown must say its facts")
