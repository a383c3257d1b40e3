"""How long a corner of twelve checks takes, led and called off.

    python3 hearing/pace.py OUT --built hearing-out [--voices 8] [--split test] [--ratios 99,20,10]

One inspector a voice walks the corner of hearing/corner.toml with the release build, once asked and once calling
four findings a breath. He listens and answers as a person would: "yes" or "negative" where he is asked whether
he said something, again what was not understood, "station done" at the end. Time is that of the sounds and
prompts (`walk --fast`). Whoever says a breath makes no pause of more than 0.3 s in it: the next file would be
asked for in such a pause. Packages and the Python environment are those of hearing/build.py; run that first.
Prints a table, and leaves a line a walk in OUT/pace.jsonl.
"""

import argparse
import itertools
import json
import queue
import random
import statistics
import subprocess
import threading
from pathlib import Path

import built

HERE = Path(__file__).parent
PLAN = HERE / "corner.toml"
# Each check of the corner with its answer, and its value in the record.
CHECKS = {
    "lifting-lug": ("in good order", "good"),
    "shackle-bow": ("in good order", "good"),
    "shackle-pin": ("present", "present"),
    "leg-rope": ("in good order", "good"),
    "chain": ("straight", "straight"),
    "hook-keeper": ("closed", "closed"),
    "hook-links": ("four links", "4"),
    "free-chain": ("present", "present"),
    "leg-routing": ("clear", "clear"),
    "edge-padding": ("present", "present"),
    "breakaway-tie": ("cotton", "light"),
    "strap": ("tight", "tight"),
}
BREATH = 4
# Whoever is asked so often about one corner is not understood at all.
TURNS_MAX = 80
# Seconds without a word of the program after which what was said is said again: no speech was found in it.
UNHEARD = 20


def called(check):
    words = CHECKS[check][0]
    name = check.replace("-", " ")
    return words if words.endswith("links") else f"{name} {words.replace('in good order', 'good')}"


class Inspector:
    """Speaks with one voice, in noise of one level."""

    def __init__(self, synth, voice, ratio, folder, mix):
        self.synth, self.voice, self.ratio, self.folder, self.mix = synth, voice, ratio, folder, mix
        self.said = {}
        self.takes = 0

    def file(self, words):
        """A sound file of these words; each time they are said a little otherwise."""
        import sound

        self.takes += 1
        rng = random.Random(f"{self.voice} {self.takes}")
        samples = sound.in_one_breath(self.synth.say(self.voice, words, rng))
        samples, _, _ = sound.place(samples, rng, -24.0)
        path = self.folder / f"{self.voice}-{self.takes:03}.wav"
        sound.write(path, samples)
        if self.ratio < 90:
            self.mix(path, self.ratio, self.takes)
        return path


def walk(program, inspector, folder, is_called):
    """Walks the corner. Seconds, how often it was asked back or refused there, and wrong answers taken."""
    record = folder / f"record-{inspector.voice}-{inspector.ratio:.0f}-{'called' if is_called else 'led'}"
    command = [program, "walk", PLAN, "--inspector", "Ilse Brandt", "--rigger", "Oskar Venn", "--brief", "--json"]
    command += ["--answers", "-", "--fast", "--record", record, "--called=corner" if is_called else "--led"]
    run = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
    breaths = [list(CHECKS)[i : i + BREATH] for i in range(0, len(CHECKS), BREATH)]
    lines = queue.Queue()
    threading.Thread(target=lambda: [lines.put(line) for line in itertools.chain(run.stdout, [None])], daemon=True).start()
    check, doubted, question, words, turns, wrong, asked_back, held = None, {}, None, None, 0, [], 0, False
    while True:
        try:
            line = lines.get(timeout=UNHEARD)
        except queue.Empty:
            line = '{"listening": true, "again": true}'
        if line is None:
            break
        event = json.loads(line)
        entry = event.get("entry", {})
        kind = entry.get("entry")
        if kind == "asked":
            check = entry["check"]
            if check.startswith("rear/"):
                break
        elif kind == "doubted":
            doubted[entry["check"]] = entry["hearing"]["decision"]["meaning"]["value"]
            asked_back += entry["check"].startswith("corner/")
        elif kind == "refused":
            asked_back += 1
        elif kind == "held":
            held = True
        elif kind == "calling":
            check = None
        elif kind == "answered":
            key = entry["check"].split("/")[1]
            if entry["check"].startswith("corner/") and entry["value"] != CHECKS[key][1]:
                wrong.append((key, entry["value"]))
        elif event.get("phrase") == "ask":
            question = event["say"]
        elif event.get("listening"):
            turns += 1
            if turns > TURNS_MAX:
                break
            if not held and not event.get("again"):
                words = answer(question, check, doubted, breaths, words)
            # Whoever calls off goes on by himself; a question is put anew where it is still open.
            question = None if is_called else question
            run.stdin.write(f"{inspector.file('carry on' if held else words)}\n")
            run.stdin.flush()
            held = False
    run.kill()
    run.wait()
    return seconds(record), asked_back, wrong


