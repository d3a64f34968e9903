"""A photograph averaged down and laid on a grid."""

import numpy as np
import pytest

from defectmap.comparison.averaged import resampled, small_sheet
from defectmap.comparison.tuning import HALF_CELLS, PX_PER_CELL
from defectmap.panel.measurement import Hotspot

SIZE = (803, 1203)  # odd: what does not fill a block is left out
HOTSPOT = Hotspot(row=401.0, column=601.0, radius_px=80.0, lamps=1)


def picture(seed: int = 1) -> np.ndarray[tuple[int, ...], np.dtype[np.float32]]:
    return np.random.default_rng(seed).random(SIZE, dtype=np.float32)


def test_blocks_are_means() -> None:
    light, burnt = picture(), picture(2) < 0.1
    zone = np.hypot(*(np.mgrid[: SIZE[0], : SIZE[1]] - np.array([401, 601])[:, None, None])) < 300
    sheet = small_sheet(light, burnt, zone, hotspot=HOTSPOT, scale=0.1)
    assert sheet.shrink == 4  # 10 px a cell

    def means(values: np.ndarray) -> np.ndarray:
        result: np.ndarray = values[:800, :1200].reshape(200, 4, 300, 4).mean(axis=(1, 3))
        return result

    assert sheet.light == pytest.approx(means(light), abs=1e-5)
    # bytes are rounded in each of two halvings
    assert sheet.clipped == pytest.approx(means(burnt), abs=1.5 / 255)
    assert sheet.hidden == pytest.approx(means(burnt | ~zone), abs=1.5 / 255)


@pytest.mark.parametrize(("scale", "shrink"), [(1.0, 1), (0.25, 1), (0.2, 2), (0.1, 4), (0.03, 8)])
def test_cells_keep_enough_pixels(scale: float, shrink: int) -> None:
    nowhere = np.zeros(SIZE, np.bool_)
    sheet = small_sheet(picture(), nowhere, nowhere, hotspot=HOTSPOT, scale=scale)
    assert sheet.shrink == shrink
    assert shrink == 1 or 1 / scale / shrink >= PX_PER_CELL


@pytest.mark.parametrize("scale", [0.5, 0.2, 0.1, 0.07])
def test_hotspot_lies_in_the_middle_cell(scale: float) -> None:
    rows, columns = np.mgrid[: SIZE[0], : SIZE[1]].astype(np.float32)
    light = np.exp(-((rows - 401) ** 2 + (columns - 601) ** 2) / 2 / 40**2)
    nowhere = np.zeros(SIZE, np.bool_)
    sheet = small_sheet(light, nowhere, nowhere, hotspot=HOTSPOT, scale=scale)
    grid = resampled(sheet.light, sheet, scale)
    share = grid / grid.sum()
    cells = np.arange(-HALF_CELLS, HALF_CELLS + 1)
    middle = (share.sum(axis=1) @ cells, share.sum(axis=0) @ cells)
    # light beyond the copy's far side, up to 7 px, is missing
    assert middle == pytest.approx((0.0, 0.0), abs=0.01)
