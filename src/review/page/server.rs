//! Serves the page to this machine: loopback only, a random token in every address, no outside
//! resources, and nothing but the files that the record itself names.

use super::range::{Wanted, wanted};
use super::{ICON, INDEX, SCRIPT, STYLE, data, wave};
use crate::record::{
    AmendError, Change, JOURNAL_FILE, RecordError, SecretKey, SystemClock, amend, clip_bytes,
    clips_of, read, view,
};
use serde::Deserialize;
use std::collections::HashSet;
use std::io::{self, Cursor, Read};
use std::net::Ipv4Addr;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use tiny_http::{Header, Method, Request, Response};

/// Threads that answer.
const THREADS: usize = 4;

/// Longest amendment as sent, in bytes.
const MAX_BODY_BYTES: u64 = 64 << 10;

/// Longest body, in bytes, whose end is waited for where the request was refused.
const MAX_UNREAD_BYTES: usize = 64 << 20;

/// Scripts, styles, sounds and requests from this very address only; no frames, forms or base.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; \
     media-src 'self'; connect-src 'self'; base-uri 'none'; form-action 'none'; \
     frame-ancestors 'none'";

/// Who amends on the page.
pub struct Reviewer {
    /// The name that signs.
    pub name: String,
    /// The key that signs.
    pub key: SecretKey,
}

/// Why the page cannot be served.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ServeError {
    /// The port cannot be had.
    #[error("port {port} of this machine cannot be had ({source}); name another, or 0 for any")]
    Port {
        /// The port.
        port: u16,
        /// What the system said.
        source: Box<dyn std::error::Error + Send + Sync>,
    },
    /// The system gives no random numbers.
    #[error("the system gives no random numbers ({0}); without them the address would be guessed")]
    Random(String),
    /// The record cannot be read.
    #[error(transparent)]
    Record(#[from] RecordError),
}

/// A page being served.
pub struct Server {
    http: tiny_http::Server,
    port: u16,
    token: String,
    folder: PathBuf,
    reviewer: Option<Reviewer>,
    over: AtomicBool,
    /// What takes long to gather, with the stamp of the record that it was gathered from.
    kept: Mutex<Option<(String, Arc<Kept>)>>,
}

/// What stays as it is while the journal and the clips do.
struct Kept {
    wave: String,
    clips: HashSet<String>,
}

impl Server {
    /// Takes a port (0: any free one) for the page of this record. Without a reviewer it shows and
    /// plays, and takes no amendment.
    ///
    /// # Errors
    /// As the variants of [`ServeError`] say.
    pub fn new(folder: &Path, port: u16, reviewer: Option<Reviewer>) -> Result<Self, ServeError> {
        read(folder)?;
        let mut random = [0u8; 16];
        getrandom::fill(&mut random).map_err(|e| ServeError::Random(e.to_string()))?;
        let http = tiny_http::Server::http((Ipv4Addr::LOCALHOST, port))
            .map_err(|source| ServeError::Port { port, source })?;
        let port = http.server_addr().to_ip().map_or(port, |at| at.port());
        Ok(Self {
            http,
            port,
            token: random.iter().map(|byte| format!("{byte:02x}")).collect(),
            folder: folder.to_owned(),
            reviewer,
            over: AtomicBool::new(false),
            kept: Mutex::new(None),
        })
    }

    /// The page's address.
    pub fn address(&self) -> String {
        format!("http://127.0.0.1:{}/{}/", self.port, self.token)
    }

    #[cfg(test)]
    pub(super) fn port(&self) -> u16 {
        self.port
    }

    /// Answers until [`Server::stop`].
    pub fn run(&self) {
        std::thread::scope(|threads| {
            for _ in 0..THREADS {
                threads.spawn(|| {
                    while !self.over.load(Ordering::Acquire) {
                        if let Ok(request) = self.http.recv() {
                            self.answer(request);
                        }
                    }
                });
            }
        });
    }

    /// Ends [`Server::run`].
    pub fn stop(&self) {
        self.over.store(true, Ordering::Release);
        for _ in 0..THREADS {
            self.http.unblock();
        }
    }

