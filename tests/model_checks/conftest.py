"""Let these tests use the one-line studies and the reference likelihood."""

import sys
from pathlib import Path

for folder in ("history", "reference"):
    place = str(Path(__file__).parents[1] / folder)
    if place not in sys.path:
        sys.path.insert(0, place)
