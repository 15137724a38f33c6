"""A wrong command line is refused in one line, as everything else is."""

from __future__ import annotations

import errno
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import typer
from typer.core import TyperGroup

from printcheck.cli.standard_output import refused_output
from printcheck.errors import NO_PERMISSION, PrintcheckError

__all__ = ["OneLineGroup"]

# typer has the class from click, or from a copy of its own, by version; what it exports is derived from it in both
_UsageError: type[Exception] = typer.BadParameter.__bases__[0]


class OneLineGroup(TyperGroup):
    """The program's commands, whose usage errors are `PrintcheckError`s that name the command's own help."""

    def make_context(self, *args: Any, **kwargs: Any) -> Any:
        """Read the options before the command's name.

        Raises
        ------
        PrintcheckError
            They are wrong, or the help could not be written.
        """
        with _refusals():
            return super().make_context(*args, **kwargs)

    def invoke(self, ctx: Any) -> Any:
        """Find the command, read what follows its name, and run it.

        Raises
        ------
        PrintcheckError
            There is no such command, what follows its name is wrong, or standard output takes no more.
        """
        with _refusals():
            return super().invoke(ctx)


@contextmanager
def _refusals() -> Iterator[None]:
    """Turn usage errors, and a standard output that takes no more, into what ends the program."""
    try:
        yield
    except _UsageError as error:
        raise _refusal(error) from None
    except OSError as error:
        if error.errno == errno.ENAMETOOLONG:
            raise PrintcheckError(f"{error.filename} can't name a file: it is too long; name a shorter one") from None
        ends = refused_output(error)
        if ends is None:
            raise
        raise ends from None


def _refusal(error: Exception) -> Exception:
    message: str = getattr(error, "format_message", error.__str__)()
    if "\n" in message:  # the help itself, where a group of commands is called with none
        return error
    if message.rstrip(".").endswith("is not readable"):
        return PrintcheckError(f"{message.rstrip('.')}: {NO_PERMISSION}")
    context = getattr(error, "ctx", None)
    path = context.command_path if context is not None else "printcheck"
    return PrintcheckError(f"{message.rstrip('.')}; see {path} --help")
