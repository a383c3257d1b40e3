//! The report as one HTML file: static, no script, nothing fetched but the record's own clips.

use super::stations::{Drawing, drawing, station_lines};
use super::{
    Hanging, NOT_SIGNED, amendment_lines, capacity_verdict, capital, clock_time, counts_line,
    deficiency_lines, hold_lines, how_heard, integrity_lines, left_out_lines, note_text,
    practice_lines, reviewed_line, rhythm_lines, signature_lines, stage, title,
};
use crate::record::{
    AnswerView, CheckView, State, Status, View, amendment as amendment_line, duration, state_words,
    tryout_words,
};
use crate::walk::steers;
use std::fmt::{self, Display, Write as _};

const STYLE: &str = include_str!("style.css");

/// A page that needs no script and no network. `clips` is the address of the clips' folder as seen
/// from where the page will lie (`clips` beside the journal), for players; `None` names the files
/// only.
pub fn html(view: &View, clips: Option<&str>, hanging: Option<&Hanging>) -> String {
    let mut out = String::new();
    let clips = Clips {
        folder: clips,
        removed: &view.sound_removed,
    };
    // Writing to a string cannot fail.
    let _ = page(&mut out, view, clips, hanging);
    out
}

/// Where the clips are, and which are not there any more.
#[derive(Clone, Copy)]
struct Clips<'a> {
    folder: Option<&'a str>,
    removed: &'a [String],
}

/// Text in which nothing is markup.
struct Esc<T>(T);

impl<T: Display> Display for Esc<T> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for c in self.0.to_string().chars() {
            match c {
                '&' => f.write_str("&amp;")?,
                '<' => f.write_str("&lt;")?,
                '>' => f.write_str("&gt;")?,
                '"' => f.write_str("&quot;")?,
                '\'' => f.write_str("&#39;")?,
                c if steers(c) && !c.is_whitespace() => f.write_char('\u{fffd}')?,
                c => f.write_char(c)?,
            }
        }
        Ok(())
    }
}

fn page(out: &mut String, view: &View, clips: Clips<'_>, hanging: Option<&Hanging>) -> fmt::Result {
    let title = Esc(title(view));
    write!(
        out,
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; \
         style-src 'unsafe-inline'; media-src 'self' file:\">\n\
         <title>{title}</title>\n<style>\n{STYLE}</style>\n</head>\n<body>\n<main>\n<h1>{title}</h1>\n"
    )?;
    summary(out, view)?;
    if let Some(hanging) = hanging {
        writeln!(out, "<h2>{}</h2>", Esc(&hanging.heading))?;
        if let Some(effect) = hanging.as_found() {
            writeln!(out, "<p><strong>{}</strong></p>", Esc(effect))?;
        }
        // Inside a page the name space is known.
        let picture = hanging.svg();
        let picture = picture.replacen(" xmlns=\"http://www.w3.org/2000/svg\"", "", 1);
        write!(out, "<div class=\"hanging\">\n{picture}</div>\n")?;
    }
    cautions(out, view)?;
    signatures(out, view)?;
    checks(out, view, clips)?;
    rest(out, view, clips)?;
    integrity(out, view)?;
    out.push_str("</main>\n</body>\n</html>\n");
    Ok(())
}

