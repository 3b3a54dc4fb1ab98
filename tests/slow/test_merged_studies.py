"""Any two studies merged: 200 pairs; five of them in tests/desk/test_share.py."""

import pytest
from hypothesis import given, settings
from merged_studies import STUDY, merged_twice

pytestmark = pytest.mark.slow


@settings(max_examples=200, deadline=None)
@given(one=STUDY, two=STUDY)
def test_rows_of_ours_are_never_lost_and_once_more_changes_nothing(one, two, tmp_path_factory):
    merged_twice(one, two, tmp_path_factory.mktemp("any"))
