"""Measures as docs/formulas.md describes them: exact fractions with a dimension.

Base units are the inch, the pound and the minute. A dimension is the tuple of their exponents.
"""

import re
from fractions import Fraction

NUMBER = (0, 0, 0)
LENGTH = (1, 0, 0)
AREA = (2, 0, 0)
VOLUME = (3, 0, 0)
WEIGHT = (0, 1, 0)
TIME = (0, 0, 1)

INCHES = {
    "in": Fraction(1),
    "ft": Fraction(12),
    "yd": Fraction(36),
    "mil": Fraction(1, 1000),
    "m": Fraction(10000, 254),
    "cm": Fraction(100, 254),
    "mm": Fraction(10, 254),
    "um": Fraction(1, 25400),
    "nm": Fraction(1, 25400000),
}
POUNDS_OF_A_KILOGRAM = Fraction(100000000, 45359237)


def units():
    """Returns every unit name with its factor and dimension. Names whose case matters stand as they are written."""
    known = {}

    def add(names, factor, dimension):
        for name in names.split(","):
            known[name] = (Fraction(factor), dimension)

    for name, factor in INCHES.items():
        add(name, factor, LENGTH)
        for mark in ("2", "²", "^2"):
            add(name + mark, factor**2, AREA)
        for mark in ("3", "³", "^3"):
            add(name + mark, factor**3, VOLUME)
        add("sq " + name, factor**2, AREA)
        add("cu " + name, factor**3, VOLUME)
    add("inch,inches,\",''", 1, LENGTH)
    add("foot,feet,',lf,lin ft", 12, LENGTH)
    add("clf", 1200, LENGTH)
    add("mlf", 12000, LENGTH)
    add("sf", 144, AREA)
    add("sy", 1296, AREA)
    add("square", 14400, AREA)
    add("csf", 14400, AREA)
    add("msf", 144000, AREA)
    add("gal", 231, VOLUME)
    add("qt", Fraction(231, 4), VOLUME)
    add("pt", Fraction(231, 8), VOLUME)
    add("fl oz", Fraction(231, 128), VOLUME)
    add("l", INCHES["cm"] ** 3 * 1000, VOLUME)
    add("ml", INCHES["cm"] ** 3, VOLUME)
    add("cf", 1728, VOLUME)
    add("cy", 46656, VOLUME)
    add("bf", 144, VOLUME)
    add("mbf", 144000, VOLUME)
    add("lb", 1, WEIGHT)
    add("oz", Fraction(1, 16), WEIGHT)
    add("cwt", 100, WEIGHT)
    add("ton", 2000, WEIGHT)
    add("kg", POUNDS_OF_A_KILOGRAM, WEIGHT)
    add("g", POUNDS_OF_A_KILOGRAM / 1000, WEIGHT)
    add("t", POUNDS_OF_A_KILOGRAM * 1000, WEIGHT)
    add("s", Fraction(1, 60), TIME)
    add("min", 1, TIME)
    add("hour,hr,h", 60, TIME)
    add("each,ea,pc,piece", 1, NUMBER)
    add("pair", 2, NUMBER)
    add("dozen", 12, NUMBER)
    add("C", 100, NUMBER)
    add("gross", 144, NUMBER)
    add("M", 1000, NUMBER)
    return known


UNITS = units()


def plus(left, right, sign=1):
    """Returns the dimension of a product, or with sign -1 of a quotient."""
    return tuple(a + sign * b for a, b in zip(left, right))


def simple_unit(name):
    """Returns the factor and dimension of a unit without a slash, or None."""
    name = name.strip()
    counted = re.fullmatch(r"([\d,]+) (.+)", name)
    if counted:
        inner = simple_unit(counted.group(2))
        return inner and (inner[0] * int(counted.group(1).replace(",", "")), inner[1])
    if name in ("M", "C", "m", "t"):
        return UNITS[name]
    name = name.lower().rstrip(".")
    if name in UNITS and name not in ("c",):
        return UNITS[name]
    for ending in ("es", "s"):
        if len(name) > 2 and name.endswith(ending) and name[: -len(ending)] in UNITS:
            return UNITS[name[: -len(ending)]]
    return None


