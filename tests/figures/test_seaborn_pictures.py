"""Pictures drawn with seaborn: their numbers by hand or by another way, their ink read back."""

from __future__ import annotations

import dataclasses
import os
import subprocess
import sys
from pathlib import Path

import matplotlib
import numpy as np
import pandas as pd
import pytest
import xarray as xr

from cohort import figures
from cohort.figures import first_days, how_sure, ink, keepers_blocks, palette, shrinkage
from cohort.figures.counted import any_of, counted
from cohort.figures.every_kind import draw_every_kind, every_kind_frame
from cohort.figures.labels import ENGLISH
from cohort.figures.material import NotDrawn, row_of
from cohort.figures.names import chance_text
from cohort.outcomes.contrast_draws import contrast_draws
from cohort.outcomes.quantities import Key, Outcomes
from cohort.results import headline_draws

NEW_ONES = ("shrinkage", "keepers_blocks")


def with_foundings(material, foundings):
    history = dataclasses.replace(material.history, foundings=foundings)
    return dataclasses.replace(material, history=history)


def without_draws(material):
    return dataclasses.replace(
        material, results=dataclasses.replace(material.results, contrasts=headline_draws.empty())
    )


# ------------------------------------------------------------------ the draws themselves

TWO = {
    "posterior": np.array([[-0.2, 0.1], [0.0, 0.3], [0.4, 0.5]]),
    "prior": np.array([[-0.6, -0.5], [0.2, -0.1]]),
}


def dataset():
    return headline_draws.as_dataset(TWO, ["Lasius", "average"], 3, [90, 180])


def test_one_row_per_draw_kind_and_source():
    frame = headline_draws.frame_of(dataset())
    assert list(frame.columns) == list(headline_draws.COLUMNS)
    assert len(frame) == 3 * 2 + 2 * 2
    for source, values in TWO.items():
        for j, (genus, day) in enumerate((("Lasius", 90), ("average", 180))):
            mine = frame[(frame["source"] == source) & (frame["genus"] == genus)]
            assert list(mine["value"]) == list(values[:, j])
            assert list(mine["draw"]) == list(range(len(values)))
            assert set(mine["day"]) == {day}
    assert set(frame["queens"]) == {3}


def test_draws_come_back_from_a_folder(tmp_path):
    tree = xr.DataTree.from_dict({"posterior": xr.Dataset(), headline_draws.GROUP: dataset()})
    folder(tmp_path, tree)
    pd.testing.assert_frame_equal(headline_draws.read(tmp_path), headline_draws.frame_of(dataset()))


def test_a_folder_without_such_draws_gives_no_row(tmp_path):
    assert headline_draws.read(tmp_path).empty
    folder(tmp_path, xr.DataTree.from_dict({"posterior": xr.Dataset({"a": 1.0})}))
    assert headline_draws.read(tmp_path).empty


def folder(place: Path, tree: xr.DataTree) -> None:
    tree.to_netcdf(place / "draws.nc", engine="h5netcdf")
    (place / "run.json").write_text(
        '{"horizon": 180, "seed": 1, "level": 0.9, "versions": {}, "sheets": {}}', "utf-8"
    )


def invented(shift: float) -> Outcomes:
    """Outcomes whose headline contrast tells where it was taken from: kind, day, reading."""
    values = {}
    for day in (60, 90, 180):
        for reading in ("seen", "alike"):
            base = day / 1000 + shift - (reading == "alike")
            values[Key("colony", "same_queens_any", 3, day, reading)] = base + np.array(
                [[0.0, 0.1, 0.2, 0.3]] * 5
            )
    none = np.zeros(0)
    kinds = ("Lasius", "average", "next_season", "new")
    return Outcomes(kinds, (1, 3), values, none, none, none, none, 1)


def test_each_kind_is_taken_at_its_own_day_and_as_seen():
    days = {"Lasius": 139, "average": 180, "next_season": 180, "new": 180}
    data = contrast_draws(invented(0.0), invented(5.0), 3, days)
    assert list(data["genus"].to_numpy()) == ["Lasius", "average", "new"]
    assert list(data["day"].to_numpy()) == [90, 180, 180]
    assert data["posterior_contrast"].to_numpy()[0] == pytest.approx([0.09, 0.28, 0.48])
    assert data["prior_contrast"].to_numpy()[0] == pytest.approx([5.09, 5.28, 5.48])


