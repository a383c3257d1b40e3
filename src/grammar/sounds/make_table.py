"""Makes pronunciations.txt: the common English words of the CMU pronouncing dictionary.

Usage: python3 make_table.py CMUDICT WORDLIST... > pronunciations.txt

CMUDICT is `resources/cmudict.dict` of the crate package `cmudict-fast` 0.8.0. The word lists are
/usr/share/dict/american-english-small and british-english-small of the Debian packages
`wamerican-small` and `wbritish-small`. Words that the grammars need beyond them stand below.
Stress is left out; an unstressed AH becomes AX. Possessives are left out.
"""

import re
import sys

ALSO = """
ax bravo charlie delta echo foxtrot golf hotel india juliet kilo lima mike november oscar papa quebec
romeo sierra tango uniform victor whiskey yankee zulu
""".split()

# Words of the trade and of radio speech that the dictionary lacks, written by ear.
OWN = """
alfa AE L F AX
becket B EH K IH T
clevis K L EH V IH S
decanewtons D EH K AX N UW T AX N Z
fife F AY F
fower F OW ER
grommet G R AA M IH T
juliett JH UW L IY EH T
kilonewtons K IH L OW N UW T AX N Z
lanyard L AE N Y ER D
litre L IY T ER
litres L IY T ER Z
metre M IY T ER
metres M IY T ER Z
millimetres M IH L AX M IY T ER Z
centimetres S EH N T AX M IY T ER Z
niner N AY N ER
psi P IY EH S AY
ratchet R AE CH IH T
strop S T R AA P
tarpaulin T AA R P AO L IH N
unserviceable AX N S ER V AX S AX B AX L
whisky W IH S K IY
""".strip().splitlines()

CONTRACTIONS = {"it's", "that's", "can't", "doesn't", "isn't", "don't", "won't", "there's", "i'm", "i've"}


def main():
    dictionary, *lists = sys.argv[1:]
    common = set(ALSO) | CONTRACTIONS | set("abcdefghijklmnopqrstuvwxyz")
    for path in lists:
        with open(path, encoding="utf-8") as words:
            common |= {w.strip() for w in words if re.fullmatch(r"[a-z]+", w.strip())}
    out = set(OWN)
    with open(dictionary, encoding="utf-8") as lines:
        for line in lines:
            word, *sounds = line.split("#")[0].split()
            word = re.sub(r"\(\d\)$", "", word)
            if word in common:
                plain = ("AX" if s == "AH0" else s.rstrip("012") for s in sounds)
                out.add(f"{word} {' '.join(plain)}")
    # Sorted by the bytes of the word, so that a word is found by halving.
    for line in sorted(out, key=lambda line: (line.split()[0].encode(), line)):
        print(line)


if __name__ == "__main__":
    main()
