"""Fits corrections of a recogniser's weights: short answers in pad noise, by the train speakers.

    python3 hearing/build.py hearing-out; python3 hearing/build.py hearing-taught --taught 20
    python3 hearing/build.py hearing-states --states 10; python3 hearing/build.py hearing-fitting --fitting 30
    cargo build --release --examples
    hearing-out/.venv/bin/python hearing/adapt.py tiny.en model.bin tokenizer.json models/tiny.en-pad.safetensors \\
        hearing-out hearing-taught hearing-states hearing-fitting --minutes 34

`model.bin` (joined where it comes in parts) and `tokenizer.json` are in the packages of models/manifest.toml. Biases and
normalisations alone are fitted (0.1 % of the numbers); the corrections, what is added to each, go into a safetensors file of
16-bit floats, and `--begin FILE` goes on from an earlier one. Every batch has other noise, levels, colours and speeds. What has no known text (recordings of people, noise
alone) keeps what the model thought of it. Its speakers must not judge it: limits are set on dev speakers, tables are of test
speakers. Two runs differ by how far they come in the time.
"""

import argparse
import json
import queue
import random
import re
import subprocess
import tempfile
import threading
import time
from pathlib import Path

import jax
import jax.numpy as jnp
import numpy as np
import optax
import soundfile
import soxr
from safetensors.numpy import load_file, save_file

import whisper_jax as whisper
from words import ONES, TENS

RATE = whisper.RATE
BATCH = 16
# Windows in encoder frames, and lengths in tokens: each pair is a network of its own to be compiled.
WINDOWS, LENGTHS = (128, 192, 256, 384), (12, 24, 40)
# Recordings without a text that are used, and pieces of what the model made of them.
PLAIN, PLAIN_PIECES = 300, 4
VALUES = {word: n for n, word in enumerate(ONES)} | {word: 10 * n for n, word in enumerate(TENS) if n > 1} | {"hundred": 100, "niner": 9}


# --- what is written ---
def number_of(words):
    """The numbers that a row of number words makes, which may be several ("four twenty")."""
    numbers, total, least = [], 0, 1000
    for word in words:
        value = VALUES[word]
        if value == 100:
            total, least = (total or 1) * 100, 100
        elif value < least:
            total, least = total + value, value if value >= 20 else 0
        else:
            numbers.append(total)
            total, least = value, value if value >= 20 else 0
    return [*numbers, total]


def in_figures(text, joined):
    """A text with its number words as figures: digits joined ("one zero nine" as 109) or apart."""
    out, row = [], []

    def close():
        words = [w for w in row if w != "and"]
        if words and all(VALUES[w] < 10 for w in words):
            out.append(("" if joined else " ").join(str(VALUES[w]) for w in words))
        elif words:
            out.append(" ".join(map(str, number_of(words))))
        row.clear()

    for word in text.split():
        bare = word.rstrip(",")
        if bare in VALUES or (bare == "and" and row[-1:] == ["hundred"]):
            row.append(bare)
            if word != bare:
                close()
                out[-1] += ","
        else:
            close()
            out.append(word)
    close()
    return re.sub(r"(\d) point (\d)", r"\1.\2", " ".join(out))


def written(text, rng):
    """How a recogniser would write a text: (form, share)."""
    def forms(t, share):
        first = t[:1].upper() + t[1:]
        return [(f" {first}.", 0.45 * share), (f" {first}", 0.3 * share), (f" {t}", 0.25 * share)]

    joined, apart = in_figures(text, True), in_figures(text, False)
    small = max(map(int, re.findall(r"\d+", apart)), default=0) <= 10
    words = 1.0 if joined == text else 0.45 if small else 0.15
    table = forms(text, words)
    if joined != text:
        table += forms(joined, 0.6 * (1 - words)) + forms(apart, 0.4 * (1 - words))
    if rng.random() < 0.5:
        table = [(form.replace(",", ""), share) for form, share in table]
    return table


# --- what is heard ---
def pad_noise(program, number=30, seconds=20):
    """Noise of the tool's own generator, by seeds that no measurement uses."""
    tone = 0.05 * np.sin(2 * np.pi * 440 * np.arange(seconds * RATE) / RATE)
    out = []
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "noise.wav"
        for seed in range(900_001, 900_001 + number):
            soundfile.write(path, tone, RATE, subtype="PCM_16")
            # 60 dB under the noise nothing is left of the tone.
            subprocess.run([program, path, "--ratio=-60", "--seed", str(seed)], check=True)
            noise, _ = soundfile.read(path, dtype="float32")
            out.append(noise / noise.std())
    return out


