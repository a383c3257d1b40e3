use super::{Mark, Part, Sound, flac, session_sound, wav};
use crate::record::samples::{PLAN, StepClock, answered, id, opened};
use crate::record::{Clock, Record, Session, clip_wav, view};
use crate::walk::{Entry, Outcome, Practice};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

/// One question and its answer with a tenth of a second of sound at a quarter of full scale.
fn record(root: &Path) -> PathBuf {
    recorded(root, false)
}

/// Likewise; `doubted`: it was doubted first, so that two entries name the clip.
fn recorded(root: &Path, doubted: bool) -> PathBuf {
    let folder = root.join("walk");
    let mut record = Record::create(&folder, PLAN, Box::new(StepClock::at(0))).unwrap();
    record.append(&opened()).unwrap();
    let asked = |record: &mut Record| {
        let check = id("front-left/hook-pin");
        record.append(&Entry::Asked { check, attempt: 1 }).unwrap();
    };
    asked(&mut record);
    let clip = record
        .write_clip("front-left/hook-pin", &clip_wav(&[0.25; 1_600]))
        .unwrap();
    let mut entry = answered("front-left/hook-pin", "present", Outcome::Conforming);
    if let Entry::Answered { heard, .. } = &mut entry {
        heard.hearing.clip = clip.file;
        heard.hearing.clip_sha256 = clip.sha256;
    }
    if let (Entry::Answered { check, heard, .. }, true) = (&entry, doubted) {
        let doubted = Entry::Doubted {
            check: check.clone(),
            hearing: heard.hearing.clone(),
        };
        record.append(&doubted).unwrap();
    }
    record.append(&entry).unwrap();
    folder
}

/// The chunks of a RIFF file by their four letters, read by the lengths that it states.
fn chunks(bytes: &[u8]) -> Vec<(String, Vec<u8>)> {
    assert_eq!(&bytes[..4], b"RIFF");
    assert_eq!(&bytes[8..12], b"WAVE");
    let number = |at: usize| u32::from_le_bytes(bytes[at..at + 4].try_into().unwrap()) as usize;
    assert_eq!(number(4) + 8, bytes.len());
    let mut at = 12;
    let mut found = Vec::new();
    while at < bytes.len() {
        let length = number(at + 4);
        let id = String::from_utf8(bytes[at..at + 4].to_vec()).unwrap();
        found.push((id, bytes[at + 8..at + 8 + length].to_vec()));
        at += 8 + length + length % 2;
    }
    found
}

fn chunk(bytes: &[u8], id: &str) -> Vec<u8> {
    chunks(bytes)
        .into_iter()
        .find(|(name, _)| name == id)
        .unwrap()
        .1
}

fn u32_at(bytes: &[u8], at: usize) -> u32 {
    u32::from_le_bytes(bytes[at..at + 4].try_into().unwrap())
}

#[test]
fn a_broadcast_wave_has_the_fields_of_the_standard() {
    let root = tempfile::tempdir().unwrap();
    let folder = record(root.path());
    let file = root.path().join("walk.wav");
    let done = session_sound(&folder, &view(&folder).unwrap(), &file, 60).unwrap();
    assert_eq!(done.files, std::slice::from_ref(&file));
    assert_eq!(done.missing, 0);
    let bytes = std::fs::read(&file).unwrap();
    // Offsets of EBU Tech 3285, section 2.3: Description 256, Originator 32, OriginatorReference 32,
    // OriginationDate 10, OriginationTime 8, TimeReference 8, Version 2, UMID 64, reserved 190.
    let bext = chunk(&bytes, "bext");
    assert!(bext.starts_with(b"Walk round stove crate, inspected by Ida Fern\0"));
    assert_eq!(&bext[256..264], b"loadwalk");
    assert_eq!(&bext[320..330], b"2031-06-02");
    let time = std::str::from_utf8(&bext[330..338]).unwrap();
    // The sample clock starts at 07:40:12 at offset +02:00 and goes on by a quarter of a second.
    assert_eq!(time, "07:40:12");
    let reference = u64::from_le_bytes(bext[338..346].try_into().unwrap());
    assert_eq!(reference, ((7 * 60 + 40) * 60 + 12) * 16_000 + 4_000);
    assert_eq!(&bext[346..348], &1u16.to_le_bytes());
    assert!(bext[602..].starts_with(b"A=PCM,F=16000,W=16,M=mono"));
    // RIFF: a count, then 24 bytes a point (name, position, chunk, its start, block, sample).
    let cue = chunk(&bytes, "cue ");
    assert_eq!(u32_at(&cue, 0), 2);
    assert_eq!(cue.len(), 4 + 2 * 24);
    assert_eq!(&cue[12..16], b"data");
    let sample = |n: usize| u32_at(&cue, 4 + 24 * n + 20);
    let labels = chunk(&bytes, "LIST");
    assert_eq!(&labels[..8], b"adtllabl");
    let text = String::from_utf8_lossy(&labels).into_owned();
    assert!(
        text.contains("1 asked: front left corner, hook pin: hook pin?\0"),
        "{text}"
    );
    assert!(
        text.contains("2 answered: front left corner, hook pin: present\0"),
        "{text}"
    );
    // The sound lies where its mark says, and nothing lies elsewhere.
    let samples: Vec<i16> = hound::WavReader::new(&bytes[..])
        .unwrap()
        .into_samples()
        .map(Result::unwrap)
        .collect();
    let at = sample(1) as usize;
    let is_sound = |s: &i16| *s == 8_192;
    assert_eq!(samples.iter().position(is_sound), Some(at));
    assert_eq!(samples.iter().filter(|s| is_sound(s)).count(), 1_600);
    assert!(samples.iter().all(|s| is_sound(s) || *s == 0));
    // The WebVTT beside it has its cues on the same line of time.
    let cues = super::super::vtt(&folder, &view(&folder).unwrap());
    for (entry, n) in [(1, 0), (2, 1)] {
        let ms = sample(n) / 16;
        let cue = format!("\n{entry}\n00:00:{:02}.{:03} -->", ms / 1_000, ms % 1_000);
        assert!(cues.contains(&cue), "{cue} in {cues}");
    }
}

