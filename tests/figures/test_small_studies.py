"""Pictures of a few queens say no "of 100", and no number is hidden by another."""

from __future__ import annotations

import dataclasses

import numpy as np
import pandas as pd
import pytest
from matplotlib.collections import PatchCollection

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
def test_each_day_has_its_number(width):
    """The demo has eight queens one night and ten the next."""
    told = words(catches.draw_catches, pd.concat([a_line(8, 10), a_line(3, days=(90,))]), width)
    assert [word for word in told if word.isdigit()] == ["8", "10", "3"]
    assert {"1 Jun", "2 Jun", "30 Aug"} <= set(told)


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("language", ["en", "de", "es", "fr"])
@pytest.mark.parametrize(("nights", "unit"), [(12, "day"), (60, "week"), (400, "month")])
def test_no_number_of_a_long_run_of_nights_is_lost(width, language, nights, unit):
    labels = read_labels(language)
    counts = [int(n) for n in np.random.default_rng(2).integers(1, 30, nights)]
    frame = pd.concat([a_line(*counts), a_line(7, days=(nights + 60,))])
    assert catches.binned(frame)[1] == unit
    told = words(catches.draw_catches, frame, width, labels)
    assert sum(int(word) for word in told if word.isdigit()) == sum(counts) + 7
    with ink.style():
        assert not ink.overlaps(catches.draw_catches(frame, width, labels))


def test_kinds_of_one_night_are_stacked_and_as_long_as_their_numbers():
    frame = pd.concat([a_line(8), a_line(4).assign(genus="Messor"), a_line(24, days=(3,))])
    with ink.style():
        figure = catches.draw_catches(frame, 175, ENGLISH)
    boxes = [p for axes in figure.axes for p in axes.patches if abs(p.get_height() - 2.6) < 1e-9]
    long = [box.get_width() for box in boxes]
    assert long == pytest.approx([long[2] * 8 / 24, long[2] * 4 / 24, long[2]])
    assert boxes[1].get_x() == pytest.approx(boxes[0].get_x() + long[0])


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


def squares(figure) -> list[int]:
    """Squares drawn, way by way."""
    grids = [
        [c for c in axes.collections if isinstance(c, PatchCollection)] for axes in figure.axes
    ]
    return [sum(len(c.get_paths()) for c in grid) for grid in grids if grid]


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize(("single", "multi"), [(3, 46), (36, 112), (150, 300)])
def test_there_are_as_many_squares_as_queens(demo, width, single, multi):
    frame = hundred.hundred_frame(some_queens(demo, single, multi))
    with ink.style():
        figure = hundred.draw_hundred(frame, width, ENGLISH)
        assert not ink.overlaps(figure)
    assert squares(figure) == [single, multi]
    told = words(hundred.draw_hundred, frame, width)
    assert any(" ".join(w.split()).startswith(f"{single} in a colony") for w in told)
    assert any("of 100" in w for w in told) == (single >= hundred.FEWEST)


def test_enough_queens_are_told_as_of_a_hundred_too(demo):
    frame = hundred.hundred_frame(some_queens(demo, hundred.FEWEST, 46))
    assert frame.groupby("way")["of_100"].sum().tolist() == [100, 100]
    assert not hundred.few(frame)
    assert hundred.few(hundred.hundred_frame(some_queens(demo, hundred.FEWEST - 1, 46)))


def test_more_queens_than_a_hundred_still_fit():
    for squares in (1, 99, 100, 101, 113, 400, 1000):
        side = hundred.grid_side(squares)
        assert side >= 10
        assert side**2 >= squares


@pytest.mark.parametrize("language", ["en", "de", "es", "fr"])
def test_no_words_round_the_squares_say_a_hundred_and_of_few_no_table_does(demo, language):
    from cohort.newsletter import captions, tables, voice

    speaker = voice(language)
    for single, few in ((5, True), (40, False)):
        material = some_queens(demo, single, 46)
        drawings = {"hundred": figures.Drawing("hundred", hundred.hundred_frame(material))}
        caption, alt = captions.captions(drawings, demo, speaker, "")["hundred"]
        short = captions.short_captions(drawings, (), demo, speaker)["hundred"]
        for text in (caption, alt, short):
            assert "100" not in text
        table = tables.of_picture("hundred", drawings["hundred"].frame, speaker)
        assert {row[-1] for row in table.rows} == ({"–"} if few else {"0", "100"})


# ------------------------------------------------------------------ queens left


def some_groups(demo, left, *, until=180.0, genus="Lasius", workers=40.0):
    """A study of groups of three that have so many queens left from day 70 on."""
    n = len(left)
    table = pd.DataFrame(
        {"arm": "multi", "size": 3, "compared": True, "genus": genus, "named": True,
         "founding": [str(i) for i in range(n)], "keeper": "K", "entry_queens": 3,
         "first_by": workers, "end": until, "end_kind": "followed", "lost_by": np.inf,
         "started": pd.Timestamp("2025-06-01"), "queens_end": left}
    )  # fmt: skip
    table.loc[table["queens_end"] == 0, ["lost_by", "end_kind"]] = [70.0, "all lost"]
    table.loc[table["queens_end"] == 0, "end"] = 70.0
    spans = pd.DataFrame(
        [(i, a, b, alive, at, alive - at) for i, k in enumerate(left)
         for a, b, alive, at in ((0.0, 50.0, 3, 3), (50.0, 70.0, 3, k), (70.0, until, k, k))
         if alive and b <= until],
        columns=["code", "after", "by", "at_risk", "alive", "lost"],
    )  # fmt: skip
    history = dataclasses.replace(demo.history, foundings=table, intervals=spans)
    return dataclasses.replace(demo, history=history)


def test_groups_are_counted_by_queens_left(demo):
    frame = queens_left.queens_left_frame(some_groups(demo, [0, 1, 1, 2, 3, 1]))
    row = frame.iloc[0]
    assert (row["none"], row["one"], row["several"], row["groups"]) == (1, 3, 2, 6)
    assert row["day"] == 90
    assert len(frame) == 1  # of one kind there is nothing to pool


def test_a_group_whose_fate_is_not_known_on_the_day_is_in_no_bar(demo):
    """Looked at to day 80: 40 days after the first worker, so 30 may be shown and 60 not."""
    row = queens_left.queens_left_frame(some_groups(demo, [1, 1, 2, 3, 1], until=80.0)).iloc[0]
    assert (row["day"], row["one"], row["several"]) == (30, 3, 2)


@pytest.mark.parametrize("groups", [1, 2, 3])
def test_nothing_is_drawn_of_three_groups(demo, groups):
    with pytest.raises(NotDrawn, match="fewer than four groups"):
        queens_left.queens_left_frame(some_groups(demo, [1] * groups))


def test_groups_without_workers_are_not_spoken_of(demo):
    with pytest.raises(NotDrawn, match="fewer than four groups"):
        queens_left.queens_left_frame(some_groups(demo, [1] * 9, workers=np.inf))


@pytest.mark.parametrize("width", WIDTHS)
def test_counts_stand_in_bars_as_long_as_they_are(demo, width):
    frame = queens_left.queens_left_frame(some_groups(demo, [0] * 2 + [1] * 38 + [2] * 40))
    with ink.style():
        figure = queens_left.draw_queens_left(frame, width, ENGLISH)
        assert not ink.overlaps(figure)
    told = words(queens_left.draw_queens_left, frame, width)
    assert {"2", "38", "40"} <= set(told)
    bars = [p.get_width() for p in figure.axes[0].patches]
    assert bars == pytest.approx([2 / 80, 38 / 80, 40 / 80])
