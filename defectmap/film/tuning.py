"""Every constant of film measuring: unit, where it comes from, and what hangs on it.

"Rendered" means: found on films of the project's own renderer (`tests/film`), where the truth is exact.
"""

from __future__ import annotations

# -- reading and choosing frames
# weight, % of density (F1): another warning or refusal by STILL_QUANTILE, DETAIL_QUANTILE; 18 less.
MOST_FRAMES_USED = 60  # lamp places beyond add under 1 % of length (rendered), half a second each at 1080p
MOST_PIXELS_USED = 130e6  # of all frames together: bounds time and memory of 4K films
FEWEST_FRAMES_USED = 6  # below, a film shows hardly more than one photograph
LOOK_WIDTH_PX = 640  # frames are judged on copies about this wide
BLURRED_SHARE = 0.6  # of the fine detail of the frames around: below, the frame was shaken (rendered)
DETAIL_NEIGHBOURS = 7  # frames each way that a frame's detail is held against
DOUBLED_CODES = 0.15  # mean difference of two copies of a frame, codes 0..255; a camera's noise leaves more
STILL_LAMP_RADII = 1.5  # a lamp whose reflection never leaves its own place by more shows no new directions
STILL_QUANTILE = 0.9  # of the lamp's places, held to that
STATIC_CODES = 3  # spread over the film of a pixel that stands still, codes 0..255
MOST_FRAMES_LOOKED = 400  # of a long film, evenly spread
STATIC_SHARE = 0.002  # of the picture: rims of bars and signs on a screen that was recorded
MOST_FILM_BYTES = 4_000_000_000
MOST_FRAMES = 36_000  # ten minutes of 60 a second; a sweep of the lamp takes 20 seconds
MOST_FILM_S = 300.0  # a sweep takes 10 to 20 s; every frame of a longer film would have to be decoded
MOST_FRAME_MEGAPIXELS = 9.0  # 4K
DETAIL_QUANTILE = 0.99  # of the difference of neighbouring pixels: the fine detail of a frame
SHARP_CODES = 40  # from one pixel to the next: the rim of a sign

