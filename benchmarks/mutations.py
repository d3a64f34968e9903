"""Break the code on purpose, one small change at a time, and say which changes no test notices.

    .venv/bin/python benchmarks/mutations.py [--each N] [--seed S] [--jobs J] [--pure] [GROUP …]

Groups: rules, stages, budget, interval, codec. Of each group N changes are drawn (all with --each 0): a
comparison turned or moved off its edge, plus for minus, times for divided, and for or, a condition negated, a
number moved by a fifth. Each is tried in a copy of the project on the group's own tests, J at once;
`--pure` leaves out tests that need a record, where its libraries are not installed. For development only; at
most 15 % should survive, and what survives is listed with its line.
"""

from __future__ import annotations

import argparse
import ast
import copy
import os
import random
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from queue import Queue

PROJECT = Path(__file__).resolve().parents[1]
GROUPS: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "rules": (
        (
            "trade/next_step.py",
            "trade/judging.py",
            "trade/stopping.py",
            "trade/worse.py",
            "trade/condition.py",
        ),
        ("tests/trade", "tests/record/test_advise.py"),
    ),
    "stages": (("trade/stages.py",), ("tests/trade/test_stages.py", "tests/record/test_measuring.py")),
    "budget": (("trade/budget.py", "trade/thickness.py", "trade/removal.py"), ("tests/trade",)),
    "interval": (
        ("comparison/interval.py",),
        ("tests/comparison/test_interval.py", "tests/comparison/test_repeatability.py", "tests/trade"),
    ),
    "codec": (
        ("panel/codec.py", "panel/arrays.py", "comparison/contract.py"),
        ("tests/panel/test_codec.py", "tests/comparison/test_contract.py", "tests/record/test_shelf.py"),
    ),
}
LONGEST_S = 120
COMPARED: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.LtE,
    ast.LtE: ast.Lt,
    ast.Gt: ast.GtE,
    ast.GtE: ast.Gt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
}
REPLACED: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One change to one module."""

    module: str
    line: int
    what: str
    source: str


def changes(module: str, text: str) -> Iterator[Change]:
    """Every change to a module, as its source would then be."""
    tree = ast.parse(text)
    for number, node in enumerate(ast.walk(tree)):
        for what in _ways(node):
            broken = copy.deepcopy(tree)
            target = next(one for at, one in enumerate(ast.walk(broken)) if at == number)
            if not _apply(target, what):
                continue
            line = getattr(node, "lineno", 0)
            said = f"{what}: {text.splitlines()[line - 1].strip()}"
            yield Change(module=module, line=line, what=said, source=ast.unparse(broken))


def _ways(node: ast.AST) -> tuple[str, ...]:
    if isinstance(node, ast.Compare) and len(node.ops) == 1:
        edge = isinstance(node.ops[0], ast.Lt | ast.LtE | ast.Gt | ast.GtE)
        return ("edge", "turned") if edge else ("turned",)
    if isinstance(node, ast.BinOp) and type(node.op) in REPLACED:
        return ("operator",)
    if isinstance(node, ast.BoolOp):
        return ("and/or",)
    if isinstance(node, ast.If | ast.IfExp):
        return ("negated",)
    number = isinstance(node, ast.Constant) and isinstance(node.value, int | float)
    if number and not isinstance(node.value, bool):  # type: ignore[attr-defined]
        return ("number",)
    return ()


def _apply(node: ast.AST, what: str) -> bool:
    if isinstance(node, ast.Compare):
        opposite: dict[type[ast.cmpop], type[ast.cmpop]] = {
            ast.Lt: ast.GtE,
            ast.LtE: ast.Gt,
            ast.Gt: ast.LtE,
            ast.GtE: ast.Lt,
        }
        table = COMPARED if what == "edge" else {**COMPARED, **opposite}
        node.ops = [table[type(node.ops[0])]()]
    elif isinstance(node, ast.BinOp):
        node.op = REPLACED[type(node.op)]()
    elif isinstance(node, ast.BoolOp):
        node.op = ast.Or() if isinstance(node.op, ast.And) else ast.And()
    elif isinstance(node, ast.If | ast.IfExp):
        node.test = ast.UnaryOp(op=ast.Not(), operand=node.test)
    elif isinstance(node, ast.Constant):
        value = node.value
        assert isinstance(value, int | float)
        node.value = value + 1 if isinstance(value, int) else value * 1.2 or 0.1
    ast.fix_missing_locations(node)
    return True


def noticed(folder: Path, change: Change, tests: tuple[str, ...]) -> bool:
    """Whether a test fails with that change made in the copy."""
    place = folder / "defectmap" / change.module
    whole = place.read_text(encoding="utf-8")
    place.write_text(change.source, encoding="utf-8")
    try:
        return why_red(folder, tests) is not None
    finally:
        place.write_text(whole, encoding="utf-8")


def why_red(folder: Path, tests: tuple[str, ...]) -> str | None:
    """The end of what the tests say in the copy; None where they pass."""
    pure = () if any(test.startswith("tests/record") for test in tests) else ("--noconftest",)
    command = [sys.executable, "-m", "pytest", "-x", "-q", "-p", "no:cacheprovider", *pure, *tests]
    environment = {**os.environ, "PYTHONPATH": str(folder), "PYTHONDONTWRITEBYTECODE": "1", "CI": "1"}
    try:
        done = subprocess.run(
            command, cwd=folder, env=environment, capture_output=True, text=True, timeout=LONGEST_S
        )
    except subprocess.TimeoutExpired:
        return f"not done within {LONGEST_S} s"
    return (done.stdout + done.stderr)[-2000:] if done.returncode else None


def copy_of_project(folder: Path) -> Path:
    """What the tests need, in a folder of its own."""
    for part in ("defectmap", "tests", "samples", "docs"):
        shutil.copytree(PROJECT / part, folder / part, ignore=shutil.ignore_patterns("__pycache__"))
    for file in ("pyproject.toml", "DEVELOPERS.md"):
        shutil.copy(PROJECT / file, folder)
    return folder


def survivors(folders: list[Path], tried: list[Change], tests: tuple[str, ...]) -> list[Change]:
    """Those that no test notices, in the order given; one at a time in each copy."""
    free = Queue[Path]()
    for folder in folders:
        free.put(folder)

    def survives(change: Change) -> bool:
        folder = free.get()
        try:
            return not noticed(folder, change, tests)
        finally:
            free.put(folder)

    with ThreadPoolExecutor(len(folders)) as pool:
        return [change for change, left in zip(tried, pool.map(survives, tried), strict=True) if left]


def main() -> None:
    """Try them and print what survives."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("groups", nargs="*", default=list(GROUPS))
    parser.add_argument("--each", type=int, default=30, help="changes of each group; 0 for all")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--pure", action="store_true", help="without the tests that need a record")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folders = [copy_of_project(Path(name) / str(number)) for number in range(options.jobs)]
        for group in options.groups:
            modules, tests = GROUPS[group]
            if options.pure:
                tests = tuple(test for test in tests if not test.startswith("tests/record"))
            red = why_red(folders[0], tests)
            if red is not None:
                print(f"{group}: its tests fail before anything is changed; mend that first.\n{red}")
                continue
            found = [
                change
                for module in modules
                for change in changes(module, (PROJECT / "defectmap" / module).read_text(encoding="utf-8"))
            ]
            random.Random(options.seed).shuffle(found)
            tried = found[: options.each or None]
            left = survivors(folders, tried, tests)
            print(f"{group}: {len(left)} of {len(tried)} survive ({len(found)} possible)", flush=True)
            for change in left:
                print(f"  {change.module}:{change.line} {change.what}", flush=True)


if __name__ == "__main__":
    main()
