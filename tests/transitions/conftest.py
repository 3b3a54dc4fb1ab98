"""Let these tests use the reference likelihood, the one-line studies and the lineups."""

import sys
from pathlib import Path

for folder in ("reference", "history", "model"):
    place = str(Path(__file__).parents[1] / folder)
    if place not in sys.path:
        sys.path.insert(0, place)
