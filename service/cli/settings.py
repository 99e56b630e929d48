"""`wattwright settings`: every setting in one place."""

import click

from service.cli.house import json_option
from service.cli.terminal.show import cell, print_json, show, table
from service.config import NAMES, PREFIX, describe, read_settings, without_password


@click.command()
@json_option
def command(as_json: bool) -> None:
    """List every setting, what it is now, and what is allowed.

    Set them in the environment, or in a TOML file named by WATTWRIGHT_CONFIG. A command's own option wins
    over the environment, which wins over the file.
    """
    settings = read_settings()
    now = {PREFIX + n.upper(): without_password(cell(getattr(settings, n))) for n in NAMES}
    rows = [(name, now.get(name, ""), default, what, allowed) for name, default, what, allowed in describe()]
    if as_json:
        heads = ("name", "now", "default", "what", "allowed")
        print_json([dict(zip(heads, row, strict=True)) for row in rows])
        return
    show(table("", ["name", "now", "default", "what it does", "allowed"], rows))
