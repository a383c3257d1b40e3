"""Builds the evaluation set of spoken words.

    python3 hearing/build.py [OUT] [--share 1.0] [--synths espeak,flite,…] [--no-human] [--taught N | --states N | --fitting N]
                             [--split test] [--draw NAME]

OUT (default hearing-out/) gets WAV files (16 kHz, mono, 16-bit), `set.jsonl` with one line a file,
and the fetched packages under OUT/.packages. Stopped and started again, it goes on where it was.
"""

import argparse
import json
import os
import random
import re
import subprocess
import sys
import tomllib
import venv
from pathlib import Path

HERE = Path(__file__).parent


def own_python(out):
    """Runs this script again in its own Python environment, made on the first run."""
    python = out / ".venv/bin/python"
    if Path(sys.prefix).resolve() == (out / ".venv").resolve() or os.environ.get("HEARING_PYTHON"):
        return
    if not (out / ".venv/.done").exists():
        print(f"making a Python environment in {out}/.venv")
        venv.create(out / ".venv", with_pip=True)
        subprocess.run([python, "-m", "pip", "install", "-q", "-r", HERE / "requirements.txt"], check=True)
        (out / ".venv/.done").touch()
    os.execv(python, [python, *sys.argv])


class Set:
    """The growing set: a file is written once, its line appended after it."""

    def __init__(self, out):
        self.out = out
        self.index = out / "set.jsonl"
        lines = self.index.read_text().splitlines() if self.index.exists() else []
        self.have = {json.loads(line)["path"] for line in lines}

    def add(self, entry, make):
        """`make` returns the samples and the start and end of speech; called only if the file is new."""
        import sound

        if entry["path"] in self.have:
            return False
        samples, start, end = make()
        sound.write(self.out / entry["path"], samples)
        entry |= {"seconds": round(len(samples) / sound.RATE, 3), "speech_start": round(start, 3), "speech_end": round(end, 3)}
        with self.index.open("a") as f:
            f.write(json.dumps(entry, ensure_ascii=False) + "\n")
        self.have.add(entry["path"])
        return True


def entry(split, voice, synthesiser, kind, rule, words, expected, effort, number):
    """One line of set.jsonl, without the times."""
    slug = re.sub(r"[^a-z0-9]+", "-", words.lower()).strip("-")[:40] or "sound"
    safe = re.sub(r"[^A-Za-z0-9_-]", "-", voice)
    return {
        "path": f"{split}/{safe}/{number:03}-{rule}-{slug}.wav",
        "rule": rule, "words": words, "expected": expected, "voice": voice,
        "synthesiser": synthesiser, "kind": kind, "split": split, "effort": effort,
    }


def level(rng, effort):
    """Level of the speech in dBFS at the microphone."""
    low, high = {"normal": (-32, -18), "raised": (-22, -12), "far": (-44, -34)}[effort]
    return rng.uniform(low, high)


def synthetic(out_set, synths, voices, number, list_of, splits, between=False, draw=""):
    """Every voice's list, all voices taking turns, so that a set broken off is still balanced. With `between`, Kokoro's
    speakers are mixtures of a voice and others of its split. `draw` names another choice of words, levels and efforts."""
    import soundfile

    import sound

    jobs = []
    for name, synth in synths.items():
        n = number(voices["share"][name])
        for split in splits:
            for voice in voices[name].get(split, []):
                for i, item in enumerate(list_of(f"{name}-{voice}{draw}", n)):
                    jobs.append((i / n, name, synth, split, voice, i, item))
    jobs.sort(key=lambda job: job[0])
    left_out = set()
    for done, (_, name, synth, split, voice, i, (rule, words, expected, *states)) in enumerate(jobs):
        if (name, voice) in left_out:
            continue
        rng = random.Random(f"{name}/{voice}/{i}/{words}{draw}")
        effort = "normal"
        if rng.random() < 0.25:
            effort = "raised"
        if rule == "out-of-grammar" and rng.random() < 0.3:
            effort = "far"

        def make(synth=synth, voice=voice, words=words, rng=rng, effort=effort, split=split):
            if between and synth.name == "kokoro":
                others = rng.sample(voices["kokoro"][split], rng.choice([0, 1, 1, 2]))
                voice = "+".join([voice, *others])
            samples = sound.trim(synth.say(voice, words, rng))
            if effort == "raised":
                samples = sound.raised(samples, rng)
            elif effort == "far":
                samples = sound.distant(samples, rng)
            return sound.place(samples, rng, level(rng, effort))

        line = entry(split, f"{name}-{voice}", name, "synthetic", rule, words, expected, effort, i)
        if states:
            line["states"] = states[0]
        try:
            out_set.add(line, make)
        except (subprocess.CalledProcessError, soundfile.LibsndfileError) as why:
            # A voice that is not installed, as a rule; the program itself is there.
            print(f"left out the voice {voice} of {name}, which cannot be said: {why}", flush=True)
            left_out.add((name, voice))
        if done % 200 == 0:
            print(f"{done} of {len(jobs)} spoken", flush=True)


