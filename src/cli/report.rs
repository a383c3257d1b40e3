//! `loadwalk report`: exports of a record.

use super::exit::{Exit, Failure, Outcome};
use crate::cli::out::tell;
use crate::review;
use clap::Args;
use std::path::{Path, PathBuf};

/// Writes a record for people and programs.
#[derive(Debug, Args)]
#[command(group = clap::ArgGroup::new("export").required(true).multiple(true))]
pub struct ReportCommand {
    /// Folder of the record
    record: PathBuf,
    /// A self-contained page for reading and printing
    #[arg(long, value_name = "FILE", group = "export")]
    html: Option<PathBuf>,
    /// A PDF for paper and archives
    #[cfg(feature = "pdf")]
    #[arg(long, value_name = "FILE", group = "export")]
    pdf: Option<PathBuf>,
    /// One row an answer
    #[arg(long, value_name = "FILE", group = "export")]
    csv: Option<PathBuf>,
    /// Prompts, answers and notes in time, as WebVTT
    #[arg(long, value_name = "FILE", group = "export")]
    vtt: Option<PathBuf>,
    /// Everything, as JSON
    #[arg(long, value_name = "FILE", group = "export")]
    json: Option<PathBuf>,
    /// The whole session as sound with marks at prompts and answers: .wav (Broadcast Wave with cue
    /// points) or .flac; silence stands where nothing was kept, and prompts are marks alone
    #[arg(long, value_name = "FILE", group = "export")]
    session_sound: Option<PathBuf>,
    /// Minutes after which the session's sound goes on in a next file (FILE-2); 115 MB an hour as WAV
    #[arg(long, value_name = "MINUTES", default_value_t = 720, requires = "session_sound",
        value_parser = clap::value_parser!(u32).range(1..=i64::from(review::MAX_PART_MIN)))]
    roll_over: u32,
    /// Writes the PDF once for each name, to FILE-NAME, with the name at the foot: `--copy load --copy crew`
    #[cfg(feature = "pdf")]
    #[arg(long, value_name = "NAME", value_parser = copy_name, requires = "pdf")]
    copy: Vec<String>,
    /// Paper of the PDF
    #[cfg(feature = "pdf")]
    #[arg(long, value_enum, default_value_t = PaperSize::A4, requires = "pdf")]
    paper: PaperSize,
}

#[cfg(feature = "pdf")]
#[derive(Clone, Copy, Debug, clap::ValueEnum)]
enum PaperSize {
    A4,
    Letter,
}

impl ReportCommand {
    /// Every file that is written, copies by their own names.
    fn outputs(&self) -> Vec<PathBuf> {
        let files = [
            &self.html,
            &self.csv,
            &self.vtt,
            &self.json,
            &self.session_sound,
        ];
        let files = files.into_iter().flatten().cloned();
        #[cfg(feature = "pdf")]
        let files = files.chain(self.pdf.iter().flat_map(|pdf| {
            let copies = self.copy.iter().map(|copy| beside(pdf, copy));
            let whole = self.copy.is_empty().then(|| pdf.clone());
            whole.into_iter().chain(copies)
        }));
        files.collect()
    }
}

/// Runs the command.
pub fn run(command: &ReportCommand) -> Outcome {
    let view = crate::record::view(&command.record).map_err(Failure::wrong)?;
    // Into no record, this one or another, over its journal say, and none over another.
    let outputs = command.outputs();
    outputs
        .iter()
        .try_for_each(|file| crate::cli::out::outside_records(file))?;
    crate::cli::out::apart(&outputs, None)?;
    if let Some(path) = &command.html {
        let clips = command.record.join("clips");
        let clips = pathdiff(path, &clips);
        let hanging = review::Hanging::of(&command.record, &view);
        let page = review::html(&view, clips.as_deref(), hanging.as_ref());
        write(path, page.as_bytes())?;
    }
    #[cfg(feature = "pdf")]
    if let Some(path) = &command.pdf {
        let paper = match command.paper {
            PaperSize::A4 => review::Paper::A4,
            PaperSize::Letter => review::Paper::Letter,
        };
        let hanging = review::Hanging::of(&command.record, &view);
        let one = |path: &Path, copy: Option<&str>| {
            let pdf = review::pdf(&view, paper, hanging.as_ref(), copy);
            write(path, &pdf.map_err(Failure::wrong)?)
        };
        if command.copy.is_empty() {
            one(path, None)?;
        }
        for copy in &command.copy {
            one(&beside(path, copy), Some(copy))?;
        }
    }
    if let Some(path) = &command.csv {
        write(path, review::csv(&view).as_bytes())?;
    }
    if let Some(path) = &command.vtt {
        write(path, review::vtt(&command.record, &view).as_bytes())?;
    }
    if let Some(path) = &command.json {
        write(path, review::json(&view).as_bytes())?;
    }
    if let Some(path) = &command.session_sound {
        let done = review::session_sound(&command.record, &view, path, command.roll_over)
            .map_err(Failure::wrong)?;
        if done.missing > 0 {
            tell!(
                "{} clips are not there any more; silence stands for them",
                done.missing
            );
        }
        for file in done.files.iter().skip(1) {
            tell!("the session goes on in {}", file.display());
        }
    }
    Ok(Exit::Done)
}

