"""Elements of a show by where they are, and what each is fed by."""

from collections.abc import Collection, Iterable, Mapping
from itertools import groupby

from service.limits.facts import ElementFacts, FeedFacts, PatchFacts, ShowFacts
from service.limits.findings import Finding
from service.planning.snapshot.house import House
from service.reports.standing.parts import Line, Way

GONE = frozenset({"struck", "cut from show"})
OF_SUPPLIES = frozenset({"supply", "battery"})  # what a finding is about
OF_ADDRESSES = frozenset({"address-overlap", "universe"})
Places = tuple[tuple[str, tuple[Line, ...]], ...]


def by_place(show: ShowFacts, house: House, over: Iterable[Finding]) -> Places:
    """Every element under where it is; places that stand in one another follow one another."""
    marks = _marks(over)
    patches = {(p.decoder, p.port): p for p in show.patches}
    lines = [(_walk(e, house), _line(e, _where(e, house), patches, marks)) for e in show.elements]
    lines.sort(key=lambda pair: (pair[0], pair[1].where))
    return tuple(
        (where, tuple(line for _, line in group))
        for where, group in groupby(lines, key=lambda pair: pair[1].where)
    )


def place_name(tag: str, house: House) -> str:
    """What people call a place."""
    return next((p.name or p.tag for p in house.places.values() if p.tag == tag), tag)


def _walk(element: ElementFacts, house: House) -> tuple[str, ...]:
    """The places it stands in, the outermost first; what nobody has placed comes last."""
    by_tag = {p.tag: p for p in house.places.values()} if element.place else {}
    path: list[str] = []
    place = by_tag.get(element.place)
    while place is not None and len(path) < 12:
        path.append(place.name or place.tag)
        place = house.places.get(place.parent_id or 0)
    return tuple(reversed(path)) or ("\uffff",)


def _where(element: ElementFacts, house: House) -> str:
    return element.scenic_unit or (place_name(element.place, house) if element.place else "")


def _marks(over: Iterable[Finding]) -> dict[str, set[str]]:
    """What is marked, by what kind of mark: tags of supplies, decoders, addresses, and the rest. `over`: all
    that is over a limit."""
    marks: dict[str, set[str]] = {"supply": set(), "decoder": set(), "address": set(), "element": set()}
    for finding in over:
        about = finding.subject_kind
        if about == "unit":
            marks["supply"].add(finding.tag)
            marks["decoder"].add(finding.tag)
        elif finding.code in OF_ADDRESSES:
            marks["address"].add(finding.tag)
        else:
            kind = "supply" if about in OF_SUPPLIES else "decoder" if about == "decoder" else "element"
            marks[kind].add(finding.tag)
    return marks


def _line(
    element: ElementFacts,
    where: str,
    patches: Mapping[tuple[str, int | None], PatchFacts],
    marks: Mapping[str, Collection[str]],
) -> Line:
    return Line(
        tag=element.tag,
        name=element.name,
        where=where,
        status=element.status,
        tape=element.tape.tag if element.tape else "",
        length_m=sum(run.length_m for run in element.runs),
        load_w=element.load_w,
        ways=_ways(element, patches, marks),
        unfed_runs=sum(run.feed is None for run in element.runs),
        is_over=element.tag in marks["element"],
        is_wanted=element.status not in GONE,
    )


def _ways(
    element: ElementFacts,
    patches: Mapping[tuple[str, int | None], PatchFacts],
    marks: Mapping[str, Collection[str]],
) -> tuple[Way, ...]:
    alike: dict[tuple[object, ...], list[int]] = {}
    feeds: dict[tuple[object, ...], FeedFacts] = {}
    for run in element.runs:
        if run.feed is not None:
            feed = run.feed
            key: tuple[object, ...] = (
                feed.supply,
                feed.output,
                feed.decoder,
                feed.first_channel,
                feed.channels,
                feed.locked,
            )
            alike.setdefault(key, []).append(run.number)
            feeds[key] = feed
    found = []
    for key, numbers in alike.items():
        feed = feeds[key]
        patch = patches.get((feed.decoder or "", feed.port)) or patches.get((feed.decoder or "", None))
        first, slot = feed.first_channel, None
        if patch is not None and patch.start is not None and first is not None:
            step = 2 if patch.mode == "16-bit" else 1
            slot = patch.start if feed.port is not None else patch.start + (first - 1) * step
        found.append(
            Way(
                runs=tuple(numbers),
                supply=feed.supply,
                output=feed.output,
                decoder=feed.decoder or "",
                first_channel=first,
                last_channel=None if first is None else first + max(feed.channels, 1) - 1,
                universe=patch.universe if patch is not None and slot is not None else None,
                slot=slot,
                is_supply_over=feed.supply in marks["supply"],
                is_decoder_over=bool(feed.decoder) and feed.decoder in marks["decoder"],
                is_address_over=bool(feed.decoder) and feed.decoder in marks["address"],
                is_locked=feed.locked,
            )
        )
    return tuple(found)
