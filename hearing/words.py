"""The catalogue of what can be said: rule, words and the value a recogniser should return."""

import random
import tomllib
from pathlib import Path

ONES = (
    "zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen "
    "sixteen seventeen eighteen nineteen"
).split()
TENS = "_ _ twenty thirty forty fifty sixty seventy eighty ninety".split()
# ICAO Annex 10, volume II, 5.2.1.3 (spelling) and 5.2.1.4 (digits), in ordinary spelling so that a
# synthesiser reads the words; "niner" is the one digit word that differs from plain English.
SPELLING = (
    "alpha bravo charlie delta echo foxtrot golf hotel india juliett kilo lima mike november oscar "
    "papa quebec romeo sierra tango uniform victor whiskey x-ray yankee zulu"
).split()
UNITS = ["bar", "kilograms", "kilos", "metres", "millimetres", "tonnes", "percent", "degrees"]

# Sampling weight of each rule in one voice's list. Counts weigh most: a wrong count is the costly
# number, and there are 121 of them.
RULE_CYCLE = (
    "presence count out-of-grammar condition count control presence count yes-no out-of-grammar "
    "count fixing control reading condition count out-of-grammar presence tag control"
).split()


def number_words(n):
    """English words of a whole number from 0 to 120."""
    if n < 20:
        return ONES[n]
    if n < 100:
        tens, one = divmod(n, 10)
        return TENS[tens] + (f" {ONES[one]}" if one else "")
    rest = n - 100
    return "one hundred" + (f" and {number_words(rest)}" if rest else "")


def digit_words(n):
    """Digit by digit, as over a radio: 20 is "two zero"."""
    return " ".join(ONES[int(d)] for d in str(n))


def counts():
    """Every count from 0 to 120 in its spoken forms; teens and tens once more, they are confused most."""
    items = []
    for n in range(121):
        link = "link" if n == 1 else "links"
        items.append((number_words(n), str(n)))
        items.append((f"{number_words(n)} {link}", str(n)))
        if n >= 10:
            items.append((digit_words(n), str(n)))
        if 13 <= n <= 19 or (n % 10 == 0 and 30 <= n <= 90):
            items.append((number_words(n), str(n)))
    return items


def readings(rng, n=120):
    """Decimal readings with and without a unit; the unit is no part of the value."""
    items = []
    for _ in range(n):
        whole, tenth = rng.randrange(0, 40), rng.randrange(10)
        value, words = f"{whole}.{tenth}", f"{number_words(whole)} point {ONES[tenth]}"
        if rng.random() < 0.5:
            words = f"{words} {rng.choice(UNITS)}"
        items.append((words, value))
    return items


def tags(rng, n=120):
    """Tag numbers by the spelling alphabet and digit by digit."""
    items = []
    for _ in range(n):
        letters = [rng.choice(SPELLING) for _ in range(rng.choice([1, 1, 2]))]
        digits = [rng.randrange(10) for _ in range(rng.choice([1, 2, 2, 3]))]
        niner = rng.random() < 0.5
        said = ["niner" if d == 9 and niner else ONES[d] for d in digits]
        value = "".join(w[0].upper() for w in letters) + "".join(map(str, digits))
        items.append((" ".join(letters + said), value))
    return items


def catalogue():
    """Rule -> list of (words, expected value or None)."""
    text = tomllib.loads((Path(__file__).parent / "words.toml").read_text())
    rng = random.Random("catalogue")
    rules = {}
    for rule, values in text.items():
        if rule == "out-of-grammar":
            rules[rule] = [(p, None) for p in values["phrases"]]
        else:
            # The first wording of a value is the one an inspector is taught, so it comes twice.
            rules[rule] = [(p, v) for v, ps in values.items() for p in [ps[0], *ps]]
    rules["count"] = counts()
    rules["reading"] = readings(rng)
    rules["tag"] = tags(rng)
    return rules


def sayings(voice, n):
    """The first `n` (rule, words, expected) of a voice; a longer list begins with the shorter one."""
    rules = catalogue()
    decks = {}
    for rule, items in rules.items():
        deck = list(items)
        random.Random(f"{voice}/{rule}").shuffle(deck)
        decks[rule] = deck
    used, out = dict.fromkeys(rules, 0), []
    for i in range(n):
        rule = RULE_CYCLE[i % len(RULE_CYCLE)]
        deck = decks[rule]
        words, expected = deck[used[rule] % len(deck)]
        used[rule] += 1
        out.append((rule, words, expected))
    return out


