use super::{Reviewer, Server};
use crate::record::samples::{PLAN, StepClock, answered, id, opened};
use crate::record::{Record, SecretKey, Status, clip_wav, verify, view};
use crate::walk::{Entry, Outcome};
use std::io::{Read, Write};
use std::net::TcpStream;
use std::path::{Path, PathBuf};

struct Page {
    root: tempfile::TempDir,
    folder: PathBuf,
    clip: String,
}

/// A record of one answer with its clip, and of a file beside it that no page may give.
fn page() -> Page {
    let root = tempfile::tempdir().unwrap();
    let folder = root.path().join("walk");
    let mut record = Record::create(&folder, PLAN, Box::new(StepClock::at(0))).unwrap();
    record.append(&opened()).unwrap();
    let clip = record
        .write_clip("front-left/hook-pin", &clip_wav(&[0.25; 4_000]))
        .unwrap();
    let mut entry = answered("front-left/hook-pin", "present", Outcome::Conforming);
    if let Entry::Answered { heard, .. } = &mut entry {
        heard.hearing.clip.clone_from(&clip.file);
        heard.hearing.clip_sha256 = clip.sha256;
    }
    record.append(&entry).unwrap();
    std::fs::write(root.path().join("private.txt"), "not for the page").unwrap();
    std::fs::write(folder.join("clips/stray.wav"), clip_wav(&[0.0; 16])).unwrap();
    Page {
        root,
        folder,
        clip: clip.file,
    }
}

impl Page {
    fn reviewer(&self, name: &str) -> Reviewer {
        let stem = self.root.path().join("eva");
        let (private, _, _) = crate::record::new_key(&stem, None).unwrap();
        Reviewer {
            name: name.to_owned(),
            key: SecretKey::read(&private, None).unwrap(),
        }
    }
}

struct Reply {
    code: u16,
    head: String,
    body: Vec<u8>,
}

impl Reply {
    fn text(&self) -> String {
        String::from_utf8_lossy(&self.body).into_owned()
    }
}

/// Sends the bytes as they are: a client library would tidy up the paths that matter here.
fn send(server: &Server, request: &str) -> Reply {
    let mut stream = TcpStream::connect(("127.0.0.1", server.port())).unwrap();
    stream.write_all(request.as_bytes()).unwrap();
    let mut bytes = Vec::new();
    stream.read_to_end(&mut bytes).unwrap();
    let end = bytes.windows(4).position(|w| w == b"\r\n\r\n").unwrap();
    let head = String::from_utf8(bytes[..end].to_vec()).unwrap();
    Reply {
        code: head.split(' ').nth(1).unwrap().parse().unwrap(),
        head,
        body: bytes[end + 4..].to_vec(),
    }
}

fn get(server: &Server, path: &str) -> Reply {
    let host = format!("127.0.0.1:{}", server.port());
    send(
        server,
        &format!("GET {path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n"),
    )
}

fn post(server: &Server, path: &str, more: &str, body: &str) -> Reply {
    let (host, length) = (format!("127.0.0.1:{}", server.port()), body.len());
    send(
        server,
        &format!(
            "POST {path} HTTP/1.1\r\nHost: {host}\r\n{more}Content-Length: {length}\r\n\
             Connection: close\r\n\r\n{body}"
        ),
    )
}

fn serving(folder: &Path, reviewer: Option<Reviewer>, test: impl FnOnce(&Server, &str)) {
    struct Stop<'a>(&'a Server);
    impl Drop for Stop<'_> {
        fn drop(&mut self) {
            self.0.stop();
        }
    }
    let server = Server::new(folder, 0, reviewer).unwrap();
    let address = server.address();
    let path = &address[address.rfind(':').unwrap()..];
    let path = &path[path.find('/').unwrap()..];
    std::thread::scope(|threads| {
        threads.spawn(|| server.run());
        // Also where an assertion fails, or the scope would wait for ever.
        let _stop = Stop(&server);
        test(&server, path);
    });
}

const JSON: &str = "Content-Type: application/json\r\n";

