//! What `lint` and `walk` say of plans.

use super::talk::{loadwalk, ran, shipped};
use std::path::Path;

fn lint(plan: &Path) -> (i32, String, String) {
    ran(&loadwalk().arg("lint").arg(plan).output().expect("it runs"))
}

#[test]
fn shipped_plans_have_nothing_to_look_at() {
    for plan in ["generator-skid.toml", "gravel-net.toml", "roof-beams.toml"] {
        let (code, out, err) = lint(&shipped(plan));
        assert_eq!((code, out.as_str()), (0, ""), "{plan}: {err}");
        assert!(err.ends_with("; 0 to look at\n"), "{plan}: {err}");
    }
}

/// A finding of a golden file: `FILE:LINE:COLUMN: error: TITLE (LABEL); help: HELP`.
struct Golden<'t> {
    severity: &'t str,
    at: Option<&'t str>,
    title: &'t str,
    help: &'t str,
}

fn golden<'t>(name: &str, line: &'t str) -> Golden<'t> {
    let (text, help) = line
        .split_once("; help: ")
        .expect("every finding has a fix");
    let rest = text.strip_prefix(name).expect("names the file");
    let (severity, mark) = match rest.find(": error: ") {
        Some(_) => ("error", ": error: "),
        None => ("warning", ": warning: "),
    };
    let (at, title) = rest.split_once(mark).expect("a severity");
    // Lines of a label are drawn apart from the title.
    let title = title.split(" (").next().unwrap_or(title);
    Golden {
        severity,
        at: at.strip_prefix(':'),
        title,
        help,
    }
}

#[test]
fn a_plan_with_a_mistake_gives_line_and_fix_and_is_not_walked() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/plans-bad");
    let records = tempfile::tempdir().expect("a folder");
    let mut seen = 0;
    for file in std::fs::read_dir(&folder).expect("the plans") {
        let plan = file.expect("a file").path();
        if plan.extension().is_none_or(|e| e != "toml") {
            continue;
        }
        let name = plan.file_name().and_then(|n| n.to_str()).expect("a name");
        let findings = std::fs::read_to_string(plan.with_extension("txt")).expect("a golden file");
        let findings: Vec<Golden> = findings.lines().map(|l| golden(name, l)).collect();
        let wrong = findings.iter().any(|f| f.severity == "error");
        let (code, out, err) = lint(&plan);
        assert_eq!(
            (code, out.as_str()),
            (if wrong { 2 } else { 0 }, ""),
            "{name}: {err}"
        );
        for finding in &findings {
            let title = format!("{}: {}", finding.severity, finding.title);
            assert!(err.contains(&title), "{name}: {title} is not in\n{err}");
            assert!(
                err.contains(finding.help),
                "{name}: {} is not in\n{err}",
                finding.help
            );
            if let Some(at) = finding.at {
                let at = format!("{name}:{at}\n");
                assert!(err.contains(&at), "{name}: {at} is not in\n{err}");
            }
        }
        if wrong {
            let record = records.path().join(name);
            let mut walk = loadwalk();
            walk.arg("walk").arg(&plan).arg("--record").arg(&record);
            walk.args([
                "--inspector",
                "Ilse Brandt",
                "--rigger",
                "Oskar Venn",
                "--keys",
            ]);
            let (code, _, _) = ran(&walk.output().expect("it runs"));
            assert_eq!((code, record.exists()), (2, false), "{name}");
        }
        seen += 1;
    }
    assert!(seen >= 50, "{seen} plans");
}

fn mended(plan: &str, from: &str, to: &str) -> (tempfile::TempDir, std::path::PathBuf, usize) {
    let text = std::fs::read_to_string(shipped(plan)).expect("a plan");
    let at = text
        .find(from)
        .unwrap_or_else(|| panic!("{plan} holds no {from}"));
    let line = text[..at].lines().count();
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("plan.toml");
    std::fs::write(&path, text.replacen(from, to, 1)).expect("written");
    (folder, path, line.max(1))
}

#[test]
fn words_too_alike_are_named_with_their_line() {
    let (_folder, plan, line) = mended(
        "generator-skid.toml",
        r#"  { say = ["in date", "valid"], conforms = true },"#,
        r#"  { say = ["in date", "pinned"], conforms = true },
  { say = ["bent"], deficiency = "tag bent" },"#,
    );
    let (code, _, err) = lint(&plan);
    assert_eq!(code, 0, "{err}");
    let first = err.lines().next().expect("a finding");
    assert!(
        first.contains("\"pinned\" and \"bent\" sound alike"),
        "{err}"
    );
    assert!(first.contains("could be logged as conforming"), "{err}");
    let near = [line, line + 1, line + 2].map(|n| format!("plan.toml:{n}:"));
    assert!(near.iter().any(|at| err.contains(at)), "{err}");
}

#[test]
fn a_rig_that_cannot_hang_is_a_fault_with_its_line() {
    let (_folder, plan, _) = mended(
        "generator-skid.toml",
        "front-left  = { forward = \"1.05 m\"",
        "front-left  = { forward = \"9 m\"",
    );
    let (code, _, err) = lint(&plan);
    assert_eq!(code, 2, "{err}");
    assert!(
        err.contains("plan.toml:") && err.contains("help: "),
        "{err}"
    );
}