/// A practice walk vouches for nothing, also where only its sound is at hand.
#[test]
fn the_sound_of_a_practice_walk_says_so() {
    let root = tempfile::tempdir().unwrap();
    let written = |practice: Option<Practice>| {
        let folder = root.path().join(format!("walk-{}", practice.is_some()));
        let mut record = Record::create(&folder, PLAN, Box::new(StepClock::at(0))).unwrap();
        let mut entry = opened();
        if let Entry::Opened { practice: p, .. } = &mut entry {
            *p = practice;
        }
        record.append(&entry).unwrap();
        let completed = Entry::Completed {
            ready: false,
            against: Vec::new(),
        };
        record.append(&completed).unwrap();
        let view = view(&folder).unwrap();
        let [wav, flac] = ["wav", "flac"].map(|kind| folder.with_extension(kind));
        session_sound(&folder, &view, &wav, 60).unwrap();
        session_sound(&folder, &view, &flac, 60).unwrap();
        let wav = std::fs::read(&wav).unwrap();
        let flac = claxon::FlacReader::open(&flac).unwrap();
        let tag = |name: &str| flac.get_tag(name).map(str::to_owned).collect::<String>();
        (
            chunk(&wav, "bext"),
            String::from_utf8_lossy(&chunk(&wav, "LIST")).into_owned(),
            [tag("TITLE"), tag("CHAPTER001NAME")],
        )
    };
    let (bext, labels, [title, last]) = written(Some(Practice::default()));
    assert!(bext.starts_with(b"Practice walk round stove crate, "));
    assert_eq!(title, "Practice walk round stove crate");
    let stands = "1 completed: PRACTICE, complete: it vouches for nothing";
    assert_eq!(last, stands);
    assert!(labels.contains(&format!("{stands}\0")), "{labels}");
    let (bext, _, [title, last]) = written(None);
    assert!(bext.starts_with(b"Walk round stove crate, "));
    assert_eq!(title, "Walk round stove crate");
    assert_eq!(last, "1 completed: complete: NOT READY");
}

#[test]
fn flac_holds_the_same_sound_with_chapters() {
    let root = tempfile::tempdir().unwrap();
    let folder = record(root.path());
    let view = view(&folder).unwrap();
    let (wav, flac) = (root.path().join("walk.wav"), root.path().join("walk.flac"));
    session_sound(&folder, &view, &wav, 60).unwrap();
    session_sound(&folder, &view, &flac, 60).unwrap();
    let mut reader = claxon::FlacReader::open(&flac).unwrap();
    assert_eq!(reader.streaminfo().sample_rate, 16_000);
    let chapters: Vec<String> = reader
        .get_tag("CHAPTER002NAME")
        .map(str::to_owned)
        .collect();
    assert_eq!(
        chapters,
        ["2 answered: front left corner, hook pin: present"]
    );
    let heard: Vec<i32> = reader.samples().map(Result::unwrap).collect();
    let wav: Vec<i32> = hound::WavReader::open(&wav)
        .unwrap()
        .into_samples::<i32>()
        .map(Result::unwrap)
        .collect();
    assert_eq!(heard, wav);
}

