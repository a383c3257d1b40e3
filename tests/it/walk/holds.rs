//! Walks that end early, are held, or are talked over.

use super::dialogue::{all_good, pad};
use super::pad::{Pad, hearing};
use super::sites::{generator, id, opening};
use loadwalk::walk::{Decision, Ending, Entry, Event, Meaning, Settings, Tone, Walk, rules};

#[test]
fn a_walk_ended_early_is_not_ready_and_stays_open() {
    let mut pad = pad();
    pad.take("present").take("end-walk").take("no");
    assert_eq!(pad.last(), "Hook links, how many?");
    pad.take("end-walk").take("yes");
    assert_eq!(pad.ended, Some(Ending::Open));
    assert_eq!(pad.walk.ledger().completed(), None);
    let walk = Walk::restore(&pad.entries, Settings::default()).expect("it can be resumed");
    let pad = Pad::with(walk);
    assert_eq!(pad.last(), "Hook links, how many?");
    insta::assert_snapshot!(pad.talk);
}

#[test]
fn a_lost_headset_holds_and_the_broken_check_is_asked_again() {
    let mut pad = pad();
    pad.take("present");
    let stale = pad.listen.clone().expect("listening").id;
    pad.send(Event::Hold {
        why: "headset lost".to_owned(),
    });
    assert_eq!(
        pad.last(),
        "Headset lost. Holding at front left corner, hook links."
    );
    let hearing = super::pad::hearing(loadwalk::walk::Decision::Take {
        meaning: loadwalk::walk::Meaning {
            rule: "count".to_owned(),
            value: "13".to_owned(),
        },
    });
    pad.send(Event::Heard {
        listen: stale,
        hearing,
    });
    assert!(
        pad.walk
            .ledger()
            .history(&id("front-left/links"))
            .is_empty()
    );
    pad.send(Event::Cleared);
    assert_eq!(pad.last(), "Hook links, how many?");
}

#[test]
fn another_microphone_takes_nothing_before_the_inspector_carries_on_through_it() {
    let mut pad = pad();
    pad.take("present");
    pad.send(Event::Hold {
        why: "the microphone is gone".to_owned(),
    });
    pad.send(Event::Replaced {
        what: "the microphone is now a laptop".to_owned(),
    });
    assert_eq!(
        pad.last(),
        "The microphone is now a laptop. Holding at front left corner, hook links. Say carry on."
    );
    assert!(pad.walk.is_held());
    // Only a command is listened for, and a count is none.
    let listen = pad.listen.clone().expect("listening");
    assert_eq!(listen.rules, ["control"]);
    // The cause being gone once more changes nothing.
    pad.send(Event::Cleared);
    assert!(pad.walk.is_held());
    pad.take("carry-on");
    assert!(!pad.walk.is_held());
    let links = id("front-left/links");
    assert!(pad.walk.ledger().history(&links).is_empty());
    assert_eq!(pad.last(), "Hook links, how many?");
    assert!(pad.talk.contains("the microphone is now a laptop"));
}

#[test]
fn an_answer_waiting_for_the_disk_counts_and_is_read_back_after_the_hold() {
    use loadwalk::walk::Effect;
    let mut pad = pad();
    let listen = pad.listen.clone().expect("listening").id;
    let meaning = loadwalk::walk::Meaning {
        rule: "presence".to_owned(),
        value: "missing".to_owned(),
    };
    let hearing = super::pad::hearing(loadwalk::walk::Decision::Take { meaning });
    pad.walk.handle(Event::Heard { listen, hearing }, pad.now);
    let mut seq = None;
    while let Some(effect) = pad.walk.poll() {
        match effect {
            Effect::Journal { seq: s, entry } => {
                assert!(matches!(*entry, Entry::Answered { .. }));
                seq = Some(s);
            }
            Effect::Say(say) => panic!("spoken before the answer is durable: {}", say.text),
            Effect::Listen(_) => panic!("listened before the answer is durable"),
            Effect::Hush | Effect::Quiet | Effect::Tone(_) | Effect::Manner(_) => {}
            Effect::Finish(_) => panic!("finished"),
        }
    }
    pad.send(Event::Hold {
        why: "disk full".to_owned(),
    });
    assert!(
        pad.last().starts_with("Disk full. Holding"),
        "spoken without the disk"
    );
    pad.send(Event::Journalled(seq.expect("an answer was written")));
    pad.send(Event::Cleared);
    assert!(
        pad.said
            .iter()
            .any(|s| s.starts_with("Last answer, deficient")),
        "{}",
        pad.talk
    );
    assert_eq!(pad.last(), "Note, or carry on?");
}

#[test]
fn a_record_that_does_not_answer_is_announced() {
    use loadwalk::walk::Effect;
    let mut walk = Walk::new(opening(generator()), Settings::default()).unwrap();
    walk.handle(Event::Begin, 0);
    while walk.poll().is_some() {}
    let due = walk.poll_timeout().expect("the record is waited for");
    walk.handle_timeout(due);
    let mut spoken = Vec::new();
    while let Some(effect) = walk.poll() {
        match effect {
            Effect::Say(say) => spoken.push(say.text),
            Effect::Tone(tone) => assert_eq!(tone, Tone::Held),
            other => panic!("{other:?}"),
        }
    }
    assert_eq!(spoken, ["The record does not answer. Holding."]);
}

