"""Each thing stands once and is found by its name; no module is too long to read."""

from __future__ import annotations

import ast
import re
import tomllib
from collections import defaultdict
from pathlib import Path

import pytest
from typer.main import get_command

import defectmap
from defectmap.commands import care, job, vehicle

PACKAGE = Path(defectmap.__file__).parent
MODULES = sorted(path for path in PACKAGE.rglob("*.py") if path.name != "__init__.py")
MOST_LINES = 300
# The figures that were chosen stand beside what uses them, under one name in each package.
IN_EACH_PACKAGE = {"tuning"}
# Named after the command or the page that they draw, which may have the name of its subject.
DOORS = {"commands", "pages"}
COMMANDS = {
    module.__name__.rsplit(".", 1)[-1]: set(get_command(module.app).commands)  # type: ignore[attr-defined]
    for module in (job, vehicle, care)
}
SENTENCELESS = ("panel", "film", "comparison", "trade")


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


def test_the_core_holds_no_sentences() -> None:
    """Below `pictures/` and in the rules of the trade what is to be said is a code; words are in `words/`.

    Errors are told where they are raised, by design: one class of the family, one sentence.
    """
    errors = error_names()
    found = [
        f"{path.relative_to(PACKAGE)}: {words}"
        for part in SENTENCELESS
        for path in sorted((PACKAGE / part).rglob("*.py"))
        for words in sentences(ast.parse(path.read_text("utf-8")), errors)
    ]
    assert found == []


def test_a_sentence_in_the_core_is_found() -> None:
    code = '''
def f(x: int) -> str:
    """A docstring. It may have sentences."""
    if x > 2:
        raise ValueError("This one is raised. It is told at once.")
    return PhotoError(f"{x} is one of an error. It is told at once.") and f"{x} is said. It is a sentence."
'''
    assert sentences(ast.parse(code), {"PhotoError"}) == [" is said. It is a sentence."]


def error_names() -> set[str]:
    """Every class of the family of errors, and Python's own."""
    bases = {
        node.name: {ast.unparse(base).split(".")[-1] for base in node.bases}
        for path in MODULES
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.ClassDef)
    }
    names = {"DefectmapError", "ValueError", "TypeError", "KeyError", "NotImplementedError"}
    while more := {name for name, of in bases.items() if of & names} - names:
        names |= more
    return names


def sentences(tree: ast.AST, errors: set[str]) -> list[str]:
    """Texts with a full stop and three spaces or more that are no docstring and no error's message."""
    if isinstance(tree, ast.Raise):
        return []
    if isinstance(tree, ast.Call) and ast.unparse(tree.func).split(".")[-1] in errors:
        return []
    if isinstance(tree, ast.Expr) and isinstance(tree.value, ast.Constant):
        return []
    if isinstance(tree, ast.Constant):
        words = tree.value
        told = isinstance(words, str) and words.count(" ") >= 3 and re.search(r"\w[.!?](\s|$)", words)
        return [str(words)] if told else []
    return [words for child in ast.iter_child_nodes(tree) for words in sentences(child, errors)]


def test_no_command_has_the_name_of_a_helper_of_pages() -> None:
    """A page and a command may share a name (both are doors to it), nothing else of the two may."""
    pages = {path.stem for path in (PACKAGE / "pages").rglob("*.py") if path.name != "__init__.py"}
    commands = {path.stem for path in (PACKAGE / "commands").glob("*.py") if path.name != "__init__.py"}
    assert pages & commands == {"report"}


def test_what_docstrings_and_documents_name_is_there() -> None:
    """`module.name` where the module is ours; `defectmap group command` wherever it stands."""
    names: dict[str, set[str]] = defaultdict(set)
    for path in PACKAGE.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            names[path.stem] |= {str(getattr(node, "name", "")), str(getattr(node, "id", ""))}
            names[path.stem] |= {str(getattr(node, "arg", "")), str(getattr(node, "attr", ""))}
    root = PACKAGE.parent
    files = [*PACKAGE.rglob("*.py"), *root.glob("*.md"), *(root / "docs").glob("*.md")]
    wrong = []
    for path in files:
        text = path.read_text("utf-8")
        for module, name in re.findall(r"`(?:[a-z_]+\.)*([a-z_]+)\.([A-Za-z_]+)`", text):
            if module in names and name not in names[module] | set(names) | {
                "py",
                "toml",
                "jpg",
                "png",
                "json",
            }:
                wrong.append(f"{path.name}: {module}.{name}")
        for group, command in re.findall(r"`defectmap (job|vehicle|care) ([a-z-]+)", text):
            if command not in COMMANDS[group]:
                wrong.append(f"{path.name}: defectmap {group} {command}")
    assert wrong == []


