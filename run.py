#!/usr/bin/env python3
"""Set up everything in `.venv` beside this file, then run the demo, the tests or every check.

    python3 run.py demo [options of `defectmap demo`]
    python3 run.py test [options of pytest]
    python3 run.py check                 what CI runs: CHECKS, below
    python3 run.py setup [test|check|dev]

Needs Python 3.11 or later and pip; nothing else has to be installed before.
"""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
import venv
from pathlib import Path

HERE = Path(__file__).resolve().parent
ENVIRONMENT = HERE / ".venv"
CHECKS = (
    ("ruff", "check", "."),
    ("ruff", "format", "--check", "."),
    ("mypy",),
    ("lint-imports",),
    ("pytest", "-q", "-n", "auto"),
)
PYTHON = ENVIRONMENT / ("Scripts/python.exe" if os.name == "nt" else "bin/python")


def main(arguments: list[str]) -> int:
    """Do one task and return its exit status."""
    if sys.version_info < (3, 11):  # noqa: UP036 (this file is what people run to find out)
        print(f"Python 3.11 or later is needed; this is {sys.version.split()[0]}.", file=sys.stderr)
        return 2
    task, rest = (arguments[0] if arguments else ""), arguments[1:]
    if task == "demo":
        set_up("")
        return call("-m", "defectmap", "demo", *rest)
    if task == "test":
        set_up("test")
        return call("-m", "pytest", *rest)
    if task == "check":
        set_up("check")
        failed = [" ".join(check) for check in CHECKS if run_tool(*check)]
        print("\n".join(f"FAILED: {check}" for check in failed) or "Every check passed.", flush=True)
        return int(bool(failed))
    if task == "setup":
        set_up(rest[0] if rest else "")
        return 0
    print(__doc__, file=sys.stderr)
    return 2


def set_up(extra: str) -> None:
    """Make the environment and install the project with an extra, once for each state of the project file."""
    wanted = hashlib.sha256((HERE / "pyproject.toml").read_bytes() + sys.version.encode()).hexdigest()
    stamp = ENVIRONMENT / f"installed-{extra or 'plain'}.txt"
    if stamp.is_file() and stamp.read_text() == wanted:
        return
    print(f"Setting up {ENVIRONMENT} (once, a few minutes) ...", file=sys.stderr, flush=True)
    pip = make_environment()
    target = f"{HERE}[{extra}]" if extra else str(HERE)
    install = [*pip, "install", "--quiet", "--disable-pip-version-check", "--editable", target]
    if subprocess.run(install, cwd=HERE).returncode:
        sys.exit("Installing failed; the lines above say why. Only the first run needs a network connection.")
    stamp.write_text(wanted)


def make_environment() -> list[str]:
    """Make the virtual environment; return the command that runs pip in it."""
    try:
        if not PYTHON.is_file():
            venv.create(ENVIRONMENT, with_pip=True)
        if subprocess.run([PYTHON, "-m", "pip", "--version"], capture_output=True).returncode == 0:
            return [str(PYTHON), "-m", "pip"]
    except subprocess.CalledProcessError:
        pass  # Some systems package the bundled pip apart; the pip that is there can install from outside.
    venv.create(ENVIRONMENT, with_pip=False)
    return [sys.executable, "-m", "pip", "--python", str(PYTHON)]


def call(*arguments: str) -> int:
    """Run the environment's Python in the project folder."""
    return subprocess.run([PYTHON, *arguments], cwd=HERE).returncode


def run_tool(name: str, *arguments: str) -> int:
    """Run a program of the environment in the project folder."""
    return subprocess.run([PYTHON.parent / name, *arguments], cwd=HERE).returncode


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
