"""Has breaths of called findings said, a voice after the other.

    python3 hearing/breaths.py LINES OUT [--split test] [--synths kokoro,espeak,…] [--packages DIR]

LINES is what `breaths list` printed. OUT gets WAV files and `breaths.jsonl`, a line of LINES with the file,
the voice and its split each. Packages and the Python environment are those of hearing/build.py; run that first.
Broken off and started again, it goes on where it was.
"""

import argparse
import json
import random
from pathlib import Path

import built


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("lines", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--split", default="test")
    parser.add_argument("--synths", default="kokoro,espeak,flite,festival,piper")
    parser.add_argument("--built", type=Path, default=Path("hearing-out"), help=built.HELP)
    options = parser.parse_args()
    built.own_python(options.built)
    import sound

    made = built.synthesisers(options.built, options.synths.split(","))
    pairs = [(name, voice) for name in made for voice in built.voices(name, options.split)]
    random.Random(7).shuffle(pairs)
    if not pairs:
        raise SystemExit(f"no voice of split {options.split} can speak here")
    options.out.mkdir(parents=True, exist_ok=True)
    index = options.out / "breaths.jsonl"
    done = {json.loads(line)["path"] for line in index.read_text().splitlines()} if index.exists() else set()
    for n, line in enumerate(options.lines.read_text().splitlines()):
        entry = json.loads(line)
        name, voice = pairs[n % len(pairs)]
        rng = random.Random(f"{voice} {n}")
        path = f"{options.split}-{n:04}.wav"
        if path in done:
            continue
        samples = made[name].say(voice, entry["words"], rng)
        samples, _, _ = sound.place(samples, rng, rng.uniform(-30, -16))
        sound.write(options.out / path, samples)
        entry |= {"path": path, "voice": voice, "split": options.split}
        with index.open("a") as f:
            f.write(json.dumps(entry, ensure_ascii=False) + "\n")


if __name__ == "__main__":
    main()
