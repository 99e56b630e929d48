"""On a page no refusal sends anybody to an address for programs or to a command line."""

import ast
import re
from pathlib import Path

import httpx
import pytest

import service
from service.web.frame.mending import here

BROWSER = {"Accept": "text/html,application/xhtml+xml,*/*;q=0.8"}
ROOMS = ("kinds", "planning", "season", "store", "stock", "shows", "paper", "limits", "cutting", "allocation")
ELSEWHERE = re.compile(r"/api/|wattwright [a-z]|`\w+`|despite_limits")
ADMINISTRATION = re.compile(r"wattwright db ")  # a service with such a store has no pages


@pytest.mark.parametrize(
    ("address", "said", "page"),
    [
        ("/supplies/PS-999", "Look for it in the list of supplies.", "/shelf?kind=supply"),
        ("/supplies/SQ-01", "It is the tag of an element.", "/l/SQ-01"),
        ("/cutting/CP-999", "Look for it in the list of cut plans.", "/cutting"),
        ("/shelf/count/ST-999", "Look for it in the list of stocktakes.", "/shelf/count"),
        ("/paper/changes?show=SQ&since=plan:99", "Its latest is plan 1.", ""),
        ("/batteries/BT-11/swaps/PS-02?show=SQ", "what else can stand in for BT-11.", ""),
        ("/decoders/DC-99/change", "Look for it in the list of decoders.", "/shelf?kind=decoder"),
    ],
)
def test_a_refusal_on_a_page_leads_to_a_page(site: str, address: str, said: str, page: str) -> None:
    answer = httpx.get(site + address, headers=BROWSER, timeout=60)
    assert answer.status_code in (404, 422), answer.status_code
    assert said in answer.text
    assert ELSEWHERE.findall(answer.text.replace("/api/v1/lookup", "")) == []
    assert not page or f'href="{page}"' in answer.text


def test_what_rooms_say_can_be_said_on_a_page() -> None:
    """What names an address or a value of the API reads otherwise on a page; nothing names a command."""
    odd = []
    for room in ROOMS:
        for path in sorted((Path(service.__file__).parent / room).rglob("*.py")):
            for text in told_by(ast.parse(path.read_text())):
                if ELSEWHERE.search(here(text)) and not ADMINISTRATION.search(text):
                    odd.append(f"{path.name}: {text}")
    assert odd == []


def told_by(tree: ast.AST) -> list[str]:
    """What refusals are raised with, and what is put together for one under the name of a mend."""
    found: list[ast.AST] = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and re.search(r"(^|\.)[A-Z]\w+$", ast.unparse(node.func)):
            found += [*node.args]
        if isinstance(node, ast.Assign | ast.AugAssign) and "mend" in ast.unparse(node):
            found.append(node.value)
    texts, parts = [], set[int]()
    for part in (part for node in found for part in ast.walk(node)):
        if isinstance(part, ast.JoinedStr):
            values = (one.value if isinstance(one, ast.Constant) else "one" for one in part.values)
            texts.append("".join(str(value) for value in values))
            parts |= {id(one) for one in part.values}  # said already
        elif isinstance(part, ast.Constant) and isinstance(part.value, str) and id(part) not in parts:
            texts.append(part.value)
    return texts
