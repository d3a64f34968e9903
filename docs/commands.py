"""Write docs/commands.md from the commands' own help.

    .venv/bin/python docs/commands.py

Run it after changing a command; a test holds the file to what the program says of itself.
"""

from __future__ import annotations

import inspect
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from typer.main import get_command

from defectmap.commands.program import app

FILE = Path(__file__).with_name("commands.md")
HEAD = """# Commands

Every command explains itself with `--help`; this page is written from it by `docs/commands.py`.

**Exit status.** 0 done, 1 `job verify` found something wrong, 2 wrong usage, 3 at least one photograph was
refused (the others are done).

**Scale.** Give it (`--px-per-mm`, or `--field-width-mm` for the width of the whole picture), or lay the
printed card into the picture. With neither, lengths are in pixels, densities are relative, and every output
says `uncalibrated`.

**Several photographs.** `measure` takes any number, or a folder. `--json` then holds an array; `--zone` and
`--overlay` name a folder, or a file such as `marks.png`, which becomes `marks-door.png`, `marks-hood.png`
and so on. `--json -` writes to standard output and puts the table on standard error.

**Result files.** Pixel coordinates are x right, y down, the centre of the first pixel is (0, 0), EXIF
orientation is applied. The zone mask has the photograph's size; non-zero is where marks count. A refused
photograph has `"refused"` with the reason and what to do, and no `"marks"`. Warnings stand as sentences in
`"warnings"` and as codes with their values in `"warning_details"`. Keys may be added in later versions, never
renamed.

**In Python:**

```python
from defectmap import measure

panel = measure("door.jpg", px_per_mm=20)
print(panel.density.all, panel.longest_scratch_mm, panel.score, [warning.code for warning in panel.warnings])
```
"""


def commands_page() -> str:
    """The whole page."""
    root = get_command(app)
    return HEAD + "".join(f"\n{section}" for section in _sections(root, "defectmap"))


def _sections(command: Any, name: str) -> Iterator[str]:
    """A section for each command, one of Typer's own objects, which have no public types."""
    if not hasattr(command, "list_commands"):
        yield f"### {name}\n\n{_help(command)}\n\n{_usage(command, name)}\n{_options(command)}"
        return
    if name != "defectmap":
        yield f"## {name}\n\n{_help(command)}\n"
    context = command.make_context(name, ["--help"], resilient_parsing=True)
    for inner in command.list_commands(context):
        found = command.resolve_command(context, [inner])[1]
        yield from _sections(found, f"{name} {inner}")


def _help(command: Any) -> str:
    return inspect.cleandoc(command.help or "").replace("\f", "").strip()


def _usage(command: Any, name: str) -> str:
    return f"    {' '.join([name, *command.collect_usage_pieces(_context(command, name))])}\n"


def _context(command: Any, name: str) -> Any:
    return command.make_context(name, [], resilient_parsing=True)


def _options(command: Any) -> str:
    rows = []
    for parameter in command.params:
        record = parameter.get_help_record(_context(command, ""))
        if record is not None and "--help" not in parameter.opts:
            names, words = (part.replace("|", "\\|").strip() for part in record)
            rows.append(f"| `{names}` | {' '.join(words.split())} |")
    return "\n".join(["| option | what it does |", "|---|---|", *rows, ""]) if rows else ""


if __name__ == "__main__":
    FILE.write_text(commands_page(), encoding="utf-8")
    print(f"Wrote {FILE}.")
