"""A job file in which one thing is false, sealed as a forger would: refused, or everything works with it.

`FORGED_CASES=3000 pytest -m slow tests/record/test_forged_jobs.py` tries many more.
"""

from __future__ import annotations

import json
import math
import os
import random
import shutil
from collections import defaultdict
from collections.abc import Callable
from functools import lru_cache
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, given, note, settings
from hypothesis import strategies as st
from typer.testing import CliRunner, Result

from defectmap.commands.program import app
from defectmap.record import keeping
from defectmap.record.comparison_forms import comparison_form_problem
from defectmap.record.comparisons import compare_request, keep_comparison
from defectmap.record.intake import Place, add_photograph
from defectmap.record.jobs import create_job
from defectmap.record.measuring import measure_job
from defectmap.record.store import open_store
from defectmap.record.transfer import export_job
from tests.record import fakes
from tests.record.forging import DROP, JOB, Place_, Sample, forged, places, sample_of, taken_apart

Commands = tuple[tuple[str, ...], ...]

CASES = int(os.environ.get("FORGED_CASES", "40"))
NUMBERS = st.integers(0, 2**48)
CHANGES: dict[str, Callable[[Any], Any]] = {
    "gone": lambda _: DROP,
    "nothing": lambda _: None,
    "not a number": lambda _: math.nan,
    "infinite": lambda _: math.inf,
    "negative": lambda old: -old if isinstance(old, int | float) and old else -5,
    "zero": lambda _: 0,
    "huge": lambda _: 1e308,
    "tiny": lambda _: 1e-300,
    "beyond 64 bits": lambda _: 2**63,
    "of 400 digits": lambda _: 10**400,
    "a number": lambda _: 7,
    "a word": lambda _: "zzz",
    "its own words": lambda old: str(old)[:50],
    "no words": lambda _: "",
    "many words": lambda _: "x" * 3000,
    "control characters": lambda _: "\x1b[31m\n<script>\u202e",
    "half a character": lambda _: "\ud800",
    "a template": lambda _: "{0}{x.y!r:>99999}",
    "a list": lambda _: [],
    "a record": lambda _: {},
    "in a list": lambda old: [old],
    "in a record": lambda old: {"a": old},
    "yes": lambda _: True,
    "twice": lambda old: old * 2 if isinstance(old, str | list) else old,
    "cut": lambda old: old[:-1] if isinstance(old, str | list) and old else DROP,
    "nested without end": lambda _: _nested(300),
    "a remark of nothing": lambda _: {"code": ["x"], "values": {"a": [{"b": None}]}},
}
COMMANDS: Commands = (
    ("job", "status", JOB, "--json", "status.json"),
    ("job", "next", JOB),
    ("job", "compare", JOB, "--json", "compare.json"),
    ("report", JOB, "r.html", "r.csv", "--full", "--claims", "claims.html", "--file-names"),
)
SELDOM: Commands = (
    ("job", "budget", JOB),
    ("job", "plan", JOB),
    ("job", "damages", JOB),
    ("job", "memory"),
    ("job", "checklist", JOB),
    ("vehicle", "list"),
    ("care", "list"),
    ("job", "verify"),
    ("job", "paper", JOB, "intake", "intake.pdf"),
    ("job", "paper", JOB, "hand-over", "hand-over.pdf"),
    ("job", "export", JOB, "again.zip"),
    ("report", JOB, "r.pdf", "--posting", "posting.jpg"),
)


def _nested(depth: int) -> list[Any]:
    inside: list[Any] = []
    for _ in range(depth):
        inside = [inside]
    return inside


@pytest.fixture(scope="module")
def sample(tmp_path_factory: pytest.TempPathFactory) -> Sample:
    """A real job of photographs and films, in parts."""
    return sample_of(tmp_path_factory.mktemp("sample"))


@pytest.fixture(scope="module")
def plain_sample(tmp_path_factory: pytest.TempPathFactory) -> Sample:
    """A job of stand-ins, in parts; its pictures cannot be drawn, so no report can be made of it."""
    folder = tmp_path_factory.mktemp("plain")
    store = open_store(folder / "record")
    create_job(store, JOB, panels=fakes.PANELS)
    for number, stage in enumerate(["decontaminated", "wiped"]):
        add_photograph(store, JOB, fakes.photo(folder, number), Place(panel="bonnet", stage=stage))
    measure_job(store, JOB, measure=fakes.measure)
    request = compare_request(store, JOB, "bonnet")
    keep_comparison(store, request, fakes.compare(request))
    file = export_job(store, JOB, folder / "j.zip")
    store.close()
    return taken_apart(file)


@lru_cache(maxsize=2)
def kinds_of_place(sample: Sample) -> dict[tuple[str, ...], list[Place_]]:
    """Places that are alike (the third mark's length, the first mark's length) under one name."""
    alike: dict[tuple[str, ...], list[Place_]] = defaultdict(list)
    compared = {row["id"] for row in sample.job["comparison"]}
    for place in places({"job": sample.job, "results": sample.results}):
        words = [
            "number"
            if isinstance(part, int)
            else "compared"
            if part in compared
            else "measured"
            if len(part) == 32
            else part
            for part in place
        ]
        alike[tuple(words)].append(place)
    return alike


def chosen(number: int, sample: Sample) -> tuple[Place_, str]:
    """A place of a sample, all kinds of place as often as one another, and what is done there."""
    lot = random.Random(number)
    place = lot.choice(lot.choice(list(kinds_of_place(sample).values())))
    how = lot.choice(sorted(CHANGES))
    note(f"{'.'.join(map(str, place))}: {how}")
    return place, how