@pytest.mark.parametrize(
    ("asked", "leads_to"),
    [
        ("hotspot", "panel/hotspot.py"),
        ("detection limit", "panel/detection_limit.py"),
        ("interval", "comparison/interval.py"),
        ("next step", "trade/next_step.py"),
        ("report words", "words/report_words.py"),
        ("before after", "pages/before_after.py"),
    ],
)
def test_a_newcomers_question_leads_to_one_file_by_its_name(asked: str, leads_to: str) -> None:
    """A page may have the name of its subject: the rule is below it."""
    named = [str(path.relative_to(PACKAGE)) for path in MODULES if path.stem == asked.replace(" ", "_")]
    assert leads_to in named
    assert [name for name in named if name.split("/")[0] not in DOORS] == [leads_to] or len(named) == 1


def test_no_module_is_too_long_to_read() -> None:
    long = {
        str(path.relative_to(PACKAGE)): lines
        for path in MODULES
        if (lines := len(path.read_text("utf-8").splitlines())) > MOST_LINES
    }
    assert long == {}


# What strangers send is decoded behind the one door to photographs, in processes of their own where a decoder
# has fallen over under attack (`panel/photo/apart.py`), and films always.
DECODERS = re.compile(r"Image\.open|imdecode|imread|open_heif|VideoCapture|TiffFile|ImageFile\(")
DECODE = {
    "panel/photo/decoders.py",
    "film/frames_main.py",
    "report/car_sheets.py",  # a picture that `damage_lines` has made
    "report/posting.py",  # pictures of the report, and the mark, which `record/drawings.py` has made
}


def test_what_strangers_send_is_decoded_behind_one_door() -> None:
    found = {str(path.relative_to(PACKAGE)) for path in MODULES if DECODERS.search(path.read_text("utf-8"))}
    assert found == DECODE


def test_docstrings_name_the_parameters_that_there_are_and_end_their_first_sentence() -> None:
    wrong = []
    for path in MODULES:
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if not isinstance(node, ast.FunctionDef | ast.Module | ast.ClassDef):
                continue
            words = ast.get_docstring(node) or "."
            where = f"{path.relative_to(PACKAGE)}: {getattr(node, 'name', 'module')}"
            if not re.search(r"[.?!:`)]$", words.split("\n\n")[0].strip()):
                wrong.append(f"{where} breaks off")
            if isinstance(node, ast.FunctionDef):
                wrong += [f"{where} has no {name}" for name in described(words) - parameters(node.args)]
    assert wrong == []


def described(docstring: str) -> set[str]:
    """Names in the section Parameters of a numpydoc docstring."""
    section = re.search(r"^Parameters\n-+\n(.*?)(?=^\w[\w ]*\n-+\n|\Z)", docstring, re.DOTALL | re.MULTILINE)
    lines = section.group(1).splitlines() if section else []
    heads = [line.split(":")[0] for line in lines if line and not line.startswith(" ")]
    return {name.strip().lstrip("*") for head in heads for name in head.split(",")}


def parameters(of: ast.arguments) -> set[str]:
    several = [one for one in (of.vararg, of.kwarg) if one is not None]
    return {one.arg for one in (*of.posonlyargs, *of.args, *of.kwonlyargs, *several)}


def test_the_lock_file_holds_every_dependency_with_its_hash() -> None:
    root = PACKAGE.parent
    project = tomllib.loads((root / "pyproject.toml").read_text("utf-8"))["project"]
    extras = project["optional-dependencies"]
    wanted = [*project["dependencies"], *extras["postgresql"], *extras["cluster"], *extras["objects"]]
    names = {re.split(r"[^A-Za-z0-9._-]", one)[0].lower() for one in wanted}
    lock = (root / "requirements.lock").read_text("utf-8")
    hashed = r"^([a-z0-9._-]+)(?:\[[a-z]+\])?==\S+.*\\\n    --hash=sha256:[0-9a-f]{64}"
    locked = re.findall(hashed, lock, re.M)
    assert sorted(names - set(locked)) == []
    assert len(locked) == len(re.findall("^[a-z0-9]", lock, re.M))  # nothing without a hash
