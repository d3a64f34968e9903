"""Every figure that measuring a photograph rests on: its unit, what it does, where it is from, its weight.

Source, where a line names none: chosen on panels of this project's renderer (`tests/phantom`), whose marks
are known.
Weight, under each heading: how far density (and F1) moves at most when a constant is moved by 20 % either
way, on two rendered photographs of 14 px per mm and two samples of 16, before and after a correction
(`benchmarks/sensitivity.py`); "less" is under 0.5 % and 0.01. What moves nothing there guards pictures that
it is not like: a card, gaps, dust, noise, blur, other lights, finer scales; each has its tests.

Not here: geometry of the printed card (`card.py`), colour spaces (`photo/colour.py`), and the limits on
strangers' files (`photo/head.py`, `photo/apart.py`).
"""

from __future__ import annotations

# -- scale
# weight, % of density (F1): 23 less.
MIN_PX_PER_MM, MAX_PX_PER_MM = 0.5, 500.0  # outside, a pixel is 2 mm wide or 2 µm small: no photograph
TYPICAL_PX_PER_MM = 20.0  # of photographs whose scale is unknown: sets windows, never a length
TILT_LIMIT_DEG = 10.0  # a length along the tilt shrinks by 1.5 % there; one scale no longer fits the picture
DISAGREEMENT_LIMIT = 0.05  # of the given scale from the card's, before it is told
MIN_MARKERS = 3  # of the card; below, the tilt and the scale away from the card are rough
CARD_SEARCH_SIDE_PX = 1600  # longer side of the thinned picture: 0.3 mm cells of a 0.5 m wide view still show
# px of the thinned picture; OpenCV's own 3 takes half as long again and found, in 180 drawn views of 5 to 18
# px/mm, blurred, tilted and noisy, 817 markers against 816
CARD_LEAST_WINDOW_PX = 13
CARD_MARGIN_MM = 3.0  # masked about the card: cut edge, shadow and tape
CARD_WIDE_APART_MM = 50.0  # three markers in a row or more
CARD_MOST_RESIDUAL = 0.04  # of a marker's side; above, these markers do not lie on one flat card
CARD_CORNER_NOISE_PX = 0.3  # of a marker's corner as it is found
CARD_MOST_INK_MM = 0.3  # that ink spreads; more is no printer
CARD_MASK_PX = 15  # window that widens the card where no lamp is sought: its blurred edge
CARD_REACH_CELLS, CARD_REACH_PX = 0.7, 2.5  # across a marker's edge, and at least; its border is 1 cell wide
CARD_EDGE_FEET = (0.12, 0.88, 32)  # share of an edge from and to which profiles are taken, and how many
CARD_EDGE_ENDS, CARD_EDGE_ODD_PX = 5, 1.5  # part of a profile that is all black or white; farther off is dirt
# Where EXIF is silent, focal length as share of the diagonal: a phone's main lens is about 26 mm of 43
# (common practice, no source), others half to a few times that; the spread is of its logarithm.
USUAL_FOCAL, FOCAL_SPREAD = 0.6, 0.5
FOCAL_TRIES, FOCAL_NEAR = (0.35, 4.0, 25), (0.9, 1.1, 9)  # of the diagonal, of the best: from, to, how many

# -- noise of a pixel: the unit in which light is compared (see `noise`)
# weight, % of density (F1): 9 less.
FULL_WELL_E, READ_NOISE_E = 6000.0, 3.0  # electrons at ISO 100: a phone's pixel of 1 µm, from memory
BASE_ISO = 100.0
NOISE_BLOCK_PX = 16  # side of the blocks that scatter is read in
NOISE_BANDS = 24  # rows of such blocks that are looked at, spread over the picture
SHADOW, HIGHLIGHT = 0.003, 0.5  # linear light; beyond, steps of the file or clipping hide the noise
HIGH_GAIN, TOO_SMOOTH = 16.0, 0.1  # ISO over 100; grain over what the sensor's model gives at it

