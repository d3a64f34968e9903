"""What is to be said, as data: a code and its values. Sentences are made of it at the edge, for one audience.

A part of the core says `Remark(code="underexposed", values={"share": 0.4})`; the tables of this package hold
the sentence of each code, and `sentence` fills it in. Nothing is ever read out of a sentence again.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

from defectmap.words.writer import ENGLISH, Writer

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
        return writer.tell(wording, **values)
    do = {"page": wording.page, "terminal": wording.terminal, "customer": ""}[audience]
    return " ".join(writer.tell(part, **values) for part in (wording.says, do) if part)


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
