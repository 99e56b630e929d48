"""Houses made at random, with what they have retired, come out of their own sheets again as they were."""

import random
from datetime import date, timedelta
from typing import Any

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from service.kinds import actions
from service.kinds.actions import Hand
from service.kinds.kind import Kind
from service.kinds.registry import KINDS
from service.paper.bring_in import NAMES, Brought, bring_in
from service.paper.out.files import as_workbook, as_zip
from service.paper.out.tables import everything_out
from service.paper.reading import read_bytes
from service.store.work import Store
from tests.doors.sheets_out import content
from tests.paper.house import read

TODAY = date(2026, 11, 25)
BY_NAME = {kind.name: kind for kind in KINDS}
# Of what something is retired, in an order in which each may go.
GOING = (
    "elements", "productions", "scenic units", "supplies", "decoders", "batteries", "boxes", "outlets",
    "reels", "tapes", "supply models", "decoder models", "battery models", "connectors", "places",
)  # fmt: skip


class House:
    """Sheets of a house whose tags are drawn at random, so that no order of them is the order of making."""

    def __init__(self, seed: int) -> None:
        self.chance = random.Random(seed)
        letters = "ABCDEFGHJKLMNPQRSTUVWXYZ"
        tags = [f"{a}{b}{n}" for a in letters for b in letters for n in range(2)]
        self.chance.shuffle(tags)
        self.tags = iter(tags)
        self.gone = {name: next(self.tags) for name in GOING}
        self.gone["scenic units"] = "Old tower"
        self.kept = {name: next(self.tags) for name in GOING}

    def both(self, name: str) -> tuple[str, str]:
        return self.gone[name], self.kept[name]

    def shuffled(self, head: str, rows: list[str]) -> str:
        self.chance.shuffle(rows)
        return "\n".join([head, *rows]) + "\n"

    def nested(self) -> dict[str, str]:
        """Places and scenic units inside each other, to any depth; the place that goes is a leaf."""
        around, places, scenery = [""], [], []
        for n in range(14):
            tag, inside = next(self.tags), self.chance.choice(around[-3:])
            if n % 3 == 2:
                scenery.append(f"{self.kept['productions']},Unit {n},{inside},{tag}")
            else:
                places.append(f"{tag},{self.chance.choice(('bin', 'stage'))},{inside}")
            around.append(tag)
        old = f"{self.gone['productions']},{self.gone['scenic units']},{around[-1]},{next(self.tags)}"
        places += [f"{self.gone['places']},bin,{around[-2]}", f"{self.kept['places']},bin,"]
        return {
            "places": self.shuffled("Place,Kind,Inside", places),
            "scenic units": self.shuffled("Production,Scenic unit,Place,Tag", [*scenery, old]),
            "reaches": f"Place,Gear at\n{around[-1]},{around[3]}\n{around[3]},{around[-1]}\n",
        }

    def reels(self) -> dict[str, str]:
        """Chains of reels, each cut from one made before; those that go hold nothing any more."""
        kept, gone = [next(self.tags) for _ in range(6)], [self.gone["reels"], next(self.tags)]
        rows, cuts, made = [], [], [""]
        for n, tag in enumerate([gone[0], *kept, gone[1]]):
            of = self.gone["tapes"] if tag in gone else self.kept["tapes"]
            rows.append(f"{tag},{of},{n + 1},{self.chance.choice(made[-2:])},")
            made.append(tag)
            if tag in gone:
                cuts.append(f"Z-{n + 1},{tag},{n + 1},,")
            else:
                number = f"M-{self.chance.randrange(1000)}-{n}"
                cuts += [f"{number},{tag},1,,", f"A{number},{tag},1,,{number}", f"B{number},{tag},1,,"]
        self.also_gone = gone[1:]
        return {
            "reels": self.shuffled("Reel,Tape,Received (m),Cut from,Received on", rows),
            "cuts": "Cut,Reel,Length (m),Kind,Undoes\n" + "\n".join(cuts) + "\n",
        }

    def sheets(self) -> dict[str, str]:
        two = self.both
        (old, new), units = two("productions"), self.chance
        supply, decoder, battery, box = map(two, ("supplies", "decoders", "batteries", "boxes"))
        outlets, elements, plugs, tapes = map(two, ("outlets", "elements", "connectors", "tapes"))
        models = [two(f"{kind} models") for kind in ("supply", "decoder", "battery")]
        bin_of = dict(zip((*supply, *decoder), units.sample(two("places") * 2, 4), strict=True))
        bin_of |= {supply[1]: self.kept["places"], decoder[1]: self.kept["places"]}
        both = (0, 1)
        return {
            "venues": "Venue,Mains (V)\nMain,120\n",
            "connectors": "Connector,Mates with\n" + "".join(f"{plugs[n]},{plugs[1 - n]}\n" for n in both),
            "tapes": "Tape,Volts,Emitters (W/m),Pitch (mm)\n" + "".join(f"{t},24,W=9.6,50\n" for t in tapes),
            "supply models": "Model,Volts,Rated,Output connector\n"
            + "".join(f"{models[0][n]},24,320,{plugs[n]}\n" for n in both),
            "decoder models": "Model,Channels,Lowest,Highest\n"
            + "".join(f"{m},4,12,24\n" for m in models[1]),
            "battery models": "Model,Volts\n" + "".join(f"{m},12\n" for m in models[2]),
            "supplies": "Tag,Model,Bin\n"
            + "".join(f"{supply[n]},{models[0][n]},{bin_of[supply[n]]}\n" for n in both),
            "decoders": "Tag,Model,Bin\n"
            + "".join(f"{decoder[n]},{models[1][n]},{bin_of[decoder[n]]}\n" for n in both),
            "batteries": "Tag,Model\n" + "".join(f"{battery[n]},{models[2][n]}\n" for n in both),
            "boxes": "Tag,Material\n" + "".join(f"{tag},ply\n" for tag in box),
            "outlets": "Outlet,Venue\n" + "".join(f"{tag},Main\n" for tag in outlets),
            "productions": "Code,Title,Venue,Load-in,Closing,Status\n"
            f"{old},Old,Main,2026-01-05,2026-03-01,returned\n{new},New,Main,2026-12-01,2026-12-20,confirmed\n",
            "elements": "Element,Production,Tape,Pieces (mm),Lead connector\n"
            + "".join(f"{elements[n]},{(old, new)[n]},{tapes[n]},750,{plugs[n]}\n" for n in both),
            "holds": f"Production,What,To,Returned on\n{old},{supply[0]},2026-03-01,2026-03-01\n",
            "feeds": "Element,Run,Supply,Decoder,Channels\n"
            + "".join(f"{elements[n]},1,{supply[n]},{decoder[n]},1\n" for n in both),
            "gear on stage": "Production,Tag,Box,Outlet\n"
            + "".join(f"{(old, new)[n]},{supply[n]},{box[n]},{outlets[n]}\n" for n in both),
            "fuses": f"Rating,Unit\n5,{supply[0]}\n",
            "faults": f"Unit,Symptom,Swapped for\n{supply[0]},hums,{supply[1]}\n",
            "remarks": "About,Text\n"
            + "".join(f"{tag},kept\n" for tag in (elements[0], self.gone["places"])),
            **self.nested(),
            **self.reels(),
        }