#[test]
fn a_long_flac_tells_its_lengths_and_its_hash() {
    let root = tempfile::tempdir().unwrap();
    let path = root.path().join("long.flac");
    let session = Session::default();
    // Three whole frames and a shorter one.
    let samples = 3 * 4_096 + 1_000;
    let part = Part {
        after_midnight: 0,
        starts: jiff::civil::date(2031, 6, 2).at(0, 0, 0, 0),
        title: "Walk round stove crate",
        inspector: "Ida",
        marks: Vec::new(),
        samples,
    };
    let mut file = std::fs::File::create(&path).unwrap();
    flac::write(
        &mut file,
        &part,
        Sound::new(root.path(), &session, 0, samples),
    )
    .unwrap();
    let mut reader = claxon::FlacReader::open(&path).unwrap();
    let info = reader.streaminfo();
    assert_eq!(info.samples, Some(samples));
    assert_eq!((info.min_block_size, info.max_block_size), (4_096, 4_096));
    assert!(info.min_frame_size < info.max_frame_size);
    // MD5 (RFC 1321) of as many zeros of two bytes, by `head -c 26576 /dev/zero | md5sum`.
    let md5: String = info.md5sum.iter().map(|b| format!("{b:02x}")).collect();
    assert_eq!(md5, "7fe62a6b6d24dcd1813d585074cc5990");
    assert_eq!(reader.samples().map(Result::unwrap).count() as u64, samples);
}

#[test]
fn what_is_said_after_the_view_was_taken_is_not_in_its_sound() {
    let root = tempfile::tempdir().unwrap();
    let folder = record(root.path());
    let view = view(&folder).unwrap();
    let (mut record, _) = Record::open(&folder, Box::new(StepClock::at(60_000))).unwrap();
    let length = || {
        let file = root.path().join("walk.wav");
        session_sound(&folder, &view, &file, 60).unwrap();
        hound::WavReader::open(&file).unwrap().duration()
    };
    let before = (length(), super::super::vtt(&folder, &view));
    let clip = record
        .write_clip("later", &clip_wav(&[0.25; 16_000]))
        .unwrap();
    let mut entry = answered("front-left/hook-links", "3", Outcome::Conforming);
    if let Entry::Answered { heard, .. } = &mut entry {
        heard.hearing.clip = clip.file;
        heard.hearing.clip_sha256 = clip.sha256;
    }
    record.append(&entry).unwrap();
    assert_eq!((length(), super::super::vtt(&folder, &view)), before);
}

#[test]
fn a_clip_that_two_entries_name_is_missed_only_where_it_is_gone() {
    let root = tempfile::tempdir().unwrap();
    let folder = recorded(root.path(), true);
    let missing = || {
        let view = view(&folder).unwrap();
        let named: usize = view.timeline.iter().map(|m| m.clips.len()).sum();
        assert_eq!(named, 2);
        let file = root.path().join("walk.wav");
        session_sound(&folder, &view, &file, 60).unwrap().missing
    };
    assert_eq!(missing(), 0);
    std::fs::remove_dir_all(folder.join("clips")).unwrap();
    assert_eq!(missing(), 1);
}

#[test]
fn a_name_of_another_kind_is_refused() {
    let root = tempfile::tempdir().unwrap();
    let folder = record(root.path());
    let view = view(&folder).unwrap();
    let error = session_sound(&folder, &view, &root.path().join("walk.mp3"), 60).unwrap_err();
    assert!(
        error.to_string().contains("neither .wav nor .flac"),
        "{error}"
    );
    assert!(!root.path().join("walk.mp3").exists());
}

#[test]
fn a_long_session_goes_on_in_a_next_file_on_the_sample() {
    let root = tempfile::tempdir().unwrap();
    let folder = record(root.path());
    let clip = std::fs::read_dir(folder.join("clips"))
        .unwrap()
        .next()
        .unwrap()
        .unwrap();
    let file = clip.file_name().into_string().unwrap();
    // The clip lies across the minute at which the file ends.
    let start_ms = 59_950;
    let session = Session {
        entries_ms: vec![0, 59_950],
        clips: vec![crate::record::PlacedClip {
            file,
            entry: 1,
            start_ms,
            length_ms: 100,
        }],
        length_ms: 61_000,
    };
    let read = |from: u64, to: u64| {
        let mut all = Vec::new();
        let mut sound = Sound::new(&folder, &session, from, to);
        let mut block = [1i16; 1_000];
        loop {
            match sound.read(&mut block) {
                0 => return all,
                n => all.extend_from_slice(&block[..n]),
            }
        }
    };
    let (minute, end) = (60 * 16_000, 61 * 16_000);
    let parts = [read(0, minute), read(minute, end)];
    assert_eq!(parts[0].len() as u64, minute);
    assert_eq!(parts[1].len() as u64, end - minute);
    assert_eq!(parts.concat(), read(0, end));
    assert_eq!(parts[1].iter().filter(|s| **s != 0).count(), 800);
}

