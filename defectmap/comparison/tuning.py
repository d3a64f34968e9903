"""Every figure that comparing rests on: its unit, what it does, where it is from and what it weighs.

The limits of comparability were set on rendered pairs whose lamp, exposure and paint are known; `python
benchmarks/compare_verdicts.py` shows how far true pairs and false pairs stay from each. What is carried into
the interval was measured on rendered pairs that were processed on one side
(`benchmarks/compare_processing.py`), and is held to the share of intervals that hold the truth
(`benchmarks/compare_coverage.py`).

Weight, under a heading: by how many points the change of density or an end of its interval moves when a
constant is moved by 20 % (`benchmarks/sensitivity.py`, two pairs that may be compared: what tells other
lamps, places and copies moves nothing there and guards against a false figure).
"""

from __future__ import annotations

import math

from defectmap.comparison.limit import Limit

COPY = 0.85  # correlation of fine detail about the hotspot; copies 0.92 and more, two shots by hand below 0.2
CHANGED_SHARE = 0.03  # of small blocks that differ; a copy has none, a camera on a stand sees marks go
EXPOSURE_STOPS = Limit(0.8, 1.6)
UNEXPLAINED_STOPS = Limit(0.7, 1.5)  # halo brighter or darker than the camera's settings explain
HALO_SHAPE_STOPS = Limit(0.07, 0.18)  # RMS of what is left of the halo's difference after one exposure step
RADIUS_STEPS = Limit(0.10, 0.30)  # |ln| of a hotspot's radius over what the other halo leads to expect
LOST_LIGHT = Limit(0.05, 0.25)  # |ln| of the ratio of light that is read of the same marks, by their widths
OFF_ROUND = Limit(0.2, 0.5)  # share of bright marks that do not run round the lamp
ROUND_DEG, ROUND_MARKS = 30.0, 15  # from the tangent about the hotspot; fewer marks say nothing
SCALE_STEPS = Limit(math.log(1.6), math.log(3.0))  # |ln| of the ratio of px/mm; widths in µm outlast it
SCALE_ERROR = Limit(0.015, 0.10)  # what the paint says of the two scales, against what was given
COLOUR_STOPS = Limit(0.8, 1.5)  # red or blue against green
BODY_STOPS = Limit(1.0, 2.0)  # paint beside the halo, after the exposure step
UNCOMMON_SHARE = Limit(0.5, 0.8)  # of the smaller zone, not in the other photograph
STANDARD_UNSEEN = Limit(1.0, 2.0)  # faintest width that a photograph shows, over the standard mark
HAZE_STEPS = math.log(1.5)  # haze this far apart changes the halo by itself, so the halo cannot tell the lamp
# stops that the light beyond the lamp's image changed by, exposure taken out: untouched paint, lamp moved by
# hand, stays below 0.03; haze of 6 % polished off reads 0.07 on white, 0.5 on black (rendered)
HAZE_CHANGE_STOPS = 0.05
HAZE_MOST_STOPS = 1.0  # stops; haze of 10 % reads 0.9 on black paint, a phone that merges exposures 1.8
MISSING_BULGE = 1 / 3  # of a melted cluster's bulges is left at most where the other photograph has one lamp
MARKS_TO_MATCH = 15  # pieces a side: so many marks of one place do find each other ...
NO_MATCH = 1.4  # ... at least so well; true pairs 1.5 and more
PATTERN_TO_MATCH = 0.93  # so much orange peel beside both hotspots would have been found on each other
MIN_COMMON_CM2 = 5.0
LAMP_MOVED_MM = Limit(4.5, math.inf)  # of its reflection on the paint: one mark in twelve is another

# -- tone curves: one may explain how two halos differ, where both hotspots are equally wide
# weight, points of change (F1): 5 less.
TONE_LEAST = 0.08  # |ln| of the slope between two halos' logarithms of light; phones alike stay below 0.03
TONE_MOST = 0.8  # |ln|; no camera bends light so far, a lamp may
TONE_REST_STOPS = 0.12  # RMS that the bent halo may be off
# |ln| of that slope beside the lamp, where haze does little: haze of up to 10 % polished off reads 0.02 to
# 0.05 there, tone curves 0.17 and more (rendered)
TONE_NEAR = 0.09
TONE_RADIUS = 0.08  # |ln| of the ratio of the hotspots' radii

