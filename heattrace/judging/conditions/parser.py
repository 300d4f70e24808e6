"""Reads the `when` language once into clauses; nothing is ever handed to an interpreter.

when    = clause { ";" clause } .
clause  = "applies if" cond | [side] "lapses if" cond | "agreed if" cond | "requires" cond
        | "alternative" name "of" name | "every" number ("tonnes"|"heats") | side change [ "if" cond ] .
side    = "max" | "min" .
change  = ("+"|"-") expr [ "per" number term ("below"|"above") expr ] [ "to" expr ] | "=" expr [ "to" expr ] .
cond    = conj { "or" conj } .   conj = unit { "and" unit } .
unit    = "not" unit | "(" cond ")" | flag | expr ("<"|"<="|"="|">="|">") expr .
flag    = ("ordered"|"form"|"named"|"specified"|"reported") name { "," name } .
expr    = term { ("+"|"-") term } .   term = factor { ("*"|"/") factor | factor } .
factor  = number | element | formula | "t" | "flange" | "area" | ("max"|"min") "(" element ")"
        | ("least"|"greatest") "(" expr { "," expr } ")" | "(" expr ")" .
name    = word | '"' text '"' .
"""

from __future__ import annotations

import re
from functools import lru_cache

from heattrace.errors import FormulaError
from heattrace.judging.conditions.clauses import (
    Agreed,
    Alternative,
    Applies,
    Arithmetic,
    Change,
    Clause,
    Computed,
    Condition,
    Content,
    Either,
    Every,
    Expression,
    Extreme,
    Flag,
    Lapses,
    Not,
    Number,
    Printed,
    Relation,
    Requires,
    Sampled,
    Size,
    Trade,
)
from heattrace.judging.conditions.scanner import PLAIN, SIDES, SIZES, WORD, ConditionUnreadable, Scanner
from heattrace.judging.requirement import FORMS
from heattrace.metallurgy.elements import ALIASES
from heattrace.metallurgy.quantity import FORMULA_ALIASES, LIMIT_FORMULAS, element_symbol

FLAGS = ("ordered", "form", "named", "specified", "reported")
RESERVED = frozenset(
    (*SIDES, *FLAGS, *SIZES, "if", "applies", "lapses", "agreed", "requires", "alternative", "of", "every", "tonnes",
     "heats", "per", "below", "above", "to", "and", "or", "not", "least", "greatest")
)  # fmt: skip

_NUMBER = re.compile(r"\d+(?:\.\d+)?")
_QUOTED = re.compile(r'"([^"]+)"')
_RELATION = re.compile(r"<=|>=|<|>|=")


@lru_cache(maxsize=1024)
def parse_when(text: str) -> tuple[Clause, ...]:
    """Read a `when` cell; an empty one has no clause.

    Raises
    ------
    ConditionUnreadable
        It is not of the language.

    Examples
    --------
    >>> parse_when("max + 0.005 if form long")
    (Change(side='max', sign='+', by=Number(text='0.005'), trade=None, to=None, \
condition=Flag(kind='form', names=('long',))),)
    """
    if not text.strip():
        return ()
    reader = _Reader(text)
    clauses = [reader.clause()]
    while reader.take(";"):
        clauses.append(reader.clause())
    reader.end()
    return tuple(clauses)


