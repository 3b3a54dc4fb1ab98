"""Examples in the docstrings of what people hold in hand, run; and each docstring is whole.

They run beside a copy of the demo season and of a folder of results (``out``), as somebody reading
them would have both. An example that samples for long bears ``+SKIP`` and says why.
"""

import doctest
import inspect
import shutil
import warnings
from functools import cached_property
from pathlib import Path

import matplotlib.pyplot as plt
import pytest
from made_ours import invented

import cohort

ROOT = Path(__file__).parents[2]
HELD = [name for name in cohort.__all__ if inspect.isclass(getattr(cohort, name))]
#: Made to be read by other parts of the house, or no more than a size.
PLAIN = {"facts"}


def held_in_hand():
    """Public names, and public methods of those that are classes, with what documents each."""
    for name in cohort.__all__:
        thing = getattr(cohort, name)
        yield name, thing
        ours = [k for k in getattr(thing, "__mro__", ()) if k.__module__.startswith("cohort.")]
        members = {own: member for kind in reversed(ours) for own, member in vars(kind).items()}
        for own, member in members.items():
            if own.startswith("_") or own in PLAIN:
                continue
            if isinstance(member, staticmethod | classmethod):
                member = member.__func__
            if isinstance(member, property | cached_property) or inspect.isfunction(member):
                yield f"{name}.{own}", member


EVERY = dict(held_in_hand())


@pytest.fixture(scope="module")
def beside(tmp_path_factory):
    """A folder with the demo season and with results, as the examples name them."""
    place = tmp_path_factory.mktemp("examples")
    shutil.copytree(ROOT / "data" / "demo", place / "data" / "demo")
    invented().write(place / "out")
    return place


@pytest.mark.parametrize("name", EVERY)
def test_its_examples_run(name, beside, monkeypatch):
    monkeypatch.chdir(beside)
    text = inspect.getdoc(EVERY[name]) or ""
    flags = doctest.ELLIPSIS | doctest.NORMALIZE_WHITESPACE
    test = doctest.DocTestParser().get_doctest(text, {}, name, None, 0)
    told = []
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", UserWarning)  # pooling says what it settled
        doctest.DocTestRunner(optionflags=flags).run(test, out=told.append)
    plt.close("all")
    assert not told, "".join(told)
    if not isinstance(EVERY[name], property | cached_property):
        assert test.examples, f"{name} has no example"


def parameters(thing):
    """Names of what a caller may give."""
    if isinstance(thing, property | cached_property):
        return []
    if inspect.isclass(thing) and issubclass(thing, Exception) and "__init__" not in vars(thing):
        return []
    out = [p.lstrip("*") for p in inspect.signature(thing).parameters]
    return [name for name in out if name not in ("self", "cls")]


def lacking(name, thing):
    """What a reader is not told: the first line, parameters, what comes back, errors."""
    text = inspect.getdoc(thing) or ""
    out = [] if text.split("\n", 1)[0].strip().endswith((".", ":")) else ["a first line"]
    out += [p for p in parameters(thing) if not told(text, p)]
    if inspect.isclass(thing) or isinstance(thing, property | cached_property):
        return out
    if "Returns\n---" not in text:
        out.append("what comes back")
    if "Raises\n---" not in text and name not in RAISES_NOTHING:
        out.append("errors")
    return out


def told(text, parameter):
    """Whether a line of the docstring explains a parameter, alone or with its like."""
    lines = (line.split(" :")[0] for line in text.splitlines())
    return any(parameter in line.replace("*", "").split(", ") for line in lines)


RAISES_NOTHING = {
    "audit_sheets",  # what is wrong are its findings
    "Study.history",
    "Priors.as_json",
}


@pytest.mark.parametrize("name", EVERY)
def test_its_docstring_is_whole(name):
    assert not lacking(name, EVERY[name])


def test_a_docstring_that_says_less_is_found_out():
    def bare(study, *, seed):
        """Give something.

        Parameters
        ----------
        study : Study
        """

    assert lacking("bare", bare) == ["seed", "what comes back", "errors"]
    assert "a first line" in lacking("none", lambda study: None)


def test_a_wrong_example_is_found_out():
    told = []
    test = doctest.DocTestParser().get_doctest(">>> 1 + 1\n3\n", {}, "wrong", None, 0)
    doctest.DocTestRunner().run(test, out=told.append)
    assert told
