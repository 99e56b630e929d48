"""What is answered to somebody who looks for a thing."""

from pydantic import BaseModel, Field


class HitOut(BaseModel):
    """One thing that may be meant."""

    kind: str = Field(description="element, supply, decoder, battery, enclosure, outlet, reel, place or show")
    tag: str = Field(description="what is printed on it")
    name: str = Field(description="what people call it")
    where: str = Field(description="where it is, in words")
    production: str = Field(default="", description="show code")
    title: str = Field(default="", description="title of the show")
    is_on: bool = Field(default=True, description="whether its show is on this day")
    supply: str | None = Field(default=None, description="element: what feeds it first")
    output: int | None = Field(default=None, description="element: output of that supply")
    decoder: str | None = Field(default=None, description="element: decoder of that feed")
    status: str = Field(default="", description="element: where it stands")
