"""Find photographs in folders and sort them into panels and stages, by their names or by asking."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from defectmap.commands.printing import say
from defectmap.errors import JobError
from defectmap.outputs import FILM_SUFFIXES, PICTURE_SUFFIXES
from defectmap.record.sorting import Guess, guess_place
from defectmap.trade.stages import STAGE_NAMES


def find_files(paths: Sequence[Path]) -> list[tuple[Path, tuple[str, ...]]]:
    """Each photograph or film with names that may say something: its own and those of its folders."""
    found: list[tuple[Path, tuple[str, ...]]] = []
    for path in paths:
        if path.is_dir():
            known = PICTURE_SUFFIXES | FILM_SUFFIXES
            inside = sorted(p for p in path.rglob("*") if p.suffix.lower() in known and p.is_file())
            found += [(p, (path.name, *p.relative_to(path).parent.parts, p.stem)) for p in inside]
        elif path.exists():
            found.append((path, (path.stem,)))
        else:
            raise JobError(f"File not found: {path}; check the name and the folder.")
    if not found:
        raise JobError("No picture found; name a folder that holds photographs.")
    return found


def sort_files(
    files: Sequence[tuple[Path, tuple[str, ...]]],
    panels: Mapping[str, Sequence[str]],
    given: Mapping[str, str | None],
    *,
    ask: bool,
) -> list[tuple[Path, Guess]]:
    """Give every photograph its place: as stated, by its names, or by asking.

    Parameters
    ----------
    files : sequence of (Path, names)
        From `find_files`.
    panels : mapping
        Each panel's name to other words for it.
    given : mapping
        Panel, stage and spot that were stated for all, or None.
    ask : bool
        Whether there is a person to ask.

    Raises
    ------
    JobError
        A place stays unclear; every such file is listed.
    """
    result: list[tuple[Path, Guess]] = []
    unclear: list[str] = []
    last: dict[str, str | None] = {"panel": None, "stage": None}
    for file, parts in files:
        read = guess_place(parts, panels)
        panel, stage = given["panel"] or read.panel, given["stage"] or read.stage
        if ask:
            panel = last["panel"] = panel or _ask(file, "panel", list(panels), last["panel"])
            stage = last["stage"] = stage or _ask(file, "stage", list(STAGE_NAMES), last["stage"])
        if panel is None or stage is None:
            missing = " and ".join(w for w, v in (("panel", panel), ("stage", stage)) if v is None)
            unclear.append(f"  {file.name}: no {missing}")
        result.append((file, Guess(panel=panel, stage=stage, spot=given["spot"] or read.spot)))
    if unclear:
        raise JobError(
            "These names do not say enough; rename them, put them into folders named so, or give --panel and "
            "--stage. Nothing was added.\n" + "\n".join(unclear)
        )
    return result


def _ask(file: Path, what: str, choices: Sequence[str], last: str | None) -> str:
    import typer

    say(f"{what.capitalize()} of {file.name}?")
    for number, choice in enumerate(choices, start=1):
        say(f"  {number}  {choice}")
    default = choices.index(last) + 1 if last in choices else None
    while True:
        answer: int = typer.prompt("Number", type=int, default=default)
        if 1 <= answer <= len(choices):
            return choices[answer - 1]
