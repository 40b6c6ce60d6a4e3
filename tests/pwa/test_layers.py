"""Arrows in the browser's half point down only: a page, its rooms, what all pages share."""

from __future__ import annotations

import graphlib
import os
import re
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PWA = ROOT / "pwa"
LAYERS = tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["ebbline"]["pwa-layers"]
SHARED = "shared"
BESIDE = {"icons"}  # folders that hold no modules

NAMES = r"[\w$*{},\s]+?"
STATEMENT = re.compile(rf'^(?:import|export)\s*(?:{NAMES}\bfrom\s*)?"([^"]+)"', re.MULTILINE)
TYPE_ONLY = re.compile(rf'^import\s+type\s*{NAMES}\bfrom\s*"([^"]+)"', re.MULTILINE)
CALL = re.compile(r'\bimport\(\s*"([^"]+)"\s*\)')  # in code a module, in a comment a type
LINK = re.compile(r'<(?:script|link)\b[^>]*?(?:src|href)="(/[^"]+)"')


@dataclass(frozen=True, order=True)
class Arrow:
    """One file that names another; both as paths below ``pwa/``."""

    source: str
    target: str
    when_run: bool  # else for its types alone

    def __str__(self) -> str:
        return f"{self.source} → {self.target}"


def modules(pwa: Path) -> list[Path]:
    return sorted(file for ending in ("*.js", "*.d.ts") for file in pwa.rglob(ending))


def arrows(pwa: Path) -> Iterator[Arrow]:
    """Every import, those of types too, and what pages take in."""
    for file in modules(pwa):
        text = file.read_text()
        types = set(TYPE_ONLY.findall(text))
        stated = set(STATEMENT.findall(text)) - types
        for name in sorted({*types, *stated, *CALL.findall(text)}):
            target = os.path.normpath(file.parent / name)
            if not target.endswith(".js"):
                target += ".d.ts"
            assert Path(target).is_file(), f"{file.relative_to(pwa)} names {name}, not there"
            path = Path(target).relative_to(pwa).as_posix()
            yield Arrow(file.relative_to(pwa).as_posix(), path, name in stated)
    for page in sorted(pwa.glob("*/index.html")):
        for name in LINK.findall(page.read_text()):
            if (pwa / name[1:]).is_file():
                yield Arrow(page.relative_to(pwa).as_posix(), name[1:], True)


def heights(layers: dict[str, list[str]]) -> dict[str, tuple[int, str]]:
    """Each folder's height in its page, and whose it is; a page's own files stand on top."""
    found = {SHARED: (0, SHARED)}
    for page, rooms in layers.items():
        found[page] = len(rooms) + 1, page
        for below, side_by_side in enumerate(reversed(rooms), start=1):
            for room in side_by_side.split("|"):
                found[f"{page}/{room.strip()}"] = below, page
    return found


def upward(pwa: Path, layers: dict[str, list[str]]) -> list[str]:
    """What points up or sideways out of its folder, in words."""
    height = heights(layers)
    wrong = []
    for arrow in arrows(pwa):
        source, target = (str(Path(path).parent) for path in (arrow.source, arrow.target))
        if source == target or target == f"{SHARED}/icons" or "/" not in arrow.target:
            continue
        (from_height, page), (to_height, whose) = height[source], height[target]
        if whose not in (page, SHARED) or to_height >= from_height:
            wrong.append(str(arrow))
    return wrong


def cycle(pwa: Path) -> list[str] | None:
    """Modules that need one another to run, if any do."""
    needs: dict[str, set[str]] = {}
    for arrow in arrows(pwa):
        if arrow.when_run:
            needs.setdefault(arrow.source, set()).add(arrow.target)
    try:
        graphlib.TopologicalSorter(needs).prepare()
    except graphlib.CycleError as error:
        return list(error.args[1])
    return None


def test_every_room_has_its_place() -> None:
    folders = {file.parent.relative_to(PWA).as_posix() for file in modules(PWA)} - {"."}
    assert folders == set(heights(LAYERS)), "name it in pyproject.toml, tool.ebbline.pwa-layers"


def test_no_arrow_points_up() -> None:
    assert upward(PWA, LAYERS) == []


def test_no_module_needs_itself() -> None:
    assert cycle(PWA) is None


@pytest.fixture
def house(tmp_path: Path) -> Path:
    """A page of two rooms whose arrows are in order."""
    for path, text in {
        "page/main.js": 'import { a } from "./high/a.js";\nimport { s } from "../shared/s.js";\n',
        "page/high/a.js": 'import { b } from "../low/b.js";\n/** @type {import("../low/t").T} */\n',
        "page/low/b.js": 'export * from "../../shared/s.js";\n',
        "page/low/t.d.ts": 'import type { b } from "./b.js";\n',
        "other/main.js": "",
        "shared/s.js": "",
    }.items():
        (tmp_path / path).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / path).write_text(text)
    return tmp_path


HOUSE = {"page": ["high | beside", "low"], "other": []}


def test_arrows_in_order_pass(house: Path) -> None:
    assert len(list(arrows(house))) == 6
    assert upward(house, HOUSE) == []
    assert cycle(house) is None


@pytest.mark.parametrize(
    ("path", "text", "target"),
    [
        ("page/low/b.js", 'import { a } from "../high/a.js";', "page/high/a.js"),
        ("page/low/b.js", 'import {\n  a,\n} from "../high/a.js";', "page/high/a.js"),
        ("page/low/b.js", 'export { a } from "../high/a.js";', "page/high/a.js"),
        ("page/low/b.js", 'await import("../high/a.js");', "page/high/a.js"),
        ("page/low/b.js", '/** @type {import("../main.js").M} */', "page/main.js"),
        ("page/low/t.d.ts", 'import type { a } from "../high/a.js";', "page/high/a.js"),
        ("page/beside/c.js", 'import "../high/a.js";', "page/high/a.js"),
        ("shared/s.js", 'import { b } from "../page/low/b.js";', "page/low/b.js"),
        ("other/main.js", 'import { b } from "../page/low/b.js";', "page/low/b.js"),
        ("other/index.html", '<script src="/page/main.js">', "page/main.js"),
    ],
)
def test_an_arrow_out_of_order_is_named(house: Path, path: str, text: str, target: str) -> None:
    (house / path).parent.mkdir(exist_ok=True)
    (house / path).write_text(f"{text}\n")
    assert upward(house, HOUSE) == [f"{path} → {target}"]


def test_a_circle_within_a_room_is_named(house: Path) -> None:
    (house / "page/low/b.js").write_text('import { c } from "./c.js";\n')
    (house / "page/low/c.js").write_text('import { b } from "./b.js";\n')
    assert upward(house, HOUSE) == []
    assert set(cycle(house) or []) == {"page/low/b.js", "page/low/c.js"}


def test_types_may_name_one_another(house: Path) -> None:
    (house / "page/low/b.js").write_text('/** @typedef {import("./t").T} T */\n')
    assert cycle(house) is None