class Shop:
    """A record of its own, with what lay on the sample's shelf, and commands that must end well."""

    def __init__(self, folder: Path, empty: Path, sample: Sample) -> None:
        self.folder = folder
        self.record = folder / "record"
        shutil.rmtree(folder, ignore_errors=True)
        self.record.mkdir(parents=True)
        shutil.copy(empty, self.record)
        if sample.kept is not None:
            shutil.copytree(sample.kept, self.record / "kept", copy_function=os.link)
        keeping._OPENED.clear()

    def run(self, words: tuple[str, ...]) -> Result:
        place = ["--record", str(self.record)]
        given = [str(self.folder / word) if "." in word else word for word in words]
        given = [*given, *place] if words[0] == "report" else [given[0], *place, *given[1:]]
        done = CliRunner().invoke(app, given)
        assert done.exception is None or isinstance(done.exception, SystemExit), (words, done.exception)
        assert done.exit_code in (0, 1, 2, 3), words
        assert done.exit_code == 0 or len(done.output) < 3000, done.output  # a sentence, no essay
        assert all(one.isprintable() or one in "\n\t" for one in done.output), words
        return done


@pytest.fixture
def shop(tmp_path: Path, empty_sqlite: Path) -> Callable[[Sample], Shop]:
    return lambda sample: Shop(tmp_path / "shop", empty_sqlite, sample)


def try_forged(shop: Shop, sample: Sample, place: Place_, how: str, commands: Commands) -> None:
    """Take a forged job in; if that is not refused, everything that reads it is run."""
    try:
        file = forged(sample, place, CHANGES[how], shop.folder / "job.zip")
    except UnicodeEncodeError:
        return  # cannot even be written
    done = shop.run(("job", "import", str(file)))
    if done.exit_code:
        assert done.output.count("\n") == 1, done.output
        return
    for words in commands:
        shop.run(words)


FALSE_COMPARISONS = {
    ("spots",): ("gone", "its spots is not in order"),
    ("claim",): ("gone", "its claim is not"),
    ("claim", "word"): ("a word", "its claim.word"),
    ("before",): ("a word", "its before"),
    ("density_mm_per_cm2", "all", "before"): ("nothing", "a change of no figures"),
    ("density_mm_per_cm2", "all", "change_percent"): ("nothing", "an interval of no change"),
    ("density_mm_per_cm2", "all", "ci95_percent"): ("cut", "its density_mm_per_cm2.all.ci95_percent"),
    ("haze", "after"): ("negative", "its haze.after"),
    ("score", "change_percent"): ("infinite", "is not readable"),
    ("score", "before"): ("huge", "its score.before"),
    ("spots", 0, "alignment", "scale"): ("zero", "its spots.0.alignment.scale"),
    ("spots", 0, "common_area_cm2"): ("its own words", "its spots.0.common_area"),
    ("warnings",): ("nested without end", "is not"),
}


@pytest.mark.parametrize(("inside", "false"), FALSE_COMPARISONS.items())
def test_a_comparison_that_is_none_is_refused(
    shop: Callable[[Sample], Shop], plain_sample: Sample, inside: Place_, false: tuple[str, str]
) -> None:
    how, words = false
    (row,) = plain_sample.job["comparison"]
    one = shop(plain_sample)
    place = ("results", row["id"], *inside)
    file = forged(plain_sample, place, CHANGES[how], one.folder / "job.zip")
    done = one.run(("job", "import", str(file)))
    assert done.exit_code == 2
    assert f"comparison {row['id'][:8]}: " in done.output
    assert words in done.output


def test_a_comparison_of_a_refused_photograph_needs_no_figures(plain_sample: Sample) -> None:
    (row,) = plain_sample.job["comparison"]
    sides = {"before": {"refused": "too dark"}, "after": [{"refused": None}]}
    refused = {"comparable": "no", "reasons": ["too dark"], **sides}
    assert comparison_form_problem(json.dumps(refused), row["settings"]) is None
    unsaid = json.dumps({**refused, "comparable": "yes"})
    assert comparison_form_problem(unsaid, row["settings"]) is not None


def each_case(count: int, tried: Callable[[int], None]) -> None:
    """Hypothesis finds the numbers; what a number means is told by `chosen`."""
    quiet = [HealthCheck.too_slow, HealthCheck.data_too_large]
    few = settings(
        max_examples=count,
        deadline=None,
        database=None,
        derandomize=count < 100,
        phases=[Phase.generate],
        suppress_health_check=quiet,
    )
    few(given(number=NUMBERS)(lambda number: tried(number)))()


def test_a_forged_job_of_stand_ins_is_refused_or_read(
    shop: Callable[[Sample], Shop], plain_sample: Sample
) -> None:
    def tried(number: int) -> None:
        one = shop(plain_sample)
        try_forged(one, plain_sample, *chosen(number, plain_sample), COMMANDS[:2])

    each_case(15, tried)


@pytest.mark.slow
def test_an_honest_job_is_taken_in_and_read(shop: Callable[[Sample], Shop], sample: Sample) -> None:
    one = shop(sample)
    honest = forged(sample, ("job",), lambda job: job, one.folder / "job.zip")
    for words in (("job", "import", str(honest)), *COMMANDS):
        assert one.run(words).exit_code == 0, words


@pytest.mark.slow
def test_a_forged_job_is_refused_or_works(shop: Callable[[Sample], Shop], sample: Sample) -> None:
    def tried(number: int) -> None:
        place, how = chosen(number, sample)
        seldom = SELDOM if number % 8 == 0 else ()
        try_forged(shop(sample), sample, place, how, (*COMMANDS, *seldom))

    each_case(CASES, tried)