#[test]
fn the_page_and_its_parts_are_served_with_a_strict_policy() {
    let page = page();
    serving(&page.folder, None, |server, path| {
        for (part, kind, holds) in [
            ("", "text/html", "<main>"),
            ("page.css", "text/css", ":root"),
            ("page.js", "text/javascript", "\"use strict\""),
            ("icon.svg", "image/svg+xml", "<svg"),
            ("record.js", "text/javascript", "stove crate"),
            ("wave.js", "text/javascript", "\"peaks\":\"WWWWW\""),
        ] {
            let reply = get(server, &format!("{path}{part}"));
            assert_eq!(reply.code, 200, "{part}");
            assert!(reply.head.contains(kind), "{}", reply.head);
            assert!(reply.text().contains(holds), "{part}: {}", reply.text());
            for needed in [
                "Content-Security-Policy: default-src 'none'; script-src 'self'",
                "X-Content-Type-Options: nosniff",
                "Referrer-Policy: no-referrer",
                "Cache-Control: no-store",
            ] {
                assert!(reply.head.contains(needed), "{needed} in {}", reply.head);
            }
            assert!(!reply.text().contains("https://"), "{part}");
        }
        let clip = get(server, &format!("{path}clips/{}", page.clip));
        assert_eq!(clip.code, 200);
        assert_eq!(
            clip.body,
            std::fs::read(page.folder.join("clips").join(&page.clip)).unwrap()
        );
    });
}

#[test]
fn a_player_may_ask_for_a_part_of_a_clip() {
    let page = page();
    let whole = std::fs::read(page.folder.join("clips").join(&page.clip)).unwrap();
    serving(&page.folder, None, |server, path| {
        let part = |range: &str| {
            let request = format!(
                "GET {path}clips/{} HTTP/1.1\r\nHost: 127.0.0.1:{}\r\nRange: {range}\r\n\
                 Connection: close\r\n\r\n",
                page.clip,
                server.port()
            );
            send(server, &request)
        };
        let reply = part("bytes=44-99");
        assert_eq!(reply.code, 206);
        assert_eq!(reply.body, whole[44..100]);
        let range = format!("Content-Range: bytes 44-99/{}", whole.len());
        assert!(reply.head.contains(&range), "{}", reply.head);
        assert!(
            reply.head.contains("Accept-Ranges: bytes"),
            "{}",
            reply.head
        );
        let beyond = part(&format!("bytes={}-", whole.len()));
        assert_eq!(beyond.code, 416);
        assert_eq!(part("bytes=x").body, whole);
    });
}

#[test]
fn what_is_kept_follows_the_record() {
    let page = page();
    serving(&page.folder, None, |server, path| {
        let wave = || get(server, &format!("{path}wave.js")).text();
        assert!(wave().contains(&page.clip));
        std::fs::remove_file(page.folder.join("clips/stray.wav")).unwrap();
        std::fs::remove_file(page.folder.join("clips").join(&page.clip)).unwrap();
        assert!(!wave().contains(&page.clip));
        assert_eq!(get(server, &format!("{path}clips/{}", page.clip)).code, 404);
    });
}

#[test]
fn nothing_is_served_without_the_token() {
    let page = page();
    serving(&page.folder, None, |server, path| {
        let wrong = path.replace(|c: char| c.is_ascii_hexdigit(), "0");
        let short = &path[..path.len() - 2];
        let clip = format!("/clips/{}", page.clip);
        for at in [
            "/",
            "/page.js",
            "/record.js",
            "",
            clip.as_str(),
            wrong.as_str(),
            short,
        ] {
            if !at.is_empty() {
                assert_eq!(get(server, at).code, 404, "{at}");
            }
        }
        assert_eq!(post(server, "/amendments", JSON, "{}").code, 404);
    });
}

#[test]
fn other_hosts_and_other_pages_are_refused() {
    let page = page();
    serving(
        &page.folder,
        Some(page.reviewer("Eva Rowan")),
        |server, path| {
            for host in ["evil.example", "127.0.0.1", "localhost:1", ""] {
                let reply = send(
                    server,
                    &format!("GET {path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n"),
                );
                assert_eq!(reply.code, 403, "{host}");
            }
            let local = format!(
                "GET {path} HTTP/1.1\r\nHost: localhost:{}\r\nConnection: close\r\n\r\n",
                server.port()
            );
            assert_eq!(send(server, &local).code, 200);
            let note = r#"{"change":{"kind":"note"},"text":"x"}"#;
            let at = format!("{path}amendments");
            let foreign = format!("{JSON}Origin: http://evil.example\r\n");
            assert_eq!(post(server, &at, &foreign, note).code, 403);
            // A form of another page can send this kind without asking first.
            assert_eq!(
                post(server, &at, "Content-Type: text/plain\r\n", note).code,
                415
            );
            assert!(!page.folder.join("amendments").exists());
        },
    );
}

