"""Length of digital lines: the classic estimators' known errors, and ours against theirs."""

import numpy as np
import pytest

from tests.published import chain_codes

ANGLES_DEG = np.arange(0.0, 90.25, 0.75)
# Errors of each estimator over all directions, in percent: mean, lowest, highest, root mean square.
# Pixels, and weights 1 and sqrt 2: integral geometry ("almost 8 %" for the 2:1 line is printed in Saveliev,
# Lengths of Digital Curves, Part 3). Kulpa 1977, Vossepoel and Smeulders 1982: coefficients from memory, the
# errors follow from them.
KNOWN_ERRORS = {
    chain_codes.pixel_count: (-9.97, -29.3, 0.0, 13.3),
    chain_codes.freeman: (5.48, 0.0, 8.24, 6.01),
    chain_codes.kulpa: (-0.01, -5.2, 2.6, 2.33),
    chain_codes.corner_count: (-0.01, -2.0, 1.0, 0.71),
}


def errors_percent(estimate, *, length_px=4000.0):
    errors = []
    for angle in ANGLES_DEG:
        chain = chain_codes.digitise((0.137, 0.271), angle, length_px)
        errors.append(100 * (estimate(chain) / chain_codes.true_length_px(chain, angle) - 1))
    return np.array(errors)


@pytest.mark.parametrize("estimate", KNOWN_ERRORS, ids=lambda function: function.__name__)
def test_classic_estimators_have_their_published_errors(estimate):
    errors = errors_percent(estimate)
    figures = (errors.mean(), errors.min(), errors.max(), np.sqrt((errors**2).mean()))
    # 0.15 %: the table is for endless lines in every direction, here 4000 px in steps of 0.75 degrees.
    np.testing.assert_allclose(figures, KNOWN_ERRORS[estimate], atol=0.15)
