//! Cuts the text into tokens, with comments left out.

use super::Span;
use crate::diagnostic::{Finding, Severity};
use crate::grammar::limits::MAX_FINDINGS;

/// A token of the ABNF form.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Token {
    /// An unquoted word, a keyword or a name.
    Word(String),
    /// A quoted token.
    Quoted(String),
    /// `$name`, without the dollar sign.
    Rule(String),
    /// `$<...>`, what stands inside.
    Foreign(String),
    /// `<...>`, what stands inside.
    Angle(String),
    /// `/.../`, what stands inside.
    Weight(String),
    /// `{...}` or `{!{...}!}`, what stands inside.
    Tag(String),
    /// One of `; = | ( ) [ ]`.
    Mark(char),
    /// `!name`, a language attachment.
    Language(String),
}

/// The tokens with their places, and what is wrong with the text.
pub(super) struct Lexed {
    pub tokens: Vec<(Token, Span)>,
    pub findings: Vec<Finding>,
}

/// Cuts the text that follows the self-identifying header, from byte `from`.
pub(super) fn lex(text: &str, from: usize) -> Lexed {
    let mut lexer = Lexer {
        text,
        at: from,
        out: Lexed {
            tokens: Vec::new(),
            findings: Vec::new(),
        },
    };
    while lexer.at < text.len() && lexer.out.findings.len() < MAX_FINDINGS {
        lexer.next();
    }
    lexer.out
}

struct Lexer<'t> {
    text: &'t str,
    at: usize,
    out: Lexed,
}

impl Lexer<'_> {
    fn rest(&self) -> &str {
        &self.text[self.at..]
    }

    fn push(&mut self, token: Token, end: usize) {
        self.out.tokens.push((token, self.at..end));
        self.at = end;
    }

    fn fault(&mut self, span: Span, title: String, label: &str, help: &str) {
        self.out.findings.push(Finding {
            severity: Severity::Error,
            title,
            span: Some(span),
            label: label.into(),
            help: help.into(),
        });
    }

    /// Takes what stands between `open` and `close`; without a `close` the rest of the file is lost.
    fn between(&mut self, open: &str, close: &str, what: &str, token: fn(String) -> Token) {
        let start = self.at + open.len();
        match self.text[start..].find(close) {
            Some(length) => {
                let inside = self.text[start..start + length].to_owned();
                self.push(token(inside), start + length + close.len());
            }
            None => {
                let end = start.min(self.text.len());
                self.fault(
                    self.at..end,
                    format!("{what} is never closed"),
                    "opened here",
                    &format!("close it with `{close}`"),
                );
                self.at = self.text.len();
            }
        }
    }

    fn next(&mut self) {
        let rest = self.rest();
        let Some(c) = rest.chars().next() else { return };
        match c {
            c if c.is_whitespace() => self.at += c.len_utf8(),
            '/' if rest.starts_with("//") => {
                self.at += rest.find('\n').unwrap_or(rest.len());
            }
            '/' if rest.starts_with("/*") => match rest[2..].find("*/") {
                Some(length) => self.at += 2 + length + 2,
                None => self.between("/*", "*/", "the comment", Token::Word),
            },
            '/' => self.between("/", "/", "the weight", Token::Weight),
            '"' => self.between("\"", "\"", "the quoted token", Token::Quoted),
            '{' if rest.starts_with("{!{") => self.between("{!{", "}!}", "the tag", Token::Tag),
            '{' => self.between("{", "}", "the tag", Token::Tag),
            '<' => self.between("<", ">", "the angle bracket", Token::Angle),
            '$' if rest.starts_with("$<") => {
                self.between("$<", ">", "the reference", Token::Foreign);
            }
            '$' => {
                let name = word_length(&rest[1..]);
                if name == 0 {
                    self.fault(
                        self.at..self.at + 1,
                        "a rule reference has no name".into(),
                        "",
                        "write the rule's name right after the dollar sign",
                    );
                    self.at += 1;
                } else {
                    let text = rest[1..=name].to_owned();
                    self.push(Token::Rule(text), self.at + 1 + name);
                }
            }
            '!' => {
                let name = word_length(&rest[1..]);
                let text = rest[1..=name].to_owned();
                self.push(Token::Language(text), self.at + 1 + name);
            }
            ';' | '=' | '|' | '(' | ')' | '[' | ']' => self.push(Token::Mark(c), self.at + 1),
            _ => {
                let length = word_length(rest);
                if length == 0 {
                    let end = self.at + c.len_utf8();
                    self.fault(
                        self.at..end,
                        format!("{c:?} has no meaning here"),
                        "",
                        "remove it, or put it into a quoted token",
                    );
                    self.at = end;
                } else {
                    let text = rest[..length].to_owned();
                    self.push(Token::Word(text), self.at + length);
                }
            }
        }
    }
}

/// Bytes of the unquoted word at the start.
fn word_length(text: &str) -> usize {
    text.find(|c: char| c.is_whitespace() || c.is_control() || ";=|()[]{}<>/$\"!#*+,".contains(c))
        .unwrap_or(text.len())
}
