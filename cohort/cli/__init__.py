"""The `cohort` command.

What comes in: words on the command line. What goes out: an exit code (0 no errors, 1 an error in
a sheet or a shut gate, 2 misuse, 130 stopped by Ctrl-C, 143 by another program) and what the
commands print. A known fault prints one plain message and never a traceback. Each group of
commands has a file of its own with a function ``register(app)``; heavy libraries are imported
inside the commands.
"""

from __future__ import annotations

import importlib
import importlib.util
import io
import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING

from cohort.base import background
from cohort.base.errors import CohortError, printable

if TYPE_CHECKING:
    import typer

GROUPS = (
    "keeper",
    "due",
    "sheets_commands",
    "season",
    "tonight",
    "decide",
    "club",
    "share",
    "analyst",
    "prove",
)
"""Files of command groups, in the order of the help."""


def build() -> typer.Typer:
    """Command with all groups that are there."""
    import typer  # here, so that `command` hears a Ctrl-C while it is still loading

    from cohort.cli.say import ByUse

    app = typer.Typer(
        name="cohort",
        cls=ByUse,
        help="Compare ant foundings by one queen and by several, from a club's sheets to a page it "
        "can print.",
        epilog="Local law and licensed advice come before anything printed here.",
        no_args_is_help=True,
        pretty_exceptions_enable=False,
        rich_markup_mode=None,  # plain help: rich's is half of the time it takes to come
        context_settings={"help_option_names": ["-h", "--help"]},
    )

    asked = typer.Option(
        False, "--version", help="Print the version and stop.", is_eager=True, callback=_version
    )

    @app.callback()
    def cohort(version: bool = asked) -> None:
        pass  # a callback keeps the name of the command when a single one is registered

    for group in GROUPS:
        if importlib.util.find_spec(f"cohort.cli.{group}") is not None:
            importlib.import_module(f"cohort.cli.{group}").register(app)
    return app


def _version(asked: bool) -> None:
    if asked:
        from importlib.metadata import PackageNotFoundError, version

        import typer

        try:
            typer.echo(f"founding-cohort {version('founding-cohort')}")
        except PackageNotFoundError:
            told = "founding-cohort is not installed, so its version is not known."
            raise CohortError(told) from None
        raise typer.Exit


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the command; always ends with SystemExit.

    Parameters
    ----------
    arguments : sequence of str, optional
        Words after ``cohort``; those of the command line by default.
    """
    _printable()
    try:
        build()(args=list(sys.argv[1:] if arguments is None else arguments), prog_name="cohort")
    except CohortError as fault:
        _stop(str(fault))
    except MemoryError:
        _stop("There is not enough memory for this. Close other programs, or take fewer rows.")
    except BrokenPipeError:
        sys.stderr.close()  # the reader of our output went away; nothing is wrong
        raise SystemExit(0) from None
    except OSError as fault:
        where = f"{fault.filename}: " if fault.filename else ""
        _stop(f"{where}{fault.strerror or fault}.")
    except RuntimeError as fault:
        if background.NO_THREAD not in str(fault):
            raise
        _stop(background.NO_THREAD_TOLD)


def command() -> None:
    """What the installed ``cohort`` runs: `main`, and then an end without delay."""
    from cohort.cli import stop

    stop.listen()
    try:
        background.seldom_swept()
        main()
    finally:
        stop.end_if_asked()
        background.leave()


def _printable() -> None:
    """Have signs that the terminal cannot show spelled out; they must not stop a command."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")


def _stop(message: str) -> None:
    print(printable(message), file=sys.stderr)
    raise SystemExit(1)