/// A clock that stands where it was put, milliseconds after 2 June 2031, 07:40:12 local time.
struct PutClock(Arc<AtomicU64>);

impl Clock for PutClock {
    fn wall(&self) -> jiff::ZonedDateTime {
        let ms = i64::try_from(self.mono_ms()).unwrap();
        let at = jiff::Timestamp::from_millisecond(1_938_145_212_000 + ms).unwrap();
        at.to_zoned_datetime(jiff::tz::TimeZone::fixed(jiff::tz::offset(2)))
    }

    fn mono_ms(&self) -> u64 {
        self.0.load(Ordering::Relaxed)
    }
}

#[test]
fn a_next_file_begun_after_a_break_has_the_time_of_day_of_its_entries() {
    let root = tempfile::tempdir().unwrap();
    let folder = root.path().join("walk");
    let now = Arc::new(AtomicU64::new(0));
    let clock = || Box::new(PutClock(now.clone()));
    let to = |ms| now.store(ms, Ordering::Relaxed);
    let asked = || Entry::Asked {
        check: id("front-left/hook-pin"),
        attempt: 1,
    };
    let mut record = Record::create(&folder, PLAN, clock()).unwrap();
    record.append(&opened()).unwrap();
    to(50_000);
    record.append(&asked()).unwrap();
    drop(record);
    // Nine hours later it goes on, and 20 seconds after that the file's minute is over since 10.
    let night = 9 * 3_600_000;
    to(night + 50_000);
    let (mut record, _) = Record::open(&folder, clock()).unwrap();
    record.append(&Entry::Resumed { check: None }).unwrap();
    to(night + 70_000);
    record.append(&asked()).unwrap();
    drop(record);
    let view = view(&folder).unwrap();
    let (wav, flac) = (root.path().join("walk.wav"), root.path().join("walk.flac"));
    let files = session_sound(&folder, &view, &wav, 1).unwrap().files;
    assert_eq!(files.len(), 2);
    let bext = |n: usize| chunk(&std::fs::read(&files[n]).unwrap(), "bext");
    let seconds = |h: u64, m: u64, s: u64| (h * 60 + m) * 60 + s;
    for (n, time, since) in [(0, "07:40:12", (7, 40, 12)), (1, "16:41:12", (16, 41, 12))] {
        let bext = bext(n);
        assert_eq!(&bext[320..330], b"2031-06-02");
        assert_eq!(std::str::from_utf8(&bext[330..338]).unwrap(), time);
        let reference = u64::from_le_bytes(bext[338..346].try_into().unwrap());
        assert_eq!(reference, seconds(since.0, since.1, since.2) * 16_000);
    }
    // The mark in the file before tells it too.
    let labels = chunk(&std::fs::read(&files[0]).unwrap(), "LIST");
    let labels = String::from_utf8_lossy(&labels).into_owned();
    let mark = "2 resumed: started again, 2031-06-02 16:41:02 +02:00";
    assert!(labels.contains(mark), "{labels}");
    let files = session_sound(&folder, &view, &flac, 1).unwrap().files;
    let reader = claxon::FlacReader::open(&files[1]).unwrap();
    let date: Vec<&str> = reader.get_tag("DATE").collect();
    assert_eq!(date, ["2031-06-02T16:41:12"]);
}

#[test]
fn marks_of_odd_lengths_keep_every_chunk_in_its_place() {
    let root = tempfile::tempdir().unwrap();
    let path = root.path().join("marks.wav");
    let session = Session::default();
    let marks = ["", "a", "ab", "Öse"].map(|text| Mark {
        at: 0,
        text: text.to_owned(),
    });
    let part = Part {
        after_midnight: 0,
        starts: jiff::civil::date(2031, 6, 2).at(0, 0, 0, 0),
        title: "Walk round Öse",
        inspector: "Ida",
        marks: marks.to_vec(),
        samples: 3,
    };
    let mut file = std::fs::File::create(&path).unwrap();
    wav::write(&mut file, &part, Sound::new(root.path(), &session, 0, 3)).unwrap();
    let names: Vec<String> = chunks(&std::fs::read(&path).unwrap())
        .into_iter()
        .map(|c| c.0)
        .collect();
    assert_eq!(names, ["bext", "fmt ", "data", "cue ", "LIST"]);
}
