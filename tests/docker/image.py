"""The image without an engine: what docker/Dockerfile says, carried out step by step in a folder.

A stage's root is a folder, and every path of the image is read as one below it. All stages are built at the
same place, one after the other, as each of them is `/` to an engine. What cannot be done so is refused.
"""

import json
import os
import re
import shlex
import shutil
import stat
import string
import subprocess
import sys
from dataclasses import dataclass, field
from io import BytesIO
from pathlib import Path
from typing import Any

from docker.utils.build import exclude_paths
from dockerfile_parse import DockerfileParser

# Folders of an image that are below its root here; the others are this machine's, which nothing may touch.
OWN = ("opt", "src", "tmp", "usr/local", "var/lib")
# What a step may run besides the programs below them.
PROGRAMS = {"python", "mkdir", "chown", "find", "rm"}
# Debian's packages belong to this machine, which nothing may touch: they must be there already.
PACKAGES = re.compile(
    r"apt-get update && apt-get install -y --no-install-recommends\s+((?:[a-z][a-z0-9.+-]*\s+)+)"
    r"&& rm -rf /var/lib/apt/lists/\*"
)
# What a builder lends to the steps: how to reach the package index, and the cache that one of them mounts.
LENT = re.compile(r"HOME|PIP_.*|(?i:https?|no)_proxy|SSL_CERT_\w+|REQUESTS_CA_BUNDLE")


@dataclass(frozen=True, slots=True)
class Step:
    """One instruction: `words` are its arguments, for RUN its one command; `is_exec`: without a shell."""

    name: str
    flags: dict[str, str]
    words: tuple[str, ...]
    is_exec: bool
    text: str


def read_steps(text: str) -> list[Step]:
    lines = DockerfileParser(fileobj=BytesIO(text.encode())).structure
    return [_step(line["instruction"], line["value"]) for line in lines if line["instruction"] != "COMMENT"]


def _step(name: str, value: str) -> Step:
    given = re.match(r"(?:--[a-z-]+=\S+\s+)*", value)
    assert given is not None
    flags = dict(flag.removeprefix("--").split("=", 1) for flag in given[0].split())
    rest = value[given.end() :]
    if name == "HEALTHCHECK":
        rest = rest.removeprefix("CMD").lstrip()
    if is_exec := rest.startswith("["):
        words = tuple(json.loads(rest))
    else:
        words = (rest,) if name in ("RUN", "CMD", "HEALTHCHECK") else tuple(shlex.split(rest))
    return Step(name, flags, words, is_exec, f"{name} {value}")


@dataclass(slots=True)
class Stage:
    """What an image knows of itself besides its files; paths in it are the image's own."""

    name: str
    base: str
    environment: dict[str, str] = field(default_factory=dict)
    labels: dict[str, str] = field(default_factory=dict)
    user: str = "0:0"
    folder: str = "/"
    volumes: list[str] = field(default_factory=list)
    stop_signal: str = ""
    health: list[str] = field(default_factory=list)
    command: list[str] = field(default_factory=list)

    @property
    def account(self) -> dict[str, Any]:
        """For subprocess: whom to run as. An account that is not root's can only be itself."""
        if os.geteuid() != 0:
            return {"umask": 0o022}
        user, group = (int(part) for part in self.user.split(":"))
        return {"user": user, "group": group, "extra_groups": [], "umask": 0o022}


class Place:
    """Where the paths of an image are on this machine."""

    def __init__(self, root: Path, mounts: dict[str, Path] | None = None) -> None:
        self.root = root
        self._mounts = {inner: str(outer) for inner, outer in (mounts or {}).items()}
        inner = sorted([*self._mounts, *(f"/{top}" for top in OWN)], key=len, reverse=True)
        self._ours = re.compile(rf"(?<![\w./-])({'|'.join(map(re.escape, inner))})(?![\w.-])")

    def text(self, text: str) -> str:
        """The text of a command or a variable with every path of the image put where it is.

        >>> Place(Path("/scratch")).text("PATH=/opt/house/bin:/usr/bin")
        'PATH=/scratch/opt/house/bin:/usr/bin'
        """
        return self._ours.sub(lambda match: self._mounts.get(match[1], f"{self.root}{match[1]}"), text)

    def path(self, inner: str, folder: str = "/") -> Path:
        whole = os.path.normpath(Path(folder, inner))
        placed = self.text(whole)
        if placed == whole:
            raise ValueError(f"{inner} belongs to the base image")
        return Path(placed)


