"""`wattwright step`: a thing taken a step on its path, or the path it came by."""

import click

from service.api.lists import row_shape
from service.api.steps import PathOut, path_answer
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
from service.cli.things.naming import kind_named, listing_of
from service.config import Settings
from service.kinds import actions
from service.kinds.actions import Hand
from service.kinds.kind import Kind
from service.kinds.steps.walking import LONGEST_REASON, LONGEST_WORDS, Words
from service.stock.gear_queries import whereabouts
from service.store.listing import Row, plain_text
from service.store.work import Store


@click.command()
@click.argument("tag")
@click.argument("status", required=False)
@click.option("--what", default="", metavar="TEXT", help="What is seen, found or done.")
@click.option("--despite", default="", metavar="TEXT", help="Why it is taken though it does not follow.")
@database_option
@server_option
@json_option
def command(
    tag: str,
    status: str | None,
    what: str,
    despite: str,
    database: str | None,
    server: str | None,
    as_json: bool,
) -> None:
    """Take a thing a step on: wattwright step SQ-09 dark --what "no light at all".

    Elements, supplies, decoders, batteries and boxes follow a path; without STATUS, say where on it the thing
    TAG stands, how it came there and what may come next.
    """
    for name, text, longest in (("--what", what, LONGEST_WORDS), ("--despite", despite, LONGEST_REASON)):
        if len(text.strip()) > longest:
            raise click.UsageError(f"{name} takes at most {longest} letters.")
    if despite and len(despite.strip()) < 5:
        raise click.UsageError("--despite wants a reason of at least 5 letters.")
    words = Words(what.strip(), despite.strip())
    settings = settings_for(database, server=server)
    if status is None:
        path = _path_far(settings, tag) if settings.server else _path_here(settings, tag)
        print_json(path.model_dump(mode="json")) if as_json else print_path(path)
        return
    row = (_far if settings.server else _here)(settings, tag, status, words)
    if as_json:
        print_json(row)
    else:
        click.echo(f"{row['tag']} is {status}")


def _here(settings: Settings, tag: str, status: str, words: Words) -> Row:
    with opened(settings) as store:
        kind, printed = _found(store, tag)
        hand, shape = Hand(BY, settings.as_of()), row_shape(listing_of(kind))
        row, _ = store.write(
            lambda session: actions.step(session, kind, (printed, status), words, None, hand), by=BY
        )
    return dict(shape.dump_python(shape.validate_python(row), mode="json"))


def _far(settings: Settings, tag: str, status: str, words: Words) -> Row:
    with asking(settings) as client:
        plural, printed = client.where(tag)
        actions.stepping_of(kind_named(plural))
        return client.step(plural, printed, status, words.what, words.despite).row


def _path_here(settings: Settings, tag: str) -> PathOut:
    with opened(settings) as store:
        kind, printed = _found(store, tag)
        with store.reading() as session:
            row, steps = actions.path_so_far(session, kind, printed)
    return path_answer(kind, row, steps)


def _path_far(settings: Settings, tag: str) -> PathOut:
    with asking(settings) as client:
        plural, printed = client.where(tag)
        actions.stepping_of(kind_named(plural))
        return PathOut.model_validate(client.path(plural, printed))


def _found(store: Store, tag: str) -> tuple[Kind, str]:
    with store.lookup() as connection:
        plural, printed = whereabouts(connection, tag)
    return kind_named(plural), printed


def print_path(path: PathOut) -> None:
    click.secho(f"{path.tag} is {path.stands}{f': {path.note}' if path.note else ''}", bold=True)
    rows = [[plain_text(s.at), s.by, s.before, s.to, s.what] for s in path.steps]
    show(table("", ["when", "who", "from", "to", "what was said"], rows))
    for step in path.next:
        click.echo(f"may become {step.to}{f' ({step.needs})' if step.needs else ''}")
