"""What a feed is to somebody standing in the dark: ways, not runs; who else goes out, and where they are."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from service.planning.finding.schemas import HitOut
from service.web.frame.pages import Reader


@dataclass(frozen=True, slots=True)
class Beside:
    """Another element that goes out too."""

    tag: str
    name: str
    where: str


@dataclass(frozen=True, slots=True)
class Way:
    """One way from the wall to some runs of the element: they share supply, output and channels."""

    runs: str
    supply: str
    is_battery: bool
    output: str
    output_label: str
    place: str
    decoder: str | None
    channels: int
    channels_text: str
    address: str
    decoder_place: str
    decoder_beside: bool
    decoder_model: str
    outlet: str | None
    outlet_where: str
    model: str
    state: str
    note: str
    load_w: float
    limit_w: float | None
    excess_w: float
    slots: Sequence[Mapping[str, Any]]
    lead: str
    tape: str
    override: str | None
    is_locked: bool
    feeds: Sequence[str] = field(default=())


@dataclass(frozen=True, slots=True)
class Pulled:
    """What else goes out with one output, and with the whole supply."""

    supply: str
    output: str
    same: Sequence[Beside]
    rest: Sequence[Beside]


def ways(feed: Mapping[str, Any], reader: Reader) -> list[Way]:
    """The ways of an element, in the order of its runs. A run without a feed has none."""
    sources = {source["supply"]: source for source in feed["sources"]}
    alike: dict[tuple[Any, ...], list[Mapping[str, Any]]] = {}
    for run in feed["runs"]:
        if run["supply"]:
            way = (run["supply"], run["output"], run["decoder"], run["first_channel"], run["channels"])
            alike.setdefault(way, []).append(run)
    return [_way(runs, sources.get(runs[0]["supply"], {}), reader) for runs in alike.values()]


def _way(runs: Sequence[Mapping[str, Any]], source: Mapping[str, Any], reader: Reader) -> Way:
    run = runs[0]
    place = source.get("place_name") or source.get("place") or ""
    decoder_place = run["decoder_place_name"] or run["decoder_place"] or ""
    load_w, limit_w = source.get("load_w", sum(r["load_w"] for r in runs)), source.get("limit_w")
    return Way(
        runs=_numbers([r["run"] for r in runs]),
        supply=run["supply"],
        is_battery=source.get("kind") == "battery",
        output=str(run["output"]),
        output_label=run["output_label"] or "",
        place=place,
        decoder=run["decoder"],
        channels=run["channels"],
        channels_text=_span(run["first_channel"], run["channels"]),
        address=_address(run),
        decoder_place=decoder_place,
        decoder_beside=bool(place) and decoder_place == place,
        decoder_model=run["decoder_model"] or "",
        outlet=source.get("outlet"),
        outlet_where=", ".join(filter(None, (source.get("outlet_position"), source.get("outlet_kind")))),
        model=source.get("model") or run["supply_model"] or "",
        state=source.get("state") or "good",
        note=source.get("note") or "",
        load_w=load_w,
        limit_w=limit_w,
        # Equality with a limit is in order, and so is a rounding in the last place of it.
        excess_w=load_w - limit_w if limit_w and load_w > limit_w * 1.000_001 else 0.0,
        slots=run["slots"],
        lead=_lead(run, reader),
        tape=f"{reader.length(sum(r['length_m'] for r in runs))} {run['tape'] or ''}",
        override=run["override_reason"],
        is_locked=run["is_locked"],
        feeds=source.get("feeds", ()),
    )


def _numbers(numbers: Sequence[int]) -> str:
    """
    >>> _numbers([1]), _numbers([1, 2, 3]), _numbers([1, 3])
    ('1', '1–3', '1, 3')
    """
    if len(numbers) > 1 and numbers[-1] - numbers[0] == len(numbers) - 1:
        return f"{numbers[0]}–{numbers[-1]}"
    return ", ".join(map(str, numbers))


def _span(first: int | None, count: int) -> str:
    """
    >>> _span(3, 1), _span(1, 4), _span(None, 0)
    ('3', '1–4', '')
    """
    if first is None:
        return ""
    return str(first) if count < 2 else f"{first}–{first + count - 1}"


def _address(run: Mapping[str, Any]) -> str:
    """Where its first channel listens, as the board counts: universe and slot."""
    slot = run["slots"][0]["slot"] if run["slots"] else run["start"]
    return "" if slot is None else f"{run['universe']}/{slot:03d}"


def _lead(run: Mapping[str, Any], reader: Reader) -> str:
    parts = [reader.length(run["lead_m"]), run["lead_gauge"] or ""]
    count = f"{run['leads']} × " if run["leads"] > 1 else ""
    return count + " ".join(filter(None, parts)) if any(parts) else "–"


def swappable(found: Sequence[Way]) -> list[tuple[str, str]]:
    """What may be swapped on these ways, as (plural of its kind, tag): sources first. What no unit is chosen
    for yet has none to take out."""
    sources = [("batteries" if way.is_battery else "supplies", way.supply) for way in found]
    decoders = [("decoders", way.decoder) for way in found if way.decoder]
    chosen = (one for one in [*sources, *decoders] if not one[1].startswith("any "))
    return list(dict.fromkeys(chosen))


def pulled(
    found: Sequence[Way], element: str, output_feeds: Mapping[tuple[str, str], Sequence[str]],
    names: Mapping[str, HitOut],
) -> list[Pulled]:  # fmt: skip
    """What else goes out, by supply and output. `output_feeds`: elements on each output."""
    told = []
    for supply, output in dict.fromkeys((way.supply, way.output) for way in found):
        on_output = [tag for tag in output_feeds.get((supply, output), ()) if tag != element]
        everything = next(way.feeds for way in found if way.supply == supply)
        rest = [tag for tag in everything if tag != element and tag not in on_output]
        told.append(Pulled(supply, output, _beside(on_output, names), _beside(rest, names)))
    return told


def _beside(tags: Sequence[str], names: Mapping[str, HitOut]) -> list[Beside]:
    return [
        Beside(tag, names[tag].name if tag in names else tag, names[tag].where if tag in names else "")
        for tag in dict.fromkeys(tags)
    ]
