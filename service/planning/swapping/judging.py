"""A swap judged as what-if judges: the show with the other unit in it, asked of every limit."""

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from service.limits.findings import SLACK, Finding, Verdict
from service.limits.registry import findings
from service.planning.moving import NEVER
from service.planning.snapshot.availability import Claim, Claims, in_order
from service.planning.snapshot.facts import show_facts
from service.planning.snapshot.house import House, UnitRow
from service.planning.snapshot.show import ShowRows
from service.planning.supposing.claims import claims_with

_RANK = {Verdict.OK: 0, Verdict.WATCH: 1, Verdict.UNKNOWN: 2, Verdict.OVER: 3}
Found = dict[tuple[str, str], Finding]


@dataclass(frozen=True, slots=True)
class Judged:
    """What a swap makes worse, what it mends, and what stays over a limit on the unit; worst first."""

    worse: tuple[Finding, ...] = ()
    mended: tuple[Finding, ...] = ()
    stays: tuple[Finding, ...] = ()

    @property
    def over(self) -> list[Finding]:
        return [f for f in self.worse if f.verdict is Verdict.OVER]

    @property
    def never(self) -> list[Finding]:
        """Nobody's decision: tape that smokes, and two supplies that meet in a decoder."""
        return [f for f in self.over if f.code in NEVER]

    def renamed(self, named: Callable[[str], str]) -> "Judged":
        """The same, said of another unit."""
        all_of = (self.worse, self.mended, self.stays)
        return Judged(*(tuple(_said_of(f, named) for f in of) for of in all_of))


@dataclass(frozen=True, slots=True)
class Place:
    """The show as it stands, and the days for which the other unit would be in it."""

    house: House
    claims: Claims
    rows: ShowRows
    day: date

    def found(self, rows: ShowRows, claims: Claims) -> Found:
        facts = show_facts(self.house, rows, claims_with(claims, rows), (), self.day)
        return {(f.code, f.subject): f for f in findings(facts, self.house.policy)}


def judged(place: Place, before: Found, old: UnitRow, new: UnitRow, after: ShowRows) -> Judged:
    """What is worse and what is better with `new` in the place of `old`. `before`: what is found without."""
    claims = _claims_after(place, old, new)
    named = renaming(old.tag, new.tag)
    stood = {(code, named(subject)): finding for (code, subject), finding in before.items()}
    then = place.found(after, claims)
    was, now = _gravest(stood.values(), old.tag), _gravest(then.values(), new.tag)
    worse = [
        f for key, f in then.items() if _is_worse(stood.get(key, was.get((f.code, f.tag == new.tag))), f)
    ]
    gone = [
        f
        for key, f in stood.items()
        if _RANK[f.verdict] and _is_worse(then.get(key, now.get((f.code, f.tag == old.tag))), f)
    ]
    stays = [f for f in then.values() if f.verdict is Verdict.OVER and f.tag == new.tag and f not in worse]
    return Judged(tuple(_in_order(worse)), tuple(_in_order(gone)), tuple(_in_order(stays)))


def renaming(old: str, new: str) -> Callable[[str], str]:
    """One tag put for another wherever it stands as a word of its own."""
    word = re.compile(rf"(?<![\w-]){re.escape(old)}(?![\w-])")
    return lambda text: word.sub(lambda _: new, text)


def _gravest(found: Iterable[Finding], tag: str) -> dict[tuple[str, bool], Finding]:
    """By limit, the gravest on the unit itself: an output that is new is set against those that were."""
    order = sorted((f for f in found if f.tag == tag), key=lambda f: (_RANK[f.verdict], f.share_pct or 0.0))
    return {(f.code, True): f for f in order}


def _said_of(finding: Finding, named: Callable[[str], str]) -> Finding:
    subject, tag = named(finding.subject), named(finding.tag)
    return replace(finding, subject=subject, tag=tag, message=named(finding.message))


def _in_order(found: Iterable[Finding]) -> Sequence[Finding]:
    return sorted(found, key=lambda f: (-_RANK[f.verdict], f.harm, f.code, f.subject))


def _is_worse(than: Finding | None, finding: Finding) -> bool:
    """A graver verdict than there was; or over both times, and by more."""
    rank, was = _RANK[finding.verdict], 0 if than is None else _RANK[than.verdict]
    if rank != was or than is None or finding.verdict is not Verdict.OVER:
        return rank > was
    if finding.value is None or than.value is None or not finding.limit or not than.limit:
        return False
    share, before = finding.value / finding.limit, than.value / than.limit
    if finding.at_least:
        return share < before * (1 - SLACK)
    return share > before * (1 + SLACK)


def _claims_after(place: Place, old: UnitRow, new: UnitRow) -> Claims:
    """The old unit given back; the new one the show's own, for as long as it is to be had."""
    plan = place.rows.plan
    assert plan is not None
    number, until_on = place.rows.production.id, plan.until_on
    kept = [
        c
        for c in place.claims.units
        if not (c.unit_id == old.id and c.production_id == number)
        and not (c.unit_id == new.id and (c.production_id == number or c.from_on <= place.claims.today))
    ]
    later = [c.from_on for c in kept if c.unit_id == new.id and c.from_on < until_on]
    end = min(later, default=until_on)
    start = min(max(place.claims.today, plan.from_on), end - timedelta(days=1))
    kept.append(Claim(new.id, number, start, end, due_on=end - timedelta(days=1)))
    return replace(place.claims, units=tuple(sorted(kept, key=in_order)))
