"""Pictures of a few queens say no "of 100", and no number is hidden by another."""

from __future__ import annotations

import dataclasses
import re
from itertools import pairwise

import numpy as np
import pandas as pd
import pytest

from cohort import figures
from cohort.figures import catches, hundred, ink, queens_left, svg
from cohort.figures.labels import ENGLISH, read_labels
from cohort.figures.material import NotDrawn

WIDTHS = ink.WIDTHS


def words(draw, frame, width, labels=ENGLISH):
    with ink.style():
        return svg.words(ink.as_svg(draw(frame, width, labels), "it", "it"))


# ------------------------------------------------------------------ catches


def a_line(*counts: int, days: tuple[int, ...] = ()) -> pd.DataFrame:
    """Catches of one kind at a light, on the days after 1 June."""
    start = pd.Timestamp("2025-06-01")
    at = days or tuple(range(len(counts)))
    return pd.DataFrame(
        {"method": "light", "genus": "Lasius", "named": True,
         "date": [start + pd.Timedelta(days=d) for d in at], "queens": counts}
    )  # fmt: skip


@pytest.mark.parametrize("width", WIDTHS)
def test_circles_on_each_other_show_both_numbers(width):
    """The demo has eight queens one night and ten the next."""
    far = pd.concat([a_line(8, 10), a_line(3, days=(90,))])
    assert "8 + 10" in words(catches.draw_catches, far, width)
    assert "8" in words(catches.draw_catches, a_line(8, 10, days=(0, 60)), width)


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("language", ["en", "de"])
def test_no_number_of_a_long_run_of_nights_is_lost(width, language):
    labels = read_labels(language)
    counts = [int(n) for n in np.random.default_rng(2).integers(1, 30, 40)]
    frame = pd.concat([a_line(*counts), a_line(7, days=(100,))])
    total, days = 0, 0
    for word in words(catches.draw_catches, frame, width, labels):
        if many := re.fullmatch(labels.on_days.format(n=r"(\d+)", days=r"(\d+)"), word):
            total, days = total + int(many[1]), days + int(many[2])
        elif re.fullmatch(r"\d+( \+ \d+)*", word):
            few = [int(n) for n in word.split(" + ")]
            total, days = total + sum(few), days + len(few)
    assert (total, days) == (sum(counts) + 7, 41)


@pytest.mark.parametrize("seed", range(20))
def test_numbers_put_together_lie_apart_and_none_is_missing(seed):
    rng = np.random.default_rng(seed)
    at = np.sort(rng.uniform(0, 60, 25))
    queens = rng.integers(1, 40, 25).tolist()

    def wide(own):
        return 1.5 * len(own) if len(own) <= 3 else 9.0

    made = catches.together(at, queens, wide)
    assert [n for _, own in made for n in own] == queens
    for (left, a), (right, b) in pairwise(made):
        assert right - left >= (wide(a) + wide(b)) / 2 + catches.APART - 1e-9


# ------------------------------------------------------------------ a hundred queens


def some_queens(demo, single: int, multi: int):
    """A study of so many queens singly and in pairs, all alive with workers."""
    sizes = [1] * single + [2] * (multi // 2)
    table = pd.DataFrame(
        {"arm": ["single" if k == 1 else "multi" for k in sizes], "size": sizes, "compared": True,
         "first_by": 40.0, "queens_end": sizes, "end_kind": "followed"}
    )  # fmt: skip
    none = pd.DataFrame({"code": [], "by": [], "lost": []}, dtype=float)
    history = dataclasses.replace(demo.history, foundings=table, intervals=none)
    return dataclasses.replace(demo, history=history)


@pytest.mark.parametrize("width", WIDTHS)
def test_three_queens_are_drawn_as_three_squares(demo, width):
    frame = hundred.hundred_frame(some_queens(demo, 3, 46))
    assert frame["squares"].tolist() == frame["queens"].tolist()
    with ink.style():
        figure = hundred.draw_hundred(frame, width, ENGLISH)
    drawn = [sum(len(c.get_paths()) for c in axes.collections[:1]) for axes in figure.axes]
    assert drawn == [3, 46]
    told = words(hundred.draw_hundred, frame, width)
    assert any("3  in a colony" in w for w in told)
    assert not any("100" in w for w in told)


def test_enough_queens_are_shown_as_of_a_hundred(demo):
    frame = hundred.hundred_frame(some_queens(demo, hundred.FEWEST, 46))
    assert frame.groupby("way")["squares"].sum().tolist() == [100, 100]
    assert not hundred.one_by_one(frame)
    assert hundred.one_by_one(hundred.hundred_frame(some_queens(demo, hundred.FEWEST - 1, 46)))


def test_more_queens_than_a_hundred_still_fit():
    for squares in (1, 99, 100, 101, 113, 400, 1000):
        side = hundred.grid_side(squares)
        assert side >= 10
        assert side**2 >= squares


@pytest.mark.parametrize("language", ["en", "de"])
def test_the_words_round_few_queens_say_no_hundred(demo, language):
    from cohort.newsletter import captions, tables, voice

    speaker = voice(language)
    for single, few in ((5, True), (40, False)):
        material = some_queens(demo, single, 46)
        drawings = {"hundred": figures.Drawing("hundred", hundred.hundred_frame(material))}
        caption, alt = captions.captions(drawings, demo, speaker, "")["hundred"]
        short = captions.short_captions(drawings, (), demo, speaker)["hundred"]
        for text in (caption, alt, short):
            assert ("100" not in text) is few, text
        table = tables.of_picture("hundred", drawings["hundred"].frame, speaker)
        assert {row[-1] for row in table.rows} == ({"–"} if few else {"0", "100"})


# ------------------------------------------------------------------ queens left


def left(groups: int, until: float = 90.0) -> pd.DataFrame:
    """Curves of groups of one kind, of which all but one leave on a day."""
    rows = []
    for name, share in (("0", 0.0), ("1", 0.25), ("several", 0.75)):
        for day in (0.0, 30.0, 60.0, 90.0):
            at_risk = groups if day <= until else 1
            rows.append((f"queens_left_{name}", "Lasius", "multi", day, share, 0, 1, at_risk))
            rows.append((f"queens_left_{name}", "all", "multi", day, share, 0, 1, at_risk))
    columns = ["curve", "genus", "arm", "day", "estimate", "low", "high", "at_risk"]
    return pd.DataFrame(rows, columns=columns)


def frame_of(demo, curves):
    results = dataclasses.replace(demo.results, curves=curves)
    return queens_left.queens_left_frame(dataclasses.replace(demo, results=results))


@pytest.mark.parametrize("groups", [1, 2, 3])
def test_of_a_hundred_is_not_said_of_three_groups(demo, groups):
    with pytest.raises(NotDrawn, match="fewer than four groups"):
        frame_of(demo, left(groups))


def test_four_groups_are_shown_as_long_as_four_are_followed(demo):
    assert frame_of(demo, left(4))["day"].max() == 90
    frame = frame_of(demo, left(4, until=60.0))
    assert frame["day"].max() == 60
    assert (frame["at_risk"] == 4).all()


def test_no_curve_at_all_is_told_and_is_no_fault(demo):
    """Day one of a study: the table of curves has headings only."""
    from cohort.sheets import written

    for empty in (written.empty("curves"), demo.results.curves.iloc[:0]):
        with pytest.raises(NotDrawn):
            frame_of(demo, empty)
