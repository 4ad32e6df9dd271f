"""Sines and their inverses to 18 decimal places, by series over whole numbers with 60 digits to spare."""

import math
from fractions import Fraction

DIGITS = 60
ONE = 10**DIGITS
# Written out once: pi to 70 digits.
PI = int("31415926535897932384626433832795028841971693993751058209749445923078164"[: DIGITS + 1])


def fixed(value):
    return value.numerator * ONE // value.denominator


def settled(value):
    """Rounds to 18 decimal places; a tie cannot happen, since these values are irrational or exact."""
    step = 10 ** (DIGITS - 18)
    return Fraction((2 * value + step) // (2 * step), 10**18)


def sine(angle):
    angle = (angle + PI) % (2 * PI) - PI
    term = total = angle
    count = 1
    while term:
        term = -term * angle // ONE * angle // ONE // ((count + 1) * (count + 2))
        total += term
        count += 2
        if abs(term) < 2:
            break
    return total


def cosine(angle):
    return sine(angle + PI // 2)


def arc_tangent(value):
    """Of a fraction: halved until small, then by series."""
    above, below = value.numerator, value.denominator
    if below < 0:
        above, below = -above, -below
    x = above * ONE // below
    doublings = 0
    while abs(x) > ONE // 100:
        x = x * ONE // (ONE + math.isqrt(ONE * ONE + x * x))
        doublings += 1
    term = total = x
    count = 1
    while abs(term) > 1:
        term = -term * x // ONE * x // ONE
        total += term // (count + 2)
        count += 2
    return total << doublings


def sin(value):
    return settled(sine(fixed(value)))


def cos(value):
    return settled(cosine(fixed(value)))


def tan(value):
    return settled(sine(fixed(value)) * ONE // cosine(fixed(value)))


def atan(value):
    return settled(arc_tangent(value))


def asin(value):
    if abs(value) == 1:
        return settled(PI // 2) * (1 if value > 0 else -1)
    rest = math.isqrt(ONE * ONE - fixed(value) ** 2)
    return settled(arc_tangent(Fraction(fixed(value), rest)))


def acos(value):
    if abs(value) == 1:
        return Fraction(0) if value > 0 else settled(PI)
    rest = math.isqrt(ONE * ONE - fixed(value) ** 2)
    return settled(PI // 2 - arc_tangent(Fraction(fixed(value), rest)))