fn summary(out: &mut String, view: &View) -> fmt::Result {
    let bad = if view.state == State::Ready {
        ""
    } else {
        " bad"
    };
    writeln!(
        out,
        "<p class=\"verdict{bad}\">{}</p>",
        Esc(capital(&state_words(view)))
    )?;
    out.push_str("<dl>\n");
    for (term, text) in [
        ("Inspected by", view.inspector.clone()),
        ("Rigged by", view.rigger.clone()),
        ("From", clock_time(&view.started)),
        ("To", clock_time(&view.last)),
        ("Recorded time", duration(view.recorded_ms)),
    ] {
        writeln!(out, "<dt>{term}</dt><dd dir=\"auto\">{}</dd>", Esc(text))?;
    }
    for (term, text) in [
        ("To be lifted by", &view.lifter),
        ("Sling set", &view.sling_set),
    ] {
        if let Some(text) = text {
            writeln!(out, "<dt>{term}</dt><dd dir=\"auto\">{}</dd>", Esc(text))?;
        }
    }
    if let Some(reviewed) = reviewed_line(view) {
        writeln!(out, "<dt>Reviewed</dt><dd>{}</dd>", Esc(reviewed))?;
    }
    if let Some(tryout) = &view.tryout {
        let text = tryout_words(tryout);
        writeln!(out, "<dt>Tried out before</dt><dd>{}</dd>", Esc(text))?;
    }
    if let Some(text) = &view.tried_again {
        writeln!(
            out,
            "<dt>Tried out again in a break</dt><dd>{}</dd>",
            Esc(text)
        )?;
    }
    out.push_str("</dl>\n<h2>What stands against the load</h2>\n");
    if view.against.is_empty() {
        out.push_str("<p>Nothing that was asked.</p>\n");
    } else {
        list(out, &view.against)?;
    }
    if !view.not_applicable.is_empty() {
        out.push_str("<h2>Called not applicable</h2>\n");
        list(out, &view.not_applicable)?;
    }
    out.push_str(
        "<h2>Capacity, by the plan</h2>\n<div class=\"wide\" tabindex=\"0\" role=\"region\" \
         aria-label=\"Capacity\"><table>\n<thead><tr><th scope=\"col\">Question</th>\
         <th scope=\"col\">Verdict</th><th scope=\"col\">Figures</th></tr></thead>\n<tbody>\n",
    );
    for line in &view.capacity {
        let class = if line.passes {
            "conforming"
        } else {
            "deficient"
        };
        let verdict = capacity_verdict(line);
        writeln!(
            out,
            "<tr class=\"{class}\"><th scope=\"row\">{}</th><td class=\"status\">{verdict}</td>\
             <td>{}</td></tr>",
            Esc(&line.question),
            Esc(line.told())
        )?;
    }
    out.push_str("</tbody></table></div>\n");
    out.push_str("<h2>The stations</h2>\n");
    if let Some(drawing) = drawing(view) {
        svg(out, &drawing)?;
    }
    out.push_str("<ol>\n");
    for line in station_lines(view) {
        writeln!(out, "<li>{}</li>", Esc(line))?;
    }
    out.push_str("</ol>\n");
    Ok(())
}

fn cautions(out: &mut String, view: &View) -> fmt::Result {
    out.push_str("<section class=\"mind\" aria-label=\"Cautions\">\n");
    list(out, &view.cautions)?;
    out.push_str("</section>\n");
    Ok(())
}

fn signatures(out: &mut String, view: &View) -> fmt::Result {
    let Some([inspector, second]) = signature_lines(view) else {
        return writeln!(out, "<p><strong>{NOT_SIGNED}</strong></p>");
    };
    writeln!(
        out,
        "<section class=\"sign\" aria-label=\"Signatures\"><div>{}</div><div>{}</div></section>",
        Esc(inspector),
        Esc(second)
    )
}

fn list<T: Display>(out: &mut String, lines: &[T]) -> fmt::Result {
    out.push_str("<ul>\n");
    for line in lines {
        writeln!(out, "<li>{}</li>", Esc(line))?;
    }
    out.push_str("</ul>\n");
    Ok(())
}

