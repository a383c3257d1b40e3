//! Who watches a walk: a person before lines or a full-screen view, or a program that reads JSON.

use super::drive::{JsonLines, Observer, Plain, Typing};
#[cfg(feature = "screen")]
use super::drive::{Stroke, each_stroke};
use super::exit::Failure;
#[cfg(feature = "screen")]
use super::out::tell;
#[cfg(feature = "screen")]
use super::screen::{Screen, State};
use super::walk::How;
use super::world::World;
use crate::walk::Ledger;
#[cfg(feature = "screen")]
use std::sync::mpsc::{Receiver, Sender, channel};

/// Who watches, before the world is open.
pub(super) enum Watch {
    Lines,
    Json,
    #[cfg(feature = "screen")]
    Screen(Sender<Stroke>, Option<Receiver<Stroke>>),
}

impl Watch {
    pub(super) fn of(how: &How) -> Self {
        if how.json {
            return Self::Json;
        }
        #[cfg(feature = "screen")]
        if shows_view(how) {
            let (sender, strokes) = channel();
            return Self::Screen(sender, Some(strokes));
        }
        Self::Lines
    }

    /// Opens the world; where a view takes the keys, the world takes them from it.
    pub(super) fn open_world(mut self, how: &How) -> Result<(World, Self), Failure> {
        let typing = self.typing();
        Ok((World::open(how, typing)?, self))
    }

    fn typing(&mut self) -> Typing {
        #[cfg(feature = "screen")]
        if let Self::Screen(_, strokes) = self
            && let Some(strokes) = strokes.take()
        {
            return Typing::View(strokes);
        }
        Typing::StandardInput
    }

    /// Begins to watch. `ledger`: what is on the disk already.
    #[cfg_attr(
        not(feature = "screen"),
        expect(unused_variables, reason = "only a view shows them")
    )]
    pub(super) fn observer(self, ledger: &Ledger, world: &World) -> Box<dyn Observer> {
        match self {
            Self::Lines => Box::new(Plain),
            Self::Json => Box::new(JsonLines),
            #[cfg(feature = "screen")]
            Self::Screen(strokes, _) => {
                let colour = std::env::var_os("NO_COLOR").is_none_or(|v| v.is_empty());
                let state = State::new(ledger.clone(), world.means.clone(), colour);
                match Screen::open(state, world.meter.clone(), strokes.clone()) {
                    Ok(screen) => Box::new(screen),
                    Err(error) => {
                        tell!("loadwalk: no full-screen view: {error}; lines instead");
                        each_stroke(Typing::StandardInput, move |s| strokes.send(s).is_ok());
                        Box::new(Plain)
                    }
                }
            }
        }
    }
}

/// The view needs a terminal on both sides, and a walk that takes its time.
#[cfg(feature = "screen")]
fn shows_view(how: &How) -> bool {
    use std::io::IsTerminal;
    let from_input = how
        .means
        .answers
        .as_ref()
        .is_some_and(|a| a.as_os_str() == "-");
    // Lines keep all that nobody hears; a view shows the latest of it.
    (!how.plain && (!how.keys || how.view))
        && !how.means.fast
        && !from_input
        && std::io::stdin().is_terminal()
        && std::io::stdout().is_terminal()
}
