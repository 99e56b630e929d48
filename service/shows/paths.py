"""Which step may follow which, from a wish to the strike, and for gear from good to retired; what each step
needs, and what must be said with it. A description only: nothing here looks anything up.

Source: common practice of a lighting workshop.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

from service.shows.records import ElementStatus as E
from service.stock.gear import UnitState as U


@dataclass(frozen=True, slots=True, eq=False)
class Path:
    """`column`: where a thing says where it stands; `note`: where it keeps what was said at its last step.

    `after`: the steps that may follow each; `needs`: what must be so before a step, in words; `says`: what
    must be said with a step, in words.
    """

    column: str
    note: str
    after: Mapping[StrEnum, tuple[StrEnum, ...]]
    needs: Mapping[StrEnum, str]
    says: Mapping[StrEnum, str]

    def next(self, at: StrEnum) -> tuple[StrEnum, ...]:
        """The steps that may follow.

        >>> [str(step) for step in ELEMENTS.next(E.WORKING)]
        ['dark', 'struck', 'cut from show']
        """
        return self.after[at]

    def needed(self, to: StrEnum) -> str:
        """What a step needs, in words; blank: nothing.

        >>> UNITS.needed(U.FAULTY), UNITS.needed(U.REPAIR)
        ('say what was found', '')
        """
        said = f"say {self.says[to]}" if to in self.says else ""
        return "; ".join(filter(None, (self.needs.get(to, ""), said)))


_FORWARD: dict[StrEnum, tuple[StrEnum, ...]] = {
    E.ASKED: (E.DRAWN,),
    E.DRAWN: (E.CUT,),
    E.CUT: (E.BUILT,),
    E.BUILT: (E.TESTED,),
    E.TESTED: (E.INSTALLED,),
    E.INSTALLED: (E.WORKING, E.DARK, E.STRUCK),
    E.WORKING: (E.DARK, E.STRUCK),
    E.DARK: (E.WORKING, E.STRUCK),
    E.STRUCK: (),
}

ELEMENTS = Path(
    column="status",
    note="status_note",
    after=MappingProxyType(
        {at: (*steps, E.CUT_FROM_SHOW) for at, steps in _FORWARD.items()} | {E.CUT_FROM_SHOW: ()}
    ),
    needs=MappingProxyType(
        {
            E.CUT: "every piece has its cut on record, or say why it has none",
            E.TESTED: "its last bench test was passed",
            E.INSTALLED: "the kept plan feeds every run or says why not, or say why it is not fed",
        }
    ),
    says=MappingProxyType({E.DARK: "what is seen"}),
)

UNITS = Path(
    column="state",
    note="state_note",
    after=MappingProxyType(
        {
            U.GOOD: (U.SUSPECT, U.FAULTY, U.REPAIR, U.MISSING, U.RETIRED),
            U.SUSPECT: (U.GOOD, U.FAULTY, U.REPAIR, U.MISSING, U.RETIRED),
            U.FAULTY: (U.GOOD, U.SUSPECT, U.REPAIR, U.MISSING, U.RETIRED),
            U.REPAIR: (U.GOOD, U.SUSPECT, U.FAULTY, U.MISSING, U.RETIRED),
            U.MISSING: (U.GOOD, U.SUSPECT, U.FAULTY, U.RETIRED),
            U.RETIRED: (U.GOOD, U.SUSPECT),
        }
    ),
    needs=MappingProxyType({U.RETIRED: "nothing kept hangs on it and nobody is promised it"}),
    says=MappingProxyType(
        {
            U.SUSPECT: "what is suspected",
            U.FAULTY: "what was found",
            U.MISSING: "where it was last seen",
        }
    ),
)
