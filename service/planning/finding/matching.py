"""Which things the words typed mean, the likeliest first. Nothing is read here."""

import difflib
import re
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

# A universe and a slot in it, as boards and labels write them: 3/53, 3.53, 3 / 053.
ALIKE = 0.72  # share of two words' letters that agree, in their order; fewer, and it is another word
SHORTEST_GUESSED = 3  # letters; of fewer, everything is like everything
LEADING_ZEROS = re.compile(r"(?<!\d)0+(?=\d)")
ADDRESS = re.compile(r"\s*(\d{1,5})\s*[/.:]\s*(\d{1,3})\s*")


@dataclass(frozen=True, slots=True)
class Candidate:
    """Something that can be found. `texts`: what it is known by, the strongest first; `is_on`: whether its
    show is on this day."""

    tag: str
    texts: tuple[str, ...]
    is_on: bool = True


def plain(text: str) -> str:
    """The text as it is compared: small letters, no accents, one blank between words.

    >>> plain("  Café  NOIR "), plain("SQ-09")
    ('cafe noir', 'sq-09')
    """
    bare = unicodedata.normalize("NFKD", text)
    return " ".join("".join(c for c in bare if not unicodedata.combining(c)).casefold().split())


def address(text: str) -> tuple[int, int] | None:
    """(universe, slot) where that is what was typed.

    >>> address("3/53"), address("3 / 053"), address("attic 3")
    ((3, 53), (3, 53), None)
    """
    found = ADDRESS.fullmatch(text)
    return (int(found[1]), int(found[2])) if found else None


def ranked(words: str, candidates: Iterable[Candidate]) -> list[Candidate]:
    """Those in which every word typed occurs, the likeliest first: the tag itself, what begins with the
    words, what has a word that does, then the rest; shows that are on before those that are not.

    >>> found = ranked("win 3", [Candidate("A-1", ("A-1", "Window 3")), Candidate("A-2", ("A-2", "Wall 3"))])
    >>> [one.tag for one in found]
    ['A-1']
    >>> [one.tag for one in ranked("sq9", [Candidate("SQ-09", ("SQ-09",)), Candidate("SQ-19", ("SQ-19",))])]
    ['SQ-09']
    """
    asked = plain(words)
    if not asked:
        return []
    each, run_on = asked.split(), _bare(asked)
    found: list[tuple[tuple[int, bool, int, str], Candidate]] = []
    for candidate in candidates:
        texts = [plain(text) for text in candidate.texts]
        if run_on == _bare(texts[0]) or all(
            any(word in text or word in text.replace("-", "") for text in texts) for word in each
        ):
            rank, at = _nearness(asked, each, texts)
            found.append(((rank, not candidate.is_on, at, candidate.tag), candidate))
    return [candidate for _, candidate in sorted(found, key=lambda one: one[0])]


def corrected(words: str, candidates: Iterable[Candidate]) -> str:
    """The words typed, each that occurs nowhere changed into the nearest that does; blank where one is near
    nothing, or nothing had to be changed.

    >>> known = [Candidate("A-1", ("A-1", "Attic window 3")), Candidate("A-2", ("A-2", "Ice wall"))]
    >>> corrected("attik windw 3", known), corrected("zzz", known), corrected("attic", known)
    ('attic window 3', '', '')
    """
    each = plain(words).split()
    texts = [plain(text) for candidate in candidates for text in candidate.texts]
    known = sorted({word for text in texts for word in text.split() if len(word) >= SHORTEST_GUESSED})
    run_together = {"".join(pair): " ".join(pair) for text in texts for pair in pairwise(text.split())}
    found = []
    for word in each:
        if any(word in text for text in texts):
            found.append(word)
            continue
        near = difflib.get_close_matches(word, [*known, *run_together], 1, ALIKE)
        if len(word) < SHORTEST_GUESSED or not near:
            return ""
        found.append(run_together.get(near[0], near[0]))
    return "" if found == each else " ".join(found)


def _bare(text: str) -> str:
    """
    >>> _bare("sq-09"), _bare("sq 9"), _bare("dc-100")
    ('sq9', 'sq9', 'dc100')
    """
    return LEADING_ZEROS.sub("", text).replace("-", "").replace(" ", "")


def _nearness(asked: str, each: Sequence[str], texts: Sequence[str]) -> tuple[int, int]:
    """How well it fits, 0 the best, and which of its texts says so."""
    for test, rank in ((_is, 0), (_begins, 1), (_has_word, 2)):
        for at, text in enumerate(texts):
            if test(asked, each, text):
                return rank, at
    return 3, len(texts)


def _is(asked: str, _each: Sequence[str], text: str) -> bool:
    return text == asked or _bare(text) == _bare(asked)


def _begins(asked: str, _each: Sequence[str], text: str) -> bool:
    return text.startswith(asked)


def _has_word(_asked: str, each: Sequence[str], text: str) -> bool:
    own = text.split()
    return all(any(word.startswith(asked) for word in own) for asked in each)
