"""Which labels are wanted: of the leads, elements or gear of a show; of a kind of thing; of tags by name."""

from collections import defaultdict
from urllib.parse import quote

from sqlalchemy.orm import Session

from service.errors import BadRequest, NotFound
from service.kinds.registry import KINDS
from service.paper.labels import Label, labels
from service.paper.prints.feeding.show import read_show
from service.paper.prints.table import Wanted
from service.planning.since.photo import photo
from service.planning.snapshot.show import find_production
from service.stock.gear_queries import whereabouts_of
from service.store.base import tag_key

OF_SHOW = ("leads", "elements", "gear")
PLURALS = {"supply": "supplies", "battery": "batteries"}


def kinds_of_house() -> list[str]:
    """The plurals of everything that carries a tag, but for what is chosen by its show."""
    tagged = [kind.listing.plural for kind in KINDS if kind.listing is not None and kind.listing.is_tagged]
    return [plural for plural in tagged if plural not in OF_SHOW]


def chosen(session: Session, wanted: Wanted, what: str, tags: str) -> list[Label]:
    """The labels, tags first where any are named. Raises NotFound, and BadRequest for what carries none."""
    named = tags.replace(",", " ").replace(";", " ").split()
    if named:
        return _named(session, named)
    if what in OF_SHOW and not wanted.show:
        raise BadRequest("these labels are of one show", "Choose a show first.")
    if what == "leads":
        return _leads(session, wanted.show or "")
    if what == "elements":
        facts = read_show(session, wanted).facts
        return labels(session, "elements", [e.tag for e in facts.elements]) if facts.elements else []
    if what == "gear":
        return _gear(session, wanted)
    return labels(session, what)


def _named(session: Session, tags: list[str]) -> list[Label]:
    kinds: dict[str, list[str]] = defaultdict(list)
    found = whereabouts_of(session.connection(), tags)
    unheard = list(dict.fromkeys(tag for tag in tags if tag_key(tag) not in found))
    if unheard:
        s = "s" if len(unheard) > 1 else ""
        mend = "Read the label again, or look for it in the lists."
        raise NotFound(f"nothing has the tag{s} {', '.join(unheard)}", mend)
    for tag in tags:
        plural, printed = found[tag_key(tag)]
        kinds[plural].append(printed)
    return [label for plural, some in kinds.items() for label in labels(session, plural, some)]


def _leads(session: Session, show: str) -> list[Label]:
    """One a lead: what feeds it, as it is written on the lead; its code leads to the element."""
    production = find_production(session, show)
    return [
        Label(run.tag, "lead", run.name, run.label, f"/l/{quote(run.element, safe='')}")
        for run in photo(session, production.id).values()
        if run.supply
    ]


def _gear(session: Session, wanted: Wanted) -> list[Label]:
    facts = read_show(session, wanted).facts
    kinds: dict[str, list[str]] = defaultdict(list)
    for supply in facts.supplies:
        if not supply.is_placeholder:
            kinds[PLURALS[supply.kind]].append(supply.tag)
    for decoder in facts.decoders:
        if not decoder.is_placeholder:
            kinds["decoders"].append(decoder.tag)
    return [label for plural, tags in kinds.items() for label in labels(session, plural, tags)]
