"""A number that was chosen stands in the room's `tuning.py`: with unit, what it does, source and weight."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

import defectmap

PACKAGE = Path(defectmap.__file__).parent
ROOMS = ("panel", "film", "comparison", "trade")
# They speak a format: of a file, of the printed card, of a table that a shop writes.
FORMATS = {
    "panel/card.py",
    "panel/codec.py",
    "film/container.py",
    "film/reading.py",
    "film/frames_apart.py",
    "film/frames_main.py",
    "trade/table_forms.py",
}
# Counting, halves and neighbours; angles, percent and units; the calendar.
PLAIN = {0, 1, 2, 3, 4, 0.5, 10, 100, 1000, 1e6, 90, 180, 360, 255, 256, 12, 24, 60}
GUARD = 1e-5  # smaller numbers keep a division or a logarithm from nothing
QUARTILES = {0.25, 0.75}  # in a call of a quantile
# Mathematics, conversions, limits of a library: named where they are used, nothing was chosen.
NAMED = {
    "panel/contrast.py": {"GAUSSIAN_WIDTH"},
    "panel/focus.py": {"SCHARR_GAIN"},
    "panel/measurement.py": {"bits"},
    "panel/noise.py": {"MEDIAN_OF_NORMAL"},
    "panel/pattern.py": {"JPEG_BLOCK_PX"},
    "panel/ridges.py": {"DIRECTIONS", "MOST_ROWS"},
    "panel/sharpening.py": {"MEDIAN_ERROR", "_CURVE"},
    "comparison/matching.py": {"QUARTILES_OF_NORMAL"},
    "comparison/view.py": {"WHITE_KEPT", "WHITE_LOST"},
    "film/bundling.py": {"_PINNED"},
    "film/homography.py": {"FREEDOMS"},
    "trade/thickness.py": {"MAD_TO_SD"},
}


def chosen(tree: ast.AST, named: set[str]) -> Iterator[tuple[int, float]]:
    """Line and value of each number that is neither plain, nor an index, nor named mathematics."""
    for child in ast.iter_child_nodes(tree):
        if isinstance(child, ast.Assign | ast.AnnAssign) and names(child) and names(child) <= named:
            continue
        if isinstance(child, ast.Constant) and isinstance(child.value, int | float):
            value = abs(child.value)
            if value not in PLAIN and not value <= GUARD:
                yield child.lineno, child.value
        elif isinstance(child, ast.Slice) or (isinstance(tree, ast.Subscript) and child is tree.slice):
            yield from (found for found in chosen(child, named) if not float(found[1]).is_integer())
        elif isinstance(child, ast.Call) and "quantile" in ast.unparse(child.func):
            yield from (found for found in chosen(child, named) if found[1] not in QUARTILES)
        elif not (isinstance(child, ast.keyword) and child.arg == "maxsize"):
            yield from chosen(child, named)


def names(of: ast.Assign | ast.AnnAssign) -> set[str]:
    targets = of.targets if isinstance(of, ast.Assign) else [of.target]
    return {node.id for target in targets for node in ast.walk(target) if isinstance(node, ast.Name)}


@pytest.mark.parametrize("room", ROOMS)
def test_no_chosen_number_stands_inside_the_code(room: str) -> None:
    found = [
        f"{where}:{line}: {value}"
        for path in sorted((PACKAGE / room).rglob("*.py"))
        if (where := path.relative_to(PACKAGE).as_posix()) not in FORMATS
        and path.name != "tuning.py"
        and "photo/" not in where
        for line, value in chosen(ast.parse(path.read_text("utf-8")), NAMED.get(where, set()))
    ]
    assert found == []


def test_what_is_named_is_there() -> None:
    for where, listed in NAMED.items():
        tree = ast.parse((PACKAGE / where).read_text("utf-8"))
        nodes = [node for node in ast.walk(tree) if isinstance(node, ast.Assign | ast.AnnAssign)]
        assert listed <= {name for node in nodes for name in names(node)}
    assert all((PACKAGE / where).is_file() for where in FORMATS)


def test_a_number_in_the_code_is_found() -> None:
    code = """
PI_ISH = 3.14
WINDOW = 7
@lru_cache(maxsize=8)
def f(x, wide=1.7):
    y = x[5:9] + np.quantile(x, 0.25) + np.quantile(x, 0.9)
    return max(y, 1e-9) * 100 if len(y) > 20 else x[1.5]
"""
    assert [value for _, value in chosen(ast.parse(code), {"PI_ISH"})] == [7, 1.7, 0.9, 20, 1.5]
