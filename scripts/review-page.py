#!/usr/bin/env python3
"""Tries the review page in a real browser: makes a record with sound, plays a clip, filters, amends from
the page, and verifies the record after. Writes screenshots at desktop and phone width.

    python3 scripts/review-page.py [LOADWALK] [OUT] [BROWSER]

Needs Chromium (or a browser with the same remote interface) and nothing else but this machine.
"""
import base64
import hashlib
import json
import math
import os
import pathlib
import struct
import subprocess
import sys
import tempfile
import time

ROOT = pathlib.Path(__file__).resolve().parent.parent
LOADWALK = sys.argv[1] if len(sys.argv) > 1 else str(ROOT / "target/debug/loadwalk")
OUT = pathlib.Path(sys.argv[2] if len(sys.argv) > 2 else "review-out")
BROWSER = sys.argv[3] if len(sys.argv) > 3 else "chromium"
PATIENCE_S = 20
# What a person does not wait for, on a slow machine and with a debug build.
LIMITS_MS = {"load": 5_000, "loudness": 10_000, "filter": 500, "no filter": 500, "next doubtful": 500,
             "draw the session": 200, "scroll to the end": 500, "amend": 6_000}


def wav(hz, seconds):
    """A tone as a clip: 16 kHz, 16 bit, mono."""
    rate = 16_000
    count = int(rate * seconds)
    data = b"".join(
        struct.pack("<h", int(9_000 * math.sin(2 * math.pi * hz * i / rate))) for i in range(count)
    )
    head = b"RIFF" + struct.pack("<I", 36 + len(data)) + b"WAVEfmt " + struct.pack(
        "<IHHIIHH", 16, 1, 1, rate, 2 * rate, 2, 16
    )
    return head + b"data" + struct.pack("<I", len(data)) + data


def make_record(folder):
    """Walks by typed answers, then gives each answer a tone and a confidence, and chains it all anew."""
    walk = subprocess.Popen(
        [LOADWALK, "walk", str(ROOT / "plans/generator-skid.toml"), "--record", str(folder), "--inspector",
         "Ilse Brandt", "--rigger", "Oskar Venn", "--keys", "--json", "--brief"],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True,
    )
    answers = ["present", "good", "missing", "cannot see", "3", "not applicable", "yes"]
    given = 0
    for line in walk.stdout:
        if json.loads(line).get("listening"):
            if given == 60:
                break
            walk.stdin.write(answers[given % len(answers)] + "\n")
            walk.stdin.flush()
            given += 1
    walk.kill()
    walk.wait()
    journal = folder / "journal.jsonl"
    prev, lines = "0" * 64, []
    for n, line in enumerate(journal.read_text().splitlines()):
        envelope = json.loads(line)
        envelope["prev"] = prev
        envelope["mono_ms"] = 3_000 * n
        entry = envelope["entry"]
        hearing = entry["heard"]["hearing"] if "heard" in entry else entry.get("hearing")
        if hearing:
            name = f"{n:04}-tone-1.wav"
            sound = wav(300 + 10 * (n % 40), 0.6)
            (folder / "clips" / name).write_bytes(sound)
            hearing["clip"], hearing["clip_sha256"] = name, hashlib.sha256(sound).hexdigest()
        text = json.dumps(envelope, separators=(",", ":"), ensure_ascii=False)
        prev = hashlib.sha256(text.encode()).hexdigest()
        lines.append(text + "\n")
    journal.write_text("".join(lines))


