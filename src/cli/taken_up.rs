//! What is written into a record when its walk is taken up again.

use crate::cli::out::tell;
use crate::plan::CheckId;
use crate::record::{Against, AmendmentView, CheckView, Status, TRIED_OUT, View, tryout_words};
use crate::walk::{Decision, Entry, Hearing, Ledger, Meaning, Note, Tryout, rules};

/// What opens the checks that a review does not let stand: they are asked again.
pub(super) fn sent_back(seen: &View, entries: &[Entry]) -> Vec<Entry> {
    let Ok(ledger) = Ledger::of(entries) else {
        return Vec::new();
    };
    let to_inspect = |a: &AmendmentView| a.sends_back && a.against == Some(Against::Open);
    let in_review = |check: &&CheckView| {
        let walked_deficient = ledger.deficiencies().iter().any(|d| d.check == check.check);
        let stands = ledger.standing(&check.check).is_some() || walked_deficient;
        // What was not seen stands open without a review.
        let walked_open = ledger.open_points().iter().any(|o| o.check == check.check);
        let open = seen.open.iter().any(|o| o.check == check.check) && !walked_open;
        let deficient = seen
            .deficiencies
            .iter()
            .any(|d| d.check == check.check && d.stands);
        let sent_back = check.amendments.iter().any(to_inspect);
        stands && (open || deficient && !walked_deficient || sent_back)
    };
    let mut again: Vec<CheckId> = Vec::new();
    for check in seen.checks.iter().filter(in_review) {
        tell!(
            "loadwalk: {}, {}: sent back in review, asked again",
            check.station,
            check.name
        );
        again.push(check.check.clone());
    }
    // What other answers leave out is not asked itself: those answers may be what is wrong.
    let left_out = |check: &&CheckView| check.amendments.iter().any(to_inspect);
    for check in seen.checks.iter().filter(left_out) {
        let mut by = ledger.left_out_by(&check.check);
        by.retain(|by| ledger.standing(by).is_some());
        for by in by {
            let on = seen.checks.iter().find(|c| c.check == by);
            tell!(
                "loadwalk: {}, {}: sent back in review, left out by the answer to {}, which is asked again",
                check.station,
                check.name,
                on.map_or_else(
                    || by.to_string(),
                    |on| format!("{}, {}", on.station, on.name)
                )
            );
            if !again.contains(&by) {
                again.push(by);
            }
        }
    }
    let heard = |check: &CheckId| {
        let seen = seen.checks.iter().find(|c| c.check == *check);
        let deficient = seen.filter(|c| c.status == Status::Deficient && c.walked != c.status);
        deficient.and_then(|c| c.deficiency.clone())
    };
    let entries = again.into_iter().map(|check| entry(heard(&check), check));
    entries.collect()
}

/// That a check is asked again for a review, with the deficiency that this heard there.
fn entry(deficiency: Option<String>, check: CheckId) -> Entry {
    let meaning = Meaning {
        rule: rules::CONTROL.to_owned(),
        value: rules::SENT_BACK.to_owned(),
    };
    Entry::Control {
        control: rules::SENT_BACK.to_owned(),
        check: Some(check),
        hearing: Hearing {
            decision: Decision::Take { meaning },
            words: "sent back in review".to_owned(),
            confidence: 1.0,
            clip: String::new(),
            clip_sha256: String::new(),
            snr_db: None,
            others: Vec::new(),
        },
        deficiency,
    }
}

/// A tryout made since the walk was opened, as a note on the load.
pub(super) fn noted(tryout: &Tryout) -> Entry {
    Entry::Noted {
        check: None,
        note: Note {
            machine_transcript: format!("{TRIED_OUT}{}", tryout_words(tryout)),
            by_tool: true,
            ..Note::default()
        },
    }
}

/// Whether the record tells of this tryout already.
pub(super) fn is_known(tryout: &Tryout, entries: &[Entry]) -> bool {
    entries.iter().any(|entry| match entry {
        Entry::Opened {
            tryout: Some(known),
            ..
        } => **known == *tryout,
        Entry::Noted { check: None, .. } => *entry == noted(tryout),
        _ => false,
    })
}
