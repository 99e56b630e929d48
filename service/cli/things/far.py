"""The same door at a service elsewhere, through its API."""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import Any

from service.cli.house import asking, opened, settings_for
from service.cli.things.door import Door, HereDoor, nothing_named
from service.cli.things.naming import listing_of, named_key, plural
from service.client import Wattwright
from service.kinds.kind import Kind
from service.store.listing import Row


class FarDoor:
    """A service by its URL. Versions are ETags there."""

    def __init__(self, client: Wattwright) -> None:
        self.client = client

    def rows(self, kind: Kind, asked: Mapping[str, str]) -> Iterator[Row]:
        return self.client.list(plural(kind), **asked)

    def one(self, kind: Kind, key: str) -> Row:
        return self.client.get(plural(kind), self._key(kind, key)).row

    def make(self, kind: Kind, body: Mapping[str, Any]) -> Row:
        return self.client.create(plural(kind), body).row

    def change(self, kind: Kind, key: str, body: Mapping[str, Any], version: int | None) -> Row:
        return self.client.change(plural(kind), self._key(kind, key), body, _etag(version)).row

    def retire(self, kind: Kind, key: str, version: int | None) -> Row:
        return self.client.retire(plural(kind), self._key(kind, key), _etag(version)).row

    def restore(self, kind: Kind, key: str, version: int | None) -> Row:
        return self.client.restore(plural(kind), self._key(kind, key), _etag(version)).row

    def history(self, kind: Kind, key: str) -> Iterator[Row]:
        return self.client.history(plural(kind), self._key(kind, key))

    def _key(self, kind: Kind, key: str) -> str | int:
        if listing_of(kind).is_tagged or key.isdecimal():
            return key
        found = named_key(kind, key, self.client.list(plural(kind)))
        if found is None:
            raise nothing_named(kind, key)
        return found


def _etag(version: int | None) -> str | None:
    return None if version is None else f'"{version}"'


@contextmanager
def door(
    database: str | None = None, server: str | None = None, as_of: str | None = None, **_: object
) -> Iterator[Door]:
    """The service or the database that is set, fit for use."""
    settings = settings_for(database, as_of, server=server)
    if settings.server is not None:
        with asking(settings) as client:
            yield FarDoor(client)
        return
    with opened(settings) as store:
        yield HereDoor(store, settings)
