"""What a command or a fit takes, counted and not timed: modules, bytes, gradients.

Seconds hang on the machine and on what else it does; counts do not, so that CI can hold them. They
are recorded in ``counts.json``. Where a change is meant to need more, or needs less, record anew,
on any machine (half a minute):

    python tests/counts/counted.py

``modules``
    Loaded by a command: all, those of this package, and the packages that are not Python's own.
    What pandas takes along only where it happens to be installed is left out.
``bytes``
    Of files opened for reading by a command in one process, each opening counted as the whole file:
    of the study, over the bytes that lie there (how often a sheet is read); and of what lies beside
    the code (catalogues), in bytes. What a library opens past Python (a workbook) is not seen.
``gradients``
    Steps of the sampler in a fit of 20 foundings, 4 chains of 300 warm-up draws (counted too) and
    200 kept ones: each is one gradient. Summed over three seeds. The same seed and code give the
    same count on one machine; on another processor sums end in other digits, chains part, and the
    count is another draw of the same kind: hence the spread over ten seeds is recorded beside it.
    How long one gradient takes, and how many of them make an independent draw, is not in it: that
    is timed by the bench.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parents[2]
RECORD = Path(__file__).with_name("counts.json")
MORE = 1.1
"""Times the recorded count that is still taken."""
SEEDS, EVERY = (1, 2, 3), tuple(range(1, 11))
COMMANDS = {
    "--help": ["--help"],
    "audit": ["audit", "STUDY"],
    "compare": ["compare", "STUDY", "--out", "OUT", "--quiet"],
}
"""The study has nothing to compare: what is loaded and read for a fit is not in it."""
LOADED, READ = ("all", "ours", "packages"), ("study", "beside_code")
KEPT = {"--help": LOADED, "audit": (*LOADED, *READ), "compare": READ}
BESIDE = ("pyarrow", "cloudpickle", "numexpr", "bottleneck")
WATCHED = """
import os, sys
from pathlib import Path
words, places, first = {words!r}, {places!r}, {first!r}
os.cpu_count = lambda: 1  # no second process, whose reading would not be seen
read, code = dict.fromkeys(places, 0), (".py", ".pyc", ".so", ".pth", ".nbi", ".nbc")
def hook(event, given):
    if event != "open" or not isinstance(given[0], str):
        return
    path, mode, flags = given
    reads = "r" in mode if mode else flags & os.O_ACCMODE == os.O_RDONLY
    for place in places:
        if reads and path.startswith(place) and not path.endswith(code) and os.path.isfile(path):
            read[place] += os.stat(path).st_size
exec(first)
sys.addaudithook(hook)
from cohort.cli import main
try:
    main(words)
except SystemExit:
    pass
once = dict(read)
for sheet in Path(places[0]).glob("*.csv"):  # as if the sheets were read once more
    sheet.read_bytes()
