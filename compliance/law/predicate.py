"""Predicates of rules: a small grammar, parsed once, answered in three values.

::

    or      := and ("or" and)*
    and     := not ("and" not)*
    not     := "not" not | compare
    compare := sum [("<" | "<=" | ">" | ">=" | "==" | "!=") sum]
             | sum ["not"] "in" (list | name)
    sum     := product (("+" | "-") product)*
    product := unary (("*" | "/") unary)*
    unary   := "-" unary | atom
    atom    := number | text | "True" | "False" | name | "(" or ")"
             | ("abs" | "min") "(" or ("," or)* ")"
    list    := "[" (number | text) ("," (number | text))* "]"
    name    := ("b" | "i" | "p" | "t" | "v") "." word

Anything else is refused when the rules are read, with its column.
"""

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Literal

from compliance.law import nodes
from compliance.law.values import Kind, LawError, is_date

LONGEST = 1_000
MOST_TOKENS = 200
DEEPEST = 20

_TOKEN = re.compile(
    r"""\s*(?:
    (?P<number>\d+(?:\.\d+)?)
    | (?P<text>'[^'\\\n]*')
    | (?P<name>[biptv]\.[A-Za-z][A-Za-z0-9_]*)
    | (?P<word>[A-Za-z_]+)
    | (?P<sign><=|>=|==|!=|[-+*/<>()\[\],])
    )""",
    re.VERBOSE,
)
_WORDS = {"and", "or", "not", "in", "True", "False", "abs", "min"}
_COMPARES = {"<", "<=", ">", ">=", "==", "!="}

TypeOf = Callable[[str], "Declared | None"]


@dataclass(frozen=True, slots=True)
class Declared:
    """What the registry says of a name: its type, and the texts it may hold."""

    kind: Kind
    choices: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Predicate:
    """A parsed predicate and the names it speaks of, in their order."""

    text: str
    root: nodes.Node
    names: tuple[str, ...]

    def answer(
        self, values: Mapping[str, object], missing: set[str] | None = None
    ) -> bool | None:
        """
        Answer true, false, or None for unknown.

        Parameters
        ----------
        values : Mapping of str to object
            Facts by name. One that is absent, None, or not of its declared type is
            unknown; nothing in here is ever raised about.
        missing : set of str, optional
            Gets the names that the answer hangs on when it is unknown.

        Returns
        -------
        bool or None
            In Kleene's logic: false and unknown is false, true or unknown is true.
        """
        return nodes.truth(
            self.root.value(values, set() if missing is None else missing)
        )


def parse(text: str, declared: TypeOf) -> Predicate:
    """
    Parse a predicate.

    Parameters
    ----------
    text : str
        At most 1,000 characters, 200 tokens, nested 20 deep.
    declared : callable
        Gives the declared type of a name, None for a name nobody knows.

    Returns
    -------
    Predicate
        Its answer is a truth value.

    Raises
    ------
    LawError
        With the column where it stops making sense.
    """
    if len(text) > LONGEST:
        raise LawError(f"predicate is longer than {LONGEST} characters", column=LONGEST)
    reader = _Reader(text, _tokens(text), declared)
    root = reader.whole()
    return Predicate(text, root, tuple(reader.names))


@dataclass(frozen=True, slots=True)
class _Token:
    sort: Literal["number", "text", "name", "word", "sign", "end"]
    text: str
    column: int


def _tokens(text: str) -> list[_Token]:
    found: list[_Token] = []
    at, end = 0, len(text.rstrip())
    while at < end:
        match = _TOKEN.match(text, at)
        if match is None:
            column = at + len(text[at:]) - len(text[at:].lstrip()) + 1
            raise LawError(f"cannot read {text[column - 1]!r}", column=column)
        sort = match.lastgroup
        assert sort is not None
        column = match.start(sort) + 1
        word = match.group(sort)
        if sort == "word" and word not in _WORDS:
            raise LawError(f"{word!r} is no word of the grammar", column=column)
        found.append(_Token(sort, word, column))  # type: ignore[arg-type]
        at = match.end()
        if len(found) > MOST_TOKENS:
            raise LawError(f"has more than {MOST_TOKENS} parts", column=column)
    found.append(_Token("end", "the end", len(text) + 1))
    return found