# -- registration
# weight, % of density (F1): TANGENT_PX 1.6 (0.003), BUNDLE_REACHES_PX 1.1 (0.003), CHAIN_STEPS 0.98 (0.002),
# LINE_STEP_PX 0.92 (0.004), LINE_SPREAD_PX 0.76 (0.002), BUNDLE_NEIGHBOURS 0.59 (0.001), CHAIN_FAR_REACHES
# 0.53 (0.001), WIDER_STEPS 0.53 (0.001); 58 less.
LINE_STEP_PX = 5  # of a line between the points that are matched
LEVER_PX = 20.0  # two lines at right angles count as 40 px apart, at 5 degrees as 3.5
CHAIN_FRAMES = 8  # frames before that a new one is laid on
CHECK_FRAMES = 24  # frames about it that a doubtful one is held against when all are there
COARSE_PX, WIDE_COARSE_PX = 4, 8  # cell of the pictures that are correlated, from frame to frame and afar
FILM_REACH_MM, FILM_TURNS_DEG = 5.0, (-1.0, -0.5, 0.0, 0.5, 1.0)  # of a hand, from one frame used to the next
FILM_STEP_MM = 1.0  # spread of a hand's shift from one frame used to the next; shaky ones (rendered) have 4
FAST_REACH_MM, FAST_TURNS_DEG = 16.0, tuple(float(turn) for turn in range(-5, 6))  # of a hand that slips
# Two places for one frame are told apart by the lines that meet there, in logarithms of odds against as many
# meetings by chance (`confirming.odds`)
POINTS_OF_A_LINE = 10.0  # so many points, 5 px apart, speak as one line
TENTATIVE_ODDS = 1.5  # a frame is laid at its likeliest place from here on; `confirming` has the last word
LEAST_ODDS = 8.0  # e^8 : 1 against chance, as some thousand places are tried
CLEAR_ODDS = 3.0  # 20 to 1 for the better place; below, a frame is tried again when more others are laid
MOST_CHANCE = 0.98  # either share, so that odds stay finite
LEAST_CHANCE = 0.04  # of points that meet by chance: of few lines that counts a handful (other fields: 0.03)
LAID_WRONG_PX, LAID_WRONG_TIMES = (40.0, 90.0), 3  # how far frames are laid wrong on purpose, and how often
CONFIRM_POINTS = 15_000  # of all frames, that are asked whether they meet others
LEAST_BRIDGE = 8.0  # lines' worth of points, beyond chance, that both sides of any cut through a film share
# Or so large a share of all pairs over the cut, where the two frames beside it share nothing: a tail laid
# 152 px wrong (rendered) had 0.03 of its pairs, the same film laid rightly 0.19 and more
BRIDGE_PAIRS = 0.1
WIDE_REACH_MM, WIDE_TURNS_DEG = 25.0, tuple(float(turn) for turn in range(-10, 11))  # from photo to photo
WIDE_SCALES = (0.92, 0.96, 1.0, 1.04, 1.08)
CLOSE_PX = 2.0  # a point this near to a line of the map lies on it
# Of the lines of two frames, that they have to share to hold each other: the best of thousands of wrong
# places reaches 0.08 in densely marked paint, frames next to each other share 0.2 and more (rendered)
LEAST_SHARED, OVER_CHANCE = 0.12, 3.0
LAY_POINTS = 1_000  # of a frame, that are slid onto others; more only cost time, see BUNDLE_POINTS
LEAST_POINTS = 25  # of lines in a frame, 5 px each; fewer cannot reach the odds below
LEFT_AT_ONCE = 0.3  # of the frames that are not sure, before the others are asked again
FEW_POINTS = 400  # of lines in a frame: with more they tell its place by themselves, or it is another's
WANDERING_ROUNDS = 3  # in which frames of few lines are laid by the likeliest way of the hand
GROWING_ROUNDS = 8  # in which frames left out are held against all that lie
SAID_PX = 2.5  # of doubt where the first frame lies among the others, from which on it is told
POINTS_TO_CONTRADICT = 60  # with so many, a first frame that meets nothing shows another place
ENOUGH_POINTS = 150  # in most frames: with fewer, few marks are why frames do not lie on one another
LINE_SPREAD_PX = 0.3  # how far a groove's light lies beside its middle, by which wall is lit (rendered)
CORRELATED_POINTS = 20.0  # neighbours on a line err alike: so many of them are one observation
# What a hand does between frames, as spread of the map's eight freedoms, in half widths of the picture:
# shifts, scale, turn (free as good as), stretch and shear and two tilts (1.2 degrees at 0.4 m give 0.0025).
HAND_SPREAD = (1.0, 1.0, 0.03, 0.05, 0.003, 0.003, 0.003, 0.003)
# From one frame of a film to the next, where the frames themselves show less
STILL_HAND_SPREAD = (0.003, 0.003, 0.001, 0.001, 0.0005, 0.0005, 0.0005, 0.0005)
PLACED_BY_HAND_SPREAD = (1.0, 1.0, 0.2, 0.3, 0.03, 0.03, 0.03, 0.03)  # photographs: each taken anew
MOST_GUESSES, APART_CELLS = 4, 3  # places tried for a frame, and how far apart they are
RIVAL = 0.55  # of the highest meeting: a place lower than this is no rival
SOFT_CELLS = 1.2  # blur of the lines that are correlated
CROWDED = 0.15  # of a soft line's height: several lines on one cell count no more than one
# reach px, freedoms fitted (4: shift, turn, scale; 8: all), rounds
CHAIN_STEPS = ((16.0, 4, 3), (10.0, 4, 3), (5.0, 4, 3), (3.0, 8, 4))
CHAIN_FAR_REACHES = 1.5  # times as far a match is sought
FEWEST_MATCHES = 12  # points of a frame on lines of others, to fit anything
CHAIN_STARTS = 2  # frames tried as the beginning of a chain, should those before fit nothing; then later ones
CHAIN_SPREAD = (0.25, 0.5, 0.75)  # of all frames, where those others stand
CHAIN_ENOUGH = 0.6  # of all frames: then no other beginning is tried
ELSEWHERE_PX = tuple((dx, dy) for dx in (-90, 50, 90) for dy in (-70, 40))  # where a fit is by chance alone
END_PX, TANGENT_PX = 3, 4  # left out at either end of a line, which smoothing bends; lever of its direction
# Across a line, beyond which a match weighs nothing, in each round (a chain drifts by some px); and how many
# times as far a match is sought
BUNDLE_REACHES_PX, BUNDLE_FAR_REACHES = (8.0, 6.0, 4.0, 3.0, 3.0, 3.0), 2.6
FEWEST_STEPS = 6  # between frames, for their spread to be told
WIDER_STEPS = 1.4826 * 1.5  # the median of a normal spread as its standard deviation; room for quick steps
STILL_PX = 0.03  # that frames still move in a round: then they lie
BUNDLE_NEIGHBOURS = 8  # nearest points of other frames that one is held against
BUNDLE_POINTS = 40_000  # of all frames; more only cost time, as neighbours on a line err alike
WORST_FRAME_PX = 4.0  # that a frame may lie beside its place
JUDGED_POINTS = (9, 7)  # across and down a picture, at which a place is judged
HELD_PX = 2.0  # one standard deviation of its place, half of that: above, a frame could lie farther off

