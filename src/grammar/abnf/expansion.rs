//! Reads what stands on the right of a rule: words, tags, groups, alternatives, repeats, references.

use super::lexer::Token;
use super::parser::{Parsed, Parser};
use super::{Expansion, Span};
use crate::grammar::limits::{MAX_NESTING, MAX_REPEATS};

impl Parser {
    pub(super) fn choice(&mut self, depth: usize) -> Parsed<Expansion> {
        if depth > MAX_NESTING {
            return self.fault(
                format!("groups are nested deeper than {MAX_NESTING}"),
                "move an inner group into a rule of its own",
            );
        }
        let mut items = Vec::new();
        loop {
            let weight = self.weight()?;
            items.push((weight, self.sequence(depth)?));
            if !self.take_mark('|') {
                break;
            }
        }
        if items.len() == 1 && items[0].0.is_none() {
            return Ok(items.remove(0).1);
        }
        Ok(Expansion::Choice(items))
    }

    /// A weight before an alternative (section 2.4.1): a number without sign.
    fn weight(&mut self) -> Parsed<Option<f32>> {
        let Some(Token::Weight(inside)) = self.peek() else {
            return Ok(None);
        };
        let digits = inside.trim();
        let plain = digits.chars().all(|c| c.is_ascii_digit() || c == '.');
        match digits.parse::<f32>() {
            Ok(weight) if plain && weight.is_finite() => {
                self.at += 1;
                Ok(Some(weight))
            }
            _ => self.fault(
                format!("`/{inside}/` is not a weight"),
                "write a number of zero or more between the slashes",
            ),
        }
    }

    fn sequence(&mut self, depth: usize) -> Parsed<Expansion> {
        let mut items = Vec::new();
        let first = self.at;
        loop {
            let span = self.span();
            let item = match self.peek().cloned() {
                Some(Token::Word(word)) => self.words(&word)?,
                Some(Token::Quoted(words)) => self.words(&words)?,
                Some(Token::Tag(tag)) => {
                    self.tag.get_or_insert(span);
                    self.tag_text(&tag)?
                }
                Some(Token::Rule(name)) => self.reference(name, span)?,
                Some(Token::Foreign(inside)) => self.foreign(&inside, span)?,
                Some(Token::Mark('(')) => {
                    self.at += 1;
                    if self.take_mark(')') {
                        Expansion::Null
                    } else {
                        let inner = self.choice(depth + 1)?;
                        self.closing(')')?;
                        inner
                    }
                }
                Some(Token::Mark('[')) => {
                    self.at += 1;
                    if self.take_mark(']') {
                        Expansion::Null
                    } else {
                        let inner = self.choice(depth + 1)?;
                        self.closing(']')?;
                        Expansion::Repeat(Box::new(inner), 0, 1)
                    }
                }
                Some(Token::Language(_)) => {
                    return self.fault(
                        "language attachments are not supported",
                        "remove it; a file has one language",
                    );
                }
                Some(Token::Angle(_)) => {
                    return self.fault(
                        "a repeat follows nothing that could be repeated",
                        "write it right after the item, once",
                    );
                }
                Some(Token::Weight(_)) => {
                    return self.fault(
                        "a weight stands inside a sequence",
                        "write it at the start of an alternative",
                    );
                }
                _ => break,
            };
            items.push(self.repeat(item)?);
        }
        if self.at == first {
            return self.fault(
                format!("an empty expansion before {}", self.found()),
                "write words, or `$NULL` where nothing need be said",
            );
        }
        if items.len() == 1 {
            return Ok(items.remove(0));
        }
        Ok(Expansion::Sequence(items))
    }

    fn closing(&mut self, mark: char) -> Parsed<()> {
        if self.take_mark(mark) {
            return Ok(());
        }
        self.fault(
            format!("expected `{mark}`, found {}", self.found()),
            "close the group",
        )
    }

    fn words(&mut self, text: &str) -> Parsed<Expansion> {
        let words = crate::grammar::spoken::words(text);
        if words.is_empty() {
            return self.fault(
                format!("`{text}` holds nothing that can be spoken"),
                "write words with letters, as they are said",
            );
        }
        self.at += 1;
        Ok(Expansion::Words(words))
    }

    fn tag_text(&mut self, tag: &str) -> Parsed<Expansion> {
        let tag = tag.trim();
        if tag.chars().any(char::is_control) {
            return self.fault(
                "a tag holds a line break or a control character",
                "write the value on one line",
            );
        }
        self.at += 1;
        Ok(Expansion::Tag(tag.to_owned()))
    }

    fn reference(&mut self, name: String, span: Span) -> Parsed<Expansion> {
        let item = match name.as_str() {
            "NULL" => Expansion::Null,
            "VOID" => Expansion::Void,
            "GARBAGE" => {
                return self.fault(
                    "`$GARBAGE` is not supported",
                    "name the words; speech outside the grammar is refused",
                );
            }
            _ => {
                self.check_name(&name)?;
                Expansion::Local(name, span)
            }
        };
        self.at += 1;
        Ok(item)
    }

    fn foreign(&mut self, inside: &str, span: Span) -> Parsed<Expansion> {
        let (file, rule) = match inside.split_once('#') {
            Some((file, rule)) => (file, Some(rule.to_owned())),
            None => (inside, None),
        };
        let plain = !file.is_empty() && !file.contains([':', '/', '\\']);
        if !plain || rule.as_deref() == Some("") {
            return self.fault(
                format!("`$<{inside}>` does not name a file of this set"),
                "write `$<file.abnf#rule>` with a file in the same folder",
            );
        }
        self.at += 1;
        Ok(Expansion::Foreign(file.to_owned(), rule, span))
    }

    /// The repeat after an item, if any (section 2.5).
    fn repeat(&mut self, item: Expansion) -> Parsed<Expansion> {
        let Some(Token::Angle(inside)) = self.peek() else {
            return Ok(item);
        };
        let inside = inside.trim();
        if inside.contains('/') {
            return self.fault(
                "repeat probabilities are not supported",
                "write the repeat without the slashes",
            );
        }
        let (low, high) = match inside.split_once('-') {
            None => (inside, inside),
            Some((_, "")) => {
                return self.fault(
                    format!("`<{inside}>` has no upper bound"),
                    format!("write one, at most {MAX_REPEATS}: no utterance goes on for ever"),
                );
            }
            Some(bounds) => bounds,
        };
        match (low.trim().parse::<u32>(), high.trim().parse::<u32>()) {
            (Ok(low), Ok(high)) if low <= high && high <= MAX_REPEATS => {
                self.at += 1;
                Ok(Expansion::Repeat(Box::new(item), low, high))
            }
            (Ok(low), Ok(high)) if low <= high => self.fault(
                format!("`<{inside}>` repeats too often"),
                format!("repeat at most {MAX_REPEATS} times"),
            ),
            _ => self.fault(
                format!("`<{inside}>` is not a repeat"),
                "write `<n>` or `<n-m>` with n not above m",
            ),
        }
    }
}
