//! How words, numbers and letters are written and put together: a small machine that knows what was
//! written last.

use super::graph::{Graph, Label};
use super::spoken::{COMPOUNDS, Kind, kind, spellings, symbols};

/// What was written last, and so what may follow.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(super) enum Pen {
    /// Nothing yet.
    Start,
    /// A gap was written; a word or number is due.
    Due { capital: bool, after: After },
    /// A hyphen was written; the second of two number words is due.
    Hyphen { after: After },
    /// A word in letters; `number` where a hyphen may follow it.
    Word { number: bool },
    /// The last of a row of figures, each from one word.
    Digit(Row),
    /// The first figure of twenty to ninety; the second is due.
    Tens,
    /// The first figure of a hundred; two more are due.
    Hundred,
    /// The same after "and".
    HundredAnd,
    /// A 1 for "a"; "hundred" is due.
    A,
    /// A whole number to which no figure can be added.
    Whole,
    /// A decimal point.
    Point,
    /// Figures after a decimal point.
    Fraction,
    /// A single letter.
    Letter,
    /// The first half of a compound; the number in [`COMPOUNDS`].
    Half(u8),
}

/// How a row of figures was put together: rows are written joined or apart, not both, since ` 20 1` is
/// twenty-one and not two, zero, one.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(super) enum Row {
    First,
    Joined,
    Apart,
}

/// What stood before a gap.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(super) enum After {
    Other,
    Apart,
    Joined,
}

impl Pen {
    /// Whether the utterance may end here.
    pub(super) fn may_end(self) -> bool {
        matches!(
            self,
            Self::Word { .. } | Self::Digit(_) | Self::Whole | Self::Fraction | Self::Letter
        )
    }

    fn is_figure(self) -> bool {
        matches!(self, Self::Digit(_) | Self::Whole | Self::Fraction)
    }

    fn after(self) -> After {
        match self {
            Self::Digit(Row::Joined) => After::Joined,
            Self::Digit(_) | Self::Whole => After::Apart,
            _ => After::Other,
        }
    }

    /// What may be written without a word: gaps, and the noughts that a number still lacks.
    pub(super) fn silent(self, out: &mut Vec<(&'static str, Pen)>) {
        match self {
            Self::Start => out.push((
                " ",
                Self::Due {
                    capital: true,
                    after: After::Other,
                },
            )),
            Self::Tens => out.push(("0", Self::Whole)),
            Self::Hundred => out.push(("00", Self::Whole)),
            _ if self.may_end() => {
                let after = self.after();
                for (gap, capital) in [(" ", false), (", ", false), (". ", true)] {
                    out.push((gap, Self::Due { capital, after }));
                }
                if self != (Self::Word { number: false }) {
                    out.push(("-", Self::Hyphen { after }));
                }
            }
            _ => {}
        }
    }
}

/// Who writes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Hand {
    /// A recogniser. It hardly ever writes the letter for a word of the spelling alphabet, but would
    /// spell by letters what nobody spelled: ` Go 58` is G, O, 5, 8. It is not allowed to.
    Recogniser,
    /// A person at a keyboard, who types `GO58`.
    Keyboard,
}

/// How words are written.
pub(super) struct Writer {
    /// A row of figures may be cut anywhere where no word stands for more than one figure.
    free_rows: bool,
    hand: Hand,
}

impl Writer {
    /// A writer for the words of this graph.
    pub(super) fn new(graph: &Graph, hand: Hand) -> Self {
        let longer =
            |word: &str| matches!(kind(word), Kind::Teen(_) | Kind::Tens(_) | Kind::Hundred);
        Self {
            hand,
            free_rows: !graph
                .nodes
                .iter()
                .flatten()
                .any(|edge| matches!(&edge.label, Label::Word(word) if longer(word))),
        }
    }

    /// All ways to write the next word: what is added, and where the pen then is.
    pub(super) fn word(&self, pen: Pen, word: &str, out: &mut Vec<(String, Pen)>) {
        out.clear();
        let what = kind(word);
        match pen {
            Pen::Due { capital, after } => {
                self.letters(word, what, capital, out);
                self.figures(what, after, out);
                for symbol in symbols(word) {
                    out.push(((*symbol).into(), Pen::Word { number: false }));
                }
            }
            Pen::Hyphen { after } => {
                if what != Kind::Other {
                    self.letters(word, what, false, out);
                    self.figures(what, after, out);
                }
            }
            Pen::Half(at) => {
                let (_, second, _, gaps, rest) = COMPOUNDS[usize::from(at)];
                if word == second {
                    for gap in gaps {
                        out.push((format!("{gap}{rest}"), Pen::Word { number: false }));
                    }
                }
            }
            _ => self.joined(pen, what, out),
        }
        if pen.is_figure() {
            for symbol in symbols(word) {
                out.push(((*symbol).into(), Pen::Word { number: false }));
            }
        }
    }

