"""The club's commands: one small study fitted for real, and studies nobody can compare yet."""

from __future__ import annotations

import datetime as dt
import hashlib
import io
import json
import shutil
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass, fields
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from cohort import comparison, read_results
from cohort.base.errors import StudyError
from cohort.cli import main
from cohort.history import history
from cohort.likelihood.layout import S_SEEN
from cohort.model import sample
from cohort.model.asked import Asked
from cohort.model.priors import Priors
from cohort.outcomes.basis import results_basis
from cohort.results import headline_draws, read_draws
from cohort.sheets import written as tables
from cohort.simulate.season import simple_study
from cohort.simulate.truth import GenusTruth
from cohort.study import read_study

GENERA = {"Lasius": GenusTruth(rivalry=2.0, last_fight=0.3), "Messor": GenusTruth(together=0.8)}
SETTINGS = 'title = "A small club"\nseason = "2025"\nhorizon_days = 160\nends = 2025-12-31\n'


@dataclass(frozen=True)
class Said:
    exit_code: int
    output: str


def run(*words: str) -> Said:
    """A command: its exit code and all it said; anything but an orderly exit fails the test."""
    said = io.StringIO()
    with redirect_stdout(said), redirect_stderr(said), pytest.raises(SystemExit) as end:
        main(list(words))
    assert "Traceback" not in said.getvalue()
    return Said(int(end.value.code or 0), said.getvalue())


@pytest.fixture(scope="module")
def study(tmp_path_factory) -> Path:
    made = simple_study(24, GENERA, look_every=7, horizon=160, seed=3)
    return made.write(tmp_path_factory.mktemp("club") / "study")


@pytest.fixture(scope="module")
def compared(study, tmp_path_factory):
    """The command, its folder, and the fits inside."""
    out, inside = tmp_path_factory.mktemp("club") / "out", []

    sampled = Asked.sampled

    def kept(what, **how):
        inside.append(sampled(what, **how))
        return inside[0]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Asked, "sampled", kept)
        result = run("compare", str(study), "--out", str(out), "--seed", "11", "--quiet")
    return result, out, inside


def test_a_small_study_is_compared(compared):
    result, out, _ = compared
    diagnosis = json.loads((out / "diagnosis.json").read_text("utf-8"))
    assert result.exit_code == (0 if diagnosis["settled"] else 1), result.output
    assert diagnosis["settled"], diagnosis["reasons"]
    for name in ("comparisons.csv", "curves.csv", "foundings.csv", "draws.nc", "run.json"):
        assert (out / name).is_file(), name
    second = pd.read_csv(out / "second_opinion.csv")
    beside = second[second["method"] == "exact"]
    assert beside["model"].notna().all()  # the model's number stands beside each
    assert len(beside)
    table = pd.read_csv(out / "comparisons.csv")
    assert set(table["genus"]) == {"Lasius", "Messor", "average", "next_season", "new"}
    chances = table[
        table["unit"].isin(["chance", "share"]) & table["arm"].isin(["single", "multi"])
    ]
    assert chances[["mean", "low", "high"]].to_numpy().min() >= 0
    assert chances[["mean", "low", "high"]].to_numpy().max() <= 1
    run_of = json.loads((out / "run.json").read_text("utf-8"))
    assert run_of["seed"] == 11
    assert all(len(sha) == 64 for sha in run_of["sheets"].values())


def test_the_draws_behind_the_headline_come_to_its_numbers(compared):
    _, out, _ = compared
    draws, table = headline_draws.read(out), pd.read_csv(out / "comparisons.csv")
    assert set(draws["genus"]) == {"Lasius", "Messor", "average", "new"}
    assert read_results(out).tidy("draws")["value"].equals(draws["value"])
    keys = ["genus", "queens", "day"]
    for key, part in draws.groupby(keys, observed=True):
        mine = table["quantity"].eq("same_queens_any") & table["reading"].eq("seen")
        for name, value in zip(keys, key, strict=True):
            mine &= table[name].eq(value)
        row = table[mine].iloc[0]
        now = part.loc[part["source"] == "posterior", "value"]
        before = part.loc[part["source"] == "prior", "value"]
        assert row["mean"] == pytest.approx(now.mean(), abs=1e-6)
        assert row["chance_multi_better"] == pytest.approx((now > 0).mean(), abs=1e-6)
        assert row["prior_chance_multi_better"] == pytest.approx((before > 0).mean(), abs=1e-6)