class Builder:
    """Carries the steps out below `scratch`, for whom `account` of the last stage must be able to read it."""

    def __init__(self, context: Path, scratch: Path) -> None:
        self.context, self.scratch = context, scratch
        ignore = (context / ".dockerignore").read_text(encoding="utf-8").splitlines()
        patterns = [line for line in ignore if line and not line.startswith("#")]
        self.sent: set[str] = set(exclude_paths(str(context), patterns))
        self.place = Place(scratch / "root")
        self.stages: list[Stage] = []

    @property
    def stage(self) -> Stage:
        return self.stages[-1]

    def build(self, steps: list[Step]) -> Stage:
        for step in steps:
            carry_out = getattr(self, f"_{step.name.lower()}", None)
            if carry_out is None:
                raise NotImplementedError(f"{step.text} cannot be carried out without an engine")
            carry_out(step)
        return self.stage

    def _from(self, step: Step) -> None:
        root = self.place.root
        if self.stages:
            root.rename(self.scratch / self.stage.name)
        name = step.words[2] if len(step.words) > 1 else "last"
        self.stages.append(Stage(name, step.words[0]))
        for top in OWN:
            (root / top).mkdir(parents=True)
        (root / "tmp").chmod(0o1777)
        _lay_python(root / "usr" / "local")
        self.stage.environment |= {
            "PATH": "/usr/local/bin:/usr/bin:/bin",
            "LD_LIBRARY_PATH": "/usr/local/lib",
        }

    def _env(self, step: Step) -> None:
        self.stage.environment |= {name: self._filled(text) for name, text in _pairs(step)}

    def _label(self, step: Step) -> None:
        self.stage.labels |= {name: self._filled(text) for name, text in _pairs(step)}

    def _filled(self, text: str) -> str:
        return string.Template(text).substitute(self.stage.environment)

    def _user(self, step: Step) -> None:
        self.stage.user = step.words[0]

    def _workdir(self, step: Step) -> None:
        self.stage.folder = os.path.normpath(Path(self.stage.folder, step.words[0]))
        self.place.path(self.stage.folder).mkdir(parents=True, exist_ok=True)

    def _volume(self, step: Step) -> None:
        self.stage.volumes += step.words

    def _stopsignal(self, step: Step) -> None:
        self.stage.stop_signal = step.words[0]

    def _healthcheck(self, step: Step) -> None:
        assert step.is_exec, "a health check names its program and arguments"
        self.stage.health = list(step.words)

    def _cmd(self, step: Step) -> None:
        assert step.is_exec, "a command that a shell stands in front of never hears a signal"
        self.stage.command = list(step.words)

    def _run(self, step: Step) -> None:
        # The one thing mounted is pip's cache, and pip finds its own here.
        known = step.flags in ({}, {"mount": "type=cache,target=/root/.cache/pip"})
        if step.is_exec or self.stage.user != "0:0" or not known:
            raise NotImplementedError(step.text)
        if wanted := PACKAGES.fullmatch(step.words[0]):
            _are_installed(wanted[1].split())
            return
        command = self.place.text(step.words[0])
        self._refuse_foreign(command)
        lent = {name: text for name, text in os.environ.items() if LENT.fullmatch(name)}
        ran = subprocess.run(
            ["/bin/sh", "-c", _without_giving_away(command)],
            cwd=self.place.path(self.stage.folder) if self.stage.folder != "/" else self.place.root,
            env=lent | {name: self.place.text(text) for name, text in self.stage.environment.items()},
            umask=0o022, stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False,
        )  # fmt: skip
        if ran.returncode:
            raise RuntimeError(f"{step.text}\nended with {ran.returncode}\n{ran.stdout}{ran.stderr}")

    def _refuse_foreign(self, command: str) -> None:
        """These steps run on this machine, perhaps as root: nothing may reach out of the folder."""
        bare = re.sub(r"'[^']*'", "''", command)
        parts = [shlex.split(part) for part in command.split("&&")]
        strange = [words[0] for words in parts if words[0] not in PROGRAMS and not words[0].startswith("/")]
        paths = [word for words in parts for word in words if word.startswith("/")]
        strange += [path for path in paths if not Path(path).is_relative_to(self.place.root)]
        if strange or re.search(r"[`$;|<>()\"]|\.\.|=/|(?<!&)&(?!&)", bare):
            raise NotImplementedError(f"{command!r} would reach out of the image {strange}")

    def _copy(self, step: Step) -> None:
        if step.flags.keys() - {"from"}:
            raise NotImplementedError(step.text)
        *sources, target = step.words
        into = self.place.path(target, self.stage.folder)
        many = len(sources) > 1 or target.endswith("/")
        for source in sources:
            origin = (
                self.scratch / step.flags["from"] / source.lstrip("/")
                if "from" in step.flags
                else self.context / source
            )
            to = into / origin.name if many and origin.is_file() else into
            if "from" in step.flags:
                # A finished stage never changes again: one file under two names is as good as two.
                shutil.copytree(origin, to, symlinks=True, copy_function=os.link, dirs_exist_ok=True)
            elif origin.is_dir():
                shutil.copytree(origin, to, symlinks=True, ignore=self._kept_back, dirs_exist_ok=True)
            else:
                assert source in self.sent, f"{source} is kept from the builder by .dockerignore"
                to.parent.mkdir(parents=True, exist_ok=True)
                shutil.copy2(origin, to)

    def _kept_back(self, folder: str, names: list[str]) -> set[str]:
        inside = Path(folder).relative_to(self.context)
        return {name for name in names if str(inside / name) not in self.sent}


