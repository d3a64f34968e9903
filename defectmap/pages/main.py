"""What the server runs for every visitor: the look of the pages and the menu, behind the door."""

from __future__ import annotations

from pathlib import Path

import streamlit as st

from defectmap.pages.frame import PAGES, guarded, page_file
from defectmap.pages.server import check_door
from defectmap.pages.warmup import warm_up
from defectmap.pages.widgets.reach import within_reach

# A named icon would be fetched from elsewhere for the browser tab; this one lies beside the page.
ICON = Path(__file__).with_name("icon.png")

st.set_page_config(page_title="defectmap", page_icon=str(ICON), layout="wide")
warm_up()
within_reach()
with guarded():
    check_door()
    pages = [
        st.Page(page_file(name), title=title, icon=icon, url_path=name.replace("_", "-"), default=not at)
        for at, (name, (title, icon, _)) in enumerate(PAGES.items())
    ]
    st.navigation(pages).run()
