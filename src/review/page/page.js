"use strict";
// The review page. Text from the record is only ever set as text, never as markup.
const LOW = 0.8; // confidence below which an answer is worth hearing
const SLOW_MS = 15000; // from question to answer
const SIGNS = { conforming: "✓", deficient: "✕", open: "?", "not-seen": "?", "not-applicable": "–", "not-asked": "–" };
const INKS = { conforming: "#0b5d2a", deficient: "#7a1414", open: "#6b4300", "not-seen": "#6b4300" };
const DIGITS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz-_";
const FILTERS = [
  ["deficient", "deficient", (c) => c.status === "deficient" || c.answers.some((a) => a.outcome === "deficient")],
  ["open", "open or not seen", (c) => c.status === "open" || c.status === "not-seen"],
  ["not-applicable", "not applicable", (c) => c.status === "not-applicable"],
  ["low", `below ${LOW * 100} %`, (c) => c.answers.some((a) => a.heard.clip && a.heard.confidence < LOW)],
  ["corrected", "corrected", (c) => c.answers.some((a) => a.corrects)],
  ["refused", "not taken or doubted", (c) => c.refused + c.doubted > 0],
  ["slow", `slower than ${SLOW_MS / 1000} s`, (c) => slowest(c) > SLOW_MS],
  ["amended", "amended", (c) => c.amendments.length > 0],
];
let record = RECORD, view = RECORD.view;
// The loudness comes after the list: on a long record it takes a while to work out.
let wave = { clips: [], entries: [], length: 0, per_second: 20 };
let slow = new Map(), rows = [], shown = [], now = -1, opened = -1, playing = null, zoom = 1, at = 0, marks = [];
const sound = new Audio();
const $ = (id) => document.getElementById(id);

