"""Verdicts of a study: which rows, at which day, on what evidence."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import pandas as pd
import pytest
from by_rows import Rates
from scenes import history_of, lived

from cohort.likelihood.exposure import packed
from cohort.model.design import model_design
from cohort.model.priors import Priors
from cohort.nonparametric.counts import derived
from cohort.outcomes import Outcomes, comparisons, outcomes
from cohort.outcomes.parameters import prior_draws
from cohort.outcomes.quantities import Key
from cohort.sheets import written
from cohort.verdict import Behind, Judged, behind, judged, lot, table
from cohort.verdict.strength import Strength, chances

HORIZON, SIZES, ANY = 160, (1, 3), "same_queens_any"
KINDS = ("Lasius", "Messor")
DAYS = {"Lasius": 160, "Messor": 100, "average": 160, "next_season": 160, "new": 160}
ABOUT = Behind(
    days=DAYS,
    own={"Lasius": (5, 5), "Messor": (5, 5)},
    by_lot={"Lasius": 1.0, "Messor": 1.0, "average": 1.0},
)


@dataclass
class Scene:
    """A comparison without a fit: draws of the priors, the headline contrast put by hand."""

    post: Outcomes
    prior: Outcomes
    frame: pd.DataFrame
    past: Any
    changed: dict[Key, np.ndarray] = field(default_factory=dict)

    def put(self, day: int, *means: float, sd: float = 0.1) -> None:
        """The headline contrast as draws with these means: of the kinds, average and new.

        A next season is as the average.
        """
        means = (*means[:-1], *means[-2:])
        rng = np.random.default_rng(day)
        for reading in ("seen", "alike", "mated-first"):
            key = Key("colony", ANY, 3, day, reading)
            n = len(self.post.values[key])
            self.changed[key] = np.array(means) + sd * rng.standard_normal((n, len(means)))

    def judge(self, about: Behind = ABOUT, **more: Any) -> Judged:
        post = replace(self.post, values=self.post.values | self.changed)
        long = comparisons(post, self.prior, self.frame, days=about.days).assign(own_share=0.8)
        long.loc[long["genus"].isin(["average", "next_season", "new"]), "own_share"] = np.nan
        none = pd.DataFrame(columns=["quantity", "genus", "queens", "half", "double"])
        return judged(None, post, self.prior, long, self.past, about, none, headline=3, **more)


@pytest.fixture(scope="module")
def drawn():
    rates = Rates(level1=0.006, level2=0.004, tau=0.15, phi=0.9, sigma=0.5)
    days = np.arange(7, 161, 7)
    sets = lived(10, 1, rates, days, 1) + lived(10, 3, rates, days, 3)
    genus = list(KINDS) * 10
    past = history_of(sets, more={f"F{i}": {"genus": g} for i, g in enumerate(genus)})
    frame = derived(past)
    design = model_design(packed(past))
    post = outcomes(prior_draws(design, Priors(), seed=1, draws=400), SIZES, HORIZON)
    prior = outcomes(prior_draws(design, Priors(), seed=2, draws=400), SIZES, HORIZON)
    return post, prior, frame[frame["compared"]], past


@pytest.fixture
def scene(drawn, monkeypatch):
    def strengths(fit, post, horizon, *, aside, apart=(), sampler=None, say=None):
        return {
            name: Strength(chances(post, apart=apart), "weights", 0.2, 300.0)
            for name in ("half", "double")
        }

    def alone(*args: Any) -> None:
        raise AssertionError("nothing asked for a fit by lot alone")

    monkeypatch.setattr(table, "strengths", strengths)
    monkeypatch.setattr(lot, "alone", alone)
    return Scene(*drawn)


def row(found: Judged, genus: str, contrast: str = ANY) -> dict[str, Any]:
    rows = found.verdicts
    hit = rows[rows["genus"].eq(genus) & rows["contrast"].eq(contrast)]
    assert len(hit) == 1
    return hit.iloc[0].to_dict()


def test_every_contrast_with_a_direction_has_one_row_for_each_kind(scene) -> None:
    found = scene.judge().verdicts
    asked = {
        "share_alive_before_workers", "share_alive", "queen_days", "hazard_ratio", "chance_by_day",
        "median_day", "time_ratio", "chance_per_founding", "colonies_per_queen",
        ANY, "same_queens_count",
    }  # fmt: skip
    kinds = {"Lasius", "Messor", "average", "next_season", "new"}
    have = set(found[["contrast", "genus"]].itertuples(index=False, name=None))
    assert have == {(c, k) for c in asked for k in kinds} | {(ANY, "differ")}
    assert len(found) == len(have)
    assert set(found["queens"]) == {3}


def test_the_first_row_is_of_all_kinds_together(scene) -> None:
    assert scene.judge().verdicts["genus"].iloc[0] == "differ"


def test_a_row_speaks_of_the_latest_day_of_its_kind(scene) -> None:
    scene.put(90, -0.5, -0.5, -0.5, -0.5)
    scene.put(160, 0.5, 0.5, 0.5, 0.5)
    found = scene.judge()
    assert (row(found, "Lasius")["day"], row(found, "Lasius")["side"]) == (160, "multi")
    assert (row(found, "Messor")["day"], row(found, "Messor")["side"]) == (90, "single")
    assert pd.isna(row(found, "Lasius", "time_ratio")["day"])


def test_a_kind_followed_to_no_day_of_the_table_gets_no_word(scene) -> None:
    scene.put(60, 0.5, 0.5, 0.5, 0.5)
    about = replace(ABOUT, days=DAYS | {"Messor": 40})
    found = row(scene.judge(about), "Messor")
    assert (found["word"], found["why"], found["day"]) == ("none", "day-short", 60)
    survival = row(scene.judge(about), "Messor", "share_alive")
    assert survival["day"] == 30
    assert survival["why"] != "day-short"


def test_chance_prior_and_evidence_are_those_of_the_long_table(scene) -> None:
    scene.put(160, 0.12, 0.0, 0.02, 0.0)
    found = row(scene.judge(), "Lasius")
    drawn = scene.changed[Key("colony", ANY, 3, 160, "seen")][:, 0]
    before = scene.prior.values[Key("colony", ANY, 3, 160, "seen")][:, 0]
    chance, prior = (drawn > 0).mean(), (before > 0).mean()
    assert (found["chance"], found["prior_chance"]) == (chance, prior)
    assert found["evidence"] == pytest.approx(chance / (1 - chance) / (prior / (1 - prior)))


def test_few_own_foundings_or_a_borrowed_number_get_no_word(scene) -> None:
    scene.put(160, 0.5, 0.5, 0.5, 0.5)
    few = replace(ABOUT, own=ABOUT.own | {"Lasius": (5, 3)})
    assert row(scene.judge(few), "Lasius")["why"] == "few-own"
    # no kind has enough of its own on that day, so nothing is clear of all of them either
    of_all = row(scene.judge(few), "average")
    assert (of_all["word"], of_all["why"]) == ("leans", "few-kinds")
    assert row(scene.judge(), "average")["word"] == "clearly"


def test_a_flag_touches_its_question_and_its_kind(scene) -> None:
    scene.put(160, 0.5, 0.5, 0.5, 0.5)
    flag = {"check": "lost after workers", "touches": ["colony"], "genus": "Lasius"}
    about = replace(ABOUT, days=DAYS | {"Messor": 160}, flags=(flag,))
    found = scene.judge(about)
    assert row(found, "Lasius")["why"] == "flagged-check"
    assert row(found, "average")["why"] == "flagged-check"
    assert row(found, "Messor")["word"] == "clearly"
    everywhere = replace(about, flags=(flag | {"genus": ""},))
    assert row(scene.judge(everywhere), "Messor")["why"] == "flagged-check"
    elsewhere = replace(about, flags=(flag | {"touches": ["first_worker"]},))
    assert row(scene.judge(elsewhere), "Lasius")["word"] == "clearly"


def half_by_lot(*drawn: str) -> Behind:
    shares = {"Lasius": 0.5, "Messor": 0.5, "average": 0.5}
    return replace(ABOUT, days=DAYS | {"Messor": 160}, by_lot=shares, drawn=frozenset(drawn))


def test_foundings_not_by_lot_are_left_out_in_one_further_fit(scene, monkeypatch) -> None:
    scene.put(160, 0.5, 0.5, 0.5, 0.5)
    asked = []

    def alone(past, fit, sizes, adjust):
        asked.append(sizes)
        other = Scene(*[getattr(scene, n) for n in ("post", "prior", "frame", "past")])
        other.put(160, 0.5, 0.02, 0.5, 0.02)
        return replace(scene.post, values=scene.post.values | other.changed)

    monkeypatch.setattr(lot, "alone", alone)
    said: list[str] = []
    found = scene.judge(half_by_lot("", "Lasius", "Messor"), say=said.append)
    assert asked == [SIZES]
    assert said == ["Fitting the foundings that were allotted by lot alone"]
    assert row(found, "Lasius")["word"] == "clearly"
    assert (row(found, "Messor")["word"], row(found, "Messor")["why"]) == ("leans", "not-by-lot")
    # a kind with too few of its own by lot is not asked: the fit would speak for other kinds
    found = scene.judge(half_by_lot("", "Messor"))
    assert row(found, "Lasius")["why"] == "not-by-lot"
    assert row(found, "average")["word"] == "clearly"


def test_an_average_over_fewer_kinds_says_nothing_of_all(scene, monkeypatch) -> None:
    def alone(past, fit, sizes, adjust):
        few = scene.post.kinds.index("Messor")
        return replace(
            scene.post,
            kinds=tuple(kind for kind in scene.post.kinds if kind != "Messor"),
            values={
                k: np.delete(v, few, axis=1) for k, v in (scene.post.values | scene.changed).items()
            },
        )

    scene.put(160, 0.5, 0.5, 0.5, 0.5)
    monkeypatch.setattr(lot, "alone", alone)
    found = scene.judge(half_by_lot("", "Lasius"))
    assert row(found, "Lasius")["word"] == "clearly"
    assert row(found, "average")["why"] == "not-by-lot"


def test_the_share_by_lot_is_that_of_the_size_asked_about() -> None:
    # 40 single queens and 40 pairs by lot, 5 trios by choice: 80 of 85 is over nine in ten, but
    # behind the trios stand 45 foundings, 40 of them by lot
    size = [1] * 40 + [2] * 40 + [3] * 5
    frame = pd.DataFrame({
        "genus": "Lasius", "size": size, "arm": ["single" if k == 1 else "multi" for k in size],
        "assigned": ["random"] * 80 + ["chosen"] * 5, "end": 160.0, "end_kind": "horizon",
        "lost_by": np.inf, "started": pd.Timestamp("2026-07-01"), "keeper": "K1", "compared": True,
    })  # fmt: skip
    about = behind(frame, HORIZON, {"Lasius": 160, "average": 160})
    assert about.by_lot["average"] == pytest.approx(80 / 85)
    for kind in ("Lasius", "average", "new"):
        assert about.lots(kind, 2) == 1.0
        assert about.lots(kind, 3) == pytest.approx(40 / 45)


def test_too_few_by_lot_are_not_fitted(scene) -> None:
    scene.put(160, 0.5, 0.5, 0.5, 0.5)
    assert row(scene.judge(half_by_lot()), "average")["why"] == "not-by-lot"


def test_no_further_fit_where_no_word_hangs_on_it(scene) -> None:
    # nothing is as sure as `clearly` asks, so `alone` of the fixture must not be called
    for key, values in scene.post.values.items():
        rng = np.random.default_rng(3)
        even = 1.0 if key.quantity.endswith("_ratio") else 0.0
        scene.changed[key] = even + 0.01 * rng.standard_normal(values.shape)
    assert not scene.judge(half_by_lot("", *KINDS)).verdicts["word"].isin(["clearly"]).any()


def test_kinds_that_differ_are_said_to(scene) -> None:
    about = replace(ABOUT, days=DAYS | {"Messor": 160})
    scene.put(160, 0.4, -0.4, 0.0, 0.0)
    found = row(scene.judge(about), "differ")
    assert (found["word"], found["side"], found["why"], found["day"]) == (
        "clearly",
        "",
        "none",
        160,
    )
    scene.put(160, 0.03, -0.03, 0.0, 0.0)
    assert row(scene.judge(about), "differ")["word"] == "open"
    # 90 is the latest day to which both kinds were followed
    scene.put(90, 0.4, -0.4, 0.0, 0.0)
    assert row(scene.judge(), "differ")["day"] == 90
    few = replace(about, own=ABOUT.own | {"Messor": (5, 1)})
    assert row(scene.judge(few), "differ")["why"] == "few-own"


def test_sensitivity_has_the_rows_of_verdicts_and_every_other_chance(scene) -> None:
    scene.put(160, 0.12, 0.0, 0.02, 0.0)
    found = scene.judge()
    names = ["genus", "queens", "day", "contrast", "chance", "prior_chance"]
    pd.testing.assert_frame_equal(found.verdicts[names], found.sensitivity[names])
    one = found.sensitivity.set_index(["contrast", "genus"]).loc[(ANY, "Lasius")]
    alike = scene.changed[Key("colony", ANY, 3, 160, "alike")][:, 0]
    first = scene.changed[Key("colony", ANY, 3, 160, "mated-first")][:, 0]
    assert (one["alike"], one["mated_first"]) == ((alike > 0).mean(), (first > 0).mean())
    assert one["half"] == one["chance"]
    assert one["by_lot"] == 1.0
    # lasting colonies have no verdict of their own: they stand beside the colony as seen
    assert "chance_lasting" not in set(found.verdicts["contrast"])
    seen = found.sensitivity.set_index(["contrast", "genus"]).loc[("chance_per_founding", "Lasius")]
    lasting = [
        scene.post.values[Key("colony", "chance_lasting", k, 160, "alike")][:, 0] for k in (3, 1)
    ]
    apart = lasting[0] - lasting[1]
    even = 0.5 * (apart == 0).mean()
    assert seen["alike"] == pytest.approx((apart > 0).mean() + even)


def test_both_tables_are_written_and_read_again_as_they_were(scene, tmp_path) -> None:
    found = scene.judge()
    for name in ("verdicts", "sensitivity"):
        frame = getattr(found, name)
        assert written.blanks(frame, name) == []
        path = written.write(frame, name, tmp_path / f"{name}.csv")
        pd.testing.assert_frame_equal(written.read(path, name), frame, rtol=1e-5)


def test_what_stands_behind_is_counted_to_the_day_of_each_kind(drawn) -> None:
    _, _, frame, _ = drawn
    lot_of = np.where(np.arange(len(frame)) % 4 == 0, "chosen", "random")
    frame = frame.assign(assigned=lot_of, end=160.0, end_kind="horizon", lost_by=math.inf)
    about = behind(frame, HORIZON, DAYS)
    assert about.own == {"Lasius": (5, 5), "Messor": (5, 5)}
    assert about.by_lot == {"Lasius": 0.5, "Messor": 1.0, "average": 0.75}
    assert about.drawn == {"", "Messor"}
    assert about.day("next_season") == DAYS["average"]
    short = frame.assign(end=np.where(lot_of == "chosen", 120.0, 160.0), end_kind="given")
    assert behind(short, HORIZON, DAYS).own == {"Lasius": (2, 3), "Messor": (5, 5)}


@pytest.mark.parametrize(
    ("single", "multi", "expected"),
    [(6, 6, {"", "Lasius"}), (5, 6, set()), (6, 5, set()), (8, 0, set()), (0, 0, set())],
)
def test_six_of_each_way_by_lot_are_needed(single: int, multi: int, expected: set[str]) -> None:
    ways = ["single"] * single + ["multi"] * multi
    frame = pd.DataFrame({"arm": ways, "genus": "Lasius", "assigned": "random"})
    other = pd.DataFrame({"arm": ["single", "multi"] * 5, "genus": "Messor", "assigned": "chosen"})
    assert lot.enough(pd.concat([frame, other], ignore_index=True)) == expected
