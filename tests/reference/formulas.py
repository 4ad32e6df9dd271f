"""Formulas as docs/formulas.md describes them, evaluated over exact fractions.

A value is a truth (bool) or a pair of a Fraction and a dimension.
"""

import math
import re
from fractions import Fraction

import trigonometry
from measures import LENGTH, NUMBER, measure, plus, unit

TOKEN = re.compile(r"\s*(\d+\.?\d*(?:[eE][+-]?\d+)?|\.\d+|[A-Za-z_][A-Za-z0-9_.]*|<>|<=|>=|''|[-+*/^%()=<>;'\"])")


class Wrong(Exception):
    """A formula that the docs do not allow."""


def cell(text, lookup, bare=None):
    """Returns the value of a cell for a quantity, a size or a condition."""
    text = text.strip()
    if not text.startswith("="):
        read = measure(text, bare)
        if read is not None:
            return read
    return Parser(text.lstrip("="), lookup).whole()


def number(value):
    if isinstance(value, bool) or value[1] != NUMBER:
        raise Wrong("a plain number is expected")
    return value[0]


def truth(value):
    if not isinstance(value, bool):
        raise Wrong("a condition is expected")
    return value


def whole(value):
    value = number(value)
    if value.denominator != 1:
        raise Wrong("a whole number is expected")
    return int(value)


def alike(values):
    dimensions = {None if isinstance(value, bool) else value[1] for value in values}
    if len(dimensions) != 1 or None in dimensions:
        raise Wrong("measures of one kind are expected")
    return dimensions.pop()