@dataclass(frozen=True, slots=True)
class _Part:
    """A parsed part: its node, its type, and where it starts."""

    node: nodes.Node
    kind: Kind
    column: int
    choices: tuple[str, ...] = ()
    literal: bool = False


class _Reader:
    """One pass over the tokens, checking types on the way."""

    def __init__(self, text: str, tokens: list[_Token], declared: TypeOf) -> None:
        self.tokens, self.at, self.depth = tokens, 0, 0
        self.declared = declared
        self.names: dict[str, None] = {}

    def whole(self) -> nodes.Node:
        part = self.either()
        if self.next.sort != "end":
            raise self.refuse(f"did not expect {self.next.text!r}")
        return self.truth(part).node

    @property
    def next(self) -> _Token:
        return self.tokens[self.at]

    def take(self, *texts: str) -> _Token | None:
        token = self.next
        if token.sort in ("word", "sign") and token.text in texts:
            self.at += 1
            return token
        return None

    def need(self, text: str) -> None:
        if self.take(text) is None:
            raise self.refuse(f"expected {text!r} instead of {self.next.text!r}")

    def refuse(self, said: str, column: int | None = None) -> LawError:
        return LawError(said, column=self.next.column if column is None else column)

    def truth(self, part: _Part) -> _Part:
        if part.kind not in ("flag", "text") or (part.literal and part.kind == "text"):
            raise self.refuse(f"a {part.kind} is neither true nor false", part.column)
        return part

    def number(self, part: _Part) -> _Part:
        if part.kind != "number":
            raise self.refuse(f"needs a number, not a {part.kind}", part.column)
        return part

    def either(self) -> _Part:
        self.depth += 1
        if self.depth > DEEPEST:
            raise self.refuse(f"is nested more than {DEEPEST} deep")
        part = self.chain("or", self.both)
        self.depth -= 1
        return part

    def both(self) -> _Part:
        return self.chain("and", self.negation)

    def chain(self, word: Literal["and", "or"], inner: Callable[[], _Part]) -> _Part:
        first = inner()
        parts = [first]
        while self.take(word):
            parts.append(inner())
        if len(parts) == 1:
            return first
        joined = tuple(self.truth(p).node for p in parts)
        return _Part(nodes.Chain(word == "or", joined), "flag", first.column)

    def negation(self) -> _Part:
        token = self.take("not")
        if token is None:
            return self.compare()
        self.depth += 1
        if self.depth > DEEPEST:
            raise self.refuse(f"is nested more than {DEEPEST} deep")
        inner = self.truth(self.negation())
        self.depth -= 1
        return _Part(nodes.Not(inner.node), "flag", token.column)

    def compare(self) -> _Part:
        left = self.sum()
        if token := self.take(*_COMPARES):
            right = self.sum()
            self.comparable(left, right, token)
            made: nodes.Node = nodes.Compare(token.text, left.node, right.node)
        elif (token := self.take("not")) or self.next.text == "in":
            self.need("in")
            made = self.membership(left, token is not None)
        else:
            return left
        if self.next.text in _COMPARES:
            raise self.refuse("comparisons cannot be chained")
        return _Part(made, "flag", left.column)

    def comparable(self, left: _Part, right: _Part, token: _Token) -> None:
        for one, other in ((left, right), (right, left)):
            if one.literal and one.kind == "text":
                self.fits(one, other)
                break
        else:
            if left.kind != right.kind or left.kind == "list":
                said = f"cannot compare a {left.kind} with a {right.kind}"
                raise self.refuse(said, token.column)
        if token.text not in ("==", "!=") and left.kind in ("flag", "text", "list"):
            if left.kind == "text" and right.kind == "date":
                return
            raise self.refuse(f"a {left.kind} has no order", token.column)

    def fits(self, literal: _Part, other: _Part) -> None:
        """Refuse a text that the other side can never hold."""
        assert isinstance(literal.node, nodes.Written)
        text = str(literal.node.held)
        if other.kind == "date":
            if not is_date(text):
                raise self.refuse(f"{text!r} is no date", literal.column)
        elif other.kind != "text":
            said = f"cannot compare a {other.kind} with a text"
            raise self.refuse(said, literal.column)
        elif other.choices and text not in other.choices:
            raise self.refuse(f"{text!r} is not among its choices", literal.column)

    def membership(self, left: _Part, negated: bool) -> nodes.Node:
        if self.next.sort == "name":
            held = self.atom()
            if held.kind != "list" or left.kind != "text":
                raise self.refuse("looks for something else than a text", held.column)
            return nodes.In(negated, left.node, held.node)
        self.need("[")
        listed = [self.entry(left)]
        while self.take(","):
            listed.append(self.entry(left))
        self.need("]")
        return nodes.In(negated, left.node, nodes.Written(tuple(listed)))

    def entry(self, left: _Part) -> float | str:
        if self.next.sort not in ("number", "text"):
            raise self.refuse("a list holds numbers or texts")
        part = self.atom()
        if part.kind == "text":
            self.fits(part, left)
        elif left.kind != "number":
            raise self.refuse(f"cannot find a {left.kind} among numbers", part.column)
        assert isinstance(part.node, nodes.Written)
        held = part.node.held
        assert isinstance(held, float | str)
        return held

    def sum(self) -> _Part:
        return self.arithmetic(("+", "-"), self.product)

    def product(self) -> _Part:
        return self.arithmetic(("*", "/"), self.unary)

    def arithmetic(self, signs: tuple[str, ...], inner: Callable[[], _Part]) -> _Part:
        left = inner()
        while token := self.take(*signs):
            right = self.number(inner())
            if token.text == "/" and right.node == nodes.Written(0.0):
                raise self.refuse("divides by zero", right.column)
            left = _Part(
                nodes.Arithmetic(token.text, self.number(left).node, right.node),
                "number",
                left.column,
            )
        return left

    def unary(self) -> _Part:
        token = self.take("-")
        if token is None:
            return self.atom()
        inner = self.number(self.atom())
        zero = nodes.Written(0.0)
        return _Part(nodes.Arithmetic("-", zero, inner.node), "number", token.column)

    def atom(self) -> _Part:
        token = self.next
        if token.sort == "end":
            raise self.refuse("ends too early")
        self.at += 1
        if token.sort == "number":
            literal = nodes.Written(float(token.text))
            return _Part(literal, "number", token.column, literal=True)
        if token.sort == "text":
            quoted = nodes.Written(token.text[1:-1])
            return _Part(quoted, "text", token.column, literal=True)
        if token.sort == "name":
            return self.name(token)
        if token.text in ("True", "False"):
            return _Part(nodes.Written(token.text == "True"), "flag", token.column)
        if token.text in ("abs", "min"):
            return self.call(token)
        if token.text == "(":
            inner = self.either()
            self.need(")")
            return inner
        raise self.refuse(f"did not expect {token.text!r}", token.column)

    def name(self, token: _Token) -> _Part:
        known = self.declared(token.text)
        if known is None:
            raise self.refuse(f"unknown fact {token.text}", token.column)
        self.names[token.text] = None
        node = nodes.Fact(token.text, known.kind, known.choices)
        return _Part(node, known.kind, token.column, known.choices)

    def call(self, token: _Token) -> _Part:
        self.need("(")
        parts = [self.number(self.either())]
        while self.take(","):
            parts.append(self.number(self.either()))
        self.need(")")
        if (len(parts) == 1) != (token.text == "abs"):
            raise self.refuse(f"{token.text} takes another number of values")
        called = nodes.Call(token.text, tuple(p.node for p in parts))
        return _Part(called, "number", token.column)
