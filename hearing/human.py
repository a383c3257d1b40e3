"""Recorded people, from packages made for something else: mostly speech that is no answer."""

import re
import shutil
import subprocess

import numpy as np

import words as spoken
from sound import RATE, read

PHONETIC = {w[0]: w for w in spoken.SPELLING}
# Prompts that are tones, silence, or an answer in some grammar.
NO_SPEECH = re.compile(r"beep|tone|silence|^queue-minute$|tt-monkeys$")


def _g722(path):
    raw = subprocess.run(["ffmpeg", "-v", "error", "-f", "g722", "-i", str(path), "-f", "f32le", "-ac", "1", "-ar", str(RATE), "-"], check=True, capture_output=True).stdout
    return np.frombuffer(raw, "<f4").astype(np.float64)


def _asterisk(folder):
    if not shutil.which("ffmpeg"):
        print("left out asterisk: no program ffmpeg to read G.722; install it with the system's package client")
        return
    root = next(folder.glob("usr/share/asterisk/sounds/en*"))
    digits = {p.stem: p for p in (root / "digits").glob("*.g722")}
    for stem, path in sorted(digits.items()):
        if stem.isdigit() and int(stem) <= 90:
            yield "count", spoken.number_words(int(stem)), stem, "asterisk", _g722(path)
        else:
            yield "out-of-grammar", stem, None, "asterisk", _g722(path)
    for tens in range(20, 100, 10):
        for one in range(1, 10):
            # The recordings are made to be joined; every third one keeps the numbers in balance.
            if (tens // 10 + one) % 3 == 0:
                n = tens + one
                both = [np.trim_zeros(_g722(digits[str(d)])) for d in (tens, one)]
                yield "count", spoken.number_words(n), str(n), "asterisk", np.concatenate(both)
    for path in sorted((root / "phonetic").glob("*_p.g722")):
        letter = path.stem[0]
        if letter in PHONETIC:
            yield "tag", PHONETIC[letter], letter.upper(), "asterisk", _g722(path)
    for path in sorted(root.glob("**/*.g722")):
        if path.parent.name in ("digits", "phonetic", "silence") or NO_SPEECH.search(path.stem):
            continue
        yield "out-of-grammar", path.stem.replace("-", " "), None, "asterisk", _g722(path)


def _by_language(folder, base, name):
    for path in sorted((folder / base).glob("**/*.ogg")) + sorted((folder / base).glob("**/*.wav")):
        language = path.relative_to(folder / base).parts[0]
        # The same recording under another script, and syllables that are English words in a grammar.
        if "@" in language or path.stem in ("no", "to", "tu", "ten"):
            continue
        yield "out-of-grammar", path.stem, None, f"{name}-{language}", read(path)


def _pocketsphinx(folder):
    root = folder / "usr/share/pocketsphinx/test/data"
    for path in sorted(root.glob("**/*.wav")) + sorted(root.glob("**/*.raw")):
        if path.suffix == ".raw":
            samples = np.frombuffer(path.read_bytes(), "<i2") / 32768.0
        else:
            samples = read(path)
        speaker = f"pocketsphinx-{path.parent.name if path.parent != root else path.stem}"
        yield "out-of-grammar", path.stem, None, speaker, samples


def recordings(folders):
    """(rule, words, expected, speaker, samples at 16 kHz) of every recording found."""
    if "asterisk-core-sounds-en-g722" in folders:
        yield from _asterisk(folders["asterisk-core-sounds-en-g722"])
    if "pocketsphinx-testdata" in folders:
        yield from _pocketsphinx(folders["pocketsphinx-testdata"])
    if "ktuberling-data" in folders:
        yield from _by_language(folders["ktuberling-data"], "usr/share/ktuberling/sounds", "ktuberling")
    if "klettres-data" in folders:
        yield from _by_language(folders["klettres-data"], "usr/share/klettres", "klettres")
    if "alsa-utils" in folders:
        for path in sorted((folders["alsa-utils"] / "usr/share/sounds/alsa").glob("*.wav")):
            if path.stem != "Noise":
                yield "out-of-grammar", path.stem.replace("_", " "), None, "alsa-utils", read(path)
