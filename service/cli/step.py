"""`wattwright step`: a thing taken a step on its path, or the path it came by."""

import click

from service.api.lists import row_shape
from service.api.steps import PathOut, path_answer
from service.cli.house import BY, database_option, json_option, opened, settings_for
from service.cli.terminal.show import print_json, show, table
from service.cli.things.naming import kind_named, listing_of
from service.kinds import actions
from service.kinds.actions import Hand
from service.kinds.steps.walking import LONGEST_REASON, LONGEST_WORDS, Words
from service.stock.gear_queries import whereabouts
from service.store.listing import plain_text


@click.command()
@click.argument("tag")
@click.argument("status", required=False)
@click.option("--what", default="", metavar="TEXT", help="What is seen, found or done.")
@click.option("--despite", default="", metavar="TEXT", help="Why it is taken though it does not follow.")
@database_option
@json_option
def command(
    tag: str, status: str | None, what: str, despite: str, database: str | None, as_json: bool
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
    settings = settings_for(database)
    with opened(settings) as store:
        with store.lookup() as connection:
            plural, printed = whereabouts(connection, tag)
        kind = kind_named(plural)
        if status is not None:
            words, hand = Words(what.strip(), despite.strip()), Hand(BY, settings.as_of())
            row, _ = store.write(
                lambda session: actions.step(session, kind, (printed, status), words, None, hand), by=BY
            )
            shape = row_shape(listing_of(kind))
        else:
            with store.reading() as session:
                row, steps = actions.path_so_far(session, kind, printed)
            path = path_answer(kind, row, steps)
    if status is None:
        print_json(path.model_dump(mode="json")) if as_json else print_path(path)
    elif as_json:
        print_json(shape.dump_python(shape.validate_python(row), mode="json"))
    else:
        click.echo(f"{printed} is {status}")


def print_path(path: PathOut) -> None:
    click.secho(f"{path.tag} is {path.stands}{f': {path.note}' if path.note else ''}", bold=True)
    rows = [[plain_text(s.at), s.by, s.before, s.to, s.what] for s in path.steps]
    show(table("", ["when", "who", "from", "to", "what was said"], rows))
    for step in path.next:
        click.echo(f"may become {step.to}{f' ({step.needs})' if step.needs else ''}")
