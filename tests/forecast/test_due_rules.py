"""What is due, by small studies one can follow; windows by closed forms."""

import datetime as dt
import math
from dataclasses import replace

import icalendar
import numpy as np
import pandas as pd
import pytest
from ongoing_seasons import as_basis
from scipy.stats import norm

from cohort.base.display import untied
from cohort.base.errors import StudyError
from cohort.forecast import due, words
from cohort.forecast.calendar import calendar
from cohort.forecast.rounds import rhythm
from cohort.forecast.words import as_json, speaks
from cohort.likelihood import layout as at
from cohort.outcomes.basis import kind_of, prior_basis
from cohort.simulate.truth import GenusTruth, Truth
from cohort.study import read_study

PLAIN = GenusTruth(frailty=0.0, within_days=0.12, mated=0.85, log_median_day=math.log(48.0))
BASIS = as_basis(Truth({"Lasius": PLAIN}))
HEAD = "founding,genus,started,queens,keeper,feeding\n"
CHECKS = "founding,date,queens_alive,workers\n"


def study(folder, foundings, checks, settings="", events=""):
    folder.put("foundings.csv", HEAD + foundings)
    folder.put("checks.csv", CHECKS + checks)
    folder.put("study.toml", f'title = "Ours"\nseason = "2026"\n{settings}')
    if events:
        folder.put("events.csv", "founding,date,event,number,other\n" + events)
    return read_study(folder.path, today=dt.date(2026, 12, 31))


def day(text):
    return dt.date.fromisoformat(text)


def test_looks_fall_due_by_the_rhythm_and_twice_as_often_where_fed(folder):
    made = study(
        folder,
        "A-1,Lasius,2026-06-01,1,K1,\nA-2,Lasius,2026-06-01,1,K1,fed\n"
        "A-3,Ponera,2026-06-01,1,K1,\nA-4,Lasius,2026-06-08,1,K1,\n",
        "A-1,2026-06-05,1,0\nA-2,2026-06-05,1,0\nA-3,2026-06-05,1,0\n",
        settings="look_every = 6\n",
    )
    looks = due(made, day("2026-06-09"), BASIS).looks.set_index("founding")
    assert looks["every"].to_dict() == {"A-1": 6, "A-2": 3, "A-3": 3, "A-4": 6}
    assert looks["when"].to_dict() == {
        "A-1": "this week",
        "A-2": "today",
        "A-3": "today",
        "A-4": "this week",
    }
    assert looks.loc["A-2", "late"] == 1
    assert looks.loc["A-4", "due"] == pd.Timestamp("2026-06-14")  # no look yet: from day 0


def test_rhythm_never_falls_below_two_days_nor_rises_above_the_clubs():
    assert rhythm("Lasius", "fed", 3) == 2
    assert rhythm("Lasius", "fed", 1) == 1
    assert rhythm("Lasius", "none", 5) == 5
    assert rhythm("Ponera", "none", 5) == 5  # what was written comes before what is known
    # Johnson 2002, doi 10.1007/s00442-002-0960-2: P. californicus must forage, congeners need not
    assert rhythm("Pogonomyrmex", "", 5) == 5
    assert rhythm("Pogonomyrmex", "", 5, "californicus") == 2


def test_a_kind_that_must_be_fed_is_looked_at_more_often_than_its_genus(folder):
    made = study(
        folder,
        "A-1,Pogonomyrmex,2026-06-01,1,K1,\nA-2,Pogonomyrmex,2026-06-01,1,K1,\n",
        "A-1,2026-06-05,1,0\nA-2,2026-06-05,1,0\n",
        settings="look_every = 6\n",
    )
    kinds = made.foundings.assign(species=["barbatus", "californicus"])
    looks = due(replace(made, foundings=kinds), day("2026-06-09"), BASIS).looks
    assert looks.set_index("founding")["every"].to_dict() == {"A-1": 6, "A-2": 3}