# -- traces of processing in one photograph
# weight, points of change (F1): 22 less.
OVERSHOOT_STEP = 0.03  # of a line's height in codes; sharpened 0.05 to 0.2, others -0.01 to 0.02 (rendered)
SMOOTH_CODES = 0.6  # steps of an 8-bit file: less grain than rounding and a sensor leave together ...
SMOOTH_CORRELATION = 0.66  # ... and as like its neighbour: denoised or squeezed (rendered 0.53 to 0.60 else)
GRAIN_BLOCK_PX = 16
GRAIN_PIXELS, GRAIN_STRIP_ROWS = 2.5e6, 8  # of a picture that are looked at; rows of blocks in a strip
GRAIN_SLOW_PX = 4.0  # standard deviation of the Gaussian that is broader than grain
GRAIN_BAND_PX = (0.8, 1.6)  # standard deviations of the Gaussians that grain as wide as a line lies between
GRAIN_CLASSES_PER_STOP, GRAIN_CLASS_BLOCKS = 2, 25  # of brightness; blocks that a class needs
GRAIN_QUANTILE = 0.35  # of the blocks' power: a faint line that was not found lies in the upper part
GRAIN_LEAST_CODES = 0.05  # steps of an 8-bit file; a picture flatter than that has no grain to speak of
MARK_WIDTH_PX, MOST_MARKED = 9, 0.02  # drawn along each line; share of a block that lines may cover
# RMS of ln(grain, after over before) over brightness, beyond what sensitivity explains: one camera, paint
# corrected in between or not, 0.03 and less; smoothed, sharpened and locally stretched 0.1 to 2 (rendered)
GRAIN_STEP, GRAIN_STEP_UNTOLD = 0.05, 0.5  # one camera that tells its ISO; where it is not told, or two
# of the growth of shot noise, half of ln(ISO ratio), that a sensor's grain shows at least: compression and
# dark codes leave 0.4 to 1.1 (rendered); grain of more than so many steps at ISO 100 is the paint's own
GRAIN_GROWTH, GRAIN_PAINT_CODES = 0.35, 2.0
# log2 of light from which grain tells what a tone curve did to lines: darker, rounding to codes is most.
# What is read lies between nothing and the slope of the curve, but for so much (|ln|): curves that work on
# other light than sRGB's read 0.17 beside it (rendered), merged exposures 0.25 and more
CONTRAST_FROM_LOG2, CONTRAST_BEYOND = -6.0, 0.18
SLOPE_LOG2 = 0.01  # step either way that a curve's slope is read over
COPY_SHARE = 0.75  # of the other side's pixels

# -- what is carried into the interval, as standard deviations of ln(equivalent width) between two photographs
# weight, points of change (F1): 12 less.
SAME_STRENGTH = 0.02  # one camera at one setting
CROSS_STRENGTH = 0.08  # two cameras, or another size of picture
OVERSHOOT_STRENGTH = 0.6  # for each unit of overshoot: what taking sharpening back leaves (rendered)
# noise reduction takes 0 to 0.35 of marks near the standard (rendered, six kinds), and grain put back after
# it hides how much: the same wherever grain differs
SMOOTH_STRENGTH = 0.25
# for each unit of ln(ISO ratio): noise near the standard hides marks, and cameras smooth more at higher
# sensitivity, where grain cannot tell it; eight times the ISO, denoised or not, took 0 to 0.2 (rendered)
ISO_STRENGTH = 0.05
HAZE_STRENGTH = 0.5  # of ln(light beside): the lamp's distance, moved by hand, may pass for a part of it
# of |ln slope| where the grain does not tell: a curve for all light bends widths by all of it, local tone
# mapping by nothing or by up to half of it the other way (rendered)
TONE_STRENGTH = 0.5
CONTRAST_STRENGTH = 0.25  # of |ln slope| where the grain told which

# of ln(W, after over before) of the marks that both show, where one side was processed: between none of
# it, as polishing makes marks shallower too, and 1.2 times it, as hard noise reduction takes some marks
# altogether; middle and standard deviation of a rectangular distribution (GUM, JCGM 100:2008, 4.3.7).
# Rendered, what it explains of a change: corrected paint 0.2 of it, untouched 0.8, smoothed hard 1.2
SEEN_SHARE, SEEN_STRENGTH = 0.6, 0.35
SEEN_TONE = 0.25  # of |ln slope| besides: a curve that works locally differs from place to place

# the least scatter of two photographs of one paint, for one mark a side: variance of ln(density ratio) where
# the lamp's reflection moved far on the paint, and mm within which it comes to that. 280 untouched rendered
# pairs by hand, over their 1/marks before + 1/marks after: 0.01 at 1 mm, 0.03 at 2, 0.11 at 4, 0.18 at 5,
# 0.20 from 6 mm on; maximum likelihood 0.26 and 5.6 mm
MOVED_SHARE, MOVED_MM = 0.3, 5.6

# -- sampling
# weight, points of change (F1): BLOCK_SECTORS 3.1 (0.000); 2 less.
ZONE_POINTS = 500  # of the zone's grid along the picture's longer side: fine enough for an area
BLOCK_SECTORS = 3  # of 36: blocks of 30 degrees, so that most marks stay in one piece
FEW_MARKS = 8  # fewer scatter at least as drawing lots would

