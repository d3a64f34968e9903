"""Intake, quote, invoice and hand-over: what they say, in the shop's language, units and money."""

from __future__ import annotations

import io
import re
from datetime import date
from pathlib import Path

import pypdfium2
import pytest
from PIL import Image

from defectmap.panel.photo import pixels
from defectmap.panel.photo.apart import Ended
from defectmap.record.care_dates import plan_care
from defectmap.record.damages import add_damage
from defectmap.record.entries import StepSpec, add_step, spec_of
from defectmap.record.intake import Place, add_photograph
from defectmap.record.jobs import create_job
from defectmap.record.measuring import PhotoRequest, measure_job
from defectmap.record.notes import put_setting
from defectmap.record.panels import PanelSpec
from defectmap.record.results import tables_of
from defectmap.record.shop_style import SHOP, shop_style
from defectmap.record.shop_tables import keep_product
from defectmap.record.signatures import sign
from defectmap.record.store import Store
from defectmap.record.thickness_entries import add_readings
from defectmap.record.vehicles import add_vehicle, put_keeper
from defectmap.report.car_papers import car_paper
from defectmap.report.car_sheets import paper_pdf
from defectmap.report.damage_lines import damage_lines
from defectmap.trade.facts import Target
from defectmap.trade.tables import load_tables
from tests.record import fakes

DATA = Path(__file__).parent.parent / "data"
DAY = date(2026, 5, 12)
RUNG = load_tables().rung("medium")


@pytest.fixture
def shop(store: Store, tmp_path: Path) -> Store:
    """A car half-way: the bonnet corrected, the roof only looked at, the bumper untouched."""
    put_setting(store, SHOP, {"name": "An invented shop", "rate_hour": 60.0, "rate_tax_percent": 19.0})
    add_vehicle(store, "car of May", make="hatchback", colour="blue", paint="clear coat")
    put_keeper(store, "car of May", name="A. Person", plate="XX 1")
    names = ("bonnet", "roof", "front bumper")
    panels = [PanelSpec(name=name, area_m2=1.0, material="unknown") for name in names]
    create_job(store, "V1", panels=panels, of="car of May", target=Target(density_mm_per_cm2=3.0))
    Image.new("RGB", (400, 300), "grey").save(tmp_path / "chip.jpg")
    add_damage(store, "V1", "bonnet", "chip", photograph=tmp_path / "chip.jpg", at_plan=(0.5, 0.2))
    for panel in ("bonnet", "roof"):
        add_readings(store, "V1", panel, "middle", (118, 119, 120))
        _shoot(store, tmp_path, panel, "decontaminated", 15.0)
    add_step(store, "V1", "bonnet", StepSpec(kind="wash", minutes=30.0))
    add_step(store, "V1", "bonnet", spec_of("correct", RUNG, minutes=40.0))
    add_step(store, "V1", "bonnet", StepSpec(kind="wipe"))
    _shoot(store, tmp_path, "bonnet", "wiped", 4.0)
    sign(store, "V1", "intake", words="damage seen", signed_by="A. Person")
    return store


def _shoot(store: Store, folder: Path, panel: str, stage: str, density: float) -> None:
    for spot in range(3):
        photo = fakes.photo(folder, len(list(folder.glob("shot*"))))
        add_photograph(store, "V1", photo, Place(panel=panel, stage=stage, spot=str(spot), px_per_mm=20.0))

    def measure(request: PhotoRequest) -> dict[str, object]:
        figures = {"swirl": density, "scratch": 0.0, "all": density}
        return {**fakes.measure(request), "density_mm_per_cm2": figures}

    measure_job(store, "V1", measure=measure)


def words_of(store: Store, kind: str, **given: object) -> str:
    paper = car_paper(store, "V1", kind, day=DAY, **given)  # type: ignore[arg-type]
    pdf = paper_pdf(paper, shop_style(store), made_on=DAY.isoformat())
    with pypdfium2.PdfDocument(io.BytesIO(pdf)) as document:
        said = " ".join(page.get_textpage().get_text_range() for page in document)
    return " ".join(said.split())