def test_lost_ended_and_wintering_foundings_are_not_looked_at(folder):
    made = study(
        folder,
        "A-1,Lasius,2026-06-01,2,K1,\nA-2,Lasius,2026-06-01,1,K1,\nA-3,Lasius,2026-06-01,1,K1,\n"
        "A-4,Lasius,2026-06-01,1,K1,\n",
        "A-1,2026-06-05,0,0\nA-2,2026-06-05,1,0\nA-3,2026-06-05,1,0\nA-4,2026-06-05,1,0\n",
        events="A-2,2026-06-06,end,,given\nA-3,2026-06-06,winter-in,,\n",
    )
    what = due(made, day("2026-06-12"), BASIS)
    assert what.looks["founding"].tolist() == ["A-3", "A-4"]
    assert what.looks["when"].tolist() == ["winter", "today"]
    assert what.windows["founding"].tolist() == ["A-4"]
    assert what.done == 2


def test_after_winter_the_clock_of_the_first_worker_goes_on(folder):
    """A: 26 days outside 100 of rest; B, started 100 days later: 26 days. C: not counted since."""
    made = study(
        folder,
        "A-1,Lasius,2026-03-01,2,K1,\nB-1,Lasius,2026-06-09,2,K1,\nC-1,Lasius,2026-03-01,2,K1,\n",
        "A-1,2026-03-20,2,0\nA-1,2026-07-05,2,0\nB-1,2026-06-28,2,0\nB-1,2026-07-05,2,0\n"
        "C-1,2026-03-20,2,0\n",
        settings="horizon_days = 400\nthrough_winter = true\n",
        events="A-1,2026-03-21,winter-in,,\nA-1,2026-06-29,winter-out,,\n"
        "C-1,2026-03-21,winter-in,,\nC-1,2026-06-29,winter-out,,\n",
    )
    what = due(made, day("2026-07-10"), BASIS)
    windows = what.windows.set_index("founding")
    assert sorted(windows.index) == ["A-1", "B-1"]
    for name in ("low90", "low50", "middle", "high50", "high90"):
        assert windows.loc["A-1", name] == windows.loc["B-1", name], name
    groups = what.groups.set_index("founding")
    assert groups.loc["A-1", "lose_one_14"] == pytest.approx(groups.loc["B-1", "lose_one_14"])
    assert any("1 founding has not been counted since winter rest" in said for said in what.says)
    resting = due(made, day("2026-06-15"), BASIS)
    assert set(resting.looks.loc[resting.looks["when"] == "winter", "founding"]) == {"A-1", "C-1"}


def test_the_last_day_ends_what_is_due(folder):
    made = study(
        folder,
        "A-1,Lasius,2026-06-01,1,K1,\n",
        "A-1,2026-06-05,1,0\n",
        settings="horizon_days = 60\n",
    )
    assert len(due(made, day("2026-07-31"), BASIS).looks) == 1
    over = due(made, day("2026-08-01"), BASIS)
    assert len(over.looks) == len(over.windows) == len(over.groups) == 0
    assert any("nothing to forecast" in line for line in over.says)
    assert calendar(over)


def test_a_past_day_is_told_as_it_was(folder):
    made = study(
        folder,
        "A-1,Lasius,2026-06-01,3,K1,\nA-2,Lasius,2026-07-01,1,K1,\n",
        "A-1,2026-06-05,3,0\nA-1,2026-06-20,1,0\nA-2,2026-07-05,1,0\n",
    )
    then = due(made, day("2026-06-10"), BASIS)
    assert then.looks["queens"].tolist() == [3]
    assert any("2 later looks were left out" in line for line in then.says)
    with pytest.raises(StudyError, match="No founding had been started by 2026-05-01"):
        due(made, day("2026-05-01"), BASIS)


def by_hand(looked, hazard, p=0.85):
    """A lone queen without frailty: chance of workers by day 180, its 5 % day, chance unmated."""
    f = norm(math.log(48.0), 0.12).cdf
    days = np.linspace(looked, 180, 200_001)
    clock = p * np.diff([f(math.log(d)) for d in days[::100]])
    middle = 0.5 * (days[::100][1:] + days[::100][:-1])
    arrive = clock * np.exp(-hazard * (middle - looked)) / (1 - p * f(math.log(looked)))
    so_far = np.cumsum(arrive)
    low = middle[np.searchsorted(so_far, 0.05 * so_far[-1])]
    return so_far[-1], low, (1 - p) / (1 - p * f(math.log(looked)))