# -- lamp
# weight, % of density (F1): CORE_LEVEL 0.56 (0.013); another warning or refusal by PEAK_QUANTILE, SATURATED,
# SECOND_ROUND, BACKGROUND_MEDIAN_BLOCKS; 31 less.
OVERVIEW_PX = 400  # longer side of the copy that the lamp is sought on
OVERVIEW_BLUR_PX, PEAK_QUANTILE = 1.5, 0.9995  # of that copy: grain is no lamp; the brightest light
CONTOUR_LEVELS = (0.9, 0.75, 0.6, 0.45)  # of the brightest light; the centre is the mean over these contours
CORE_LEVEL = 0.9  # of the brightest light: the lamp's core
LEAST_PEAK = 0.2  # linear light; a reflection of a lamp is brighter in any usable exposure
LEAST_FALL = 0.5  # of the peak that may be left two core radii on
FALL_RADII, FALL_RING = (0.8, 2.0, 6.0), (0.9, 1.1)  # core radii: halo, LEAST_FALL, MOST_FAR; rings there
SATURATED = 0.9  # linear light from which a lamp counts as burnt out; underexposed below
# A lamp that does not saturate leaves paint dark: the coat mirrors 4 % of its radiance, the widest lobe has
# fallen to 0.08 six core radii on, and white paint sends back some hundredth of the mirrored light.
MOST_FAR = 0.15  # of the peak, six core radii on
# Haze of the coat and glare of the lens surround a lamp: with at least 0.04 on rendered panels. White paper,
# a label among them, has no such halo.
LIT_GROUND, LEAST_HALO = 0.025, 0.01  # linear light
MOST_BURNT = 0.3  # share of the picture that may be as bright as the hotspot
MOST_RIVALS = 3.0  # area as bright as the lamp over the lamp's own
LEAST_ROUND = 0.35  # blob area over the area of the circle around it
CLUSTER_SHARE = 0.15  # of the brightest blob's area that a further LED must have
CLUSTER_REACH = 1.9  # times both radii that it may lie off its neighbour
LEAST_SECOND = 0.03  # linear light of a second lamp's reflection over the halo
SECOND_FROM_RADII, SECOND_LEAST_RADII = 1.5, 0.2  # hotspot radii off its middle, and its own least radius
SECOND_BLUR_BLOCKS, SECOND_ROUND = 2.0, 0.5  # scatter is no lamp; area over that of the square around it
BACKGROUND_BLOCK_PX = 8  # block of the picture without marks
BACKGROUND_MEDIAN_BLOCKS = 5  # 40 px: wider than any mark, narrower than the halo
HAZE_FROM_RADII, HAZE_TO_RADII = 1.2, 4.0  # hotspot radii between which the halo is followed
HALO_RINGS, RING_LEAST_BLOCKS = 64, 4  # that the halo is read in; of a ring
HAZE_RINGS, HAZE_LEAST_RINGS, HAZE_STEPS = 96, 8, 57  # the same for haze; steps of the area under it

# -- grain, and what it hides
# weight, % of density (F1): WHITE_NOISE_QUARTILE 1.5 (0.011), CREST_FROM 1.5 (0.013), SEEN_FROM 0.55 (0.009);
# 10 less.
GRAIN_FLOOR = 0.35  # of a sensor at ISO 100; what looks smoother was smoothed, and its faint marks with it
GRAIN_DARKEST, GRAIN_STEPS = 0.002, 18  # brightness classes: below, and even steps of its logarithm
GRAIN_LEAST_SAMPLES = 300  # of a class that is asked
GRAIN_STEP_PX = 4  # between the px that are asked: filters answer alike to neighbours
# lower quartile of the mean of both answers of `ridges.line_response` on unit white noise; the second with
# `ridges.narrow_bank` (computed: `tests/panel/test_grain.py`)
WHITE_NOISE_QUARTILE, WHITE_NOISE_QUARTILE_NARROW = 0.415, 0.70
MOST_HIDDEN_GAIN = 8.0  # times; denoising and JPEG hide so much: a rendered ISO 1600 file reads as 600
SEEN_FROM = 1.25  # times the scatter that the middle of a line must stand out along 1 mm
LINE_AREA_PX = 2.2  # px; area over height of a fine line in focus: a Gaussian of 0.9 px, 0.9 √(2π)
CREST_FROM = 2.8  # times the lower quartile of the filters' answers on grain, from where a crest is followed
CREST_SHARE = 0.4  # of the contrast asked for in any case (films): up to 0.5 no line is lost, at 0.75 2 %
DARKEST_AROUND = 1e-4  # linear light; a contrast is over no less

