"""Figures that may be asked with, and what was taken where one is blank."""

from dataclasses import dataclass
from math import inf, isfinite

from service.errors import BadQuantity

# Air a stage can be in, and a closed box beside a lamp. Common practice.
AIR_DEGC = (-40.0, 80.0)


def within(what: str, value: float | None, low: float, high: float, unit: str = "") -> float:
    """The figure itself if it lies between the two, both included.

    Raises BadQuantity, with the range, for a figure outside it, for one that is not a number and for none.

    >>> within("the air", 30.0, -40.0, 80.0, "degC")
    30.0
    """
    allowed = f"Give {what} between {low:g} and {high:g}{unit and ' ' + unit}."
    if value is None:
        raise BadQuantity(f"{what} is not given", allowed)
    if not isfinite(value) or not low <= value <= high:
        raise BadQuantity(f"{what} cannot be {value:g}{unit and ' ' + unit}", allowed)
    return value


def more_than_nothing(value: float, what: str, unit: str, mend: str = "") -> None:
    """Refuses a figure that has to be above 0 and is not, or has no end.

    Raises BadQuantity.
    """
    if not 0.0 < value < inf:
        raise BadQuantity(f"{what} of {value:g} {unit}", mend or f"Give {what} as more than 0 {unit}.")


def share(what: str, value: float | None) -> float:
    """A share above 0 and not above 1, such as an efficiency or a power factor.

    Raises BadQuantity otherwise: nothing can be divided by an efficiency of nought.

    >>> share("the efficiency", 0.9)
    0.9
    """
    allowed = f"Give {what} above 0 and at most 1 (0.9 for 90 %)."
    if value is None:
        raise BadQuantity(f"{what} is not given", allowed)
    if not isfinite(value) or not 0.0 < value <= 1.0:
        raise BadQuantity(f"{what} cannot be {value:g}", allowed)
    return value


@dataclass(frozen=True, slots=True)
class Assumed:
    """A figure that was not given: what was taken for it, and what the answer would be at its best.

    `taken` is the worst of what is usual, `best` the other end. `at_worst` and `at_best` are the answer with
    the one and the other, in `unit`.
    """

    figure: str
    taken: float
    best: float
    at_worst: float
    at_best: float
    unit: str
    source: str

    @property
    def text(self) -> str:
        """What was assumed and how much it matters, as one sentence.

        >>> Assumed("the efficiency", 0.8, 0.95, 4.0, 3.4, "A", "common practice").text
        'the efficiency is not given: 0.8 was taken (common practice); at 0.95 it is 3.4 A and not 4 A'
        """
        return (
            f"{self.figure} is not given: {self.taken:g} was taken ({self.source}); at {self.best:g} it is "
            f"{self.at_best:.3g} {self.unit} and not {self.at_worst:.3g} {self.unit}"
        )
