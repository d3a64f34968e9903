"""Sentences of figures inside other sentences: a figure with its interval, and what it is held against.

The fields end in the shop's units (`film`, `length`, `density`; see `Writer.tell`).
"""

from __future__ import annotations

from collections.abc import Mapping

FOUND: Mapping[str, str] = {
    "found density": "{value:.3g density} ({low:.3g density number} to {high:.3g density number}, "
    "{photographs})",
    "found density alone": "{value:.3g density} (one photograph, no interval)",
    "found length": "{value:.3g length} ({low:.3g length number} to {high:.3g length number}, {photographs})",
    "found length alone": "{value:.3g length} (one photograph, no interval)",
    "found figure": "{value:.3g} ({low:.3g} to {high:.3g}, {photographs})",
    "found figure alone": "{value:.3g} (one photograph, no interval)",
    "found relative": "{value:.3g} uncalibrated ({low:.3g} to {high:.3g}, {photographs})",
    "found relative alone": "{value:.3g} uncalibrated (one photograph, no interval)",
    "found density alone, film": "{value:.3g density} (one film, no interval)",
    "found length alone, film": "{value:.3g length} (one film, no interval)",
    "found figure alone, film": "{value:.3g} (one film, no interval)",
    "found relative alone, film": "{value:.3g} uncalibrated (one film, no interval)",
    "one film": "1 film",
    "films": "{number} films",
    "one photograph": "1 photograph",
    "photographs": "{number} photographs",
    "one panel": "1 panel",
    "panels": "{number} panels",
    "against": "{density} against at most {limit:g density number}",
    "against, with scratch": "{density} against at most {limit:g density number}, longest scratch "
    "{longest:.0f length} against at most {longest_limit:g length number}",
}

AIMS: Mapping[str, str] = {
    "agreed": "what was agreed",
    "usual aim": "the shop's usual aim (no target was agreed)",
    "usual aim for": "the shop's usual aim (nothing was agreed about {figures})",
    "agreed in part": "what was agreed about {figures} and the shop's usual aim for the rest",
    "limited density": "the density of marks",
    "limited trail": "buffer trails",
    "limited longest scratch": "scratches",
    "limited haze": "haze",
}