def test_the_command_ends_with_the_words_of_the_table_of_verdicts(compared):
    result, out, _ = compared
    verdicts = pd.read_csv(out / "verdicts.csv")
    headline = verdicts["contrast"].eq("same_queens_any")
    size = json.loads((out / "diagnosis.json").read_text("utf-8"))["headline"]
    rows = verdicts[headline & verdicts["queens"].eq(size)].set_index("genus")
    said = {"clearly": "clearly better", "expected": "as expected beforehand", "same": "about the",
            "leans": "leans to", "open": ": open", "none": "no verdict"}  # fmt: skip
    told = [line for line in result.output.splitlines() if line.startswith("- All kinds together")]
    assert len(told) == 1
    assert said[rows.loc["average", "word"]] in told[0]
    assert f", {size} queens, day {int(rows.loc['average', 'day'])}: " in told[0]
    for kind in ("Lasius", "Messor"):
        own = any(line.startswith(f"- {kind}, ") for line in result.output.splitlines())
        assert own is (rows.loc[kind, "word"] != "none")


def test_a_seed_gives_the_same_draws_every_time(compared):
    first, *_ = compared[2]
    same = first.design, first.exposure, first.priors
    again = sample.sample(*same, seed=first.seed, draws=first.posterior.sizes["draw"])
    xr.testing.assert_equal(first.posterior, again.posterior)
    other = sample.sample(*same, seed=first.seed + 1, draws=50, tune=100)
    assert not np.array_equal(other.posterior["rivalry"], again.posterior["rivalry"][:, :50])


def test_design_and_priors_come_back_as_they_were_fitted(compared):
    # Fault: two priors came back as lists, keepers and matings seen were forgotten.
    _, out, fits = compared
    posterior, design, priors = read_draws(out)
    assert priors == fits[-1].priors == Priors()
    for field in fields(design):
        was, now = getattr(fits[-1].design, field.name), getattr(design, field.name)
        if isinstance(was, np.ndarray):
            np.testing.assert_array_equal(now, was.reshape(now.shape), err_msg=field.name)
            assert now.dtype == was.dtype, field.name
        elif field.name == "levels":
            assert {n: (own.names, own.index.tolist()) for n, own in now.items()} == {
                n: (own.names, own.index.tolist()) for n, own in was.items()
            }
        else:
            assert now == was or (now != now and was != was), field.name
    assert set(posterior.data_vars) == set(fits[-1].posterior.data_vars)


def test_where_nobody_saw_a_mating_the_prior_says_what_one_would_add(compared):
    # Fault: nothing added, so that a mating seen in the next season told a forecast nothing.
    _, out, fits = compared
    assert "seen" not in fits[-1].posterior
    adds = results_basis(out, draws=1000).draws.shared[:, S_SEEN]
    assert adds.mean() == pytest.approx(Priors()["seen"].mean, abs=0.1)
    assert adds.std() == pytest.approx(Priors()["seen"].sd, abs=0.1)


def test_a_plan_from_results_goes_by_their_days_and_their_first_broods(compared):
    _, out, _ = compared
    diagnosis = json.loads((out / "diagnosis.json").read_text())
    table = pd.read_csv(out / "comparisons.csv")
    stands_on = results_basis(out, draws=400)
    assert stands_on.last == {"average": diagnosis["fair_day"], **diagnosis["kind_days"]}
    brood = table[table["question"].eq("first_brood")]
    assert len(stands_on.brood) == len(brood)
    kind = stands_on.draws.genera[0]
    said = run("plan", "--queens", "3", "--genus", kind, "--want", "workers", "--json",
               "--from", str(out))  # fmt: skip
    assert said.exit_code == 0
    values = json.loads(said.output)
    assert values["day"] == min(180, stands_on.last_day(0))
    assert not values["general_assumptions"]
    assert 0 <= values["advice"]["prior_chance"] <= 1
    if len(brood):
        mine = brood[brood["genus"].eq(kind) & brood["queens"].eq(values["trade"]["group"])]
        ratio = mine[mine["arm"].eq("ratio")]["mean"]
        if len(ratio):
            assert values["trade"]["ratio"]["mean"] == pytest.approx(ratio.item(), rel=0.05)


def test_draws_of_another_version_are_refused_in_one_sentence(compared, tmp_path):
    old = tmp_path / "old"
    shutil.copytree(compared[1], old)
    tree = xr.open_datatree(old / "draws.nc", engine="h5netcdf").load()
    tree.close()
    tree.attrs["version"] = 1
    (old / "draws.nc").unlink()
    tree.to_netcdf(old / "draws.nc", engine="h5netcdf")
    run_file = json.loads((old / "run.json").read_text())
    run_file["files"]["draws.nc"] = hashlib.sha256((old / "draws.nc").read_bytes()).hexdigest()
    (old / "run.json").write_text(json.dumps(run_file))
    said = run("plan", "--queens", "4", "--genus", "Lasius", "--day", "160", "--from", str(old))
    assert said.exit_code == 1
    assert "another version" in said.output
    assert said.output.count("\n") == 1


