"""What is to be said, as data: a code and its values. Sentences are made of it at the edge, for one audience.

A part of the core says `Remark(code="underexposed", values={"share": 0.4})`; the tables of this package hold
the sentence of each code, and `sentence` fills it in. Nothing is ever read out of a sentence again.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from string import Formatter
from typing import Any, Literal, TypeAlias

from defectmap.words.writer import ENGLISH, Writer

# what comes of values that are not those of the sentence
UNSAYABLE = (KeyError, ValueError, TypeError, ArithmeticError, AttributeError, IndexError)
MOST_DIGITS = 6  # after the point, where a figure is told apart from its limit
Value: TypeAlias = "str | int | float | bool | Remark | tuple[Remark, ...] | None"
Audience = Literal["customer", "page", "terminal"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Remark:
    """A code, and the values that its sentence needs.

    Numbers are in plain units, texts as a person gave them; a part that has to be worded itself is a remark.
    """

    code: str
    values: Mapping[str, Value] = field(default_factory=dict)

    def record(self) -> dict[str, Any]:
        """As result files hold it."""
        return {"code": self.code, "values": {name: _recorded(one) for name, one in self.values.items()}}


def _recorded(value: Value) -> Any:
    if isinstance(value, tuple):
        return [one.record() for one in value]
    return value.record() if isinstance(value, Remark) else value


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
    values = {name: _worded(one, table, audience, writer) for name, one in remark.values.items()}
    if isinstance(wording, str):
        return writer.tell(wording, **told_apart(wording, values, writer=writer))
    do = {"page": wording.page, "terminal": wording.terminal, "customer": ""}[audience]
    parts = (part for part in (wording.says, do) if part)
    return " ".join(writer.tell(part, **told_apart(part, values, writer=writer)) for part in parts)


class _Written(str):
    """A number that is written already, whatever a template says."""

    def __format__(self, spec: str) -> str:
        del spec
        return str(self)


Told = str | int | float | None


def told_apart(template: str, values: Mapping[str, Told], *, writer: Writer = ENGLISH) -> dict[str, Told]:
    """Values as they are; those that rounding would make look like their limit get the digits they need.

    Parameters
    ----------
    template : str
        As `Writer.tell` takes it; what its name begins with "limit" is a limit.
    values : mapping
        Of its fields.
    writer : Writer, optional
        Of the shop.

    Examples
    --------
    >>> template = "{error:.1f} % off (limit {limit:.1f} %)"
    >>> ENGLISH.tell(template, **told_apart(template, {"error": 1.532, "limit": 1.5}))
    '1.53 % off (limit 1.5 %)'
    >>> ENGLISH.tell(template, **told_apart(template, {"error": 1.6, "limit": 1.5}))
    '1.6 % off (limit 1.5 %)'
    """
    specs = {name: spec for _, name, spec, _ in Formatter().parse(template) if name and spec}
    shown = {
        name: _number(writer.written(values[name], spec))
        for name, spec in specs.items()
        if isinstance(values.get(name), int | float)
    }
    limits = {name: number for name, number in shown.items() if name.startswith("limit")}
    found = dict(values)
    for name, number in shown.items():
        for limit, limit_number in limits.items():
            if isinstance(values[name], float) and values[name] != values[limit] and number == limit_number:
                for digits in range(1, MOST_DIGITS + 1):
                    pair = [_finer(values[one], specs[one], digits, writer) for one in (name, limit)]
                    if _number(pair[0]) != _number(pair[1]):
                        break
                found[name] = pair[0]
                if _number(pair[1]) != limit_number:  # in another unit a round limit is round no more
                    found[limit] = pair[1]
    return found


def _finer(value: Told, spec: str, digits: int, writer: Writer) -> _Written:
    """A value as its format writes it, but with so many digits after the point."""
    unit = re.sub(r"^[^a-z%]*[efg]?(?= |%|$)", "", spec)  # " film", "%" or nothing
    return _Written(writer.written(value, f".{digits}{'' if unit == '%' else 'f'}{unit}"))


def _number(words: str) -> float:
    """What a reader takes a written figure for."""
    return float(words.split(" ")[0].replace(",", "."))


def _worded(value: Value, table: Table, audience: Audience, writer: Writer) -> str | int | float | None:
    """A value as the sentence takes it: words of the trade in the writer's language, remarks in words."""
    if isinstance(value, Remark):
        return sentence(value, table, audience=audience, writer=writer)
    if isinstance(value, tuple):
        return writer.listed([sentence(one, table, audience=audience, writer=writer) for one in value])
    return writer.term(value) if isinstance(value, str) else value


def kept_sentences(
    details: Sequence[Mapping[str, Any]] | None,
    table: Table,
    *,
    kept: Sequence[str],
    audience: Audience = "terminal",
    writer: Writer = ENGLISH,
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
    """
    as_kept = tuple(dict.fromkeys(filter(None, kept)))
    if details is None or any(one.get("code") not in table for one in details):
        return as_kept
    said = []
    for one in details:
        try:
            remark = Remark(code=one["code"], values=one.get("values") or {})
            said.append(sentence(remark, table, audience=audience, writer=writer))
        except UNSAYABLE:  # another version meant something else by this code
            return as_kept
    return tuple(dict.fromkeys(said))
