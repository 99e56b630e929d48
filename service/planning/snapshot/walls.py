"""Wall circuits as the limits read them: what one production plugs in, and who shares them on which days."""

from collections.abc import Sequence

from service.limits.facts import MainsFacts, OutletFacts, PlugFacts, SupplyFacts
from service.planning.snapshot.availability import Claims
from service.planning.snapshot.house import House, OutletRow, SourceKind
from service.planning.snapshot.show import ShowRows


def mains_of(kind: SourceKind | None) -> MainsFacts:
    if kind is None:
        return MainsFacts()
    return MainsFacts(kind.efficiency, kind.power_factor, kind.inrush_a)


def outlet_facts(
    house: House, rows: ShowRows, claims: Claims, supplies: Sequence[SupplyFacts]
) -> tuple[tuple[OutletFacts, ...], tuple[OutletFacts, ...]]:
    """(what this production plugs into, the other outlets of its venue)."""
    on: dict[str, list[str]] = {}
    for supply in supplies:
        if supply.outlet:
            on.setdefault(supply.outlet, []).append(supply.tag)
    venue = house.venues[rows.production.venue_id]
    shared = _shared(house, rows, claims)
    used, free = [], []
    for outlet in sorted(house.outlets.values(), key=lambda o: o.tag):
        facts = _outlet(house, rows, outlet, tuple(on.get(outlet.tag, ())), tuple(shared.get(outlet.id, ())))
        if outlet.tag in on:
            used.append(facts)
        elif facts.venue == venue:
            free.append(facts)
    return tuple(used), tuple(free)


def _outlet(
    house: House,
    rows: ShowRows,
    outlet: OutletRow,
    supplies: tuple[str, ...],
    shared: tuple[PlugFacts, ...],
) -> OutletFacts:
    place = house.places.get(outlet.place_id or 0)
    number = rows.production.id
    return OutletFacts(
        outlet.tag,
        outlet.kind,
        outlet.breaker_a,
        outlet.volts_v,
        supplies,
        venue=_venue(house, outlet),
        place=place.tag if place else "",
        others=tuple((o.what, o.load_w) for o in outlet.others if o.production_id in (None, number)),
        shared=shared,
    )


def _venue(house: House, outlet: OutletRow) -> str:
    """Its own; else that of its place; else, where the house has only one, that."""
    if outlet.venue_id is not None:
        return house.venues[outlet.venue_id]
    found = house.area(outlet.place_id)
    if not found and len(house.venues) == 1:
        return next(iter(house.venues.values()))
    return found


def _shared(house: House, rows: ShowRows, claims: Claims) -> dict[int, list[PlugFacts]]:
    """By outlet: supplies of other productions on the days, from today on, on which both stand."""
    show, found = rows.production, dict[int, list[PlugFacts]]()
    first = max(show.load_in, claims.today)
    for plug in claims.plugs:
        from_on, last_on = max(first, plug.from_on), min(show.strike_end, plug.last_on)
        unit = house.units.get(plug.unit_id)
        if plug.production_id == show.id or from_on > last_on or unit is None:
            continue
        mains = mains_of(house.sources.get(unit.model_id or 0))
        code = claims.codes[plug.production_id]
        found.setdefault(plug.outlet_id, []).append(
            PlugFacts(code, unit.tag, plug.load_w, mains, from_on, last_on)
        )
    return found
