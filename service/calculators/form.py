"""The shape of a question that is worked out on the spot, and of every answer."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from pydantic import BaseModel, ConfigDict, Field

from service.limits.cautions import SCOPE
from service.units import show, unit_text


class Ask(BaseModel):
    """What is asked: figures as people write them, each with its unit or in the unit of its name."""

    model_config = ConfigDict(extra="forbid")


class Figure(BaseModel):
    """One figure of an answer."""

    name: str = Field(
        description="what it is; the same in every answer of this calculator", examples=["lost_v"]
    )
    value: float | None = Field(
        description="the figure, in the unit beside it; blank where there is none", examples=[2.97]
    )
    unit: str = Field(description="the unit of the value; blank for a plain number", examples=["V"])
    text: str = Field(description="the figure in words, with its unit", examples=["2.97 V"])


class Assumed(BaseModel):
    """A figure that was not given."""

    what: str = Field(description="what was not given", examples=["resistance of the rails (returns)"])
    taken: str = Field(
        description="what was taken in its place, and why", examples=["50 mΩ/m each, from memory"]
    )
    effect: str = Field(
        description="how much it matters", examples=["with half of that 11.71 %, with twice that 21.71 %"]
    )


class Worked(BaseModel):
    """An answer, with how it was found and what to beware of."""

    calculator: str = Field(description="which calculator answered", examples=["drop"])
    says: str = Field(
        description="the answer in one sentence",
        examples=["8 m fed at one end loses 2.97 V (12.38 %) at 7.95 m."],
    )
    is_within: bool | None = Field(
        description="whether the limit that was asked for is kept; blank if none was or nobody can say",
        examples=[False],
    )
    figures: list[Figure] = Field(description="every figure of the answer, the telling one first")
    ways: list[str] = Field(
        description="what would help, the best first, each with its figures",
        examples=[["use 16 AWG: 0.87 V instead of 2.97 V"]],
    )
    assumed: list[Assumed] = Field(
        description="what was not given, what was taken for it, and what that does"
    )
    formula: str = Field(description="how it was worked out", examples=["drop = (I out + I back) x r x d"])
    source: str = Field(
        description="the law, table or text it rests on, by name and edition",
        examples=["Ohm's law; IEC 60028"],
    )
    caution: str = Field(
        description="what to beware of, and who decides", examples=["Low voltage still burns."]
    )


@dataclass(frozen=True, slots=True)
class Calculator:
    """One calculator. `question`: what it answers, in the words of who asks."""

    name: str
    question: str
    ask: type[Ask]
    work: Callable[[Any], Worked]


def beware(*cautions: str) -> str:
    """Cautions one after another; what all of them end with is said once.

    >>> beware("Hot. " + SCOPE, "Wet. " + SCOPE) == "Hot. Wet. " + SCOPE
    True
    """
    return f"{' '.join(caution.removesuffix(SCOPE).strip() for caution in cautions)} {SCOPE}"


def figure(name: str, value: float, unit: str, digits: int | None = None) -> Figure:
    """A figure in a unit of the house.

    >>> figure("lost_v", 1.5, "V").text
    '1.5 V'
    """
    return Figure(name=name, value=value, unit=unit_text(unit), text=show(value, unit, digits=digits))


def plain(name: str, text: str, value: float | None = None) -> Figure:
    """A figure without a unit, or a word."""
    return Figure(name=name, value=value, unit="", text=text)
