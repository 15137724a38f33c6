"""Exit codes and the error tree: every refusal is one sentence that says what to do, and one code."""

from __future__ import annotations

from enum import IntEnum

__all__ = ["NO_PERMISSION", "ExitCode", "InputError", "OutputError", "PatternError", "PrintcheckError", "RescanError"]


NO_PERMISSION = "no permission to read it: change its permissions or copy it to a folder of your own"


class ExitCode(IntEnum):
    """Process exit codes. 0 to 30 are part of the published contract; 1 and 130 are as Python has them."""

    TOP_OFF = 0
    FAULT = 1
    USAGE = 2
    OUTPUT = 3
    PURGE = 10
    REJECT = 20
    RESCAN = 30
    INTERRUPTED = 130


class PrintcheckError(Exception):
    """Base of all refusals. The message is one line: what was seen, and what to do about it."""

    exit_code: ExitCode = ExitCode.USAGE


class InputError(PrintcheckError):
    """The input is no image that can be opened."""


class PatternError(PrintcheckError):
    """A head description, page name or ticket that no sheet can be made from."""


class OutputError(PrintcheckError):
    """A result could not be written."""

    exit_code = ExitCode.OUTPUT


class RescanError(PrintcheckError):
    """The image was read, but the sheet on it can't be judged; the message says what to change.

    Parameters
    ----------
    message : str
        One line: what was seen and what to do.
    measure : str
        Short name of what decided, for the report's ``reasons``.
    value, limit : float, optional
        What was seen and what was needed, in `unit`.
    """

    exit_code = ExitCode.RESCAN

    def __init__(
        self,
        message: str,
        *,
        measure: str = "registration",
        value: float | None = None,
        limit: float | None = None,
        unit: str = "",
    ) -> None:
        super().__init__(message)
        self.measure, self.value, self.limit, self.unit = measure, value, limit, unit
