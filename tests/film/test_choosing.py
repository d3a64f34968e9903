from __future__ import annotations

from itertools import pairwise

import pytest

from defectmap.errors import LampCut, NoHotspot, UnmeasurableFilm
from defectmap.film import tuning
from defectmap.film.choosing import choose
from defectmap.film.looking import FilmLook, FrameLook


def a_look(
    number: int,
    *,
    lamp: bool = True,
    detail: float = 50.0,
    changed: float = 4.0,
    still: bool = False,
    cut: bool = False,
) -> FrameLook:
    place = (100.0, 300.0, 60.0) if still else (100.0 + 7 * number, 300.0 + 40 * (number % 3), 60.0)
    return FrameLook(
        number=number, lamp=place if lamp and not cut else None, detail=detail, changed=changed, cut=cut
    )


def chosen(frames: list[FrameLook], *, static: float = 0.0) -> tuple[list[int], dict[int, str]]:
    picked, left_out = choose(
        FilmLook(frames=frames, seen=len(frames), static_share=static), name="door.mp4", by_hand=False
    )
    return picked, dict(left_out)


def test_bad_frames_are_left_out_with_their_reason() -> None:
    frames = [a_look(k) for k in range(40)]
    frames[7], frames[9], frames[11] = a_look(7, lamp=False), a_look(9, detail=20.0), a_look(11, changed=0.0)
    frames[13] = a_look(13, cut=True)
    picked, left_out = chosen(frames)
    assert left_out == {7: "no lamp", 9: "blurred", 11: "doubled", 13: "lamp cut"}
    assert picked == [k for k in range(40) if k not in left_out]


def test_a_long_film_is_cut_to_spread_lamp_places() -> None:
    picked, left_out = chosen([a_look(k) for k in range(200)])
    assert len(picked) == tuning.MOST_FRAMES_USED
    assert picked[0] == 0
    assert max(b - a for a, b in pairwise(picked)) < 12
    assert set(left_out.values()) == {"lamp place known"}


def test_films_that_show_no_sweep_are_refused_each_with_its_sentence() -> None:
    with pytest.raises(UnmeasurableFilm, match="hardly moves"):
        chosen([a_look(k, still=True) for k in range(40)])
    with pytest.raises(UnmeasurableFilm, match="hardly moves"):  # all stands still: no screen
        chosen([a_look(k, still=True) for k in range(40)], static=0.01)
    with pytest.raises(UnmeasurableFilm, match="hardly moves"):
        chosen([a_look(k, still=True, changed=0.0) for k in range(40)])
    with pytest.raises(NoHotspot, match="reflection is in only 0"):
        chosen([a_look(k, lamp=False, changed=0.0) for k in range(40)])
    with pytest.raises(NoHotspot, match="reflection is in only 0"):
        chosen([a_look(k, lamp=False) for k in range(40)])
    with pytest.raises(LampCut, match=r"whole in only 0 .* edge cuts it"):
        chosen([a_look(k, cut=True) for k in range(40)])
    with pytest.raises(UnmeasurableFilm, match="recording of a screen"):
        chosen([a_look(k) for k in range(40)], static=0.01)
    with pytest.raises(UnmeasurableFilm, match="sharp and different"):
        chosen([a_look(k, changed=0.0) for k in range(40)])
