"""What a worker process does whatever it works at."""

from __future__ import annotations

import multiprocessing
import os
import threading


def end_with_parent() -> None:
    """End this worker when the program that started it is gone, else a killed run leaves workers behind."""
    parent = multiprocessing.parent_process()

    def wait_for_it() -> None:
        if parent is not None:
            parent.join()
            os._exit(1)

    threading.Thread(target=wait_for_it, daemon=True).start()