class _Reader(Scanner):
    """Reads one `when` cell from left to right."""

    def clause(self) -> Clause:
        word = self.word_ahead()
        if word in SIDES:
            return self.side_clause(self.keyword(*SIDES))
        first = self.keyword("applies", "lapses", "agreed", "requires", "alternative", "every")
        if first == "alternative":
            name = self.name()
            self.keyword("of")
            return Alternative(name, self.name())
        if first == "every":
            number = self.number().text
            return Sampled(number, self.keyword("tonnes", "heats"))
        if first == "requires":
            return Requires(self.condition())
        self.keyword("if")
        condition = self.condition()
        if first == "applies":
            return Applies(condition)
        return Lapses(None, condition) if first == "lapses" else Agreed(condition)

    def side_clause(self, side: str) -> Clause:
        if self.word_ahead() == "lapses":
            self.keyword("lapses")
            self.keyword("if")
            return Lapses(side, self.condition())
        sign = next((s for s in "+-=" if self.take(s)), None)
        if sign is None:
            raise self.fault('+, -, = or "lapses if"')
        by, trade, to, condition = self.expression(), None, None, None
        if sign != "=" and self.word_ahead() == "per":
            self.keyword("per")
            step, term = self.number(), self.term()
            below = self.keyword("below", "above") == "below"
            trade = Trade(step, term, below, self.expression())
            if float(step.text) == 0:
                raise ConditionUnreadable(f'"{self.text}": a trade per {step.text} has no steps')
        if self.word_ahead() == "to":
            self.keyword("to")
            to = self.expression()
        if self.word_ahead() == "if":
            self.keyword("if")
            condition = self.condition()
        return Change(side, sign, by, trade, to, condition)

    def condition(self) -> Condition:
        parts = [self.conjunction()]
        while self.word_ahead() == "or":
            self.keyword("or")
            parts.append(self.conjunction())
        return parts[0] if len(parts) == 1 else Either(tuple(parts))

    def conjunction(self) -> Condition:
        parts = [self.unit()]
        while self.word_ahead() == "and":
            self.keyword("and")
            parts.append(self.unit())
        return parts[0] if len(parts) == 1 else Every(tuple(parts))

    def unit(self) -> Condition:
        self.deeper()
        try:
            word = self.word_ahead()
            if word == "not":
                self.keyword("not")
                return Not(self.unit())
            if word in FLAGS:
                return self.flag(self.keyword(*FLAGS))
            return self.relation_or_bracket()
        finally:
            self.depth -= 1

    def flag(self, kind: str) -> Flag:
        names = [self.name()]
        while self.take(","):
            names.append(self.name())
        if kind in ("specified", "reported"):
            names = [self.symbol(name) for name in names]
        unknown = [name for name in names if kind == "form" and name not in FORMS]
        if unknown:
            raise ConditionUnreadable(f'"{self.text}": "{unknown[0]}" is no form; known: {", ".join(FORMS)}')
        return Flag(kind, tuple(names))

    def relation_or_bracket(self) -> Condition:
        """A bracket may open a condition or an expression: what follows its end tells."""
        start = self.at
        try:
            left = self.expression()
            found = self.match(_RELATION)
            if found is None:
                raise self.fault("<, <=, =, >= or >")
            return Relation(left, found[0], self.expression())
        except ConditionUnreadable:
            self.at = start
            if not self.take("("):
                self.at = start
                self.expression()
                raise
            inside = self.condition()
            self.need(")")
            return inside

    def expression(self) -> Expression:
        left = self.term()
        while True:
            sign = next((s for s in "+-" if self.take(s)), None)
            if sign is None:
                return left
            left = Arithmetic(sign, left, self.term())

    def term(self) -> Expression:
        left = self.factor()
        while True:
            sign = next((s for s in "*/" if self.take(s)), None)
            if sign is None and not self.factor_ahead():
                return left
            left = Arithmetic(sign or "*", left, self.factor())

    def factor_ahead(self) -> bool:
        word = self.word_ahead()
        if word:
            return word not in RESERVED or word in (*SIDES, *SIZES, "least", "greatest")
        return self.peek() == "(" or self.peek().isdigit()

    def factor(self) -> Expression:
        self.deeper()
        try:
            if self.peek().isdigit():
                return self.number()
            if self.take("("):
                inside = self.expression()
                self.need(")")
                return inside
            return self.named_factor(self.word_ahead())
        finally:
            self.depth -= 1

    def named_factor(self, word: str) -> Expression:
        if word in SIDES:
            self.keyword(*SIDES)
            self.need("(")
            inside = Printed(word, self.symbol(self.plain_word()))
            self.need(")")
            return inside
        if word in ("least", "greatest"):
            self.keyword(word)
            self.need("(")
            several = [self.expression()]
            while self.take(","):
                several.append(self.expression())
            self.need(")")
            return Extreme(word, tuple(several))
        if word in SIZES:
            self.keyword(*SIZES)
            return Size(word)
        if not word or word in RESERVED:
            raise self.fault("a number, an element, a formula, t, flange or area")
        if FORMULA_ALIASES.get(word, word) in LIMIT_FORMULAS:
            self.match(WORD)
            return Computed(FORMULA_ALIASES.get(word, word))
        return Content(self.symbol(self.plain_word()))

    def plain_word(self) -> str:
        """An element's name: a hyphen is a minus sign but in the two spellings of aluminium that carry one."""
        word = self.word_ahead()
        found = self.match(WORD if word in ALIASES else PLAIN)
        if found is None:
            raise self.fault("an element")
        return found[0]

    def symbol(self, word: str) -> str:
        try:
            return element_symbol(word)
        except FormulaError as fault:
            raise ConditionUnreadable(f'"{self.text}": {fault}') from None

    def number(self) -> Number:
        found = self.match(_NUMBER)
        if found is None:
            raise self.fault("a number")
        return Number(found[0])

    def name(self) -> str:
        quoted = self.match(_QUOTED)
        if quoted:
            return " ".join(quoted[1].split())
        found = self.match(WORD)
        if found is None or found[0] in RESERVED:
            raise self.fault("a name, in quotation marks where it holds blanks or is a word of the language")
        return found[0]