import json
loaded = {{n: m for n, m in sys.modules.items() if n.split(".")[0] not in {beside!r}}}
site = [n for n, m in loaded.items() if "site-packages" in (getattr(m, "__file__", "") or "")]
print(json.dumps({{
    "all": len(loaded),
    "ours": sum(name.split(".")[0] == "cohort" for name in loaded),
    "packages": sorted({{name.split(".")[0] for name in site if name[0] != "_"}}),
    "study": once[places[0]],
    "beside_code": once[places[1]],
    "study_if_read_again": read[places[0]],
}}), file=sys.stderr)
"""


def study(folder: Path) -> Path:
    """Sheets in which nothing can be compared, so that a comparison makes no fit."""
    folder.mkdir()
    (folder / "study.toml").write_text('season = "2025"\nhorizon_days = 90\nends = 2025-12-31\n')
    names = [f"K1-{i:03d}" for i in range(1, 101)]
    (folder / "foundings.csv").write_text(
        "founding,genus,started,queens,keeper\n"
        + "".join(f"{name},Lasius,2025-06-01,1,K1\n" for name in names)
    )
    (folder / "checks.csv").write_text(
        "founding,date,queens_alive,workers\n"
        + "".join(f"{name},2025-{m:02d}-{d:02d},1,0\n" for m in (6, 7, 8) for d in range(2, 30, 3)
                  for name in names)
    )  # fmt: skip
    return folder


def command(words: list[str], *, first: str = "") -> dict:
    """Counts of one command, in a process of its own; ``first`` is run before it."""
    with tempfile.TemporaryDirectory() as place:
        sheets = study(Path(place).resolve() / "study")
        size = sum(path.stat().st_size for path in sheets.iterdir())
        given = {"STUDY": str(sheets), "OUT": str(Path(place) / "out")}
        told = {
            "words": [given.get(word, word) for word in words],
            "places": (f"{sheets}/", f"{ROOT / 'cohort'}/"),
            "first": first,
            "beside": BESIDE,
        }
        said = subprocess.run(
            [sys.executable, "-c", WATCHED.format(**told)],
            capture_output=True, text=True, check=True, cwd=ROOT,
            env={"PATH": "/usr/bin:/bin", "PYTHONPATH": str(ROOT), "HOME": str(Path.home())},
        )  # fmt: skip
    counts = json.loads(said.stderr.splitlines()[-1])
    for name in ("study", "study_if_read_again"):
        counts[name] = round(counts[name] / size, 3)
    return counts


class _Whole:
    """A walk of nutpie that keeps its warm-up, and remembers the draws."""

    def __init__(self, walk, seen):
        self._walk, self._seen = walk, seen

    def __getattr__(self, name):
        return getattr(self._walk, name)

    def wait(self, *given, **how):
        tree = self._walk.wait(*given, **how)
        self._seen.append(tree)
        return tree


def gradients(seeds=SEEDS, **how) -> list[int]:
    """Steps of the sampler by seed, warm-up included; ``how`` as `cohort.model.sample.sample`."""
    import nutpie

    from cohort.history import history
    from cohort.model.priors import Priors
    from cohort.model.sample import prepare, sample
    from cohort.simulate.season import simple_study
    from cohort.simulate.truth import GenusTruth
    from cohort.study import read_study

    genera = {
        "Lasius": GenusTruth(rivalry=2.0, together=-0.3),
        "Messor": GenusTruth(rivalry=1.0, together=0.3),
    }
    with tempfile.TemporaryDirectory() as place:
        made = simple_study(20, genera, sizes=(1, 3), look_every=7, horizon=120, seed=3)
        design, exposure = prepare(history(read_study(made.write(Path(place) / "study"))))
    usual, out = nutpie.sample, []
    seen: list = []
    nutpie.sample = lambda model, **given: _Whole(
        usual(model, **(given | {"save_warmup": True})), seen
    )
    try:
        for seed in seeds:
            seen.clear()
            sample(design, exposure, Priors(), seed=seed, draws=200, **how)
            groups = ("warmup_sample_stats", "sample_stats")
            out.append(sum(int(tree[name]["n_steps"].sum()) for tree in seen for name in groups))
    finally:
        nutpie.sample = usual
    return out


def record() -> dict:
    """All counts, as they are recorded."""
    import platform

    from cohort.results import versions

    every = np.array(gradients(EVERY), float)
    found = {name: command(words) for name, words in COMMANDS.items()}
    return {
        "commands": {name: {key: of[key] for key in KEPT[name]} for name, of in found.items()},
        "gradients": {
            "sum": int(every[: len(SEEDS)].sum()),
            "mean": round(float(every.mean())),
            "sd": round(float(every.std(ddof=1))),
            "seeds": len(EVERY),
        },
        "versions": versions(),
        "machine": platform.machine(),
    }


if __name__ == "__main__":
    RECORD.write_text(json.dumps(record(), indent=1) + "\n")
    print(RECORD.read_text())