/// The stations from above. Shape and number tell them apart, not colour alone.
fn svg(out: &mut String, drawing: &Drawing) -> fmt::Result {
    let (w, h) = (600.0, 600.0 * drawing.aspect + 40.0);
    writeln!(
        out,
        "<svg viewBox=\"0 0 {w} {h:.0}\" role=\"img\" aria-label=\"Load and stations from above, forward \
         is up\" font-family=\"sans-serif\" font-size=\"18\">\n<path d=\"M300 6 l8 14 h-16 z\" \
         fill=\"#1a1a1a\"/><text x=\"314\" y=\"20\" font-size=\"14\">forward</text>"
    )?;
    if let Some([left, top, right, bottom]) = drawing.outline {
        writeln!(
            out,
            "<rect x=\"{:.1}\" y=\"{:.1}\" width=\"{:.1}\" height=\"{:.1}\" fill=\"none\" \
             stroke=\"#1a1a1a\" stroke-width=\"2\"><title>the load</title></rect>",
            left * w,
            top * w + 30.0,
            (right - left) * w,
            (bottom - top) * w,
        )?;
    }
    for mark in &drawing.marks {
        let (x, y) = (mark.x * w, mark.y * w + 30.0);
        write!(out, "<g transform=\"translate({x:.1} {y:.1})\">")?;
        write!(
            out,
            "<title>{}: {}</title>",
            Esc(&mark.name),
            mark.status.words()
        )?;
        let bad = "fill=\"#7a1414\" stroke=\"#1a1a1a\" stroke-width=\"2\"";
        let good = "fill=\"#fff\" stroke=\"#1a1a1a\" stroke-width=\"2\"";
        let ink = match mark.status {
            Status::Deficient => {
                write!(
                    out,
                    "<rect x=\"-17\" y=\"-17\" width=\"34\" height=\"34\" {bad}/>"
                )?;
                "#fff"
            }
            Status::Open | Status::NotSeen => {
                write!(out, "<path d=\"M0 -24 L22 16 H-22 Z\" {bad}/>")?;
                "#fff"
            }
            Status::Conforming | Status::NotApplicable | Status::NotAsked => {
                write!(out, "<circle r=\"17\" {good}/>")?;
                "#1a1a1a"
            }
        };
        writeln!(
            out,
            "<text text-anchor=\"middle\" y=\"7\" fill=\"{ink}\">{}</text></g>",
            mark.number
        )?;
    }
    out.push_str("</svg>\n<p class=\"small\">Round: nothing wrong. Square: deficient. Triangle: open or not seen.</p>\n");
    Ok(())
}

fn checks(out: &mut String, view: &View, clips: Clips<'_>) -> fmt::Result {
    out.push_str("<h2>Checks</h2>\n");
    let mut station: Option<&str> = None;
    for check in &view.checks {
        if station != Some(&check.station) {
            if station.is_some() {
                out.push_str("</tbody></table></div>\n");
            }
            station = Some(&check.station);
            let name = Esc(&check.station);
            write!(
                out,
                "<div class=\"wide\" tabindex=\"0\" role=\"region\" aria-label=\"{name}\"><table>\
                 <caption>{name}</caption>\n<thead><tr><th scope=\"col\">Check</th>\
                 <th scope=\"col\">Outcome</th><th scope=\"col\">Answer, heard as, confidence</th>\
                 <th scope=\"col\">Expected</th></tr></thead>\n<tbody>\n"
            )?;
        }
        check_row(out, check, clips)?;
    }
    if station.is_some() {
        out.push_str("</tbody></table></div>\n");
    }
    Ok(())
}

fn check_row(out: &mut String, check: &CheckView, clips: Clips<'_>) -> fmt::Result {
    let class = check.status.words().replace(' ', "-");
    write!(
        out,
        "<tr class=\"{class}\"><th scope=\"row\">{}<div class=\"small\">{}</div></th>\
         <td class=\"status\">{}</td><td>",
        Esc(&check.name),
        Esc(&check.ask),
        check.status.words()
    )?;
    for text in check.deficiency.iter().chain(&check.why) {
        write!(out, "<p><strong>{}</strong></p>", Esc(text))?;
    }
    for answer in &check.answers {
        answer_cell(out, answer, clips)?;
    }
    for (n, what) in [
        (check.refused, "not taken"),
        (check.doubted, "confirmed first"),
    ] {
        if n > 0 {
            write!(out, "<p class=\"small\">utterances {what}: {n}</p>")?;
        }
    }
    if let Some(mark) = &check.rigger_mark {
        write!(out, "<p>The rigger's mark: {}</p>", Esc(mark))?;
    }
    for note in &check.notes {
        write!(out, "<p>{}</p>", Esc(note_text(note)))?;
        clip(out, &note.clip, &note.clip_sha256, clips)?;
    }
    if let Some(amended) = check.amended() {
        write!(out, "<p><strong>{}</strong></p>", Esc(capital(&amended)))?;
    }
    for amendment in &check.amendments {
        write!(out, "<p>{}</p>", Esc(capital(&amendment_line(amendment))))?;
    }
    writeln!(out, "</td><td>{}</td></tr>", Esc(&check.expected))
}

