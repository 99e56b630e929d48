"""How a refusal reads at the terminal, and which exit code it gives."""

import errno
import json
import os
import re
import sys
from typing import Any

import click

from service.errors import (
    BadQuantity,
    BadRequest,
    BadSetting,
    BadSheets,
    BadValues,
    Busy,
    Fault,
    OverLimit,
    RefusedTags,
    ServiceError,
    StoreUnavailable,
    WrongVersion,
)

REFUSED = 1
MISUSED = 2
NO_DATABASE = 3
FAULT = 70
INTERRUPTED = 130

_MISUSES = (BadSetting, BadQuantity, BadRequest, BadValues)
_DATABASE = (StoreUnavailable, WrongVersion, Busy)


def exit_code(error: ServiceError) -> int:
    if isinstance(error, _DATABASE):
        return NO_DATABASE
    if isinstance(error, Fault):
        return FAULT
    return MISUSED if isinstance(error, _MISUSES) else REFUSED


def here(mend: str) -> str:
    """A mend as it is done at a terminal, where the rules say how it is done over HTTP.

    >>> here("See the list at /api/v1/supplies."), here("Say why in `despite`.")
    ('See them: wattwright list supplies.', 'Say why in --despite.')
    >>> here("It is the tag of a unit: ask for /api/v1/l/PS-01.")
    'It is the tag of a unit.'
    """
    mend = mend.replace("See the list at /api/v1/attachments.", "See them: wattwright attach TAG.")
    mend = re.sub(r"See the list at /api/v1/([a-z-]+)\.", r"See them: wattwright list \1.", mend)
    mend = re.sub(r": ask for /api/v1/l/.+\.$", ".", mend)
    return re.sub(r"`(what|despite)`", r"--\1", mend)


def tell(error: ServiceError, as_json: bool) -> None:
    """What was refused, and how to mend it."""
    if as_json:
        _print_json(_facts(error))
        return
    if isinstance(error, BadSheets):
        for row in error.errors:
            click.echo(f"  {row}", err=True)
    if isinstance(error, BadValues) and len(error.errors) > 1:
        for row in error.errors:
            click.echo(f"  {row.column}: {row.message}. {here(row.mend)}", err=True)
    if isinstance(error, RefusedTags) and len(error.errors) > 1:
        for row in error.errors:
            click.echo(f"  {row.message}. {here(row.mend)}", err=True)
    lines = error.faults if isinstance(error, BadSetting) else (error.message,)
    for line in lines:
        _red(line)
    if error.mend:
        click.echo(here(error.mend), err=True)


def _facts(error: ServiceError) -> dict[str, Any]:
    facts: dict[str, Any] = {"code": error.code, "message": error.message, "mend": here(error.mend)}
    if isinstance(error, BadSheets | BadValues):
        facts["errors"] = [
            {"sheet": e.sheet, "row": e.row, "column": e.column, "message": e.message, "mend": here(e.mend)}
            for e in error.errors
        ]
    if isinstance(error, RefusedTags):
        facts["errors"] = [{"message": e.message, "mend": here(e.mend)} for e in error.errors]
    if isinstance(error, OverLimit):
        facts["findings"] = [str(finding) for finding in error.findings]
    return facts


def tell_misuse(error: click.UsageError, as_json: bool) -> None:
    where = error.ctx.command_path if error.ctx else "wattwright"
    if isinstance(error, click.exceptions.NoArgsIsHelpError):
        click.echo(error.format_message(), err=True)
        return
    message, mend = f"{where}: {error.format_message()}", f"Try: {where} --help"
    if as_json:
        _print_json({"code": "misused", "message": message, "mend": mend})
        return
    _red(message)
    click.echo(mend, err=True)


def tell_system(error: OSError, as_json: bool) -> None:
    """What the machine itself refused: a full disk, a file that may not be read."""
    where = f" ({error.filename})" if error.filename else ""
    message, mend = f"{error.strerror or error}{where}", "Put that right and run it again."
    if as_json:
        _print_json({"code": "system", "message": message, "mend": mend})
    else:
        _red(message)
        click.echo(mend, err=True)
    if error.errno in (errno.ENOSPC, errno.EPIPE):
        # What is still to be written cannot be; without this Python would complain once more when it ends.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def tell_fault(error: Exception, as_json: bool) -> None:
    """Something nobody foresaw. No traceback: it says nothing to who runs a show."""
    what = str(error).strip().splitlines()[:1] or ["no words"]
    last = _last_place(error)
    message = f"this program failed at {last}: {type(error).__name__}: {what[0]}"
    mend = "Nothing half done was stored. Report this line with the command that was run."
    if as_json:
        _print_json({"code": "fault", "message": message, "mend": mend})
        return
    _red(message)
    click.echo(mend, err=True)


def _last_place(error: Exception) -> str:
    """Module and line, of our own code where there is any, so that a report of it is of use."""
    place, trace = "an unknown place", error.__traceback__
    while trace is not None:
        name = trace.tb_frame.f_globals.get("__name__", "")
        if name.startswith("service") and name != __name__:
            place = f"{name}:{trace.tb_lineno}"
        trace = trace.tb_next
    return place


def _print_json(facts: dict[str, Any]) -> None:
    print(json.dumps(facts, ensure_ascii=False), file=sys.stderr)


def _red(line: str) -> None:
    click.secho(line, fg="red", err=True)
