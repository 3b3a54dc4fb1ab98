"""Machine code kept on disk, so that a function is compiled once and not at every start.

Comes in: what numba has compiled of this package's functions. Goes out: the same, to later
processes. Never: code of other sources than those that lie here, nor code that was damaged.

A compiled function holds the code of those it calls, but numba looks only at the file of the
function itself: its own cache goes on running the old `study` after an edit of
`transition_probabilities`. And where a file of it is cut short or empty, numba ends with the error
of whoever reads it. Here code lies in a folder named after what all kernel files say (not after
when they were written, which a checkout, a copy or an installation changes), one file for each
function and signature, with its own checksum in front. What cannot be read is thrown away and
compiled again; where nothing can be written, code is compiled anew each time.

`install` takes the place of numba's ``FunctionCache`` for functions of this package alone. That
name is not part of numba's promised interface: where it has gone, numba's own cache is left in
place, and a test fails.
"""

from __future__ import annotations

import contextlib
import hashlib
import inspect
import os
import pickle
import re
import shutil
import sys
import time
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import Any, Final

from cohort.base import background
from cohort.base.disk import draft_of

PACKAGE: Final = Path(__file__).parent.parent
KERNELS: Final = (Path(__file__).parent, PACKAGE / "predict")
"""Folders of kernels: any of their functions may be part of any other."""
SEAL: Final = hashlib.sha256().digest_size
ENDING: Final = ".code"
FOLDER: Final = "founding-cohort-kernels-"
"""Begin of the name of a folder; what the sources say follows, 16 letters of it."""
OTHERS: Final = 3
"""Folders of other sources that are left: those of the last versions that were run here."""


def digest_of(folders: tuple[Path, ...] = KERNELS) -> str:
    """What all sources of some folders say, as 64 letters: another one after any edit."""
    digest = hashlib.sha256()
    for path in (path for folder in folders for path in sorted(folder.glob("*.py"))):
        said = path.read_bytes()
        digest.update(f"{path.name} {len(said)} ".encode() + said)
    return digest.hexdigest()


def places(name: str) -> Iterator[Path]:
    """Folders in which machine code may lie, best first; those not writable are passed over later.

    Parameters
    ----------
    name : str
        Of the folder itself.
    """
    import numba

    asked = getattr(numba.config, "CACHE_DIR", "")  # what NUMBA_CACHE_DIR said
    if asked:
        yield Path(asked) / name
    yield KERNELS[0] / "__pycache__" / name
    with contextlib.suppress(RuntimeError):  # nobody's home is known
        if sys.platform == "win32":
            own = Path(os.environ.get("LOCALAPPDATA") or Path.home() / "AppData" / "Local")
        elif sys.platform == "darwin":
            own = Path.home() / "Library" / "Caches"
        else:
            own = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")
        yield own / "cohort" / name


def sealed(file: str, content: bytes) -> bytes:
    """Content with the checksum of it and of its file's name in front."""
    return hashlib.sha256(file.encode() + content).digest() + content


def opened(file: str, blob: bytes) -> bytes:
    """What `sealed` was given.

    Raises
    ------
    ValueError
        Something of it is missing or changed, or it is of another file.
    """
    content = blob[SEAL:]
    if sealed(file, content) != blob:
        raise ValueError("the checksum does not agree")
    return content


class Kept:
    """Files of machine code in the first folder that takes them.

    Parameters
    ----------
    name : str
        Of the folder; other sources, another name.
    """

    def __init__(self, name: str) -> None:
        self.name = name
        self._tidied = self._told = False

    def get(self, file: str) -> bytes | None:
        """The content of a file, None where it is not kept; what is damaged is thrown away."""
        for place in places(self.name):
            path = place / file
            try:
                return opened(file, path.read_bytes())
            except OSError:
                continue
            except ValueError:
                self.throw_away(file, (place,))
        return None

    def throw_away(self, file: str, where: Iterable[Path] = ()) -> None:
        """Remove a file that is of no use, and say so: once a run, by whoever comes first.

        Parameters
        ----------
        file : str
        where : iterable of Path
            Folders it is removed from; by default all.
        """
        for place in where or places(self.name):
            with contextlib.suppress(OSError):  # it was removed by another, or cannot be
                (place / file).unlink()
                (place / f"{background.main_process()}.said").touch(exist_ok=False)
                _say(
                    "Machine code kept from an earlier run was damaged. It was thrown away and is "
                    "compiled again, which takes up to a minute."
                )

    def put(self, file: str, content: bytes) -> None:
        """Keep a file, whole or not at all; where no folder takes it, say so once and go on."""
        for place in places(self.name):
            draft = draft_of(place / file)
            try:
                place.mkdir(parents=True, exist_ok=True)
                draft.write_bytes(sealed(file, content))
                draft.replace(place / file)
            except OSError:
                with contextlib.suppress(OSError):
                    draft.unlink(missing_ok=True)
                continue
            self._tidy(place)
            return
        if self._told or background.main_process() != os.getpid():
            return  # the main process always compiles something, too
        self._told = True
        tried = ", ".join(str(place.parent) for place in places(self.name))
        _say(
            f"Machine code cannot be kept for the next run ({tried}: not writable, or full). It is "
            "compiled anew each time. Set NUMBA_CACHE_DIR to a folder with 100 MB of room."
        )

    def _tidy(self, place: Path) -> None:
        """Remove what earlier sources left beside a folder, all but the last few."""
        if self._tidied:
            return
        self._tidied = True
        with contextlib.suppress(OSError):
            mine = re.compile(rf"{FOLDER}[0-9a-f]{{16}}")  # the place may be one of many tools
            others = [
                path
                for path in place.parent.iterdir()
                if path != place and path.is_dir() and mine.fullmatch(path.name)
            ]
            others.sort(key=lambda p: p.stat().st_mtime)
            for old in others[:-OTHERS]:
                shutil.rmtree(old, ignore_errors=True)
            for left in (*place.glob("*.part"), *place.glob("*.said")):  # of runs long ended
                if left.stat().st_mtime < time.time() - 3600:
                    left.unlink()