@pytest.mark.parametrize("looked", [20, 45, 60])
def test_a_lone_queen_waits_as_the_closed_form_says(folder, looked):
    last = day("2026-06-01") + dt.timedelta(days=looked)
    made = study(folder, "A-1,Lasius,2026-06-01,1,K1,\n", f"A-1,{last},1,0\n")
    row = due(made, last, BASIS).windows.iloc[0]
    whole, low, unmated = by_hand(looked, math.exp(PLAIN.log_hazard))
    assert row["none_this_season"] == pytest.approx(1 - whole, abs=0.002)
    assert row["unmated"] == pytest.approx(unmated, abs=1e-4)
    assert row["like_it"] == pytest.approx(norm.cdf(math.log(looked / 48.0) / 0.12), abs=1e-9)
    at = (row["low90"] - pd.Timestamp("2026-06-01")).days
    assert abs(at + 0.5 - low) <= 1.0


def test_the_longer_the_wait_the_likelier_no_queen_is_mated_and_overdue_is_told(folder):
    made = study(
        folder,
        "A-1,Lasius,2026-06-01,1,K1,\nA-2,Lasius,2026-07-10,1,K1,\n",
        "A-1,2026-08-01,1,0\nA-2,2026-08-01,1,0\n",
    )
    what = due(made, day("2026-08-01"), BASIS)
    own = what.windows.set_index("founding")
    assert own.loc["A-1", "unmated"] > 0.6 > 0.2 > own.loc["A-2", "unmated"]
    assert what.overdue["founding"].tolist() == ["A-1"]


def test_lookless_workers_do_not_end_the_wait_and_seen_workers_do(folder):
    made = study(
        folder,
        "A-1,Lasius,2026-06-01,3,K1,\nA-2,Lasius,2026-06-01,3,K1,\n",
        "A-1,2026-07-15,3,0\nA-1,2026-07-20,3,\nA-2,2026-07-15,3,0\nA-2,2026-07-20,3,2\n",
    )
    what = due(made, day("2026-07-21"), BASIS)
    assert what.windows["founding"].tolist() == ["A-1"]
    groups = what.groups.set_index("founding")
    assert groups["workers"].to_dict() == {"A-1": False, "A-2": True}
    # from workers on each dies exp(1) times as often in company, so more may be lost
    assert groups.loc["A-2", "lose_one_14"] > groups.loc["A-1", "lose_one_14"]
    assert (groups["lose_one_14"] > groups["lose_one_7"]).all()
    assert (groups["lose_all_14"] < groups["lose_one_14"]).all()


def test_a_pair_with_workers_loses_as_the_closed_form_says(folder):
    """Both live t days with chance exp(-2 h r t): workers from (44, 49], counted on day 49."""
    made = study(
        folder, "A-1,Lasius,2026-06-01,2,K1,\n", "A-1,2026-07-15,2,0\nA-1,2026-07-20,2,1\n"
    )
    row = due(made, day("2026-07-20"), BASIS).groups.iloc[0]
    hazard = math.exp(PLAIN.log_hazard_workers + PLAIN.rivalry)
    for days in (7, 14):
        assert row[f"lose_one_{days}"] == pytest.approx(1 - math.exp(-2 * hazard * days), abs=1e-6)
        lone = math.exp(PLAIN.log_hazard_workers)
        t = np.linspace(0, days, 20_001)
        t = 0.5 * (t[1:] + t[:-1])
        fight = 2 * hazard * np.exp(-2 * hazard * t) * days / 20_000
        theta = PLAIN.last_fight
        both = (fight * (theta + (1 - theta) * (1 - np.exp(-lone * (days - t))))).sum()
        assert row[f"lose_all_{days}"] == pytest.approx(both, abs=1e-6)


def test_brood_of_another_colony_leaves_no_window(folder):
    made = study(
        folder,
        "A-1,Lasius,2026-06-01,1,K1,\nA-2,Lasius,2026-06-01,1,K1,\n",
        "A-1,2026-06-20,1,0\nA-2,2026-06-20,1,0\n",
        events="A-1,2026-06-15,brood-in,,\n",
    )
    what = due(made, day("2026-06-21"), BASIS)
    assert what.windows["founding"].tolist() == ["A-2"]
    assert any("given brood of another colony" in line for line in what.says)