# -- joining
# weight, % of density (F1): SAME_LINE_PX 8.2 (0.009), PIECE_STEP_PX 4.6 (0.006), TAIL_POINTS 2 (0.003),
# JOIN_LEVER_PX 1.8 (0.001), DIP_MM 1.6 (0.003), COVER_MARGIN_PX 0.61 (0.002), CENTRING_ROUNDS 0.51 (0.001); 7
# less.
SAME_LINE_PX = 2.5  # across
JOIN_LEVER_PX = 12.0  # 6 degrees apart count as 2.5 px
GAP_PX = 4.0  # between the end of a line and what goes on from it
CLEAR_CONTRAST_TO_NOISE = 20.0  # above, more contrast makes a piece no better
PIECE_STEP_PX = 2  # between points kept of a piece
FEWEST_SHARED = 3  # points that a piece and the end of a line have in common
TAIL_POINTS = 6  # of a line, by which what goes on from it is found
ENDLESS = 400  # pieces on one line: a ring would be followed for ever
COVER_MARGIN_PX = 0.5  # beyond SAME_LINE_PX, within which a piece is a part of the line
SMOOTH_PX, CENTRING_ROUNDS = 9, 1  # points that a joined line is smoothed over; moves onto the light

# Dips so short, as long as the shortest mark, are filled in a line's strength where at least so much is seen
DIP_MM, DIP_UM = 1.0, 30.0
LEAST_WIDTH_MM = 1e-3  # that a mark's strength is spread over

# -- directions
# weight, % of density (F1): LIT_ALONG_RADII 0.95 (0.002), LIT_TO_RADII 0.81 (0.004); 7 less.
DIRECTION_BINS = 18  # 10 degrees each
ENOUGH_DIRECTIONS = 0.8  # in a ninth of the picture; below, the next sweep is told where to go (own choice)
CELL_MM = 2.5  # of the grid that directions are kept on
# A groove of the standard lights along ± so many hotspot radii about the foot of the perpendicular from the
# lamp's reflection, and at such distances aside of it (half of them or more: rendered, see directions.py).
LIT_ALONG_RADII = 1.5
LIT_FROM_RADII, LIT_TO_RADII = 1.0, 4.0
# Share of a groove's strength at its best lamp place that a lamp so far aside shows, its foot on the spot;
# and how far along the groove that falls to 1/e (mean over the grooves of 113 rendered films)
SHOWN_ASIDE_RADII = (0.5, 1.0, 1.25, 1.75, 2.25, 2.75, 3.5, 4.5, 6.0, 8.0)
SHOWN_ASIDE = (0.0, 0.005, 0.03, 0.31, 0.58, 0.69, 0.62, 0.39, 0.17, 0.05)
SHOWN_ALONG_RADII = 1.05

