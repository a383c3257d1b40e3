//! The full-screen view of a walk, for a glance or a second person. It mirrors and is never needed: a
//! watcher like the plain lines, on a thread of its own, that also takes the keys.

mod draw;
mod letters;
mod map;
mod state;
#[cfg(test)]
mod tests;

use draw::draw;
use state::{Heard, Seen};

pub use state::State;

use crate::cli::drive::{Meter, Observer, Stroke};
use crate::cli::out::tell;
#[cfg(feature = "whisper")]
use crate::ears::{Breath, HeardItem, Recognition, decide::Verdict};
use crate::walk::{Entry, Say, SayId};
use ratatui::DefaultTerminal;
use ratatui::crossterm::event::{self, Event, KeyCode, KeyEventKind, KeyModifiers};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, Sender, TryRecvError, channel};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// Time between two looks at keys and news.
const LOOK: Duration = Duration::from_millis(50);
/// Longest line that can be typed, characters.
const TYPED_MAX: usize = 200;

/// Set once the terminal is given back, by the end or by a panic; nothing is drawn after that.
static GIVEN_BACK: AtomicBool = AtomicBool::new(false);

/// The view of a running walk. Dropping it gives the terminal back.
pub struct Screen {
    news: Option<Sender<Seen>>,
    thread: Option<JoinHandle<State>>,
}

impl Screen {
    /// Takes the terminal over. `state` is what is known so far, typed lines go to `strokes`.
    ///
    /// # Errors
    /// Where the terminal cannot be put into the state that a view needs.
    pub fn open(state: State, meter: Meter, strokes: Sender<Stroke>) -> std::io::Result<Self> {
        GIVEN_BACK.store(false, Ordering::Release);
        let terminal = ratatui::try_init()?;
        let hook = std::panic::take_hook();
        std::panic::set_hook(Box::new(move |panic| {
            GIVEN_BACK.store(true, Ordering::Release);
            hook(panic);
        }));
        let (news, received) = channel();
        let view = View {
            terminal,
            state,
            meter,
            strokes,
            news: received,
            interrupted: false,
            opened: Instant::now(),
        };
        let thread = std::thread::Builder::new()
            .name("screen".to_owned())
            .spawn(move || view.run())
            .inspect_err(|_| ratatui::restore())?;
        Ok(Self {
            news: Some(news),
            thread: Some(thread),
        })
    }

    fn tell(&self, seen: Seen) {
        if let Some(news) = &self.news {
            // A view that is gone is no reason to stop a walk.
            let _ = news.send(seen);
        }
    }
}

impl Drop for Screen {
    fn drop(&mut self) {
        drop(self.news.take());
        // It ends at the word above; what went wrong in it was shown by its panic.
        let last = self.thread.take().and_then(|thread| thread.join().ok());
        ratatui::restore();
        GIVEN_BACK.store(true, Ordering::Release);
        // The view is gone with what it said last, which may be that the load is not ready.
        for line in last.iter().flat_map(State::ending) {
            tell!("{line}");
        }
    }
}

impl Observer for Screen {
    fn say(&mut self, say: &Say) {
        self.tell(Seen::Say(say.id, say.text.clone()));
    }

    fn said(&mut self, id: SayId) {
        self.tell(Seen::Said(id));
    }

    fn quiet(&mut self) {
        self.tell(Seen::Quiet);
    }

    fn listening(&mut self) {
        self.tell(Seen::Listening(true));
    }

    fn hushed(&mut self) {
        self.tell(Seen::Listening(false));
    }

    #[cfg(feature = "whisper")]
    fn heard(&mut self, recognition: &Recognition, _: &str) {
        let confidence = f64::from(recognition.judgement.confidence);
        let heard = Heard::new(&recognition.words, confidence, &recognition.decision());
        self.tell(Seen::Heard(heard));
    }

    #[cfg(feature = "whisper")]
    fn called(&mut self, breath: &Breath, _: &str) {
        let taken = |item: &&HeardItem| item.judgement.verdict == Verdict::Take;
        let all = breath.items.len();
        let confidences = breath.items.iter().map(|i| i.judgement.confidence);
        self.tell(Seen::Heard(Heard {
            words: breath.words.clone(),
            confidence: f64::from(confidences.fold(1.0, f32::min)),
            decision: match breath.items.iter().filter(taken).count() {
                0 => "NOTHING TAKEN".to_owned(),
                n => format!("{n} OF {all} TAKEN"),
            },
        }));
    }

    #[cfg(feature = "whisper")]
    fn note(&mut self, transcript: &str) {
        self.tell(Seen::Remark(format!(
            "note, machine transcript: \"{transcript}\""
        )));
    }

    fn entry(&mut self, _: u64, entry: &Entry) {
        self.tell(Seen::Entry(Box::new(entry.clone())));
    }

    fn trouble(&mut self, what: &str) {
        self.tell(Seen::Remark(what.to_owned()));
    }

    fn over(&mut self, why: &str) {
        self.tell(Seen::Over(why.to_owned()));
    }
}

/// What the thread has.
struct View {
    terminal: DefaultTerminal,
    state: State,
    meter: Meter,
    strokes: Sender<Stroke>,
    news: Receiver<Seen>,
    interrupted: bool,
    opened: Instant,
}

impl View {
    fn run(mut self) -> State {
        while self.take_news() && !GIVEN_BACK.load(Ordering::Acquire) {
            self.state.level_db = self.meter.level_db();
            self.state.elapsed_ms = self.opened.elapsed().as_millis() as u64;
            let state = &self.state;
            // A terminal that is gone is no reason to stop a walk; the headset goes on.
            let drawn = self
                .terminal
                .draw(|frame| draw(state, frame.area(), frame.buffer_mut()));
            if drawn.is_err() || self.take_keys().is_err() {
                std::thread::sleep(LOOK);
            }
        }
        self.state
    }

    /// False once nothing more will come.
    fn take_news(&mut self) -> bool {
        loop {
            match self.news.try_recv() {
                Ok(seen) => self.state.see(seen),
                Err(TryRecvError::Empty) => return true,
                Err(TryRecvError::Disconnected) => return false,
            }
        }
    }

    fn take_keys(&mut self) -> std::io::Result<()> {
        let mut wait = LOOK;
        while event::poll(wait)? {
            wait = Duration::ZERO;
            let Event::Key(key) = event::read()? else {
                continue;
            };
            if key.kind == KeyEventKind::Release {
                continue;
            }
            let control = key.modifiers.contains(KeyModifiers::CONTROL);
            match key.code {
                KeyCode::Char('c') if control => self.interrupt(),
                KeyCode::Char('l') if control => self.terminal.clear()?,
                KeyCode::Char('u') if control => self.state.typed.clear(),
                KeyCode::Esc => self.state.typed.clear(),
                KeyCode::Backspace => {
                    self.state.typed.pop();
                }
                KeyCode::Enter => {
                    let line = std::mem::take(&mut self.state.typed);
                    // Where nobody takes the line, the walk is over.
                    let _ = self.strokes.send(Stroke::Line(line));
                }
                KeyCode::Char(c) if !control && self.state.typed.chars().count() < TYPED_MAX => {
                    self.state.typed.push(c);
                }
                _ => {}
            }
        }
        Ok(())
    }

    /// The first Ctrl-C breaks the walk off; a second one ends the process, which the record survives.
    fn interrupt(&mut self) {
        if std::mem::replace(&mut self.interrupted, true) {
            ratatui::restore();
            std::process::exit(1);
        }
        let _ = self.strokes.send(Stroke::Interrupt);
    }
}
