"""Sounds that are no speech: coughs, breaths, claps, knocks, wind on the microphone.

Shaped noise, so imitations; they test that a burst is not taken for a word.
"""

import numpy as np

from sound import RATE

KINDS = ("cough", "breath", "clap", "knock", "wind", "two coughs", "throat", "hammer")


def band(x, low, high):
    """Keep low..high hertz (brick wall in the spectrum: these are noises, phase does not matter)."""
    spectrum = np.fft.rfft(x)
    f = np.fft.rfftfreq(len(x), 1 / RATE)
    spectrum[(f < low) | (f > high)] = 0
    return np.fft.irfft(spectrum, len(x))


def burst(rng, seconds, attack_s, decay_s, low, high):
    """Noise in a band with a fast rise and a slower fall."""
    t = np.arange(int(seconds * RATE)) / RATE
    return band(rng.standard_normal(len(t)), low, high) * (1 - np.exp(-t / attack_s)) * np.exp(-t / decay_s)


def cough(rng):
    """An explosive burst, then a voiced-like rough tail."""
    first = burst(rng, 0.28, 0.004, 0.06, 300, 5000)
    t = np.arange(int(0.22 * RATE)) / RATE
    hum = np.sign(np.sin(2 * np.pi * rng.uniform(110, 220) * t)) * np.exp(-t / 0.07)
    return np.concatenate([first, band(hum + 0.4 * rng.standard_normal(len(t)) * np.exp(-t / 0.07), 200, 2500)])


def make(kind, seed):
    """One sound at 16 kHz; the seed fixes it."""
    rng = np.random.default_rng(seed)
    if kind == "cough":
        return cough(rng)
    if kind == "two coughs":
        return np.concatenate([cough(rng), np.zeros(int(0.12 * RATE)), cough(rng)])
    if kind == "breath":
        t = np.linspace(0, 1, int(rng.uniform(0.5, 1.0) * RATE))
        return band(rng.standard_normal(len(t)), 400, 4000) * np.sin(np.pi * t) ** 2
    if kind == "clap":
        return burst(rng, 0.15, 0.001, 0.02, 700, 7000)
    if kind == "knock":
        one = burst(rng, 0.12, 0.001, 0.03, 80, 900)
        return np.concatenate([np.concatenate([one, np.zeros(int(0.08 * RATE))]) for _ in range(3)])
    if kind == "wind":
        t = np.linspace(0, 1, int(rng.uniform(0.8, 1.6) * RATE))
        return band(rng.standard_normal(len(t)), 20, 500) * np.abs(np.sin(np.pi * t * rng.uniform(1, 3)))
    if kind == "throat":
        t = np.arange(int(0.5 * RATE)) / RATE
        pulses = (np.sin(2 * np.pi * rng.uniform(45, 80) * t) > 0.9).astype(float)
        return band(pulses + 0.2 * rng.standard_normal(len(t)), 150, 2000) * np.sin(np.pi * t / 0.5)
    if kind == "hammer":
        t = np.arange(int(0.3 * RATE)) / RATE
        ring = sum(np.sin(2 * np.pi * rng.uniform(900, 5500) * t) for _ in range(6))
        return ring * np.exp(-t / 0.06) + burst(rng, 0.3, 0.001, 0.01, 500, 7500)
    raise ValueError(f"no sound called {kind}; choose one of {KINDS}")
