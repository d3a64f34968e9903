"""`defectmap app`: the pages, on this computer only unless told otherwise."""

from __future__ import annotations

from typing import Annotated

import typer

from defectmap.commands.job_shared import RecordFolder


def app(
    port: Annotated[
        int, typer.Option("--port", metavar="N", min=1, max=65535, help="Port to listen on.")
    ] = 8501,
    record: RecordFolder = None,
    job: Annotated[str | None, typer.Option("--job", metavar="JOB", help="Open this job.")] = None,
    network: Annotated[
        bool,
        typer.Option(
            "--network", help="Let other devices of your network in, with the passphrase of Set-up."
        ),
    ] = False,
    no_browser: Annotated[bool, typer.Option("--no-browser", help="Do not open the browser.")] = False,
) -> None:
    """Open the pages in the browser.

    This computer serves them to itself, and with --network to your own network; nothing is sent elsewhere.
    Stop them with Ctrl+C.
    """
    from defectmap.pages.launch import Start, serve

    start = Start(port=port, record=record, job=job, network=network, browser=not no_browser)
    raise typer.Exit(serve(start))
