"""The whole season, read in a number of selects that does not grow with it."""

from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.errors import NotFound
from service.planning.season.counts import count_gear
from service.planning.season.gear import read_gear
from service.planning.season.items import Item, Season, Show, lot_key
from service.planning.season.tape import TapeShow, TapeStock, read_tape
from service.season.moves import Window
from service.season.records import Production
from service.stock.records import Venue
from service.store.base import tag_key


def read_season(
    session: Session,
    day: date,
    today: date | None = None,
    with_tape: bool = True,
    with_names: bool = True,
) -> Season:
    """What is held, used, there and due. Ledger by the end of `day`; the rest as known `today` (the same
    day unless given). Without names nobody is told who has which unit, and the database counts them."""
    known_on = min(today or day, day)
    p = Production.__table__.c
    rows = session.execute(
        select(
            p.id, p.tag, Venue.name, p.build_start, p.load_in, p.first_preview, p.closing, p.strike_end,
            p.return_by, p.needed_from, p.needed_to, p.recovered_share, p.retired_on,
        )
        .join(Venue, Venue.id == p.venue_id)
        .order_by(p.build_start, p.id)
    ).all()  # fmt: skip
    shows = {
        row.tag: Show(
            row.tag,
            row.name,
            Window(
                row.tag,
                row.needed_from or row.build_start,
                row.needed_to or row.return_by,
                row.load_in,
                row.strike_end,
            ),
            row.first_preview,
            row.closing,
        )
        for row in rows
    }
    for_tape = {
        row.id: TapeShow(
            row.tag,
            row.needed_from or row.build_start,
            row.strike_end,
            row.recovered_share or 0.0,
            row.retired_on is None and row.return_by >= known_on,
        )
        for row in rows
    }
    read = read_gear if with_names else count_gear
    gear = read(session, known_on, {row.id: row.tag for row in rows})
    tape = read_tape(session, day, known_on, for_tape) if with_tape else TapeStock({}, ())
    return Season(known_on, shows, gear.items | tape.items, gear.named, gear.late + tape.late)


def find_item(season: Season, tag: str, lot: str | None = None) -> Item:
    """The model, tape or reel of that tag in any letter case, or a lot of a tape. Raises NotFound."""
    wanted = tag_key(tag)
    found = next((item for key, item in season.items.items() if tag_key(key) == wanted), None)
    if found is None or found.kind == "lot":
        raise NotFound(
            f"no model, tape or reel has the tag {tag!r}",
            "Ask for a kind of gear or of tape, as in the lists of models and tapes.",
        )
    if lot is None:
        return found
    of_it = season.items.get(lot_key(found.tag, lot))
    if of_it is None:
        lots = sorted(i.lot for i in season.items.values() if i.kind == "lot" and i.tag == found.tag)
        raise NotFound(
            f"{found.tag} has no lot {lot!r} on the shelf",
            f"There are {', '.join(lots)}." if lots else "Nothing of it is on the shelf.",
        )
    return of_it
