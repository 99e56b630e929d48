"""Where the commands for things knock: the database of this machine, or a service elsewhere."""

from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import Any, Protocol

from service.api.conventions.asking import LARGEST_ID
from service.api.conventions.paging import read_asked
from service.api.lists import row_shape
from service.cli.house import BY
from service.cli.things.naming import listing_of, named_key
from service.config import Settings
from service.errors import NotFound
from service.kinds import actions
from service.kinds.actions import Hand
from service.kinds.bodies import taken
from service.kinds.kind import Kind
from service.store import listing as lists
from service.store.history import HISTORY, of_thing
from service.store.listing import Asker, Listing, Row
from service.store.work import Store

PAGE = 200


class Door(Protocol):
    """What a command asks for. Bodies and rows are as the API has them; version None: whatever it is now."""

    def rows(self, kind: Kind, asked: Mapping[str, str]) -> Iterator[Row]: ...
    def one(self, kind: Kind, key: str) -> Row: ...
    def make(self, kind: Kind, body: Mapping[str, Any]) -> Row: ...
    def change(self, kind: Kind, key: str, body: Mapping[str, Any], version: int | None) -> Row: ...
    def retire(self, kind: Kind, key: str, version: int | None) -> Row: ...
    def restore(self, kind: Kind, key: str, version: int | None) -> Row: ...
    def history(self, kind: Kind, key: str) -> Iterator[Row]: ...


class HereDoor:
    """The database that the settings name."""

    def __init__(self, store: Store, settings: Settings) -> None:
        self.store = store
        self.settings = settings
        self.hand = Hand(BY, settings.as_of())

    def rows(self, kind: Kind, asked: Mapping[str, str]) -> Iterator[Row]:
        listing = listing_of(kind)
        wanted = read_asked(listing, asked.items())
        before = None if wanted.as_of is None else self.settings.end_of(wanted.as_of)
        with self.store.reading() as session:
            yield from every_row(session, listing, wanted.chosen, None, wanted.sort, before)

    def one(self, kind: Kind, key: str) -> Row:
        with self.store.reading() as session:
            row, _ = lists.one(session, listing_of(kind), _key(session, kind, key))
        return _as_answered(listing_of(kind), row)

    def make(self, kind: Kind, body: Mapping[str, Any]) -> Row:
        values = taken(kind, body, is_new=True)
        row, _ = self.store.write(lambda s: actions.make(s, kind, values, self.hand), by=BY)
        return _as_answered(listing_of(kind), row)

    def change(self, kind: Kind, key: str, body: Mapping[str, Any], version: int | None) -> Row:
        values, versions = taken(kind, body, is_new=False), _meant(version)

        def change(session: Any) -> tuple[Row, int]:
            return actions.change(session, kind, _key(session, kind, key), values, versions, self.hand)

        return _as_answered(listing_of(kind), self.store.write(change, by=BY)[0])

    def retire(self, kind: Kind, key: str, version: int | None) -> Row:
        def retire(session: Any) -> tuple[Row, int]:
            return actions.retire(session, kind, _key(session, kind, key), _meant(version), self.hand)

        return _as_answered(listing_of(kind), self.store.write(retire, by=BY)[0])

    def restore(self, kind: Kind, key: str, version: int | None) -> Row:
        def restore(session: Any) -> tuple[Row, int]:
            return actions.restore(session, kind, _key(session, kind, key), _meant(version))

        return _as_answered(listing_of(kind), self.store.write(restore, by=BY)[0])

    def history(self, kind: Kind, key: str) -> Iterator[Row]:
        with self.store.reading() as session:
            number = lists.id_of(session, listing_of(kind), _key(session, kind, key))
            yield from every_row(session, HISTORY, {}, of_thing(listing_of(kind), number))


def every_row(
    session: Asker,
    listing: Listing,
    chosen: Mapping[str, Any],
    narrow: Any = None,
    sort: str | None = None,
    before: datetime | None = None,
) -> Iterator[Row]:
    """The rows of a list as the API would answer them, page after page."""
    after = None
    while True:
        page = lists.page(session, listing, chosen, after, PAGE, narrow, sort, before)
        yield from (_as_answered(listing, row) for row in page.rows)
        if page.after is None:
            return
        after = page.after


def _as_answered(listing: Listing, row: Row) -> Row:
    """The row as the API would answer it, so that both doors show the same."""
    shape = row_shape(listing)
    return dict(shape.dump_python(shape.validate_python(row), mode="json"))


def _meant(version: int | None) -> frozenset[int] | None:
    return None if version is None else frozenset({version})


def _key(session: Asker, kind: Kind, key: str) -> str | int:
    """A tag as it is; what has none goes by its number, or by its names with strokes between: SQ/Ice wall."""
    if listing_of(kind).is_tagged:
        return key
    if key.isdecimal():
        return min(int(key), LARGEST_ID)
    found = named_key(kind, key, (row for _, _, row in lists.everything(session, listing_of(kind))))
    if found is None:
        raise nothing_named(kind, key)
    return found


def nothing_named(kind: Kind, key: str) -> NotFound:
    one = listing_of(kind).one.partition(" ")[2]
    return NotFound(f"there is no {one} {key}", f"See them: wattwright list {listing_of(kind).plural}.")