# -- one view: a photograph on a grid about its hotspot, on which it is laid on another
# weight, points of change (F1): 25 less.
CELLS_PER_MM = 4.0
CELLS_PER_RADIUS = 32.0  # where no scale is known
NEAR_RADII = 2.5  # hotspot radii; nearer, the halo drowns the paint's own pattern
STEP_CELLS = 2.0  # marks are drawn in steps of about this length
LINE_CELLS, LINE_GAIN = 1.0, 2.5  # standard deviation of the soft lines; √(2π): their height is 1 again
# standard deviations: finer is grain, slower is light, local spread
FINE_CELLS, SLOW_CELLS, SPREAD_CELLS = 1.0, 6.0, 16.0
MOST_SPREADS = 3.0  # of that spread, either way, that a cell counts
COVERED_FROM, COVERED_CELLS = 0.05, 2  # of a line's height that covers the paint, and cells about it
HIDDEN_FROM, HIDDEN_CELLS = 0.02, 3  # share outside the zone, or clipped, that spoils a cell; cells about it
LEAST_SEEN = 1e-3  # of the weight of a Gaussian's reach; below, a mean is of nothing
PATTERN_LEAST_CELLS = 100  # beside the hotspot
SMOOTH = 1e-3  # spread of log light under which there is no pattern, only rounding
DARK_FLOOR = 2e-4  # linear light; below one code of an 8-bit picture a logarithm only shows noise
HALF_CELLS = 240  # of the grid, each way from the hotspot; 60 mm
PX_PER_CELL = 2.5  # of the copy that grids are made from
FINGERPRINT_HALF = 120  # cells each way from the hotspot that tell a copy of a file from another shot
PLACE_BLOCK = 8  # cells; side of the blocks in which changes of a copy are counted
# cells that two fingerprints share; mean square of a block with a pattern, in units of the local spread; and
# correlation from which two blocks are alike
FINGERPRINT_LEAST, PATTERNED, BLOCK_ALIKE = 1000, 0.25, 0.5

# -- laying one on the other
# weight, points of change (F1): 17 less.
ALIGN_SURE, SURE_TEXTURE = 2.0, 2.5  # height of a correlation's peak over the next best place: marks, paint
PLAIN_SURE = 3.0  # so sure at the scales as given that others need not be tried
MIN_PEAK = 8.0  # over the spread of the surface
MIN_PIECES = 6  # marks on each side
SEARCH_CELLS = 100  # shift of the paint against the hotspot, 25 mm
TURNS_DEG = tuple(float(turn) for turn in range(-10, 11))  # of a hand that holds the camera
SCALES = (0.94, 0.96, 0.98, 1.0, 1.02, 1.04, 1.06)  # of one set-up
WIDE_SCALES = tuple(round(0.80 + 0.02 * step, 2) for step in range(21))  # of any
# steps about the best of those at full resolution: turns, scales, turns once more; and the room they need
FINE_TURNS_DEG, FINEST_TURNS_DEG = (-0.75, -0.5, -0.25, 0.0, 0.25, 0.5, 0.75), (-0.125, 0.0, 0.125)
FINE_SCALES, FINE_ROOM = (-0.015, -0.01, -0.005, 0.0, 0.005, 0.01, 0.015), (1.0, 0.02)
HALVING_CELLS = 0.8  # standard deviation of the blur before every other cell is left out
PEDESTAL_CELLS = 4.0  # arcs about a hotspot correlate broadly wherever they lie; a place is a sharp peak
SAME_PEAK_CELLS = 8  # a second peak nearer than that is the first
RADIUS_APART = 1.15  # hotspot's radius over that of the set-up profile, either way: beyond, it is told

