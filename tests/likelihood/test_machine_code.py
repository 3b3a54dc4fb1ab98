"""Machine code on disk: kept, found again, thrown away where damaged, done without if need be."""

import os
import shutil
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

import numba
import pytest

import cohort
from cohort import likelihood
from cohort.likelihood import machine_code

ASK = """
import numpy as np
from cohort.likelihood.transition_probabilities import choose
from cohort.likelihood.founding import losses
from cohort.likelihood.rates import RATES, GRADIENT
rows = np.array([[1.0, 3.0, 2.0, 10.0, 0, 0, 0, 0]])
print(losses(rows, 0, 1, np.full(RATES, 0.01), np.zeros(GRADIENT))[1], losses.stats.cache_hits)
"""


@pytest.fixture(scope="module")
def package(tmp_path_factory):
    """A copy of the package whose code of one function is kept."""
    place = tmp_path_factory.mktemp("package")
    shutil.copytree(
        Path(cohort.__file__).parent,
        place / "cohort",
        ignore=shutil.ignore_patterns("__pycache__", "newsletter", "figures", "print", "cli"),
    )
    ask(place)
    return place


def ask(package, **env):
    """Value of a compiled function, how many of its codes were found on disk, what was said."""
    given = os.environ | {"PYTHONPATH": str(package), "PYTHONDONTWRITEBYTECODE": "1"}
    given.pop("NUMBA_CACHE_DIR", None)
    out = subprocess.run(
        [sys.executable, "-c", ASK],
        env=given | env,
        cwd=package,
        capture_output=True,
        text=True,
    )
    assert out.returncode == 0, out.stderr
    value, hits = out.stdout.replace("Counter", "").split(maxsplit=1)
    return float(value), int("1" in hits), out.stderr


def kept(package):
    return sorted(
        package.glob(f"cohort/likelihood/__pycache__/{machine_code.FOLDER}*/*{machine_code.ENDING}")
    )


def test_this_numba_takes_our_way_of_keeping_code():
    """A name numba does not promise; without it edits of a kernel are not seen everywhere."""
    assert likelihood.KEPT


def test_code_is_found_again(package):
    _, hits, said = ask(package)
    assert hits == 1
    assert said == ""
    assert kept(package)


