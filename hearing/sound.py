"""Sound on its way into the set: cut to the speech, give it a level and a place, write it."""

import numpy as np
import soundfile
import soxr

RATE = 16_000
FRAME = 160


def to_rate(samples, rate):
    """Mono float samples at 16 kHz."""
    samples = np.asarray(samples, dtype=np.float64)
    if samples.ndim == 2:
        samples = samples.mean(axis=1)
    return samples if rate == RATE else soxr.resample(samples, rate, RATE, quality="VHQ")


def speech_frames(samples, below_peak_db=40.0):
    """Bool per 10 ms frame: its level is within `below_peak_db` of the loudest frame's."""
    n = len(samples) // FRAME
    if n == 0:
        return np.zeros(0, dtype=bool)
    power = np.mean(samples[: n * FRAME].reshape(n, FRAME) ** 2, axis=1)
    return power > max(power.max() * 10 ** (-below_peak_db / 10), 1e-12)


def trim(samples):
    """Cut silence at both ends, keeping 30 ms so that no burst or fade is lost."""
    active = np.flatnonzero(speech_frames(samples))
    if len(active) == 0:
        return samples
    return samples[max(0, (active[0] - 3) * FRAME) : (active[-1] + 4) * FRAME]


def in_one_breath(samples, most=0.3):
    """Shortens every pause within to `most` seconds: half a second would end an utterance."""
    active = np.flatnonzero(speech_frames(samples))
    keep = np.ones(len(samples), dtype=bool)
    for before, after in zip(active, active[1:]):
        keep[int(before * FRAME + FRAME + most * RATE) : after * FRAME] = False
    return samples[keep]


def active_level_db(samples):
    """Level in dBFS (RMS, full-scale sine = -3) over the frames that hold speech."""
    frames = speech_frames(samples, 30.0)
    if not frames.any():
        return -120.0
    held = samples[: len(frames) * FRAME].reshape(-1, FRAME)[frames]
    return 10 * np.log10(np.mean(held**2) + 1e-12)


def raised(samples, rng):
    """A raised voice: pitch +10 to +20 %, vowels longer, flatter tilt, first formants a little up.

    Directions from Summers et al. 1988 (JASA 84(3): level, duration and pitch rise, tilt flattens);
    the amounts are a choice. Analysis and synthesis by the WORLD vocoder, which moves pitch without
    moving the formants.
    """
    import pyworld

    pitch, stretch = rng.uniform(1.10, 1.20), rng.uniform(1.08, 1.25)
    tilt_db_per_octave = rng.uniform(1.5, 3.0)
    x = np.ascontiguousarray(samples, dtype=np.float64)
    f0, t = pyworld.harvest(x, RATE)
    envelope = pyworld.cheaptrick(x, f0, t, RATE)
    aperiodicity = pyworld.d4c(x, f0, t, RATE)
    freq = np.linspace(0, RATE / 2, envelope.shape[1])
    octaves = np.log2(np.clip(freq, 200, 5000) / 500)
    envelope = envelope * 10 ** (tilt_db_per_octave * octaves / 10)
    # First formant up by about 6 % below 1.5 kHz, fading to none: read the envelope lower down.
    source = freq / (1 + 0.06 * np.clip((1500 - freq) / 1500, 0, 1))
    envelope = np.array([np.interp(source, freq, row) for row in envelope])
    # Voiced frames are stretched, unvoiced kept: vowels lengthen, consonants hardly.
    steps = np.where(f0 > 0, stretch, 1.0)
    ends = np.cumsum(steps)
    pick = np.clip(np.searchsorted(ends, np.arange(int(ends[-1]))), 0, len(f0) - 1)
    return pyworld.synthesize(
        np.ascontiguousarray(f0[pick] * pitch),
        np.ascontiguousarray(envelope[pick]),
        np.ascontiguousarray(aperiodicity[pick]),
        RATE,
    )


def distant(samples, rng):
    """Somebody else, two to five metres off: softer highs and two late echoes."""
    out = np.array(samples)
    for delay_ms, gain in ((rng.uniform(7, 15), 0.45), (rng.uniform(20, 45), 0.3)):
        d = int(RATE * delay_ms / 1000)
        out[d:] += gain * samples[:-d] if d < len(samples) else 0
    # One-pole low-pass at about 2.5 kHz.
    a = np.exp(-2 * np.pi * 2500 / RATE)
    for i in range(1, len(out)):
        out[i] = (1 - a) * out[i] + a * out[i - 1]
    return out


def place(samples, rng, level_db, floor_db=-72.0):
    """Trim, set the level, put 0.25 to 0.6 s of quiet before and after, over a faint floor (None: none).

    Returns the samples and where the speech starts and ends in seconds.
    """
    speech = trim(samples)
    speech = speech * 10 ** ((level_db - active_level_db(speech)) / 20)
    peak = np.max(np.abs(speech), initial=0.0)
    if peak > 0.95:
        speech *= 0.95 / peak
    before, after = (int(RATE * rng.uniform(0.25, 0.6)) for _ in range(2))
    out = np.concatenate([np.zeros(before), speech, np.zeros(after)])
    if floor_db is not None:
        noise = np.random.default_rng(rng.getrandbits(32)).standard_normal(len(out))
        out += noise * 10 ** (floor_db / 20)
    return out, before / RATE, (before + len(speech)) / RATE


def write(path, samples):
    """16-bit mono WAV at 16 kHz."""
    path.parent.mkdir(parents=True, exist_ok=True)
    soundfile.write(path, np.clip(samples, -1, 1), RATE, subtype="PCM_16")


def read(path):
    """Any sound file as mono floats at 16 kHz."""
    samples, rate = soundfile.read(path, dtype="float64")
    return to_rate(samples, rate)
