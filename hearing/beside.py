"""Hears answers with other people's talk beside them, and counts.

    python3 hearing/beside.py SET OUT --loadwalk PROGRAM [--split dev] [--number 60] [--under 25,20,15] [--built DIR]

SET is what hearing/build.py made, with answers and with recordings of people. Each answer gets three seconds of talk before
it and four behind, so many dB under it (mean levels of what is speech), and a hiss at 35 dB. The talk is recordings
in which nobody answers, by speakers of other splits than test, one behind the other with up to 0.3 s between them: it never pauses for as
long as ends an utterance. OUT gets WAV files and `beside.jsonl`, a line an answer with what was decided.
"""

import argparse
import json
import random
import subprocess
from collections import Counter, defaultdict
from pathlib import Path

import built

RULES = ("presence", "condition", "control", "count", "yes-no")
BEFORE, BEHIND = 3.0, 4.0


def talk(paths, seconds, rng, sound, np):
    """So much talk without a pause, at 0 dB."""
    pieces, length = [], 0
    while length < seconds * sound.RATE:
        piece = sound.trim(sound.read(rng.choice(paths)))
        piece = piece / 10 ** (sound.active_level_db(piece) / 20)
        pieces += [piece, np.zeros(int(rng.uniform(0.05, 0.3) * sound.RATE))]
        length += len(pieces[-2]) + len(pieces[-1])
    return np.concatenate(pieces)[: int(seconds * sound.RATE)]


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("set", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--loadwalk", required=True)
    parser.add_argument("--split", default="dev")
    parser.add_argument("--number", type=int, default=60)
    parser.add_argument("--under", default="25,20,15")
    parser.add_argument("--built", type=Path, default=Path("hearing-out"), help=built.HELP)
    options = parser.parse_args()
    built.own_python(options.built)
    import numpy as np
    import sound

    files = [json.loads(line) for line in (options.set / "set.jsonl").read_text().splitlines()]
    talkers = [
        options.set / f["path"]
        for f in files
        if f["kind"] == "human" and f["rule"] == "out-of-grammar" and f["split"] != "test" and f["seconds"] > 1
    ]
    if not talkers:
        raise SystemExit(f"{options.set} has no recordings of people; build it without --no-human")
    answers = [f for f in files if f["rule"] in RULES and f["split"] == options.split and f["effort"] == "normal"]
    rng = random.Random(3)
    rng.shuffle(answers)
    options.out.mkdir(parents=True, exist_ok=True)
    made = []
    for n, answer in enumerate(answers[: options.number]):
        word = sound.trim(sound.read(options.set / answer["path"]))
        word = word / 10 ** (sound.active_level_db(word) / 20)
        seconds = BEFORE + len(word) / sound.RATE + BEHIND
        beside = talk(talkers, seconds, rng, sound, np)
        hiss = np.random.default_rng(n).standard_normal(len(beside)) * 10 ** (-35 / 20)
        for under in options.under.split(","):
            samples = beside * 10 ** (-float(under) / 20) + hiss
            at = int(BEFORE * sound.RATE)
            samples[at : at + len(word)] += word
            path = options.out / f"{n:03}-{under}.wav"
            sound.write(path, np.clip(samples * 0.1, -1, 1))
            made.append(answer | {"path": str(path), "under": under})
    counts = defaultdict(Counter)
    with (options.out / "beside.jsonl").open("w") as out:
        for rule in RULES:
            of = {m["path"]: m for m in made if m["rule"] == rule}
            if not of:
                continue
            command = [options.loadwalk, "hear", "--json", "--rule", rule, *of]
            heard = subprocess.run(command, stdout=subprocess.PIPE, text=True).stdout
            for line in map(json.loads, heard.splitlines()):
                of[line["file"]] |= {"decision": line["decision"], "answer": line["answer"]}
            for file in of.values():
                decision = file.get("decision", "refuse")
                if decision == "take" and str(file["answer"]) != str(file["expected"]):
                    decision = "wrong"
                counts[file["under"]][decision] += 1
                out.write(json.dumps(file, ensure_ascii=False) + "\n")
    print("| talk under the answer | answers | taken | asked | refused | wrong |\n| --- | --- | --- | --- | --- | --- |")
    for under, of in counts.items():
        asked = of["ask"] + of["confirm"]
        print(f"| {under} dB | {of.total()} | {of['take']} | {asked} | {of['refuse']} | {of['wrong']} |")


if __name__ == "__main__":
    main()