def test_kinds_without_a_day_have_no_draws():
    data = contrast_draws(invented(0.0), invented(5.0), 3, {"average": 180, "new": 59})
    assert list(data["genus"].to_numpy()) == ["average"]
    assert contrast_draws(invented(0.0), invented(5.0), 3, {"average": 59}) is None


# ------------------------------------------------------------------ how sure, and the sheets' part


def test_shares_of_draws_by_hand():
    """Of -2, 0, 1, 3 two are above 0 and the tie counts half: 2.5 of 4."""
    frame = pd.DataFrame(
        {"genus": "Lasius", "named": True, "queens": 3, "day": 90, "source": "posterior",
         "draw": range(4), "value": [-0.2, 0.0, 0.1, 0.3]}
    )  # fmt: skip
    row = how_sure.contrast_shares(frame, level=0.5).iloc[0]
    assert row["multi"] == 2.5 / 4
    assert row["mean"] == pytest.approx(0.05)
    assert (row["low"], row["high"]) == pytest.approx((-0.05, 0.15))  # quartiles by hand


def test_shares_are_the_chances_of_the_comparison(demo):
    shares = how_sure.contrast_shares(how_sure.how_sure_frame(demo))
    shares = shares[shares["source"] == "posterior"]
    assert len(shares) > 2
    assert shares["genus"].iloc[0] == "average"
    for row in shares.itertuples():
        told = row_of(demo, "same_queens_any", row.genus, "difference", row.queens, row.day)
        assert row.multi == pytest.approx(told["chance_multi_better"], abs=0.003)
        assert row.mean == pytest.approx(told["mean"], abs=1e-9)


def test_only_kinds_with_a_verdict_are_named(demo):
    silent = demo.results.verdicts.copy()
    silent.loc[silent["genus"] == "Lasius", "word"] = "none"
    less = dataclasses.replace(demo, results=dataclasses.replace(demo.results, verdicts=silent))
    assert "Lasius" in set(how_sure.how_sure_frame(demo)["genus"])
    assert "Lasius" not in set(how_sure.how_sure_frame(less)["genus"])
    moved = shrinkage.shrinkage_frame(less)
    assert not moved.loc[moved["genus"] == "Lasius", "spoken"].any()
    with ink.style():
        figure = shrinkage.draw_shrinkage(moved, 175, ENGLISH)
    words = {text.get_text() for text in ink.texts(figure)}
    assert "Lasius" not in words
    assert "Messor" in words or "Formica" in words


def test_draws_of_another_day_are_not_shown(demo):
    cut = demo.history.foundings.copy()
    short = cut["genus"] == "Myrmica"
    cut.loc[short, "end"] = cut.loc[short, "end"].clip(upper=70)
    cut.loc[short, "end_kind"], cut.loc[short, "lost_by"] = "followed", np.inf
    less = with_foundings(demo, cut)
    assert "Myrmica" in set(how_sure.how_sure_frame(demo)["genus"])
    assert "Myrmica" not in set(how_sure.how_sure_frame(less)["genus"])  # kept for day 180 only


def test_what_was_held_before_stands_beside_the_draws_and_all_kinds_come_first(demo):
    frame = how_sure.how_sure_frame(demo)
    count = frame.groupby(["genus", "source"]).size().unstack()
    assert set(count["posterior"]) == {400}
    assert set(count["prior"]) == {300}
    assert next(iter(frame["genus"])) == "average"
    assert "new" not in set(frame["genus"])


def test_without_draws_the_reason_is_said(demo, make):
    with pytest.raises(NotDrawn, match="keep no draws"):
        how_sure.how_sure_frame(without_draws(demo))
    with pytest.raises(NotDrawn, match="not settled"):
        how_sure.how_sure_frame(make(shut=True))


@pytest.mark.parametrize("chance", [0.0, 0.004, 0.006, 0.034, 0.5, 0.877, 0.995, 1.0])
def test_as_many_of_a_hundred_dots_lie_below_0_as_the_draws_say(chance):
    rng = np.random.default_rng(3)
    below = round(chance * 4000)
    draws = np.concatenate([-rng.exponential(1, below) - 1e-6, rng.exponential(1, 4000 - below)])
    told = how_sure.dots(pd.Series(rng.permutation(draws) / 100))
    assert len(told) == 100
    assert abs((told < 0).sum() - 100 * chance) <= 0.5 + 1e-9
    assert (np.diff(told) >= 0).all()


