"""Whatever a page says stands in the catalogue: none of it in code, none in a template."""

import ast
import builtins
import re
from collections.abc import Iterator
from functools import lru_cache
from html.parser import HTMLParser
from pathlib import Path

import jinja2
import pytest

import service.web
from service.errors import ServiceError
from service.kinds.registry import KINDS
from service.web.frame.words import says

WEB = Path(service.web.__file__).parent
VALUE = "§"  # stands for what is put into a text
SENTENCE = re.compile(rf"(?:^|[\s“({VALUE}])(?:[A-Za-z]+[,:]?|{VALUE}) [a-z]{{2,}}(?=$|[\s.,;:!?)”{VALUE}])")
WORD = re.compile(r"[A-Za-z]{2,}")
TAGS = re.compile(r"\{\{.*?\}\}|\{%.*?%\}|\{#.*?#\}", re.DOTALL)
ATTRIBUTE = re.compile(r'[\w-]+="[^"]*"')
SPOKEN = ("alt", "title", "placeholder", "aria-label")
NAMES_OF_KINDS = {kind.name for kind in KINDS}
CLASSES = {
    name for path in WEB.glob("static/*.css") for name in re.findall(r"\.([a-z][\w-]*)", path.read_text())
}


def is_sentence(text: str) -> bool:
    """
    Names of kinds and of style classes are none, nor is the syntax of headers.

    >>> is_sentence("nothing was ticked"), is_sentence("§ is none"), is_sentence("text/csv; charset=utf-8")
    (True, True, False)
    """
    own = text in NAMES_OF_KINDS or set(text.split()) <= CLASSES
    return not own and SENTENCE.search(text) is not None


def text_of(node: ast.AST) -> str | None:
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return node.value
    if isinstance(node, ast.JoinedStr):
        return "".join(text_of(part) or VALUE for part in node.values)
    return None


def is_for_programmers(node: ast.AST) -> bool:
    """What documents the code, what is looked for in a text, what is raised as a fault of the code: nobody
    reads it on a page."""
    if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
        return True
    if isinstance(node, ast.Call) and ast.unparse(node.func) == "re.compile":
        return True
    if not (isinstance(node, ast.Raise) and isinstance(node.exc, ast.Call)):
        return False
    name = getattr(node.exc.func, "id", "")
    return isinstance(getattr(builtins, name, None), type) or name in own_faults()


@lru_cache
def own_faults() -> frozenset[str]:
    """Names of the exceptions of the pages that are no refusals."""
    classes = [
        node for path in WEB.rglob("*.py") for node in ast.walk(ast.parse(path.read_text()))
        if isinstance(node, ast.ClassDef)
    ]  # fmt: skip
    return frozenset(
        node.name
        for node in classes
        for base in node.bases
        if isinstance(found := getattr(builtins, getattr(base, "id", ""), None), type)
        and issubclass(found, Exception)
        and not issubclass(found, ServiceError)
    )


def spoken_in_code(source: str) -> Iterator[str]:
    waiting: list[ast.AST] = [ast.parse(source)]
    while waiting:
        node = waiting.pop()
        if is_for_programmers(node):
            continue
        text = text_of(node)
        if text is not None and is_sentence(text):
            yield f"line {getattr(node, 'lineno', 0)}: {text}"
        if not isinstance(node, ast.JoinedStr):
            waiting += ast.iter_child_nodes(node)
        else:
            waiting += [part for part in node.values if isinstance(part, ast.FormattedValue)]


class Spoken(HTMLParser):
    """What a reader is told by a template itself: text between the tags, and attributes that are read out."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []
        self.is_quiet = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.is_quiet = tag in ("style", "script")
        self.found += [
            value for name, value in attrs if name in SPOKEN and WORD.search(value or "") and value
        ]

    def handle_endtag(self, tag: str) -> None:  # noqa: ARG002
        self.is_quiet = False

    def handle_data(self, data: str) -> None:
        # A macro may yield attributes.
        if WORD.search(ATTRIBUTE.sub("", data)) and not self.is_quiet:
            self.found.append(data.strip())


def spoken_in_template(source: str) -> Iterator[str]:
    parser = Spoken()
    parser.feed(TAGS.sub(VALUE, source))
    parser.close()
    yield from parser.found
    for const in jinja2.Environment().parse(source).find_all(jinja2.nodes.Const):
        if isinstance(const.value, str) and is_sentence(const.value):
            yield const.value


def spoken_in_script(source: str) -> Iterator[str]:
    bare = re.sub(r"//.*|/\*.*?\*/", "", source)
    for text in re.findall(r'"([^"\n]*)"|`([^`]*)`', bare):
        if is_sentence("".join(text)):
            yield "".join(text)


READERS = {".py": spoken_in_code, ".html": spoken_in_template, ".js": spoken_in_script}


def test_no_page_says_what_is_not_in_the_catalogue() -> None:
    found = {
        str(path.relative_to(WEB)): spoken
        for path in sorted(WEB.rglob("*"))
        if path.suffix in READERS and (spoken := list(READERS[path.suffix](path.read_text())))
    }
    assert found == {}


@pytest.mark.parametrize(
    ("ending", "source", "spoken"),
    [
        (".py", 'def f():\n    """Says it."""\n    raise NotFound(f"there is no {x}", "Choose one.")', 2),
        (".py", 'raise ValueError(f"{x} is no file")', 0),
        (".py", 're.compile(r"See the list")', 0),
        (".py", "say('nothing-there', x=f'{a} mm')", 1),
        (".html", '<p title="{{ say("x") }}">{{ x }}</p>', 0),
        (".html", '<p title="Its tag">{{ say("x") }} of {{ "no such thing" }}</p>', 3),
        (".js", 'const a = "no network"; // not said', 1),
    ],
)
def test_what_is_said_is_found(ending: str, source: str, spoken: int) -> None:
    assert len(list(READERS[ending](source))) == spoken


def test_what_pages_ask_for_is_in_the_catalogue() -> None:
    """A key that is put together from parts cannot be told here; pages that ask for one are asked for."""
    missing = []
    for path in sorted(WEB.rglob("*")):
        if path.suffix in (".py", ".html"):
            text = path.read_text()
            asked = re.findall(r"""\bsay\(\s*['"]([\w-]+)['"]\s*[,)]""", text)
            refused = re.findall(r"""\.refuse\(\s*\w+,\s*"([\w-]+)"\s*[,)]""", text)
            missing += [
                key for key in [*asked, *refused, *(f"{key}-mend" for key in refused)] if not says(key)
            ]
    assert missing == []
