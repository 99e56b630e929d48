"""Which units another may be swapped for, and for how long: free to the end, free for a while, or with a
show that has nobody in front of it tonight."""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from service.planning.snapshot.availability import FAR, Claim, Claims
from service.planning.snapshot.house import House, UnitRow

Days = tuple[date, date]  # half-open
Hires = Mapping[int, tuple[date | None, date | None]]  # half-open days for which a unit is hired


class Share(StrEnum):
    """How far a unit is to be had, best first."""

    FREE = "free"
    FOR_A_WHILE = "for a while"
    LENT = "lent"
    TAKEN = "taken"


@dataclass(frozen=True, slots=True)
class Standing:
    """`until_on`: the first day on which somebody else has it; None: to the end of the days asked for.
    `lender`: the dark show that it would be borrowed from."""

    unit: UnitRow
    share: Share
    because: str = ""
    until_on: date | None = None
    lender: str = ""


@dataclass(frozen=True, slots=True)
class Asking:
    """Who asks for which days. `playing`: by show, the days from load-in through closing, half-open."""

    production_id: int
    days: Days
    playing: Mapping[int, Days]
    hires: Hires


def standings(house: House, claims: Claims, asking: Asking, units: Iterable[UnitRow]) -> list[Standing]:
    """How far each unit is to be had. A unit given back today can go out today."""
    short = _ShortDays(house, claims, asking)
    return [_standing(house, claims, asking, short, unit) for unit in units]


def promised(house: House, claims: Claims, asking: Asking, model_id: int | None) -> list[str]:
    """What other shows were promised of a model in the days asked for, no unit named, the earliest first."""
    start, end = asking.days
    wants = [
        want
        for want in claims.models
        if want.model_id == model_id
        and want.production_id != asking.production_id
        and want.from_on < end
        and want.until_on > start
    ]
    wants.sort(key=lambda want: (want.from_on, want.production_id))
    kinds = house.sources | house.decoders
    return [
        f"{want.quantity} {kinds[want.model_id].tag} promised to {claims.codes[want.production_id]} "
        f"from {want.from_on.isoformat()}"
        for want in wants
    ]


def on_hand(house: House, claims: Claims, asking: Asking, units: Iterable[UnitRow]) -> dict[int, str]:
    """By model, in words: the first of these units that is to be had for a part of a show's days, from when
    or until when, and what was promised of the model. A unit that the show has itself is not to be had."""
    found: dict[int, str] = {}
    for one in standings(house, claims, asking, units):
        model_id = one.unit.model_id or 0
        own = any(c.production_id == asking.production_id for c in claims.of_unit(one.unit.id))
        if own or model_id in found or one.share not in (Share.FREE, Share.FOR_A_WHILE):
            continue
        last = "" if one.until_on is None else f" until {(one.until_on - timedelta(days=1)).isoformat()}"
        told = [f"{one.unit.tag} is free from {asking.days[0].isoformat()}{last}"]
        found[model_id] = "; ".join([*told, *promised(house, claims, asking, model_id)])
    return found


def _standing(house: House, claims: Claims, asking: Asking, short: "_ShortDays", unit: UnitRow) -> Standing:
    start, end = asking.days
    if not unit.is_sound:
        note = f" ({unit.state_note})" if unit.state_note else ""
        return Standing(unit, Share.TAKEN, f"{unit.state}{note}")
    hired_from, hired_until = asking.hires.get(unit.id, (None, None))
    if (hired_until or FAR) <= start or (hired_from or start) > start:
        return Standing(unit, Share.TAKEN, "hired for other days")
    others = others_on(claims, asking, unit.id)
    late = next((c for c in others if c.is_overdue), None)
    if late is not None:
        return Standing(unit, Share.TAKEN, f"overdue from {claims.codes[late.production_id]}")
    ends = [(c.from_on, f"{claims.codes[c.production_id]} has it") for c in others if c.from_on > start]
    if hired_until is not None:
        ends.append((hired_until, "it goes back to where it is hired"))
    now = next((c for c in others if c.from_on <= start), None)
    is_own = any(c.production_id == asking.production_id for c in claims.of_unit(unit.id))
    if not is_own and (day := short.of_unit(unit, now)) is not None:
        ends.append((day, f"all of {house.model_tag(unit)} are promised to other shows"))
    until_on, why = min(((d, w) for d, w in ends if d < end), default=(None, ""))
    if now is not None:
        return _with_another(claims, asking, unit, now, until_on)
    if until_on is None:
        return Standing(unit, Share.FREE)
    if until_on <= start:
        return Standing(unit, Share.TAKEN, why)
    return Standing(unit, Share.FOR_A_WHILE, f"from {until_on.isoformat()} {why}", until_on)


def _with_another(
    claims: Claims, asking: Asking, unit: UnitRow, claim: Claim, until_on: date | None
) -> Standing:
    code = claims.codes[claim.production_id]
    last = (claim.until_on - timedelta(days=1)).isoformat()
    start = asking.days[0]
    opens, closes = asking.playing.get(claim.production_id, (start, FAR))
    if opens <= start < closes:
        return Standing(unit, Share.TAKEN, f"with {code} until {last}", claim.until_on)
    dark = f"closed on {(closes - timedelta(days=1)).isoformat()}" if start >= closes else "is not in yet"
    because = f"with {code} until {last}, which {dark}: take it back from {code} first"
    return Standing(unit, Share.LENT, because, until_on, code)


def others_on(claims: Claims, asking: Asking, unit_id: int) -> list[Claim]:
    """What other shows have of a unit in the days asked for, by first day; what came back is not had."""
    start, end = asking.days
    return sorted(
        (
            c
            for c in claims.of_unit(unit_id)
            if c.production_id != asking.production_id and c.from_on < end and c.until_on > start
        ),
        key=lambda c: (c.from_on, c.production_id),
    )


class _ShortDays:
    """By model, the first day on which all that is left is promised to others without a tag."""

    def __init__(self, house: House, claims: Claims, asking: Asking) -> None:
        self.house, self.claims, self.asking = house, claims, asking
        self.known: dict[tuple[int, Claim | None], date | None] = {}

    def of_unit(self, unit: UnitRow, lent: Claim | None) -> date | None:
        """`lent`: the claim on the unit that its lender would give up."""
        key = (unit.model_id or 0, lent)
        if key not in self.known:
            self.known[key] = self._first_short(*key)
        return self.known[key]

    def _first_short(self, model_id: int, lent: Claim | None) -> date | None:
        start, end = self.asking.days
        own = self.asking.production_id
        wants = [
            w
            for w in self.claims.models
            if w.model_id == model_id and w.production_id != own and w.from_on < end and w.until_on > start
        ]
        if not wants:
            return None
        ids = {u.id for u in self.house.gear if u.model_id == model_id}
        sound = {u.id for u in self.house.gear if u.id in ids and u.is_sound}
        on = [c for c in self.claims.units if c.unit_id in ids and c != lent]
        days = {start, *(w.from_on for w in wants), *(c.from_on for c in on)}
        for day in sorted(d for d in days if start <= d < end):
            there = [c for c in on if c.from_on <= day < c.until_on]
            promised: Counter[int] = Counter()
            for want in wants:
                if want.from_on <= day < want.until_on:
                    promised[want.production_id] += want.quantity
            # What a kept plan uses without a hold of its own is drawn from what the show holds by model.
            promised.subtract(c.production_id for c in there if c.production_id in promised and not c.is_held)
            if len(sound - {c.unit_id for c in there}) - (+promised).total() < 1:
                return day
        return None
