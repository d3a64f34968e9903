"""What is to be said, as data: a code and its values. Sentences are made of it at the edge, for one audience.

A part of the core says `Remark(code="underexposed", values={"share": 0.4})`; the tables of this package hold
the sentence of each code, and `sentence` fills it in. Nothing is ever read out of a sentence again.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from string import Formatter
from typing import Any, Literal

from defectmap.words.writer import ENGLISH, Writer

MOST_DIGITS = 6  # after the point, where a figure is told apart from its limit
Value = str | int | float | bool | None
Audience = Literal["customer", "page", "terminal"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Remark:
    """A code, and the values that its sentence needs; numbers in plain units, texts as a person gave them."""

    code: str
    values: Mapping[str, Value] = field(default_factory=dict)

    def record(self) -> dict[str, Any]:
        """As result files hold it."""
        return {"code": self.code, "values": dict(self.values)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Wording:
    """The sentence of a code, and what each audience is told to do about it.

    All three parts are `str.format` templates of the remark's values. Who reads a report can do nothing, so a
    customer gets `says` alone.
    """

    says: str
    page: str = ""  # what to do, on the pages
    terminal: str = ""  # what to do, at the command line


Table = Mapping[str, str | Wording]


def sentence(
    remark: Remark, table: Table, *, audience: Audience = "terminal", writer: Writer = ENGLISH
) -> str:
    """The sentence of a remark.

    Parameters
    ----------
    remark : Remark
        What is to be said.
    table : mapping
        Sentence of each code; a plain string is the same for everybody.
    audience : {"terminal", "page", "customer"}, optional
        Who reads it.
    writer : Writer, optional
        Language and number style.

    Raises
    ------
    KeyError
        The table has no such code, or the remark lacks a value of the sentence.

    Examples
    --------
    >>> table = {"assumed": Wording(says="It is assumed.", terminal="Run `defectmap repeat` to know it.")}
    >>> sentence(Remark(code="assumed"), table)
    'It is assumed. Run `defectmap repeat` to know it.'
    >>> sentence(Remark(code="assumed"), table, audience="customer")
    'It is assumed.'
    """
    wording = table[remark.code]
    values = {name: _worded(value, writer) for name, value in remark.values.items()}
    if isinstance(wording, str):
        return writer.tell(wording, **told_apart(wording, values))
    do = {"page": wording.page, "terminal": wording.terminal, "customer": ""}[audience]
    return " ".join(writer.tell(part, **told_apart(part, values)) for part in (wording.says, do) if part)


class _Finer(float):
    """A number that is written with as many digits as it was given, whatever a template says."""

    digits: int

    def __format__(self, spec: str) -> str:
        del spec
        return f"{float(self):.{self.digits}f}"


def told_apart(template: str, values: Mapping[str, Value]) -> dict[str, Value]:
    """Values as they are; those that rounding would make look like their limit get the digits they need.

    Parameters
    ----------
    template : str
        `str.format` template; what its name begins with "limit" is a limit.
    values : mapping
        Of its fields.

    Examples
    --------
    >>> template = "{error:.1f} % off (limit {limit:.1f} %)"
    >>> template.format(**told_apart(template, {"error": 1.532, "limit": 1.5}))
    '1.53 % off (limit 1.5 %)'
    >>> template.format(**told_apart(template, {"error": 1.6, "limit": 1.5}))
    '1.6 % off (limit 1.5 %)'
    """
    specs = {name: spec for _, name, spec, _ in Formatter().parse(template) if name and spec}
    limits = [
        (float(value), float(format(value, specs[name])))
        for name, value in values.items()
        if name.startswith("limit") and name in specs and isinstance(value, int | float)
    ]
    found = dict(values)
    for name, value in values.items():
        if name in specs and not name.startswith("limit") and isinstance(value, float):
            for limit, shown in limits:
                if value != limit and float(format(value, specs[name])) == shown:
                    found[name] = _finer(value, shown)
    return found


def _finer(value: float, shown: float) -> float:
    finer = _Finer(value)
    finer.digits = next((n for n in range(1, MOST_DIGITS) if round(value, n) != shown), MOST_DIGITS)
    return finer


def _worded(value: Value, writer: Writer) -> Value:
    """A value in the writer's language where it is one of the few words that rules use."""
    if not isinstance(value, str):
        return value
    return {
        "before": writer.tell("before"),
        "after": writer.tell("after"),
        "brighter": writer.tell("brighter"),
        "darker": writer.tell("darker"),
        "fainter": writer.tell("fainter"),
        "only stronger": writer.tell("only stronger"),
    }.get(value, value)


def kept_sentences(
    details: Sequence[Mapping[str, Any]] | None,
    table: Table,
    *,
    kept: Sequence[str],
    audience: Audience = "terminal",
    writer: Writer = ENGLISH,
    shown: Callable[[str], str] = str,
) -> tuple[str, ...]:
    """Sentences of the remarks in a result file, each once.

    Parameters
    ----------
    details : sequence of mapping, or None
        `code` and `values` of each, as the file holds them.
    table : mapping
        Sentence of each code.
    kept : sequence of str
        The sentences that the file holds; used as they are where a code is missing or from another version.
    audience, writer
        See `sentence`.
    shown : callable, optional
        What is made of words in the values, and of kept sentences: names may be hidden or made plain.
    """
    if details is None or any(one.get("code") not in table for one in details):
        return tuple(dict.fromkeys(filter(None, map(shown, kept))))
    said = []
    for one in details:
        values = {k: shown(v) if isinstance(v, str) else v for k, v in (one.get("values") or {}).items()}
        remark = Remark(code=one["code"], values=values)
        said.append(sentence(remark, table, audience=audience, writer=writer))
    return tuple(dict.fromkeys(said))
