"""`wattwright export`: everything as plain sheets, or empty ones to fill in."""

from pathlib import Path
from typing import Any

import click

from service.api.sheets import ZIP
from service.cli.house import asking, database_option, json_option, opened, server_option, settings_for
from service.cli.terminal.show import print_json, show, table
from service.config import Settings
from service.errors import BadRequest
from service.paper.bring_in import NAMES
from service.paper.out.books import WORKBOOK
from service.paper.out.files import as_workbook, as_zip, into_folder
from service.paper.out.tables import Written, everything_out
from service.paper.out.templates import templates
from service.paper.reading import name_key

WAIT_S = 120.0


@click.command()
@click.argument("path", type=click.Path(path_type=Path))
@click.option("--sheet", "named", multiple=True, metavar="NAME", help="Only this sheet; may be repeated.")
@click.option("--template", "is_template", is_flag=True, help="Empty sheets, to be filled in.")
@click.option("--force", is_flag=True, help="Write over what is there.")
@database_option
@server_option
@json_option
def command(
    path: Path,
    named: tuple[str, ...],
    is_template: bool,
    force: bool,
    **how: Any,
) -> None:
    """Write everything out as sheets: PATH.zip of CSV files, PATH.xlsx, or a folder PATH of CSV files.

    Edit them and bring them in again with: wattwright import --change PATH. Only what was edited changes.
    """
    settings = settings_for(how["database"], server=how["server"])
    names, as_json = [_known(name) for name in named], bool(how["as_json"])
    if path.exists() and not force and (path.is_file() or any(path.iterdir())):
        raise BadRequest(f"{path} is there already", "Choose another path, or give --force.")
    if is_template:
        sheets: tuple[Written, ...] = templates(names)
    elif settings.server is not None:
        _fetch(settings, path, names, as_json)
        return
    else:
        with opened(settings) as store, store.reading() as session:
            sheets = tuple(everything_out(session, names))
    _write(path, sheets, is_template)
    counts = {sheet.kind.name: len(sheet.rows) for sheet in sheets if sheet.rows or is_template}
    if as_json:
        print_json({"path": str(path), "counts": counts})
    else:
        show(table(f"Written to {path}", ["sheet", "rows"], counts.items(), right=[1]))


def _fetch(settings: Settings, path: Path, names: list[str], as_json: bool) -> None:
    """The same file from a service elsewhere."""
    kinds = {".zip": ZIP, ".xlsx": WORKBOOK}
    if path.suffix.lower() not in kinds:
        raise BadRequest(f"a service gives one file, not the folder {path}", "End the name in .zip or .xlsx.")
    with asking(settings) as client:
        wanted = {"Accept": kinds[path.suffix.lower()]}
        asked = {"sheet": names or None}
        content = client.ask("GET", "/export", params=asked, headers=wanted, timeout_s=WAIT_S).content
    path.write_bytes(content)
    if as_json:
        print_json({"path": str(path), "size_bytes": len(content)})
    else:
        click.echo(f"Written to {path}")


def _known(name: str) -> str:
    if name_key(name) not in NAMES:
        raise BadRequest(f"there is no sheet {name!r}", "List them: wattwright sheets")
    return NAMES[name_key(name)]


def _write(path: Path, sheets: tuple[Written, ...], is_template: bool) -> None:
    if path.suffix.lower() == ".xlsx":
        path.write_bytes(as_workbook(sheets, is_template))
    elif path.suffix.lower() == ".zip":
        path.write_bytes(as_zip(sheets, is_template))
    else:
        into_folder(sheets, path, is_template)
