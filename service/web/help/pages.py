"""How pages are worked; and every limit with what it is about, where it comes from and what to mind."""

from dataclasses import dataclass

from fastapi import APIRouter
from starlette.responses import Response

from service.limits.cautions import SCOPE
from service.limits.findings import Harm
from service.limits.policy import DEFAULT, RANGES, Policy
from service.limits.registry import LIMITS
from service.planning.snapshot.house import read_policy
from service.web.frame.pages import PageRoute, ReaderDep


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

    @property
    def is_own(self) -> bool:
        return self.value != self.built_in


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


def figures(policy: Policy) -> list[HouseFigure]:
    return [
        HouseFigure(name, f"{getattr(policy, name):g}", f"{getattr(DEFAULT, name):g}", str(allowed))
        for name, allowed in RANGES.items()
    ]


def _limits(reader: ReaderDep) -> Response:
    with reader.desk.store.reading() as session:
        policy = read_policy(session)
    return reader.page(
        "help/limits.html", limits=told(), count=len(LIMITS), scope=SCOPE, figures=figures(policy)
    )


def _help(reader: ReaderDep) -> Response:
    return reader.page("help/help.html")


def router() -> APIRouter:
    routes = APIRouter(route_class=PageRoute, include_in_schema=False)
    routes.add_api_route("/limits", _limits)
    routes.add_api_route("/help", _help)
    return routes
