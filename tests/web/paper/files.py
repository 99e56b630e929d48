"""Files that the pages hand out, read back as a printer or a reader would."""

from io import BytesIO

import httpx
import pypdfium2
from pypdf import PdfReader

A_POINT_MM = 25.4 / 72


def pdf_of(site: str, path: str, units: str = "metric") -> bytes:
    """The file at an address. Fails with what the service said instead."""
    answer = httpx.get(f"{site}{path}", cookies={"units": units}, timeout=90)
    assert answer.headers["content-type"] == "application/pdf", answer.text[:2000]
    return answer.content


def pdf_pages(content: bytes) -> list[str]:
    """The words of each page, without the line ends."""
    return [" ".join(page.extract_text().split()) for page in PdfReader(BytesIO(content)).pages]


def pdf_text(content: bytes) -> str:
    return " ".join(pdf_pages(content))


def page_sizes_mm(content: bytes) -> set[tuple[int, int]]:
    """Width and height of its pages."""
    file = pypdfium2.PdfDocument(content)
    return {tuple(round(side * A_POINT_MM) for side in page.get_size()) for page in file}


Box = tuple[float, float, float, float]


def overprinted(content: bytes) -> list[str]:
    """Letters that lie on other letters, and letters beyond the edge of their page."""
    found = []
    for number, page in enumerate(pypdfium2.PdfDocument(content), start=1):
        wide, _ = page.get_size()
        words = page.get_textpage()
        text = words.get_text_range()
        shown = [n for n in range(min(words.count_chars(), len(text))) if not text[n].isspace()]
        boxes = sorted((words.get_charbox(n), text[n]) for n in shown)
        found += [f"page {number}: {letter!r} is beyond the edge" for box, letter in boxes
                  if box[0] < 0 or box[2] > wide]  # fmt: skip
        for k, (box, letter) in enumerate(boxes):
            for other, on in boxes[k + 1 :]:
                if other[0] > box[2]:
                    break
                if _lies_on(box, other):
                    found.append(f"page {number}: {letter!r} and {on!r} at {box[0]:.0f}, {box[1]:.0f}")
    return found


def _lies_on(one: Box, other: Box) -> bool:
    wide = min(one[2], other[2]) - max(one[0], other[0])
    high = min(one[3], other[3]) - max(one[1], other[1])
    least_wide, least_high = (min(one[k + 2] - one[k], other[k + 2] - other[k]) for k in (0, 1))
    return wide > 0.5 * least_wide and high > 0.5 * least_high > 0


def most_colour(content: bytes) -> int:
    """How far the most coloured dot of any page is from grey, from 0 to 255."""
    most = 0
    for page in pypdfium2.PdfDocument(content):
        red, green, blue = (band.tobytes() for band in page.render(scale=1.5).to_pil().convert("RGB").split())
        most = max(most, max(max(dot) - min(dot) for dot in zip(red, green, blue, strict=True)))
    return most