def test_the_page_of_a_fitted_study_has_the_same_numbers_to_the_last_byte(study, compared):
    """Run again in the same folder, with the page; the draws among them."""
    _, out, _ = compared
    numbers = {
        str(path.relative_to(out)): path.read_bytes() for path in out.rglob("*") if path.is_file()
    }
    assert {name for name in numbers if not name.startswith("study/")} == {
        "comparisons.csv", "verdicts.csv", "sensitivity.csv", "curves.csv", "foundings.csv",
        "second_opinion.csv", "diagnosis.json", "draws.nc", "run.json",
    }  # fmt: skip
    again = out.parent / "again"
    run("newsletter", str(study), "--out", str(again), "--seed", "11", "--quiet")
    assert (again / "newsletter.pdf").is_file()
    after = {name: (again / name).read_bytes() for name in numbers}
    assert [name for name in numbers if numbers[name] != after[name]] == []


# --- results that are damaged ---------------------------------------------------------------------


@pytest.fixture(scope="module")
def reading(study, compared, tmp_path_factory):
    """Commands that read results, by name, for a folder of them."""
    settings = (study / "study.toml").read_text("utf-8")
    assert "horizon" in settings
    return {
        "plan": ["plan", "--queens", "4", "--genus", "Lasius", "--day", "160", "--from"],
        "due": ["due", str(study), "--on", "2025-08-01", "--from"],
    }


@pytest.mark.parametrize("way", ["empty", "cut", "torn", "zeros"])
@pytest.mark.parametrize(
    "name", ["run.json", "diagnosis.json", "comparisons.csv", "curves.csv", "draws.nc"]
)
@pytest.mark.parametrize("command", ["plan", "due"])
def test_damaged_results_end_in_one_plain_message(compared, reading, tmp_path, command, name, way):
    folder = tmp_path / "out"
    shutil.copytree(compared[1], folder)
    data = (folder / name).read_bytes()
    middle = len(data) // 2
    changed = {
        "empty": b"",
        "cut": data[:middle],
        "torn": data[: middle - 64] + bytes(64) + data[middle:],
        "zeros": bytes(len(data)),
    }[way]
    (folder / name).write_bytes(changed)
    said = run(*reading[command], str(folder))
    assert said.exit_code == 1
    assert said.output.startswith(f"{folder / name} is damaged: ")
    assert said.output.count("\n") == 1
    assert "Make it again with 'cohort compare STUDY --out FOLDER'." in said.output


def test_whole_results_are_read_by_the_same_commands(compared, reading):
    for words in reading.values():
        said = run(*words, str(compared[1]))
        assert said.exit_code == 0, said.output


def test_torn_draws_are_told_where_a_keepers_page_is_asked_for(study, compared, tmp_path):
    folder = tmp_path / "out"
    shutil.copytree(compared[1], folder)
    (folder / "draws.nc").write_bytes((folder / "draws.nc").read_bytes()[:-1000])

    def again(*args, **kwargs):
        raise StudyError("it is compared anew")

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(comparison, "compare", again)
        said = run("newsletter", str(study), "--out", str(folder), "--quiet", "--keeper", "K1")
    assert f"{folder / 'draws.nc'} is damaged" in said.output
    assert "it is compared anew" in said.output


@pytest.mark.parametrize("name", ["comparisons", "curves", "foundings"])
def test_every_table_of_a_comparison_keeps_to_its_columns(name, compared):
    frame = tables.read(compared[1] / f"{name}.csv", name)
    assert len(frame)
    assert tables.blanks(frame, name) == []


def test_the_bracket_of_total_loss_is_the_one_of_the_history(study, compared):
    """`lost_after` is the last look with a queen alive, and no count of queens."""
    past = history(read_study(study)).foundings.set_index("founding")
    told = tables.read(compared[1] / "foundings.csv", "foundings").set_index("founding")
    assert np.isfinite(past["lost_by"]).sum() >= 2
    for name in ("lost_after", "lost_by"):
        assert told[name].tolist() == past.loc[told.index, name].tolist()
    lost = told["queens_lost_before"] + told["queens_lost_after"]
    gone = np.isfinite(told["lost_by"])
    # nobody was taken out of these foundings
    assert (lost[gone] == told.loc[gone, "size"]).all()
    assert (lost[~gone] == (told["size"] - told["queens_end"])[~gone]).all()