def retire_all(store: Store, house: House) -> None:
    """Everything that goes, each on a day of its own."""
    tags = [(BY_NAME[name], house.gone[name]) for name in GOING]
    more = [(BY_NAME["reels"], tag) for tag in house.also_gone]
    where = tags.index((BY_NAME["tapes"], house.gone["tapes"]))
    for n, (kind, tag) in enumerate([*tags[:where], *more, *tags[where:]]):
        with store.writing("bench") as session:
            hand = Hand("bench", TODAY - timedelta(days=40 - n))
            actions.retire(session, kind, key_of(session, kind, tag), None, hand)


def key_of(session: Session, kind: Kind, tag: str) -> str | int:
    assert kind.listing is not None
    record: Any = kind.record
    if kind.listing.is_tagged:
        return tag
    return int(session.scalars(select(record.id).where(record.name == tag)).one())


def retired(store: Store) -> dict[str, set[str]]:
    """The tags out of use of each kind that can be."""
    return {
        name: {next(iter(row.values())) for row in rows if row["Retired on"]}
        for name, rows in content(store).items()
        if BY_NAME[name].is_retirable
    }


@pytest.mark.parametrize("seed", range(3))
def test_a_house_with_all_it_retired_is_the_same_after_going_through_its_sheets(
    store: Store, two_houses: dict[str, Store], seed: int
) -> None:
    house = House(seed)
    sheets = read(house.sheets()).sheets
    store.write(lambda s: bring_in(s, sheets, "bench", TODAY), "bench")
    retire_all(store, house)
    gone = retired(store)
    assert all(gone.values()), "a kind that can be retired has nothing retired"

    for write, target in zip((as_zip, as_workbook), two_houses.values(), strict=True):
        with store.reading() as session:
            file = write(everything_out(session))
        brought(target, file)
        assert retired(target) == gone
        assert content(target) == content(store)
        again = brought(target, file_of(target), may_change=True)
        assert (sum(again.counts.values()), again.changes) == (0, ())


def file_of(store: Store) -> bytes:
    with store.reading() as session:
        return as_zip(everything_out(session))


def brought(store: Store, file: bytes, may_change: bool = False) -> Brought:
    sheets = read_bytes(file, "all", NAMES).sheets
    return store.write(lambda s: bring_in(s, sheets, "bench", TODAY, may_change), "bench")
