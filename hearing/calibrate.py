"""Fits the probabilities of src/ears/decide.rs and shows how well they hold.

    for s in train dev test; do
      cargo run --release --example hearing -- hearing-out --split $s --out hearing-out/$s.jsonl
      cargo run --release --example hearing -- hearing-out --split $s --out hearing-out/$s-two.jsonl \
          --second models/ggml-base-q8_0.bin
    done
    hearing-out/.venv/bin/python hearing/calibrate.py hearing-out

Fits on the train and dev speakers, one logistic function for words and one for numbers, all weights but
the constant held at nought or above so that more evidence never counts against an answer; then, on what
a second model was asked about and agreed with, the function that weighs it. Prints the weights as they
stand in the source, and for the test speakers how often an answer of so much confidence was right: with
these weights, and as the measured program gave it.
"""

import json
import sys
from pathlib import Path

import numpy as np
from scipy.optimize import minimize

FAMILIES = {
    "WORDS": {"presence", "condition", "control", "yes-no", "fixing"},
    "NUMBERS": {"count", "reading", "tag"},
}
NAMES = ["gap to 2", "gap over 2", "fit", "pace", "outside", "no_speech", "sounds", "loud", "lift"]
SECOND_NAMES = ["first", "gap to 2", "gap over 2", "lift", "pace"]
# A wrong answer taken costs more than a right one asked about.
WRONG_WEIGHS = 1.5
RIDGE = 0.15


def features(e):
    """As `Weights::probability` of src/ears/decide.rs has them, each growing towards "right"."""
    return [
        min(e["gap"], 2.0),
        max(e["gap"] - 2.0, 0.0),
        min(max(e["fit"], -12.0), -2.0) + 2.0,
        max(e["pace"], -6.0),
        -(0.0 if e["first_allowed"] else 1.0),
        -e["no_speech"],
        min(e["sounds"] / 10.0, 1.0),
        min((e["snr_db"] - 6.0) / 6.0, 0.0),
        min(max(e["lift"], -12.0), 12.0),
    ]


def load(path, family):
    rows, right, given, second = [], [], [], []
    for line in map(json.loads, path.read_text().splitlines()):
        if line.get("rule") not in family or not line["more"] or line["value"] is None:
            continue
        line |= line["more"]
        e = line["evidence"]
        rows.append([1.0, *features(e)])
        right.append(line["value"] == line["expected"])
        given.append(line["confidence"])
        second.append(line["second"])
    return np.array(rows), np.array(right), np.array(given), second


def load_second(path, family, b):
    """What a second model agreed with: its evidence, and the log-odds that the first function gives."""
    rows, right, given, second = load(path, family)
    asked = np.array([bool(s and s["agrees"]) for s in second], dtype=bool)
    odds = rows[asked] @ b
    agreed = [s for s in second if s and s["agrees"]]
    rows = [
        [
            1.0,
            z,
            min(s["gap"], 2.0),
            max(s["gap"] - 2.0, 0.0),
            min(max(s["lift"], -12.0), 12.0),
            max(s["pace"], -6.0),
        ]
        for z, s in zip(odds, agreed)
    ]
    return np.array(rows), right[asked], given[asked]


def fit(rows, right):
    weight = np.where(right, 1.0, WRONG_WEIGHS)

    def loss(b):
        z = rows @ b
        return (weight * np.logaddexp(0.0, np.where(right, -z, z))).sum() + RIDGE * (b[1:] ** 2).sum()

    start = np.zeros(rows.shape[1])
    bounds = [(None, None)] + [(0.0, None)] * (rows.shape[1] - 1)
    return minimize(loss, start, method="L-BFGS-B", bounds=bounds).x


def reliability(what, p, truth):
    for low, high in ((0.0, 0.25), (0.25, 0.5), (0.5, 0.8), (0.8, 0.9), (0.9, 0.95), (0.95, 0.98), (0.98, 1.01)):
        inside = (p >= low) & (p < high)
        if inside.any():
            print(f"  test, {what} {low:.2f} to {min(high, 1.0):.2f}: {truth[inside].mean():6.1%} of {inside.sum()} right")


def show(names, b):
    print("  constant", round(float(b[0]), 2), *(f"| {n} {w:.2f}" for n, w in zip(names, b[1:])))


def probability(rows, b):
    return 1.0 / (1.0 + np.exp(-(rows @ b)))


def main():
    out = Path(sys.argv[1] if len(sys.argv) > 1 else "hearing-out")
    for name, family in FAMILIES.items():
        parts = [load(out / f"{split}.jsonl", family) for split in ("train", "dev")]
        rows = np.concatenate([part[0] for part in parts])
        right = np.concatenate([part[1] for part in parts])
        b = fit(rows, right)
        print(f"{name}: {len(right)} heard, {int((~right).sum())} of them wrong")
        show(NAMES, b)
        test, truth, given, _ = load(out / "test.jsonl", family)
        reliability("fitted", probability(test, b), truth)
        reliability("given", given, truth)
        parts = [load_second(out / f"{split}-two.jsonl", family, b) for split in ("train", "dev")]
        rows = np.concatenate([part[0] for part in parts])
        right = np.concatenate([part[1] for part in parts])
        both = fit(rows, right)
        print(f"{name}, agreed by a second model: {len(right)} heard, {int((~right).sum())} of them wrong")
        show(SECOND_NAMES, both)
        test, truth, given = load_second(out / "test-two.jsonl", family, b)
        reliability("fitted", probability(test, both), truth)
        reliability("given", given, truth)


if __name__ == "__main__":
    main()