# -- halo
# weight, points of change (F1): another warning or refusal by HALO_SMOOTH; 21 less.
HALO_RINGS = 30
HALO_FROM, HALO_REACH = 0.5, 6.0  # hotspot radii
RING_LEAST_PX, RING_MOST_CLIPPED = (
    50,
    0.02,
)  # px of a ring that tells its light; share whose light is not known
STEPS_PER_RADIUS = 40  # of the pixels that are looked at, a thousand and more a ring
FAR_SHARE = 0.2  # outermost share of the rings that shows the paint itself
HALO_GRID = 80  # radii at which two halos are held against each other
HALO_LEAST, HALO_FAR_SHARE = 5, 0.1  # radii that say anything; outermost share of them that both halos end in
HALO_SMOOTH = 5  # radii, running mean of the step between two halos
ABOVE_FAR = 6.0  # the halo's shape is read where it is this many times brighter than the light far out
RIM_LOG2, DARK_LOG2 = -1.4, -8.0  # log2 of light: above, the lamp burns out; below, noise
DARK_LINEAR = 1e-3  # three codes of an 8-bit picture: below, a tint is a rounding error
NEAR_LOG2 = (-1.0, -3.0)  # log2 of light: between, the lamp's own image outshines haze and paint
LEAST_NEAR = 3  # of those radii that lie between, to read exposure and slope there
HAZE_ONE_WAY = 0.9  # of the radii beyond, at which haze that came or went changes the light one way
HAZE_QUANTILE = 0.9  # of those radii, held to HAZE_MOST_STOPS: a single ring is easily off
USUAL_SLOPE = 0.6  # fall of ln(density) with ln(limit); rendered, before and after correction: 0.57 to 0.62
SLOPE_ENDS = (0.3, 1.5)  # of what one photograph is believed to say of that slope

# -- outline of a lamp, by its Fourier ordinates
# weight, points of change (F1): another warning or refusal by OUTLINE_MEDIAN, OUTLINE_PEAK; 11 less.
OUTLINE_LEVELS = (0.7, 0.6, 0.5, 0.4)  # of the brightest light
MOST_LIGHTS = 8  # more of them on a ring melt into a disc
BULGE_SHARE = 0.65  # rendered single lamps reach 0.50; by Fisher 1 in 1000 of ten even ordinates
LEAST_BULGE = 0.025  # of the radius
OUTLINE_PX_PER_RADIUS, OUTLINE_REACH_RADII, OUTLINE_AZIMUTHS = 40, 4, 180
OUTLINE_PERIODS = (3, 12)  # bulges on the way round; once and twice come from the centre and curved panels
OUTLINE_MEDIAN, OUTLINE_BLUR, OUTLINE_PEAK = 5, 1.0, 0.98  # window; standard deviation; quantile of all rays

# -- which photographs show one place (several files at once)
# weight, points of change (F1): 7 less.
LIKENESS_SIDE_PX = 320  # the longer side of the small pictures
BROAD_PX = 12.0  # what is broader is light, not paint
MOST_DETAIL = 4.0  # times what is usual around it, either way, that a px counts
LAMP_SHARE, LAMP_MARGIN_PX = 0.9, 25  # of the brightest; what is left out round it
# The five sample panels, lamp moved, before against after: the same place 24 to 61, another one 9 to 18.
CLEAR_PEAK, CLEAR_LEAD = 15.0, 1.3  # over the scatter of all shifts; over the next best place

# -- the same mark in both photographs
# weight, points of change (F1): 9 less.
SAME_MARK_MM = 0.35  # between centrelines of one groove, pose and pixels allowed for
SAME_MARK_PARTS = 20.0  # the same as part of a hotspot's radius, where no scale is known
MIN_PAIRS = 4  # of marks that are the same, to say anything of focus
SAME_MARK_SHARE = 0.5  # of the after mark's points
SAME_LINE_MM = 0.2  # between points of one line
NEAR_STANDARD_STEPS = 0.4  # |ln| of a mark's strength, mean of both photographs, over the standard
STEADY_MARKS = 15  # lines that have to lie on each other to say how much stronger they look
# spread of ln(W, after over before) of such marks: untouched paint 0.2 to 0.5, corrected 1 and more
# (rendered, and the development set)
STEADY_SPREAD = 0.75
GRAIN_LEAST_BLOCKS = 40

# -- figures and intervals
# weight, points of change (F1): LEVEL 9 (0.000), SECTORS 3.4 (0.000), RING_WIDTH_RADII 0.86 (0.000); 12 less.
LEVEL = 0.95  # of an interval
RESAMPLES = 2000  # draws of the bootstrap
SECTORS = 36  # of 10 degrees about the hotspot
RING_WIDTH_RADII = 0.5  # hotspot radii; rings in which density is taken to depend on distance alone
PANEL_SPOTS = 3  # from which a change is said of the panel, not of spots
MIN_SHOTS, GOOD_SHOTS = 3, 5  # of one untouched spot, for a set-up profile
REPEAT_SECTORS = 12  # as many as the comparison has independent blocks
LEAST_COMMON = 0.01  # a few shots may show no common scatter by luck; no set-up has none
ASSUMED_DF = 4.0  # five shots' worth
# of one untouched spot, relative, where nobody ran `repeat`: from five rendered shots with a shaky hand,
# rounded up; a real set-up may be better or worse. Density of all marks and swirls, of few scratches, trails
ASSUMED_DENSITY, ASSUMED_FEW = 0.02, 0.04
ASSUMED_LONGEST, ASSUMED_HAZE, ASSUMED_SCORE = 0.15, 0.05, 0.04
