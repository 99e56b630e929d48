"""The command line. Exit codes, which scripts may rely on:

0    done
1    refused, or something is over a limit or left dark where the command's help says that this counts
2    misused: an unknown command, option or setting, or a wrong value
3    the database cannot be reached, read or written, or is of another version
70   a fault of this program
130  interrupted (143: told to end)

Results go to standard output; progress and errors to standard error. An error is one line that says what and
where, and one that says how to mend it; with --json it is one JSON object.
"""

import signal
import sys
from collections.abc import Sequence
from typing import NoReturn

import click

from service import __version__
from service.cli.terminal.group import LazyGroup
from service.cli.terminal.refusals import (
    FAULT,
    INTERRUPTED,
    MISUSED,
    REFUSED,
    exit_code,
    tell,
    tell_fault,
    tell_misuse,
    tell_system,
)
from service.errors import ServiceError

COMMANDS = {
    "serve": ("service.cli.serve", "Answer the HTTP API on this machine."),
    "demo": ("service.cli.demo", "Show a whole season of an invented house, worked out and checked."),
    "db": ("service.cli.db", "Bring the database up to date, or check it."),
    "attach": ("service.cli.things.attaching", "Keep a photo or document with a thing, or list them."),
    "import": ("service.cli.bring", "Bring in sheets: CSV files, folders, workbooks."),
    "changes": ("service.cli.questions.since", "Say what moved in a show since a day, a plan or a print."),
    "what-if": ("service.cli.questions.supposing", "Say what would follow, without storing anything."),
    "dark": ("service.cli.questions.dark", "Say what is dark, and what dark things have in common."),
    "swap": ("service.cli.season.swapping", "Say what could stand in for a unit, and swap them."),
    "kinds": ("service.cli.things.kinds", "List what the house keeps record of, kind by kind."),
    "list": ("service.cli.things.listing", "List things of a kind."),
    "show": ("service.cli.things.showing", "Show one thing, or what was changed of it."),
    "add": ("service.cli.things.adding", "Add a thing."),
    "change": ("service.cli.things.changing", "Change a thing."),
    "step": ("service.cli.step", "Take a thing a step on: dark, working again, faulty, mended."),
    "receive": ("service.cli.season.receiving", "Take what came of an order into stock."),
    "reel": ("service.cli.season.reels", "Cut, join, scrap and count reels, and tell the life of one."),
    "retire": ("service.cli.things.retiring", "Take a thing out of use, or bring it back."),
    "export": ("service.cli.things.export", "Write everything out as sheets, or empty ones to fill in."),
    "sheets": ("service.cli.sheets", "List the sheets and columns that can be brought in."),
    "allocate": ("service.cli.allocate", "Work out what feeds every run of a show."),
    "season": ("service.cli.season.lines", "Say whether there is enough, and when and for whom not."),
    "buy": ("service.cli.season.buying", "Say what to order or hire, and by when."),
    "cut": ("service.cli.season.cutting", "Plan cuts, list them, and mark them as made."),
    "issue": ("service.cli.season.issuing", "Units go out to a show, by tag."),
    "stocktake": ("service.cli.season.counting", "Count a place against the book, and settle what differs."),
    "return": ("service.cli.season.returning", "Units come back, by tag: sound, bad, or missing."),
    "report": ("service.cli.report", "Print a report: loads, what is over a limit, stock in use."),
    "feed": ("service.cli.feed", "Say what feeds an element, back to the wall."),
    "volts": ("service.cli.questions.volts", "Say what the far end of each run gets, and draw it."),
    "calculate": ("service.cli.questions.calculators", "Work out a drop, a gauge, a fuse, hours on a pack."),
    "settings": ("service.cli.settings", "List every setting and what it is now."),
}


@click.group(cls=LazyGroup, places=COMMANDS, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, "--version", message="wattwright %(version)s")
def wattwright() -> None:
    """LED tape, supplies and channels across a season of shows.

    Planning arithmetic only: local codes, the venue's rules and the makers' sheets win, and mains work is
    for qualified people.
    """


def run(args: Sequence[str]) -> int:
    """Run one command; what it refuses is told on standard error. Gives the exit code."""
    as_json = "--json" in args
    try:
        _refuse_unreadable(args)
        result = wattwright.main(list(args), prog_name="wattwright", standalone_mode=False)
        sys.stdout.flush()  # a full disk behind a redirection must be told here, not at the very end
    except click.UsageError as error:
        tell_misuse(error, as_json)
        return MISUSED
    except (click.Abort, KeyboardInterrupt):
        return INTERRUPTED
    except ServiceError as error:
        tell(error, as_json)
        return exit_code(error)
    except OSError as error:
        tell_system(error, as_json)
        return REFUSED
    except Exception as error:
        tell_fault(error, as_json)
        return FAULT
    return result if isinstance(result, int) else 0


def _refuse_unreadable(args: Sequence[str]) -> None:
    """Bytes that are no text reach Python as halves of letters, which no database and no terminal takes."""
    for arg in args:
        if any("\ud800" <= letter <= "\udfff" for letter in arg):
            shown = arg.encode("utf-8", "replace").decode()
            raise click.UsageError(f"{shown!r} is not text in UTF-8.")


def main() -> NoReturn:
    """The installed command. Told to end, it ends in order: what is open closes, what is passing goes."""
    signal.signal(signal.SIGTERM, lambda number, _frame: sys.exit(128 + number))
    sys.exit(run(sys.argv[1:]))
