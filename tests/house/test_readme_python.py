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


def steps():
    """The blocks of the tutorial, in their order."""
    text = (ROOT / "analyses" / "README.md").read_text("utf-8")
    return re.findall(r"```python\n(.*?)```", text, re.DOTALL)


def test_the_tutorial_runs_where_nothing_is_fitted(tmp_path, monkeypatch):
    """All but the steps that look at draws; a fit takes long and has tests of its own."""
    (tmp_path / "data").symlink_to(ROOT / "data")
    monkeypatch.chdir(tmp_path)
    pages = []
    monkeypatch.setattr(cohort, "compare", lambda study, **how: invented(), raising=False)
    monkeypatch.setattr(face, "write_newsletter", lambda made, folder: pages.append(folder))
    names: dict[str, object] = {}
    for number, code in enumerate(steps(), 1):
        if number not in (8, 9):
            exec(code, names)
    assert number == 10
    assert pages == ["page"]
    assert len(names["same"])
    plt.close("all")


# of two kinds one founding may sway the draws much; the text says what ArviZ then warns of
@pytest.mark.filterwarnings("ignore:Estimated shape parameter of Pareto:UserWarning")
@pytest.mark.filterwarnings("ignore:Numba will use object mode")  # replicates are our own function
@pytest.mark.slow
def test_the_tutorial_runs_as_it_stands(tmp_path, monkeypatch):
    (tmp_path / "data").symlink_to(ROOT / "data")
    monkeypatch.chdir(tmp_path)
    names: dict[str, object] = {}
    for code in steps():
        exec(code, names)
    assert names["made"].results.settled
    assert names["mine"].results.settled
    assert (tmp_path / "page" / "newsletter.pdf").is_file()
    plt.close("all")


@pytest.mark.parametrize("name", cohort.__all__)
def test_every_public_name_is_there_and_says_what_it_is(name):
    assert getattr(cohort, name).__doc__
