"""Shares of an item's amounts by bill line, as docs/rounding.md describes them."""

import math
from fractions import Fraction


def joined(takes):
    """Joins what a bill line takes on all paths below one line of the plan where its parent has the same values."""
    lines = {}
    for take in takes:
        known = lines.setdefault((take.section, take.line["number"], take.parent.values), Share(take.parent.station))
        known.blank += take.blank
        known.rides += take.rides
    return list(lines.values())


class Share:
    def __init__(self, station):
        self.station, self.blank, self.rides = station, Fraction(0), Fraction(0)


def share(amount, weights):
    """Deals whole units of the last decimal place out by the largest remainder; returns the least and the most of each."""
    total = sum(weights)
    if total == 0:
        return [(min(amount, 0), max(amount, 0)) for _ in weights]
    exact = [Fraction(amount) * weight / total for weight in weights]
    floors = [math.floor(part) for part in exact]
    left = amount - sum(floors)
    remainders = sorted((part - floor for part, floor in zip(exact, floors)), reverse=True)
    dealt = []
    for part, floor in zip(exact, floors):
        above = sum(other > part - floor for other in remainders)
        level = sum(other >= part - floor for other in remainders)
        dealt.append((floor + (level <= left), floor + (above < left)))
    return dealt
