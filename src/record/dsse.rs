//! DSSE (Dead Simple Signing Envelope, version 1.0.0): JSON with `payload`, `payloadType` and
//! `signatures`. Here with one Ed25519 signature, over the pre-authentication bytes of type and
//! payload.

use super::keys::{PublicKey, SecretKey};
use super::problem::ProblemKind;
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD as BASE64;
use ed25519_dalek::Signature;
use serde::{Deserialize, Serialize};
use std::fs;
use std::path::Path;

#[derive(Serialize, Deserialize)]
#[serde(rename_all = "camelCase")]
struct Envelope {
    payload: String,
    payload_type: String,
    signatures: Vec<OneSignature>,
}

#[derive(Serialize, Deserialize)]
struct OneSignature {
    keyid: String,
    sig: String,
}

/// The bytes of a file that carries the payload with its signature.
pub(super) fn envelope(kind: &str, payload: &[u8], key: &SecretKey) -> Vec<u8> {
    let signature = key.sign(&pre_authentication(kind, payload));
    let envelope = Envelope {
        payload: BASE64.encode(payload),
        payload_type: kind.to_owned(),
        signatures: vec![OneSignature {
            keyid: key.public().id(),
            sig: BASE64.encode(signature.to_bytes()),
        }],
    };
    // Strings only, so this cannot fail.
    let mut bytes = serde_json::to_vec_pretty(&envelope).expect("an envelope is plain data");
    bytes.push(b'\n');
    bytes
}

/// A payload with a signature that is not yet checked.
pub(super) struct Signed {
    pub payload: Vec<u8>,
    kind: String,
    signature: Option<Signature>,
}

impl Signed {
    /// Takes an envelope apart.
    ///
    /// # Errors
    /// What is wrong with it, where it is no envelope of this kind.
    pub fn parse(bytes: &[u8], kind: &str) -> Result<Self, (ProblemKind, String)> {
        let malformed = |detail: String| (ProblemKind::Malformed, detail);
        let envelope: Envelope =
            serde_json::from_slice(bytes).map_err(|e| malformed(e.to_string()))?;
        if envelope.payload_type != kind {
            let detail = format!("its type is `{}`, not `{kind}`", envelope.payload_type);
            return Err((ProblemKind::Newer, detail));
        }
        let payload = BASE64
            .decode(&envelope.payload)
            .map_err(|e| malformed(e.to_string()))?;
        let signature = match &envelope.signatures[..] {
            [one] => BASE64
                .decode(&one.sig)
                .ok()
                .and_then(|bytes| Signature::from_slice(&bytes).ok()),
            _ => None,
        };
        Ok(Self {
            payload,
            kind: envelope.payload_type,
            signature,
        })
    }

    /// Whether the holder of this key signed it.
    pub fn is_by(&self, key: &PublicKey) -> bool {
        let bytes = pre_authentication(&self.kind, &self.payload);
        self.signature.is_some_and(|s| key.verifies(&bytes, &s))
    }
}

/// Whether bytes are an envelope of any type, whoever signed it.
pub(super) fn is_envelope(bytes: &[u8]) -> bool {
    serde_json::from_slice::<Envelope>(bytes).is_ok()
}

/// Reads a signed file of bounded length; links are not followed.
///
/// # Errors
/// What is wrong with it.
pub(super) fn read_file(path: &Path, max_bytes: u64) -> Result<Vec<u8>, (ProblemKind, String)> {
    let malformed = |e: std::io::Error| (ProblemKind::Malformed, e.to_string());
    let meta = fs::symlink_metadata(path).map_err(malformed)?;
    if !meta.is_file() {
        return Err((ProblemKind::Changed, "it is no plain file".to_owned()));
    }
    if meta.len() > max_bytes {
        let detail = format!("{} bytes, longer than any such file", meta.len());
        return Err((ProblemKind::Changed, detail));
    }
    fs::read(path).map_err(malformed)
}

/// What is signed.
fn pre_authentication(kind: &str, payload: &[u8]) -> Vec<u8> {
    let mut bytes = format!("DSSEv1 {} {kind} {} ", kind.len(), payload.len()).into_bytes();
    bytes.extend_from_slice(payload);
    bytes
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_signed_bytes_are_those_of_the_standard() {
        // The test vector of the DSSE protocol text, version 1.0.0 (from memory).
        assert_eq!(
            pre_authentication("http://example.com/HelloWorld", b"hello world"),
            b"DSSEv1 29 http://example.com/HelloWorld 11 hello world"
        );
    }
}
