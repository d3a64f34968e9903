"""A change with its interval, drawn on a line on which no change is marked."""

from __future__ import annotations

from defectmap.words.changes import signed

# About as wide as a phone shows it, so that words keep their size there.
WIDTH, HEIGHT, MARGIN = 420.0, 84.0, 34.0
LIGHT = {"ink": "#16202c", "line": "#6b7682", "bar": "#1d4e89"}
DARK = {"ink": "#f1f4f7", "line": "#9aa5b1", "bar": "#8fc1f5"}


def interval_svg(percent: float, low: float, high: float, *, dark: bool = False) -> str:
    """Draw a change in percent with the ends of its 95 % interval.

    Parameters
    ----------
    percent, low, high : float
        Below 0 is fewer marks. An end beyond the axis is drawn at its edge with an arrow head.
    dark : bool
        For a dark page.

    Examples
    --------
    >>> "no change" in interval_svg(-71, -77, -64)
    True
    """
    look = DARK if dark else LIGHT
    least, most = axis(low, high)
    middle = 44.0

    def x(value: float) -> float:
        inside = min(max(value, least), most)
        return MARGIN + (inside - least) / (most - least) * (WIDTH - 2 * MARGIN)

    ticks = "".join(
        f'<path d="M{x(at):.1f} {middle - 4}v8" stroke="{look["line"]}"/>'
        f'<text x="{x(at):.1f}" y="{middle + 24}" text-anchor="middle" font-size="14" fill="{look["ink"]}">'
        f"{_tick_words(at)}</text>"
        for at in range(int(least), int(most) + 1, _step(most - least))
    )
    arrows = "".join(
        f'<text x="{x(end):.1f}" y="{middle + 6}" text-anchor="middle" font-size="18" fill="{look["bar"]}">'
        f"{sign}</text>"
        for end, beyond, sign in ((low, low < least, "◄"), (high, high > most, "►"))
        if beyond
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:.0f} {HEIGHT:.0f}" '
        'font-family="system-ui, sans-serif">'
        f'<path d="M{MARGIN} {middle}H{WIDTH - MARGIN}" stroke="{look["line"]}"/>{ticks}'
        f'<line x1="{x(0):.1f}" y1="{middle - 24}" x2="{x(0):.1f}" y2="{middle + 10}" stroke="{look["ink"]}" '
        'stroke-width="2"/>'
        f'<line x1="{x(low):.1f}" y1="{middle}" x2="{x(high):.1f}" y2="{middle}" stroke="{look["bar"]}" '
        'stroke-width="10" stroke-linecap="round" stroke-opacity="0.55"/>'
        f'<circle cx="{x(percent):.1f}" cy="{middle}" r="8" fill="{look["bar"]}"/>'
        f'<text x="{x(percent):.1f}" y="18" text-anchor="middle" font-size="18" font-weight="700" '
        f'fill="{look["ink"]}">{signed(percent)} %</text>{arrows}</svg>'
    )


def axis(low: float, high: float) -> tuple[float, float]:
    """Ends of the axis: from -100, never cut at the top below what the interval reaches, but at +200.

    Examples
    --------
    >>> axis(-77, -64), axis(-20, 60), axis(-50, 900)
    ((-100.0, 25.0), (-100.0, 75.0), (-100.0, 200.0))
    """
    del low  # a density cannot fall by more than all of it
    top = 25.0 * -(-max(high, 1.0) // 25)
    return -100.0, min(200.0, top if top > high else top + 25.0)


def _step(span: float) -> int:
    """Percent from tick to tick, so that their words keep apart."""
    return next((step for step, most in ((25, 125), (50, 225)) if span <= most), 100)


def _tick_words(value: int) -> str:
    return "no change" if value == 0 else f"{signed(value)} %"
