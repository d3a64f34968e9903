"""What no measurement of this kind can support, and the rules of advertising that hold in many places."""

from __future__ import annotations

from dataclasses import dataclass

from defectmap.words.writer import Writer


@dataclass(frozen=True, slots=True, kw_only=True)
class Statement:
    """One sentence, whether it is supported, and why."""

    words: str
    supported: bool
    why: tuple[str, ...]


def rules(writer: Writer) -> tuple[str, ...]:
    """Rules of advertising, with a source each."""
    return (
        writer.tell(
            "Advertising rules differ by place and change. Check those that hold where you advertise, or ask "
            "somebody who is licensed to advise on them, before you publish. This sheet is no legal advice."
        ),
        writer.tell(
            "Many places ask that proof of an objective claim is in your hands before it is published: keep "
            "this sheet, the full report and the unchanged photographs (for example the US Federal Trade "
            "Commission's policy statement on advertising substantiation of 1984, and rule 3.7 of the UK's "
            "CAP Code)."
        ),
        writer.tell(
            "Pictures are claims too: same light, same place, nothing retouched, and no better than what is "
            "usual."
        ),
        writer.tell(
            "A sentence can be true and still mislead (for example EU Directive 2005/29/EC, article 6): do "
            "not drop the conditions, and do not set it in smaller print than the percentage."
        ),
    )


def never(writer: Writer) -> tuple[Statement, ...]:
    """Sentences that are never supported, each with the reason."""
    pairs = (
        (
            writer.tell(
                "All scratches and swirl marks removed. A flawless, perfect or 100 % corrected finish."
            ),
            writer.tell(
                "Marks too faint to count, and those that point at the lamp, are not in the figures: nothing "
                "can show that there are none."
            ),
        ),
        (
            writer.tell("It lasts. It stays swirl-free."),
            writer.tell("Nothing here was measured weeks or months later, and washing makes new marks."),
        ),
        (
            writer.tell("Without taking any paint. Safe for your clear coat."),
            writer.tell("Polishing takes clear coat; a gauge for the whole film does not show how much."),
        ),
        (
            writer.tell("Measured to a standard. Certified. Independently tested."),
            writer.tell("The method follows no standard, and whoever did the work took the photographs."),
        ),
    )
    return tuple(Statement(words=words, supported=False, why=(why,)) for words, why in pairs)
