"""A group of commands that loads only the one that is run, so that --help answers at once."""

import difflib
import importlib
from collections.abc import Mapping
from typing import Any

import click


class LazyGroup(click.Group):
    """`places`: for each command the module that holds it as `command`, and its line in the help."""

    def __init__(self, *args: Any, places: Mapping[str, tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.places = places

    def list_commands(self, ctx: click.Context) -> list[str]:
        del ctx
        return list(self.places)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        del ctx
        if cmd_name not in self.places:
            return None
        command = importlib.import_module(self.places[cmd_name][0]).command
        assert isinstance(command, click.Command)
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        if args and args[0] not in self.places and not args[0].startswith("-"):
            near = difflib.get_close_matches(args[0], list(self.places), n=1, cutoff=0.4)
            guess = f" Did you mean {near[0]!r}?" if near else ""
            raise click.UsageError(f"There is no command {args[0]!r}.{guess}", ctx)
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        del ctx
        with formatter.section("Commands"):
            formatter.write_dl([(name, said) for name, (_, said) in self.places.items()])
