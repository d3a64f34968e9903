"""One setting for how the shop writes: kept, checked, and obeyed by the papers."""

from __future__ import annotations

import io
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from typer.testing import CliRunner

from defectmap.commands.program import app
from defectmap.errors import JobError
from defectmap.record.notes import put_setting, setting
from defectmap.record.shop_style import SHOP, change_style, keep_mark, shop_of
from defectmap.record.store import Store, open_store

runner = CliRunner()


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Any]:
    opened = open_store(tmp_path / "record")
    yield opened
    opened.close()


def picture(width: int = 1800, height: int = 600) -> bytes:
    file = io.BytesIO()
    exif = Image.Exif()
    exif[0x010E] = "secret"
    Image.new("RGB", (width, height), (200, 30, 30)).save(file, format="JPEG", exif=exif)
    return file.getvalue()


def test_what_is_not_given_stays(store: Store) -> None:
    put_setting(store, SHOP, {"name": "Invented Bay", "lamp": "L1"})
    change_style(store, {"unit": "mil", "paper": "Letter"})
    change_style(store, {"language": "de"})
    shop = shop_of(store)
    assert (shop.name, shop.style.unit, shop.style.paper, shop.style.language) == (
        "Invented Bay",
        "mil",
        "Letter",
        "de",
    )
    assert setting(store, SHOP)["lamp"] == "L1"


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("language", "xx"),
        ("paper", "A5"),
        ("length", "furlong"),
        ("dates", "backwards"),
        ("time_zone", "Mars/Olympus"),
        ("currency", "euro"),
    ],
)
def test_what_is_not_valid_is_refused_and_changes_nothing(store: Store, name: str, value: str) -> None:
    with pytest.raises(JobError, match="not a"):
        change_style(store, {"paper": "Letter", name: value})
    assert shop_of(store).style.paper == "A4"


def test_the_mark_is_small_and_holds_no_metadata(store: Store) -> None:
    keep_mark(store, picture())
    mark = shop_of(store).mark
    assert mark is not None
    with Image.open(io.BytesIO(mark)) as opened:
        assert opened.format == "PNG"
        assert opened.size == (600, 200)
        assert not opened.getexif()
    assert b"secret" not in mark
    keep_mark(store, None)
    assert shop_of(store).mark is None


def test_what_is_not_a_picture_is_refused(store: Store) -> None:
    with pytest.raises(JobError, match="PNG or JPEG"):
        keep_mark(store, b"<svg/>")


def test_the_command_shows_and_changes(tmp_path: Path) -> None:
    file = tmp_path / "mark.jpg"
    file.write_bytes(picture())
    place = ["job", "--record", str(tmp_path / "record")]
    done = runner.invoke(app, [*place, "style", "--language", "de", "--mark", str(file)])
    assert done.exit_code == 0, done.output
    assert "kept" in done.output
    assert runner.invoke(app, [*place, "style", "--paper", "A3"]).exit_code == 2
    assert "none" in runner.invoke(app, [*place, "style", "--no-mark"]).output
