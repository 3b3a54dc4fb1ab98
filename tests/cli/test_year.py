"""A year of a club of three keepers, from an empty folder to the second summer: see ``year.md``.

One has a phone, one a spreadsheet of her own, one paper. The commands of the year are run on their
days but for the comparisons, which are fitted elsewhere. After each the screen says what it must,
and no line that was written is ever lost. The ordinary run ends with summer; the year is slow.
"""

from __future__ import annotations

import datetime as dt
import importlib
import io
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path
from types import SimpleNamespace

import pytest
from year_of_three import Step, by_hand, folder_of, steps

from cohort.cli import main
from cohort.study import Study, read_study

ASK_THE_DAY = (
    "cohort.audit",
    "cohort.base.asked",
    "cohort.cli.asked",
    "cohort.cli.due",
    "cohort.cli.print_commands",
    "cohort.desk.allot_study",
    "cohort.desk.correct",
    "cohort.desk.log",
)


class _Any(type):
    def __instancecheck__(cls, one):
        return isinstance(one, dt.date)


def clock_of(day: dt.date) -> SimpleNamespace:
    """The module ``datetime`` on a day of the story."""
    date = _Any("date", (dt.date,), {"today": classmethod(lambda cls: day)})
    return SimpleNamespace(**{**vars(dt), "date": date})


class Club:
    """The folders of the keepers, and every screen."""

    def __init__(self, place: Path) -> None:
        self.place, self.screens = place, []
        for name in ("k2", "k3"):
            (place / name).mkdir()
        self.rows: dict[str, set[str]] = {}

    def take(self, step: Step, patch: pytest.MonkeyPatch) -> None:
        if step.by_hand:
            by_hand(self.place, step)
            return
        patch.chdir(folder_of(self.place, step.who))
        for name in ASK_THE_DAY:
            patch.setattr(importlib.import_module(name), "dt", clock_of(step.day))
        code, said = self.run(step)
        self.screens.append(said)
        flat = " ".join(said.split())
        assert "Traceback" not in said, step
        assert code == step.exit_code, f"{step}\n{said}"
        for text in step.says:
            assert text in flat, f"{step}\n{said}"
        for text in step.never:
            assert text not in flat, f"{step}\n{said}"
        self.nothing_lost(step)

    def run(self, step: Step) -> tuple[int, str]:
        said, words = io.StringIO(), list(step.words)
        if step.message:
            message = self.place / "message.txt"
            message.write_text(step.message, "utf-8")
            words += ["--from", str(message)]
        with redirect_stdout(said), redirect_stderr(said), pytest.raises(SystemExit) as end:
            main(words)
        return int(end.value.code or 0), said.getvalue()

    def nothing_lost(self, step: Step) -> None:
        """Lines of the sheets are only added, but by an undo, and those of a name filled in."""
        for sheet in self.place.glob("k*/*/*.csv"):
            key = sheet.relative_to(self.place).as_posix()
            now = set(sheet.read_text("utf-8").splitlines())
            gone = self.rows.get(key, set()) - now
            assert not gone or "--undo" in step.words or "kinds" in key, (str(step), gone)
            self.rows[key] = now


def lived(place: Path, some: list[Step]) -> Club:
    """A club after some steps of the year."""
    club = Club(place)
    for step in some:
        if not step.elsewhere:
            with pytest.MonkeyPatch.context() as patch:
                patch.delenv("COLUMNS", raising=False)
                club.take(step, patch)
    return club


@pytest.fixture(scope="module")
def summer(tmp_path_factory):
    return lived(tmp_path_factory.mktemp("summer"), steps("the night", "summer"))


@pytest.fixture(scope="module")
def club(tmp_path_factory):
    return lived(tmp_path_factory.mktemp("year"), steps())


def alive(made: Study) -> dict[str, int]:
    """Queens at the last look at each founding at which they were counted."""
    last = made.checks.dropna(subset=["queens_alive"]).groupby("founding")["queens_alive"].last()
    return {number: int(queens) for number, queens in last.items()}


def test_every_command_of_the_summer_says_what_it_must_and_loses_nothing(summer):
    assert len(summer.screens) >= 30
    made = read_study(summer.place / "k2" / "club")
    assert len(made.foundings) == 24
    assert made.foundings["queens"].sum() == 48
    queens = alive(made)
    assert [queens[f"K1-0{n}"] for n in range(1, 9)] == [1, 0, 1, 1, 1, 3, 1, 1]
    assert [queens[f"K2-0{n}"] for n in range(1, 9)] == [2, 1, 0, 3, 1, 1, 3, 0]
    assert [queens[f"K3-0{n}"] for n in range(1, 9)] == [1, 2, 1, 3, 1, 3, 1, 3]


@pytest.mark.slow
def test_every_command_of_the_year_says_what_it_must_and_loses_nothing(club):
    assert len(club.screens) >= 60
    assert {step.words[0] for step in steps() if not step.elsewhere} >= {
        "begin", "allot", "print", "form", "log", "bring", "audit", "due", "pack", "merge",
    }  # fmt: skip


@pytest.mark.slow
def test_what_the_keepers_saw_is_what_the_study_has(club):
    made = read_study(club.place / "k2" / "club")
    assert len(made.foundings) == 24
    assert made.foundings["queens"].sum() == 48
    assert made.foundings["genus"].value_counts().to_dict() == {
        "Lasius": 12, "Camponotus": 8, "Tetramorium": 4,
    }  # fmt: skip
    queens = alive(made)
    assert [queens[f"K1-0{n}"] for n in range(1, 9)] == [1, 0, 1, 1, 1, 1, 1, 0]
    assert [queens[f"K2-0{n}"] for n in range(1, 9)] == [1, 1, 0, 2, 1, 0, 1, 0]
    assert [queens[f"K3-0{n}"] for n in range(1, 9)] == [1, 2, 0, 1, 0, 1, 1, 0]
    events = made.events["event"].value_counts()
    assert (events["fight"], events["mould"], events["queens-out"]) == (3, 1, 1)


@pytest.mark.slow
def test_all_that_lived_came_through_winter_rest(club):
    """Each that was put away in October was taken out in March, on its keeper's day."""
    events = read_study(club.place / "k2" / "club").events
    winter = events[events["event"].isin(("winter-in", "winter-out"))]
    days = winter.groupby("founding")["date"].agg(lambda some: [f"{one:%m-%d}" for one in some])
    lost = {"K1-08": ["10-19"], "K2-06": ["10-20"]}  # found dead when they were taken out
    kept = {"K1": ["10-19", "03-14"], "K2": ["10-20", "03-12"], "K3": ["10-20", "03-15"]}
    assert dict(days) == {
        number: lost.get(number, kept["K1" if number == "K3-07" else number[:2]])
        for number in days.index
    }
    assert len(days) == 19
