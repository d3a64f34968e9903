"""Runs the pages: `streamlit run app.py`, or rather `defectmap app`, which also chooses the port."""

from __future__ import annotations

import runpy
from pathlib import Path

import defectmap

runpy.run_path(str(Path(defectmap.__file__).parent / "pages" / "main.py"), run_name="__main__")
