use super::super::{Happening, Observer, Port, Reader};
use super::{Driver, Remembers, WalkClock};
use crate::grammar::GrammarSet;
use crate::record::{Clip, RecordError, samples};
use crate::walk::{Ending, Entry, Listen, MonotonicMs, Opening, Say, Settings, Tone, Walk};
use std::cell::{Cell, RefCell};
use std::collections::VecDeque;
use std::path::Path;
use std::rc::Rc;

/// What happens next, once nothing is spoken any more.
enum Step {
    Type(&'static str),
    /// The disk is full, or has room again.
    Fill(bool),
    /// So many milliseconds in which nothing happens.
    Wait(u64),
    Lose,
    Back,
    Replace,
    Over,
}

use Step::{Back, Fill, Lose, Over, Replace, Type, Wait};

/// A headset and a disk that fail when they are told to.
struct Pad {
    now: MonotonicMs,
    steps: VecDeque<Step>,
    said: VecDeque<u64>,
    full: Rc<Cell<bool>>,
}

impl Port for Pad {
    fn now(&self) -> MonotonicMs {
        self.now
    }

    fn say(&mut self, say: &Say) -> anyhow::Result<()> {
        self.said.push_back(say.id);
        Ok(())
    }

    fn listen(&mut self, _: &Listen) {}

    fn hush(&mut self) {}

    fn quiet(&mut self) {
        self.said.clear();
    }

    fn tone(&mut self, _: Tone) {}

    fn wait(&mut self, deadline: Option<MonotonicMs>) -> anyhow::Result<Happening> {
        if let Some(id) = self.said.pop_front() {
            return Ok(Happening::Said(id));
        }
        loop {
            let step = match self.steps.pop_front() {
                None | Some(Over) => return Ok(Happening::Over("nothing more".to_owned())),
                Some(step) => step,
            };
            return Ok(match step {
                Fill(full) => {
                    self.full.set(full);
                    continue;
                }
                Wait(ms) => {
                    let end = self.now + ms;
                    match deadline {
                        Some(deadline) if deadline < end => {
                            self.now = self.now.max(deadline);
                            self.steps.push_front(Wait(end - self.now));
                            return Ok(Happening::Deadline);
                        }
                        _ => self.now = end,
                    }
                    continue;
                }
                Type(words) => Happening::Typed(words.to_owned()),
                Lose => Happening::Lost("the headset is gone".to_owned()),
                Back => Happening::Back,
                Replace => Happening::Replaced("it is another headset now".to_owned()),
                Over => unreachable!("taken above"),
            });
        }
    }
}

struct Disk {
    full: Rc<Cell<bool>>,
    entries: Rc<RefCell<Vec<Entry>>>,
    tries: Rc<Cell<u32>>,
}

impl Disk {
    fn tried(&self) -> Result<(), RecordError> {
        if self.full.get() {
            self.tries.set(self.tries.get() + 1);
            return Err(RecordError::DiskFull {
                path: "journal.jsonl".into(),
                source: std::io::ErrorKind::StorageFull.into(),
            });
        }
        Ok(())
    }
}

impl Remembers for Disk {
    fn append(&mut self, entry: &Entry) -> Result<u64, RecordError> {
        self.tried()?;
        let mut entries = self.entries.borrow_mut();
        entries.push(entry.clone());
        Ok(entries.len() as u64 - 1)
    }

    fn mend(&mut self) -> Result<(), RecordError> {
        Ok(())
    }

    fn write_clip(&mut self, _: &str, _: &[u8]) -> Result<Clip, RecordError> {
        self.tried()?;
        Ok(Clip::default())
    }

    fn has_room(&self, _: usize) -> bool {
        !self.full.get()
    }

    fn folder(&self) -> &Path {
        Path::new("record")
    }
}

#[derive(Default)]
struct Watch {
    said: Rc<RefCell<Vec<String>>>,
}

impl Observer for Watch {
    fn say(&mut self, say: &Say) {
        self.said.borrow_mut().push(say.text.clone());
    }

    #[cfg(feature = "whisper")]
    fn heard(&mut self, _: &crate::ears::Recognition, _: &str) {}

    #[cfg(feature = "whisper")]
    fn called(&mut self, _: &crate::ears::Breath, _: &str) {}

    #[cfg(feature = "whisper")]
    fn note(&mut self, _: &str) {}

    fn entry(&mut self, _: u64, _: &Entry) {}

    fn trouble(&mut self, what: &str) {
        self.said.borrow_mut().push(format!("! {what}"));
    }

    fn over(&mut self, _: &str) {}
}

struct Walked {
    /// The ending, or what broke it off.
    ending: Result<Ending, String>,
    entries: Vec<Entry>,
    said: Vec<String>,
    tries: u32,
}

impl Walked {
    fn holds(&self) -> Vec<&str> {
        fn why(entry: &Entry) -> Option<&str> {
            match entry {
                Entry::Held { why, .. } => Some(why),
                _ => None,
            }
        }
        self.entries.iter().filter_map(why).collect()
    }

