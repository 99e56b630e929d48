"""A thing taken from step to step on its path: dark, working again, faulty, back from repair."""

from datetime import datetime
from typing import Annotated, Any

from fastapi import APIRouter, Response
from pydantic import AfterValidator, BaseModel, Field, StringConstraints, TypeAdapter

from service.api.conventions.asking import JSON_BODY, By, DeskDep, Tag
from service.api.conventions.etags import IfMatch, etag, expected
from service.api.conventions.formats import spoken
from service.api.lists import model_of, row_shape
from service.kinds import actions
from service.kinds.actions import Hand
from service.kinds.bodies import Body
from service.kinds.kind import Kind
from service.kinds.registry import KINDS
from service.kinds.steps.walking import LONGEST_REASON, LONGEST_WORDS, Words
from service.store.base import sound

Line = Annotated[str, StringConstraints(strip_whitespace=True), AfterValidator(sound)]


class StepAsk(Body):
    """A step to take."""

    to: Line = Field(max_length=24, description="where it shall stand: dark, working, faulty, …")
    what: Line = Field(
        default="", max_length=LONGEST_WORDS, description="what is seen, found or done; kept with the step"
    )
    despite: Line | None = Field(
        default=None,
        min_length=5,
        max_length=LONGEST_REASON,
        description="why it is taken though it does not follow, or lacks what it needs; kept with the step",
    )


class StepOut(BaseModel):
    """One step on record."""

    at: datetime = Field(description="when, UTC")
    by: str = Field(description="who said so; not proven until people sign in")
    before: str | None = Field(default=None, description="where it stood; null: it was entered there")
    to: str = Field(description="where it came to stand")
    what: str = Field(default="", description="what was said with it")


class NextOut(BaseModel):
    """A step that may follow."""

    to: str = Field(description="where it would stand")
    needs: str = Field(default="", description="what the step needs; blank: nothing")


class PathOut(BaseModel):
    """The path of one thing so far, and what may come next."""

    tag: str = Field(description="its tag")
    stands: str = Field(description="where it stands")
    note: str = Field(default="", description="what was said at its last step")
    steps: list[StepOut] = Field(description="its steps, oldest first")
    next: list[NextOut] = Field(description="what may follow")


PATH = TypeAdapter(PathOut)


def path_answer(kind: Kind, row: dict[str, Any], steps: list[Any]) -> PathOut:
    """The path of a thing as it is answered; `row`: the thing as its list answers it."""
    assert kind.stepping is not None
    path = kind.stepping.path
    stands = row[path.column]
    return PathOut(
        tag=row["tag"],
        stands=str(stands),
        note=row[path.note] or "",
        steps=[StepOut(at=s.at, by=s.by, before=s.before, to=s.to, what=s.what) for s in steps],
        next=[NextOut(to=str(to), needs=path.needed(to)) for to in path.next(type(stands)(stands))],
    )


def _add(routes: APIRouter, kind: Kind) -> None:
    listing = kind.listing
    assert listing is not None

    def take(key: Tag, ask: StepAsk, desk: DeskDep, by: By, if_match: IfMatch = None) -> Response:
        versions, words = expected(if_match), Words(ask.what, ask.despite or "")
        hand = Hand(by, desk.today())
        row, version = desk.store.write(
            lambda session: actions.step(session, kind, (key, ask.to), words, versions, hand), by=by
        )
        return spoken(row_shape(listing), row, {"ETag": etag(version)})

    def path(key: Tag, desk: DeskDep) -> Response:
        with desk.store.reading() as session:
            row, steps = actions.path_so_far(session, kind, key)
        return spoken(PATH, path_answer(kind, row, steps), {})

    address = f"/{listing.plural}/{{key}}/steps"
    routes.add_api_route(
        address,
        take,
        methods=["POST"],
        response_model=model_of(listing),
        summary=f"Take {listing.one} a step on",
        description="A step that does not follow, or lacks what it needs, is refused with those that may be "
        "taken, unless `despite` says why. Answered with the thing.",
        dependencies=JSON_BODY,
    )
    routes.add_api_route(
        address,
        path,
        response_model=PathOut,
        summary=f"The steps of {listing.one} so far, and what may come next",
    )


def router() -> APIRouter:
    """Routes for every kind that follows a path."""
    routes = APIRouter(tags=["steps"])
    for kind in KINDS:
        if kind.stepping is not None:
            _add(routes, kind)
    return routes