# -- zone
# weight, % of density (F1): BRIGHTEST_SURROUND 0.65 (0.017); 3 less.
BRIGHTEST_SURROUND = 0.55  # linear light; above, a mark of 100 µm at 20 px per mm has no room to stand out
BORDER_PX = 6  # along the frame, where filters see no line whole
CORE_MARGIN_PX = 7  # beyond the lamp's core
# µm; the zone ends where a mark must be stronger than that to show along 1 mm: about half of the length of
# standard marks is, and what is longer than 1 mm shows earlier. A smaller figure takes in less of noisy
# pictures, and so nearer to the lamp, where density is higher: other zone, other figure for one paint
ZONE_UM = 300.0

# -- crests, and lines along them
# weight, % of density (F1): TRACING_PX_PER_MM 3.3 (0.021), KERNEL_ALONG_PX 1.5 (0.016), KERNEL_ACROSS_PX 1.3
# (0.017), KERNEL_HALF_PX 1.2 (0.032), LINE_SD_PX 1.2 (0.004), KERNEL_WIDE 0.97 (0.009), LOBE_NEAR_PX 0.64
# (0.004), SMOOTH_PX 0.62 (0.004), KERNEL_RIM_PX 0.6 (0.007), LOBE_SHARE 0.55 (0.005); 24 less.
TRACING_PX_PER_MM = 11.0  # lines are traced on a copy of about this scale: they stand out more, sooner
MAX_TRACING_MEGAPIXELS = 6.0  # of that copy where the scale is unknown
KERNEL_ACROSS_PX, KERNEL_ALONG_PX, KERNEL_HALF_PX = 1.5, 3.0, 5  # Gaussians of a line filter, and its radius
KERNEL_RIM_PX, KERNEL_WIDE = 0.3, 2.2  # soft rim of its disc; times as wide, where curving light is taken out
NARROW_ACROSS_PX, NARROW_HALF_PX = 1.0, 4  # the same on copies of half size or less, where lines are finer
LINE_SD_PX = 0.95  # of the line that a filter answers with its amplitude
LOBE_SHARE = 0.6  # of a stronger line of the other polarity close by
LOBE_NEAR_PX, LOBE_NEAR_COPY_PX = 3, 9  # window in which it is close by, at full size and on a copy
NEIGHBOUR_TURN_DEG, NEIGHBOUR_ASIDE_PX = 30.0, 1.2  # that a crest may turn and step from point to point
NEIGHBOUR_AHEAD_PX, SHORTEST_CHAIN = 0.3, 4  # that the next point lies ahead at least; points of a chain
NEIGHBOUR_PRICES = (2.0, 2.0)  # px of distance that a px aside costs, and a radian of turn
SURE_CHAIN = 1.12  # of the threshold, on average along a chain: below, noise that just got over it
GAP_PX, LEAST_GAP_PX = 40.0, 12.0  # widest gap bridged, at full size; and at least so much on any copy
# rounds of bridging: share of that gap, points that an end's direction is read from, degrees that it may
# turn, share of the shortest path that is kept
BRIDGES = ((0.2, 8, 25.0, 0.4), (0.6, 20, 15.0, 0.7), (1.0, 30, 10.0, 1.0))
BRIDGE_LEAST_PX, BRIDGE_BACK_PX = 6.0, 3.0  # gap in any round; that ends may lie behind each other
BRIDGE_ASIDE, BRIDGE_PRICES = (1.5, 0.1), (4.0, 20.0)  # px aside, more for each px of gap; prices as above
SHORTEST_PATH_MM = 0.7
CENTRE_HALF_PX, CENTRE_MOST_PX = 5, 3  # across a line, where its middle is sought, and that it may move
CENTRE_ALONG_PX, CENTRE_SMOOTH_PX = 15, 9  # along it, for the light and for the shift
SMOOTH_PX, SMOOTH_COPY_PX = 9, 5  # bell-shaped window along a line, at full size and on a copy
BEND_LEAST_POINTS = 5  # fewer have no radius

# -- light across a line
# weight, % of density (F1): THREE_PIXEL_SHARE 1.5 (0.026), ALONG_PX 0.86 (0.008), BESIDE_PX 0.72 (0.013),
# MOST_LOPSIDED 0.56 (0.002); another warning or refusal by HALF_PROFILE_PX, BEYOND_PX; 4 less.
HALF_PROFILE_PX = 11  # samples on each side
BESIDE_PX, BEYOND_PX = (3, 6), (8, 11)  # surround of the line, and of the surround
ALONG_PX = 9  # that they are averaged along
MOST_LOPSIDED = 2.5  # mean of both sides over the weaker one; a slope of light leaves less
WIDTH_SAMPLES, WIDTH_HALF_PX = 60, 6  # along a line, more make its width no surer; on each side of it
THREE_PIXEL_SHARE = 0.65  # mean of the three middle pixels over the peak, for lines of a focused camera

