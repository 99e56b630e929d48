"""One show read once for a paper: its facts, what the limits say of it, and the words for its places."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from sqlalchemy.orm import Session

from service.control.addresses import channel_slot
from service.errors import BadRequest
from service.limits.facts import DecoderFacts, ElementFacts, FeedFacts, RunFacts, ShowFacts, SupplyFacts
from service.limits.findings import Finding, by_harm
from service.limits.lookup import Lookup
from service.limits.registry import by_code
from service.paper.prints.places import names_of_places
from service.paper.prints.table import Wanted, numbers, span
from service.planning.snapshot.house import read_policy
from service.planning.snapshot.season import season_facts


@dataclass(frozen=True, slots=True)
class Address:
    """Where one channel listens; blanks where nobody said."""

    universe: int | None = None
    slot: int | None = None

    def __str__(self) -> str:
        return "" if self.universe is None or self.slot is None else f"{self.universe}/{self.slot:03d}"


@dataclass(frozen=True, slots=True)
class Show:
    """`places`: what people call a place, by its tag."""

    facts: ShowFacts
    around: Lookup
    places: Mapping[str, str]

    def where(self, element: ElementFacts) -> str:
        """Where an element is to be found, in words."""
        return element.scenic_unit or self.place(element.place)

    def place(self, tag: str) -> str:
        return self.places.get(tag) or tag

    def stands(self, gear: SupplyFacts | DecoderFacts) -> str:
        return ", ".join(filter(None, (self.place(gear.place), gear.enclosure)))

    def address(self, feed: FeedFacts, channel: int | None) -> Address:
        """Where a channel of a feed listens: a port of a pixel driver at its own start, a level channel
        counted on from the decoder's."""
        for patch in self.around.patches_of.get(feed.decoder or "", ()):
            if patch.start is None or patch.universe is None:
                continue
            if patch.port is not None:
                if patch.port == (feed.port or feed.first_channel):
                    return Address(patch.universe, patch.start)
            elif channel is not None:
                return Address(patch.universe, channel_slot(patch.start, channel, patch.mode or ""))
        return Address()

    def said(self, *codes: str) -> dict[str, Finding]:
        """The worst that these limits say, by what they say it of."""
        found = [f for code in codes for f in by_code(code).findings(self.around)]
        worst: dict[str, Finding] = {}
        for finding in sorted(found, key=by_harm):
            worst.setdefault(finding.subject, finding)
        return worst


def read_show(session: Session, wanted: Wanted) -> Show:
    """The show as its kept plan has it. Raises NotFound, and BadRequest where none is named."""
    if not wanted.show:
        raise BadRequest("this paper is of one show", "Choose a show first.")
    facts = season_facts(session, wanted.day, wanted.show, min(wanted.day, wanted.today))[0]
    return Show(facts, Lookup(facts, read_policy(session)), names_of_places(session))


@dataclass(frozen=True, slots=True)
class Way:
    """Runs of one element that share supply, output and channels."""

    element: ElementFacts
    feed: FeedFacts
    runs: tuple[RunFacts, ...]

    @property
    def load_w(self) -> float:
        tape = self.element.tape
        return 0.0 if tape is None else tape.w_per_m * sum(run.length_m for run in self.runs)

    @property
    def load_a(self) -> float:
        return 0.0 if self.element.tape is None else self.load_w / self.element.tape.class_v

    @property
    def label(self) -> str:
        """Which of its runs, where they are not all."""
        is_whole = len(self.runs) == len(self.element.runs)
        return "" if is_whole else numbers([run.number for run in self.runs])

    @property
    def through(self) -> str:
        """Decoder and channels in words; blank: straight on the output."""
        feed = self.feed
        if feed.decoder is None:
            return ""
        return f"{feed.decoder} · {span(feed.first_channel, feed.channels)}"


def ways(elements: Iterable[ElementFacts]) -> list[Way]:
    """Every way that something is fed, in the order of elements and runs."""
    found: dict[tuple[str, FeedFacts], list[RunFacts]] = {}
    owner = {}
    for element in elements:
        owner[element.tag] = element
        for run in element.runs:
            if run.feed is not None:
                found.setdefault((element.tag, run.feed), []).append(run)
    return [Way(owner[tag], feed, tuple(runs)) for (tag, feed), runs in found.items()]


def unfed(elements: Iterable[ElementFacts]) -> list[tuple[ElementFacts, list[RunFacts]]]:
    """Elements with runs that nothing feeds."""
    found = [(e, [run for run in e.runs if run.feed is None]) for e in elements]
    return [(element, runs) for element, runs in found if runs]


def worst_of(found: Iterable[Finding | None]) -> Finding | None:
    """The one that matters most; None where there is none."""
    return min((one for one in found if one is not None), key=by_harm, default=None)
