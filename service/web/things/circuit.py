"""What a wall circuit carries in each show that is plugged into it, in the reader's words."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from service.reports.circuits import Row, of_outlet
from service.store.base import tag_key
from service.web.frame.pages import Reader

MARKS = {"over": "over", "watch": "tight", "unknown": "none", "ok": "ok"}
WORST_FIRST = ("over", "tight", "none", "ok")


@dataclass(frozen=True, slots=True)
class Circuit:
    """`state`: over, tight, ok or none (something needed to judge it is not known); `amps`: what it carries
    of what it may; `wrong`: what is the matter, blank where nothing is."""

    production: str
    from_on: date
    to_on: date
    state: str
    amps: str
    wrong: str
    supplies: Sequence[str]


def carried(fed: Sequence[Mapping[str, Any]], tag: str, reader: Reader) -> list[Circuit]:
    """The circuit in every show of those feeds, the earliest first."""
    shows = sorted({(row["from_on"], row["to_on"], row["production"]) for row in fed})
    found = []
    for from_on, to_on, code in shows:
        with reader.desk.store.reading() as session:
            around = reader.desk.shows.of(session, code, max(reader.today, from_on), reader.today).around
        outlet = next((o for o in around.show.outlets if tag_key(o.tag) == tag_key(tag)), None)
        if outlet is not None:
            found.append(_circuit(of_outlet(outlet, around), from_on, to_on, reader))
    return found


def _circuit(row: Row, from_on: date, to_on: date, reader: Reader) -> Circuit:
    load, limit = reader.figure(row.load_a, "A"), reader.figure(row.limit_a, "A")
    if row.load_a is None:
        amps = reader.say("outlet-amps-no-volts")
    elif row.limit_a is None:
        amps = reader.say("unit-amps-unknown", load=load)
    else:
        is_too_much = (row.load_pct or 0.0) > 100.0
        key = "wrong" if row.verdict == "over" and not is_too_much else row.verdict
        amps = reader.say(f"outlet-amps-{key}", load=load, limit=limit)
    wrong = reader.told(row.message)
    return Circuit(row.production, from_on, to_on, MARKS[row.verdict], amps, wrong, row.supplies)
