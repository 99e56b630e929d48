"""What if this load were added: every source of its class, with its figures afterwards."""

from dataclasses import dataclass

from service.limits import boxed
from service.limits.facts import ShowFacts, SupplyFacts
from service.limits.findings import Verdict, compared
from service.limits.lookup import Lookup
from service.limits.policy import DEFAULT, Policy


@dataclass(frozen=True, slots=True)
class Offer:
    """One output with the load added. Unknown where one of its limits is."""

    supply: str
    output: int
    is_free: bool
    w_after: float
    limit_w: float | None
    a_after: float
    limit_a: float | None
    verdict: Verdict


def offers(
    show: ShowFacts, added_w: float, class_v: float, kind: str = "supply", policy: Policy = DEFAULT
) -> list[Offer]:
    """The best output of every source of that class: what holds first, the production's own before free."""
    around = Lookup(show, policy)
    own = [(s, False) for s in show.supplies if not s.is_placeholder]
    free = [(s, True) for s in show.free_supplies]
    found = []
    for supply, is_free in own + free:
        if supply.kind == kind and supply.class_v == class_v and supply.outlet_kind != "dimmed":
            each = [_offer(supply, number, added_w, around, is_free) for number in _numbers(supply)]
            found += sorted(each, key=lambda o: (o.verdict is not Verdict.OK, o.a_after, o.output))[:1]
    return sorted(found, key=lambda o: (o.verdict is not Verdict.OK, o.is_free, o.supply))


def _numbers(supply: SupplyFacts) -> list[int]:
    return [output.number for output in supply.outputs]


def _offer(supply: SupplyFacts, number: int, added_w: float, around: Lookup, is_free: bool) -> Offer:
    output = next(o for o in supply.outputs if o.number == number)
    limit_a = around.output_limit_a(supply, output)
    w_after = supply.load_w + added_w
    a_after, limit_w = output.load_a + added_w / supply.class_v, boxed.limit_w(supply, w_after, around)
    is_battery = supply.kind == "battery"
    verdicts = [Verdict.UNKNOWN if limit_a is None else compared(a_after, limit_a)]
    if not is_battery:
        verdicts.append(Verdict.UNKNOWN if limit_w is None else compared(w_after, limit_w))
    worst = next((v for v in (Verdict.OVER, Verdict.UNKNOWN) if v in verdicts), Verdict.OK)
    return Offer(supply.tag, number, is_free, w_after, limit_w, a_after, limit_a, worst)
