"""The shapes of a car's panels, unfolded and seen from above: one drawing for pages and papers."""

from __future__ import annotations

from collections.abc import Mapping

Box = tuple[float, float, float, float]  # left, top, width, height

# Front at the top, in percent of width and in units of the same size downwards.
CAR: Mapping[str, Box] = {
    "front bumper": (30, 0, 40, 8),
    "bonnet": (30, 9, 40, 20),
    "roof": (30, 38, 40, 27),
    "boot lid": (30, 74, 40, 15),
    "rear bumper": (30, 90, 40, 8),
    "left front wing": (8, 9, 21, 20),
    "right front wing": (71, 9, 21, 20),
    "left front door": (8, 30, 21, 21),
    "right front door": (71, 30, 21, 21),
    "left rear door": (8, 52, 21, 21),
    "right rear door": (71, 52, 21, 21),
    "left rear wing": (8, 74, 21, 20),
    "right rear wing": (71, 74, 21, 20),
    "left sill": (1, 30, 6, 43),
    "right sill": (93, 30, 6, 43),
}
GLASS: tuple[Box, ...] = ((33, 30, 34, 7), (33, 66, 34, 7))
HEIGHT = 98.0  # of the drawing, in the same units