    fn answers(&self) -> usize {
        let is_answer = |e: &&Entry| matches!(e, Entry::Answered { .. });
        self.entries.iter().filter(is_answer).count()
    }
}

/// Two corners, two checks each.
fn walked(steps: impl IntoIterator<Item = Step>) -> Walked {
    let Entry::Opened { capacity, .. } = samples::opened() else {
        unreachable!("it opens a walk")
    };
    let opening = Opening {
        inspector: "Ida Fern".to_owned(),
        rigger: "Tom Alder".to_owned(),
        plan_sha256: String::new(),
        route: samples::route(),
        capacity,
        tryout: None,
        rigger_marks: Default::default(),
        practice: None,
    };
    let settings = Settings {
        brief: true,
        ..Settings::default()
    };
    let walk = Walk::new(opening, settings).expect("the walk opens");
    let full = Rc::new(Cell::new(false));
    let entries = Rc::default();
    let tries = Rc::default();
    let said = Rc::default();
    let disk = Disk {
        full: Rc::clone(&full),
        entries: Rc::clone(&entries),
        tries: Rc::clone(&tries),
    };
    let mut port = Pad {
        now: 0,
        steps: steps.into_iter().collect(),
        said: VecDeque::new(),
        full,
    };
    let mut ears = Reader::new(GrammarSet::builtin());
    let mut watch = Watch {
        said: Rc::clone(&said),
    };
    let driver = Driver::new(
        walk,
        Box::new(disk),
        &mut ears,
        &mut port,
        &mut watch,
        WalkClock::default(),
    );
    let ending = driver.run();
    drop(watch);
    Walked {
        ending: ending.map_err(|error| {
            let is_of_the_disk = error.chain().any(|cause| cause.is::<RecordError>());
            assert!(is_of_the_disk, "no device is missing: {error}");
            error.to_string()
        }),
        entries: entries.take(),
        said: said.take(),
        tries: tries.get(),
    }
}

const ALL: [Step; 5] = [
    Type("present"),
    Type("three"),
    Type("present"),
    Type("three"),
    Type("yes"),
];

#[test]
fn a_walk_whose_disk_holds_ends_ready() {
    let walked = walked(ALL);
    assert_eq!(walked.ending, Ok(Ending::Ready), "{:?}", walked.said);
    assert!(matches!(
        walked.entries.last(),
        Some(Entry::Completed { .. })
    ));
}

#[test]
fn a_verdict_that_does_not_reach_the_disk_is_none() {
    let [one, two, three, four, yes] = ALL;
    let walked = walked([one, two, three, four, Fill(true), yes, Over]);
    assert_eq!(walked.ending, Ok(Ending::Open), "{:?}", walked.said);
    assert!(!matches!(
        walked.entries.last(),
        Some(Entry::Completed { .. })
    ));
    assert!(
        walked.said.last().is_some_and(|s| s.contains("are lost")),
        "{:?}",
        walked.said
    );
}

#[test]
fn what_is_written_after_all_counts() {
    let [one, two, three, four, yes] = ALL;
    let walked = walked([
        one,
        Fill(true),
        two,
        Wait(9_000),
        Fill(false),
        Wait(3_000),
        three,
        four,
        yes,
    ]);
    assert_eq!(walked.ending, Ok(Ending::Ready), "{:?}", walked.said);
    assert_eq!(walked.answers(), 4);
}

#[test]
fn a_headset_that_comes_back_does_not_lift_the_hold_of_a_full_disk() {
    for found in [Back, Replace] {
        let carries_on = matches!(found, Replace);
        let walked = walked([
            Type("present"),
            Fill(true),
            Type("three"),
            Lose,
            Wait(1_000),
            found,
            Wait(1_000),
            Type("carry on"),
            Type("present"),
            Type("three"),
            Wait(5_000),
            Fill(false),
            Wait(5_000),
            Type(if carries_on { "carry on" } else { "where am i" }),
        ]);
        assert_eq!(walked.ending, Ok(Ending::Open));
        // The count was told before the disk was full; what was typed in the hold is none of the others.
        assert_eq!(walked.answers(), 2, "{:?}", walked.said);
        assert_eq!(walked.holds()[0], "the record cannot be written");
        assert!(walked.holds().contains(&"the headset is gone"));
        // Whoever hears the headset again is told what holds still.
        let told = walked
            .said
            .iter()
            .skip_while(|s| !s.contains("the headset is gone"));
        let disk = told.filter(|s| s.contains("The record cannot be written"));
        assert!(disk.count() >= 1, "{:?}", walked.said);
    }
}

#[test]
fn a_headset_that_stays_away_is_not_there_because_the_disk_has_room() {
    let walked = walked([
        Type("present"),
        Lose,
        Fill(true),
        Wait(1_000),
        Fill(false),
        Wait(5_000),
        Type("three"),
    ]);
    assert_eq!(walked.answers(), 1, "{:?}", walked.said);
    assert!(
        !walked
            .entries
            .iter()
            .any(|e| matches!(e, Entry::Carried { .. }))
    );
}

#[test]
fn a_full_disk_is_tried_now_and_then_and_not_at_each_word() {
    let mut steps = vec![Type("present"), Fill(true), Type("three")];
    steps.extend((0..40).map(|_| Type("where am i")));
    steps.push(Wait(20_000));
    let walked = walked(steps);
    // Every two seconds, and once at the end.
    assert!((8..=14).contains(&walked.tries), "{}", walked.tries);
}

#[test]
fn a_disk_that_stays_full_ends_the_walk_open() {
    let walked = walked([Type("present"), Fill(true), Type("three"), Wait(400_000)]);
    let error = walked.ending.as_ref().expect_err("given up");
    assert!(error.contains("free the disk"), "{error}");
    assert_eq!(walked.answers(), 1);
}
