"""Tables and plots of what the bench of hearing wrote.

    hearing-out/.venv/bin/python hearing/report.py hearing-out/heard.jsonl hearing-out/report

Writes report.md, SVG plots, and confusions.jsonl: what was said, what it was heard as, and how often, with
whether that was taken or only asked about; for-lint.jsonl is that in the form of grammars/confusions.jsonl, which
is made of train and dev speakers. Intervals are Wilson's at 95 %. Several files of one split or of several
may be given before the folder.
"""

import json
import sys
from collections import Counter, defaultdict
from pathlib import Path

import matplotlib

matplotlib.use("svg")
import matplotlib.pyplot as plt
import numpy as np
from scipy.stats import binomtest

OWN = "loadwalk"
NOISE = [None, 20.0, 10.0, 5.0, 0.0]
# Okabe and Ito's colours, and a marker each, so that colour carries nothing alone.
STYLES = [("#0072B2", "o"), ("#D55E00", "s"), ("#009E73", "^"), ("#CC79A7", "D"), ("#E69F00", "v"), ("#56B4E9", "P")]
BINS = [0.0, 0.25, 0.5, 0.7, 0.8, 0.9, 0.95, 0.98, 1.0001]


def name(snr):
    return "quiet" if snr is None else f"{snr:.0f} dB"


def outcome(line):
    """right, asked, refused or wrong; a question with the wrong word in it is asked."""
    if line["verdict"] == "take":
        return "right" if line["value"] == line["expected"] else "wrong"
    return {"ask": "asked", "refuse": "refused"}[line["verdict"]]


def share(part, whole):
    return f"{100 * part / whole:.1f} %" if whole else "-"


def interval(part, whole):
    low, high = binomtest(part, whole).proportion_ci(method="wilson")
    return f"{100 * low:.2f} to {100 * high:.2f} %"


def row(cells):
    return "| " + " | ".join(map(str, cells)) + " |"


def head(cells):
    return [row(cells), row(["---"] * len(cells))]


def group(lines, key):
    groups = defaultdict(list)
    for line in lines:
        groups[key(line)].append(line)
    return groups


def counts(lines):
    tally = Counter(map(outcome, lines))
    return [tally[k] for k in ("right", "asked", "refused", "wrong")]


def systems_table(lines, memory):
    out = ["## Loadwalk and others on the same sound", ""]
    out += head(["system", *(f"right, {name(s)}" for s in NOISE), "wrong taken", "of no answer, taken", "ms, median", "ms, 95th", "MB"])
    for system, mine in group(lines, lambda x: x["system"]).items():
        answers = [x for x in mine if x["expected"] is not None and x["kind"] == "synthetic"]
        nothing = [x for x in mine if x["expected"] is None]
        right = [counts([x for x in answers if x["snr"] == s]) for s in NOISE]
        wrong, taken = sum(map(lambda c: c[3], right)), counts(nothing)[3]
        ms = [x["ms"] for x in mine if x["ms"] > 0]
        out.append(row([
            system, *(share(c[0], sum(c)) for c in right), f"{wrong} of {len(answers)}", f"{taken} of {len(nothing)}",
            f"{np.median(ms):.0f}", f"{np.percentile(ms, 95):.0f}", f"{memory.get(system, 0):.0f}",
        ]))
    return out + [""]


