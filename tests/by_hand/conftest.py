"""Let these tests use the one-line studies that live beside the tests of the history."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "history"))
sys.path.insert(0, str(Path(__file__).parents[1] / "reference"))