    fn answer(&self, mut request: Request) {
        let answer = self.route(&mut request);
        let answer = answer.part(header(&request, "Range").as_deref());
        let length = answer.body.len();
        let mut response = Response::new(
            answer.code.into(),
            Vec::new(),
            Cursor::new(answer.body),
            Some(length),
            None,
        );
        for (name, value) in [
            ("Content-Type", answer.kind),
            ("Content-Security-Policy", POLICY),
            ("X-Content-Type-Options", "nosniff"),
            ("Referrer-Policy", "no-referrer"),
            ("Cross-Origin-Resource-Policy", "same-origin"),
            ("Cross-Origin-Opener-Policy", "same-origin"),
            ("Cache-Control", "no-store"),
        ] {
            // Constants, so they are headers.
            if let Ok(header) = Header::from_bytes(name, value) {
                response.add_header(header);
            }
        }
        if let Some(range) = &answer.range
            && let Ok(header) = Header::from_bytes("Content-Range", range.as_bytes())
        {
            response.add_header(header);
        }
        if answer.kind == SOUND
            && let Ok(header) = Header::from_bytes("Accept-Ranges", "bytes")
        {
            response.add_header(header);
        }
        let unread = match request.body_length() {
            Some(announced) if answer.code >= 400 => announced,
            _ => 0,
        };
        if unread > MAX_UNREAD_BYTES {
            // Where such a request ends, the library makes room for all that was announced, which no machine has; so it
            // never ends.
            std::mem::forget(request.upgrade("none", response));
            return;
        }
        // The reader has gone; nobody is left to tell.
        let respond = move || {
            let _ = request.respond(response);
        };
        // The rest of a body is waited for, and whoever was refused may never send it: that is no reason to answer
        // nobody else. A connection has one such body at most, and a thread of the library's own in any case.
        match unread {
            0 => respond(),
            _ => drop(std::thread::Builder::new().spawn(respond)),
        }
    }

    fn route(&self, request: &mut Request) -> Answer {
        let hosts = ["127.0.0.1", "localhost"].map(|name| format!("{name}:{}", self.port));
        let host = header(request, "Host");
        if !host.as_ref().is_some_and(|h| hosts.contains(h)) {
            return Answer::no(403, "this page is for this machine alone");
        }
        let foreign = |origin: &String| !hosts.iter().any(|h| *origin == format!("http://{h}"));
        if header(request, "Origin").as_ref().is_some_and(foreign) {
            return Answer::no(403, "another page asked");
        }
        let url = request.url().to_owned();
        let path = url.split('?').next().unwrap_or_default();
        let Some(path) = path
            .strip_prefix('/')
            .and_then(|p| p.strip_prefix(self.token.as_str()))
            .and_then(|p| p.strip_prefix('/'))
        else {
            return Answer::no(404, "take the whole address that loadwalk printed");
        };
        match (request.method(), path) {
            (Method::Get | Method::Head, path) => self.give(path),
            (Method::Post, "amendments") => self.take(request),
            _ => Answer::no(405, "the page takes amendments only"),
        }
    }

    fn give(&self, path: &str) -> Answer {
        let script = |name: &str, json: Result<String, RecordError>| match json {
            Ok(json) => Answer::ok(
                "text/javascript; charset=utf-8",
                format!("const {name} = {json};\n"),
            ),
            Err(error) => Answer::no(500, &error.to_string()),
        };
        match path {
            "" => Answer::ok("text/html; charset=utf-8", INDEX),
            "page.css" => Answer::ok("text/css; charset=utf-8", STYLE),
            "page.js" => Answer::ok("text/javascript; charset=utf-8", SCRIPT),
            "record.js" => script("RECORD", self.record()),
            "icon.svg" => Answer::ok("image/svg+xml", ICON),
            "wave.js" => script("WAVE", self.kept().map(|kept| kept.wave.clone())),
            _ => match path.strip_prefix("clips/").and_then(|file| self.clip(file)) {
                Some(bytes) => Answer::ok(SOUND, bytes),
                None => Answer::no(404, "the record has no such part"),
            },
        }
    }

    /// The record as it is now, for the page.
    fn record(&self) -> Result<String, RecordError> {
        let view = view(&self.folder)?;
        let reviewer = self.reviewer.as_ref();
        Ok(data::record(&self.folder, &view, reviewer, false))
    }

    /// A clip that an entry names; no other file, whatever the address says.
    fn clip(&self, file: &str) -> Option<Vec<u8>> {
        let named = self.kept().ok()?.clips.contains(file);
        named.then(|| clip_bytes(&self.folder, file)).flatten()
    }

