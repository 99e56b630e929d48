"""A draft beside what is kept: what moves, what is lit and what goes dark, and which labels are to be
written anew."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy.orm import Session

from service.planning.actions import UNDER_WAY, find_plan
from service.planning.comparing import plan_row, plan_unfed
from service.planning.records import PlanStatus
from service.planning.since.differing import Change, Relabel, changes, relabels
from service.planning.since.photo import Photo, photo
from service.planning.snapshot.show import find_production, kept_plan

KINDS = ("fed", "moved", "dark", "address")


@dataclass(frozen=True, slots=True)
class Moved:
    """Runs of one element that change alike; `runs` blank: all of it."""

    element: str
    name: str
    place: str
    runs: str
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class Dark:
    """Runs of one element that the plan leaves dark, and why."""

    element: str
    name: str
    runs: str
    because: str
    mend: str


@dataclass(frozen=True, slots=True)
class Compared:
    """One plan, and how it differs from the kept one. `kept`: its number, None where nothing is."""

    plan: dict[str, Any]
    kept: int | None
    fed: tuple[Moved, ...]
    moved: tuple[Moved, ...]
    dark: tuple[Moved, ...]
    address: tuple[Moved, ...]
    labels: tuple[Relabel, ...]
    unfed: tuple[Dark, ...]
    elements: int
    lit: int
    supplies: int
    is_under_way: bool
    is_draft: bool

    @property
    def same(self) -> bool:
        return not (self.fed or self.moved or self.dark or self.address)


def compared(session: Session, code: str, number: int) -> Compared:
    """The plan of that number beside the one the crew works from. Raises NotFound."""
    plan = find_plan(session, code, number)
    production = find_production(session, code)
    kept = kept_plan(session, production.id)
    is_under_way = plan.status in UNDER_WAY
    now: Photo = {} if is_under_way else photo(session, production.id, plan=plan.number)
    was: Photo = photo(session, production.id) if now else {}
    found = changes(was, now)
    names = {run.element: run.name for run in now.values()}
    by_kind = {kind: gathered([c for c in found if c.what == kind], now) for kind in KINDS}
    return Compared(
        plan=plan_row(plan, production),
        kept=kept.number if kept else None,
        fed=by_kind["fed"],
        moved=by_kind["moved"],
        dark=by_kind["dark"],
        address=by_kind["address"],
        labels=tuple(one for one in relabels(was, now) if one.after),
        unfed=_unfed(plan_unfed(session, plan), names, now),
        elements=len(names),
        lit=len(names) - len({run.element for run in now.values() if not run.feed}),
        supplies=len({run.supply for run in now.values() if run.supply}),
        is_under_way=is_under_way,
        is_draft=plan.status == PlanStatus.DRAFT,
    )


def gathered(found: Iterable[Change], now: Photo) -> tuple[Moved, ...]:
    """Runs of one element that change alike, as one line."""
    alike: dict[tuple[str, str, str], list[Change]] = {}
    for change in found:
        element = change.about.rpartition("/")[0]
        alike.setdefault((element, change.before, change.after), []).append(change)
    return tuple(
        Moved(
            element,
            group[0].name,
            group[0].place,
            _runs([int(c.about.rpartition("/")[2]) for c in group], element, now),
            before,
            after,
        )
        for (element, before, after), group in alike.items()
    )


def _unfed(rows: Sequence[dict[str, Any]], names: dict[str, str], now: Photo) -> tuple[Dark, ...]:
    alike: dict[tuple[str, str, str], list[int]] = {}
    for row in rows:
        alike.setdefault((row["element"], row["because"], row["mend"]), []).append(row["run"])
    return tuple(
        Dark(tag, names.get(tag, tag), _runs(runs, tag, now), because, mend)
        for (tag, because, mend), runs in alike.items()
    )


def _runs(numbers: Sequence[int], element: str, now: Photo) -> str:
    """Numbers of runs in words, blank where they are all there are."""
    if len(numbers) == sum(run.element == element for run in now.values()):
        return ""
    return ", ".join(map(str, sorted(numbers)))
