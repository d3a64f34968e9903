"""Pictures and words of a filmed spot in a report: before and after alike, told from photographs, private."""

from __future__ import annotations

import io
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from defectmap.film.assembling import FilmMeasurement
from defectmap.pictures.film import directions_picture
from defectmap.report.content import PicturePair
from defectmap.report.film_pictures import film_pairs
from defectmap.report.handover import PAGE, handover_files
from defectmap.report.overall import of_two_kinds, together
from defectmap.report.privacy import BlurBox, PrivacyChoice
from defectmap.report.sections import filmed_words
from defectmap.words.style import Style
from defectmap.words.writer import Writer
from tests.film.fields import straight_lines
from tests.film.measured import measured
from tests.report import made

LINES = straight_lines(3, 90)


def lit(lines: np.ndarray, *, phase: float, name: str) -> FilmMeasurement:
    film = measured(lines, phase=phase, name=name)
    return replace(film, fused=np.full_like(film.fused, 120))


@pytest.fixture(scope="module")
def films() -> tuple[FilmMeasurement, FilmMeasurement]:
    return lit(LINES, phase=0.0, name="before"), lit(LINES[:60], phase=2.0, name="after")


def opened(pair: PicturePair, side: str) -> np.ndarray:
    with Image.open(io.BytesIO(getattr(pair, side).jpeg)) as picture:
        assert not picture.getexif()
        return np.asarray(picture.convert("RGB")).astype(int)


def test_a_filmed_spot_has_its_light_its_marks_and_its_directions(
    films: tuple[FilmMeasurement, FilmMeasurement],
) -> None:
    light, marks, directions = film_pairs("bonnet", *films, choice=PrivacyChoice())
    assert len({pair.panel for pair in (light, marks, directions)}) == 3  # each is shown to the customer
    for pair in (light, marks, directions):
        assert opened(pair, "before").shape == opened(pair, "after").shape == (540, 960, 3)
        assert "filmed while the lamp moved" in pair.caption
    colourful = [np.ptp(opened(pair, "before"), axis=2).mean() for pair in (light, marks, directions)]
    assert colourful[0] < 1 < colourful[1]  # grey light; coloured lines
    shares = [f"{100 * film.panel.film.directions_share:.0f} %" for film in films if film.panel.film]
    assert all(share in directions.caption for share in shares)


def test_blind_directions_stand_out(films: tuple[FilmMeasurement, FilmMeasurement]) -> None:
    film = films[0]
    half = replace(film.rose, lamp_places=film.rose.lamp_places.copy())
    half.lamp_places[:, : half.lamp_places.shape[1] // 2] = 0
    picture = directions_picture(replace(film, rose=half)).astype(int)
    blue = (picture[..., 2] - picture[..., 0]) > 80
    middle = picture.shape[1] // 2
    assert blue[:, : middle - 60].mean() > 10 * max(blue[:, middle + 60 :].mean(), 1e-4)


def test_what_is_private_is_unreadable_in_the_fused_light_too(
    films: tuple[FilmMeasurement, FilmMeasurement],
) -> None:
    striped = np.tile(np.array([0, 200], np.uint8).repeat(4), films[0].fused.shape[1] // 8)
    film = replace(films[0], fused=np.broadcast_to(striped, films[0].fused.shape).copy())
    box = BlurBox(left=0.5, top=0.5, right=0.9, bottom=0.9)
    choice = PrivacyChoice(blurred={film.panel.photo.sha256: (box,)})
    light, *_ = film_pairs("bonnet", film, films[1], choice=choice)
    seen = opened(light, "before")[..., 0]
    inside, outside = seen[320:430, 560:760], seen[100:200, 100:300]
    assert inside.std() < 0.3 * outside.std()


def test_panels_of_films_and_of_photographs_make_no_mean() -> None:
    panels = list(made.five_panels().panels)
    assert together(panels)
    panels[0] = replace(panels[0], filmed=filmed_words(88.0))
    assert of_two_kinds(panels)
    assert together(panels) == ()
    every = [replace(panel, filmed=filmed_words(88.0)) for panel in panels]
    assert together(every)


def test_the_customers_folder_holds_marks_and_directions_of_films(
    films: tuple[FilmMeasurement, FilmMeasurement],
) -> None:
    report = made.five_panels()
    pairs = tuple(film_pairs("bonnet", *films, choice=PrivacyChoice()))
    filmed = replace(report.panels[0], filmed=filmed_words(88.0), pairs=pairs)
    files = handover_files(replace(report, panels=(filmed, *report.panels[1:])))
    page = files[PAGE].decode()
    for also in (2, 3):
        for side in ("before", "after"):
            assert f"1-{also}-{side}.jpg" in files
            assert f"1-{also}-{side}.jpg" in page
    assert "Filmed while the lamp moved" in page


def test_german_says_it_too() -> None:
    assert "Gefilmt bei bewegter Lampe" in filmed_words(88.0, writer=Writer(Style(language="de")))
