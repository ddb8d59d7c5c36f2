"""The shop's rules in a sentence each: whoever reads a formula's source over HTTP reads the rule and no bare number."""

import re

RULES = {
    "9": "a container is good until the lot's or retest date, or until opened plus its opened life if that is sooner",
    "10": "a decant keeps the earliest date and opening of what it was filled from; two lots in one are a blend",
    "13": "first expired first out, opened before sealed, no pot split over two cans for less than a tenth of it",
    "14": "what stood outside its range is told with peak and hours; prepreg has a tack life and an out life",
    "15": "a tolerance has a kind: per cent of the ratio, parts, or per cent of each mass",
    "16": "deviation = ((hardener/resin)/ratio - 1)*100, signed",
    "17": "uncertainty of a ratio with k = 2, from step and repeatability in squares, zeroed or as a running total",
    "18": "within if |deviation| + U <= tolerance, outside if |deviation| - U > tolerance, else near; a scale with "
    "U > tolerance/3 is too coarse for the pot",
    "19": "limits shown are those of acceptance, tolerance less U, rounded inward to the scale's step",
    "20": "a mix is corrected to nominal while nothing is applied and a quarter of its life has not passed",
    "21": "a blend of hardeners has r = 1/sum(w_i/r_i); the fraction is judged apart",
    "22": "what was typed far from its target, or finer than the step, is read back",
    "23": "a peroxide goes by its data sheet's rows of temperature, in per cent of the resin as delivered",
    "23a": "a pump is checked by at least five weighed pairs, the first left out; spread of mean and pot both count",
    "24": "cup and film have clocks and tables of their own",
    "25": "the clock begins as hardener was first poured onto resin",
    "26": "ln(life) is linear in temperature and ln(mass) between the points of a table; hotter or heavier, no figure",
    "27": "waits and windows are those of the data sheet",
    "30": "resin = fibre*(1 - W_f)/W_f*(1 + loss) + uptake; a fibre fraction says by mass or by volume",
    "31": "symmetric is mirrored about the midplane; balanced has a -theta for each +theta",
    "33": "poured = applied + left + loss, with what is estimated marked",
    "35": "the clock of a cure runs while all required probes are in the band; a hole is over 1.1 times the longest "
    "interval and counts nothing",
    "36": "evidence has grades: part probe, air log, thermometer, declared",
    "37": "a model never replaces a stated cure, and is drawn only with constants fitted for the system",
}

_CITED = re.compile(r"[Ss]hop rules? (\d+a?(?:(?:, | and | to )\d+a?)*)")


def written_out(source: str) -> str:
    """A source with the rules that it cites by number, each after it in a sentence."""
    numbers: dict[str, None] = {}
    for cited in _CITED.findall(source):
        numbers.update(dict.fromkeys(_each(cited)))
    if not numbers:
        return source
    said = "; ".join(f"rule {number}: {RULES[number]}" for number in numbers)
    return f"{source.rstrip()} [{said}]"


def _each(cited: str) -> list[str]:
    """Numbers of a list, with those that a span leaves out.

    >>> _each("15 and 17 to 19"), _each("17 and 23a")
    (['15', '17', '18', '19'], ['17', '23a'])
    """
    found: list[str] = []
    for first, last in re.findall(r"(\d+a?)(?: to (\d+))?", cited):
        found += [str(number) for number in range(int(first), int(last) + 1)] if last else [first]
    return found
