use super::*;
use crate::plan::{CheckId, Plan, Route};
use crate::walk::{CapacityLine, Decision, Hearing, Ledger, Meaning, Outcome, Stage, answer_rule};
use ratatui::Terminal;
use ratatui::backend::TestBackend;
use std::path::Path;

fn plan() -> Plan {
    let text = include_str!("../../../plans/generator-skid.toml");
    crate::plan::read(Path::new("generator-skid.toml"), text).unwrap()
}

fn opened(route: Route) -> State {
    let mut state = State::new(
        Ledger::default(),
        "listening on headset, speaking through espeak-ng on headset".to_owned(),
        false,
    );
    state.elapsed_ms = 754_000;
    state.level_db = Some(-30.0);
    entry(
        &mut state,
        Entry::Opened {
            format: crate::walk::JOURNAL_FORMAT,
            inspector: "Ilse Brandt".to_owned(),
            rigger: "Oskar Venn".to_owned(),
            plan_sha256: String::new(),
            left_out: Vec::new(),
            route: Box::new(route),
            capacity: vec![CapacityLine {
                question: "leg".to_owned(),
                passes: true,
                spoken: String::new(),
                look: String::new(),
            }],
            tryout: None,
            rigger_marks: Default::default(),
            practice: None,
            pace: None,
        },
    );
    state
}

fn entry(state: &mut State, entry: Entry) {
    state.see(Seen::Entry(Box::new(entry)));
    assert_eq!(state.remark, "", "the entry fits");
}

fn hearing(words: &str, decision: Decision) -> Hearing {
    Hearing {
        decision,
        words: words.to_owned(),
        confidence: 0.97,
        clip: String::new(),
        clip_sha256: String::new(),
        snr_db: None,
        others: Vec::new(),
    }
}

/// Answers the next open check, so that it conforms or so that it is deficient.
fn answer(state: &mut State, well: bool) {
    let check = state.ledger.next_open().unwrap().clone();
    let mut values = ["present", "missing", "good", "deficient", "QX7"]
        .map(str::to_owned)
        .to_vec();
    values.extend((0..=240).map(|n| (f64::from(n) / 2.0).to_string()));
    match &check.kind {
        crate::plan::CheckKind::State { states } => {
            values.extend(states.iter().map(|s| s.key.clone()));
        }
        crate::plan::CheckKind::Tag { expected } => values.extend(expected.clone()),
        _ => {}
    }
    let value = values
        .into_iter()
        .find(|v| match state.ledger.would_be(&check.id, v) {
            Some(Outcome::Conforming) => well,
            Some(Outcome::Deficient { .. }) => !well,
            _ => false,
        });
    let value = value.expect("some value fits");
    let meaning = Meaning {
        rule: answer_rule(&check.kind).to_owned(),
        value: value.clone(),
    };
    let outcome = state.ledger.would_be(&check.id, &value).unwrap();
    entry(
        state,
        Entry::Asked {
            check: check.id.clone(),
            attempt: 1,
        },
    );
    entry(
        state,
        Entry::Answered {
            check: check.id,
            value: value.clone(),
            outcome,
            stage: Stage::Walk,
            heard: crate::walk::Heard {
                hearing: hearing(&value, Decision::Take { meaning }),
                confirmed_by: None,
            },
        },
    );
}

fn ask(state: &mut State) -> CheckId {
    let check = state.ledger.next_open().unwrap().clone();
    entry(
        state,
        Entry::Asked {
            check: check.id.clone(),
            attempt: 1,
        },
    );
    state.see(Seen::Say(7, check.ask.clone()));
    check.id
}

fn seen(state: &State, width: u16, height: u16) -> String {
    let mut terminal = Terminal::new(TestBackend::new(width, height)).unwrap();
    let drawn = |frame: &mut ratatui::Frame| draw(state, frame.area(), frame.buffer_mut());
    terminal.draw(drawn).unwrap();
    let buffer = terminal.backend().buffer().clone();
    let rows = buffer.content().chunks(usize::from(width));
    let rows = rows.map(|row| row.iter().map(|c| c.symbol()).collect::<String>());
    let rows: Vec<String> = rows.map(|r| format!("|{r}|")).collect();
    rows.join("\n")
}

