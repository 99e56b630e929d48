"""Questions that need no database: what drop, what gauge, what fuse, how long on this pack."""

from collections.abc import Callable
from typing import Annotated, Any

from fastapi import APIRouter, Query, Response
from pydantic import BaseModel, Field, TypeAdapter

from service.api.conventions.formats import CSV_ANSWER, Accept, model_sheet, spoken, wants_csv
from service.calculators import drop
from service.calculators.form import Calculator, Figure, Worked
from service.calculators.registry import CALCULATORS

SVG = "image/svg+xml"
PICTURE: dict[int | str, dict[str, Any]] = {200: {"content": {SVG: {"schema": {"type": "string"}}}}}
_WORKED = TypeAdapter(Worked)


class CalculatorOut(BaseModel):
    """A calculator that may be asked."""

    name: str = Field(description="its name, the last part of its address", examples=["drop"])
    question: str = Field(description="what it answers", examples=["What is lost along this run of tape?"])
    asks: list[str] = Field(
        description="parameters it takes; what each means stands in the description for programs",
        examples=[["emitter_w_per_m", "length_m"]],
    )


def _all() -> list[CalculatorOut]:
    return [
        CalculatorOut(name=each.name, question=each.question, asks=list(each.ask.model_fields))
        for each in CALCULATORS
    ]


def _answering(calculator: Calculator) -> Callable[..., Response]:
    def answer(ask: Any, accept: Accept = None) -> Response:
        worked = calculator.work(ask)
        if wants_csv(accept):
            return model_sheet(Figure, worked.figures, {"Vary": "Accept"})
        return spoken(_WORKED, worked, {"Vary": "Accept"})

    answer.__annotations__["ask"] = Annotated[calculator.ask, Query()]
    return answer


def _picture(ask: Annotated[drop.DropAsk, Query()]) -> Response:
    return Response(drop.picture(ask), media_type=SVG)


def router() -> APIRouter:
    routes = APIRouter(tags=["calculators"])
    routes.add_api_route(
        "/calculators", _all, response_model=list[CalculatorOut], summary="What can be worked out on the spot"
    )
    for calculator in CALCULATORS:
        routes.add_api_route(
            f"/calculators/{calculator.name}", _answering(calculator), response_model=Worked,
            responses=CSV_ANSWER, summary=calculator.question, name=f"calculator {calculator.name}",
        )  # fmt: skip
    routes.add_api_route(
        "/calculators/drop/picture", _picture, response_class=Response, responses=PICTURE,
        summary="The volts along this run of tape, drawn",
    )  # fmt: skip
    return routes
