"""Digital lines and the classic estimators of their length, written from their definitions.

A digital line is the chain of pixels that rounding makes of a straight one; its chain code has `even` moves
(along an axis, length 1), `odd` moves (diagonal, length sqrt 2) and `corners` (places where even meets odd).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Chain = NDArray[np.int64]  # (N, 2) row, column


def digitise(start: tuple[float, float], angle_deg: float, length_px: float) -> Chain:
    """Round a straight line to pixels, one for each step along its longer axis (8-connected)."""
    direction = np.array([np.sin(np.radians(angle_deg)), np.cos(np.radians(angle_deg))])
    longer = np.abs(direction).max()
    first = np.asarray(start, float)
    steps = np.arange(int(np.floor(length_px * longer)) + 1) / longer
    result: Chain = np.floor(first + steps[:, None] * direction + 0.5).astype(np.int64)
    return result


def true_length_px(chain: Chain, angle_deg: float) -> float:
    """Length of the straight line that has as many steps along the longer axis as the chain."""
    longer = max(abs(np.sin(np.radians(angle_deg))), abs(np.cos(np.radians(angle_deg))))
    return (len(chain) - 1) / float(longer)


def counts(chain: Chain) -> tuple[int, int, int]:
    """Even moves, odd moves and corners of a chain."""
    odd = np.abs(np.diff(chain, axis=0)).sum(axis=1) == 2
    return int((~odd).sum()), int(odd.sum()), int(np.count_nonzero(np.diff(odd.astype(int))))


def pixel_count(chain: Chain) -> float:
    """Every move counts 1."""
    even, odd, _ = counts(chain)
    return float(even + odd)


def freeman(chain: Chain) -> float:
    """Weights 1 and sqrt 2 (Freeman 1970, as told in Saveliev, Lengths of Digital Curves, Part 3)."""
    even, odd, _ = counts(chain)
    return even + float(np.sqrt(2)) * odd


def kulpa(chain: Chain) -> float:
    """Unbiased over all directions (Kulpa 1977, CGIP 6:434; 0.948 = pi / (8 (sqrt 2 - 1)); from memory)."""
    return 0.948 * freeman(chain)


def corner_count(chain: Chain) -> float:
    """Vossepoel and Smeulders 1982, CGIP 20:347 (coefficients from memory)."""
    even, odd, corners = counts(chain)
    return 0.980 * even + 1.406 * odd - 0.091 * corners