/// Some way round: one deficiency, a check asked.
fn under_way() -> State {
    let mut state = opened(plan().route().clone());
    for at in 0..16 {
        answer(&mut state, at != 9);
    }
    ask(&mut state);
    state
}

#[test]
fn it_shows_what_is_asked_and_what_was_heard() {
    let mut state = under_way();
    insta::assert_snapshot!("speaking", seen(&state, 80, 24));
    state.see(Seen::Said(7));
    state.see(Seen::Listening(true));
    state.typed = "pres".to_owned();
    insta::assert_snapshot!("asking", seen(&state, 80, 24));
    insta::assert_snapshot!("asking_on_a_larger_screen", seen(&state, 120, 40));
    state.see(Seen::Listening(false));
    let value = "present".to_owned();
    let meaning = Meaning {
        rule: "presence".to_owned(),
        value,
    };
    let heard = Heard::new("present", 0.62, &Decision::Confirm { meaning });
    state.see(Seen::Heard(heard));
    insta::assert_snapshot!("heard", seen(&state, 80, 24));
}

#[test]
fn it_shows_a_refusal_a_deficiency_and_a_hold() {
    let mut state = under_way();
    state.see(Seen::Listening(true));
    let check = state.check.clone();
    let reason = "not heard clearly".to_owned();
    let hearing = hearing("in place", Decision::Refuse { reason });
    entry(&mut state, Entry::Refused { check, hearing });
    insta::assert_snapshot!("refused", seen(&state, 80, 24));

    let mut faulty = opened(plan().route().clone());
    answer(&mut faulty, true);
    answer(&mut faulty, false);
    faulty.see(Seen::Listening(true));
    insta::assert_snapshot!("deficiency", seen(&faulty, 80, 24));

    let check = state.check.clone();
    let why = "the microphone headset was unplugged".to_owned();
    entry(&mut state, Entry::Held { why, check });
    let said = "The microphone headset was unplugged. Holding at rear, battery straps.";
    state.see(Seen::Say(9, said.to_owned()));
    insta::assert_snapshot!("held", seen(&state, 80, 24));
}

#[test]
fn it_shows_the_verdict() {
    let mut state = opened(plan().route().clone());
    let mut at = 0;
    while state.ledger.next_open().is_some() {
        answer(&mut state, at != 4);
        at += 1;
    }
    let mut good = opened(plan().route().clone());
    while good.ledger.next_open().is_some() {
        answer(&mut good, true);
    }
    for (state, name, ready) in [(state, "not_ready", false), (good, "ready", true)] {
        let mut state = state;
        assert_eq!(state.ledger.ready().ready, ready);
        let against = Vec::new();
        entry(&mut state, Entry::Completed { ready, against });
        insta::assert_snapshot!(name, seen(&state, 80, 24));
    }
}

#[test]
fn it_fits_a_tiny_terminal_and_very_long_names() {
    let state = under_way();
    insta::assert_snapshot!("tiny", seen(&state, 30, 8));
    let mut route = plan().route().clone();
    route.load = format!("generator skid {}", "of the upper hut ".repeat(9));
    for station in &mut route.stations {
        station.name = format!(
            "{} above the lower frame member beside the sump",
            station.name
        );
        for check in &mut station.checks {
            check.name =
                "Donaudampfschifffahrtselektrizitätenhauptbetriebswerkbauunterbeamten".to_owned();
            check.ask = "Is it there, and is it whole, and does it sit where it must? ".repeat(6);
        }
    }
    let mut state = opened(route);
    answer(&mut state, true);
    ask(&mut state);
    insta::assert_snapshot!("long_names", seen(&state, 80, 24));
    // Nothing is too small to be drawn, nor too large.
    for (width, height) in [(1, 1), (3, 2), (60, 20), (61, 21), (80, 12), (200, 70)] {
        assert!(!seen(&state, width, height).is_empty());
    }
}

/// Colour is never the only sign: without any, what is drawn is the same.
#[test]
fn colours_change_no_sign() {
    let mut state = under_way();
    let plain = seen(&state, 80, 24);
    state.colour = true;
    assert_eq!(seen(&state, 80, 24), plain);
}