@pytest.mark.parametrize("wide", [0.3, 1.0, 2.7])
def test_stacked_dots_keep_their_side_of_0_and_none_hides_another(wide):
    values = np.sort(np.random.default_rng(1).normal(0, 4, 100))
    at, place = how_sure.stacked(values, wide)
    assert (np.sign(at) == np.sign(values)).all()
    assert (np.abs(at - values) <= wide / 2 + 1e-9).all()
    assert len(set(zip(at, place, strict=True))) == 100
    assert (at == values).mean() < 0.1  # they are moved to columns, or nothing would be tried


@pytest.mark.parametrize("width", ink.WIDTHS)
def test_the_dots_lie_where_the_draws_lie_and_change_colour_at_0(demo, width):
    frame = how_sure.how_sure_frame(demo)
    wide = frame.assign(value=frame["value"] + 0.2)  # on both sides of 0
    with ink.style():
        axes = how_sure.draw_how_sure(wide, width, ENGLISH).axes[0]
    marks = [line for line in axes.lines if line.get_marker() == "o"]
    kinds = list(dict.fromkeys(wide["genus"]))
    assert sum(len(line.get_xdata()) for line in marks) == 100 * len(kinds)
    for line in marks:
        left = np.asarray(line.get_xdata()) < 0
        assert left.all() or not left.any()
        way = "single" if left.all() and len(left) else "multi"
        assert not len(left) or line.get_color() == palette.WAY[way]
    edges = [how_sure.HIGH + how_sure.LOW * i for i in range(len(kinds))]
    for i, genus in enumerate(kinds):
        value = wide.loc[(wide["genus"] == genus) & (wide["source"] == "posterior"), "value"] * 100
        top = edges[i - 1] if i else 0.0
        own = np.concatenate(
            [np.asarray(m.get_xdata()) for m in marks if len(m.get_ydata())
             and top < np.mean(m.get_ydata()) < edges[i]]
        )  # fmt: skip
        assert own.mean() == pytest.approx(value.mean(), abs=0.6)


@pytest.mark.parametrize("width", ink.WIDTHS)
def test_what_was_held_before_has_the_area_of_a_hundred_dots(demo, width):
    frame = how_sure.how_sure_frame(demo)
    frame = frame[frame["genus"] == "average"]
    with ink.style():
        figure = how_sure.draw_how_sure(frame, width, ENGLISH)
    axes = figure.axes[0]
    shape = next(c for c in axes.collections if len(c.get_paths()))
    x, y = shape.get_paths()[0].vertices.T
    area = abs(np.trapezoid(y, x))  # of 100 times millimetres
    low, high = axes.get_xlim()
    per_mm = (high - low) / (axes.get_position().width * width)
    marks = next(m for m in axes.lines if m.get_marker() == "o" and len(m.get_xdata()))
    wide = marks.get_markersize() / 0.92 / (72 / 25.4)
    before = frame.loc[frame["source"] == "prior", "value"] * 100
    seen = before.between(low, high).mean()
    assert area / per_mm == pytest.approx(100 * wide**2 * seen, rel=0.12)


def test_all_draws_alike_make_one_column_not_an_error():
    frame = pd.DataFrame(
        {"genus": "Lasius", "named": True, "queens": 3, "day": 90, "source": "posterior",
         "draw": range(5), "value": 0.25}
    )  # fmt: skip
    with ink.style():
        figure = how_sure.draw_how_sure(frame, 85, ENGLISH)
    assert {">99", "<1"} <= {text.get_text() for text in ink.texts(figure)}
    marks = [m for m in figure.axes[0].lines if m.get_marker() == "o" and len(m.get_xdata())]
    assert np.ptp(np.concatenate([m.get_xdata() for m in marks])) == 0
    assert min(np.min(m.get_ydata()) for m in marks) > 0  # within the row


def test_no_chance_is_written_as_certain():
    assert [chance_text(x) for x in (0.0, 0.004, 0.01, 0.5, 0.99, 0.996, 1.0)] == [
        "<1", "<1", "1", "50", "99", ">99", ">99"
    ]  # fmt: skip


# ------------------------------------------------------------------ first workers


def test_first_days_count_those_without_workers_too(demo):
    frame = first_days.first_days_frame(demo)
    inside = demo.history.foundings[demo.history.foundings["compared"]]
    assert len(frame) == len(inside)
    for (genus, way), part in frame.groupby(["genus", "way"]):
        mine = inside[(inside["genus"] == genus) & (inside["arm"] == way)]
        seen = mine["first_by"][np.isfinite(mine["first_by"])]
        assert set(part["with_workers"]) == {len(seen)}
        assert set(part["foundings"]) == {len(mine)}
        assert part["middle"].iloc[0] == np.median(seen)


