"""What the store has promised when the plan of one production is thought of otherwise."""

from dataclasses import replace
from datetime import timedelta

from service.planning.snapshot.availability import Claim, Claims, in_order
from service.planning.snapshot.circuits import plugs_of
from service.planning.snapshot.show import ShowRows


def claims_with(claims: Claims, rows: ShowRows) -> Claims:
    """The claims on the store when that production's plan is these rows: what it holds stays as it is."""
    number = rows.production.id
    plugs = [plug for plug in claims.plugs if plug.production_id != number]
    if rows.plan is not None and rows.production.strike_end >= claims.today:
        plugs += plugs_of(rows)
    claims = replace(claims, plugs=tuple(sorted(plugs)))
    others = [c for c in claims.units if c.is_held or c.production_id != number]
    if rows.plan is None:
        return replace(claims, units=tuple(sorted(others, key=in_order)))
    held = {c.unit_id for c in others if c.production_id == number}
    used = {a.supply_id for a in rows.allotments.values()} | {a.decoder_id for a in rows.allotments.values()}
    start, end = rows.plan.from_on, rows.plan.until_on
    kept = [
        Claim(unit_id, number, start, end, due_on=end - timedelta(days=1), is_held=False)
        for unit_id in (used | set(rows.placings)) - held
        if unit_id is not None
    ]
    return replace(claims, units=tuple(sorted(others + kept, key=in_order)))