@pytest.mark.parametrize(
    "damage",
    [
        "cut",
        "nonsense under a good seal",
        *(pytest.param(d, marks=pytest.mark.slow) for d in ("empty", "one bit", "of another")),
    ],
)
def test_damaged_code_is_thrown_away_and_compiled_again(package, damage):
    good, _, _ = ask(package)
    whole = {path: path.read_bytes() for path in kept(package)}
    for path, blob in whole.items():
        spoilt = bytearray(blob)
        spoilt[len(blob) // 2] ^= 1
        path.write_bytes(
            {
                "empty": b"",
                "cut": blob[: len(blob) // 2],
                "one bit": bytes(spoilt),
                "of another": next(other for place, other in whole.items() if place != path),
                "nonsense under a good seal": machine_code.sealed(path.name, b"\x80\x05."),
            }[damage]
        )
    value, hits, said = ask(package)
    assert (value, hits) == (good, 0)
    assert said.count("\n") == 1, said
    assert "thrown away" in said
    assert ask(package) == (good, 1, "")


@pytest.mark.slow  # eleven seconds of compiling
def test_where_code_cannot_be_kept_the_next_place_takes_it_and_else_it_is_said(package, tmp_path):
    good, _, _ = ask(package)
    blocked = tmp_path / "blocked"
    blocked.write_text("a file, not a folder")
    value, hits, said = ask(package, NUMBA_CACHE_DIR=str(blocked))
    assert (value, hits, said) == (good, 1, "")  # found beside the sources
    for folder in package.glob(f"cohort/likelihood/__pycache__/{machine_code.FOLDER}*"):
        shutil.rmtree(folder)
    beside = package / "cohort" / "likelihood" / "__pycache__"
    away = beside.rename(tmp_path / "away") if beside.exists() else None
    beside.write_text("a file, not a folder")
    try:
        home = {"NUMBA_CACHE_DIR": str(blocked), "XDG_CACHE_HOME": str(tmp_path / "home")}
        assert ask(package, **home) == (good, 0, "")
        assert ask(package, **home) == (good, 1, "")
        value, hits, said = ask(package, NUMBA_CACHE_DIR=str(blocked), XDG_CACHE_HOME=str(blocked))
        assert (value, hits) == (good, 0)
        assert said.count("\n") == 1
        assert "cannot be kept" in said
    finally:
        beside.unlink()
        if away:
            away.rename(beside)


def test_a_full_disk_does_not_stop_it(tmp_path, monkeypatch, capsys):
    monkeypatch.setattr(machine_code, "places", lambda name: iter([tmp_path / "a" / name]))
    usual = Path.write_bytes

    def full(path, content):
        usual(path, content[: len(content) // 2])
        raise OSError(28, "No space left on device")

    store = machine_code.Kept("kernels-0")
    with monkeypatch.context() as patch:
        patch.setattr(Path, "write_bytes", full)
        store.put("f.code", b"x" * 100)
        store.put("g.code", b"x" * 100)
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    assert "cannot be kept" in said
    assert list(tmp_path.rglob("*.*")) == []  # nothing half written
    assert store.get("f.code") is None
    store.put("f.code", b"x" * 100)
    assert store.get("f.code") == b"x" * 100


def test_two_machines_with_one_process_number_do_not_break_each_other(tmp_path, monkeypatch):
    """They share a folder; the other keeps the same code just before this one's rename."""
    monkeypatch.setattr(machine_code, "places", lambda name: iter([tmp_path / name]))
    monkeypatch.setattr(machine_code.Kept, "_tidy", lambda *_: None)
    store, usual = machine_code.Kept("kernels-0"), os.replace
    waiting = [lambda: store.put("f.code", b"other")]

    def replace(draft, path):
        if waiting:
            waiting.pop()()
        usual(draft, path)

    monkeypatch.setattr(os, "replace", replace)
    store.put("f.code", b"mine")
    assert store.get("f.code") == b"mine"  # the last one; before, it said it could not be kept
    assert [p.name for p in (tmp_path / "kernels-0").iterdir()] == ["f.code"]


def test_folders_of_older_sources_go_but_for_the_last(tmp_path, monkeypatch):
    monkeypatch.setattr(machine_code, "places", lambda name: iter([tmp_path / name]))
    ours = [f"{machine_code.FOLDER}{at:016x}" for at in range(7)]
    for at, name in enumerate(ours[:6]):
        old = tmp_path / name
        old.mkdir()
        os.utime(old, (at, at))
    theirs = ("other", "kernels-paper", f"{machine_code.FOLDER}notes")  # the place may be shared
    for name in theirs:
        (tmp_path / name).mkdir()
        os.utime(tmp_path / name, (0, 0))
    machine_code.Kept(ours[6]).put("f.code", b"1")
    left = sorted(path.name for path in tmp_path.iterdir())
    assert left == sorted([*ours[3:], *theirs])


def test_functions_of_others_keep_their_own_way(monkeypatch):
    from numba.core import dispatcher
    from numba.core.caching import FunctionCache

    from cohort.likelihood.transition_probabilities import choose

    assert type(dispatcher.FunctionCache(lambda: 0)) is FunctionCache
    ours = dispatcher.FunctionCache(getattr(choose, "py_func", choose))
    assert not isinstance(ours, FunctionCache)
    monkeypatch.delattr(dispatcher, "FunctionCache")
    assert machine_code.install() is False  # another numba: left alone, nothing raised


def test_a_damaged_file_that_cannot_be_removed_does_not_hide_a_good_one(tmp_path, monkeypatch):
    first, second = tmp_path / "first", tmp_path / "second"
    monkeypatch.setattr(machine_code, "places", lambda name: iter([first, second]))
    store = machine_code.Kept("kernels-0")
    store.put("f.code", b"good")
    first.rename(second)
    first.mkdir()
    (first / "f.code").write_bytes(b"damaged")
    usual = Path.unlink

    def unlink(path, missing_ok=False):
        if path.parent == first:
            raise PermissionError(13, "Permission denied")
        usual(path, missing_ok)

    monkeypatch.setattr(Path, "unlink", unlink)
    assert store.get("f.code") == b"good"
    assert store.get("f.code") == b"good"


class Target:
    """As much of numba's target as is asked when code is kept."""

    def refresh(self):
        pass

    def codegen(self):
        return SimpleNamespace(magic_tuple=lambda: ("this machine",))


def compiled(result, *, dynamic=False, cannot=False):
    """As much of what numba has compiled as is kept: here a number."""
    return SimpleNamespace(
        lifted=[SimpleNamespace(can_cache=not cannot)],
        library=SimpleNamespace(has_dynamic_globals=dynamic),
        target_context=Target(),
        _reduce=lambda: (result,),
    )


@pytest.fixture
def codes(tmp_path, monkeypatch):
    monkeypatch.setattr(machine_code, "places", lambda name: iter([tmp_path / name]))
    made = machine_code.Codes(machine_code.Kept("kernels-0"), "sources")
    made._rebuilt = lambda target, result: {"result": result}
    return made


def test_code_is_known_by_function_signature_and_sources(codes):
    first, second = machine_code.sealed, machine_code.opened
    assert codes.load(first, "int", Target()) is None
    codes.save(first, "int", compiled(42))
    codes.save(first, "float", compiled(43))
    assert codes.load(first, "int", Target()) == {"result": 42}
    assert codes.load(first, "float", Target()) == {"result": 43}
    assert codes.load(second, "int", Target()) is None
    edited = machine_code.Codes(codes.kept, "other sources")
    assert edited.load(first, "int", Target()) is None


def test_code_with_addresses_of_this_run_is_not_kept(codes):
    codes.save(machine_code.sealed, "int", compiled(42, dynamic=True))
    codes.save(machine_code.sealed, "int", compiled(42, cannot=True))
    assert codes.load(machine_code.sealed, "int", Target()) is None


def test_code_that_numba_cannot_read_is_thrown_away(codes, tmp_path):
    codes.save(machine_code.sealed, "int", compiled(42))
    codes._rebuilt = lambda target: None  # takes no result: whatever is wrong with it
    assert codes.load(machine_code.sealed, "int", Target()) is None
    assert list(tmp_path.rglob("*.code")) == []


def test_a_function_whose_code_is_switched_off_is_neither_looked_up_nor_kept(codes, tmp_path):
    own = machine_code._cache_class(codes)(machine_code.sealed)
    assert own.cache_path == str(tmp_path / "kernels-0")
    own.disable()
    own.save_overload("int", compiled(42))
    own.enable()
    assert own.load_overload("int", Target()) is None
    own.save_overload("int", compiled(42))
    own.disable()
    assert own.load_overload("int", Target()) is None
    own.enable()
    assert own.load_overload("int", Target()) == {"result": 42}
    own.flush()
    assert own.load_overload("int", Target()) is None


@pytest.mark.parametrize(
    ("system", "variable", "under"),
    [
        ("linux", "XDG_CACHE_HOME", "cohort/kernels-0"),
        ("win32", "LOCALAPPDATA", "cohort/kernels-0"),
        ("darwin", "HOME", "Library/Caches/cohort/kernels-0"),
    ],
)
def test_the_last_place_is_the_cache_of_whoever_runs_it(
    tmp_path, monkeypatch, system, variable, under
):
    """Where each system has a user's caches: XDG base directories, and common practice."""
    monkeypatch.setattr(sys, "platform", system)
    monkeypatch.setenv(variable, str(tmp_path))
    first, *_, last = machine_code.places("kernels-0")
    assert last == tmp_path / under
    monkeypatch.setattr(numba.config, "CACHE_DIR", str(tmp_path / "asked"))
    assert next(machine_code.places("kernels-0")) == tmp_path / "asked" / "kernels-0" != first
    if system == "linux":
        monkeypatch.delenv(variable)
        assert list(machine_code.places("kernels-0"))[-1] == (
            Path.home() / ".cache" / "cohort" / "kernels-0"
        )


def test_a_function_without_a_file_is_none_of_ours():
    assert not machine_code._ours(len)
    assert machine_code._ours(machine_code.sealed)