def test_intake_says_what_is_there_and_who_signed(shop: Store) -> None:
    said = words_of(shop, "intake")
    for words in ("Intake V1", "car of May", "A. Person, XX 1", "At most 3 mm/cm²", "1 bonnet: chip"):
        assert words in said
    assert "118 µm" in said
    assert re.search(r"A\. Person, \d{4}-\d\d-\d\d, on paper", said)
    assert "yes ☐ no ☐" in said  # nobody asked about pictures yet


def test_a_quote_names_what_is_not_in_its_amount(shop: Store) -> None:
    said = words_of(shop, "quote", number="Q 1")
    assert "Number Q 1" in said
    assert "Test spot 0.33 h €20.00" in said
    assert "A test spot shows whether it is enough" in said
    assert "Correction is not in this amount yet for front bumper" in said
    assert "bonnet chip: A chip goes through the colour" in said
    smooth = words_of(shop, "quote", feel="smooth")
    assert "none: it feels smooth" in smooth
    assert "fine clay" in said


def test_an_invoice_charges_entered_time_and_names_the_rest(shop: Store) -> None:
    paper = car_paper(shop, "V1", "invoice", day=DAY)
    assert [(line.what, line.panel) for line in paper.untimed] == [("wipe", "bonnet")]
    said = words_of(shop, "invoice")
    assert "Correct: medium polish, medium foam, random orbital 0.67 h €40.00" in said
    assert "Net €70.00 Tax 19 % €13.30 Total €83.30" in said  # 30 and 40 minutes at 60 an hour, plus 19 %


def test_a_hand_over_says_what_is_left_and_the_times_of_the_label(shop: Store) -> None:
    assert "stands on the label" not in words_of(shop, "hand-over")  # no protection yet
    add_step(shop, "V1", "bonnet", StepSpec(kind="protect", product="some wax of ours"))
    said = words_of(shop, "hand-over")
    assert "4.0 mm/cm² of marks" in said  # what is left, before why
    assert "stands on the label of the product" in said
    assert "hours" not in said  # no times are made up for a product that nobody knows
    keep_product(shop, tables_of(shop), "Coat 1", kind="coating", label={"keep_dry_hours": 48.0})
    add_step(shop, "V1", "bonnet", StepSpec(kind="protect", product="coat 1"))
    assert "keep it dry for 48 hours and do not wash it for 7 days" in words_of(shop, "hand-over")


@pytest.mark.parametrize("kind", ["intake", "quote", "invoice", "hand-over"])
def test_every_paper_keeps_to_the_shops_language_units_and_money(shop: Store, kind: str) -> None:
    add_step(shop, "V1", "bonnet", StepSpec(kind="protect", product="wax"))
    plan_care(shop, "V1", tables_of(shop), protection="wax", done_on=DAY)
    style = {"language": "de", "paper": "Letter", "length": "inch", "unit": "mil", "currency": "USD"}
    put_setting(shop, SHOP, {"rate_hour": 60.0, **style})
    said = words_of(shop, kind)
    english = re.findall(
        r"\b(?:the|and|with|of|bonnet|roof|bumper|chip|wash|polish|wax|correct|panels?)\b",
        said.replace("car of May", ""),
    )
    assert english == []
    assert not re.findall(r"µm|\bmm\b|cm²|€", said)
    assert {"intake": "4,6 mil", "quote": "$", "invoice": "40,00 $", "hand-over": "Motorhaube"}[kind] in said


def test_a_phones_photograph_of_damage_is_on_the_paper(shop: Store) -> None:
    add_damage(shop, "V1", "bonnet", "dent", photograph=DATA / "plain.heic")
    jpeg = damage_lines(shop, "V1")[-1].jpeg
    assert jpeg is not None
    with Image.open(io.BytesIO(jpeg)) as shown:
        assert shown.format == "JPEG"
        assert max(shown.size) <= 800


def test_a_picture_that_its_decoder_falls_over_is_left_out_of_the_paper(
    shop: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    def killed(*_: object) -> None:
        raise Ended

    add_damage(shop, "V1", "bonnet", "dent", photograph=DATA / "plain.heic")
    monkeypatch.setattr(pixels, "decode_apart", killed)
    assert damage_lines(shop, "V1")[-1].jpeg is None
    assert "bonnet: dent" in words_of(shop, "intake")