# -- which lines are marks
# weight, % of density (F1): SIGNIFICANT_PX 1.3 (0.000), EXTEND_PX 1.2 (0.004), SIGNIFICANCE 1.1 (0.002),
# CONTRAST_WINDOW_MM 0.66 (0.017); 15 less.
LEAST_LENGTH_MM, LEAST_LENGTH_PX = 1.0, 15  # of a mark
CONTRAST_WINDOW_MM = 1.4  # running median along a line
LEAST_WINDOW_PX = 15  # of that window: with fewer, grain makes gaps
TRACED_SHARE = 0.8  # of the least length that must have been traced, not extended
SIGNIFICANCE, SIGNIFICANT_PX = 2.5, 20.0  # contrast over texture, times the root of the length in so many px
SLIM_PX = 3.8  # wider lines must be longer: ripples of orange peel are short and wide
LENGTH_PER_WIDTH = 80.0  # px of length for each px of width beyond
EXTEND_PX, EXTEND_LEVER_PX = 20, 20  # followed beyond where the filters fade; steps that give the direction
REMNANT = 2.0  # least lengths; between lines that cross, and at ends, short false pieces are left
OWN_STRIP_PX, LOBE_STRIP_PX = 5, 7  # along a line, where another of its polarity, or of the other, is no line
PAINT_STEP_PX = 6  # between corners of a strip: the tightest mark leaves such a chord by a tenth of a pixel
JOINT_PX = 35  # a line that ends in another's strip for longer is a part of that line there
CROSSING_PX = 70  # lines that share a strip for longer cross at less than about 6 degrees: one line there
SURE_CONTRAST = 3.0  # noise of a pixel; fainter lines are not asked for width or direction
TIGHT_RING_MM = 4.5  # radius; lines bent tighter are pieces of rings

# -- strength of a mark
# weight, % of density (F1): STANDARD_UM 13 (0.006), SIDE_MM 10 (0.020), HALF_CORE_MM 1.1 (0.018),
# STANDARD_LENGTH_MM 1 (0.022), ACROSS_STEP_MM 0.81 (0.019), FAINTEST_UM 0 (0.011); 2 less.
STANDARD_UM = 100.0  # µm of equivalent width; marks at least so strong count (DESIGN, part 2)
STANDARD_LENGTH_MM = 1.0  # mm along which a mark must be so strong, and window of its running median
SPECTRUM_UM = (50, 100, 200, 400)  # µm; the strengths at which a density is told
FAINTEST_UM = 25.0  # µm; half of the weakest strength told: fainter lines are not listed
HALF_CORE_MM = 0.2  # mm on each side of a line that its light is summed over
SIDE_MM = (0.25, 0.45)  # mm from a line, where the light beside it is read
ACROSS_STEP_MM = 0.05  # mm between samples across a line
DARKEST_BESIDE = 5e-4  # linear light; below, steps of an 8-bit file hide what paint sends

# -- sharpening by a phone (see `sharpening`)
# weight, % of density (F1): 16 less.
# depth of the dark lobe over the line's height, less its doubt, from where sharpening is taken back, and in
# full: pictures as taken reach 0.01, sharpened ones 0.024 to 0.15 (rendered, four paints, 10 to 28 px per mm)
LOBE_DEPTH = (0.015, 0.03)
LOBE_REACH_PX = 10  # of the profile to each side
LOBE_PX, LOBE_FINE_PX = (1.5, 4.0), 0.25  # from the line, and step of the fit
# from the line; farther than parallel marks lie apart, or their gaps pass for lobes
LOBE_GROUND_PX = (7.0, 20.0)
LOBE_LEAST_LINES, LOBE_MOST_LINES = 12, 150  # that make a median; the longest are taken
LOBE_LEAST_PX = 20  # length of such a line
LOBE_OWN_PX = 3.0  # what lies farther is another line
LOBE_CROWDED = 0.5  # share of a line along which another may lie; those of more are left out
LOBE_POINTS = 40  # of each: its median profile
LOBE_LEAST_HEIGHT = 0.02  # of full code: 5 steps of an 8-bit file
LOBE_LEAST_DOUBT = 0.01  # of the line's height: lines are not quite Gaussian
LOBE_REACH_SD = 7.0  # standard deviations of the mask that the filter back reaches
# bounds of the fit: px of the line before sharpening, amount and px of the mask
LINE_SD, MASK_AMOUNT, MASK_SD_PX = (0.3, 4.0), (0.0, 3.0), (0.8, 4.0)
MASK_STARTS = ((0.9, 1.0, 1.2), (0.9, 0.7, 2.2))  # of the fit, a narrow and a wide mask; the better is kept

