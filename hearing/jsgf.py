"""The JSGF decoder of the rivals (PocketSphinx): questions on standard input, answers on standard output.

A question is a line of JSON. With `grammar` it gives the JSGF text of a rule; with `bytes` that many
bytes of 16 kHz, 16-bit sound follow, to be heard against the rule. Words that the decoder's dictionary
lacks are spelled here, in its own phones (CMU).
"""

import json
import re
import sys

from pocketsphinx import Decoder

# In the grammars, but not in the dictionary.
SPOKEN = {
    "fife": "F AY F", "fower": "F OW ER", "niner": "N AY N ER", "juliett": "JH UW L IY EH T",
    "x-ray": "EH K S R EY", "unserviceable": "AH N S ER V AH S AH B AH L", "alfa": "AE L F AH",
    "kilopascal": "K IH L OW P AE S K AE L", "kilopascals": "K IH L OW P AE S K AE L Z",
    "kilonewton": "K IH L OW N UW T AH N", "kilonewtons": "K IH L OW N UW T AH N Z",
    "decanewton": "D EH K AH N UW T AH N", "decanewtons": "D EH K AH N UW T AH N Z",
    "newton-metres": "N UW T AH N M IY T ER Z", "metres": "M IY T ER Z", "metre": "M IY T ER",
    "centimetres": "S EH N T AH M IY T ER Z", "millimetres": "M IH L AH M IY T ER Z",
    "centimetre": "S EH N T AH M IY T ER", "millimetre": "M IH L AH M IY T ER",
    "tonnes": "T AH N Z", "tonne": "T AH N", "millibar": "M IH L AH B AA R", "millibars": "M IH L AH B AA R Z",
    "hectopascals": "HH EH K T OW P AE S K AE L Z", "hectopascal": "HH EH K T OW P AE S K AE L",
    "quieter": "K W AY AH T ER", "calling": "K AO L IH NG",
}


def main():
    decoder = Decoder(lm=None, loglevel="FATAL")
    sound_in = sys.stdin.buffer
    active = None
    while line := sound_in.readline():
        question = json.loads(line)
        rule = question["rule"].replace("-", "_")
        if "grammar" in question:
            grammar = question["grammar"]
            bodies = grammar.split("\n", 3)[3]
            words = set(re.findall(r"[a-z][a-z'-]*", re.sub(r"<[^>]*>", " ", bodies)))
            lacking = sorted(w for w in words if decoder.lookup_word(w) is None)
            for word in lacking:
                if word not in SPOKEN:
                    sys.exit(f"jsgf.py: no pronunciation for \"{word}\"; add it to SPOKEN")
                decoder.add_word(word, SPOKEN[word], update=True)
            decoder.add_jsgf_string(rule, grammar)
            answer = {"ready": True}
        else:
            samples = sound_in.read(question["bytes"])
            if active != rule:
                decoder.activate_search(rule)
                active = rule
            decoder.start_utt()
            decoder.process_raw(samples, no_search=False, full_utt=True)
            decoder.end_utt()
            heard = decoder.hyp()
            answer = {"words": heard.hypstr if heard and heard.hypstr else None}
        print(json.dumps(answer), flush=True)


if __name__ == "__main__":
    main()
