"""The layout of the house: which room knows which, which library may enter, how big things may grow."""

from pathlib import Path

import pytest

from tests.corridor import (
    CORRIDOR,
    environment_faults,
    file_faults,
    function_faults,
    import_faults,
    modules,
)

ROOT = Path(__file__).resolve().parents[1]


def a_house(root: Path, **files: str) -> Path:
    """A small tree with one module a name: `stock__records` is service/stock/records.py."""
    for name, text in {"__init__": "", **files}.items():
        path = root / "service" / (name if name == "__init__" else name.replace("__", "/"))
        path = path.with_suffix(".py")
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return root


def test_rooms_import_only_leftwards_and_libraries_stay_where_they_may() -> None:
    assert import_faults(ROOT) == []


def test_only_config_reads_the_environment() -> None:
    assert environment_faults(ROOT) == []


def test_functions_can_be_read_at_one_go() -> None:
    assert function_faults(ROOT) == []


def test_modules_and_folders_stay_small_and_their_names_say_something() -> None:
    assert file_faults(ROOT) == []


def test_every_module_was_looked_at() -> None:
    """A walk that found nothing would pass everything."""
    seen = {path.relative_to(ROOT).parts[1] for path in modules(ROOT, "service")}
    assert {"errors.py", "electrical", "allocation", "store", "shows", "planning"} <= seen
    assert len(list(modules(ROOT, "service"))) > 40


def test_the_corridor_names_no_room_twice() -> None:
    rooms = [room for place in CORRIDOR for room in place]
    assert len(rooms) == len(set(rooms))


@pytest.mark.parametrize(
    ("room", "text", "said"),
    [
        ("stock__records", "from service.planning import actions\n", "to its right"),
        ("api__routes", "from service.web import pages\n", "beside it"),
        ("stock__records", "def cut():\n    from service.planning import actions\n", "to its right"),
        ("planning__queries", "def feed():\n    from service.stock import records\n", "hides an import"),
        ("limits__checks", "if True:\n    import service.shows.records\n", "to its right"),
        ("limits__checks", "from service import shows\n", "to its right"),
        ("electrical__tape", "import numpy as np\n", "lets numpy into electrical"),
        ("api__routes", "import ortools\n", "lets ortools into api"),
        ("stock__actions", "from fastapi import HTTPException\n", "lets fastapi into stock"),
        ("shows__queries", "import pandas\n", "lets pandas into shows"),
        ("store__work", "import alembic\n", "not meant for"),
        ("app", "def serve():\n    import fastapi\n", "hides an import"),
        ("stock__actions", "from . import records\n", "imports relatively"),
        ("stock__actions", "import service.stage\n", "no room"),
        ("attic", "", "in no room"),
    ],
)
def test_an_import_that_breaks_the_order_is_caught(tmp_path: Path, room: str, text: str, said: str) -> None:
    faults = import_faults(a_house(tmp_path, **{room: text}))
    assert len(faults) == 1
    assert said in faults[0]


@pytest.mark.parametrize(
    ("room", "text"),
    [
        ("planning__actions", "from service.stock import records\nfrom sqlalchemy import select\n"),
        ("stock__actions", "from service.stock import records\nimport decimal\n"),
        ("allocation__master", "def bound():\n    import highspy\n"),
        ("cli__serve", "import click\nimport uvicorn\nfrom service.app import create_app\n"),
        ("__main__", "from service.cli import main\n"),
    ],
)
def test_an_import_to_the_left_is_fine(tmp_path: Path, room: str, text: str) -> None:
    assert import_faults(a_house(tmp_path, **{room: text})) == []


def test_reading_the_environment_elsewhere_is_caught(tmp_path: Path) -> None:
    a_house(tmp_path, app="import os\nSECRET = os.environ['SECRET']\n", config="import os\nos.getenv('A')\n")
    assert environment_faults(tmp_path) == ["service/app.py:2 reads the environment"]


def test_growth_is_caught(tmp_path: Path) -> None:
    long = "def cut():\n    '''One line.'''\n" + "    x = 1\n" * 60
    wide = "def cut(a, b, c, d, e, f, g, h, i):\n    '''Too many.'''\n"
    a_house(
        tmp_path, stock__long=long, stock__wide=wide, stock__utils="", shows__base="", shows__x="\n" * 451
    )
    a_house(tmp_path, **{f"season__part_{n}": "" for n in range(13)})

    assert len(function_faults(tmp_path)) == 2
    assert len(file_faults(tmp_path)) == 4