#[test]
fn a_walk_killed_after_a_deficiency_takes_the_flow_up_again() {
    let mut pad = pad();
    pad.take("missing");
    let walk = Walk::restore(&pad.entries, Settings::default()).unwrap();
    let mut again = Pad::with(walk);
    assert_eq!(again.last(), "Note, or carry on?");
    again.note("pin gone");
    let mut entries = pad.entries.clone();
    entries.extend(again.entries.clone());
    let third = Pad::with(Walk::restore(&entries, Settings::default()).unwrap());
    assert_eq!(third.last(), "Fixed, or leave it open?");
}

#[test]
fn the_walk_says_whether_one_may_talk_over_it() {
    use loadwalk::walk::Effect;
    for (over, words) in [
        (true, "You may answer while I speak."),
        (false, "Answer after the tone."),
    ] {
        let walk = Walk::new(opening(generator()), Settings::default()).unwrap();
        let mut walk = walk.with_turns(over);
        walk.handle(Event::Begin, 0);
        let mut said = Vec::new();
        while let Some(effect) = walk.poll() {
            match effect {
                Effect::Journal { seq, .. } => walk.handle(Event::Journalled(seq), 0),
                Effect::Say(say) => said.push(say.text),
                _ => {}
            }
        }
        assert!(said.iter().any(|s| s == words), "{said:?}");
    }
}

#[test]
fn talking_over_the_question_stops_it() {
    use loadwalk::walk::Effect;
    let settings = Settings {
        talk_over: true,
        caution: false,
        ..Settings::default()
    };
    let mut walk = Walk::new(opening(generator()), settings).unwrap();
    walk.handle(Event::Begin, 0);
    let mut listens = Vec::new();
    let mut answered = false;
    for _ in 0..200 {
        let Some(effect) = walk.poll() else { break };
        match effect {
            Effect::Journal { seq, .. } => walk.handle(Event::Journalled(seq), 0),
            Effect::Say(say) if say.text == "Shackle pin?" => {}
            Effect::Say(say) => walk.handle(Event::Said(say.id), 0),
            Effect::Listen(listen) => {
                let rules = listen.rules.clone();
                listens.push(rules);
                if listen.rules.contains(&"presence".to_owned()) && !answered {
                    answered = true;
                    let meaning = loadwalk::walk::Meaning {
                        rule: "presence".to_owned(),
                        value: "present".to_owned(),
                    };
                    let hearing = super::pad::hearing(loadwalk::walk::Decision::Take { meaning });
                    walk.handle(
                        Event::Heard {
                            listen: listen.id,
                            hearing,
                        },
                        0,
                    );
                }
            }
            _ => {}
        }
    }
    assert_eq!(
        listens[0],
        ["control"],
        "before the question only control phrases count"
    );
    assert_eq!(listens[1], ["presence", "control"]);
    assert_eq!(walk.ledger().history(&id("front-left/pin")).len(), 1);
}

#[test]
fn a_complete_walk_takes_no_answer_back_in_a_hold_over_its_last_words() {
    let mut pad = pad();
    all_good(&mut pad);
    let listen = pad.listen.as_ref().expect("the closing question").id;
    let mut walk = pad.walk.clone();
    let decision = Decision::Take {
        meaning: Meaning {
            rule: rules::YES_NO.to_owned(),
            value: rules::YES.to_owned(),
        },
    };
    let hearing = hearing(decision);
    walk.handle(Event::Heard { listen, hearing }, 0);
    let why = "headset lost".to_owned();
    walk.handle(Event::Hold { why }, 0);
    let mut pad = Pad::with(walk);
    let what = "the microphone is now another".to_owned();
    pad.send(Event::Replaced { what });
    pad.take("note").take("correction").take("go-back");
    assert_eq!(pad.walk.ledger().completed(), Some(true));
    assert!(pad.walk.ledger().open_points().is_empty());
}

#[test]
fn a_second_cause_of_a_hold_is_told_and_written() {
    let mut pad = pad();
    for why in [
        "headset lost",
        "headset lost",
        "the record cannot be written",
    ] {
        pad.send(Event::Hold {
            why: why.to_owned(),
        });
    }
    let held = |entry: &&loadwalk::walk::Entry| matches!(entry, loadwalk::walk::Entry::Held { .. });
    assert_eq!(pad.entries.iter().filter(held).count(), 2);
    assert!(
        pad.last()
            .starts_with("The record cannot be written. Holding")
    );
    pad.send(Event::Cleared);
    assert!(!pad.walk.is_held());
}

/// Findings told into a hold that was not noticed: nothing is taken, and that is said, but not each time.
#[test]
fn what_is_said_in_a_hold_is_answered_now_and_then() {
    let told = |pad: &Pad| {
        pad.said
            .iter()
            .filter(|s| s.starts_with("Holding. Nothing"))
            .count()
    };
    let mut pad = pad();
    pad.take("present").take("stand-by").cough();
    assert_eq!(told(&pad), 0, "one remark is not talked into");
    pad.cough();
    assert_eq!(pad.last(), "Holding. Nothing is taken. Say carry on.");
    for _ in 0..5 {
        pad.cough();
    }
    assert_eq!(told(&pad), 1);
    pad.cough();
    assert_eq!(told(&pad), 2);
    pad.take("carry-on");
    assert_eq!(pad.last(), "Hook links, how many?");
}