/// Letters, digits, blanks and hyphens: it becomes a part of a file's name.
#[cfg(feature = "pdf")]
fn copy_name(name: &str) -> Result<String, String> {
    let fits = |c: char| c.is_alphanumeric() || matches!(c, ' ' | '-');
    if name.trim().is_empty() || name.len() > 40 || !name.chars().all(fits) {
        return Err("a copy's name has letters, digits, blanks and hyphens, 40 at most".to_owned());
    }
    Ok(name.trim().to_owned())
}

/// The file of a copy: `report.pdf` becomes `report-crew.pdf`.
#[cfg(feature = "pdf")]
fn beside(path: &Path, copy: &str) -> PathBuf {
    let mut name = path.file_stem().unwrap_or_default().to_owned();
    name.push(format!("-{}", copy.replace(' ', "-")));
    if let Some(ending) = path.extension() {
        name.push(".");
        name.push(ending);
    }
    path.with_file_name(name)
}

/// The clips' folder as seen from the page, so that the page plays them where it lies.
fn pathdiff(page: &Path, clips: &Path) -> Option<String> {
    // Without "..", which a browser takes off the address as it stands.
    let plain = |path: PathBuf| path.canonicalize().unwrap_or(path);
    let folder = plain(std::path::absolute(page).ok()?.parent()?.to_owned());
    let clips = plain(std::path::absolute(clips).ok()?);
    let relative = steps_between(&folder, &clips)?;
    Some(address(&relative.to_str()?.replace('\\', "/")))
}

/// The way from one folder to another; `None` where there is none, from one drive to another.
fn steps_between(from: &Path, to: &Path) -> Option<PathBuf> {
    let steps = from.components().zip(to.components());
    let shared = steps.take_while(|(a, b)| a == b).count();
    let mut way = PathBuf::new();
    for _ in from.components().skip(shared) {
        way.push("..");
    }
    way.extend(to.components().skip(shared));
    (shared > 0).then_some(way)
}

/// A path as part of an address (RFC 3986): what is neither unreserved nor a slash is written as percent and two digits.
fn address(path: &str) -> String {
    let plain = |b: u8| b.is_ascii_alphanumeric() || b"-._~/".contains(&b);
    path.bytes()
        .map(|b| match plain(b) {
            true => char::from(b).to_string(),
            false => format!("%{b:02X}"),
        })
        .collect()
}

fn write(path: &Path, bytes: &[u8]) -> Result<(), Failure> {
    crate::cli::out::file(path, bytes).map_err(|e| {
        Failure::wrong(anyhow::anyhow!(
            "cannot write {}: {e}; check the folder",
            path.display()
        ))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_page_finds_its_sounds_from_where_it_lies() {
        let root = tempfile::tempdir().unwrap();
        let odd = root.path().join("recs #1 50%");
        std::fs::create_dir_all(odd.join("x/clips")).unwrap();
        let from = |page: &Path| pathdiff(page, &odd.join("x/clips")).unwrap();
        assert_eq!(from(&odd.join("x/../page.html")), "x/clips");
        assert_eq!(
            from(&root.path().join("page.html")),
            "recs%20%231%2050%25/x/clips"
        );
        std::fs::create_dir(root.path().join("out")).unwrap();
        assert_eq!(
            from(&root.path().join("out/p.html")),
            "../recs%20%231%2050%25/x/clips"
        );
    }

    #[test]
    fn there_is_no_way_from_one_drive_to_another() {
        let way = |from: &str, to: &str| steps_between(Path::new(from), Path::new(to));
        assert_eq!(way("/a/b", "/a/c"), Some("../c".into()));
        // As two drives, these share no beginning.
        assert_eq!(way("out", "/records/x/clips"), None);
        assert_eq!(way("c/out", "d/records/x/clips"), None);
        #[cfg(windows)]
        assert_eq!(way(r"\\?\C:\out", r"\\?\D:\records\x"), None);
    }

    #[cfg(feature = "pdf")]
    #[test]
    fn a_copy_has_a_file_of_its_own() {
        let file = |path: &str, copy| beside(Path::new(path), copy);
        assert_eq!(
            file("out/report.pdf", "crew"),
            Path::new("out/report-crew.pdf")
        );
        assert_eq!(file("report", "the file"), Path::new("report-the-file"));
        assert_eq!(copy_name(" load "), Ok("load".to_owned()));
        for wrong in ["", "  ", "../load", "a/b", "x\u{0}", &"x".repeat(41)] {
            assert!(copy_name(wrong).is_err(), "{wrong:?}");
        }
    }
}
