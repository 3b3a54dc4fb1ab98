"""Let these tests use the one-line studies of the history's tests."""

import sys
from pathlib import Path

place = str(Path(__file__).parents[1] / "history")
if place not in sys.path:
    sys.path.insert(0, place)
