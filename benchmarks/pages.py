"""How long a page takes to answer on the sample job, and ten 12-megapixel photographs to be taken in.

    python benchmarks/pages.py [--skip-upload]

Prints one line a page: the first time (pictures are drawn) and again (they are kept), by the clock and in
processor time, which tells on a machine that has other work too. Asserts that each page shows a title and no
error, so the figures cannot come from a page that failed.
"""

from __future__ import annotations

import argparse
import io
import os
import tempfile
import threading
from pathlib import Path
from time import perf_counter, process_time, sleep
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from defectmap.record.store import Store

SAMPLES = Path(__file__).resolve().parent.parent / "samples"
PATIENCE_S = 300
CUSTOMERS = "Your car, before and after"  # what the customer's view is called on the page itself
ZOOM = 2  # sample photographs have 3 megapixels


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--skip-upload", action="store_true")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        os.environ["DEFECTMAP_RECORD"] = str(Path(folder) / "record")
        os.environ["XDG_DATA_HOME"] = str(Path(folder) / "data")
        time_pages()
        if not options.skip_upload:
            time_upload()


def time_pages() -> None:
    from streamlit.testing.v1 import AppTest

    from defectmap.pages.frame import PAGES, page_file
    from defectmap.record.measuring import measure_job
    from defectmap.record.overview import overview
    from defectmap.record.results import compare_ready, ready_panels
    from defectmap.record.sample_job import load_sample_job
    from defectmap.record.store import open_store

    store = open_store()
    reference = load_sample_job(store, SAMPLES)
    start = perf_counter()
    measure_job(store, reference)
    print(f"measuring the sample job (10 photographs of 3 megapixels): {perf_counter() - start:.1f} s")
    start = perf_counter()  # the page does this right after measuring, before anybody asks for it
    assert compare_ready(store, reference, ready_panels(overview(store, reference))) == ()
    print(f"comparing its 5 panels: {perf_counter() - start:.1f} s")
    app = AppTest.from_file(page_file("main"), default_timeout=PATIENCE_S).run()
    for name, (title, _, _) in PAGES.items():
        times = []
        for _ in range(2):
            app.switch_page(f"{name}.py")
            start, worked = perf_counter(), process_time()
            app.run()
            times.append((perf_counter() - start, process_time() - worked))
            assert app.title[0].value in (title, CUSTOMERS), app
            assert not app.exception, app.exception
            assert not app.error, [error.value for error in app.error]
        first, again = (f"{clock:6.2f} s (processor {worked:5.2f})" for clock, worked in times)
        print(f"{title:18} first {first}, again {again}")


def time_upload() -> None:
    from streamlit.testing.v1 import AppTest

    from defectmap.pages import background_run
    from defectmap.pages.frame import page_file
    from defectmap.record.jobs import create_job
    from defectmap.record.overview import overview
    from defectmap.record.panels import PanelSpec
    from defectmap.record.store import open_store

    store = open_store()
    create_job(store, "UPLOAD", panels=[PanelSpec(name="bonnet", area_m2=1.5)])
    files = [
        (path.name, twelve_megapixels(path), "image/jpeg") for path in sorted(SAMPLES.glob("photos/*.jpg"))
    ]
    app = AppTest.from_file(page_file("main"), default_timeout=PATIENCE_S)
    app.query_params["job"] = "UPLOAD"
    app.run()
    app.switch_page("photographs.py").run()
    start = perf_counter()
    app.file_uploader[0].set_value(files).run()
    print(f"{len(files)} photographs of 12 megapixels shown at their spots: {perf_counter() - start:.1f} s")
    keep = next(button for button in app.button if button.label.startswith("Keep "))
    start, worked = perf_counter(), process_time()
    watch = threading.Thread(target=_tell_the_first, args=(store, start, worked), daemon=True)
    watch.start()
    keep.click().run()
    assert not app.exception, app.exception
    print(f"... all kept {perf_counter() - start:.1f} s after the press")
    watch.join(PATIENCE_S)
    background_run.wait_for(background_run.start(store, "UPLOAD"))
    look = overview(store, "UPLOAD")
    assert (look.photographs, look.unmeasured, look.refused) == (len(files), 0, 0)
    worked = process_time() - worked
    print(f"... all measured {perf_counter() - start:.1f} s after it (processor {worked:.1f})")


def _tell_the_first(store: Store, start: float, worked: float) -> None:
    from defectmap.record.keeping import results_of

    while not results_of(store, "UPLOAD"):
        sleep(0.05)
    words = f"{perf_counter() - start:.1f} s after the press (processor {process_time() - worked:.1f})"
    print(f"... the first measured {words}")


def twelve_megapixels(path: Path) -> bytes:
    """A sample photograph at twice its size each way, as a phone would give it."""
    from PIL import Image

    with Image.open(path) as picture:
        large = picture.resize((picture.width * ZOOM, picture.height * ZOOM), Image.Resampling.LANCZOS)
    out = io.BytesIO()
    large.save(out, format="JPEG", quality=92)
    return out.getvalue()


if __name__ == "__main__":
    main()