@pytest.mark.parametrize("width", ink.WIDTHS)
def test_ties_are_stacked_and_each_mark_keeps_its_day(width):
    days = [40.0] * 4 + [41.0, 47.0, 47.0, 60.0]
    frame = pd.DataFrame(
        {"genus": "Lasius", "named": True, "way": "single", "after": [d - 4 for d in days],
         "day": days, "middle": 41.0, "with_workers": 8, "foundings": 9}
    )  # fmt: skip
    with ink.style():
        figure = first_days.draw_first_days(frame, width, ENGLISH)
        figure.draw_without_rendering()
    axes = figure.axes[0]
    marks = next(m for m in axes.lines if m.get_marker() == "o")
    assert list(marks.get_xdata()) == days
    spots = axes.transData.transform(np.column_stack(marks.get_data()))  # points: 72 to the inch
    apart = np.linalg.norm(spots[:, None] - spots[None], axis=2)[np.triu_indices(8, 1)]
    assert apart.min() >= first_days.SIZE["single"] * 0.95
    assert len(set(spots[:4, 1])) == 4  # the four of one day stand on each other
    assert spots[7, 1] == spots[:, 1].min()  # and one by itself on the line
    low, high = axes.bbox.y0, axes.bbox.y1
    assert spots[:, 1].min() > low
    assert spots[:, 1].max() < high
    assert "8/9" in {text.get_text() for text in ink.texts(figure)}
    median = next(m for m in axes.lines if m.get_marker() == "^")
    assert list(median.get_xdata()) == [41.0]
    under = axes.transData.transform((41.0, median.get_ydata()[0]))[1]
    assert under < spots[:, 1].min() - 2  # beside the marks, not over them


def test_levels_by_hand():
    """Days 1, 1, 2, 4, marks 2 days wide: three on each other, the last on the line again."""
    assert list(first_days.levels(np.array([1.0, 1.0, 2.0, 4.0]), 2.0)) == [0, 1, 2, 0]


# ------------------------------------------------------------------ every kind


def test_curves_end_at_the_last_look_and_keep_the_counts(demo):
    cut = demo.history.foundings.copy()
    mine = (cut["genus"] == "Messor") & (cut["arm"] == "multi")
    cut.loc[mine, "end"] = cut.loc[mine, "end"].clip(upper=61.0)
    frame = every_kind_frame(with_foundings(demo, cut))
    last = frame.groupby(["genus", "way"])["day"].max()
    assert last["Messor", "multi"] == 61
    assert last["Messor", "single"] > 61
    curves = demo.results.curves.set_index(["curve", "genus", "arm", "day"])["estimate"]
    for row in frame.itertuples():
        at = (row.curve, row.genus, row.way, row.day)
        if at in curves.index:
            assert row.estimate == curves[at]
    assert set(frame["genus"]) == {k.genus for k in demo.kinds}  # those without a verdict too


def test_each_kind_has_two_panels_and_both_dashes(demo):
    frame = every_kind_frame(demo)
    with ink.style():
        figure = draw_every_kind(frame, 85, ENGLISH)
    panels = [axes for axes in figure.axes if axes.axison]
    assert len(panels) == 2 * frame["genus"].nunique()
    dashes = {line.get_linestyle() for line in panels[0].lines if len(line.get_xdata()) > 3}
    assert dashes == {"-", "--"}


# ------------------------------------------------------------------ what the other kinds add


def test_any_of_by_hand():
    """Of 5 foundings 2 have a colony: 3 of the 10 pairs have none, and 1 of the 10 trios."""
    assert any_of(2, 5, 2) == pytest.approx(0.7)
    assert any_of(2, 5, 3) == pytest.approx(0.9)
    assert any_of(3, 5, 3) == 1  # drawn again, one could miss all three
    assert any_of(0, 5, 3) == 0


