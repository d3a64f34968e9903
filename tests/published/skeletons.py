"""Skeletons measured by skan, an independent library for that."""

from __future__ import annotations

import warnings
from typing import Any

import numpy as np
import skan
from numpy.typing import NDArray
from skimage.morphology import skeletonize


def branches(mask: NDArray[np.bool_]) -> tuple[skan.Skeleton, Any]:
    """Skeleton of a mask and skan's table of its branches."""
    skeleton = skan.Skeleton(skeletonize(mask))
    with warnings.catch_warnings():
        # skan 0.13 uses a keyword that pandas 3.1 has deprecated; nothing that we could put right.
        warnings.filterwarnings("ignore", message="The inplace keyword", category=DeprecationWarning)
        return skeleton, skan.summarize(skeleton, separator="_")
