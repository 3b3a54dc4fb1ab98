"""The Python of the README runs as it stands there."""

import re
from pathlib import Path

import matplotlib.pyplot as plt
import pytest
from made_ours import invented

import cohort
from cohort import face

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text("utf-8")


def test_the_lines_of_the_readme_run(tmp_path, monkeypatch):
    code = re.search(r"## From Python\n\n```python\n(.*?)```", README, re.DOTALL).group(1)
    (tmp_path / "data").symlink_to(ROOT / "data")
    monkeypatch.chdir(tmp_path)
    pages = []
    # a fit takes long, and so does a page; each has tests of its own
    monkeypatch.setattr(cohort, "compare", lambda study: invented(), raising=False)
    monkeypatch.setattr(face, "write_newsletter", lambda made, folder: pages.append(folder))
    names: dict[str, object] = {}
    exec(code, names)
    assert isinstance(names["s"], cohort.Study)
    assert len(names["r"].comparisons) == len(names["made"].results.comparisons)
    assert pages == ["again"]
    plt.close("all")


@pytest.mark.parametrize("name", cohort.__all__)
def test_every_public_name_is_there_and_says_what_it_is(name):
    assert getattr(cohort, name).__doc__