def human(out_set, folders, voices):
    """Recorded people, as they are."""
    import sound
    from human import recordings

    counters = {}
    for rule, words, expected, speaker, samples in recordings(folders):
        split = next((s for s in ("train", "dev") if speaker in voices["human"][s]), "test")
        number = counters[speaker] = counters.get(speaker, -1) + 1
        rng = random.Random(f"{speaker}/{number}")
        if len(samples) < sound.RATE // 20 or len(samples) > 12 * sound.RATE:
            continue

        def make(samples=samples, rng=rng):
            return sound.place(samples, rng, level(rng, "normal"))

        out_set.add(entry(split, speaker, speaker.split("-")[0], "human", rule, words, expected, "normal", number), make)


def no_speech(out_set, each=24):
    """Coughs, claps and the like; the seed is the sound's 'speaker', so splits share none."""
    import noises
    import sound

    for k, kind in enumerate(noises.KINDS):
        for i in range(each):
            split = ("test", "test", "dev", "train")[i % 4]
            rng = random.Random(f"{kind}/{i}")

            def make(kind=kind, seed=1000 * k + i, rng=rng):
                return sound.place(noises.make(kind, seed), rng, level(rng, "normal"))

            out_set.add(entry(split, f"sounds-{split}", "shaped-noise", "synthetic", "out-of-grammar", f"[{kind}]", None, "normal", 100 * k + i), make)


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("out", nargs="?", type=Path, default=Path("hearing-out"))
    parser.add_argument("--share", type=float, default=1.0, help="part of the full number of files a voice (1.0: about 5,000 synthetic)")
    parser.add_argument("--synths", default="espeak,flite,festival,piper,kokoro")
    parser.add_argument("--taught", type=int, metavar="N", help="only what an inspector says all day, N files a voice")
    parser.add_argument("--states", type=int, metavar="N", help="only checks with states of their own, N files a voice")
    parser.add_argument("--fitting", type=int, metavar="N", help="only what corrections are fitted on, by the train voices, N files a voice")
    parser.add_argument("--between", action="store_true", help="speakers between two or three voices of a split, where the synthesiser can (always with --fitting)")
    parser.add_argument("--split", choices=("test", "dev", "train"), help="only the voices of this split")
    parser.add_argument("--draw", default="", metavar="NAME", help="another choice of words, levels and efforts, by any name")
    parser.add_argument("--no-human", action="store_true", help="leave the recordings of people out")
    options = parser.parse_args()
    options.out.mkdir(parents=True, exist_ok=True)
    own_python(options.out)

    from fetch import fetch
    from synths import available

    folders = fetch(options.out / ".packages", lambda p: p.get("for") != "check")
    voices = tomllib.loads((HERE / "voices.toml").read_text())
    out_set = Set(options.out)
    import words

    number = lambda share: max(1, round(share * options.share))
    list_of = words.sayings
    own = options.taught or options.states or options.fitting
    if own:
        number = lambda _: own
        list_of = words.taught if options.taught else words.states if options.states else words.fitting
    else:
        no_speech(out_set)
        if not options.no_human:
            human(out_set, folders, voices)
    splits = ("train",) if options.fitting else (options.split,) if options.split else ("test", "dev", "train")
    between = options.between or bool(options.fitting)
    synthetic(out_set, available(folders, options.synths.split(",")), voices, number, list_of, splits, between, options.draw)
    print(f"{len(out_set.have)} files, listed in {out_set.index}")


if __name__ == "__main__":
    main()