# -- length that neighbours hide (see `hidden`)
# weight, % of density (F1): HIDING_STRIP_MM 2.1 (0.000), HIDING_CELL_MM 0.98 (0.000); 4 less.
# across a stronger line, where a weaker one is not found: the line filter reaches 4 px to each side
# (NARROW_HALF_PX), on a copy of 11 px a mm
HIDING_STRIP_MM = 0.7
HIDING_REACH_MM = 3.0  # around a line, where the share of such strips is taken
HIDING_CELL_MM, HIDING_CLASSES = 0.1, 16  # grid; classes of strength
MOST_HIDDEN = 0.6  # share; denser surroundings say no more
CROWDED = 0.15  # share of the length counted that was inferred; told from there on

# -- kinds of marks
# weight, % of density (F1): 11 less.
BENT_MM, STRAIGHT_MM = 100.0, 300.0  # radius: below, never a scratch; above, as good as straight
SCRATCH_MM2 = 3000.0  # length times radius of bend, see `kinds.kind_of`
TRAIL_LEAST_MM = 5.0  # shorter lines take no part in trails
TRAIL_BESIDE_MM, TRAIL_ABREAST_MM = 5.0, 0.75  # how far aside, and ahead or behind, a companion may run
TRAIL_PARALLEL_DEG = 3.0
TRAIL_TOGETHER = 0.5  # share of the shorter line's length along which two run together
TRAIL_CORE, TRAIL_RIM = 7, 2  # companions of a line amid a trail; those of them beside a line at its border
TRAIL_GROWTH = 3  # how many times a border may grow

# -- edges of gaps, tape and trim, and what no lamp here could light
# weight, % of density (F1): EDGE_SIDE_PX 1.6 (0.002), NEAR_TANGENT_DEG 1.5 (0.007); 13 less.
EDGE_LENGTH_MM, EDGE_RADIUS_MM = 5.0, 100.0  # an edge is at least so long, and so straight
EDGE_LOG_STEP = 0.4  # natural log of the light on one side over the other
EDGE_SIDE_PX = 5  # outermost samples of a profile on each side
EDGE_BAND_MM = 1.0  # half width of what is taken out of the zone
LONG_EDGE_MM = 20.0  # longer edges are carried on beyond their ends
PARTNER_DEG, PARTNER_MM = 2.5, 12.0  # the other lip of a gap
NEAR_TANGENT_DEG = 46.0  # off the tangent round the lamp; lit grooves stay within on path-traced panels
RADIAL_DEG = 65.0  # beyond, no groove: room for curved paint (DESIGN; Bosch et al. 2004, Raymond et al. 2016)
FEW_LINES = 10  # fewer bright lines say nothing of directions
CROWD_CELL_MM = 4.0  # side of a cell; a place is three cells wide
CROWD_MM_PER_CM2 = 3.0  # of lines beyond NEAR_TANGENT_DEG
CROWD_CELLS = 6  # fewest cells that make a crowd, about 1 cm² beyond the first
CROWD_SHARE = 0.3  # of all bright lines there; on rendered panels 0.1, at random 0.5

# -- dust and rings
# weight, % of density (F1): 12 less.
DUST_CONTRAST = 8.0  # times the grain that a speck's core stands out
DUST_AROUND_MM, DUST_ALONE = 5.0, 7.0  # dust is this many times stronger than what is usual so far around it
DUST_STRONG = 20.0  # contrast to noise beyond which a speck counts no more into what is usual
DUST_LEAST_MM, DUST_MOST_MM = 0.15, 3.0  # diameter
# px of the least dust on its copy; blurs there, whose difference passes dust and stops broad ripples of peel
DUST_KEPT_PX, DUST_BLURS_PX = 1.5, (0.8, 2.5)
DUST_ROUND = 0.45  # area over that of the box around it; a disc fills 0.79
DUST_CLEAR_MM = 0.4  # distance from a mark within which a bright point belongs to the mark
RING_TURN_DEG = 120.0  # of a circle that must show before arcs count as one ring
SAME_RING_MM = 0.6  # between the centres of arcs of one ring