def other_noise(count, rng):
    """Noise of no particular machine: a tilted spectrum, beats, lines."""
    f, t = np.fft.rfftfreq(count, 1 / RATE), np.arange(count) / RATE
    line = lambda hz: np.cos(2 * np.pi * hz * t + rng.uniform(0, 2 * np.pi))
    above = np.maximum(f, 60) / 500
    shape = np.where(above < 1, above ** rng.uniform(-0.5, 0.8), above ** (-rng.uniform(0, 7) / 6.02))
    x = np.fft.irfft((rng.standard_normal(len(f)) + 1j * rng.standard_normal(len(f))) * shape, count)
    x /= x.std() + 1e-9
    if rng.random() < 0.7:
        beat = rng.uniform(8, 35)
        x *= 1 - rng.uniform(0, 0.9) * (0.5 + 0.5 * line(beat)) ** rng.uniform(1, 6)
        if rng.random() < 0.6:
            x += sum(10 ** (rng.uniform(-35, -8) / 20) * line(beat * k) for k in range(1, 20))
    for _ in range(rng.integers(0, 5)):
        x += 10 ** (rng.uniform(-30, -3) / 20) * line(rng.uniform(50, 7000))
    if rng.random() < 0.2:
        gust = np.interp(t, np.linspace(0, t[-1] + 0.01, 12), np.abs(rng.standard_normal(12)))
        x += gust * np.cumsum(rng.standard_normal(count)) * 0.02
    return x.astype(np.float32)


