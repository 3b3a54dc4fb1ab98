"""Let these tests use the reference likelihood and the one-line studies.

Comparisons of many simulated studies are kept, one file each, in pytest's cache: a run that was
broken off goes on, and another test that asks for the same studies reads them. They lie under a
hash of the package's sources, so that no study compared by other code is counted.
"""

import hashlib
import os
from pathlib import Path

import pytest

from cohort.calibrate import told, trials

PACKAGE = Path(__file__).parents[2] / "cohort"
#: Rooms in which nothing is decided that a comparison says.
APART = (
    "bring",
    "cli",
    "figures",
    "forecast",
    "log",
    "newsletter",
    "plan",
    "power",
    "print",
    "prove",
)


def sources():
    """A hash of all that a comparison of a simulated study can depend on."""
    out = hashlib.sha256()
    for path in sorted(PACKAGE.rglob("*.py")):
        name = path.relative_to(PACKAGE)
        if name.parts[0] not in APART:
            out.update(str(name).encode() + b"\0" + path.read_bytes() + b"\0")
    return out.hexdigest()[:16]


@pytest.fixture(scope="session")
def compared(request):
    """Compares so many studies of some worlds, and gives the table of what was said."""
    folder = request.config.cache.mkdir(f"studies-{sources()}")

    def compare(worlds, count):
        trials(folder, worlds, range(1, count + 1), jobs=os.cpu_count() or 1)
        table = told(folder, worlds)
        print(table.round(3).to_string(index=False))
        return table.set_index(["world", "foundings"])

    compare.folder = folder
    return compare