def unit(name):
    """Returns the factor and dimension of a unit such as `lb/ft2`, or None."""
    parts = name.split("/")
    first = simple_unit(parts[0])
    if first is None:
        return None
    factor, dimension = first
    for part in parts[1:]:
        below = simple_unit(part)
        if below is None:
            return None
        factor /= below[0]
        dimension = plus(dimension, below[1], -1)
    return factor, dimension


AMOUNT = re.compile(
    r"\s*(?:(?P<whole>\d+)(?:-|\s+)(?P<above>\d+)/(?P<below>\d+)"
    r"|(?P<over>\d+)/(?P<under>\d+)"
    r"|(?P<decimal>(?:\d{1,3}(?:,\d{3})+|\d+)(?:\.\d*)?(?:[eE][+-]?\d+)?|\.\d+(?:[eE][+-]?\d+)?))"
)


def amount(text, at):
    """Returns the amount at a place of a text and where it ends, or None."""
    found = AMOUNT.match(text, at)
    if not found:
        return None
    if found.group("whole"):
        whole, above, below = (int(found.group(name)) for name in ("whole", "above", "below"))
        return whole + Fraction(above, below), found.end()
    if found.group("over"):
        return Fraction(int(found.group("over")), int(found.group("under"))), found.end()
    return Fraction(found.group("decimal").replace(",", "")), found.end()


def measure(text, bare=None):
    """Returns value and dimension of a cell that reads as a measure, else None. A bare number takes the unit `bare`."""
    text = text.strip()
    sign = 1
    if text[:1] in ("-", "+"):
        sign, text = (-1 if text[0] == "-" else 1), text[1:]
    total, dimension, at, least = Fraction(0), None, 0, None
    while at < len(text):
        if total and text[at] == "-":
            at += 1
        found = amount(text, at)
        if found is None:
            return None
        value, at = found
        name_end = re.compile(r"\s*((?:''|'|\"|[A-Za-z²³^/. ]|(?<=/)[\d,]+ |(?<=[A-Za-z^])\d)*)").match(text, at)
        name = name_end.group(1).strip()
        at = name_end.end()
        if name == "":
            if at < len(text):
                return None
            if dimension == LENGTH and least == 12:
                return sign * (total + value), LENGTH
            if dimension is not None:
                return None
            factor, dimension = unit(bare) if bare else (Fraction(1), NUMBER)
            return sign * value * factor, dimension
        known = unit(name)
        if known is None or (dimension is not None and known[1] != dimension):
            return None
        total += value * known[0]
        dimension, least = known[1], known[0]
    return None if dimension is None else (sign * total, dimension)


def rounded(value, digits, half_even=True):
    """Returns the value rounded to decimal places, as a whole number of the last place."""
    scaled = value * 10**digits
    low = scaled.numerator // scaled.denominator
    rest = scaled - low
    half = Fraction(1, 2)
    if rest > half:
        return low + 1
    if rest < half:
        return low
    if half_even:
        return low + low % 2
    # Half up means away from zero.
    return low + 1 if scaled > 0 else low


def digits_text(whole, digits):
    """Writes a whole number of the last decimal place."""
    sign = "-" if whole < 0 else ""
    text = str(abs(whole)).rjust(digits + 1, "0")
    return sign + (text if digits == 0 else text[:-digits] + "." + text[-digits:])


def exact_text(value):
    """Writes a value as JSON output does: a decimal of at most 30 places where there is one, else a fraction."""
    below, twos, fives = value.denominator, 0, 0
    while below % 2 == 0:
        below, twos = below // 2, twos + 1
    while below % 5 == 0:
        below, fives = below // 5, fives + 1
    if below != 1 or max(twos, fives) > 30:
        return f"{value.numerator}/{value.denominator}"
    digits = max(twos, fives)
    return digits_text(int(value * 10**digits), digits)