# -- finish score: weights are a choice (common practice, no source), see `finish.finish_score`
# weight, % of density (F1): 5 less.
SWIRL_HALF, SCRATCH_HALF = 12.0, 3.0  # mm/cm² that halve a perfect score; scratches catch the eye sooner
LONGEST_HALF_MM = 60.0  # the longest scratch that halves it
SPOT_HALF_PER_CM2 = 1.0  # water spots that halve it
DENSITY_RING_MM = 5.0  # width of a ring about the hotspot for which a density is told

# -- shadows that were lifted: slope of ln(grain over a sensor's) against ln(light)
# weight, % of density (F1): 4 less.
# rendered as taken -0.04 to 0.7, strongly flaked paint -0.15 to -0.2; tone mapped locally -0.12 to -0.43,
# nearer to 0 where the picture is noisy or the paint white: not seen there
LIFTED_SLOPE = -0.22
SLOPE_CLASS = 0.35  # of ln(light): half a stop
SLOPE_LEAST_BLOCKS, SLOPE_LEAST_CLASSES = 20, 5  # of a class; classes that make a slope

# -- refusals and warnings
# weight, % of density (F1): 38 less.
LEAST_ZONE, SMALL_ZONE = 0.03, 0.25  # share of the picture: below, refused and warned
SOFT_PX, BLURRED_PX = 4.0, 5.0  # full width of the median line; a focused phone draws 2 to 3 px
FEW_MARKS = 2  # fewer have no median width
LINES_TO_JUDGE_MM = 10.0  # of lines before their width says anything
FOCUSED_MM = 80.0  # so much of fine lines settles that a photograph is in focus
COARSE_SHRINK = 4  # lines are sought once more on a copy this many times smaller
# mm of a line on that copy before it says anything; steady ripples of peel are shorter
COARSE_LONG_MM = 12.0
WANDER_MM = 0.05  # off the parabola through a line: a scratch keeps to it, a ripple of peel does not
STEADY_SHARE = 0.5  # of the long lines must keep to their curve
SHARP_SHARE = 0.25  # of that length must have been found at full size as well
# edges of the printed card: px that a step is taken over, share of the full step, points to judge by
EDGE_WINDOW_PX, EDGE_STEP, EDGE_LEAST_POINTS = 15, 0.6, 50
EDGE_MARGIN_PX, EDGE_CREST_PX = 9, 5  # windows: kept off the card's rim; in which an edge is the steepest
EDGE_FULL_QUANTILE = 0.98  # of the steps on the card: the full one, between black and white
ROUND_SHARE, LEAST_ROUND_SHARE = 0.75, 0.62  # of bright length near the tangent: below, warned and refused
MOST_TEXTURE = 0.6  # of the zone; with more of it texture, the picture shows no panel
# what repeats itself (`pattern`): half of the squares have at most 0.01 of their power in sharp peaks on 130
# rendered photographs of paint, 0.02 on 192 with tape, gaps and a reflected door, and at least 0.10 on drawn
# cloth and tiles. Squares' side and ground in px, periods a side looked at, width of a sector, times that a
# peak stands above its ring and sector, squares each way and at least
PATTERN_SIDE_PX, PATTERN_GROUND_PX, PATTERN_PERIODS = 128, 49, (5, 58)
PATTERN_SECTOR_DEG, PATTERN_PEAK = 10, 12.0
PATTERN_ALONG_RAY = (0.8, 1.25)  # times the frequency, where nothing of a peak may be left
PATTERN_ACROSS, PATTERN_LEAST_SQUARES = 6, 6
PATTERN_DARKEST, PATTERN_MOST = 1e-3, 0.5  # linear light that is divided by; most of relative light
PATTERN_GRID_PERIODS = 1.5  # about the harmonics of JPEG's blocks, which are left out
MOST_REPEATING = 0.08
OFF_CENTRE = 0.3  # distance of the hotspot from the middle, over the shorter side
FAR_PX_PER_MM = 8.0  # below, and where TYPICAL_PX_PER_MM would show the standard, the camera was too far away
DARK_PAINT, LOW_GAIN = 0.004, 4.0  # linear light; ISO over 100: more exposure would help
ROUGH_GRAIN = 2.5  # times the scatter of a sensor: flakes, not noise, where the file tells a low ISO