def answer(question, check, doubted, breaths, last):
    """What is said to a question; `last` is what was said before, and while nothing is asked for is said again."""
    if question is None or "all it off" in question:
        return ", ".join(called(c) for c in breaths.pop(0)) if breaths else "station done"
    if "id you say" in question or question.startswith("Say yes"):
        together = named(question)
        if together:
            return "yes" if all(doubted.get(f"corner/{c}") == CHECKS[c][1] for c in together) else "negative"
        name = question.split(".")[0].lower().replace(" ", "-")
        about = f"corner/{name}" if name in CHECKS else check
        truth = CHECKS.get((about or "").split("/")[-1], (None, "present"))[1]
        return "yes" if doubted.get(about) == truth else "negative"
    for name, (words, _) in CHECKS.items():
        if question.lower().startswith(name.replace("-", " ")):
            return words
    return last if check is None else CHECKS.get(check.split("/")[1], ("present",))[0]


def named(question):
    """The checks that are asked about together; none where one is asked about by itself."""
    items = question.lower().rstrip("?.").removeprefix("did you say ").split(": ")[-1].split(", ")
    of = [[c for c in CHECKS if item.startswith(c.replace("-", " ") + " ")] for item in items]
    return [max(names, key=len) for names in of] if all(of) else []


def seconds(record):
    """From the arrival at the corner to the question behind it; `None` where it was not reached."""
    begun = ended = None
    for line in (record / "journal.jsonl").read_text().splitlines():
        line = json.loads(line)
        entry = line["entry"]
        place = entry.get("check") or ""
        if begun is None and (entry["entry"] == "calling" or entry["entry"] == "asked" and place.startswith("corner/")):
            begun = line["mono_ms"]
        if entry["entry"] == "asked" and place.startswith("rear/"):
            ended = line["mono_ms"]
    return None if begun is None or ended is None else (ended - begun) / 1e3


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("out", type=Path)
    parser.add_argument("--built", type=Path, default=Path("hearing-out"), help=built.HELP)
    parser.add_argument("--program", type=Path, default=Path("target/release/loadwalk"))
    parser.add_argument("--mixer", type=Path, default=Path("target/release/examples/mix"))
    parser.add_argument("--voices", type=int, default=8)
    parser.add_argument("--split", default="test")
    parser.add_argument("--ratios", default="99,20,10")
    options = parser.parse_args()
    built.own_python(options.built)
    synth = built.synthesisers(options.built, ["kokoro"])["kokoro"]
    voices = built.voices("kokoro", options.split)
    random.Random(7).shuffle(voices)
    options.out.mkdir(parents=True, exist_ok=True)

    def mix(path, ratio, seed):
        subprocess.run([options.mixer, path, "--ratio", str(ratio), "--seed", str(seed)], check=True)

    print("| noise | voices | led, s | called, s | called of led | asked back led, called | wrong |")
    print("| --- | --- | --- | --- | --- | --- | --- |")
    with (options.out / "pace.jsonl").open("w") as out:
        for ratio in map(float, options.ratios.split(",")):
            rows = []
            for voice in voices[: options.voices]:
                row = {"voice": voice, "ratio": ratio}
                for name in ("led", "called"):
                    inspector = Inspector(synth, voice, ratio, options.out, mix)
                    row[name] = walk(options.program, inspector, options.out, name == "called")
                out.write(json.dumps(row) + "\n")
                out.flush()
                rows.append(row)
            whole = [r for r in rows if r["led"][0] and r["called"][0]]
            if not whole:
                continue
            led, off = ([r[name] for r in whole] for name in ("led", "called"))
            share = statistics.median(c[0] / a[0] for a, c in zip(led, off))
            print(
                f"| {'quiet' if ratio > 90 else f'{ratio:.0f} dB'} | {len(whole)} of {len(rows)} "
                f"| {statistics.median(a[0] for a in led):.0f} | {statistics.median(c[0] for c in off):.0f} | {share:.0%} "
                f"| {statistics.mean(a[1] for a in led):.1f}, {statistics.mean(c[1] for c in off):.1f} "
                f"| {sum(len(r[2]) for r in led + off)} |"
            )


if __name__ == "__main__":
    main()
