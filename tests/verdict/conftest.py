"""Let these tests use the reference likelihood and the one-line studies."""

import sys
from pathlib import Path

for folder in ("reference", "history"):
    place = str(Path(__file__).parents[1] / folder)
    if place not in sys.path:
        sys.path.insert(0, place)