def test_counted_share_by_hand(demo):
    """Four of five known; of those two have workers and a queen on day 60."""
    base = demo.history.foundings.iloc[:5].assign(
        genus="Lasius", arm="single", compared=True, keeper=list("ABCDE"), end_kind="followed",
        first_by=[40.0, 50.0, np.inf, 61.0, 30.0], lost_by=[np.inf, np.inf, np.inf, np.inf, 55.0],
        end=[90.0, 90.0, 59.0, 90.0, 90.0],
    )  # fmt: skip
    less = with_foundings(demo, base)
    assert counted(less, "Lasius", "single", 60) == (2, 4)
    assert counted(less, "Lasius", "single", 91) == (0, 0)  # none is known


def test_counted_and_model_stand_on_one_day_and_come_from_their_tables(demo):
    frame = shrinkage.shrinkage_frame(demo)
    assert frame["day"].nunique() == 1
    assert set(frame["genus"]) == {"Lasius", "Messor", "Formica", "Myrmica", "average"}
    for row in frame.itertuples():
        told = row_of(demo, "chance_per_founding", row.genus, row.way, row.queens, row.day)
        assert row.model == told["mean"]
    assert frame.loc[frame["genus"] == "average", "counted"].isna().all()


def test_one_kind_alone_is_not_pulled(make):
    with pytest.raises(NotDrawn, match="one kind only"):
        shrinkage.shrinkage_frame(make(genera=("Lasius",), per=24))


# ------------------------------------------------------------------ keepers and blocks


def test_blocks_are_counted_by_keeper(demo):
    frame = keepers_blocks.keepers_blocks_frame(demo)
    inside = demo.history.foundings[demo.history.foundings["compared"]]
    assert int(frame["single"].sum() + frame["multi"].sum()) == len(inside)
    assert int(frame["multi"].sum()) == int((inside["arm"] == "multi").sum())
    for number, sign in enumerate(sorted(inside["keeper"].unique()), 1):
        mine = frame[frame["number"] == number]
        own = inside[inside["keeper"] == sign]
        assert len(mine) == own["block"].nunique()
        assert list(mine["place"]) == list(range(1, len(mine) + 1))


@pytest.mark.parametrize("show", [False, True])
def test_keepers_are_numbered_unless_they_may_be_told_apart(demo, show):
    import made

    study = dataclasses.replace(demo.study, settings=made.settings(show_keepers=show))
    frame = keepers_blocks.keepers_blocks_frame(dataclasses.replace(demo, study=study))
    with ink.style():
        figure = keepers_blocks.draw_keepers_blocks(frame, 175, ENGLISH)
    words = {text.get_text() for text in ink.texts(figure)}
    assert ("K1" in words) == show
    assert ("keeper 1" in words) == (not show)
    assert ("K1" in frame.to_csv()) == show
    assert ("b0" in frame.to_csv()) == show


def test_no_block_no_picture(demo):
    with pytest.raises(NotDrawn, match="block"):
        keepers_blocks.keepers_blocks_frame(
            with_foundings(demo, demo.history.foundings.assign(block=""))
        )


@pytest.mark.parametrize(("share", "tone"), [(0.0, 0), (0.39, 0), (0.5, 1), (0.6, 1), (1.0, 2)])
def test_tones_tell_which_way_prevails(share, tone):
    """With three tones from 0 to 3 a value lies in the middle of its own."""
    assert int(keepers_blocks._tone(share)) == tone


def test_a_keeper_of_many_blocks_has_several_lines():
    frame = pd.DataFrame(
        {"keeper": "", "number": 1, "shown": False, "block": "", "place": range(1, 31),
         "single": 1, "multi": 2, "share_multi": 2 / 3}
    )  # fmt: skip
    with ink.style():
        figure = keepers_blocks.draw_keepers_blocks(frame, 85, ENGLISH)
        assert not ink.overlaps(figure)
    words = [text.get_text() for text in ink.texts(figure)]
    assert words.count("1+2") == 30


# ------------------------------------------------------------------ house


def test_nothing_of_seaborn_is_left_behind(demo):
    before = dict(matplotlib.rcParams)
    with ink.style():
        within = dict(matplotlib.rcParams)
        for picture in figures.PICTURES:
            if picture.name in NEW_ONES:
                picture.draw(picture.frame(demo), 85, ENGLISH)
        assert {k for k in within if within[k] != matplotlib.rcParams[k]} == set()
    assert {k for k in before if before[k] != matplotlib.rcParams[k]} == set()


def test_pictures_and_commands_are_loaded_without_seaborn():
    code = (
        "import sys, cohort.figures, cohort.newsletter, cohort.cli;print('seaborn' in sys.modules)"
    )
    told = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, env=os.environ
    )
    assert told.stdout.strip() == "False"