#[test]
fn paths_lead_to_nothing_but_what_entries_name() {
    let page = page();
    serving(&page.folder, None, |server, path| {
        for part in [
            "../private.txt",
            "clips/../../private.txt",
            "clips/..%2f..%2fprivate.txt",
            "clips/%2e%2e/journal.jsonl",
            "clips//etc/passwd",
            "clips/",
            "clips/stray.wav",
            "journal.jsonl",
            "clips/..\\..\\private.txt",
            "page.js/",
        ] {
            let reply = get(server, &format!("{path}{part}"));
            assert!(matches!(reply.code, 400 | 404), "{part}: {}", reply.code);
            assert!(!reply.text().contains("not for the page"));
        }
        let delete = format!(
            "DELETE {path}clips/{} HTTP/1.1\r\nHost: 127.0.0.1:{}\r\nConnection: close\r\n\r\n",
            page.clip,
            server.port()
        );
        assert_eq!(send(server, &delete).code, 405);
    });
}

#[test]
fn an_amendment_from_the_page_is_signed_and_the_record_verifies() {
    let page = page();
    serving(
        &page.folder,
        Some(page.reviewer("Eva Rowan")),
        |server, path| {
            let at = format!("{path}amendments");
            let change = r#"{"change":{"kind":"heard-wrong","check":"front-left/hook-pin","entry":1},
            "text":"wind, no word"}"#;
            let reply = post(server, &at, JSON, change);
            assert_eq!(reply.code, 201, "{}", reply.text());
            let json: serde_json::Value = serde_json::from_slice(&reply.body).unwrap();
            assert_eq!(json["view"]["checks"][0]["status"], "open");
            assert_eq!(json["reviewer"], "Eva Rowan");
            for (wrong, code) in [
                ("{", 400),
                (r#"{"change":{"kind":"conforming"},"text":"x"}"#, 400),
                (
                    r#"{"change":{"kind":"note"},"text":"x","by":"Ida Fern"}"#,
                    400,
                ),
                (r#"{"change":{"kind":"note"},"text":" "}"#, 422),
                (
                    r#"{"change":{"kind":"re-inspect","check":"roof/bolt"},"text":"x"}"#,
                    422,
                ),
            ] {
                assert_eq!(post(server, &at, JSON, wrong).code, code, "{wrong}");
            }
            assert_eq!(post(server, &at, JSON, &" ".repeat(70_000)).code, 413);
        },
    );
    assert!(verify(&page.folder, &[]).unwrap().is_intact());
    let view = view(&page.folder).unwrap();
    assert_eq!(view.checks[0].status, Status::Open);
    assert_eq!(view.amendments.len(), 1);
    assert_eq!(view.checks[0].check, id("front-left/hook-pin"));
}

#[test]
fn a_page_without_a_key_takes_no_amendment() {
    let page = page();
    serving(&page.folder, None, |server, path| {
        let note = r#"{"change":{"kind":"note"},"text":"x"}"#;
        assert_eq!(
            post(server, &format!("{path}amendments"), JSON, note).code,
            403
        );
    });
    assert!(!page.folder.join("amendments").exists());
}

#[test]
fn the_rigger_does_not_review() {
    let page = page();
    serving(
        &page.folder,
        Some(page.reviewer("tom alder")),
        |server, path| {
            let note = r#"{"change":{"kind":"note"},"text":"x"}"#;
            let reply = post(server, &format!("{path}amendments"), JSON, note);
            assert_eq!(reply.code, 422);
            assert!(
                reply.text().contains("rigged this load"),
                "{}",
                reply.text()
            );
        },
    );
}

#[test]
fn the_page_keeps_the_contrast_of_the_standard() {
    use crate::review::contrast::{check, colour, contrast};
    assert!(check(super::STYLE) > 40);
    // The inks of the drawings stand in the script; text in them is white on ink or ink on white.
    let inks = super::SCRIPT
        .lines()
        .find(|l| l.starts_with("const INKS"))
        .unwrap();
    let inks: Vec<u32> = inks.split('"').filter_map(colour).collect();
    assert!(inks.len() >= 4, "{inks:06x?}");
    for ink in inks {
        assert!(contrast(ink, 0xff_ff_ff) >= 4.5, "{ink:06x}");
    }
}

#[test]
fn a_copy_of_the_page_stands_alone_and_holds_what_entries_name() {
    use crate::review::{ExportError, export_page};
    let page = page();
    let to = page.root.path().join("copy");
    assert_eq!(export_page(&page.folder, &to).unwrap(), 1);
    let files = |folder: &Path| {
        let all = std::fs::read_dir(folder).unwrap().flatten();
        let mut names: Vec<_> = all.map(|f| f.file_name().into_string().unwrap()).collect();
        names.sort();
        names
    };
    assert_eq!(
        files(&to),
        [
            "clips",
            "icon.svg",
            "index.html",
            "page.css",
            "page.js",
            "record.js",
            "wave.js"
        ]
    );
    assert_eq!(
        files(&to.join("clips")),
        [page.clip.as_str()],
        "no stray file"
    );
    let index = std::fs::read_to_string(to.join("index.html")).unwrap();
    assert!(index.contains("Content-Security-Policy") && index.contains("default-src 'none'"));
    let record = std::fs::read_to_string(to.join("record.js")).unwrap();
    assert!(record.contains("\"copy\":true") && record.contains("\"reviewer\":null"));
    for file in ["index.html", "page.css", "page.js"] {
        let text = std::fs::read_to_string(to.join(file)).unwrap();
        let outside = text.matches("http").count()
            - text.matches("http-equiv").count()
            - text.matches("http://www.w3.org/2000/svg").count();
        assert_eq!(outside, 0, "{file} names another place");
    }
    let error = export_page(&page.folder, &to).unwrap_err();
    assert!(matches!(error, ExportError::NotEmpty(_)), "{error}");
    let inside = page.folder.join("a/page");
    let error = export_page(&page.folder, &inside).unwrap_err();
    assert!(matches!(error, ExportError::Inside { .. }), "{error}");
    assert!(!page.folder.join("a").exists());
}

/// Whoever does not know the address takes the page from nobody by requests that never end.
#[test]
fn refused_requests_that_never_end_freeze_nothing() {
    let page = page();
    serving(&page.folder, None, |server, path| {
        let mut open = Vec::new();
        for _ in 0..8 {
            let mut stream = TcpStream::connect(("127.0.0.1", server.port())).unwrap();
            let head = "POST / HTTP/1.1\r\nHost: elsewhere\r\nContent-Length: 60000\r\n\r\nx";
            stream.write_all(head.as_bytes()).unwrap();
            let patience = Some(std::time::Duration::from_secs(20));
            stream.set_read_timeout(patience).unwrap();
            let mut first = [0; 12];
            stream.read_exact(&mut first).unwrap();
            assert_eq!(&first, b"HTTP/1.1 403");
            open.push(stream);
        }
        let (sender, done) = std::sync::mpsc::channel();
        std::thread::scope(|threads| {
            threads.spawn(|| sender.send(get(server, path).code));
            let code = done.recv_timeout(std::time::Duration::from_secs(20));
            // Lets go of them first, or a failure would wait for ever.
            drop(open);
            assert_eq!(code, Ok(200));
        });
    });
}

/// Nor does one that announces more than any machine has room for end the page.
#[test]
fn a_refused_request_of_any_length_ends_nothing() {
    let page = page();
    serving(&page.folder, None, |server, path| {
        for announced in [1usize << 62, usize::MAX] {
            let mut stream = TcpStream::connect(("127.0.0.1", server.port())).unwrap();
            let head = format!(
                "POST / HTTP/1.1\r\nHost: elsewhere\r\nContent-Length: {announced}\r\n\r\n"
            );
            stream.write_all(head.as_bytes()).unwrap();
            let mut first = [0; 12];
            stream.read_exact(&mut first).unwrap();
            assert_eq!(&first, b"HTTP/1.1 403");
        }
        assert_eq!(get(server, path).code, 200);
    });
}

/// Beside what stands against the load, where whoever signs reads first; the script in a browser tries the rest.
#[test]
fn what_was_called_not_applicable_is_in_the_overview() {
    let page = page();
    let view = view(&page.folder).unwrap();
    let said = super::data::record(&page.folder, &view, None, true);
    let said: serde_json::Value = serde_json::from_str(&said).unwrap();
    assert_eq!(said["view"]["not_applicable"], serde_json::json!([]));
    let mut view = view;
    view.not_applicable = vec!["front left corner, hook pin".to_owned()];
    let said = super::data::record(&page.folder, &view, None, true);
    let said: serde_json::Value = serde_json::from_str(&said).unwrap();
    let sections = said["sections"].to_string();
    assert!(!sections.contains("hook pin"), "{sections}");
    let html = include_str!("index.html");
    let overview = &html[html.find("id=\"overview\"").unwrap()..html.find("id=\"time\"").unwrap()];
    assert!(overview.contains("id=\"not-applicable\""));
    let script = include_str!("page.js");
    assert!(script.contains("fill($(\"not-applicable\"), ...view.not_applicable"));
}
