"""How pages are worked; and every limit with what it is about, where it comes from and what to mind."""

from dataclasses import dataclass

from fastapi import APIRouter
from starlette.responses import Response

from service.limits.cautions import SCOPE
from service.limits.findings import Harm
from service.limits.policy import DEFAULT, RANGES, Figure, Policy, Range
from service.limits.registry import LIMITS
from service.planning.snapshot.house import read_policy
from service.web.frame.pages import PageRoute, Reader, ReaderDep

# Figures that readers of other units read otherwise, with the unit of the house for each.
OTHERWISE = {Figure.METRES: "m", Figure.DEGC: "degC", Figure.W_PER_M: "W/m"}


@dataclass(frozen=True, slots=True)
class Told:
    """One limit. `caution`: what is to be minded of it alone; what holds for all is said once."""

    code: str
    title: str
    about: str
    source: str
    caution: str


@dataclass(frozen=True, slots=True)
class HouseFigure:
    """A figure that decides: as it is in this house, and as it is built in."""

    name: str
    value: str
    built_in: str
    span: str
    is_own: bool


def told() -> list[tuple[Harm, list[Told]]]:
    """The limits by what happens if they are ignored, the worst first, in their own order."""
    return [
        (
            harm,
            [
                Told(
                    one.code, one.title, one.subject_kind, one.source, one.caution.removesuffix(SCOPE).strip()
                )
                for one in LIMITS
                if one.harm is harm
            ],
        )
        for harm in Harm
    ]


def figures(policy: Policy, reader: Reader) -> list[HouseFigure]:
    found = []
    for name, allowed in RANGES.items():
        here, built_in = getattr(policy, name), getattr(DEFAULT, name)
        value, first = _figure(here, allowed, reader), _figure(built_in, allowed, reader)
        found.append(HouseFigure(name, value, first, _span(allowed, reader), here != built_in))
    return found


def _figure(value: float, allowed: Range, reader: Reader) -> str:
    unit = OTHERWISE.get(allowed.figure)
    return f"{value:g}" if unit is None else reader.figure(value, unit)


def _span(allowed: Range, reader: Reader) -> str:
    if allowed.figure not in OTHERWISE:
        return str(allowed)
    low, high = (_figure(value, allowed, reader) for value in (allowed.low, allowed.high))
    return reader.say("limits-span", low=low, high=high)


def _limits(reader: ReaderDep) -> Response:
    with reader.desk.store.reading() as session:
        policy = read_policy(session)
    return reader.page(
        "help/limits.html", limits=told(), count=len(LIMITS), scope=SCOPE, figures=figures(policy, reader)
    )


def _help(reader: ReaderDep) -> Response:
    return reader.page("help/help.html")


def router() -> APIRouter:
    routes = APIRouter(route_class=PageRoute, include_in_schema=False)
    routes.add_api_route("/limits", _limits)
    routes.add_api_route("/help", _help)
    return routes
