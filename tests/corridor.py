"""Reads the source and names every place where a rule of the layout is broken.

The rooms stand in one order. A room may import itself and what stands to its left, never sideways and never
rightwards: a written order is what keeps rooms from knotting together. Imports hidden inside functions count.
"""

import ast
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

# One entry a place in the corridor; rooms that share a place do not know each other.
CORRIDOR: tuple[tuple[str, ...], ...] = (
    ("errors",),
    ("client",),
    ("electrical",),
    ("ladder",),
    ("control",),
    ("limits",),
    ("allocation",),
    ("cutting",),
    ("units",),
    ("calculators",),
    ("store",),
    ("access",),
    ("stock",),
    ("season",),
    ("shows",),
    ("planning",),
    ("kinds",),
    ("reports",),
    ("paper",),
    ("tables",),
    ("desk",),
    ("api", "web"),
    ("config",),
    ("app",),
    ("cli",),
)
PLACE = {room: place for place, rooms in enumerate(CORRIDOR) for room in rooms}
ROOMS = tuple(PLACE)
# Stand right of everything and use the same doors as users; in the wheel they lie inside the package.
OUTSIDE = frozenset({"__main__", "migrations", "seed_demo"})


def _rooms(first: str, last: str) -> frozenset[str]:
    return frozenset(room for room in ROOMS if PLACE[first] <= PLACE[room] <= PLACE[last])


SOLVER = frozenset({"allocation", "cutting"})
# Which rooms a library may enter. What is not named here may enter none.
GUESTS: dict[str, frozenset[str]] = {
    "pint": frozenset({"units"}),
    "puremagic": frozenset({"stock"}),
    "pydantic": _rooms("units", "cli"),
    "pydantic_core": _rooms("units", "cli"),
    "pydantic_settings": frozenset({"config"}),
    "sqlalchemy": _rooms("store", "tables"),
    "alembic": frozenset({"store"}),
    "ortools": SOLVER,
    "highspy": SOLVER,
    "numpy": SOLVER | {"ladder"},
    "python_calamine": frozenset({"paper"}),
    "xlsxwriter": frozenset({"paper"}),
    "segno": frozenset({"paper"}),
    "weasyprint": frozenset({"web"}),
    "jinja2": frozenset({"web"}),
    "markupsafe": frozenset({"web"}),
    "fluent": frozenset({"web"}),
    "fastapi": frozenset({"api", "web", "app"}),
    "starlette": frozenset({"api", "web", "app"}),
    "anyio": frozenset({"app", "web"}),
    "httpx": frozenset({"client"}),
    "uvicorn": frozenset({"cli"}),
    "click": frozenset({"cli"}),
    "rich": frozenset({"cli"}),
}
# Only these files of the room named, where a whole room would be too much.
GUEST_FILES = {"alembic": frozenset({"service/store/schema.py"})}
# Slow to load, so a function that really needs one may import it; nothing else may hide.
HEAVY = frozenset({"alembic", "ortools", "highspy", "numpy"})

FORBIDDEN_NAMES = frozenset({"utils", "util", "helpers", "helper", "common", "manager", "managers", "misc"})
FUNCTION_LINES = 60
MODULE_LINES = 450
FILES_IN_A_FOLDER = 12
ARGUMENTS = 8


@dataclass(frozen=True, slots=True)
class Import:
    module: str
    line: int
    is_hidden: bool
    is_relative: bool


def modules(root: Path, *folders: str) -> Iterator[Path]:
    """Every module below the folders named, in a settled order."""
    for folder in folders:
        yield from sorted(p for p in (root / folder).rglob("*.py") if "__pycache__" not in p.parts)


def room_of(path: Path, root: Path) -> str | None:
    """The room a module belongs to; None for the package's own __init__."""
    first = path.relative_to(root / "service").parts[0].removesuffix(".py")
    return None if first == "__init__" else first


def imports(tree: ast.AST, is_hidden: bool = False) -> Iterator[Import]:
    """Every import statement, also those inside functions and conditions."""
    for node in ast.iter_child_nodes(tree):
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield Import(alias.name, node.lineno, is_hidden, False)
        elif isinstance(node, ast.ImportFrom):
            relative = node.level > 0
            module = node.module or ""
            # `from service import shows` names the room in the alias.
            names = [f"service.{a.name}" for a in node.names] if module == "service" else [module]
            for name in names:
                yield Import(name, node.lineno, is_hidden, relative)
        else:
            inside = is_hidden or isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda)
            yield from imports(node, inside)


