"""Fits the probabilities of src/ears/decide/ and shows how well they hold.

    for s in dev test; do
      cargo run --release --example hearing -- hearing-out --split $s --opinions \
          --second models/ggml-base-pad-q8_0.bin --out hearing-out/$s-opinions.jsonl
    done
    hearing-out/.venv/bin/python hearing/calibrate.py hearing-out [OTHER-SET ...]

Further folders hold sets of their own (`hearing/build.py --taught`, `--states`), measured in the same way. Fits on
the dev speakers (the train speakers have a part in the models' corrections) a logistic function of what the first
model makes of an utterance, and another of what both make of it where both come to the same meaning; all weights but
the constant held at nought or above, so that more evidence never counts against an answer. Prints the weights as they stand in the source, and for the test speakers,
where they were measured, how often an answer of so much confidence was right.
"""

import json
import sys
from pathlib import Path

import numpy as np
from scipy.optimize import minimize

# Greatest number that is a small one (`ALONE_MAX` of the source).
SMALL_MAX = 12
NAMES = ["gap to 2", "gap over 2", "fit", "pace", "outside", "no_speech", "sounds", "loud", "lift"]
BOTH_NAMES = ["gap to 2", "gap over 2", "fit", "second fit", "pace", "outside", "second outside", "no_speech", "second no_speech",
  "sounds", "loud", "lift", "second lift"]
# A wrong answer taken costs more than a right one asked about.
WRONG_WEIGHS = 1.5
RIDGE = 0.15


def family(rule, value):
    if rule == "state":
        return "STATES"
    if rule not in ("count", "reading", "tag"):
        return "WORDS"
    try:
        small = rule != "tag" and float(value) <= SMALL_MAX
    except ValueError:
        small = False
    return "SMALL" if small else "NUMBERS"


def between(x, low, high):
    return min(max(x, low), high)


def features(e):
    """As `Weights::probability` of src/ears/decide/weights.rs has them, each growing towards "right"."""
    return [
        min(e["gap"], 2.0),
        max(e["gap"] - 2.0, 0.0),
        between(e["fit"], -12.0, -2.0) + 2.0,
        max(e["pace"], -6.0),
        -(0.0 if e["first_allowed"] else 1.0),
        -e["no_speech"],
        min(e["sounds"] / 10.0, 1.0),
        min((e["snr_db"] - 6.0) / 6.0, 0.0),
        between(e["lift"], -12.0, 12.0),
    ]


def both_features(gap, first, second):
    """As `BothWeights::probability` has them."""
    one, two = features(first), features(second)
    return [min(gap, 2.0), max(gap - 2.0, 0.0), one[2], two[2], one[3], one[4], two[4], one[5], two[5], one[6], one[7], one[8], two[8]]


def gap_of_both(opinions):
    """Nats to the next meaning by the mean of both scores, as `Opinion::agreed_with` has it."""
    tables = [{(m["rule"], m["value"]): score for m, _, score in reversed(o["ranked"])} for o in opinions]
    mean = lambda key: sum(t.get(key, o["floor"]) for t, o in zip(tables, opinions)) / 2
    scores = sorted((mean(key) for key in set(tables[0]) | set(tables[1])), reverse=True)
    floor = sum(o["floor"] for o in opinions) / 2
    return scores[0] - max(scores[1:2] + [floor])


def load(folders, splits):
    """Of each family: rows and truth of the first model alone, and of both where they agree."""
    out = {name: ([], [], [], []) for name in ("WORDS", "STATES", "SMALL", "NUMBERS")}
    paths = [f / f"{split}-opinions.jsonl" for f in folders for split in splits]
    for line in (json.loads(line) for p in paths if p.exists() for line in p.read_text().splitlines()):
        opinions = line.get("more")
        if not opinions or not opinions[0]["ranked"]:
            continue
        best = opinions[0]["ranked"][0][0]
        # What was denied is refused whatever its probability.
        if best["value"] == "~not":
            continue
        alone, right_alone, both, right_both = out[family(best["rule"], best["value"])]
        right = best["value"] == line["expected"]
        alone.append([1.0, *features(opinions[0]["evidence"])])
        right_alone.append(right)
        if opinions[1]["ranked"] and opinions[1]["ranked"][0][0] == best:
            both.append([1.0, *both_features(gap_of_both(opinions), *(o["evidence"] for o in opinions))])
            right_both.append(right)
    return {name: tuple(np.array(part) for part in parts) for name, parts in out.items()}


def fit(rows, right):
    weight = np.where(right, 1.0, WRONG_WEIGHS)

    def loss(b):
        z = rows @ b
        return (weight * np.logaddexp(0.0, np.where(right, -z, z))).sum() + RIDGE * (b[1:] ** 2).sum()

    start = np.zeros(rows.shape[1])
    bounds = [(None, None)] + [(0.0, None)] * (rows.shape[1] - 1)
    return minimize(loss, start, method="L-BFGS-B", bounds=bounds, options={"maxfun": 1_000_000, "maxiter": 10_000}).x


def reliability(p, truth):
    for low, high in ((0.0, 0.25), (0.25, 0.5), (0.5, 0.8), (0.8, 0.9), (0.9, 0.95), (0.95, 0.98), (0.98, 1.01)):
        inside = (p >= low) & (p < high)
        if inside.any():
            print(f"  test, {low:.2f} to {min(high, 1.0):.2f}: {truth[inside].mean():6.1%} of {inside.sum()} right")


def show(what, names, rows, right, test, truth):
    if len(right) == 0:
        return
    b = fit(rows, right)
    print(f"{what}: {len(right)} heard, {int((~right).sum())} of them wrong")
    print("  constant", round(float(b[0]), 2), *(f"| {n} {w:.2f}" for n, w in zip(names, b[1:])))
    if len(truth):
        reliability(1.0 / (1.0 + np.exp(-(test @ b))), truth)


def main():
    folders = [Path(p) for p in sys.argv[1:] or ["hearing-out"]]
    known, test = load(folders, ("dev",)), load(folders, ("test",))
    for name, (alone, right_alone, both, right_both) in known.items():
        show(name, NAMES, alone, right_alone, test[name][0], test[name][1])
        show(f"{name}, agreed by both models", BOTH_NAMES, both, right_both, test[name][2], test[name][3])


if __name__ == "__main__":
    main()