def test_keepers_stand_beside_the_page_only_where_the_study_shows_them(tmp_path):
    for shown in (False, True):
        folder = written(tmp_path / f"study-{shown}", [("A-01", 1), ("A-02", 2)], WITH_WORKERS)
        text = (folder / "foundings.csv").read_text("utf-8").replace(",K1", ",Wanda")
        (folder / "foundings.csv").write_text(text, "utf-8")
        if shown:
            (folder / "study.toml").write_text(SETTINGS + "show_keepers = true\n", "utf-8")
        out = tmp_path / f"out-{shown}"
        run("compare", str(folder), "--out", str(out), "--quiet")
        assert ("Wanda" in (out / "foundings.csv").read_text("utf-8")) is shown
        assert ("keeper" in tables.read(out / "foundings.csv", "foundings")) is shown


# --- studies that cannot be compared yet --------------------------------------------------------


def written(folder: Path, foundings: list[tuple[str, int]], looks: list[tuple[int, float, int]]):
    """A study: foundings (id, queens); looks (day, share of queens alive, workers) of each."""
    folder.mkdir()
    (folder / "study.toml").write_text(SETTINGS, "utf-8")
    first = dt.date(2025, 6, 1)
    lines = [f"{name},Lasius,{first},{queens},K1" for name, queens in foundings]
    (folder / "foundings.csv").write_text(
        "founding,genus,started,queens,keeper\n" + "\n".join(lines) + "\n", "utf-8"
    )
    checks = [
        f"{name},{first + dt.timedelta(days=day)},{int(share * queens)},{workers}"
        for name, queens in foundings
        for day, share, workers in looks
    ]
    (folder / "checks.csv").write_text(
        "founding,date,queens_alive,workers\n" + "\n".join(checks) + "\n", "utf-8"
    )
    return folder


WITH_WORKERS = [(14, 1.0, 0), (40, 1.0, 0), (60, 1.0, 3), (160, 1.0, 10)]
NONE_YET = [(7, 1.0, 0), (14, 1.0, 0)]
EARLY = {
    "one founding": ([("K1-01", 1)], WITH_WORKERS, "no group to compare with"),
    "singles only": ([(f"K1-{i:02d}", 1) for i in range(1, 5)], WITH_WORKERS, "no group"),
    "groups only": ([(f"K1-{i:02d}", 3) for i in range(1, 5)], WITH_WORKERS, "none by one"),
    "no worker yet": ([("K1-01", 1), ("K1-02", 3)], NONE_YET, "no founding has workers yet"),
}


@pytest.mark.parametrize("name", EARLY)
def test_a_study_that_cannot_be_compared_yet_says_so(name, tmp_path):
    foundings, looks, reason = EARLY[name]
    folder = written(tmp_path / "study", foundings, looks)
    result = run("compare", str(folder), "--out", str(tmp_path / "out"), "--quiet")
    assert result.exit_code == 1
    assert reason in result.output
    out = tmp_path / "out"
    diagnosis = json.loads((out / "diagnosis.json").read_text("utf-8"))
    assert diagnosis["settled"] is False
    assert len(pd.read_csv(out / "comparisons.csv")) == 0
    told = pd.read_csv(out / "foundings.csv")
    assert len(told) == len(foundings)
    raw = told["with_workers"].sum()
    assert raw == (0 if looks is NONE_YET else len(foundings))


def test_a_study_all_left_out_says_so(tmp_path):
    folder = written(tmp_path / "study", [("K1-01", 1), ("K1-02", 2)], WITH_WORKERS)
    path = folder / "foundings.csv"
    text = path.read_text("utf-8").replace(",K1\n", ",K1,mites\n")
    path.write_text(text.replace("keeper\n", "keeper,left_out\n"), "utf-8")
    result = run("compare", str(folder), "--out", str(tmp_path / "out"), "--quiet")
    assert result.exit_code == 1
    assert "no founding enters the comparison" in result.output


def test_an_error_in_a_sheet_stops_it_and_offers_the_way_on(tmp_path):
    folder = written(tmp_path / "study", EARLY["no worker yet"][0], NONE_YET)
    path = folder / "checks.csv"
    path.write_text(path.read_text("utf-8").replace("K1-02,2025-06-15,3", "K1-02,2025-06-15,9"))
    result = run("compare", str(folder), "--out", str(tmp_path / "out"), "--quiet")
    assert result.exit_code == 1
    assert "--without-faulty" in result.output
    assert not (tmp_path / "out" / "comparisons.csv").exists()


def test_adjusting_for_what_is_not_there_is_refused_in_words(tmp_path):
    folder = written(tmp_path / "study", [("K1-01", 1), ("K1-02", 2)], WITH_WORKERS)
    (folder / "study.toml").write_text(SETTINGS + 'adjust = ["colour"]\n', "utf-8")
    result = run("compare", str(folder), "--out", str(tmp_path / "out"), "--quiet")
    assert result.exit_code == 1
    assert "colour" in result.output