def own_tables(lines):
    out = []
    answers = [x for x in lines if x["expected"] is not None]
    for kind, title in (("synthetic", "Answers by synthetic voices"), ("human", "Answers recorded from people")):
        mine = [x for x in answers if x["kind"] == kind]
        if not mine:
            continue
        out += [f"## {title}", ""]
        out += head(["noise", "number", "taken right", "asked", "refused", "wrong taken", "wrong, 95 % interval"])
        for s in NOISE:
            c = counts([x for x in mine if x["snr"] == s])
            n = sum(c)
            if n:
                out.append(row([name(s), n, share(c[0], n), share(c[1], n), share(c[2], n), c[3], interval(c[3], n)]))
        out.append("")
    out += ["## By rule: taken right, and wrong taken of all", ""]
    synthetic = [x for x in answers if x["kind"] == "synthetic"]
    out += head(["rule", *map(name, NOISE), "wrong taken", "ms, median", "ms, 95th"])
    for rule, mine in sorted(group(synthetic, lambda x: x["rule"]).items()):
        c = [counts([x for x in mine if x["snr"] == s]) for s in NOISE]
        ms = [x["ms"] for x in mine if x["ms"] > 0]
        out.append(row([
            rule, *(share(k[0], sum(k)) for k in c), f"{sum(k[3] for k in c)} of {len(mine)}",
            f"{np.median(ms):.0f}", f"{np.percentile(ms, 95):.0f}",
        ]))
    out += ["", "## By voice: all noises together, the worst first", ""]
    out += head(["voice", "number", "taken right", "asked", "refused", "wrong taken"])
    voices = group(answers, lambda x: x["voice"])
    for voice, mine in sorted(voices.items(), key=lambda v: counts(v[1])[0] / len(v[1])):
        c = counts(mine)
        n = sum(c)
        out.append(row([voice, n, share(c[0], n), share(c[1], n), share(c[2], n), c[3]]))
    out += ["", "## No answer: other people's talk, single words, sounds", ""]
    out += head(["kind", "number", "refused", "asked", "taken", "taken, 95 % interval"])
    for kind, mine in sorted(group([x for x in lines if x["expected"] is None], lambda x: x["kind"]).items()):
        c = counts(mine)
        n = sum(c)
        out.append(row([kind, n, share(c[2], n), share(c[1], n), c[3], interval(c[3], n)]))
    return out + [""]


def confusions(lines, noises=NOISE):
    """What was heard as another meaning, of what was said; with how often it was asked back or taken so."""
    said, wrong, believed, taken = Counter(), Counter(), Counter(), Counter()
    for x in lines:
        if x["expected"] is None or x["snr"] not in noises:
            continue
        said[x["rule"], x["words"]] += 1
        if x["value"] is not None and x["value"] != x["expected"]:
            key = x["rule"], x["words"], x["value"]
            wrong[key] += 1
            believed[key] += x["verdict"] != "refuse"
            taken[key] += x["verdict"] == "take"
    return [
        {"rule": r, "said": w.lower(), "heard_as": v, "times": n, "of": said[r, w],
         "believed": believed[r, w, v], "taken": taken[r, w, v]}
        for (r, w, v), n in wrong.most_common()
    ]


def for_lint(lines):
    """The lines of grammars/confusions.jsonl: what was asked back or taken as another, where there is still
    something to hear."""
    pairs = [p for p in confusions(lines, NOISE[:3]) if p["believed"]]
    pairs.sort(key=lambda p: (p["rule"], p["said"], p["heard_as"]))
    return [{"rule": p["rule"], "said": p["said"], "heard_as": p["heard_as"], "times": p["believed"], "of": p["of"]} for p in pairs]


def noise_plot(groups, title, path):
    figure, area = plt.subplots(figsize=(9, 5))
    for (label, mine), (colour, marker) in zip(groups, STYLES * 3):
        c = [counts([x for x in mine if x["snr"] == s]) for s in NOISE]
        n = [max(sum(k), 1) for k in c]
        area.plot(range(len(NOISE)), [100 * k[0] / m for k, m in zip(c, n)], color=colour, marker=marker, label=label)
        area.plot(range(len(NOISE)), [100 * k[3] / m for k, m in zip(c, n)], color=colour, marker=marker, linestyle=":")
    area.set_xticks(range(len(NOISE)), map(name, NOISE))
    area.set_ylim(-2, 102)
    area.set_xlabel("signal to pad noise")
    area.set_ylabel("percent: taken right (lines), wrong taken (dots)")
    area.set_title(title)
    area.grid(alpha=0.3)
    area.legend(fontsize=8)
    figure.tight_layout()
    figure.savefig(path, metadata={"Date": None})
    plt.close(figure)