function el(name, attributes = {}, ...children) {
  const node = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) {
    if (key === "class") node.className = value;
    else if (key.startsWith("on")) node.addEventListener(key.slice(2), value);
    else if (value === true) node.setAttribute(key, "");
    else if (value !== false && value != null) node.setAttribute(key, value);
  }
  node.append(...children.filter((c) => c != null && c !== ""));
  return node;
}
const fill = (node, ...children) => node.replaceChildren(...children);
const percent = (x) => `${Math.round(x * 100)} %`;
// With its zone where the walk did not begin in it, or at the head.
const zone = (wall) => (/(?:Z|[+-]\d\d:?\d\d)(?=\[|$)/.exec(wall.slice(19)) || [""])[0];
const clock = (wall, head = false) => wall.slice(0, 10) + " " + wall.slice(11, 19) + (head || zone(wall) !== zone(view.started) ? " " + zone(wall) : "");
// A name that is written from right to left leaves what stands beside it where it is.
const apart = (name) => `\u2068${name}\u2069`;
const words = (status) => status.replace("-", " ");
function span(ms) {
  const s = Math.floor(ms / 1000), two = (n) => String(n).padStart(2, "0");
  return s >= 3600 ? `${Math.floor(s / 3600)}:${two(Math.floor(s / 60) % 60)}:${two(s % 60)}` : `${Math.floor(s / 60)}:${two(s % 60)}`;
}
const say = (text) => { $("said").textContent = text; };

// How long each check took: from the first question to the answer taken, without holds.
function timings() {
  const asked = new Map();
  let paused = 0, since = null; // time on hold so far, and when the hold began
  slow = new Map();
  for (const m of view.timeline) {
    if (m.kind === "held") since = since ?? m.mono_ms;
    if ((m.kind === "carried" || m.kind === "resumed") && since != null) { paused += m.mono_ms - since; since = null; }
    if (m.kind === "asked" && !asked.has(m.check)) asked.set(m.check, m.mono_ms - paused);
    if (m.kind === "answered" && asked.has(m.check)) {
      slow.set(m.check, Math.max(slow.get(m.check) || 0, m.mono_ms - paused - asked.get(m.check)));
      asked.delete(m.check);
    }
  }
}
const slowest = (check) => slow.get(check.check) || 0;
const given = (a) => (a.corrects ? "correction" : a.stage === "walk" ? "first answer" : a.stage === "correction" ? "said again" : a.stage);
const gone = (a) => (a.stands ? "" : a.said_again == null ? ", no longer stands" : `, said again in entry ${a.said_again}`);
const standing = (check) => check.answers.find((a) => a.stands);
const isBad = (c) => ["deficient", "open", "not-seen"].includes(c.status);
const isDoubtful = (c) => FILTERS.some(([key, , test]) => ["low", "corrected", "refused"].includes(key) && test(c)) || isBad(c);

// Head and overview.
function head() {
  document.title = `Review: ${view.load}`;
  $("load").textContent = view.load;
  $("verdict").textContent = record.verdict;
  $("verdict").className = view.state === "ready" ? "" : "bad";
  $("who").textContent = `Inspected by ${apart(view.inspector)}, rigged by ${apart(view.rigger)}, ${clock(view.started, true)} to ${clock(view.last, true)}. ` +
    (view.lifter ? `To be lifted by ${apart(view.lifter)}, on the sling set ${apart(view.sling_set)}. ` : "") +
    (record.tryout ? `Tried out before the walk: ${record.tryout}. ` : "") +
    (record.tried_again ? `Tried out again in a break: ${record.tried_again}. ` : "") +
    (record.reviewer ? `Reviewed by ${record.reviewer}.` : record.copy ? "A copy to read and to listen to; it takes no amendments." : "To amend, start the review with --as and --key.");
  fill($("against"), ...(view.against.length ? view.against : ["Nothing that was asked."]).map((t) => el("li", {}, t)));
  fill($("not-applicable"), ...view.not_applicable.map((t) => el("li", {}, t)));
  $("left-aside").hidden = view.not_applicable.length === 0;
  const problems = view.integrity.problems.length;
  $("integrity").textContent = problems ? `NOT INTACT: ${problems} problem(s); see loadwalk verify.`
    : `Intact: ${view.integrity.entries} entries, ${view.integrity.clips} clips, record code ${record.code}.`;
  $("integrity").className = problems ? "s-deficient" : "";
  fill($("cautions"), ...view.cautions.map((t) => el("li", {}, t)));
  fill($("capacity"), ...record.capacity.map(([question, verdict, told]) => el("tr", { class: verdict === "passes" ? "" : "bad" },
    el("th", { scope: "row" }, question), el("td", {}, el("b", {}, verdict)), el("td", {}, told))));
  fill($("sections"), ...record.sections.map(([title, lines]) => el("section", {}, el("h2", {}, title),
    el("ul", {}, ...lines.map((t) => el("li", {}, t))))));
  fill($("amendments"), ...view.amendments.map(amendment));
  $("reviewed").hidden = view.amendments.length === 0;
  for (const node of document.querySelectorAll(".amends")) node.hidden = !record.reviewer;
}

function svg(name, attributes, ...children) {
  const node = document.createElementNS("http://www.w3.org/2000/svg", name);
  for (const [key, value] of Object.entries(attributes)) node.setAttribute(key, value);
  node.append(...children);
  return node;
}
// Shape and sign tell outcomes apart, not colour alone.
function plan() {
  const d = record.drawing;
  if (!d) return fill($("plan"), elsewhere("Stations: "));
  const w = 400, h = w * d.aspect + 40;
  const marks = d.marks.map((m) => {
    const ink = INKS[m.status] || "#4a4a4a";
    const shape = m.status === "deficient" ? svg("rect", { x: -15, y: -15, width: 30, height: 30, fill: ink })
      : m.status === "open" || m.status === "not-seen" ? svg("path", { d: "M0 -21 L20 15 H-20 Z", fill: ink })
      : svg("circle", { r: 15, fill: "#fff", stroke: ink, "stroke-width": 3 });
    const filled = shape.getAttribute("fill") !== "#fff";
    const link = svg("a", { transform: `translate(${m.x * w} ${m.y * w + 30})` }, svg("title", {}, `${m.number} ${m.name}: ${words(m.status)}`),
      shape, svg("text", { "text-anchor": "middle", y: 6, "font-size": 16, "font-weight": 700, fill: filled ? "#fff" : ink }, String(m.number)));
    link.addEventListener("click", () => { $("station").value = m.name; filter(); });
    return link;
  });
  const outline = d.outline ? [svg("rect", { x: d.outline[0] * w, y: d.outline[1] * w + 30, width: (d.outline[2] - d.outline[0]) * w,
    height: (d.outline[3] - d.outline[1]) * w, fill: "none", stroke: "#1a1a1a", "stroke-width": 2 }, svg("title", {}, "the load"))] : [];
  const label = "Load and stations from above, forward is up. " + d.marks.map((m) => `${m.number} ${m.name}: ${words(m.status)}`).join("; ");
  const path = d.marks.map((m) => `${m.x * w},${m.y * w + 30}`).join(" ");
  fill($("plan"), svg("svg", { viewBox: `0 0 ${w} ${h}`, role: "img", "aria-label": label },
    svg("path", { d: `M${w / 2} 4 l8 14 h-16 z`, fill: "#1a1a1a" }), svg("text", { x: w / 2 + 14, y: 18, "font-size": 14 }, "forward"),
    ...outline, svg("polyline", { points: path, fill: "none", stroke: "#767676", "stroke-width": 2, "stroke-dasharray": "4 4" }), ...marks));
  $("plan").append(el("p", { class: "small" }, "Circle: nothing wrong. Square: deficient. Triangle: open or not seen. A click shows the station's checks."));
  if (record.elsewhere.length) $("plan").append(elsewhere("Not on the drawing: "));
}
// Stations without a place.
function elsewhere(title) {
  const one = (m) => {
    const button = el("button", { type: "button" }, `${m.number} ${m.name}: ${words(m.status)}`);
    button.addEventListener("click", () => { $("station").value = m.name; filter(); });
    return button;
  };
  return el("p", { class: "tools small" }, title, ...record.elsewhere.map(one));
}

// The load as it hangs, an SVG of loadwalk's own without script.
function hanging() {
  $("hangs").hidden = !record.hanging;
  $("hangs-title").textContent = record.hanging_title || "How the load hangs";
  $("as-found").textContent = record.as_found || "";
  if (!record.hanging) return fill($("hanging"));
  const picture = new DOMParser().parseFromString(record.hanging, "image/svg+xml").documentElement;
  fill($("hanging"), document.importNode(picture, true));
}

// Sound.
function play(file, button) {
  if (playing && playing.file === file) return stop();
  stop();
  sound.src = "clips/" + encodeURIComponent(file);
  playing = { file, button };
  if (button) { button.setAttribute("aria-pressed", "true"); button.firstChild.data = "■"; }
  sound.play().catch(() => { stop(); say(`The sound ${file} is not there.`); });
  draw();
}
function stop() {
  sound.pause();
  if (playing && playing.button) { playing.button.setAttribute("aria-pressed", "false"); playing.button.firstChild.data = "▶"; }
  playing = null;
  draw();
}
sound.addEventListener("ended", stop);
function player(file, what) {
  if (!file) return null;
  if (view.sound_removed.includes(file)) return el("span", { class: "small" }, "sound removed");
  return el("button", { type: "button", class: "play", "aria-pressed": "false", "aria-label": `Play ${what}`, "data-file": file,
    onclick: (e) => { e.stopPropagation(); play(file, e.currentTarget); } }, "▶");
}

// The list of checks: a light line each, its detail only while it is open.
function row(check, index) {
  const a = standing(check), was = a || check.answers.at(-1);
  // Before anything else, why it is open; what was answered before is no answer now.
  const why = a && check.status === check.walked ? "" : check.why || "";
  const flags = FILTERS.filter(([key, , test]) => !["deficient", "open"].includes(key) && test(check)).map(([, text]) => text);
  const badge = el("span", { class: `badge s-${check.status}` }, `${SIGNS[check.status]} ${words(check.status)}`);
  const name = el("span", { class: "name" }, el("button", { type: "button", class: "open-check", "aria-expanded": "false",
    onclick: () => toggle(index) }, `${check.station}, ${check.name}`));
  const answer = el("span", { class: "answer" }, why ? why + " " : "",
    was && !a ? el("s", { class: "was" }, `was: ${was.said}`) : "", was && !a ? " " : "", a ? `${a.said} ` : "",
    a && a.heard.clip ? el("span", { class: "small" }, `“${a.heard.words}” ${percent(a.heard.confidence)} `) : "",
    el("span", { class: "flags" }, flags.join(", ")));
  const li = el("li", { class: isBad(check) ? "bad" : "" }, el("div", { class: "line" }, badge, name, answer,
    player(was && was.heard.clip, `the answer to ${check.name}`) || el("span", { class: "play" })));
  li.addEventListener("focusin", () => select(index, false));
  return li;
}
function heard(h, what) {
  const others = h.others.map(([w, times]) => `${w} (${times < 1e6 ? Math.round(times) : "over a million"} times less likely)`);
  return el("div", { class: "said" }, player(h.clip, what),
    h.clip ? `heard “${h.words}”, confidence ${percent(h.confidence)}` : `typed “${h.words}”`,
    h.snr_db == null ? "" : `, ${h.snr_db.toFixed(0)} dB over the noise`,
    h.clip ? el("span", { class: "small" }, others.length ? `It could have been: ${others.join("; ")}.` : "Nothing else came near.") : "");
}
function amendment(a) {
  const mine = record.reviewer && a.sound && a.key_id === record.key_id && a.withdraws == null && a.withdrawn_by == null;
  return el("li", { class: "review" }, el("b", {}, `Review ${a.number}: ${a.kind}${a.withdraws == null ? "" : " of review " + a.withdraws} by ${a.by}`),
    a.withdrawn_by == null ? "" : el("b", {}, `, WITHDRAWN by review ${a.withdrawn_by}`), `, ${clock(a.wall)}, ${a.place || "the load"}`,
    a.entry == null ? "" : ` (entry ${a.entry})`, a.hears ? `, heard in review: ${a.hears}` : "", `: ${a.text}`, a.does ? ` [${a.does}]` : "",
    el("span", { class: "small" }, a.sound ? ` signed with key ${a.key_id}` : ` SIGNATURE OR PLACE NOT SOUND, ${a.withdraws == null ? "heeded all the same" : "not heeded"}`),
    mine ? el("button", { type: "button", class: "withdraw", onclick: () => ask("withdraw", null, a) }, "Withdraw") : "");
}
function detail(check) {
  const box = el("div", { class: "detail" });
  box.append(el("p", {}, `Asked: “${check.ask}” Expected: ${check.expected}.` +
    (slowest(check) ? ` Answered after ${(slowest(check) / 1000).toFixed(1)} s.` : "")));
  for (const text of [check.deficiency, check.why]) if (text) box.append(el("p", {}, el("b", {}, text)));
  const reheard = check.heard_in_review;
  if (check.walked !== check.status || reheard)
    box.append(el("p", {}, el("b", {}, `Amended in review${reheard ? `, heard as ${reheard}` : ""}; by the walk: ${words(check.walked)}`)));
  for (const a of check.answers) {
    box.append(el("div", {}, el("p", {}, el("b", { class: a.stands ? "" : "gone" }, a.said), ` ${words(a.outcome)}, ${given(a)}` +
      `${gone(a)}, entry ${a.entry}, ${clock(a.wall)}`), heard(a.heard, `entry ${a.entry}`),
      a.confirmed_by ? heard(a.confirmed_by, `the confirmation of entry ${a.entry}`) : ""));
  }
  for (const m of view.timeline) {
    if (m.check !== check.check || !["refused", "doubted"].includes(m.kind)) continue;
    box.append(el("div", { class: "said" }, player(m.clips[0], `entry ${m.entry}`), `entry ${m.entry}: ${m.text}`));
  }
  if (check.rigger_mark) box.append(el("p", {}, `The rigger's mark: ${check.rigger_mark}`));
  for (const n of check.notes) {
    box.append(el("div", { class: "said note" }, player(n.clip, "the note"),
      n.typed ? `Note: ${n.transcript}` : `Note, machine transcript: “${n.transcript}”`));
  }
  if (check.amendments.length) box.append(el("ul", {}, ...check.amendments.map(amendment)));
  if (record.reviewer) {
    const a = standing(check);
    box.append(el("p", { class: "tools acts" },
      a ? el("button", { type: "button", onclick: () => ask("heard-wrong", check) }, "Heard wrong ", el("kbd", {}, "w")) : "",
      el("button", { type: "button", onclick: () => ask("re-inspect", check) }, "Inspect again ", el("kbd", {}, "i")),
      el("button", { type: "button", onclick: () => ask("note", check) }, "Note ", el("kbd", {}, "n"))));
  }
  return box;
}
function list() {
  rows = view.checks.map(row);
  fill($("list"), ...rows);
  opened = -1;
}
function close(index) {
  if (index < 0) return;
  rows[index].querySelector(".detail")?.remove();
  rows[index].querySelector(".open-check").setAttribute("aria-expanded", "false");
}
function open(index) {
  if (opened !== index) close(opened);
  opened = index;
  if (!rows[index].querySelector(".detail")) rows[index].append(detail(view.checks[index]));
  rows[index].querySelector(".open-check").setAttribute("aria-expanded", "true");
}
function toggle(index) {
  if (opened === index) { close(index); opened = -1; } else open(index);
  select(index, false);
}
function select(index, move = true) {
  if (now !== index) {
    if (now >= 0) rows[now].classList.remove("now");
    now = index;
    rows[index].classList.add("now");
    draw();
  }
  if (move) {
    rows[index].scrollIntoView({ block: "nearest" });
    rows[index].querySelector(".open-check").focus({ preventScroll: true });
  }
}
function filter() {
  const tests = FILTERS.filter(([key]) => $("f-" + key).checked).map(([, , test]) => test);
  const station = $("station").value, text = $("text").value.trim().toLowerCase();
  shown = [];
  view.checks.forEach((c, i) => {
    const fits = (!tests.length || tests.some((t) => t(c))) && (!station || c.station === station) &&
      (!text || [c.station, c.name, c.ask, c.deficiency, ...c.answers.map((a) => a.said + " " + a.heard.words), ...c.notes.map((n) => n.transcript)]
        .join(" ").toLowerCase().includes(text));
    rows[i].hidden = !fits;
    if (fits) shown.push(i);
  });
  $("shown").textContent = `${shown.length} of ${view.checks.length} checks`;
}
function step(by) {
  if (!shown.length) return;
  const here = shown.findIndex((i) => i >= now);
  const next = now < 0 ? 0 : shown[here] === now ? here + by : by > 0 ? here : here - 1;
  select(shown[Math.min(Math.max(next, 0), shown.length - 1)]);
}
function nextDoubtful() {
  const order = [...shown.filter((i) => i > now), ...shown.filter((i) => i <= now)];
  const next = order.find((i) => isDoubtful(view.checks[i]));
  if (next === undefined) return say("No doubtful answer among those shown.");
  open(next);
  select(next);
  say(`${view.checks[next].name}: ${words(view.checks[next].status)}`);
}

// The session: loudness, answers and other utterances over time.
function entriesInTime() {
  const heardIn = new Map(wave.clips.map((c) => [c.entry, c]));
  const outcome = new Map();
  for (const c of view.checks) for (const a of c.answers) outcome.set(a.entry, a.outcome);
  const byCheck = new Map(view.checks.map((c, i) => [c.check, i]));
  marks = view.timeline.filter((m) => m.clips.length || m.kind === "answered").map((m) => {
    const clip = heardIn.get(m.entry), end = wave.entries[m.entry] ?? m.mono_ms;
    return { ms: clip ? clip.start : end, end, entry: m.entry, kind: m.kind, text: m.text, clip: m.clips[0], index: byCheck.get(m.check) ?? -1,
      outcome: outcome.get(m.entry) };
  });
  $("wave").setAttribute("aria-valuemax", marks.length);
}
function reach() {
  const total = Math.max(wave.length, marks.length ? marks[marks.length - 1].end : 0, 1), length = total / zoom;
  const middle = marks[at] ? marks[at].ms : 0;
  const from = Math.min(Math.max(middle - length / 2, 0), total - length);
  return [from, from + length];
}
function draw() {
  const canvas = $("wave"), scale = window.devicePixelRatio || 1, w = canvas.clientWidth, h = canvas.clientHeight;
  if (!w) return;
  canvas.width = w * scale; canvas.height = h * scale;
  const g = canvas.getContext("2d");
  g.scale(scale, scale);
  const [from, to] = reach(), x = (ms) => (ms - from) / (to - from) * w, middle = 52;
  g.fillStyle = "#fff"; g.fillRect(0, 0, w, h);
  const peaks = new Float32Array(Math.ceil(w));
  for (const clip of wave.clips) {
    if (clip.start + clip.length < from || clip.start > to) continue;
    for (let i = 0; i < clip.peaks.length; i++) {
      const a = x(clip.start + i * 1000 / wave.per_second), b = Math.max(x(clip.start + (i + 1) * 1000 / wave.per_second), a + 1);
      const loud = DIGITS.indexOf(clip.peaks[i]) / 63;
      for (let p = Math.max(Math.floor(a), 0); p < b && p < peaks.length; p++) peaks[p] = Math.max(peaks[p], loud);
    }
  }
  g.fillStyle = "#4a4a4a";
  for (let p = 0; p < peaks.length; p++) if (peaks[p]) g.fillRect(p, middle - peaks[p] * 40, 1, Math.max(peaks[p] * 80, 1));
  g.fillRect(0, middle, w, 1);
  g.font = "bold 13px system-ui, sans-serif"; g.textAlign = "center";
  let last = -99;
  const important = (m) => m.outcome && m.outcome !== "conforming" ? 1 : 0;
  for (const m of marks) {
    const px = x(m.ms);
    if (px < -8 || px > w + 8) continue;
    const sign = m.outcome ? SIGNS[m.outcome] : m.kind === "noted" ? "n" : m.kind === "refused" || m.kind === "doubted" ? "r" : "·";
    g.fillStyle = INKS[m.outcome] || "#1a1a1a";
    if (px - last < 9 && !important(m)) { g.fillRect(px, 96, 1, 4); continue; }
    last = px;
    g.fillText(sign, px, 108);
  }
  const here = marks[at];
  if (here) { g.strokeStyle = "#0b3d91"; g.lineWidth = 2; g.strokeRect(x(here.ms) - 3, 3, Math.max(x(here.end) - x(here.ms), 2) + 6, 108); }
  g.fillStyle = "#1a1a1a"; g.font = "12px system-ui, sans-serif";
  g.textAlign = "left"; g.fillText(span(from), 3, h - 4);
  g.textAlign = "right"; g.fillText(span(to), w - 3, h - 4);
  $("span").textContent = `${span(from)} to ${span(to)}`;
}
function utterance(index, go = false) {
  if (!marks.length) return;
  at = Math.min(Math.max(index, 0), marks.length - 1);
  const m = marks[at], check = view.checks[m.index];
  $("wave").setAttribute("aria-valuenow", at + 1);
  $("wave").setAttribute("aria-valuetext", `${span(m.ms)}, ${m.kind}${check ? ", " + check.name : ""}, ${m.text}`);
  draw();
  if (!go) return;
  if (m.index >= 0 && !rows[m.index].hidden) { open(m.index); select(m.index, false); rows[m.index].scrollIntoView({ block: "nearest" }); }
  if (m.clip) play(m.clip, m.index >= 0 ? rows[m.index].querySelector(`.detail [data-file="${CSS.escape(m.clip)}"]`) : null);
}
function zoomBy(factor) { zoom = Math.min(Math.max(zoom * factor, 1), 512); draw(); }
$("wave").addEventListener("keydown", (e) => {
  const moves = { ArrowRight: 1, ArrowUp: 1, ArrowLeft: -1, ArrowDown: -1, PageUp: 10, PageDown: -10, Home: -1e9, End: 1e9 };
  if (e.key in moves) utterance(at + moves[e.key]);
  else if (e.key === "Enter" || e.key === " ") utterance(at, true);
  else if (e.key === "+") zoomBy(2);
  else if (e.key === "-") zoomBy(0.5);
  else return;
  e.preventDefault();
  e.stopPropagation();
});
$("wave").addEventListener("click", (e) => {
  const [from, to] = reach(), ms = from + e.offsetX / $("wave").clientWidth * (to - from);
  let best = 0;
  marks.forEach((m, i) => { if (Math.abs(m.ms - ms) < Math.abs(marks[best].ms - ms)) best = i; });
  utterance(best, true);
});
$("closer").addEventListener("click", () => zoomBy(2));
$("wider").addEventListener("click", () => zoomBy(0.5));
window.addEventListener("resize", draw);
function moments() {
  if (!$("entries").open) return;
  fill($("moments"), ...view.timeline.map((m) => el("tr", {}, el("td", {}, String(m.entry)), el("td", {}, clock(m.wall)), el("td", {}, words(m.kind)),
    el("td", {}, m.check || ""), el("td", {}, m.text), el("td", {}, player(m.clips[0], `entry ${m.entry}`) || ""))));
}
$("entries").addEventListener("toggle", moments);

// Amendments.
let asking = null;
const TITLES = { "heard-wrong": "Heard wrong", "re-inspect": "Inspect again", note: "Note", withdraw: "Withdraw" };
function ask(kind, check, taken) {
  if (!record.reviewer) return say("To amend, start the review with --as and --key.");
  const a = check && standing(check);
  if (kind === "heard-wrong" && !a) return say("No answer stands at this check.");
  asking = { kind, check, entry: a && a.entry, taken };
  $("amend-title").textContent = TITLES[kind];
  $("amend-what").textContent = taken ? `Review ${taken.number}, ${taken.kind}, ${taken.place || "the load"}: ${taken.text}. It no longer counts and stays in sight.` : !check ? "A note on the load; it changes no outcome."
    : `${check.station}, ${check.name}. ` + { "heard-wrong": `Written down: ${a && a.said}. The check opens until it is inspected again; it is deficient where the sound says so.`,
      "re-inspect": "The check opens until it is inspected again.", note: "It changes no outcome." }[kind];
  $("hears-label").hidden = kind !== "heard-wrong";
  const values = check && record.values[check.check];
  fill($("hears-box"), !values ? "" : values.choices.length
    ? el("select", { id: "hears" }, el("option", { value: "" }, "nothing that is an answer"), ...values.choices.map(([v, w]) => el("option", { value: v }, w)))
    : el("input", { id: "hears", type: "text", inputmode: values.unit === "tag" ? "text" : "decimal", placeholder: `${values.unit}; empty: no answer` }));
  $("why-label").textContent = kind === "note" ? "Note" : "Reason";
  $("why").value = "";
  $("amend-error").textContent = "";
  $("amend-who").textContent = `Signed as ${record.reviewer}; it stays in the record beside the walk's own entries.`;
  $("amend").showModal();
  $("why").focus();
}
$("cancel").addEventListener("click", () => { $("amend").close(); look(); });
$("amend-form").addEventListener("submit", async (e) => {
  e.preventDefault();
  const { kind, check, entry, taken } = asking, change = { kind };
  if (taken) change.amendment = taken.number;
  if (check) change.check = check.check;
  if (kind === "heard-wrong") { change.entry = entry; if ($("hears").value.trim()) change.hears = $("hears").value.trim(); }
  try {
    const answer = await fetch("amendments", { method: "POST", headers: { "Content-Type": "application/json" },
      body: JSON.stringify({ change, text: $("why").value }) });
    if (!answer.ok) { $("amend-error").textContent = await answer.text(); return; }
    record = await answer.json();
  } catch { $("amend-error").textContent = "loadwalk does not answer; is the review still running?"; return; }
  $("amend").close();
  anew();
  say(`${TITLES[kind]}: signed and added.`);
});
// Shows the record as it is now, at the place where the reader is.
function anew() {
  const back = now, was = opened;
  view = record.view;
  now = -1;
  renew();
  if (was >= 0) open(was);
  if (back >= 0) select(back);
}
// Somebody may have amended the record, or gone on with the walk, while the page lay open.
let looking = false;
async function look() {
  if (record.copy || looking || document.hidden || $("amend").open) return;
  looking = true;
  try {
    const answer = await fetch("record.js", { cache: "no-store" });
    const text = answer.ok ? await answer.text() : "";
    const found = text && JSON.parse(text.slice(text.indexOf("{"), text.lastIndexOf("}") + 1));
    if (!found || found.code === record.code || $("amend").open) return;
    // New entries have a loudness of their own.
    if (found.view.timeline.length !== view.timeline.length) return location.reload();
    record = found;
    anew();
    say("The record has changed; the page shows it as it is now.");
  } catch { say("loadwalk does not answer; the record may have changed since."); } finally { looking = false; }
}
window.addEventListener("focus", look);
document.addEventListener("visibilitychange", look);

// Keys.
document.addEventListener("keydown", (e) => {
  const field = e.target.closest("input:not([type=checkbox]), select, textarea");
  if (e.key === "Escape" && field && !$("amend").open) return field.blur();
  if (field || $("amend").open || e.ctrlKey || e.metaKey || e.altKey || !$("letters").checked) return;
  const check = view.checks[now];
  const keys = {
    d: nextDoubtful, j: () => step(1), k: () => step(-1), "/": () => $("f-deficient").focus(),
    p: () => check && rows[now].querySelector("button.play")?.click(),
    w: () => check && ask("heard-wrong", check), i: () => check && ask("re-inspect", check), n: () => check && ask("note", check),
  };
  if (!(e.key in keys)) return;
  e.preventDefault();
  keys[e.key]();
});

window.addEventListener("beforeprint", () => document.querySelectorAll("main details:not(#entries, #keys)").forEach((d) => { d.open = true; }));
window.addEventListener("beforeprint", () => rows.forEach((r, i) => { if (!r.hidden && !r.querySelector(".detail")) r.append(detail(view.checks[i])); }));
window.addEventListener("afterprint", () => rows.forEach((r, i) => { if (i !== opened) r.querySelector(".detail")?.remove(); }));

function renew() {
  timings(); head(); plan(); hanging(); list(); filter(); entriesInTime(); moments(); draw();
}
fill($("boxes"), ...FILTERS.map(([key, text]) => el("label", {}, el("input", { type: "checkbox", id: "f-" + key, onchange: filter }), text)));
fill($("station"), el("option", { value: "" }, "all"), ...[...new Set(view.checks.map((c) => c.station))].map((s) => el("option", { value: s }, s)));
$("station").addEventListener("change", filter);
$("text").addEventListener("input", filter);
$("filters").addEventListener("submit", (e) => e.preventDefault());
$("doubtful").addEventListener("click", nextDoubtful);
$("note-load").addEventListener("click", () => ask("note", null));
renew();
utterance(0);
document.head.append(el("script", {
  src: "wave.js",
  onload: () => { wave = WAVE; entriesInTime(); utterance(at); },
  onerror: () => say("The loudness of the session cannot be shown."),
}));