def _judge(found: Import, room: str | None, where: str) -> str | None:
    top, _, rest = found.module.partition(".")
    spot = f"{where}:{found.line}"
    if found.is_relative:
        return f"{spot} imports relatively; write the whole name"
    if top == "service":
        target = rest.partition(".")[0]
        if target in ("", "__version__") or target == room or room in OUTSIDE:
            return None
        if target not in PLACE:
            return f"{spot} imports {found.module}, which is no room of the corridor"
        if room is None or PLACE[target] >= PLACE[room]:
            return f"{spot} {room} imports {target}, which stands to its right or beside it"
        if found.is_hidden:
            return f"{spot} hides an import of {target} inside a function"
        return None
    if top in sys.stdlib_module_names:
        return None
    if room in OUTSIDE:
        return None
    if room not in GUESTS.get(top, frozenset()):
        return f"{spot} lets {top} into {room}"
    if top in GUEST_FILES and where not in GUEST_FILES[top]:
        return f"{spot} lets {top} into a file it is not meant for"
    if found.is_hidden and top not in HEAVY:
        return f"{spot} hides an import of {top} inside a function"
    return None


def import_faults(root: Path) -> list[str]:
    """Imports to the right, sideways, hidden, relative, or of a library in a room it may not enter."""
    faults = []
    for path in modules(root, "service"):
        where = path.relative_to(root).as_posix()
        room = room_of(path, root)
        if room is not None and room not in PLACE and room not in OUTSIDE:
            faults.append(f"{where} is in no room of the corridor")
            continue
        tree = ast.parse(path.read_text(encoding="utf-8"))
        faults += [said for found in imports(tree) if (said := _judge(found, room, where))]
    return faults


def environment_faults(root: Path) -> list[str]:
    """Every place but config that reads the environment."""
    faults = []
    for path in modules(root, "service"):
        if room_of(path, root) == "config":
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not isinstance(node, ast.Attribute | ast.Name | ast.alias):
                continue
            name = getattr(node, "attr", None) or getattr(node, "id", None) or getattr(node, "name", "")
            if name in {"environ", "getenv", "environb"}:
                faults.append(f"{path.relative_to(root).as_posix()}:{node.lineno} reads the environment")
    return faults


def _docstring_lines(node: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    first = node.body[0]
    if (
        isinstance(first, ast.Expr)
        and isinstance(first.value, ast.Constant)
        and isinstance(first.value.value, str)
    ):
        return (first.end_lineno or first.lineno) - first.lineno + 1
    return 0


def function_faults(root: Path) -> list[str]:
    """Functions too long to read at one go, or with too many arguments to call without looking."""
    faults = []
    for path in modules(root, "service", "tests", "seed_demo"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                continue
            where = f"{path.relative_to(root).as_posix()}:{node.lineno} {node.name}"
            lines = (node.end_lineno or node.lineno) - node.lineno + 1 - _docstring_lines(node)
            if lines > FUNCTION_LINES:
                faults.append(f"{where} has {lines} lines; split it at {FUNCTION_LINES}")
            arguments = len(node.args.args) + len(node.args.kwonlyargs) + len(node.args.posonlyargs)
            # A builder of tests names the facts it varies, each with a default; that is its use.
            if arguments > ARGUMENTS and path.is_relative_to(root / "service"):
                faults.append(f"{where} takes {arguments} arguments; more than {ARGUMENTS} want a dataclass")
    return faults


def file_faults(root: Path) -> list[str]:
    """Modules too long, folders too full, and names that say nothing."""
    faults = []
    folders: dict[Path, int] = {}
    for path in modules(root, "service", "tests", "seed_demo"):
        where = path.relative_to(root).as_posix()
        lines = len(path.read_text(encoding="utf-8").splitlines())
        if lines > MODULE_LINES:
            faults.append(f"{where} has {lines} lines; split it at {MODULE_LINES}")
        if path.stem in FORBIDDEN_NAMES or (path.stem == "base" and where != "service/store/base.py"):
            faults.append(f"{where} has a name that says nothing")
        if path.stem != "__init__":
            folders[path.parent] = folders.get(path.parent, 0) + 1
    for folder, count in folders.items():
        # The package's top folder is the corridor itself; there the number of rooms counts, not of files.
        if count > FILES_IN_A_FOLDER and folder != root / "service":
            where = folder.relative_to(root).as_posix()
            faults.append(f"{where} holds {count} modules; split it at {FILES_IN_A_FOLDER}")
    return faults