def _pairs(step: Step) -> list[tuple[str, str]]:
    return [(name, text) for name, _, text in (word.partition("=") for word in step.words)]


def _are_installed(packages: list[str]) -> None:
    for package in packages:
        asked = ["dpkg-query", "--show", "--showformat=${db:Status-Status}", package]
        said = subprocess.run(asked, capture_output=True, text=True, check=False).stdout
        if said != "installed":
            raise RuntimeError(f"{package} is not installed: apt-get install {package}")


def _without_giving_away(command: str) -> str:
    # Only root may give files away; what an account that is not root's makes is already its own.
    return command if os.geteuid() == 0 else f"chown() {{ :; }}; {command}"


def _lay_python(prefix: Path) -> None:
    """Stand in for the base image: this machine's Python, where any account can run it."""
    version = f"python{sys.version_info.major}.{sys.version_info.minor}"
    (prefix / "bin").mkdir(parents=True)
    for name in ("python", "python3"):
        (prefix / "bin" / name).symlink_to(version)
    base = Path(sys.base_prefix)
    own = Path(os.path.realpath(base / "bin" / version))
    if base == Path("/usr"):
        (prefix / "bin" / version).symlink_to(own)
        return
    # It may sit below a closed home.
    shutil.copy2(own, prefix / "bin" / version)
    left_out = shutil.ignore_patterns("site-packages", "test", "tests", "config-*", "idlelib")
    shutil.copytree(base / "lib" / version, prefix / "lib" / version, symlinks=True, ignore=left_out)
    for path in (base / "lib").glob("libpython*.so*"):
        shutil.copy2(path, prefix / "lib" / path.name, follow_symlinks=False)


def files_below(root: Path) -> dict[Path, tuple[int, ...]]:
    """Every file and folder with what would tell that it was written to."""
    seen: dict[Path, tuple[int, ...]] = {}
    for path in root.rglob("*"):
        facts = path.lstat()
        size = 0 if stat.S_ISDIR(facts.st_mode) else facts.st_size
        seen[path] = (facts.st_mode, facts.st_uid, facts.st_ino, facts.st_mtime_ns, size)
    return seen