    /// The waves and the names of the clips, gathered anew where the journal or the clips changed.
    fn kept(&self) -> Result<Arc<Kept>, RecordError> {
        let changed = |name: &str| {
            let about = std::fs::metadata(self.folder.join(name)).ok();
            about.map(|m| (m.len(), m.modified().ok()))
        };
        let stamp = format!("{:?} {:?}", changed(JOURNAL_FILE), changed("clips"));
        // Held while gathering, so that several requests at once do not all gather.
        let mut kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((of, kept)) = &*kept
            && *of == stamp
        {
            return Ok(kept.clone());
        }
        let entries = read(&self.folder)?.entries;
        let clips = entries.iter().flat_map(|e| clips_of(&e.entry));
        let fresh = Arc::new(Kept {
            clips: clips.map(|clip| clip.file.to_owned()).collect(),
            wave: wave::wave(&self.folder, &entries),
        });
        *kept = Some((stamp, fresh.clone()));
        Ok(fresh)
    }

    fn take(&self, request: &mut Request) -> Answer {
        let Some(reviewer) = &self.reviewer else {
            return Answer::no(403, "to amend, start `loadwalk review` with --as and --key");
        };
        let kind = header(request, "Content-Type").unwrap_or_default();
        if kind.split(';').next().map(str::trim) != Some("application/json") {
            return Answer::no(415, "an amendment is JSON");
        }
        let sent = match body(request) {
            Ok(Some(sent)) => sent,
            Ok(None) => return Answer::no(413, "the amendment is too long; shorten it"),
            Err(error) => return Answer::no(400, &error.to_string()),
        };
        let sent: Sent = match serde_json::from_slice(&sent) {
            Ok(sent) => sent,
            Err(error) => return Answer::no(400, &error.to_string()),
        };
        let (name, key, now) = (&reviewer.name, &reviewer.key, SystemClock::default());
        match amend(&self.folder, name, key, sent.change, &sent.text, &now) {
            Ok(_) => match self.record() {
                Ok(json) => Answer {
                    code: 201,
                    ..Answer::ok("application/json", json)
                },
                Err(error) => Answer::no(500, &error.to_string()),
            },
            Err(AmendError::Record(error)) => Answer::no(500, &error.to_string()),
            Err(error) => Answer::no(422, &error.to_string()),
        }
    }
}

/// An amendment as the page sends it.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Sent {
    change: Change,
    text: String,
}

fn body(request: &mut Request) -> io::Result<Option<Vec<u8>>> {
    let mut bytes = Vec::new();
    let mut reader = request.as_reader().take(MAX_BODY_BYTES + 1);
    reader.read_to_end(&mut bytes)?;
    Ok((bytes.len() as u64 <= MAX_BODY_BYTES).then_some(bytes))
}

fn header(request: &Request, name: &'static str) -> Option<String> {
    let mut headers = request.headers().iter();
    let found = headers.find(|h| h.field.equiv(name))?;
    Some(found.value.as_str().to_owned())
}

/// What a clip is.
const SOUND: &str = "audio/wav";

struct Answer {
    code: u16,
    kind: &'static str,
    body: Vec<u8>,
    range: Option<String>,
}

impl Answer {
    fn ok(kind: &'static str, body: impl Into<Vec<u8>>) -> Self {
        Self {
            code: 200,
            kind,
            body: body.into(),
            range: None,
        }
    }

    /// The part of a sound that a player asks for.
    fn part(mut self, range: Option<&str>) -> Self {
        if self.code != 200 || self.kind != SOUND {
            return self;
        }
        let length = self.body.len();
        match wanted(range, length) {
            Wanted::All => {}
            Wanted::Part(first, last) => {
                self.code = 206;
                self.range = Some(format!("bytes {first}-{last}/{length}"));
                self.body.truncate(last + 1);
                self.body.drain(..first);
            }
            Wanted::Beyond => {
                self = Self::no(416, "the sound is not that long");
                self.range = Some(format!("bytes */{length}"));
            }
        }
        self
    }

    fn no(code: u16, why: &str) -> Self {
        Self {
            code,
            kind: "text/plain; charset=utf-8",
            body: format!("{why}\n").into_bytes(),
            range: None,
        }
    }
}
