"""Each thing stands once and is found by its name; no module is too long to read."""

from __future__ import annotations

import ast
import re
from collections import defaultdict
from pathlib import Path

import defectmap

PACKAGE = Path(defectmap.__file__).parent
MODULES = sorted(path for path in PACKAGE.rglob("*.py") if path.name != "__init__.py")
MOST_LINES = 300
# The figures that were chosen stand beside what uses them, under one name in each package.
IN_EACH_PACKAGE = {"tuning"}
# Named after the command or the page that they draw, which may have the name of its subject.
DOORS = {"commands", "pages"}


def twice(where: dict[str, list[str]]) -> dict[str, list[str]]:
    return {name: places for name, places in where.items() if len(places) > 1}


def test_no_class_name_stands_twice() -> None:
    where: dict[str, list[str]] = defaultdict(list)
    for path in MODULES:
        for node in ast.parse(path.read_text("utf-8")).body:
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                where[node.name].append(str(path.relative_to(PACKAGE)))
    assert twice(where) == {}


def test_no_module_name_stands_twice() -> None:
    where: dict[str, list[str]] = defaultdict(list)
    for path in MODULES:
        part = path.relative_to(PACKAGE).parts[0]
        if path.stem not in IN_EACH_PACKAGE and part not in DOORS and not path.stem[0].isdigit():
            where[path.stem].append(str(path.relative_to(PACKAGE)))
    assert twice(where) == {}


def test_no_command_has_the_name_of_a_helper_of_pages() -> None:
    """A page and a command may share a name (both are doors to it), nothing else of the two may."""
    pages = {path.stem for path in (PACKAGE / "pages").rglob("*.py") if path.name != "__init__.py"}
    commands = {path.stem for path in (PACKAGE / "commands").glob("*.py") if path.name != "__init__.py"}
    assert pages & commands == {"report"}


def test_developers_are_sent_to_files_that_there_are() -> None:
    text = (PACKAGE.parent / "DEVELOPERS.md").read_text("utf-8")
    named = set(re.findall(r"`([a-z_]+/[a-z_/]*\.(?:py|toml|md))`", text))
    assert len(named) > 40
    there = [path for path in named if (PACKAGE / path).exists() or (PACKAGE.parent / path).exists()]
    assert sorted(named - set(there)) == []


def test_no_module_is_too_long_to_read() -> None:
    long = {
        str(path.relative_to(PACKAGE)): lines
        for path in MODULES
        if (lines := len(path.read_text("utf-8").splitlines())) > MOST_LINES
    }
    assert long == {}