def voice_plot(lines, path):
    voices = group([x for x in lines if x["expected"] is not None], lambda x: x["voice"])
    rows = sorted(voices.items(), key=lambda v: counts(v[1])[0] / len(v[1]))
    figure, area = plt.subplots(figsize=(9, 0.24 * len(rows) + 1.2))
    left = np.zeros(len(rows))
    looks = [("right", "#0072B2", ""), ("asked", "#E69F00", "//"), ("refused", "#BBBBBB", ".."), ("wrong", "#000000", "")]
    for k, (label, colour, hatch) in enumerate(looks):
        values = np.array([100 * counts(mine)[k] / len(mine) for _, mine in rows])
        area.barh([v for v, _ in rows], values, left=left, color=colour, hatch=hatch, label=label)
        left += values
    area.set_xlabel("percent, all noises together")
    area.tick_params(axis="y", labelsize=7)
    area.legend(fontsize=8, loc="lower right")
    figure.tight_layout()
    figure.savefig(path, metadata={"Date": None})
    plt.close(figure)


def reliability_plot(lines, path):
    """How often the best meaning was right, by the confidence that was given."""
    heard = [x for x in lines if x["more"] and x["value"] is not None]
    given = np.array([x["more"]["confidence"] for x in heard])
    right = np.array([x["value"] == x["expected"] for x in heard])
    figure, area = plt.subplots(figsize=(6, 5.4))
    rows = head(["confidence", "number", "mean confidence", "were right", "95 % interval"])
    for low, high in zip(BINS, BINS[1:]):
        inside = (given >= low) & (given < high)
        n, k = int(inside.sum()), int(right[inside].sum())
        if not n:
            continue
        bounds = binomtest(k, n).proportion_ci(method="wilson")
        area.errorbar(given[inside].mean(), k / n, yerr=[[k / n - bounds.low], [bounds.high - k / n]], fmt="o", color="#0072B2", capsize=3)
        area.annotate(n, (given[inside].mean(), k / n), textcoords="offset points", xytext=(6, -10), fontsize=7)
        rows.append(row([f"{low:.2f} to {min(high, 1):.2f}", n, f"{given[inside].mean():.3f}", share(k, n), interval(k, n)]))
    area.plot([0, 1], [0, 1], color="#888888", linestyle="--")
    area.set_xlabel("confidence that loadwalk gave")
    area.set_ylabel("share that was right (answers and no answers)")
    area.grid(alpha=0.3)
    figure.tight_layout()
    figure.savefig(path, metadata={"Date": None})
    plt.close(figure)
    return ["## What a confidence is worth", "", *rows, ""]


def main():
    *heard, out = map(Path, sys.argv[1:])
    out.mkdir(parents=True, exist_ok=True)
    lines, memory = [], {}
    for line in (json.loads(line) for file in heard for line in file.read_text().splitlines()):
        if "memory_mb" in line:
            # A process of its own comes after the share of this one, and counts.
            memory[line["system"]] = line["memory_mb"]
        else:
            lines.append(line)
    own = [x for x in lines if x["system"] == OWN]
    synthetic = [x for x in lines if x["kind"] == "synthetic" and x["expected"] is not None]
    mine = [x for x in own if x["kind"] == "synthetic" and x["expected"] is not None]
    text = ["# Hearing, measured", ""]
    text += systems_table(lines, memory) + own_tables(own) + reliability_plot(own, out / "reliability.svg")
    pairs = confusions(own)
    (out / "confusions.jsonl").write_text("".join(json.dumps(p) + "\n" for p in pairs))
    (out / "for-lint.jsonl").write_text("".join(json.dumps(p) + "\n" for p in for_lint(own)))
    text += ["## Confused most (said, heard as, times of all, of these asked back or taken, taken)", ""]
    text += head(["rule", "said", "heard as", "times", "of", "believed", "taken"])
    text += [row([p["rule"], p["said"], p["heard_as"], p["times"], p["of"], p["believed"], p["taken"]]) for p in pairs[:30]]
    text += ["", "## Wrong takes, all of them", ""]
    for x in own:
        if outcome(x) == "wrong":
            text.append(f"- \"{x['words']}\" by {x['voice']}, {name(x['snr'])}: taken as {x['rule']} {x['value']} ({x['path']})")
    (out / "report.md").write_text("\n".join(text) + "\n")
    systems = list(group(synthetic, lambda x: x["system"]).items())
    noise_plot(systems, "Loadwalk and others on the same sound", out / "systems.svg")
    noise_plot(sorted(group(mine, lambda x: x["rule"]).items()), "By rule", out / "rules.svg")
    voice_plot(own, out / "voices.svg")
    print(out / "report.md")


if __name__ == "__main__":
    main()