# -- zone and fused light
# weight, % of density (F1): LEAST_CONTRAST 2.9 (0.006), ZONE_FRAMES 2.3 (0.000), ZONE_STEP 1.6 (0.000),
# BRIGHTEST_BESIDE 1.1 (0.004), LIT_MARGINS_RADII 0.93 (0.003), REREAD_SIGMAS 0.83 (0.002), REREAD_MM 0.78
# (0.001); another warning or refusal by BROKEN_OFF_SHARE; 14 less.
ZONE_STEP = 4  # px between points of the zone kept of a frame
ZONE_FRAMES = 2  # frames that must have lit a place before marks count there
FUSED_WIDTH_PX = 1280
GLINT_FLOOR = 0.01  # linear light; paint darker than this shows noise
GLINT_CODES, GLINT_BEND = 72.0, 0.35  # codes for a unit of asinh; where linear turns to logarithmic
CARD_FRAMES = 8  # frames in which the scale card is sought
CARD_MARGIN_MM = 8.0  # about the card, where no lamp is sought, as the hand moves
LEAST_USED_SHARE = 0.3  # of the frames measured: with fewer that fit, the film shows several places
FEW_DIRECTIONS = 0.5  # share of all directions below which a better sweep is asked for
BROKEN_OFF_SHARE = 0.98  # of the frames that the header says; readers miscount by one or two
LIT_MARGINS_RADII = (0.5, 0.1, 2.0)  # beyond LIT_ALONG, LIT_FROM, LIT_TO: a frame is still asked about a line
# linear light beside a line: close to the lamp orange peel ripples like marks, and another lamp place shows
# the same groove from afar. One rendered film of heavy peel: precision 0.89 without a limit, 0.92 at 0.15,
# which cost two others 2 % of recall; 0.3 lies between and was not tried there
BRIGHTEST_BESIDE = 0.3
LEAST_CONTRAST = 3.2  # noise of a pixel; sixty frames gather false lines, another frame shows the faint ones
REREAD_MM = 1.5  # that a line is followed beyond its ends
BRIGHTNESS_STEPS = 12  # classes of brightness for which it is read
FEWEST_POINTS = 8  # of a line that a frame is asked about
FRAME_BORDER_PX = 6  # along a frame, where nothing is read
REREAD_SIGMAS = 2.0  # of the scatter beside the lines, of a single look: below, a reading is nothing
QUIET_MM = 0.9  # beside a line, where that scatter is read
DARKEST = 5e-4  # linear light; darker places scatter like this

# -- two films
# weight, % of density (F1): another warning or refusal by SAME_LAMP_RATIO; 16 less.
SURE_OVERLAY = 2.5  # times as many lines meet as by chance; films of different panels reach 1.3 (rendered)
LEAST_LINES = 6  # with marks in either film; two or three straight lines meet anywhere
LEAST_SHOWN = 0.2  # of a groove's best strength, by the best lamp place of either film (see SHOWN_ASIDE)
SAME_MARK_PX = 5.0  # beside a line of the other film: the places of two films err by some px
FRAME_GROUPS = 10  # of interleaved frames, left out one after another
MOST_TIMES = 3.0  # that a line is told as stronger than filmed: beyond, it is too faint to have been found
# Shares of the variance by frames left out, by marks at the limit, and by what the sweeps' own paths make of
# the ratio; and what two sweeps differ by besides, as spread of the logarithm of a ratio: by maximum
# likelihood from 115 pairs of rendered films (`benchmarks/film_pairs.py`, scenes below 2100)
OF_FRAMES, OF_GAINS, OF_SWEEPS, FILM_SCATTER = 0.5, 1.0, 1.7, 0.027
# Of the frames measured, that lie on one another: fewer need care, and fewer still allow no figure, as marks
# of the others' lamp places are missing (rendered: with 0.38 and 0.6 after a correction the change read 16
# and 12 points too large)
LYING, LEAST_LYING = 0.75, 0.5
SHARED_DIRECTIONS = 0.5  # of all places and directions, shown by both films: fewer need care
LEAST_SHARED_DIRECTIONS = 0.2  # and fewer than these allow no figure
SAME_LAMP_RATIO = 1.25  # of the hotspots' radii on the panel
OVERLAY_STEP_PX = 6  # between points of lines that are laid on each other
