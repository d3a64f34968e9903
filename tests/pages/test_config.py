"""The settings of the server: private, and colours that everybody can read."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest

import defectmap
from defectmap.pages.widgets.carplan import Rgb, contrast
from defectmap.pages.widgets.reach import BLUE

OURS = Path(defectmap.__file__).parent / "pages" / ".streamlit" / "config.toml"
AA_TEXT = 4.5  # WCAG 2.2, success criterion 1.4.3, text of ordinary size
AA_OTHER = 3.0  # success criterion 1.4.11, edges of controls
CAPTION_SHARE = 0.6  # Streamlit draws captions in the text colour at 60 % over the background


def _settings() -> dict[str, Any]:
    return tomllib.loads(OURS.read_text(encoding="utf-8"))


def _rgb(code: str) -> Rgb:
    red, green, blue = (int(code[at : at + 2], 16) for at in (1, 3, 5))
    return red, green, blue


def _over(top: Rgb, ground: Rgb, share: float) -> Rgb:
    red, green, blue = (round(a * share + b * (1 - share)) for a, b in zip(top, ground, strict=True))
    return red, green, blue


def test_only_this_computer_and_no_statistics() -> None:
    settings = _settings()
    assert settings["server"]["address"] == "localhost"
    assert settings["server"]["enableXsrfProtection"] is True
    assert settings["server"]["allowedHosts"] == ["localhost", "127.0.0.1"]
    assert settings["browser"]["gatherUsageStats"] is False
    assert settings["client"]["showErrorLinks"] == "false"
    assert 0 < settings["server"]["maxUploadSize"] <= 100


def test_the_file_beside_app_py_is_the_same() -> None:
    clone = Path(defectmap.__file__).resolve().parent.parent
    beside = clone / ".streamlit" / "config.toml"
    if not (clone / "app.py").exists():
        pytest.skip("an installed package has no app.py beside it")
    assert beside.read_bytes() == OURS.read_bytes()


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("ground", ["backgroundColor", "secondaryBackgroundColor"])
def test_words_stand_out_from_the_page(theme: str, ground: str) -> None:
    colours = {name: _rgb(code) for name, code in _settings()["theme"][theme].items()}
    page, ink = colours[ground], colours["textColor"]
    assert contrast(ink, page) >= AA_TEXT
    assert contrast(_over(ink, page, CAPTION_SHARE), page) >= AA_TEXT
    assert contrast(colours["borderColor"], colours["backgroundColor"]) >= AA_OTHER


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_the_colour_of_buttons_carries_white_and_can_be_words_itself(theme: str) -> None:
    colours = {name: _rgb(code) for name, code in _settings()["theme"][theme].items()}
    assert contrast((255, 255, 255), colours["primaryColor"]) >= AA_TEXT
    assert contrast(colours["primaryColor"], colours["backgroundColor"]) >= AA_TEXT
    assert contrast(colours["linkColor"], colours["backgroundColor"]) >= AA_TEXT


def test_the_blue_of_frames_and_pills_is_seen_on_either_page() -> None:
    """WCAG 2.2: 4.5 to 1 for words (1.4.3), of which frames ask for 3 to 1 (1.4.11)."""
    blue = _rgb(BLUE)
    assert contrast((255, 255, 255), blue) >= AA_TEXT
    for theme in ("light", "dark"):
        assert contrast(blue, _rgb(_settings()["theme"][theme]["backgroundColor"])) >= AA_TEXT