    fn letters(&self, word: &str, what: Kind, capital: bool, out: &mut Vec<(String, Pen)>) {
        // "and" and "a" stand among number words, but no hyphen goes with them.
        let number = !matches!(what, Kind::Other | Kind::And | Kind::A);
        let capital = capital || matches!(what, Kind::Letter(_));
        let pen = Pen::Word { number };
        for form in std::iter::once(word).chain(spellings(word).iter().copied()) {
            if out.iter().any(|(known, _)| known == form) {
                continue;
            }
            out.push((form.to_owned(), pen));
            let upper = capitalised(form);
            if capital && upper != form {
                out.push((upper, pen));
            }
        }
        for (at, (first, _, form, _, _)) in COMPOUNDS.iter().enumerate() {
            if *first == word {
                // The table has fewer than 256 rows.
                let pen = Pen::Half(at as u8);
                out.push(((*form).to_owned(), pen));
                if capital {
                    out.push((capitalised(form), pen));
                }
            }
        }
    }

    /// A number or letter begun after a gap.
    fn figures(&self, what: Kind, after: After, out: &mut Vec<(String, Pen)>) {
        let free = self.free_rows || after != After::Joined;
        match what {
            Kind::Digit(d) if free => {
                let row = match after {
                    After::Apart if !self.free_rows => Row::Apart,
                    _ => Row::First,
                };
                out.push((d.to_string(), Pen::Digit(row)));
            }
            Kind::Teen(n) if free => out.push((n.to_string(), Pen::Whole)),
            Kind::Tens(d) if free => out.push((d.to_string(), Pen::Tens)),
            Kind::Hundred if free => out.push(("1".into(), Pen::Hundred)),
            Kind::A if free => out.push(("1".into(), Pen::A)),
            Kind::Point => {
                out.push((".".into(), Pen::Point));
                out.push(("0.".into(), Pen::Point));
            }
            Kind::Letter(letter) if self.hand == Hand::Keyboard => {
                out.push((char::from(letter).into(), Pen::Letter));
            }
            _ => {}
        }
    }

    /// A number or letter set right behind what was written.
    fn joined(&self, pen: Pen, what: Kind, out: &mut Vec<(String, Pen)>) {
        let digit = |d: u8, to: Pen| (d.to_string(), to);
        match (pen, what) {
            (Pen::Digit(Row::First | Row::Joined), Kind::Digit(d)) => {
                out.push(digit(d, Pen::Digit(Row::Joined)));
            }
            (Pen::Letter, Kind::Digit(d)) => out.push(digit(d, Pen::Digit(Row::First))),
            (Pen::Letter | Pen::Digit(_), Kind::Letter(letter)) if self.hand == Hand::Keyboard => {
                out.push((char::from(letter).into(), Pen::Letter));
            }
            // "one fifteen" for 115.
            (Pen::Digit(Row::First), Kind::Teen(n)) => out.push(digit(n, Pen::Whole)),
            (Pen::Digit(Row::First), Kind::Tens(d)) => out.push(digit(d, Pen::Tens)),
            (Pen::Digit(Row::First) | Pen::A, Kind::Hundred) => {
                out.push((String::new(), Pen::Hundred));
            }
            (Pen::Hundred, Kind::And) => out.push((String::new(), Pen::HundredAnd)),
            (Pen::Hundred | Pen::HundredAnd, Kind::Digit(d)) => {
                out.push((format!("0{d}"), Pen::Whole));
            }
            (Pen::Hundred | Pen::HundredAnd, Kind::Teen(n)) => out.push(digit(n, Pen::Whole)),
            (Pen::Hundred | Pen::HundredAnd, Kind::Tens(d)) => out.push(digit(d, Pen::Tens)),
            (Pen::Tens, Kind::Digit(d)) if d > 0 => out.push(digit(d, Pen::Whole)),
            (Pen::Digit(_) | Pen::Whole, Kind::Point) => out.push((".".into(), Pen::Point)),
            (Pen::Point | Pen::Fraction, Kind::Digit(d)) => out.push(digit(d, Pen::Fraction)),
            _ => {}
        }
    }
}

pub(crate) fn capitalised(word: &str) -> String {
    let mut chars = word.chars();
    chars.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(chars).collect()
    })
}