def taught(voice, n):
    """`n` (rule, words, expected) of what an inspector says all day: the first wordings, what a question that is
    put again offers, and counts up to twelve, half of them with "links"."""
    text = tomllib.loads((Path(__file__).parent / "words.toml").read_text())
    text.pop("out-of-grammar")
    words = [(rule, ps[0], v) for rule, values in text.items() for v, ps in values.items()]
    words += [("condition", "in good order", "good"), ("condition", "damaged", "deficient")]
    numbers = [("count", number_words(k), str(k)) for k in range(1, 13)]
    numbers += [("count", f"{number_words(k)} {'link' if k == 1 else 'links'}", str(k)) for k in range(1, 13)]
    rng = random.Random(f"{voice}/taught")
    for deck in (words, numbers):
        rng.shuffle(deck)
    # Words and counts by turns.
    return [item for pair in zip(words, numbers) for item in pair][:n]


def states(voice, n):
    """`n` (rule, words, expected, states) at checks with states of their own: half of them a state, the rest by
    turns a conforming state denied and what is no answer, of which nothing must be taken."""
    checks = tomllib.loads((Path(__file__).parent / "states.toml").read_text())
    phrases = [p for p, _ in catalogue()["out-of-grammar"]]
    said, denied, other = [], [], []
    for values in checks.values():
        table = [[key, forms] for key, forms in values.items()]
        said += [("state", form, key, table) for key, forms in table for form in forms]
        denied += [("state", f"{no} {table[0][1][0]}", None, table) for no in ("not", "isn't")]
        other.append(table)
    rng = random.Random(f"{voice}/states")
    for deck in (said, denied, phrases):
        rng.shuffle(deck)
    none = [("state", phrase, None, other[i % len(other)]) for i, phrase in enumerate(phrases)]
    pairs = zip(said, (item for pair in zip(denied, none) for item in pair))
    return [item for pair in pairs for item in pair][:n]


def fitting(voice, n):
    """`n` (rule, words, None) for fitting the recogniser's corrections: answers, findings as they are called off,
    two things in one breath, and what is no answer, all from other texts than those of words.toml where they can be."""
    texts = tomllib.loads((Path(__file__).parent / "fitting.toml").read_text())
    answers = catalogue()
    rng = random.Random(f"{voice}/fitting")

    def number():
        return rng.randrange(13) if rng.random() < 0.45 else rng.randrange(13, 121)

    def count():
        n = number()
        link = ("" if rng.random() < 0.6 else " link" if n == 1 else " links")
        return rng.choice([number_words, number_words, digit_words])(n) + link

    def finding():
        thing = rng.choice(texts["things"])
        if rng.random() < 0.15:
            thing = f"both {thing}s"
        if rng.random() < 0.3:
            return f"{thing} {number_words(number())}"
        link = rng.choice(["", "", "", "is ", "are ", "not ", "isn't ", "aren't "])
        return f"{thing} {link}{rng.choice(texts['states'])}"

    def one():
        kind = rng.choices(["count", "word", "state", "reading", "tag", "breath", "pair", "sentence"], [28, 15, 15, 8, 10, 12, 3, 9])[0]
        if kind == "count":
            return kind, count()
        if kind == "word":
            rule = rng.choice(["presence", "presence", "condition", "condition", "yes-no", "fixing", "control"])
            return kind, rng.choice(answers[rule])[0]
        if kind == "state":
            denied = rng.choice(["", "", "not ", "isn't ", "is not ", "aren't ", "are not ", "not quite ", "no, not "])
            return kind, denied + rng.choice(texts["states"])
        if kind in ("reading", "tag"):
            return kind, rng.choice(answers[kind])[0]
        if kind == "breath":
            return kind, ", ".join(finding() for _ in range(rng.choice([1, 2, 2, 3])))
        if kind == "pair":
            return kind, f"{one()[1]}, {one()[1]}"
        return kind, rng.choice(texts["sentences"])

    return [(*one(), None) for _ in range(n)]