def root(value, dimension):
    """The square root: exact where it is a fraction, else to 1 nm, or to 18 significant digits."""
    if any(exponent % 2 for exponent in dimension) or value < 0:
        raise Wrong("no root")
    halved = tuple(exponent // 2 for exponent in dimension)
    above, below = math.isqrt(value.numerator), math.isqrt(value.denominator)
    if above * above == value.numerator and below * below == value.denominator:
        return Fraction(above, below), halved
    if halved == LENGTH:
        step = Fraction(1, 25400000)
    else:
        magnitude = 0
        while Fraction(10) ** (2 * (magnitude + 1)) <= value:
            magnitude += 1
        while Fraction(10) ** (2 * magnitude) > value:
            magnitude -= 1
        step = Fraction(10) ** (magnitude - 17)
    # The nearest multiple of the step: floor(root / step + 1/2).
    twice = value * 4 / step**2
    return Fraction((math.isqrt(twice.numerator // twice.denominator) + 1) // 2) * step, halved


def power(base, exponent):
    if isinstance(base, bool):
        raise Wrong("a truth has no power")
    exponent = number(exponent)
    if exponent.denominator == 1:
        return base[0] ** int(exponent), tuple(part * int(exponent) for part in base[1])
    if exponent.denominator == 2:
        rooted = root(*base)
        return rooted[0] ** exponent.numerator, tuple(part * exponent.numerator for part in rooted[1])
    raise Wrong("no such power")


def away(value, toward=math.floor):
    """Rounds the distance from zero, keeping the sign."""
    return Fraction(toward(abs(value))) * (1 if value >= 0 else -1)


def places(arguments, toward):
    value = number(arguments[0])
    scale = Fraction(10) ** (whole(arguments[1]) if len(arguments) > 1 else 0)
    return away(value * scale, toward) / scale, NUMBER


def stepped(arguments, toward):
    value = arguments[0]
    step = arguments[1] if len(arguments) > 1 else (Fraction(1), NUMBER)
    dimension = alike([value, step])
    if step[0] <= 0:
        raise Wrong("a step is above zero")
    return Fraction(toward(value[0] / step[0])) * step[0], dimension


def summed(arguments):
    return sum((value[0] for value in arguments), Fraction(0)), alike(arguments)


def product(arguments):
    total, dimension = Fraction(1), NUMBER
    for value in arguments:
        total, dimension = total * value[0], plus(dimension, value[1])
    return total, dimension


def parity(value, odd):
    result = away(value, math.ceil)
    if odd and result == 0:
        return Fraction(1)
    if result % 2 != (1 if odd else 0):
        result += 1 if value >= 0 else -1
    return result


def modulo(value, divisor):
    dimension = alike([value, divisor])
    if divisor[0] == 0:
        raise Wrong("division by zero")
    return value[0] - divisor[0] * math.floor(value[0] / divisor[0]), dimension


def quotient(value, divisor):
    alike([value, divisor])
    if divisor[0] == 0:
        raise Wrong("division by zero")
    return away(value[0] / divisor[0]), NUMBER


def of_number(function):
    """A function of one plain number that gives a plain number."""
    return lambda arguments: (function(number(arguments[0])), NUMBER)


CIRCLE = Fraction("3.14159265358979323846264338327950288")

FUNCTIONS = {
    "ACOS": of_number(trigonometry.acos),
    "ASIN": of_number(trigonometry.asin),
    "ATAN": of_number(trigonometry.atan),
    "COS": of_number(trigonometry.cos),
    "DEGREES": of_number(lambda value: value * 180 / CIRCLE),
    "RADIANS": of_number(lambda value: value * CIRCLE / 180),
    "SIN": of_number(trigonometry.sin),
    "TAN": of_number(trigonometry.tan),
    "ABS": lambda a: (abs(a[0][0]), a[0][1]),
    "AND": lambda a: all(truth(value) for value in a),
    "AVERAGE": lambda a: (summed(a)[0] / len(a), alike(a)),
    "CEILING": lambda a: stepped(a, math.ceil),
    "EVEN": lambda a: (parity(number(a[0]), False), NUMBER),
    "FALSE": lambda a: False,
    "FLOOR": lambda a: stepped(a, math.floor),
    "GCD": lambda a: (Fraction(math.gcd(*[whole(value) for value in a])), NUMBER),
    "INT": lambda a: (Fraction(math.floor(number(a[0]))), NUMBER),
    "LCM": lambda a: (Fraction(math.lcm(*[whole(value) for value in a])), NUMBER),
    "MAX": lambda a: (max(value[0] for value in a), alike(a)),
    "MIN": lambda a: (min(value[0] for value in a), alike(a)),
    "MOD": lambda a: modulo(*a),
    "NOT": lambda a: not truth(a[0]),
    "ODD": lambda a: (parity(number(a[0]), True), NUMBER),
    "OR": lambda a: any(truth(value) for value in a),
    "PI": lambda a: (CIRCLE, NUMBER),
    "POWER": lambda a: power(*a),
    "PRODUCT": product,
    "QUOTIENT": lambda a: quotient(*a),
    "ROUND": lambda a: places(a, lambda x: math.floor(x + Fraction(1, 2))),
    "ROUNDDOWN": lambda a: places(a, math.floor),
    "ROUNDUP": lambda a: places(a, math.ceil),
    "SIGN": lambda a: (Fraction((a[0][0] > 0) - (a[0][0] < 0)), NUMBER),
    "SQRT": lambda a: root(*a[0]),
    "SUM": summed,
    "TRUE": lambda a: True,
    "TRUNC": lambda a: places(a, math.floor),
    "XOR": lambda a: sum(truth(value) for value in a) % 2 == 1,
}


class Parser:
    """Evaluates while it parses; branches that are not taken are parsed with `skips` set, and come to None."""

    def __init__(self, text, lookup):
        self.text, self.lookup, self.at, self.skips = text, lookup, 0, 0

    def peek(self):
        found = TOKEN.match(self.text, self.at)
        if found:
            return found.group(1)
        if self.text[self.at :].strip():
            raise Wrong(f"`{self.text[self.at:]}` is not understood")
        return ""

    def take(self, expected=None):
        token = self.peek()
        if expected is not None and token != expected:
            raise Wrong(f"`{expected}` is expected in `{self.text}`, not `{token}`")
        self.at = TOKEN.match(self.text, self.at).end()
        return token

    def whole(self):
        value = self.either()
        if self.peek():
            raise Wrong(f"`{self.peek()}` is too much in `{self.text}`")
        return value

    def skipping(self, skips, rule):
        self.skips += skips
        value = rule()
        self.skips -= skips
        return value

    def do(self, work):
        return None if self.skips else work()

    def either(self):
        value = self.both()
        while self.peek().upper() == "OR":
            self.take()
            decided = self.skips or truth(value)
            right = self.skipping(bool(decided), self.both)
            value = self.do(lambda: True if decided else truth(right))
        return value

    def both(self):
        value = self.negated()
        while self.peek().upper() == "AND":
            self.take()
            decided = self.skips or not truth(value)
            right = self.skipping(bool(decided), self.negated)
            value = self.do(lambda: False if decided else truth(right))
        return value

    def negated(self):
        after = TOKEN.match(self.text, self.at)
        if self.peek().upper() == "NOT" and self.text[after.end() : after.end() + 1] != "(":
            self.take()
            value = self.negated()
            return self.do(lambda: not truth(value))
        return self.compared()

    def compared(self):
        value = self.added()
        while self.peek() in ("=", "<>", "<", "<=", ">", ">="):
            sign, left, right = self.take(), value, self.added()
            value = self.do(lambda: self.compare(sign, left, right))
        return value

    @staticmethod
    def compare(sign, left, right):
        alike([left, right])
        a, b = left[0], right[0]
        return {"=": a == b, "<>": a != b, "<": a < b, "<=": a <= b, ">": a > b, ">=": a >= b}[sign]

    def added(self):
        value = self.multiplied()
        while self.peek() in ("+", "-"):
            sign, left, right = (1 if self.take() == "+" else -1), value, self.multiplied()
            value = self.do(lambda: (left[0] + sign * right[0], alike([left, right])))
        return value

    def multiplied(self):
        value = self.raised()
        while self.peek() in ("*", "/"):
            sign, left, right = (1 if self.take() == "*" else -1), value, self.raised()
            value = self.do(lambda: self.multiply(left, right, sign))
        return value

    @staticmethod
    def multiply(left, right, sign):
        if isinstance(left, bool) or isinstance(right, bool):
            raise Wrong("a truth is no factor")
        if sign < 0 and right[0] == 0:
            raise Wrong("division by zero")
        return left[0] * right[0] ** sign, plus(left[1], right[1], sign)

    def raised(self):
        value = self.signed()
        while self.peek() == "^":
            self.take()
            left, right = value, self.signed()
            value = self.do(lambda: power(left, right))
        return value

    def signed(self):
        if self.peek() in ("-", "+"):
            sign = -1 if self.take() == "-" else 1
            value = self.signed()
            return self.do(lambda: (sign * value[0], value[1]))
        value = self.single()
        while self.peek() == "%":
            self.take()
            before = value
            value = self.do(lambda: (number(before) / 100, NUMBER))
        return value

    def single(self):
        token = self.take()
        if token == "(":
            value = self.either()
            self.take(")")
            return self.with_unit(value)
        if token[0].isdigit() or token[0] == ".":
            return self.with_unit((Fraction(token), NUMBER))
        if self.text[self.at : self.at + 1] == "(":
            return self.call(token.upper())
        if token.upper() in ("TRUE", "FALSE"):
            return token.upper() == "TRUE"
        return self.do(lambda: self.lookup(token.lower()))

    def with_unit(self, value):
        """Applies the unit after a number or a parenthesis, and a smaller unit after a larger one: `28' 6"`."""
        found = re.compile(r"\s*((?:''|'|\"|[A-Za-z]+[23²³]?)(?:/(?:\d+ )?[A-Za-z]+[23²³]?)*)").match(self.text, self.at)
        if not found or found.group(1).upper() in ("AND", "OR", "NOT"):
            return value
        name = found.group(1)
        known = unit(name)
        if known is None:
            raise Wrong(f"`{name}` is no unit")
        self.at = found.end()
        value = self.do(lambda: (number(value) * known[0], known[1]))
        smaller = re.compile(r"\s*(\d+(?:\.\d+)?)\s*(''|\"|in\b)").match(self.text, self.at)
        if known == (12, LENGTH) and smaller:
            self.at = smaller.end()
            inches = Fraction(smaller.group(1))
            value = self.do(lambda: (value[0] + inches, LENGTH))
        return value

    def call(self, name):
        self.take("(")
        if name in ("IF", "CHOOSE"):
            return self.choose(name)
        arguments = []
        while self.peek() != ")":
            arguments.append(self.either())
            if self.peek() == ";":
                self.take()
        self.take(")")
        if name not in FUNCTIONS:
            raise Wrong(f"no function {name}")
        return self.do(lambda: FUNCTIONS[name](arguments))

    def choose(self, name):
        first = self.either()
        if self.skips:
            wanted = 0
        elif name == "IF":
            wanted = 1 if truth(first) else 2
        else:
            wanted = whole(first)
        index, chosen = 0, None
        while self.peek() == ";":
            self.take()
            index += 1
            value = self.skipping(index != wanted, self.either)
            if index == wanted:
                chosen = value
        self.take(")")
        if not self.skips and chosen is None:
            raise Wrong("nothing to choose")
        return chosen
