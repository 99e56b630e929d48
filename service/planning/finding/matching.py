"""Which things the words typed mean, the likeliest first. Nothing is read here."""

import re
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

# A universe and a slot in it, as boards and labels write them: 3/53, 3.53, 3 / 053.
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
    """
    asked = plain(words)
    if not asked:
        return []
    each = asked.split()
    found: list[tuple[tuple[int, bool, int, str], Candidate]] = []
    for candidate in candidates:
        texts = [plain(text) for text in candidate.texts]
        if all(any(word in text or word in text.replace("-", "") for text in texts) for word in each):
            rank, at = _nearness(asked, each, texts)
            found.append(((rank, not candidate.is_on, at, candidate.tag), candidate))
    return [candidate for _, candidate in sorted(found, key=lambda one: one[0])]


def _nearness(asked: str, each: Sequence[str], texts: Sequence[str]) -> tuple[int, int]:
    """How well it fits, 0 the best, and which of its texts says so."""
    for test, rank in ((_is, 0), (_begins, 1), (_has_word, 2)):
        for at, text in enumerate(texts):
            if test(asked, each, text):
                return rank, at
    return 3, len(texts)


def _is(asked: str, _each: Sequence[str], text: str) -> bool:
    return text == asked or text.replace("-", "") == asked.replace("-", "").replace(" ", "")


def _begins(asked: str, _each: Sequence[str], text: str) -> bool:
    return text.startswith(asked)


def _has_word(_asked: str, each: Sequence[str], text: str) -> bool:
    own = text.split()
    return all(any(word.startswith(asked) for word in own) for asked in each)
