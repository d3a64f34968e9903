"""What README and docs show and tell people to type is there, and says what the program says."""

from __future__ import annotations

import importlib.util
import re
import shlex
from pathlib import Path

import pytest
from PIL import Image
from typer.testing import CliRunner

from defectmap.commands.program import app

ROOT = Path(__file__).parents[1]
DOCUMENTS = (ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md")), ROOT / "DEVELOPERS.md")
TEXT = {file: file.read_text(encoding="utf-8") for file in DOCUMENTS}
README = TEXT[ROOT / "README.md"]
GUIDE = TEXT[ROOT / "docs" / "guide.md"]
TYPED = sorted(
    {
        line
        for file, text in TEXT.items()
        if file.name != "commands.md"
        for line in re.findall(r"^ +(defectmap .*)$", text, flags=re.MULTILINE)
    }
)
PICTURES = [
    (file, alt, picture)
    for file, text in TEXT.items()
    for alt, picture in re.findall(r"!\[([^\]]*)\]\(([^)]*)\)", text)
]
MOST_BYTES = 250_000  # a clone stays small and the page loads at once
MOST_LINES = 120
runner = CliRunner()


def test_the_readme_is_short_and_starts_with_the_job() -> None:
    assert len(README.splitlines()) <= MOST_LINES
    assert README.splitlines()[2].startswith("A paint-correction detailer owes")


def test_the_commands_page_is_what_the_commands_say_of_themselves() -> None:
    spec = importlib.util.spec_from_file_location("commands_page", ROOT / "docs" / "commands.py")
    assert spec is not None
    module = importlib.util.module_from_spec(spec)
    assert spec.loader is not None
    spec.loader.exec_module(module)
    written = TEXT[ROOT / "docs" / "commands.md"]
    assert written == module.commands_page(), "run `python docs/commands.py` to bring it up to date"
    sections = re.split(r"^##+ ", written, flags=re.MULTILINE)[1:]
    without = [section.splitlines()[0] for section in sections if not section.split("\n\n")[1].strip()]
    assert without == [], "commands without help"
    assert len(sections) > 25


@pytest.mark.parametrize("line", TYPED)
def test_what_is_typed_exists_with_its_options(line: str) -> None:
    words = shlex.split(line, comments=True)[1:]
    place = words[:2] if words[0] in ("job", "vehicle", "care") else words[:1]
    shown = runner.invoke(app, [*place, "--help"], env={"COLUMNS": "200"})
    assert shown.exit_code == 0
    for option in (word for word in words if word.startswith("--")):
        assert re.search(rf"^\s+{option}\b", shown.output, flags=re.MULTILINE)


@pytest.mark.parametrize("text", [README, GUIDE], ids=["readme", "guide"])
def test_the_walk_through_goes_from_the_car_to_the_report(text: str) -> None:
    typed = re.findall(r"^    (defectmap .*)$", text, flags=re.MULTILINE)
    wanted = ["job create", "job measure", "job next", "job compare", "report"]
    at = [
        next(n for n, line in enumerate(typed) if line.startswith(f"defectmap {words}")) for words in wanted
    ]
    assert at == sorted(at)


@pytest.mark.parametrize(("file", "alt", "picture"), PICTURES)
def test_pictures_are_there_small_and_described(file: Path, alt: str, picture: str) -> None:
    path = file.parent / picture
    assert path.stat().st_size <= MOST_BYTES
    with Image.open(path) as opened:
        assert opened.width >= 1000  # so that words in it can be read
        assert not opened.getexif()
    assert len(alt) > 80  # what it shows, not its name


@pytest.mark.parametrize("file", DOCUMENTS, ids=lambda file: file.name)
def test_links_lead_to_files_of_the_project(file: Path) -> None:
    links = [link for link in re.findall(r"\]\(([^)#]+)\)", TEXT[file]) if "://" not in link]
    assert all((file.parent / link).exists() for link in links)


def test_the_readme_leads_to_every_document() -> None:
    for file in (ROOT / "docs").glob("*.md"):
        assert f"(docs/{file.name})" in README


def test_files_that_documents_name_are_there() -> None:
    for file, text in TEXT.items():
        for named in re.findall(r"`((?:defectmap|tests|docs|benchmarks|samples)/[\w./]+)`", text):
            assert (ROOT / named).exists(), (file.name, named)
    named_to_developers = re.findall(r"`((?:\w+/)+[\w.]*)`", TEXT[ROOT / "DEVELOPERS.md"])
    assert len(named_to_developers) > 60
    for named in named_to_developers:
        assert (ROOT / "defectmap" / named).exists() or (ROOT / named).exists(), named


def test_documents_lead_to_every_benchmark() -> None:
    words = "".join(TEXT.values())
    for path in (ROOT / "benchmarks").glob("*.py"):
        if "__main__" in path.read_text("utf-8"):
            assert re.search(rf"benchmarks[/.]{path.stem}\b", words), path.name