def test_a_group_of_forty_is_forecast_and_said_to_be_beyond_the_results(folder):
    made = study(folder, "A-1,Lasius,2026-06-01,40,K1,\n", "A-1,2026-07-10,38,0\n")
    what = due(made, day("2026-07-12"), BASIS)
    assert what.groups["lose_one_14"].between(0, 1).all()
    assert any("Groups of 40 are larger" in line for line in what.says)


def test_priors_say_that_they_are_priors_and_kinds_nobody_kept_are_named(folder):
    made = study(folder, "A-1,Messor,2026-06-01,1,K1,\n", "A-1,2026-06-20,1,0\n")
    told = due(made, day("2026-06-21"), prior_basis(draws=50)).says
    assert "the same for every genus" in told[0]
    told = due(made, day("2026-06-21"), BASIS).says
    assert any("New to these results: Messor" in line for line in told)


def test_a_kind_compared_with_the_rarest_is_forecast_as_they_are(folder):
    # Fault: "nobody has kept it", of a kind whose foundings stand behind the results.
    from dataclasses import replace

    from cohort.terms.questions import OTHERS

    slow = replace(PLAIN, log_median_day=math.log(70.0))
    basis = as_basis(Truth({"Lasius": PLAIN, OTHERS: slow}))
    basis = replace(basis, rare=frozenset({"Messor"}))
    made = study(folder, "A-1,Messor,2026-06-01,1,K1,\n", "A-1,2026-06-20,1,0\n")
    what = due(made, day("2026-06-21"), basis)
    assert any("compared as one" in line for line in what.says)
    assert not any("New to these" in line for line in what.says)
    as_others = replace(basis, rare=frozenset(), draws=replace(
        basis.draws, genera=("Lasius", "Messor")))  # fmt: skip
    mine, theirs = (due(made, day("2026-06-21"), b).windows for b in (basis, as_others))
    assert mine.equals(theirs)
    assert kind_of("Messor", basis).index == 1
    assert "too few foundings" in kind_of("Messor", basis).says


def test_a_founding_behind_the_draws_does_not_weigh_them_twice(folder):
    from dataclasses import replace

    made = study(folder, "A-1,Lasius,2026-06-01,1,K1,\n", "A-1,2026-08-01,1,0\n")
    # two draws: every queen mated, or half of them; a long wait speaks for the second
    shared = np.repeat(BASIS.draws.shared, 2, axis=0)
    shared[:, at.S_MATED] = (0.99, 0.5)
    draws = replace(BASIS.draws, params=np.repeat(BASIS.draws.params, 2, axis=0), shared=shared)
    last_year = replace(BASIS, draws=draws)
    own = replace(last_year, title="Ours", season="2026", foundings=frozenset({"A-1"}))
    waits = [due(made, day("2026-08-01"), b).windows.iloc[0]["unmated"] for b in (last_year, own)]
    # worked by hand: odds of the draws by (1 - p F), then (1 - p) / (1 - p F) in each
    late = norm.cdf(math.log(61 / 48) / 0.12)
    like = np.array([1 - 0.99 * late, 1 - 0.5 * late])
    inside = np.array([0.01, 0.5]) / like
    assert waits[0] == pytest.approx((like / like.sum() * inside).sum(), abs=1e-6)
    assert waits[1] == pytest.approx(inside.mean(), abs=1e-6)


def test_the_calendar_reads_back_and_names_foundings_only(folder):
    made = study(
        folder,
        "A-1,Lasius,2026-06-01,1,Mori,\nA-2,Lasius,2026-06-01,2,Mori,\n",
        "A-1,2026-06-20,1,0\nA-2,2026-06-28,2,0\n",
        settings='place = "Limestone valley"\nlook_every = 7\n',
    )
    what = due(made, day("2026-06-29"), BASIS)
    text = calendar(what)
    book = icalendar.Calendar.from_ical(text)
    assert book["version"] == "2.0"
    events = {str(e["summary"]): e for e in book.walk("VEVENT")}
    assert set(events) == {
        "A-1: look",
        "A-2: look",
        "A-1: first worker may come",
        "A-2: first worker may come",
    }
    assert events["A-1: look"]["dtstart"].dt == day("2026-06-29")  # late: today
    assert events["A-2: look"]["dtstart"].dt == day("2026-07-05")
    assert events["A-2: look"]["dtend"].dt == day("2026-07-06")  # the end is not included
    own = what.windows.set_index("founding").loc["A-1"]
    waits = events["A-1: first worker may come"]
    assert waits["dtstart"].dt == own["low50"].date()
    assert waits["dtend"].dt == own["high50"].date() + dt.timedelta(days=1)
    assert len({str(e["uid"]) for e in events.values()}) == 4
    assert all(e["dtstamp"].dt.tzinfo is not None for e in events.values())
    assert not book.errors
    for secret in (b"Mori", b"Limestone", b"Lasius"):
        assert secret not in text
    assert calendar(what) == text  # the same day gives the same file


