mod check;

use super::*;
use crate::audio::{self, Clip};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex};

/// A voice that counts how often it is asked; its sound is as long as the text.
struct Counting(Arc<AtomicUsize>);

impl Voice for Counting {
    fn name(&self) -> &str {
        "counting"
    }

    fn synthesise(&mut self, text: &str, _: f32) -> Result<Clip, VoiceError> {
        self.0.fetch_add(1, Ordering::Relaxed);
        Ok(Clip {
            rate: 16_000,
            samples: vec![0.5; text.len() * 100],
        })
    }
}

#[test]
fn a_repeated_phrase_is_made_once_and_memory_is_bounded() {
    let asked = Arc::new(AtomicUsize::new(0));
    let mut store = Store::with_most(Box::new(Counting(Arc::clone(&asked))), 1_000);
    for _ in 0..3 {
        store.sound("hook", 1.0).unwrap();
    }
    assert_eq!(asked.load(Ordering::Relaxed), 1);
    store.sound("hook", 1.5).unwrap();
    assert_eq!(asked.load(Ordering::Relaxed), 2);
    store.sound("shackle", 1.0).unwrap(); // 400 + 400 + 700 samples: the first goes
    assert!(!store.holds("hook", 1.0) && store.holds("shackle", 1.0));
    store.sound("longer than all that is kept", 1.0).unwrap();
    assert!(store.holds("shackle", 1.0));
}

#[test]
fn units_become_words_and_the_rest_stays() {
    for (text, said) in [
        ("the load is 2,500 kg", "the load is 2,500 kilograms"),
        ("3.2 t, 1 m.", "3.2 tonnes, 1 metre."),
        ("12.5 bar", "12.5 bar"),
        ("tag A7", "tag A7"),
        ("grab hook/keeper", "grab hook, keeper"),
        ("12/24", "12/24"),
        ("tilt 5° now", "tilt 5 degrees now"),
        ("3 in total, leg 2 m", "3 in total, leg 2 metres"),
        ("did you say three?", "did you say three?"),
        ("t-bar N side", "t-bar N side"),
    ] {
        assert_eq!(spoken(text), said);
    }
}

#[test]
fn earcons_differ_in_their_notes_and_do_not_click() {
    for which in Earcon::ALL {
        for rate in [16_000, 48_000] {
            let clip = earcon(which, rate);
            assert!(clip.seconds() < 0.6, "{which:?}");
            let peak = clip.samples.iter().fold(0.0_f32, |m, s| m.max(s.abs()));
            assert!((0.3..=0.4).contains(&peak), "{which:?}: {peak}");
            assert_eq!(clip.samples[0], 0.0);
            assert!(clip.samples[clip.samples.len() - 1].abs() < 0.01);
        }
    }
    let notes = |which| {
        // Notes are the stretches between silences of more than 10 ms.
        let clip = earcon(which, 16_000);
        let mut quiet = 161;
        let mut count = 0;
        for sample in clip.samples {
            if sample.abs() > 1e-4 {
                count += usize::from(quiet > 160);
                quiet = 0;
            } else {
                quiet += 1;
            }
        }
        count
    };
    assert_eq!(Earcon::ALL.map(notes), [1, 2, 2, 3]);
}

#[test]
fn a_writer_numbers_its_files_and_goes_on_after_them() {
    let dir = tempfile::tempdir().unwrap();
    let told = Arc::new(Mutex::new(Vec::new()));
    let tell: Tell = {
        let told = Arc::clone(&told);
        Arc::new(move |spoken| told.lock().unwrap().push(format!("{spoken:?}")))
    };
    let voice = || Store::new(Box::new(Counting(Arc::default())));
    let mut first = WavWriter::new(voice(), dir.path(), Arc::clone(&tell)).unwrap();
    first.say(7, "Front left hook: pin present, or missing?");
    let mut second = WavWriter::new(voice(), dir.path(), tell).unwrap();
    second.say(8, "How many links?");
    assert_eq!(*told.lock().unwrap(), ["Said(7)", "Said(8)"]);
    let one = dir
        .path()
        .join("0001-front-left-hook-pin-present-or-missing.wav");
    assert!(audio::read(&one).unwrap().seconds() > 0.2);
    assert!(dir.path().join("0002-how-many-links.wav").is_file());
}

#[test]
fn a_writer_that_cannot_write_tells_it() {
    let dir = tempfile::tempdir().unwrap();
    let file = dir.path().join("taken");
    std::fs::write(&file, "").unwrap();
    let voice = Store::new(Box::new(Counting(Arc::default())));
    let error = WavWriter::new(voice, &file, Arc::new(|_| {}))
        .err()
        .unwrap();
    assert!(error.to_string().contains("check the directory"), "{error}");
}

