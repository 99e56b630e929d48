"""`wattwright attach`: a photo or document of a thing, kept or fetched."""

from pathlib import Path
from typing import Any

import click

from service.cli.house import BY, database_option, json_option, opened, settings_for
from service.cli.terminal.show import print_json, show, table
from service.errors import BadRequest
from service.stock.attaching import Sent, attach, body_of
from service.stock.attachments import Attachment
from service.stock.fitting_queries import ATTACHMENTS
from service.store import listing as lists
from service.store.base import tag_key
from service.store.listing import Row

MOST = 200


@click.command()
@click.argument("tag")
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False), required=False)
@click.option("--caption", default="", help="What it shows.")
@click.option("--fetch", type=int, metavar="NUMBER", help="Write attachment NUMBER to FILE instead.")
@database_option
@json_option
def command(tag: str, file: Path | None, caption: str, fetch: int | None, **how: Any) -> None:
    """Keep FILE, a photo or document, with the thing TAG; without a file, list what is kept of it."""
    settings = settings_for(how["database"])
    with opened(settings) as store:
        if fetch is not None:
            if file is None:
                raise click.UsageError("Name the file to write.")
            if file.exists():
                raise BadRequest(f"{file} is there already", "Choose another name.")
            with store.lookup() as asker:
                file.write_bytes(body_of(asker, fetch).body)
            return
        if file is not None:
            sent = Sent(file.name, file.read_bytes(), caption, None)
            most = settings.largest_attachment
            store.write(lambda session: attach(session, tag, sent, BY, most), by=BY)
        with store.reading() as session:
            mine = Attachment.about_key == tag_key(tag)
            page = lists.page(session, ATTACHMENTS, {}, None, MOST, mine)
    _print(page.rows, how["as_json"])


def _print(rows: list[Row], as_json: bool) -> None:
    if as_json:
        print_json(rows)
        return
    heads = ["id", "about", "file_name", "media_type", "size_bytes", "caption", "added_by"]
    show(table("", heads, [[row[head] for head in heads] for row in rows], right=[0, 4]))
