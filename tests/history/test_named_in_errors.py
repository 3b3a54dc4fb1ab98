"""An error names the founding that is wrong, not the first one."""

from types import SimpleNamespace

import pandas as pd
import pytest

from cohort.base.errors import StudyError
from cohort.history.looks import codes_of


def test_the_unknown_founding_is_the_one_named():
    begun = SimpleNamespace(names=pd.Index(["A", "B"]))
    assert codes_of(pd.Series(["B", "A", "B"]), begun).tolist() == [1, 0, 1]
    with pytest.raises(StudyError, match="'C'"):
        codes_of(pd.Series(["A", "B", "C"]), begun)
