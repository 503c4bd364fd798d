"""Texts as a thumb types them: figures, units, fractions, slips and rubbish. Made from a seed, the same every time."""

from __future__ import annotations

from random import Random

DIGITS = tuple("".join(chr(nought + n) for n in range(10)) for nought in (0x30, 0x660, 0x966, 0xFF10, 0x1D7D8))
UNITS = (
    "mm", "cm", "m", "in", "Inches", '"', "″", "''", "ft", "'", "kg", "KG", "lb", "lbs", "g", "kN", "kn", "N", "Nm",
    "N m", "ft-lb", "ft lb", "m/s", "m/s2", "m/s²", "km/h", "mph", "knots", "°", "deg", "°C", "F", "C", "%", "ton",
    "kgf", "oz", "yd", "furlong", "s", "min", "days", "mbar", "in Hg", "lb/ft", "ppm/°C", "1", "-", "count", "e3",
    "x10", "\u00d710^3", "?",
)  # fmt: skip
SPACES = ("", "", " ", "  ", "\u00a0", "\u2009", "\u202f", "\t", "\u200e", "\u2062", "\x1c", "\ufeff")
RUBBISH = (
    "0123456789.,/;-+eExX*' \"½⅛²³¹⑨⅓\u2044\u2215\u2212\u2013\u2011mincfkg°%\u066b\u066c\uff0c\u200f\u0661éß中\u2028"
)


def number(random: Random) -> str:
    """Return the text of one number, well or badly written."""
    shape = random.randrange(13)
    whole = str(random.randrange(10 ** random.choice((1, 1, 2, 2, 3, 5))))
    if shape < 5:
        text = f"{whole}{random.choice('.,')}{random.randrange(10 ** random.choice((1, 2, 3, 3, 5)))}"
    elif shape < 8:
        text = whole
    elif shape == 8:
        before = random.choice(("", f"{whole} ", f"{whole}-"))
        text = f"{before}{random.randrange(20)}/{random.choice((2, 4, 8, 16, 7, 0))}"
    elif shape == 9:
        text = f"{whole}{random.choice('½⅛¾⅔')}"
    elif shape == 10:
        text = f"{random.choice('.,')}{whole}"
    elif shape == 11:
        text = f"{whole},{random.randrange(1000):03}{random.choice(('', '.5', ',000'))}"
    else:
        text = f"{whole}{random.choice(('.', ',', '..', 'e5', '0' * 14))}"
    sign = random.choice(("", "", "", "", "", "", "", "", "-", "+", "\u2212", "- ", "--"))
    script = random.choice(DIGITS) if random.random() < 0.1 else DIGITS[0]
    return sign + "".join(script[int(sign_)] if sign_ in DIGITS[0] else sign_ for sign_ in text)


def typed(random: Random, unit: str = "") -> str:
    """Return what somebody may have typed into the field of one figure or of a pair, often with its own unit."""
    shape = random.random()
    if shape < 0.1:
        return "".join(random.choice(RUBBISH) for _ in range(random.choice((0, 1, 2, 4, 8, 20, 62))))
    text = number(random)
    if shape > 0.55:
        text += random.choice(SPACES) + (unit if random.random() < 0.5 else random.choice(UNITS))
    if 0.3 < shape < 0.4 or shape > 0.8:
        near = number(random) if random.random() < 0.5 else text
        text += random.choice((" / ", "/", ";", " ;  ", " - ", "\t/\t")) + near
    return random.choice(SPACES) + text + random.choice(SPACES)
