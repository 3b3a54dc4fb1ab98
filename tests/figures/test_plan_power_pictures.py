"""Pictures of a plan and of a power study: their numbers, and no text on another."""

import pandas as pd
import pytest
from matplotlib.text import Text

from cohort.figures import ink
from cohort.figures.labels import read_labels
from cohort.figures.plan_picture import ROWS, draw_plan, plan_frame, write_plan
from cohort.figures.power_picture import draw_power, power_frame, write_power
from cohort.outcomes.basis import kind_of, prior_basis
from cohort.plan import plan


@pytest.fixture(scope="module", params=[(1, 1), (10, 4), (17, 6)])
def table(request):
    queens, largest = request.param
    basis = prior_basis(draws=60)
    return plan(queens, kind_of("Lasius", basis), basis, largest=largest, day=160).table


def test_rows_of_a_plan_are_its_numbers(table):
    frame = plan_frame(table)
    assert len(frame) == min(len(table), ROWS)
    assert frame["alone"].sum() == 1  # the same queens singly always stand beside the rest
    whole = table.set_index("division")
    for row in frame.itertuples():
        assert row.one == 100 * whole.loc[row.division, "at_least_one"]
        assert row.two_high == 100 * whole.loc[row.division, "at_least_two_high"]
        assert row.colonies == whole.loc[row.division, "colonies"]
        assert row.strongest == whole.loc[row.division, "workers_strongest"]
    efficient = list(table.loc[table["efficient"], "division"])[: ROWS - 1]
    assert set(efficient) <= set(frame["division"])


@pytest.mark.parametrize("language", ["en", "de", "es", "fr"])
@pytest.mark.parametrize("want", ["one", "workers"])
@pytest.mark.parametrize("width", ink.WIDTHS)
def test_texts_of_a_plan_lie_apart(table, width, want, language):
    frame, labels = plan_frame(table), read_labels(language)
    with ink.style():
        figure = draw_plan(frame, width, "17 queens of Pogonomyrmex, day 160", want, labels)
        assert ink.overlaps(figure) == []
    said = {text.get_text() for text in figure.findobj(Text)}
    label = labels.plan_workers if want == "workers" else labels.plan_sets
    assert any(text.startswith(label) for text in said)
    line = figure.axes[0].lines[1]  # the first row's filled mark
    mean = frame["strongest" if want == "workers" else "one"][0]
    assert line.get_xdata()[0] == mean


@pytest.fixture
def power_table():
    return pd.DataFrame(
        {
            "foundings": [24, 48, 96],
            "power": [0.4, 0.7, 0.95],
            "power_se": [0.08, 0.07, 0.03],
            "width": [0.4, 0.29, 0.2],
            "width_se": [0.02, 0.01, float("nan")],
        }
    )


def test_the_curve_of_a_width_passes_through_a_law_of_the_root(power_table):
    from math import exp, log

    frame = power_frame(power_table, -0.5, log(0.4) + 0.5 * log(24))
    curve = frame[frame["what"] == "width_curve"]
    for row in curve.itertuples():
        assert row.value == pytest.approx(0.4 * (24 / row.foundings) ** 0.5)
    assert curve["foundings"].max() == pytest.approx(192)
    assert exp(log(0.4)) == pytest.approx(frame.loc[frame["what"] == "width", "value"].iloc[0])


@pytest.mark.parametrize("language", ["en", "de", "es", "fr"])
@pytest.mark.parametrize("width", ink.WIDTHS)
def test_texts_of_a_power_picture_lie_apart(power_table, width, language):
    labels = read_labels(language)
    with ink.style():
        figure = draw_power(power_frame(power_table, -0.5, 0.67), width, labels)
        assert ink.overlaps(figure) == []
    said = {" ".join(text.get_text().split()) for text in figure.findobj(Text)}
    assert {labels.power_title, labels.power_width, labels.power_finds} <= said


def test_both_are_written_at_both_widths(power_table, tmp_path):
    basis = prior_basis(draws=30)
    what = plan(4, kind_of("Lasius", basis), basis, largest=3, day=160)
    names = {
        p.name
        for p in (
            *write_plan(what.table, tmp_path, "4 queens"),
            *write_power(power_table, -0.5, 0.67, tmp_path),
        )
    }
    assert len(names) == 12
    assert {"plan-85.svg", "plan-175.pdf", "power-85.png", "power-175.svg"} <= names
