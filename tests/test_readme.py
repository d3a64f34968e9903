"""What the README shows and tells people to type is there."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest
from PIL import Image
from typer.main import get_command
from typer.testing import CliRunner

from defectmap.commands.job import app as job_app
from defectmap.commands.program import LAZY_COMMANDS, app

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
TYPED = re.findall(r"^    (defectmap .*)$", README, flags=re.MULTILINE)
PICTURES = re.findall(r"!\[([^\]]*)\]\(([^)]*)\)", README)
MOST_BYTES = 250_000  # a clone stays small and the page loads at once
runner = CliRunner()


def test_every_command_is_listed():
    listed = README[README.index("## Commands") :]
    table = "\n".join(line for line in listed.splitlines() if line.startswith("| `"))
    top = [command.name or command.callback.__name__ for command in app.registered_commands]
    for name in {*top, *LAZY_COMMANDS}:
        assert f"`defectmap {name}" in table
    within_job = get_command(job_app).commands
    assert len(within_job) > 10
    for name in within_job:
        assert f"`defectmap job {name}`" in table or re.search(rf"`defectmap job [^|]*`{name}`", table)


@pytest.mark.parametrize("line", TYPED)
def test_what_is_typed_exists_with_its_options(line):
    words = shlex.split(line)[1:]
    place = words[:2] if words[0] == "job" else words[:1]
    shown = runner.invoke(app, [*place, "--help"], env={"COLUMNS": "200"})
    assert shown.exit_code == 0
    for option in (word for word in words if word.startswith("--")):
        assert re.search(rf"^\s+{option}\b", shown.output, flags=re.MULTILINE)


def test_the_walk_through_goes_from_measuring_to_the_report():
    wanted = ["measure", "job create", "job next", "job compare", "report"]
    at = [
        next(n for n, line in enumerate(TYPED) if line.startswith(f"defectmap {words}")) for words in wanted
    ]
    assert at == sorted(at)


@pytest.mark.parametrize(("alt", "file"), PICTURES)
def test_pictures_are_there_small_and_described(alt, file):
    path = ROOT / file
    assert path.stat().st_size <= MOST_BYTES
    with Image.open(path) as picture:
        assert picture.width >= 1000  # so that words in it can be read
        assert not picture.getexif()
    assert len(alt) > 80  # what it shows, not its name


def test_links_lead_to_files_of_the_project():
    links = [link for link in re.findall(r"\]\(([^)#]+)\)", README) if "://" not in link]
    assert len(links) > 5
    assert all((ROOT / link).exists() for link in links)