fn answer_cell(out: &mut String, answer: &AnswerView, clips: Clips<'_>) -> fmt::Result {
    let class = if answer.stands { "" } else { " class=\"gone\"" };
    let gone = answer.gone();
    let gone = gone.map_or_else(String::new, |gone| format!(", {gone}"));
    write!(
        out,
        "<p><span{class}>{}</span> <span class=\"small\">{}{gone}; {}; entry {}, {}</span></p>",
        Esc(&answer.said),
        stage(answer),
        Esc(how_heard(answer)),
        answer.entry,
        Esc(clock_time(&answer.wall))
    )?;
    let second = answer.confirmed_by.as_ref();
    for heard in std::iter::once(&answer.heard).chain(second) {
        clip(out, &heard.clip, &heard.clip_sha256, clips)?;
    }
    Ok(())
}

fn clip(out: &mut String, file: &str, sha256: &str, clips: Clips<'_>) -> fmt::Result {
    if file.is_empty() {
        return Ok(());
    }
    let removed = clips.removed.iter().any(|c| c == file);
    if let Some(folder) = clips.folder.filter(|_| !removed) {
        let source = Esc(format!("{folder}/{file}"));
        write!(
            out,
            "<audio controls preload=\"none\" src=\"{source}\" aria-label=\"{}\"></audio>",
            Esc(file)
        )?;
    }
    let short: String = sha256.chars().take(16).collect();
    let gone = if removed { ", sound removed" } else { "" };
    write!(
        out,
        "<p class=\"hash\">{} {}{gone}</p>",
        Esc(file),
        Esc(short)
    )
}

/// A headed list; nothing where it would be empty.
fn section(out: &mut String, title: &str, lines: &[String]) -> fmt::Result {
    if lines.is_empty() {
        return Ok(());
    }
    writeln!(out, "<h2>{title}</h2>")?;
    list(out, lines)
}

fn rest(out: &mut String, view: &View, clips: Clips<'_>) -> fmt::Result {
    section(out, "Planted for practice", &practice_lines(view))?;
    section(
        out,
        "Deficiencies from finding to fix",
        &deficiency_lines(view),
    )?;
    if !view.notes.is_empty() {
        out.push_str("<h2>Notes on the load</h2>\n");
        for note in &view.notes {
            writeln!(out, "<p>{}</p>", Esc(note_text(note)))?;
            clip(out, &note.clip, &note.clip_sha256, clips)?;
        }
    }
    section(out, "Said in review", &amendment_lines(view))?;
    section(
        out,
        "What does not apply to this load",
        &left_out_lines(view),
    )?;
    section(out, "When the walk stood still", &hold_lines(view))?;
    section(out, "Rhythm in which nobody looks", &rhythm_lines(view))?;
    section(out, "How it went", &[counts_line(view)])
}

fn integrity(out: &mut String, view: &View) -> fmt::Result {
    let found = &view.integrity;
    writeln!(
        out,
        "<h2>The record itself</h2>\n\
         <p>{} entries, {} clips, record code {}. Compare the code with what <code>loadwalk verify</code> says.</p>\n\
         <p class=\"hash\">last entry {}</p>\n<p class=\"hash\">plan {}</p>",
        found.entries,
        found.clips,
        found.code(),
        Esc(&found.last_sha256),
        Esc(&view.plan_sha256)
    )?;
    list(out, &integrity_lines(view))
}
