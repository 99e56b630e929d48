"""How results look: tables for people, one JSON document for scripts, progress where somebody watches."""

import io
import json
import sys
from collections.abc import Iterable, Sequence
from dataclasses import asdict, is_dataclass
from datetime import date, datetime
from decimal import Decimal
from enum import Enum
from typing import Any

from rich.console import Console
from rich.measure import Measurement
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn
from rich.table import Table
from rich.text import Text

from service import units

PIPED_WIDTH = 200  # nobody reads a pipe at 80 columns; a table broken in two is no use to a script


def show(*things: Any) -> None:
    """Print to standard output; through a pipe without colours, breaks or blanks at the ends of lines."""
    if sys.stdout.isatty():
        console = Console(highlight=False)
        wide = console.options.update(max_width=10 * PIPED_WIDTH)
        for thing in things:
            # What does not fit runs over the edge, as any long line does.
            needed = Measurement.get(console, wide, thing).minimum if isinstance(thing, Table) else 0
            console.print(thing, width=max(console.width, needed), crop=False, overflow="ignore")
        return
    piped = Console(width=PIPED_WIDTH, highlight=False, file=io.StringIO())
    piped.print(*things, sep="\n")
    text = piped.file.getvalue()  # type: ignore[attr-defined]
    print("\n".join(line.rstrip() for line in text.rstrip("\n").split("\n")), flush=True)


def plain(value: Any) -> Any:
    """What JSON has no word for, in words it has."""
    if is_dataclass(value) and not isinstance(value, type):
        return asdict(value)
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, date | datetime):
        return value.isoformat()
    if isinstance(value, Decimal):
        return float(value)
    if isinstance(value, set | frozenset):
        return sorted(value)
    raise TypeError(f"no JSON for {type(value).__name__}")


def print_json(document: Any) -> None:
    print(json.dumps(document, default=plain, ensure_ascii=False, indent=2))


def cell(value: Any) -> str:
    """A value as it reads in a table: short figures, blanks for what is not known."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.2f}"
    if isinstance(value, Enum):
        return str(value.value)
    if isinstance(value, tuple | list):
        return " ".join(cell(one) for one in value)
    return str(value)


def length(metres: float, system: str) -> str:
    """A length in the units that people here read.

    >>> length(4.8768, "metric"), length(4.8768, "us")
    ('4.877 m', '16 ft')
    """
    return units.show(metres, "m", system)


def table(
    title: str, heads: Sequence[str], rows: Iterable[Sequence[Any]], right: Iterable[int] = ()
) -> Table:
    """A table whose cells are taken literally; columns in `right` are set to the right."""
    made = Table(title=title or None, title_justify="left", title_style="bold", header_style="bold", box=None)
    to_right = set(right)
    texts = [[one if isinstance(one, Text) else Text(cell(one)) for one in row] for row in rows]
    for number, head in enumerate(heads):
        # Only the last column may be broken over lines: a figure or a tag in two parts is read wrongly.
        widest = max([len(head), *(row[number].cell_len for row in texts)])
        made.add_column(
            head,
            justify="right" if number in to_right else "left",
            min_width=widest if number < len(heads) - 1 else len(head),
            overflow="fold",
        )
    for row in texts:
        made.add_row(*row)
    return made


VERDICT_STYLE = {"over": "bold red", "watch": "yellow", "unknown": "cyan", "ok": "green"}


def verdict(value: Any) -> Text:
    said = cell(value)
    return Text(said, style=VERDICT_STYLE.get(said, ""))


def progress() -> Progress:
    """A bar on standard error, seen only where standard error is a terminal."""
    return Progress(
        TextColumn("{task.description}"),
        BarColumn(),
        MofNCompleteColumn(),
        TimeElapsedColumn(),
        console=Console(stderr=True),
        disable=not sys.stderr.isatty(),
        transient=True,
    )