/// Without a loudspeaker of that name the text is what is left, and the message says why.
#[cfg(not(feature = "speech-service"))]
#[test]
fn a_mouth_is_found_even_without_a_loudspeaker() {
    let told = Arc::new(AtomicUsize::new(0));
    let tell: Tell = {
        let told = Arc::clone(&told);
        Arc::new(move |spoken| {
            assert!(matches!(spoken, Spoken::Said(3)));
            told.fetch_add(1, Ordering::Relaxed);
        })
    };
    let mut chosen = choose(Preference::Best, Some("no such loudspeaker"), tell);
    assert!(!chosen.speaks);
    assert!(
        chosen.message.starts_with("text only"),
        "{}",
        chosen.message
    );
    assert!(chosen.message.ends_with(')'), "{}", chosen.message);
    chosen.mouth.say(3, "hook");
    assert_eq!(told.load(Ordering::Relaxed), 1);
}

#[test]
fn manner_is_bounded() {
    let wild = Manner {
        rate: 50.0,
        volume: f32::NAN,
    };
    assert_eq!(wild.bounded().rate, 2.0);
    assert_eq!(wild.bounded().volume, 1.0);
}

/// Programs that stand in for a synthesiser that fails, hangs, or makes no sound.
#[cfg(unix)]
mod programs {
    use super::*;
    use std::os::unix::fs::PermissionsExt;
    use std::time::Duration;

    fn program(script: &str) -> (tempfile::TempDir, Program) {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("synthesiser");
        std::fs::write(&path, format!("#!/bin/sh\n{script}\n")).unwrap();
        std::fs::set_permissions(&path, std::fs::Permissions::from_mode(0o755)).unwrap();
        let program = Program::at(Kind::EspeakNg, &path).with_patience(Duration::from_millis(500));
        (dir, program)
    }

    fn error(script: &str) -> String {
        let (_dir, mut program) = program(script);
        program.synthesise("hook", 1.0).unwrap_err().to_string()
    }

    #[test]
    fn a_failing_synthesiser_is_told_with_its_name() {
        assert!(error("exit 1").contains("espeak-ng failed (the file is empty"));
        assert!(error("echo no voice").contains("espeak-ng failed (not a WAV"));
        assert!(error("exec sleep 5").contains("did not answer"));
        let mut gone = Program::at(Kind::EspeakNg, std::path::Path::new("/no/such/program"));
        let error = gone.synthesise("hook", 1.0).unwrap_err().to_string();
        assert!(error.contains("cannot be run"), "{error}");
    }

    #[test]
    fn silence_is_not_taken_for_speech() {
        let dir = tempfile::tempdir().unwrap();
        let wav = dir.path().join("silence.wav");
        std::fs::write(&wav, audio::wav_bytes(&[0.0; 1_600])).unwrap();
        let error = error(&format!("cat {}", wav.display()));
        assert!(error.contains("no sound"), "{error}");
    }

    #[test]
    fn sound_is_trimmed_and_levelled() {
        let dir = tempfile::tempdir().unwrap();
        let wav = dir.path().join("speech.wav");
        let mut samples = vec![0.0; 8_000];
        samples.extend(vec![0.1; 1_600]);
        samples.extend(vec![0.0; 8_000]);
        std::fs::write(&wav, audio::wav_bytes(&samples)).unwrap();
        let (_dir, mut program) = program(&format!("cat {}", wav.display()));
        let clip = program.synthesise("hook", 1.0).unwrap();
        assert_eq!(clip.samples.len(), 80 + 1_600 + 480);
        assert!((clip.samples[1_000] - 0.8).abs() < 1e-3);
    }

    #[test]
    fn what_holds_no_word_or_is_too_long_is_refused() {
        let (_dir, mut program) = program("exit 1");
        assert!(program.synthesise(" -- ", 1.0).is_err());
        let long = "word ".repeat(2_000);
        assert!(matches!(
            program.synthesise(&long, 1.0),
            Err(VoiceError::TooLong(9_999))
        ));
    }
}

/// Needs espeak-ng or flite; passes over where there is none.
#[test]
fn synthesisers_on_this_machine_speak() {
    for program in Kind::ALL.into_iter().filter_map(Program::find) {
        let mut program = program;
        let name = program.name().to_owned();
        let clip = program
            .synthesise("front left hook, pin present or missing?", 1.0)
            .unwrap();
        assert!(
            (1.0..6.0).contains(&clip.seconds()),
            "{name}: {}",
            clip.seconds()
        );
        let fast = program
            .synthesise("front left hook, pin present or missing?", 1.6)
            .unwrap();
        assert!(fast.seconds() < clip.seconds() * 0.85, "{name}");
        // A text that looks like an option is spoken, not obeyed.
        assert!(program.synthesise("--version", 1.0).is_ok(), "{name}");
    }
}
