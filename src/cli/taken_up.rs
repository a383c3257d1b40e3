//! What is written into a record when its walk is taken up again.

use crate::cli::out::tell;
use crate::record::{Against, AmendmentView, CheckView, View, tryout_words};
use crate::walk::{Decision, Entry, Hearing, Ledger, Meaning, Note, Tryout, rules};

/// What opens the checks that a review does not let stand: they are asked again.
pub(super) fn sent_back(seen: &View, entries: &[Entry]) -> Vec<Entry> {
    let Ok(ledger) = Ledger::of(entries) else {
        return Vec::new();
    };
    let in_review = |check: &&CheckView| {
        let stands = ledger.standing(&check.check).is_some();
        let walked_deficient = ledger.deficiencies().iter().any(|d| d.check == check.check);
        // What was not seen stands open without a review.
        let walked_open = ledger.open_points().iter().any(|o| o.check == check.check);
        let open = seen.open.iter().any(|o| o.check == check.check) && !walked_open;
        let deficient = seen
            .deficiencies
            .iter()
            .any(|d| d.check == check.check && d.stands);
        let to_inspect = |a: &AmendmentView| a.sends_back && a.against == Some(Against::Open);
        let sent_back = check.amendments.iter().any(to_inspect);
        stands && (open || deficient && !walked_deficient || sent_back)
    };
    let checks = seen.checks.iter().filter(in_review);
    checks
        .map(|check| {
            tell!(
                "loadwalk: {}, {}: sent back in review, asked again",
                check.station,
                check.name
            );
            let meaning = Meaning {
                rule: rules::CONTROL.to_owned(),
                value: rules::SENT_BACK.to_owned(),
            };
            Entry::Control {
                control: rules::SENT_BACK.to_owned(),
                check: Some(check.check.clone()),
                hearing: Hearing {
                    decision: Decision::Take { meaning },
                    words: "sent back in review".to_owned(),
                    confidence: 1.0,
                    clip: String::new(),
                    clip_sha256: String::new(),
                    snr_db: None,
                    others: Vec::new(),
                },
            }
        })
        .collect()
}

/// A tryout made since the walk was opened, as a note on the load.
pub(super) fn noted(tryout: &Tryout) -> Entry {
    Entry::Noted {
        check: None,
        note: Note {
            machine_transcript: format!("tried out: {}", tryout_words(tryout)),
            clip: String::new(),
            clip_sha256: String::new(),
            typed: true,
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
