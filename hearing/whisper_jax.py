"""A Whisper model that can be fitted: CTranslate2's file, the network in JAX, and the sound as the ears prepare it."""

import re
import struct

import jax
import jax.numpy as jnp
import numpy as np

RATE = 16_000
# As src/ears/whisper.rs cuts its windows: encoder frames a second, margin, least, step.
FRAMES_PER_SECOND, MARGIN, LEAST, STEP = 50, 32, 128, 64


def variables(path):
    """All variables of a CTranslate2 model file (version 6), by name."""
    data, at = path.read_bytes(), 0

    def number(kind):
        nonlocal at
        (value,) = struct.unpack_from(kind, data, at)
        at += struct.calcsize(kind)
        return value

    def text():
        nonlocal at
        length = number("<H")
        at += length
        return data[at - length : at - 1].decode()

    number("<I"), text(), number("<I")
    out = {}
    for _ in range(number("<I")):
        name, rank = text(), number("<B")
        dims = [number("<I") for _ in range(rank)]
        kind = {0: "<f4", 1: "i1", 2: "<i2", 3: "<i4", 4: "<f2"}[number("<B")]
        size = number("<I")
        out[name] = np.frombuffer(data, kind, size // np.dtype(kind).itemsize, at).reshape(dims)
        at += size
    return out


def weights(path):
    """The weights as 32-bit floats, matrices rounded as the ears' q8_0 files have them."""
    out = {}
    for name, values in variables(path).items():
        if not values.ndim or values.dtype.kind != "f":
            continue
        values = values.astype(np.float32)
        if values.ndim == 2 and "position" not in name:
            blocks = values.reshape(-1, 32)
            scale = np.abs(blocks).max(1, keepdims=True) / 127
            rounded = np.round(blocks * np.divide(1, scale, where=scale != 0, out=np.zeros_like(scale)))
            values = (rounded * scale.astype(np.float16).astype(np.float32)).reshape(values.shape)
        out[name] = jnp.asarray(values)
    return out


def layers(w, side):
    return 1 + max(int(m[1]) for m in (re.match(rf"{side}/layer_(\d+)/", name) for name in w) if m)


def norm(x, w, name):
    mean = x.mean(-1, keepdims=True)
    spread = ((x - mean) ** 2).mean(-1, keepdims=True)
    return (x - mean) * jax.lax.rsqrt(spread + 1e-5) * w[name + "/gamma"] + w[name + "/beta"]


def linear(x, w, name):
    return x @ w[name + "/weight"].T + w[name + "/bias"]


def attention(q, k, v, mask=0.0):
    heads = lambda x: x.reshape(*x.shape[:2], -1, 64).transpose(0, 2, 1, 3)
    q, k, v = heads(q), heads(k), heads(v)
    out = jax.nn.softmax(q @ k.transpose(0, 1, 3, 2) / 8.0 + mask, -1) @ v
    return out.transpose(0, 2, 1, 3).reshape(out.shape[0], out.shape[2], -1)


def itself(x, w, name, mask=0.0):
    y = linear(norm(x, w, name + "/layer_norm"), w, name + "/linear_0")
    return x + linear(attention(*jnp.split(y, 3, -1), mask), w, name + "/linear_1")


def forward(x, w, name):
    y = linear(norm(x, w, name + "/layer_norm"), w, name + "/linear_0")
    return x + linear(jax.nn.gelu(y, approximate=False), w, name + "/linear_1")


def encode(w, mel):
    """`mel`: batch, 80 bands, twice the frames of the window."""
    x = mel.transpose(0, 2, 1)
    for number, stride in ((1, 1), (2, 2)):
        kernel = w[f"encoder/conv{number}/weight"].transpose(2, 1, 0)
        x = jax.lax.conv_general_dilated(x, kernel, (stride,), ((1, 1),), dimension_numbers=("NWC", "WIO", "NWC"))
        x = jax.nn.gelu(x + w[f"encoder/conv{number}/bias"], approximate=False)
    x = x + w["encoder/position_encodings/encodings"][: x.shape[1]]
    for i in range(layers(w, "encoder")):
        x = itself(x, w, f"encoder/layer_{i}/self_attention")
        x = forward(x, w, f"encoder/layer_{i}/ffn")
    return norm(x, w, "encoder/layer_norm")


def decode(w, tokens, heard):
    """Logits behind every one of the `tokens` (batch, length)."""
    length = tokens.shape[1]
    mask = jnp.where(jnp.tril(jnp.ones((length, length))) > 0, 0.0, -1e9)
    x = w["decoder/embeddings/weight"][tokens] + w["decoder/position_encodings/encodings"][:length]
    for i in range(layers(w, "decoder")):
        x = itself(x, w, f"decoder/layer_{i}/self_attention", mask)
        name = f"decoder/layer_{i}/attention"
        q = linear(norm(x, w, name + "/layer_norm"), w, name + "/linear_0")
        k, v = jnp.split(linear(heard, w, name + "/linear_1"), 2, -1)
        x = x + linear(attention(q, k, v), w, name + "/linear_2")
        x = forward(x, w, f"decoder/layer_{i}/ffn")
    return norm(x, w, "decoder/layer_norm") @ w["decoder/embeddings/weight"].T


def _bank():
    """80 Slaney bands over 201 bins, as src/model/mel.rs."""
    step = np.log(6.4) / 27
    mel = lambda f: 15 + np.log(f / 1000) / step if f >= 1000 else f * 3 / 200
    edges = np.linspace(0, mel(RATE / 2), 82)
    edges = np.where(edges >= 15, 1000 * np.exp(step * (edges - 15)), edges * 200 / 3)
    low, middle, high = edges[:-2, None], edges[1:-1, None], edges[2:, None]
    f = np.linspace(0, RATE / 2, 201)
    up, down = (f - low) / (middle - low), (high - f) / (high - middle)
    return (np.maximum(0, np.minimum(up, down)) * 2 / (high - low)).astype(np.float32)


BANK = _bank()
HANN = (0.5 - 0.5 * np.cos(2 * np.pi * np.arange(400) / 400)).astype(np.float32)


def window_for(samples):
    """Encoder frames for so many samples."""
    needed = max(samples * FRAMES_PER_SECOND // RATE + MARGIN, LEAST)
    return -(-needed // STEP) * STEP


def spectrogram(samples, window):
    """As src/ears/mel.rs makes it: 80 bands by twice the window."""
    frames = 2 * window
    heard = min(-(-(len(samples) + 200) // 160), frames)
    padded = np.concatenate([samples[1:201][::-1], samples, np.zeros(heard * 160 + 400)]).astype(np.float32)
    pieces = padded[np.arange(heard)[:, None] * 160 + np.arange(400)] * HANN
    out = np.full((80, frames), -10.0, np.float32)
    out[:, :heard] = np.log10(np.maximum(BANK @ (np.abs(np.fft.rfft(pieces)) ** 2).T, 1e-10))
    return (np.maximum(out, out.max() - 8) + 4) / 4


class Tokens:
    """A tokenizer and the prompt that the ears put before every answer."""

    def __init__(self, path):
        from tokenizers import Tokenizer

        self.table = Tokenizer.from_file(str(path))
        number = self.table.token_to_id
        self.end, self.before = number("<|endoftext|>"), number("<|startofprev|>")
        self.no_speech = number("<|nospeech|>") or number("<|nocaptions|>")
        # The English models have the end of text as their last base word; the others one word more.
        spoken = ["<|en|>", "<|transcribe|>"] if self.end > 50_256 else []
        self.prompt = [number(name) for name in ("<|startoftranscript|>", *spoken, "<|notimestamps|>")]

    def of(self, text):
        return self.table.encode(text, add_special_tokens=False).ids
