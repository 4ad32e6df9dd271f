"""Makes up the texts of cells: numbers, measures and formulas, all within what docs/formulas.md allows."""


class Phrases:
    def __init__(self, random):
        self.random = random

    def pick(self, values):
        return self.random.choice(list(values))

    def small_number(self, names):
        """A whole number of pieces or assemblies, above or at zero, sometimes a formula."""
        random = self.random
        return self.pick(
            [
                str(random.randrange(1, 5)),
                str(random.randrange(1, 5)),
                str(random.randrange(1, 4)),
                f"=MOD({self.count(names)}; 4) + 1",
                f"MIN({self.count(names)}; 5)",
                f"IF({self.condition(names)}; {random.randrange(0, 3)}; {random.randrange(1, 4)})",
                f"CHOOSE({random.randrange(1, 4)}; 2; 3; windows)",
            ]
        )

    def number(self, names):
        """A number at or above zero, often a fraction."""
        random = self.random
        whole, part = random.randrange(1, 30), self.pick([3, 4, 7, 8, 16])
        return self.pick(
            [
                str(whole),
                f"{whole}.{random.randrange(1, 999)}",
                f"{whole}/{part}",
                f"{whole}-{random.randrange(1, part)}/{part}",
                f"={whole} / {part}",
                f"ABS({self.term(names, 2)})",
                f"{self.count(names)} * {whole} / {part}",
                f"{whole} * {part}%",
            ]
        )

    def count(self, names):
        """A whole number at or above zero."""
        random = self.random
        name, length, other = self.pick(names["number"]), self.pick(names["length"]), self.pick(names["length"])
        whole = random.randrange(1, 9)
        return self.pick(
            [
                name,
                f"({name} + {whole})",
                f"{name} * {whole}",
                f"ROUNDUP({length} / {self.pick([12, 16, 24])} in)",
                f"INT(({length} + {other}) / 2 ft)",
                f"ROUND(ABS({self.term(names, 1)}))",
                f"MAX({name}; {whole}; 2)",
                f"QUOTIENT({length}; 16 in)",
                f"EVEN({name})",
                f"ODD({name})",
                f"GCD({whole * 4}; {whole * 6})",
                f"LCM({whole}; 3)",
                f"{name}^2",
                f"TRUNC({self.pick(names['number'])} * 1.75)",
            ]
        )

    def term(self, names, depth):
        """Any number; division is by what is not zero."""
        random = self.random
        if depth == 0:
            return self.pick([str(random.randrange(0, 12)), f"{random.randrange(0, 9)}.5", self.pick(names["number"])])
        inner = lambda: self.term(names, depth - 1)
        return self.pick(
            [
                f"({inner()} + {inner()})",
                f"({inner()} - {inner()})",
                f"{inner()} * {inner()}",
                f"({inner()}) / {random.randrange(2, 9)}",
                f"-{inner()}",
                f"(-{random.randrange(1, 5)}^2 + {inner()})",
                f"ROUNDDOWN({inner()}; 1)",
                f"ROUND({inner()}; -1)",
                f"AVERAGE({inner()}; {inner()}; {inner()})",
                f"PRODUCT({inner()}; {inner()})",
                f"SUM({inner()}; {inner()})",
                f"SIGN({inner()})",
                f"MOD({inner()}; {self.pick([3, -4, 5])})",
                f"FLOOR({inner()}; 0.25)",
                f"CEILING({inner()}; 3)",
                f"IF({self.condition(names)}; {inner()}; {inner()})",
                f"SQRT({random.randrange(1, 30)})",
                f"{self.pick(['SIN', 'COS', 'ATAN'])}({random.randrange(-40, 40)}.{random.randrange(1, 9)})",
                f"{self.pick(['ASIN', 'ACOS'])}({self.pick(['', '-'])}0.{random.randrange(1, 99)})",
                f"TAN(1.{random.randrange(1, 9)})",
                f"({inner()} + 50%)",
                f"PI() * {random.randrange(1, 4)}",
                f"POWER({random.randrange(2, 5)}; {self.pick([-1, 2, 3])})",
                f"TRUNC({inner()}; 2)",
            ]
        )

    def condition(self, names):
        random = self.random
        number, length = self.pick(names["number"]), self.pick(names["length"])
        choices = [
            f"{number} {self.pick(['=', '<>', '<', '<=', '>', '>='])} {random.randrange(1, 5)}",
            f"{length} {self.pick(['<', '>='])} {random.randrange(2, 24)} ft",
            f"AND({number} > 1; {length} > 1 m)",
            f"XOR({number} > 2; {length} > 40 in)",
            "NOT(FALSE())",
        ]
        if names["truth"]:
            option = self.pick(names["truth"])
            choices += [option, f"NOT {option}", f"{option} AND {number} > 1", f"{option} OR {length} < 10 ft"] * 2
        return self.pick(choices)

    def length(self, names, bare):
        """A length above zero. `bare` is the unit of a bare number, none where there may be none."""
        random = self.random
        first, second = self.pick(names["length"]), self.pick(names["length"])
        inches = random.randrange(6, 60)
        choices = [
            f"{inches} in",
            f"{random.randrange(1, 9)}' {random.randrange(0, 12)}\"",
            f"{random.randrange(1, 9)} ft {random.randrange(1, 12)}.5 in",
            f"{random.randrange(200, 3000)} mm",
            f"{inches}-{random.randrange(1, 8)}/8 in",
            first,
            f"{first} / 2 + {inches} in",
            f"{first} * {random.randrange(1, 4)} / {random.randrange(3, 8)}",
            f"MAX({first}; {second}) - MIN({first}; {second}) + 1 ft",
            f"SQRT({first} * {second})",
            f"SQRT({first}^2 + {second}^2)",
            f"CEILING({first}; 6 in)",
            f"ABS({first} - {second}) + {inches}.25 in",
            f"IF({self.condition(names)}; {first}; {inches} in)",
            f"({inches} + 5/8) in + {first} * 0",
        ]
        if bare:
            choices += [str(inches) if bare != "ft" else f"{inches}/4"] * 3
        return self.pick(choices)

    def piece(self, names, bare, most):
        """A length of a piece, in whole nanometers, above zero and at most so many inches."""
        random = self.random
        inches = random.randrange(5, most - 1)
        choices = [
            f"{inches} in",
            f"{inches}-{random.randrange(1, 16)}/16 in",
            f"{random.randrange(120, most * 25)} mm",
            f"{random.randrange(120, most * 25)}.{random.randrange(1, 9)} mm",
            f"MIN({self.pick(names['length'])} + 3 in; {inches} in)",
            f"MIN(CEILING({self.pick(names['length'])} / 3; 0.25 in); {inches} in)",
            f"{inches // 12}' {inches % 12}-1/2\"",
            f"{inches // 12} ft {inches % 12}.25 in",
            f"=CEILING(MIN({self.pick(names['length'])}; {inches} in); (1/16) in)",
        ]
        if bare == "in":
            choices += [str(inches), f"{inches}.5", f"{inches} {random.randrange(1, 4)}/4"]
        elif bare == "mm":
            choices += [str(random.randrange(150, most * 25))]
        return self.pick(choices)
