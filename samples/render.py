"""Render the demo job's photographs and their truth files.

    python samples/render.py [--out FOLDER] [--only NAME ...] [--variant NAME] [--spp N]

Needs the development extra (mitsuba). Variants: `cuda_ad_rgb` (an NVIDIA GPU), `llvm_ad_rgb` (libLLVM; name
the file in DRJIT_LIBLLVM_PATH where several are installed; 15 and 16 were seen to abort, 19 works),
`scalar_rgb` (needs nothing else, slowest). `auto`, the default, takes the first that works.
"""

from __future__ import annotations

import argparse
import time
from dataclasses import replace
from pathlib import Path

from demo import demo_shots
from photograph import photograph
from tracing import choose_variant


def main() -> None:
    """Parse the command line, render, write."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    photos = Path(__file__).parent / "photos"
    parser.add_argument("--out", type=Path, default=photos, help="folder to write to")
    parser.add_argument("--only", nargs="*", help="names of the photographs to render")
    parser.add_argument("--variant", default="auto", help="mitsuba variant")
    parser.add_argument("--spp", type=int, help="samples a pixel, a multiple of 16")
    options = parser.parse_args()
    print(f"rendering with {choose_variant(options.variant)}", flush=True)
    for shot in demo_shots():
        if options.only and shot.name not in options.only:
            continue
        start = time.monotonic()
        made = photograph(replace(shot, spp=options.spp) if options.spp else shot)
        made.save(options.out, shot.name)
        print(f"{shot.name}: {len(made.file) / 1e6:.2f} MB, {time.monotonic() - start:.0f} s", flush=True)


if __name__ == "__main__":
    main()