def test_a_german_calendar_holds_the_same_events(folder):
    made = study(folder, "A-1,Lasius,2026-06-01,1,K1,\n", "A-1,2026-06-20,1,0\n")
    what = due(made, day("2026-06-29"), BASIS)
    english, german = (
        icalendar.Calendar.from_ical(calendar(what, speaks(code))).walk("VEVENT")
        for code in ("en", "de")
    )
    assert [str(e["uid"]) for e in german] == [str(e["uid"]) for e in english]
    assert [str(e["dtstart"].dt) for e in german] == [str(e["dtstart"].dt) for e in english]
    assert [str(e["summary"]) for e in german] == [
        "A-1: Kontrolle", "A-1: erste Arbeiterin möglich",
    ]  # fmt: skip


@pytest.mark.parametrize("language", ["en", "de", "es", "fr"])
def test_what_is_due_is_told_first_and_every_row_has_its_headings(folder, language):
    made = study(
        folder,
        "A-1,Lasius,2026-06-01,1,K1,\nA-2,Lasius,2026-06-08,3,K1,\n",
        "A-1,2026-07-08,1,0\nA-2,2026-07-10,3,0\n",
        settings="look_every = 7\n",
    )
    what, own = due(made, day("2026-07-16"), BASIS), speaks(language)
    told = words.head(what, own)
    wanted = {
        "en": "16 July 2026: 2 foundings are open, 0 are no longer looked at. "
        "To look at: 1 today, 1 more within a week.",
        "de": "16. Juli 2026: 2 Gründungen sind offen, 0 werden nicht mehr kontrolliert. "
        "Zu kontrollieren: 1 heute, 1 weitere binnen einer Woche.",
        "es": "16 de julio de 2026: hay 2 fundaciones abiertas; 0 ya no se revisan. "
        "Por revisar: 1 hoy, 1 más en una semana.",
        "fr": "16 juillet 2026 : 2 fondations en cours ; plus contrôlées : 0. "
        "À contrôler : 1 aujourd’hui, 1 de plus d’ici une semaine.",
    }
    assert untied(told) == wanted[language]
    for keys, rows in (
        (words.LOOKS, words.look_rows(what, "today", own)),
        (words.WINDOWS, words.window_rows(what, own)),
        (words.GROUPS, words.group_rows(what, own)),
    ):
        assert rows
        assert {len(row) for row in rows} == {len(words.headings(keys, own))}
    values = as_json(what, own)
    assert values["leave_be"] == own.say("leave_be")
    assert values["looks"] == as_json(what)["looks"]  # numbers and dates know no language


def test_json_holds_plain_values_and_the_line_that_nothing_is_ended(folder):
    import json

    made = study(folder, "A-1,Lasius,2026-06-01,3,K1,\n", "A-1,2026-07-15,3,0\n")
    values = json.loads(json.dumps(as_json(due(made, day("2026-07-16"), BASIS))))
    assert values["on"] == "2026-07-16"
    assert values["leave_be"] == speaks().say("leave_be")
    assert values["windows"][0]["low90"] >= "2026-07-15"
    assert set(values["groups"][0]) >= {"lose_one_7", "lose_all_14", "workers"}


def test_a_chance_is_never_told_as_certain():
    assert [speaks().short_of_100(share) for share in (0.0, 1.0, 0.125)] == ["<1", ">99", "13"]
    assert speaks().of_100(0.0) == "under 1"
    assert speaks("de").of_100(1.0) == "über 99"
