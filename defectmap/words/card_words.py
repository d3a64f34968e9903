"""What is printed on and beside the scale card (`panel/card.py`)."""

from __future__ import annotations

PURPOSE = "Gives millimetres to photographs of paint."
WARNING_ON_CARD = "Lay it or tape its edge. Never slide it on paint."

INSTRUCTIONS = (
    "Print at 100 % (actual size); switch off every kind of fitting to the page. Use matt paper.",
    "Check the printer: both rulers on this sheet must measure 100 mm against a steel rule, within 0.5 mm.",
    "Cut the card out along the line and keep it flat: a bent card gives a wrong scale.",
    "Lay it flat on the clean, dry panel, or tape its edge with low-tack tape, close to the place measured.",
    "Never slide it on paint: grit under paper scratches. Put it down and lift it straight off.",
    "Keep all five markers in the photograph and outside the lamp's bright reflection.",
    "Caution: tape can lift fresh or repainted coats; keep to the paint maker's waiting time, try a corner.",
    "Caution: do not look into the lamp or its reflection; keep paper and tape off hot lamps.",
)
