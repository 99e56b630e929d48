"""`wattwright import`: sheets into the database, all of them or none."""

import sys
from collections.abc import Callable, Iterable, Iterator
from contextlib import AbstractContextManager, contextmanager, nullcontext
from dataclasses import asdict, replace
from datetime import date
from pathlib import Path

import click
from rich.console import Console

from service.cli.house import (
    BY,
    as_of_option,
    asking,
    database_option,
    json_option,
    opened,
    server_option,
    settings_for,
)
from service.cli.terminal.show import print_json, show, table
from service.config import Settings
from service.errors import BadSheets, RowError
from service.paper.bring_in import NAMES, Brought, bring_in
from service.paper.differences import Difference
from service.paper.files.raw import RawSheet
from service.paper.reading import read_path
from service.store.work import Store


class _OnlyLookingError(Exception):
    """Ends the transaction of a dry run, which must leave nothing behind."""

    def __init__(self, brought: Brought) -> None:
        self.brought = brought
        super().__init__("dry run")


@click.command()
@click.argument("paths", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="PATH...")
@click.option("--dry-run", is_flag=True, help="Check everything, say what would come in, store nothing.")
@click.option("--change", "may_change", is_flag=True, help="Let rows change what is in the store already.")
@click.option("--yes", is_flag=True, help="With --change: do not show the difference and ask first.")
@as_of_option
@database_option
@server_option
@json_option
def command(
    paths: tuple[Path, ...],
    dry_run: bool,
    may_change: bool,
    yes: bool,
    as_of: str | None,
    database: str | None,
    server: str | None,
    as_json: bool,
) -> None:
    """Bring in sheets: folders of CSV files, CSV files, .xlsx workbooks, .zip files of CSV.

    Everything comes in, or nothing does and every row to be mended is named (exit code 1). A row about a
    thing that is in the store already is refused where it differs, unless --change is given: then only what
    differs is changed. Nothing is taken out for not being in a sheet. What may be written: wattwright sheets.
    """
    settings = settings_for(database, as_of, server=server)
    with _way_in(settings, paths) as bring_it:
        if may_change and not (dry_run or yes) and sys.stdin.isatty():
            _ask(bring_it(True, True))
        with watched("Bringing the sheets in"):
            brought = bring_it(dry_run, may_change)
    if as_json:
        print_json(
            {
                "dry_run": dry_run,
                "counts": brought.counts,
                "same": brought.same,
                "changes": [asdict(change) for change in brought.changes],
                "remarks": brought.remarks,
            }
        )
        return
    for remark in brought.remarks:
        click.echo(f"note: {remark}", err=True)
    if brought.changes:
        show(differences_table("Would change" if dry_run else "Changed", brought))
    show(counts_table("Would come in" if dry_run else "Brought in", brought))


@contextmanager
def _way_in(settings: Settings, paths: tuple[Path, ...]) -> Iterator[Callable[[bool, bool], Brought]]:
    """Brings the sheets in, here or at a service; told whether to look only, and whether they may change."""
    if settings.server is None:
        sheets, remarks = read_all(paths)
        with opened(settings) as store:

            def here(dry_run: bool, may_change: bool) -> Brought:
                brought = bring(store, sheets, settings.as_of(), dry_run, may_change)
                return replace(brought, remarks=(*remarks, *brought.remarks))

            yield here
        return
    with asking(settings) as house:

        def far(dry_run: bool, may_change: bool) -> Brought:
            said = house.bring_in(*paths, dry_run=dry_run, may_change=may_change, as_of=settings.today)
            changes = tuple(Difference(**change) for change in said["changes"])
            return Brought(said["counts"], tuple(said["remarks"]), changes, said["same"])

        yield far


def read_all(paths: Iterable[Path]) -> tuple[tuple[RawSheet, ...], tuple[str, ...]]:
    """The sheets of every path, each of which may come once."""
    sheets: dict[str, RawSheet] = {}
    remarks: list[str] = []
    for path in paths:
        reading = read_path(path, NAMES)
        remarks += reading.remarks
        for sheet in reading.sheets:
            if sheet.name in sheets:
                before = sheets[sheet.name].source
                twice = f"{sheet.name!r} comes twice: also in {before}"
                raise BadSheets([RowError(sheet.source, None, None, twice, "Put all its rows in one sheet.")])
            sheets[sheet.name] = sheet
    return tuple(sheets.values()), tuple(remarks)


def _ask(brought: Brought) -> None:
    """Show what would change, and go no further without a yes."""
    if brought.changes:
        show(differences_table("Would change", brought))
        click.confirm(f"Change these {len(brought.changes)} values?", abort=True)


def bring(
    store: Store,
    sheets: tuple[RawSheet, ...],
    today: date,
    dry_run: bool = False,
    may_change: bool = False,
) -> Brought:
    """What came in, or what would have; BadSheets when anything at all is wrong."""
    try:
        with store.writing(BY) as session:
            brought = bring_in(session, sheets, BY, today, may_change)
            if dry_run:
                raise _OnlyLookingError(brought)
            return brought
    except _OnlyLookingError as looked:
        return looked.brought


def counts_table(title: str, brought: Brought) -> object:
    rows = [(name, new, brought.same.get(name, 0)) for name, new in brought.counts.items()]
    return table(title, ["sheet", "new rows", "already so"], rows, right=[1, 2])


def differences_table(title: str, brought: Brought) -> object:
    heads = ["sheet", "row", "thing", "column", "before", "after"]
    rows = [(c.sheet, c.row, c.thing, c.column, c.before or "-", c.after or "-") for c in brought.changes]
    return table(title, heads, rows, right=[1])


def watched(what: str) -> AbstractContextManager[object]:
    """Says on standard error that something is under way, where somebody watches."""
    return Console(stderr=True).status(what) if sys.stderr.isatty() else nullcontext()