def is_kept() -> bool:
    """Whether machine code of these very sources lies on this machine, from an earlier run."""
    name = _folder(digest_of())
    return any(any(place.glob(f"*{ENDING}")) for place in places(name))


def _folder(sources: str) -> str:
    return f"{FOLDER}{sources[:16]}"


def _say(sentence: str) -> None:
    print(sentence, file=sys.stderr, flush=True)


def beneath(function: Callable[..., Any]) -> Callable[..., Any]:
    """The Python function beneath a compiled one; itself where the compiler is switched off."""
    plain: Callable[..., Any] = getattr(function, "py_func", function)
    return plain


def _file(function: Callable[..., Any], signature: object, target: Any, sources: str) -> str:
    """Name of the file of one function for one signature on this machine."""
    import llvmlite  # type: ignore[import-untyped]  # comes with numba
    import numba

    code = function.__code__
    own = Path(inspect.getfile(function))
    # kernel files have one digest for all of them; a function outside calls them and itself
    mine = sources if own.parent in KERNELS else hashlib.sha256(own.read_bytes()).hexdigest()
    says = (
        str(signature), target.codegen().magic_tuple(), function.__module__,
        function.__qualname__, code.co_firstlineno, code.co_code, sources, mine,
        numba.__version__, llvmlite.__version__, sys.version_info[:2], sys.implementation.name,
    )  # fmt: skip
    digest = hashlib.sha256(repr(says).encode()).hexdigest()[:24]
    return f"{_stem(function)}-{digest}{ENDING}"


def _stem(function: Callable[..., Any]) -> str:
    return f"{function.__module__.rpartition('.')[2]}.{function.__name__}"


def _ours(function: Callable[..., Any]) -> bool:
    """Whether a function lies in a file of this package (and encloses nothing)."""
    try:
        own = Path(inspect.getfile(function))
    except TypeError:
        return False
    return function.__closure__ is None and PACKAGE in own.parents and own.is_file()


class Codes:
    """Compiled functions in and out of files."""

    def __init__(self, kept: Kept, sources: str) -> None:
        from numba.core import compiler, serialize

        result: Any = compiler.CompileResult
        self.kept, self.sources = kept, sources
        self._rebuilt: Any = result._rebuild
        self._laid_out: Any = serialize.dumps

    def load(self, function: Callable[..., Any], signature: object, target: Any) -> Any:
        """What was compiled of a function for a signature; None where it has to be compiled."""
        target.refresh()
        file = _file(function, signature, target, self.sources)
        content = self.kept.get(file)
        if content is None:
            return None
        try:
            return self._rebuilt(target, *pickle.loads(content))
        except Exception:  # whatever it is: compiling again is right
            self.kept.throw_away(file)
            return None

    def save(self, function: Callable[..., Any], signature: object, compiled: Any) -> None:
        """Keep what was compiled, unless it holds addresses of this very run."""
        alone = all(loop.can_cache for loop in compiled.lifted)
        if alone and not compiled.library.has_dynamic_globals:
            file = _file(function, signature, compiled.target_context, self.sources)
            self.kept.put(file, self._laid_out(compiled._reduce()))

    def forget(self, function: Callable[..., Any]) -> None:
        """Remove all that is kept of a function."""
        for place in places(self.kept.name):
            for path in place.glob(f"{_stem(function)}-*{ENDING}"):
                path.unlink(missing_ok=True)


def _cache_class(codes: Codes) -> type:
    """A class with the interface of numba's caches, for functions of this package."""
    from numba.core import caching

    basis: Any = caching._Cache

    class Ours(basis):  # type: ignore[misc]  # numba has no types
        """Machine code of one function."""

        def __init__(self, function: Callable[..., Any]) -> None:
            self._function, self._on = function, True

        @property
        def cache_path(self) -> str:
            return str(next(places(codes.kept.name)))

        def load_overload(self, sig: Any, target_context: Any) -> Any:
            return codes.load(self._function, sig, target_context) if self._on else None

        def save_overload(self, sig: Any, data: Any) -> None:
            if self._on:
                codes.save(self._function, sig, data)

        def enable(self) -> None:
            self._on = True

        def disable(self) -> None:
            self._on = False

        def flush(self) -> None:
            codes.forget(self._function)

    return Ours


def install() -> bool:
    """Have numba keep machine code of this package as told above; false where it cannot be."""
    sources = digest_of()
    try:
        from numba.core import ccallback, dispatcher

        own = _cache_class(Codes(Kept(_folder(sources)), sources))
        modules: tuple[Any, ...] = (dispatcher, ccallback)
        theirs = [(module, module.FunctionCache) for module in modules]
    except (ImportError, AttributeError):  # another numba: it keeps code by its own rules
        return False
    for module, usual in theirs:
        module.FunctionCache = _chosen(own, usual)
    return True


def _chosen(own: type, usual: Callable[..., Any]) -> Callable[..., Any]:
    def cache_of(function: Callable[..., Any]) -> Any:
        return own(function) if _ours(function) else usual(function)

    return cache_of