def active_power(x):
    """Mean power of the 10 ms frames within 30 dB of the loudest, as the tool's mixing has it."""
    power = (x[: len(x) // 160 * 160].reshape(-1, 160) ** 2).mean(1)
    return power[power >= power.max() * 1e-3].mean() + 1e-12


class Sounds:
    """Utterances as the ears would cut them, each time otherwise."""

    def __init__(self, rows, noises, rng):
        self.rows, self.noises, self.rng = rows, noises, rng

    def noise(self, count):
        if self.rng.random() < 0.65:
            whole = self.noises[self.rng.integers(len(self.noises))]
            at = self.rng.integers(0, len(whole) - count)
            return whole[at : at + count]
        return other_noise(count, self.rng)

    def alone(self):
        x = self.noise(int(self.rng.uniform(0.4, 1.8) * RATE))
        return (x / (np.abs(x).max() + 1e-9) * 10 ** (self.rng.uniform(-40, -3) / 20)).astype(np.float32)

    def utterance(self, row, quiet=False):
        rng, whole = self.rng, row["samples"]
        start, end = row["speech_start"] - rng.uniform(0.15, 0.6), row["speech_end"] + (tail := rng.uniform(0.15, 0.5))
        x = whole[int(max(0, start) * RATE) : int(end * RATE)] * 10 ** (rng.uniform(-14, 6) / 20)
        if rng.random() < 0.5:  # Another speaker: pitch and formants higher or lower, and the speed with them.
            x = soxr.resample(x, RATE, RATE * rng.uniform(0.88, 1.14), quality="MQ")
        if rng.random() < 0.4:  # The colour of a microphone.
            octaves = np.log2(np.maximum(np.fft.rfftfreq(len(x), 1 / RATE), 80) / 1000)
            db = rng.uniform(-3, 3) * octaves + rng.uniform(-2, 2) * np.sin(octaves * rng.uniform(1, 4))
            x = np.fft.irfft(np.fft.rfft(x) * 10 ** (db / 20), len(x))
        if rng.random() < 0.12:  # A room.
            length = int(rng.uniform(0.02, 0.12) * RATE)
            echo = rng.standard_normal(length) * np.exp(-np.arange(length) / (length / 4)) * rng.uniform(0.05, 0.25)
            echo[0] = 1
            x = np.convolve(x, echo)[: len(x)]
        if quiet or rng.random() < 0.15:
            x = x + rng.standard_normal(len(x)) * 10 ** (rng.uniform(-80, -50) / 20)
        else:
            ratio = rng.uniform(-3, 24) if rng.random() < 0.88 else rng.uniform(-5, 3)
            noise = self.noise(len(x))
            x = x + noise * np.sqrt(active_power(x) / (noise**2).mean() / 10 ** (ratio / 10))
            if rng.random() < 0.07:  # A stream that ends with the word.
                x[int(len(x) - min(tail, 0.3) * RATE) :] = 0
        return (x * min(1, 0.99 / max(np.abs(x).max(), 1e-9))).astype(np.float32)


# --- the fit ---
class Fit:
    def __init__(self, model, tokens, begin):
        self.start, self.tokens = whisper.weights(model), tokens
        begun = load_file(begin) if begin else {}
        self.fitted = {name: row + begun.get(name, 0) for name, row in self.start.items() if row.ndim == 1}
        self.free = {name: self._free(name, row) for name, row in self.fitted.items()}
        self.optimiser = optax.chain(optax.clip_by_global_norm(1.0), optax.scale_by_adam(b2=0.99))
        self.state = self.optimiser.init(self.fitted)
        self.at = len(tokens.prompt) - 1
        self.step = jax.jit(self._step)
        # The weights are handed in each time: as constants every shape that is compiled would have its own copy.
        self._whole = jax.jit(self._scores)
        self._as_it_was = jax.jit(lambda w, mel, seen: self._scores(w, mel, seen)[:, self.at : self.at + PLAIN_PIECES + 1])

    @staticmethod
    def _free(name, row):
        """Keys have no bias in whisper.cpp: theirs stays nought."""
        parts = 3 if name.endswith("self_attention/linear_0/bias") else 2 if re.search(r"\d/attention/linear_1/bias$", name) else 0
        free = np.ones(len(row), np.float32)
        if parts:
            part = len(row) // parts
            free[part * (parts - 2) : part * (parts - 1)] = 0
        return free

    def _scores(self, w, mel, tokens):
        return jax.nn.log_softmax(whisper.decode(w, tokens[:, :-1], whisper.encode(w, mel)))

    def as_it_was(self, mel, seen):
        return self._as_it_was(self.start, mel, seen)

    def _loss(self, fitted, start, mel, tokens, counts, prompt_at, no_speech, was, was_counts):
        scores = self._scores({**start, **fitted}, mel, tokens)
        right = jnp.take_along_axis(scores, tokens[:, 1:, None], -1)[..., 0]
        words = -(right * counts).sum() / (counts.sum() + 1e-6)
        silent = jnp.clip(jnp.exp(scores[jnp.arange(BATCH), prompt_at, self.tokens.no_speech]), 1e-6, 1 - 1e-6)
        silence = -(no_speech * jnp.log(silent) + (1 - no_speech) * jnp.log1p(-silent)).mean()
        now = scores[:, self.at : self.at + PLAIN_PIECES + 1]
        apart = jnp.where(was_counts[..., None] > 0, jnp.exp(was) * (was - now), 0).sum(-1)
        kept = (apart * was_counts).sum() / (was_counts.sum() + 1e-6)
        far = sum(((row - start[name]) ** 2).sum() for name, row in fitted.items())
        return words + 0.1 * silence + 0.3 * kept + 1e-4 * far, (words, silence, kept)

    def _step(self, fitted, start, state, rate, *batch):
        (_, parts), slope = jax.value_and_grad(self._loss, has_aux=True)(fitted, start, *batch)
        slope = {name: value * self.free[name] for name, value in slope.items()}
        update, state = self.optimiser.update(slope, state)
        return {name: fitted[name] - rate * update[name] for name in fitted}, state, parts

    def plain(self, samples):
        """What the model, as it was, makes of a sound: its first pieces, and how sure it is that nobody speaks."""
        window = next((w for w in WINDOWS if w >= whisper.window_for(len(samples))), None)
        if window is None:
            return None
        mel, pieces = whisper.spectrogram(samples, window)[None], []
        for _ in range(PLAIN_PIECES + 1):
            seen = self.tokens.prompt + pieces
            row = self._whole(self.start, mel, jnp.array([(seen + [self.tokens.end] * LENGTHS[0])[: LENGTHS[0]]]))[0]
            best = int(row[len(seen) - 1].argmax())
            if best == self.tokens.end or len(pieces) == PLAIN_PIECES:
                return float(jnp.exp(row[0, self.tokens.no_speech])), pieces
            pieces.append(best)


def examples(rows, sounds, fit, rng):
    """(samples, context, pieces, probability that nobody speaks, whether it only keeps what it was), without end."""
    spoken = [r for r in rows if r["words"]]
    other = [(r, p) for r in rows if not r["words"] and (p := fit.plain(r["samples"]))]
    print(f"{len(spoken)} utterances with a text, {len(other)} without", flush=True)
    shuffle = random.Random(5)
    while True:
        chance = rng.random()
        if chance < 0.06 and other:
            row, (silent, pieces) = other[rng.integers(len(other))]
            yield sounds.utterance(row, quiet=rng.random() < 0.5), [], pieces, silent, True
        elif chance < 0.09:
            yield sounds.alone(), [], [], 0.8, True
        else:
            row = spoken[rng.integers(len(spoken))]
            table = written(row["words"], shuffle)
            form = table[rng.choice(len(table), p=[share for _, share in table])][0]
            context = []
            if rng.random() < 0.1:  # As the ears put a check's own states before the prompt.
                told = ", ".join(spoken[rng.integers(len(spoken))]["words"] for _ in range(2))
                context = [fit.tokens.before, *fit.tokens.of(" " + told)[:9]]
            yield sounds.utterance(row), context, fit.tokens.of(form), 0.02, False


def batches(source, fit):
    """Batches of one window and length each."""
    waiting = {(w, n): [] for w in WINDOWS for n in LENGTHS}
    prompt = fit.tokens.prompt
    for samples, context, pieces, silent, keep in source:
        window, length = whisper.window_for(len(samples)), len(context) + len(prompt) + len(pieces) + 1
        key = next((k for k in waiting if k[0] >= window and k[1] >= length), None)
        if key is None:
            continue
        waiting[key].append((whisper.spectrogram(samples, key[0]), context, pieces, silent, keep))
        if len(waiting[key]) < BATCH:
            continue
        items, waiting[key] = waiting[key], []
        tokens = np.full((BATCH, key[1]), fit.tokens.end)
        counts, was_counts = np.zeros((BATCH, key[1] - 1), np.float32), np.zeros((BATCH, PLAIN_PIECES + 1), np.float32)
        for row, (_, context, pieces, _, keep) in enumerate(items):
            seen = context + prompt + pieces
            tokens[row, : len(seen)] = seen
            if keep:
                was_counts[row, : len(pieces) + 1] = 1
            else:
                counts[row, len(seen) - len(pieces) - 1 : len(seen)] = 1
        prompt_at, silent = np.array([len(i[1]) for i in items]), np.array([i[3] for i in items], np.float32)
        yield np.stack([i[0] for i in items]), tokens, counts, prompt_at, silent, was_counts


def load(folders):
    """Rows of the train speakers with their samples; what has no known text has none."""
    rows, plain = [], 0
    for folder in folders:
        for line in (folder / "set.jsonl").read_text().splitlines():
            row = json.loads(line)
            if row["split"] != "train":
                continue
            if row["kind"] == "human" or row["words"].startswith("["):
                row["words"] = None
                plain += 1
                # Every fifth, so that they come from many people.
                if plain % 5 or plain > 5 * PLAIN:
                    continue
            row["samples"], _ = soundfile.read(folder / row["path"], dtype="float32")
            rows.append(row)
    return rows


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("name", help="for the record only")
    parser.add_argument("model", type=Path)
    parser.add_argument("tokenizer", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("sets", type=Path, nargs="+")
    parser.add_argument("--minutes", type=float, default=34)
    parser.add_argument("--begin", type=Path, help="corrections to go on from")
    parser.add_argument("--rate", type=float, default=2e-3)
    parser.add_argument("--mix", default="target/release/examples/mix", help="program that mixes pad noise")
    options = parser.parse_args()
    rng = np.random.default_rng(5)
    fit = Fit(options.model, whisper.Tokens(options.tokenizer), options.begin)
    rows = load(options.sets)
    sounds = Sounds(rows, pad_noise(options.mix), rng)
    ready = queue.Queue(8)

    def fill():
        for batch in batches(examples(rows, sounds, fit, rng), fit):
            ready.put(batch)

    threading.Thread(target=fill, daemon=True).start()
    fitted, state, mean, begun, number = fit.fitted, fit.state, None, None, 0
    while True:
        mel, tokens, counts, prompt_at, silent, was_counts = ready.get()
        part = 0 if begun is None else (time.monotonic() - begun) / (60 * options.minutes)
        if part >= 1:
            break
        rate = options.rate * min(1, part / 0.04) * (0.5 + 0.5 * np.cos(np.pi * part))
        was = fit.as_it_was(mel, tokens) if was_counts.any() else jnp.zeros((BATCH, PLAIN_PIECES + 1, fit.start["decoder/embeddings/weight"].shape[0]))
        fitted, state, parts = fit.step(fitted, fit.start, state, rate, mel, tokens, counts, prompt_at, silent, was, was_counts)
        parts = np.array([float(p) for p in parts])
        mean = parts if mean is None else 0.97 * mean + 0.03 * parts
        number += 1
        if number == 12:  # Most of it is compiled by now.
            begun = time.monotonic()
        if number % 25 == 0:
            print(f"{number} batches, {part:.1%}: words {mean[0]:.2f}, silence {mean[1]:.2f}, kept {mean[2]:.2f} nats", flush=True)
    rows = {name: np.asarray(values - fit.start[name]).astype(np.float16) for name, values in fitted.items()}
    save_file(rows, options.out, metadata={"of": options.name, "batches": str(number)})


if __name__ == "__main__":
    main()
