//! What a verification proves and what it does not, in words.

use super::amend::AmendmentCheck;
use super::keys::PublicKey;
use super::seal::{Role, SealCheck};
use std::collections::HashSet;

fn amendments_prove(amendments: &[AmendmentCheck]) -> Vec<String> {
    let sound = amendments.iter().filter(|a| a.problem.is_none());
    sound
        .filter_map(|a| {
            let amendment = a.amendment.as_ref()?;
            Some(format!(
                "whoever holds the key {} signed amendment {} as {}",
                a.key_id, amendment.number, amendment.by
            ))
        })
        .collect()
}

/// What may have been taken away without a trace: nothing that is left says that it was there.
fn taken_away(seals: &[SealCheck]) -> &'static str {
    let sound = |s: &&SealCheck| s.problem.is_none();
    let roles = seals
        .iter()
        .filter(sound)
        .filter_map(|s| s.statement.as_ref());
    match roles.map(|s| s.role).max() {
        None => {
            "whether there was a seal, or amendments behind those that are here, and they were taken away does not show"
        }
        Some(Role::Inspector) => {
            "whether a second person's seal, or amendments made after the last seal, were taken off the end does not show"
        }
        Some(Role::Second) => {
            "whether amendments made after the last seal were taken off the end does not show"
        }
    }
}

/// Of seals and amendments, a sentence each.
pub(super) fn what_it_proves(
    seals: &[SealCheck],
    amendments: &[AmendmentCheck],
    trusted: &[PublicKey],
) -> Vec<String> {
    let mut proves = seals_prove(seals, trusted);
    proves.extend(amendments_prove(amendments));
    proves.push(taken_away(seals).to_owned());
    proves
}

/// Which amendments a seal covers, by their numbers.
fn covered(amendments: usize) -> String {
    match amendments {
        0 => "no amendment".to_owned(),
        1 => "amendment 0".to_owned(),
        n => format!("amendments 0 to {}", n - 1),
    }
}

fn seals_prove(seals: &[SealCheck], trusted: &[PublicKey]) -> Vec<String> {
    let sound: Vec<&SealCheck> = seals.iter().filter(|s| s.problem.is_none()).collect();
    if sound.is_empty() {
        return vec![
            "there is no valid seal, so this shows only that the entries hold together: an entry \
             changed, removed or moved in the middle would show"
                .to_owned(),
            "it does not show whether entries were cut off the end, whether the last one was \
             changed, or whether somebody wrote the whole record anew"
                .to_owned(),
        ];
    }
    let mut proves = Vec::new();
    let mut keys = HashSet::new();
    for seal in &sound {
        keys.insert(seal.key_id.as_str());
        if let Some(statement) = &seal.statement {
            proves.push(format!(
                "whoever holds the key {} signed these {} entries, the plan, {} clips and {} as {}{}",
                seal.key_id,
                statement.entries.len(),
                statement.clips.len(),
                covered(statement.amendments.len()),
                statement.signer,
                if statement.ready { "" } else { ": NOT READY" }
            ));
        }
    }
    if trusted.is_empty() {
        proves.push(
            "it does not prove whose key that is: compare its number with the signer's, or name \
             the signer's public key"
                .to_owned(),
        );
    }
    if sound.len() > keys.len() {
        proves.push("two seals were made with one key, so they show one hand".to_owned());
    }
    proves.push(
        "it does not prove that the times are right, that the answers were true, or that the load \
         is fit to fly"
            .to_owned(),
    );
    proves
}
