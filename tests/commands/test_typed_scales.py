"""Scales typed for several photographs."""

from pathlib import Path

import pytest

from defectmap.commands.typed_scales import PhotoScale, typed_scales
from defectmap.errors import ScaleError

ONE, TWO, THREE = (Path(f"{name}.jpg") for name in ("one", "two", "three"))


def test_one_scale_is_for_all_and_none_is_none() -> None:
    assert typed_scales([ONE, TWO], [20.0], None) == {ONE: PhotoScale(20.0), TWO: PhotoScale(20.0)}
    assert typed_scales([ONE], None, None) == {ONE: PhotoScale()}


def test_each_photograph_may_have_its_own() -> None:
    found = typed_scales([ONE, TWO, THREE], None, [76.0, 60.0, 95.0])
    assert [found[path].field_width_mm for path in (ONE, TWO, THREE)] == [76.0, 60.0, 95.0]


def test_neither_one_nor_one_for_each_is_refused() -> None:
    with pytest.raises(ScaleError, match="given 2 times for 3 photographs"):
        typed_scales([ONE, TWO, THREE], [20.0, 12.0], None)


def test_a_file_named_twice_has_one_scale() -> None:
    assert typed_scales([ONE, ONE], [20.0, 20.0], None) == {ONE: PhotoScale(20.0)}
    with pytest.raises(ScaleError, match=r"one\.jpg is named twice"):
        typed_scales([ONE, ONE], [20.0, 12.0], None)
