"""Panel, stage and spot from the names of photographs."""

from __future__ import annotations

import pytest

from defectmap.record.sorting import guess_place
from defectmap.trade.stages import STAGE_NAMES
from defectmap.trade.tables import load_tables

CAR = {row.name: row.also for row in load_tables().panels["car"]}


@pytest.mark.parametrize(
    ("parts", "panel", "stage", "spot"),
    [
        (["bonnet_wiped_spot2"], "bonnet", "wiped", "2"),
        (["Hood-Decontaminated-Spot-3"], "bonnet", "decontaminated", "3"),
        (["wiped", "IMG_2041 left front door"], "left front door", "wiped", None),
        (["front door left", "as received", "spot a"], "left front door", "as received", "a"),
        (["boot"], "boot lid", None, None),
        (["left rear door test spot 2"], "left rear door", "test spot", "2"),
        (["trunk lid", "polished", "0007"], "boot lid", "corrected", None),
        (["IMG_2041"], None, None, None),
        (["door"], None, None, None),  # which of four?
        (["bonnet and roof"], None, None, None),  # two panels
        (["front bumper left front door"], None, None, None),
        (["roof washed wiped"], "roof", None, None),  # two stages
        (["roof before"], "roof", None, None),  # before what?
        (["roof after"], "roof", None, None),
        (["spotless roof"], "roof", None, None),
        (["proof"], None, None, None),
    ],
)
def test_names_are_read(parts: list[str], panel: str | None, stage: str | None, spot: str | None) -> None:
    guess = guess_place(parts, CAR)
    assert (guess.panel, guess.stage, guess.spot) == (panel, stage, spot)


@pytest.mark.parametrize("stage", STAGE_NAMES)
@pytest.mark.parametrize("panel", list(CAR))
def test_every_panel_and_stage_can_be_named(panel: str, stage: str) -> None:
    guess = guess_place([f"{panel.replace(' ', '-')}__{stage.replace(' ', '_')}__spot4"], CAR)
    assert (guess.panel, guess.stage, guess.spot) == (panel, stage, "4")


def test_free_panels_in_any_script() -> None:
    panels = {"Kotflügel links": (), "κέντρο": ()}
    assert guess_place(["kotflügel_LINKS"], panels).panel == "Kotflügel links"
    assert guess_place(["κέντρο 1"], panels).panel == "κέντρο"
