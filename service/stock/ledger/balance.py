"""What a reel may lose and gain, and what it is afterwards; pure, so that every door says the same."""

from service.errors import OffCutPitch
from service.stock.records import CutKind, ReelState
from service.units import show_um

GIVES = frozenset({CutKind.RECEIVED, CutKind.RETURNED})
SIGNED = frozenset({CutKind.RECOUNT, CutKind.JOINED})  # more or less, as it is said
READING_UM = 1_600  # a length read off in hundredths of a foot is up to 1.524 mm beside itself
CLOSED = frozenset({ReelState.SCRAP, ReelState.USED_UP, ReelState.WRITTEN_OFF})


def pitches_of(length_um: int, pitch_um: int, tape: str) -> int:
    """A length as whole cut pitches, as near as lengths are read. Raises OffCutPitch with the nearest there
    are.

    >>> pitches_of(1_300_000, 50_000, "NW24"), pitches_of(899_160, 50_000, "NW24")  # 2.95 ft
    (26, 18)
    """
    found = whole_pitches(length_um, pitch_um)
    if length_um - found * pitch_um > _reading_um(pitch_um) or (length_um and not found):
        raise OffCutPitch(*off_pitch(length_um, pitch_um, tape))
    return found


def whole_pitches(length_um: int, pitch_um: int) -> int:
    """How many cut pitches a length holds; one that lacks no more than lengths are read to is whole.

    >>> whole_pitches(898_000, 50_000), whole_pitches(4_998_720, 50_000)  # 16.4 ft
    (17, 100)
    """
    return (length_um + _reading_um(pitch_um)) // pitch_um


def _reading_um(pitch_um: int) -> int:
    return min(READING_UM, pitch_um // 4)


def off_pitch(length_um: int, pitch_um: int, tape: str) -> tuple[str, str]:
    """Why a length cannot be cut, and the nearest that can.

    >>> off_pitch(120_000, 50_000, "NW24")[1]
    'Nearest: 100 mm and 150 mm.'
    """
    whole = length_um // pitch_um
    near = [show_um(n * pitch_um) for n in (whole, whole + 1) if n]
    return (
        f"{show_um(length_um)} is not a whole number of {show_um(pitch_um)} cut pitches of {tape}",
        f"Nearest: {' and '.join(near)}.",
    )


def too_short(tag: str, left_pitches: int, asked_pitches: int, pitch_um: int) -> str:
    """
    >>> too_short("R-118", 18, 26, 50_000)
    'R-118 has 900 mm left and 1300 mm is asked of it'
    """
    left, asked = (show_um(n * pitch_um) for n in (left_pitches, asked_pitches))
    return f"{tag} has {left} left and {asked} is asked of it"


def signed(kind: CutKind, pitches: int) -> int:
    """What a row of that kind adds to its reel: what came or came back adds, a cut takes away, a count and a
    joint say which.

    >>> signed(CutKind.SCRAP, 3), signed(CutKind.RETURNED, 3), signed(CutKind.RECOUNT, -2)
    (-3, 3, -2)
    """
    if kind in SIGNED:
        return pitches
    return pitches if kind in GIVES or kind is CutKind.OPENING else -pitches


def state_after(state: ReelState, left_pitches: int, is_offcut: bool = False) -> ReelState:
    """The state of a reel once its balance has moved.

    >>> str(state_after(ReelState.SEALED, 40)), str(state_after(ReelState.OPEN, 0))
    ('open', 'used up')
    >>> str(state_after(ReelState.USED_UP, 4, is_offcut=True))
    'offcut'
    """
    if not left_pitches:
        return ReelState.USED_UP
    if state is ReelState.USED_UP:
        return ReelState.OFFCUT if is_offcut else ReelState.OPEN
    return ReelState.OPEN if state is ReelState.SEALED else state
