"""Parsers of our own take any bytes or words: they read them, or say in one sentence why not.

`PARSER_CASES=5000 pytest tests/test_parsers.py` tries many more.
"""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
import string
from collections.abc import Callable
from dataclasses import asdict
from pathlib import Path

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from defectmap.comparison.setup_profile import FigureScatter, SetupProfile, load_profile
from defectmap.errors import DefectmapError
from defectmap.film.container import read_film_head
from defectmap.panel.photo.head import check_size, read_head
from defectmap.record.jobs import all_jobs
from defectmap.record.sorting import guess_place
from defectmap.record.store import open_store
from defectmap.trade.tables import SHIPPED, load_tables

CASES = int(os.environ.get("PARSER_CASES", "60"))
DATA = Path(__file__).parent / "data"
DEEP = 100_000
tried = settings(
    max_examples=CASES,
    deadline=None,
    database=None,
    derandomize=CASES < 1000,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
BEGINNINGS = (b"\xff\xd8", b"\x89PNG\r\n\x1a\n", b"II*\0", b"RIFF0000WEBP", b"")
ENDLESS = ("a = " + "[" * DEEP, "a = " + "9" * 5000, "\ufeff")
cuts = st.tuples(st.floats(0, 1), st.floats(0, 0.3), st.binary(max_size=40), st.integers(0, 3))


def changed(data: bytes, how: tuple[float, float, bytes, int]) -> bytes:
    """Some bytes replaced by others, which may be fewer, more, or the same over again."""
    at, share, other, again = how
    first = int(at * len(data))
    return data[:first] + other * again + data[first + int(share * len(data)) :]


def ends_well(read: Callable[[], object]) -> None:
    try:
        read()
    except DefectmapError as error:
        words = str(error)
        assert words
        assert all(one.isprintable() or one == "\n" for one in words), words


@tried
@given(st.sampled_from(sorted(DATA.glob("*.heic"))[:1]), cuts)
def test_heads_of_photographs(path: Path, how: tuple[float, float, bytes, int]) -> None:
    data = changed(path.read_bytes(), how)
    ends_well(lambda: check_size(read_head(data, "x.heic")[0], "x.heic"))


@tried
@given(
    st.binary(max_size=4000),
    st.sampled_from((b"\xff\xd8", b"\x89PNG\r\n\x1a\n", b"II*\0", b"RIFF0000WEBP", b"")),
)
def test_heads_of_anything(rest: bytes, first: bytes) -> None:
    ends_well(lambda: check_size(read_head(first + rest, "x")[0], "x"))


@tried
@given(st.sampled_from(("film-h264.mp4", "film-hevc.mp4")), cuts, cuts)
def test_heads_of_films(
    tmp_path: Path, name: str, one: tuple[float, float, bytes, int], other: tuple[float, float, bytes, int]
) -> None:
    film = tmp_path / "x.mp4"
    data = (DATA / name).read_bytes()
    index = data.index(b"moov")
    film.write_bytes(changed(data[: index - 4], one) + changed(data[index - 4 : index + 4000], other))
    ends_well(lambda: read_film_head(film))


@tried
@given(cuts, st.text(max_size=30))
@example((0.0, 1.0, b"a = " + b"[" * 200, 1), "")
@example((0.0, 0.3, b"a = 1" + b"0" * 30, 3), "")
def test_own_tables(tmp_path: Path, how: tuple[float, float, bytes, int], words: str) -> None:
    own = tmp_path / "tables.toml"
    own.write_bytes(changed(SHIPPED.read_bytes(), how) + words.encode("utf-8", "replace"))
    ends_well(lambda: load_tables(own))


@pytest.mark.parametrize("number", range(len(ENDLESS)))
def test_own_tables_without_end(tmp_path: Path, number: int) -> None:
    own = tmp_path / "tables.toml"
    own.write_text(ENDLESS[number], encoding="utf-8")
    ends_well(lambda: load_tables(own))


@tried
@given(cuts)
def test_set_ups(tmp_path: Path, how: tuple[float, float, bytes, int]) -> None:
    percent = {"limit_percent": 5.5, "smallest_change_percent": 8.0}
    scatter = FigureScatter(mean=3.0, relative=0.02, common=0.01, df=4.0, df_common=4.0, **percent)
    good = json.dumps(
        {"schema": 1, **asdict(SetupProfile(name="mine", shots=5, figures={"density all": scatter}))}
    )
    (tmp_path / "mine.json").write_bytes(changed(good.encode(), how))
    ends_well(lambda: load_profile("mine", folder=tmp_path))


@pytest.mark.parametrize("start", ["[", "9", '{"schema": 1e999}', "null"])
def test_set_ups_without_end(tmp_path: Path, start: str) -> None:
    words = start * (DEEP if len(start) == 1 else 1)
    (tmp_path / "mine.json").write_text(words, encoding="utf-8")
    ends_well(lambda: load_profile("mine", folder=tmp_path))
    (tmp_path / "folder.json").mkdir()
    ends_well(lambda: load_profile("folder", folder=tmp_path))


@tried
@given(st.text(max_size=12))
def test_names_of_set_ups_lead_nowhere_else(tmp_path: Path, name: str) -> None:
    ends_well(lambda: load_profile(name, folder=tmp_path))


@tried
@given(st.lists(st.text(max_size=60), max_size=4), st.text(string.ascii_letters + " -_", max_size=20))
def test_names_of_files(parts: list[str], panel: str) -> None:
    guess_place(parts, {"bonnet": ("hood",), panel: ()})


@tried
@given(cuts, st.booleans())
def test_a_damaged_database(
    tmp_path: Path, empty_sqlite: Path, how: tuple[float, float, bytes, int], short: bool
) -> None:
    folder = tmp_path / "record"
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir()
    data = changed(empty_sqlite.read_bytes(), how)
    (folder / "record.sqlite").write_bytes(data[: len(data) // 2] if short else data)

    def read() -> None:
        store = open_store(folder)
        try:
            all_jobs(store)
        finally:
            store.close()

    ends_well(read)


def test_a_database_of_another_program(tmp_path: Path) -> None:
    with sqlite3.connect(tmp_path / "record.sqlite") as other:
        other.execute("create table job (id integer)")
    ends_well(lambda: open_store(tmp_path).close())