def make_long_record(short, folder, hours=8, utterances=2_000):
    """A record of many stations from a short one: as many answers with a sound each, over so many hours."""
    lines = [json.loads(line) for line in (short / "journal.jsonl").read_text().splitlines()]
    (folder / "clips").mkdir(parents=True)
    opened, pairs = lines[0]["entry"], []
    # No plan asks so much; one that cannot be read is a note, where another than was asked would be a fault.
    plan = b"# made up for the page\n"
    (folder / "plan.toml").write_bytes(plan)
    opened["plan_sha256"] = hashlib.sha256(plan).hexdigest()
    for before, after in zip(lines, lines[1:]):
        if before["entry"]["entry"] == "asked" and after["entry"]["entry"] == "answered":
            pairs.append((before["entry"], after["entry"]))
    stations, opened["route"]["stations"] = opened["route"]["stations"], []
    answered = {before["check"] for before, _ in pairs}
    for station in stations:
        station["checks"] = [check for check in station["checks"] if check["id"] in answered]
    stations = [station for station in stations if station["checks"]]
    copies = -(-utterances // len(pairs))
    for copy in range(copies):
        for station in json.loads(json.dumps(stations)):
            for check in station["checks"]:
                check["id"] = check["id"].replace("/", f"-{copy}/", 1)
                check["when"], check["touches"], check["compare"] = [], [], None
            station["key"], station["name"] = f"{station['key']}-{copy}", f"{station['name']} {copy}"
            opened["route"]["stations"].append(station)
    entries = [opened]
    for n in range(utterances):
        copy, pair = divmod(n, len(pairs))
        for entry in json.loads(json.dumps(pairs[pair])):
            entry["check"] = entry["check"].replace("/", f"-{copy}/", 1)
            entries.append(entry)
    each_ms, prev, out = hours * 3_600_000 // len(entries), "0" * 64, []
    for n, entry in enumerate(entries):
        if entry["entry"] == "answered":
            name, sound = f"{n:04}-tone-1.wav", wav(300 + 10 * (n % 40), 1.5)
            (folder / "clips" / name).write_bytes(sound)
            hearing = entry["heard"]["hearing"]
            hearing["clip"], hearing["clip_sha256"] = name, hashlib.sha256(sound).hexdigest()
            hearing["confidence"] = 0.5 + (n * 37 % 50) / 100
        envelope = {"seq": n, "wall": lines[0]["wall"], "mono_ms": n * each_ms, "prev": prev, "entry": entry}
        text = json.dumps(envelope, separators=(",", ":"), ensure_ascii=False)
        prev = hashlib.sha256(text.encode()).hexdigest()
        out.append(text + "\n")
    (folder / "journal.jsonl").write_text("".join(out))
    return sum(len(s["checks"]) for s in opened["route"]["stations"])


class Browser:
    """A headless browser, spoken to through a pipe."""

    def __init__(self, profile):
        to_browser, self.write_fd = os.pipe()
        self.read_fd, from_browser = os.pipe()

        def wire():
            os.dup2(to_browser, 3)
            os.dup2(from_browser, 4)

        # The pipe's ends may lie on 3 and 4 themselves; move them out of the way first.
        to_browser, from_browser = os.dup(to_browser), os.dup(from_browser)
        self.process = subprocess.Popen(
            [BROWSER, "--headless=new", "--no-sandbox", "--remote-debugging-pipe", "--mute-audio",
             "--autoplay-policy=no-user-gesture-required", "--no-first-run", f"--user-data-dir={profile}",
             "about:blank"],
            preexec_fn=wire, close_fds=False, stderr=subprocess.DEVNULL,
        )
        self.rest, self.number, self.session, self.events = b"", 0, None, []
        target = self.call("Target.createTarget", url="about:blank")["targetId"]
        self.session = self.call("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        for domain in ["Page", "Runtime", "Network", "Log"]:
            self.call(domain + ".enable")
        self.call("Page.bringToFront")
        self.call("Emulation.setFocusEmulationEnabled", enabled=True)

    def read(self):
        while b"\0" not in self.rest:
            more = os.read(self.read_fd, 1 << 20)
            if not more:
                raise SystemExit("the browser ended")
            self.rest += more
        message, self.rest = self.rest.split(b"\0", 1)
        return json.loads(message)

    def call(self, method, **params):
        self.number += 1
        message = {"id": self.number, "method": method, "params": params}
        if self.session:
            message["sessionId"] = self.session
        os.write(self.write_fd, json.dumps(message).encode() + b"\0")
        while True:
            answer = self.read()
            if answer.get("id") == self.number:
                if "error" in answer:
                    raise SystemExit(f"{method}: {answer['error']}")
                return answer["result"]
            self.events.append(answer)

    def js(self, code):
        result = self.call("Runtime.evaluate", expression=code, awaitPromise=True, returnByValue=True)
        if "exceptionDetails" in result:
            raise SystemExit(f"{code}: {result['exceptionDetails']}")
        return result["result"].get("value")

    def until(self, code, what):
        end = time.monotonic() + PATIENCE_S
        while time.monotonic() < end:
            if self.js(code):
                print("ok:", what)
                return
            time.sleep(0.1)
        raise SystemExit(f"not ok: {what}")

    def key(self, key):
        code = {"code": "Key" + key.upper(), "windowsVirtualKeyCode": ord(key.upper())}
        self.call("Input.dispatchKeyEvent", type="keyDown", key=key, text=key, **code)
        self.call("Input.dispatchKeyEvent", type="keyUp", key=key, **code)

    def picture(self, name, width, height, phone):
        self.call("Emulation.setDeviceMetricsOverride", width=width, height=height, mobile=phone,
                  deviceScaleFactor=1)
        time.sleep(0.5)
        data = self.call("Page.captureScreenshot", captureBeyondViewport=False)["data"]
        (OUT / name).write_bytes(base64.b64decode(data))

    def end(self):
        self.process.kill()
        self.process.wait()


def main():
    OUT.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as scratch:
        scratch = pathlib.Path(scratch)
        record = scratch / "record"
        make_record(record)
        subprocess.run([LOADWALK, "verify", str(record)], check=True)
        subprocess.run([LOADWALK, "key", "new", str(scratch / "eva")], check=True)
        server = subprocess.Popen(
            [LOADWALK, "review", str(record), "--as", "Eva Rowan", "--key", str(scratch / "eva.key.pem")],
            stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True,
        )
        browser = None
        try:
            address = server.stdout.readline().strip()
            browser = Browser(str(scratch / "profile"))
            try_page(browser, address)
            try_changed(browser, record, scratch / "eva.key.pem")
        finally:
            if browser:
                browser.end()
            server.kill()
            server.wait()
        subprocess.run([LOADWALK, "verify", str(record)], check=True)
        try_copy(scratch, record)
        try_long(scratch, record)
        shown = subprocess.run([LOADWALK, "show", str(record)], check=True, capture_output=True, text=True)
        for line in ["WITHDRAWN by review 1: heard wrong by Eva Rowan", "withdrawal of review 0 by Eva Rowan"]:
            assert line in shown.stdout, shown.stdout
        print("ok: the record verifies after, and shows the amendment and its withdrawal")


def no_errors(browser):
    bad = [e for e in browser.events if e.get("method") == "Log.entryAdded" and
           e["params"]["entry"]["level"] == "error" or e.get("method") == "Runtime.exceptionThrown"]
    lost = [e["params"]["response"]["url"] for e in browser.events
            if e.get("method") == "Network.responseReceived" and e["params"]["response"]["status"] >= 400]
    assert not bad and not lost, (bad, lost)
    print("ok: no error, nothing refused or missing")


def try_changed(browser, record, key):
    """An amendment made elsewhere while the page lies open."""
    check = browser.js("view.checks.find((c) => standing(c) && c.status === 'conforming').check")
    code = browser.js("record.code")
    subprocess.run([LOADWALK, "amend", str(record), "--as", "Eva Rowan", "--key", str(key), "re-inspect", check,
                    "--why", "seen from the road"], check=True, stdout=subprocess.DEVNULL)
    browser.js("window.dispatchEvent(new Event('focus'))")
    browser.until(f"record.code !== '{code}' && view.checks.find((c) => c.check === '{check}').status === 'open' &&"
                  " document.querySelector('#integrity').textContent.includes(record.code)",
                  "what was amended elsewhere shows when the page is looked at again")
    no_errors(browser)


def try_copy(scratch, record):
    """The page as a folder, without a server."""
    folder = scratch / "copy"
    subprocess.run([LOADWALK, "review", str(record), "--export", str(folder)], check=True)
    browser = Browser(str(scratch / "profile-copy"))
    try:
        browser.call("Page.navigate", url=(folder / "index.html").as_uri())
        browser.until("document.querySelectorAll('#list > li').length > 10", "the copy lists the checks")
        browser.until("typeof wave === 'object' && wave && wave.clips.length > 10", "the copy has the loudness")
        browser.js("document.querySelector('#list button.play').click()")
        browser.until("sound.currentTime > 0.2", "the copy plays a clip")
        assert browser.js("[...document.querySelectorAll('.amends')].every((b) => b.hidden)")
        no_errors(browser)
        paper = base64.b64decode(browser.call("Page.printToPDF", preferCSSPageSize=True)["data"])
        assert paper.startswith(b"%PDF")
        (OUT / "print.pdf").write_bytes(paper)
    finally:
        browser.end()


def try_long(scratch, short):
    """Eight hours and 2,000 utterances: how long things take, in milliseconds."""
    record = scratch / "long"
    checks = make_long_record(short, record)
    subprocess.run([LOADWALK, "verify", str(record)], check=True, stdout=subprocess.DEVNULL)
    server = subprocess.Popen(
        [LOADWALK, "review", str(record), "--as", "Eva Rowan", "--key", str(scratch / "eva.key.pem")],
        stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True,
    )
    browser = None
    try:
        address = server.stdout.readline().strip()
        browser = Browser(str(scratch / "profile-long"))
        browser.call("Page.navigate", url=address)
        browser.until(f"document.querySelectorAll('#list > li').length === {checks}", f"{checks} checks are listed")
        browser.until("wave.clips.length === 2000", "2,000 utterances have their loudness")
        # From the call to the frame after it is on the screen.
        timed = ("(async (act) => { const from = performance.now(); await act(); await new Promise((r) => "
                 "requestAnimationFrame(() => setTimeout(r))); return Math.round(performance.now() - from); })")
        times = {"load": browser.js("Math.round(performance.getEntriesByType('navigation')[0].domContentLoadedEventEnd)")}
        wave = "performance.getEntriesByType('resource').find((r) => r.name.endsWith('wave.js'))"
        times["loudness"] = browser.js(f"Math.round({wave}.responseEnd)")
        for name, act in {
            "filter": "() => document.querySelector('#f-low').click()",
            "no filter": "() => document.querySelector('#f-low').click()",
            "next doubtful": "() => nextDoubtful()",
            "draw the session": "() => draw()",
            "scroll to the end": "() => window.scrollTo(0, document.body.scrollHeight)",
        }.items():
            times[name] = browser.js(f"{timed}({act})")
        browser.js("select(view.checks.findIndex((c) => standing(c))); ask('note', view.checks[now]);"
                   " document.querySelector('#why').value = 'a note'")
        from_s = time.monotonic()
        browser.js("document.querySelector('#amend-form').requestSubmit()")
        browser.until("document.querySelectorAll('#amendments li').length === 1", "an amendment of the long record")
        times["amend"] = round(1000 * (time.monotonic() - from_s))
        browser.js("window.scrollTo(0, 0)")
        browser.picture("long.png", 1280, 900, False)
        no_errors(browser)
        print(f"8 hours, 2,000 utterances, {checks} checks, ms:", json.dumps(times))
        for name, most in LIMITS_MS.items():
            assert times[name] <= most, (name, times[name], most)
    finally:
        if browser:
            browser.end()
        server.kill()
        server.wait()


def try_page(browser, address):
    browser.call("Page.navigate", url=address)
    browser.until("document.querySelectorAll('#list > li').length > 10", "the checks are listed")
    browser.until("typeof wave === 'object' && wave && wave.clips.length > 10", "the session's loudness is there")
    reopened = ("{...view.checks.find((c) => standing(c)), status: 'open', walked: 'open', why: 'to be re-inspected',"
                " amendments: []}")
    reopened = f"((c) => ({{...c, answers: c.answers.map((a) => ({{...a, stands: false}}))}}))({reopened})"
    told = browser.js(f"row({reopened}, 0).querySelector('.answer').textContent")
    assert told.startswith("to be re-inspected was: ") and "corrected" not in told, told
    assert browser.js(f"row({reopened}, 0).querySelector('s') !== null"), told
    print("ok: an answer that no longer stands is not shown as one")
    corrected = "FILTERS.find(([key]) => key === 'corrected')[2]({answers: [{stage: 'correction', corrects: %s}]})"
    assert [browser.js(corrected % word) for word in ("false", "true")] == [False, True], "the same said again is no correction"
    told = browser.js("given({stage: 'correction', corrects: false}) + gone({stands: false, said_again: 7})")
    assert told == "said again, said again in entry 7", told
    print("ok: the same said again is no correction")
    browser.picture("desktop.png", 1280, 900, False)
    browser.picture("phone.png", 390, 844, True)
    wide = browser.js("document.documentElement.scrollWidth <= 390")
    assert wide, "the page is wider than a phone"
    browser.picture("desktop.png", 1280, 900, False)
    shown = "[...document.querySelectorAll('#list > li')].filter((r) => !r.hidden).length"
    before = browser.js(shown)
    browser.js("document.querySelector('#f-deficient').click()")
    browser.until(f"{shown} > 0 && {shown} < {before}", "the filter leaves fewer checks")
    browser.js("document.querySelector('#f-deficient').click()")
    aside = "document.querySelectorAll('#overview #not-applicable li').length"
    browser.until(f"{aside} > 0 && {aside} === view.checks.filter((c) => c.status === 'not-applicable').length &&"
                  " !document.querySelector('#left-aside').hidden", "what was called not applicable is in the overview")
    browser.js("document.querySelector('#f-not-applicable').click()")
    browser.until(f"{shown} === {aside}", "and has a filter")
    browser.js("document.querySelector('#f-not-applicable').click()")
    browser.js("document.querySelector('#list button.play').click()")
    browser.until("sound.currentTime > 0.2", "a clip plays")
    browser.js("document.body.focus()")
    browser.key("d")
    browser.until("now >= 0 && !!rows[now].querySelector('.detail')", "d opens the next doubtful answer")
    browser.js("select(view.checks.findIndex((c) => standing(c)))")
    browser.key("w")
    browser.until("document.querySelector('#amend').open", "w asks what was heard wrong")
    browser.picture("amend.png", 1280, 900, False)
    browser.js("document.querySelector('#why').value = 'a tone, no word'")
    browser.js("document.querySelector('#amend-form').requestSubmit()")
    browser.until("document.querySelectorAll('#amendments li').length === 1", "the amendment is signed and shown")
    browser.picture("amended.png", 1280, 900, False)
    browser.js("document.querySelector('#amendments button.withdraw').click()")
    browser.until("document.querySelector('#amend').open", "a slip can be withdrawn")
    browser.js("document.querySelector('#why').value = 'a slip of mine'")
    browser.js("document.querySelector('#amend-form').requestSubmit()")
    browser.until("document.querySelectorAll('#amendments li').length === 2 &&"
                  " document.querySelector('#amendments').textContent.includes('WITHDRAWN by review 1') &&"
                  " !document.querySelector('#amendments button.withdraw')", "the withdrawal is signed and shown")
    no_errors(browser)
    browser.js("document.querySelector('#reviewed').scrollIntoView()")
    browser.picture("withdrawn.png", 1280, 900, False)


main()
