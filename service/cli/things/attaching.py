"""`wattwright attach`: a photo or document of a thing, kept or fetched."""

from pathlib import Path
from typing import Any

import click

from service.api.conventions.asking import LARGEST_ID
from service.cli.house import (
    BY,
    asking,
    database_option,
    json_option,
    opened,
    server_option,
    settings_for,
)
from service.cli.terminal.show import print_json, show, table
from service.cli.things.door import every_row
from service.config import Settings
from service.errors import BadRequest
from service.stock.attaching import Sent, attach, body_of
from service.stock.attachments import Attachment
from service.stock.fitting_queries import ATTACHMENTS
from service.store.base import tag_key
from service.store.listing import Row

LONGEST_CAPTION = 400


@click.command()
@click.argument("tag")
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False), required=False)
@click.option("--caption", default="", help="What it shows.")
@click.option(
    "--fetch",
    type=click.IntRange(1, LARGEST_ID),
    metavar="NUMBER",
    help="Write attachment NUMBER to FILE instead.",
)
@database_option
@server_option
@json_option
def command(tag: str, file: Path | None, caption: str, fetch: int | None, **how: Any) -> None:
    """Keep FILE, a photo or document, with the thing TAG; without a file, list what is kept of it."""
    if len(caption.strip()) > LONGEST_CAPTION:
        raise click.UsageError(f"--caption takes at most {LONGEST_CAPTION} letters.")
    settings = settings_for(how["database"], server=how["server"])
    if fetch is not None:
        if file is None:
            raise click.UsageError("Name the file to write.")
        if file.exists():
            raise BadRequest(f"{file} is there already", "Choose another name.")
        file.write_bytes((_fetched_far if settings.server else _fetched)(settings, fetch))
        return
    rows = (_attached_far if settings.server else _attached)(settings, tag, file, caption.strip())
    _print(rows, how["as_json"])


def _fetched(settings: Settings, number: int) -> bytes:
    with opened(settings) as store, store.lookup() as asker:
        return body_of(asker, number).body


def _fetched_far(settings: Settings, number: int) -> bytes:
    with asking(settings) as client:
        return client.attached(number)


def _attached(settings: Settings, tag: str, file: Path | None, caption: str) -> list[Row]:
    """What is kept of the thing, the file first put to it if there is one."""
    with opened(settings) as store:
        if file is not None:
            sent = Sent(file.name, file.read_bytes(), caption, None)
            most = settings.largest_attachment
            store.write(lambda session: attach(session, tag, sent, BY, most), by=BY)
        with store.reading() as session:
            return list(every_row(session, ATTACHMENTS, {}, Attachment.about_key == tag_key(tag)))


def _attached_far(settings: Settings, tag: str, file: Path | None, caption: str) -> list[Row]:
    with asking(settings) as client:
        if file is not None:
            client.attach(tag, file, caption)
        return list(client.list(ATTACHMENTS.plural, about=tag))


def _print(rows: list[Row], as_json: bool) -> None:
    if as_json:
        print_json(rows)
        return
    heads = ["id", "about", "file_name", "media_type", "size_bytes", "caption", "added_by"]
    show(table("", heads, [[row[head] for head in heads] for row in rows], right=[0, 4]))
