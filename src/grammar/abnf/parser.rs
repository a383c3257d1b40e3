//! Makes rules of tokens. A fault skips to the next semicolon, so that one run names several.

use super::lexer::{Lexed, Token, lex};
use super::{File, Rule, Span};
use crate::diagnostic::{Finding, Severity};
use crate::grammar::limits::{MAX_FILE_BYTES, MAX_FINDINGS};

/// Reads one file. The rules that could be read are returned beside the findings.
pub(crate) fn parse(text: &str) -> (File, Vec<Finding>) {
    if text.len() > MAX_FILE_BYTES {
        let finding = error(
            None,
            format!("the file is longer than {MAX_FILE_BYTES} bytes"),
            "split it, or remove what is not a grammar",
        );
        return (File::default(), vec![finding]);
    }
    let mut findings = Vec::new();
    let from = header(text, &mut findings);
    let Lexed {
        tokens,
        findings: more,
    } = lex(text, from);
    findings.extend(more);
    let mut parser = Parser {
        tokens,
        at: 0,
        end: text.len(),
        findings,
        file: File::default(),
        language: false,
        literals: false,
        tag: None,
    };
    while parser.at < parser.tokens.len() && parser.findings.len() < MAX_FINDINGS {
        if let Err(finding) = parser.statement() {
            parser.findings.push(*finding);
            parser.skip_statement();
        }
    }
    parser.close()
}

fn error(span: Option<Span>, title: impl Into<String>, help: impl Into<String>) -> Finding {
    Finding {
        severity: Severity::Error,
        title: title.into(),
        span,
        label: String::new(),
        help: help.into(),
    }
}

/// Reads the self-identifying header (SRGS 1.0 section 4.1); returns the byte after it.
fn header(text: &str, findings: &mut Vec<Finding>) -> usize {
    const HELP: &str = "begin the file with the line `#ABNF 1.0 UTF-8;`";
    // Some editors put a mark of the byte order first.
    let from = text.len() - text.trim_start_matches('\u{feff}').len();
    let line = text[from..].lines().next().unwrap_or("");
    let Some(inside) = line.strip_prefix("#ABNF ") else {
        let end = if line.starts_with('#') {
            from + line.len()
        } else {
            from
        };
        findings.push(error(Some(from..end), "the header is missing", HELP));
        return end;
    };
    let Some(semicolon) = inside.find(';') else {
        let end = from + line.len();
        findings.push(error(
            Some(from..end),
            "the header does not end in a semicolon",
            HELP,
        ));
        return end;
    };
    let mut parts = inside[..semicolon].split_whitespace();
    let end = from + "#ABNF ".len() + semicolon + 1;
    let version = parts.next();
    let encoding = parts.next().unwrap_or("UTF-8");
    if version != Some("1.0") || parts.next().is_some() {
        findings.push(error(
            Some(0..end),
            "the header is not of version 1.0",
            HELP,
        ));
    } else if !encoding.eq_ignore_ascii_case("UTF-8") {
        let help = "save the file as UTF-8 and begin it with `#ABNF 1.0 UTF-8;`";
        let title = format!("the encoding {encoding} is not supported");
        findings.push(error(Some(0..end), title, help));
    }
    end
}

pub(super) type Parsed<T> = Result<T, Box<Finding>>;

pub(super) struct Parser {
    tokens: Vec<(Token, Span)>,
    pub(super) at: usize,
    end: usize,
    findings: Vec<Finding>,
    file: File,
    language: bool,
    literals: bool,
    /// The first tag, to ask for a `tag-format` where there is none.
    pub(super) tag: Option<Span>,
}

impl Parser {
    pub(super) fn peek(&self) -> Option<&Token> {
        self.tokens.get(self.at).map(|(token, _)| token)
    }

    pub(super) fn span(&self) -> Span {
        self.tokens
            .get(self.at)
            .map_or(self.end..self.end, |(_, span)| span.clone())
    }

    pub(super) fn fault<T>(&self, title: impl Into<String>, help: impl Into<String>) -> Parsed<T> {
        Err(Box::new(error(Some(self.span()), title, help)))
    }

    pub(super) fn take_mark(&mut self, mark: char) -> bool {
        let found = self.peek() == Some(&Token::Mark(mark));
        self.at += usize::from(found);
        found
    }

    fn semicolon(&mut self, after: &str) -> Parsed<()> {
        if self.take_mark(';') {
            return Ok(());
        }
        self.fault(
            format!("expected a semicolon after {after}, found {}", self.found()),
            "end the statement with `;`",
        )
    }

    pub(super) fn found(&self) -> String {
        match self.peek() {
            None => "the end of the file".into(),
            Some(Token::Word(word)) => format!("`{word}`"),
            Some(Token::Quoted(word)) => format!("`\"{word}\"`"),
            Some(Token::Rule(name)) => format!("`${name}`"),
            Some(Token::Foreign(inside)) => format!("`$<{inside}>`"),
            Some(Token::Angle(inside)) => format!("`<{inside}>`"),
            Some(Token::Weight(inside)) => format!("`/{inside}/`"),
            Some(Token::Tag(inside)) => format!("`{{{inside}}}`"),
            Some(Token::Mark(mark)) => format!("`{mark}`"),
            Some(Token::Language(name)) => format!("`!{name}`"),
        }
    }

    fn skip_statement(&mut self) {
        while self.at < self.tokens.len() {
            self.at += 1;
            if self.tokens[self.at - 1].0 == Token::Mark(';') {
                return;
            }
        }
    }

    /// One declaration or rule.
    fn statement(&mut self) -> Parsed<()> {
        let span = self.span();
        let word = match self.peek() {
            Some(Token::Word(word)) => word.clone(),
            Some(Token::Rule(_)) => return self.rule(false),
            Some(Token::Tag(_)) => {
                return self.fault(
                    "tags outside rules are not supported",
                    "move the tag into a rule",
                );
            }
            _ => {
                return self.fault(
                    format!("expected a declaration or a rule, found {}", self.found()),
                    "write a rule as `public $name = words {value};`",
                );
            }
        };
        self.at += 1;
        match (word.as_str(), self.peek()) {
            ("public", _) => self.rule(true),
            ("private", _) => self.rule(false),
            ("language", Some(Token::Word(_))) => {
                self.language = true;
                self.at += 1;
                self.semicolon("the language")
            }
            ("mode", Some(Token::Word(mode))) if mode == "voice" => {
                self.at += 1;
                self.semicolon("the mode")
            }
            ("mode", _) => self.fault("only spoken grammars are supported", "write `mode voice;`"),
            ("root", Some(Token::Rule(name))) => {
                let name = name.clone();
                let place = self.span();
                self.at += 1;
                self.semicolon("the root")?;
                if self.file.root.is_some() {
                    let help = "keep one `root` declaration";
                    return Err(Box::new(error(Some(span), "a second root", help)));
                }
                self.file.root = Some((name, place));
                Ok(())
            }
            ("tag-format", Some(Token::Angle(format))) if format == "semantics/1.0-literals" => {
                self.literals = true;
                self.at += 1;
                self.semicolon("the tag format")
            }
            ("tag-format", _) => {
                self.literals = true;
                self.fault(
                    format!("the tag format {} is not supported", self.found()),
                    "write `tag-format <semantics/1.0-literals>;`",
                )
            }
            // Data about the file (section 4.11) changes nothing here.
            ("meta" | "http-equiv", _) => {
                self.skip_statement();
                Ok(())
            }
            ("base" | "lexicon", _) => Err(Box::new(error(
                Some(span),
                format!("`{word}` is not supported"),
                "remove the declaration; files refer to each other by file name",
            ))),
            ("language" | "root", _) => self.fault(
                format!("`{word}` is not followed by a name"),
                "write `language en;` or `root $name;`",
            ),
            _ => Err(Box::new(error(
                Some(span),
                format!("`{word}` is neither a declaration nor a rule"),
                "write a rule as `public $name = words {value};`",
            ))),
        }
    }

    fn rule(&mut self, public: bool) -> Parsed<()> {
        let span = self.span();
        let Some(Token::Rule(name)) = self.peek().cloned() else {
            return self.fault(
                format!("expected a rule name, found {}", self.found()),
                "write `$` and the name",
            );
        };
        if matches!(name.as_str(), "NULL" | "VOID" | "GARBAGE") {
            return self.fault(
                format!("`${name}` is a special rule and cannot be defined"),
                "choose another name",
            );
        }
        self.check_name(&name)?;
        self.at += 1;
        if !self.take_mark('=') {
            return self.fault(
                format!("expected `=` after `${name}`, found {}", self.found()),
                "write `$name = words;`",
            );
        }
        let body = self.choice(0)?;
        self.semicolon("the rule")?;
        self.file.rules.push(Rule {
            name,
            span,
            public,
            body,
        });
        Ok(())
    }

    /// Names hold no `.`, `:` or `-` (ConstrainedName in the grammar of SRGS 1.0 appendix D).
    pub(super) fn check_name(&self, name: &str) -> Parsed<()> {
        let starts = name.starts_with(|c: char| c.is_alphabetic() || c == '_');
        if starts && name.chars().all(|c| c.is_alphanumeric() || c == '_') {
            return Ok(());
        }
        self.fault(
            format!("`${name}` is not a legal rule name"),
            "use letters, digits and `_`, a letter first",
        )
    }

    fn close(mut self) -> (File, Vec<Finding>) {
        if self.findings.is_empty() {
            if !self.language {
                self.findings.push(error(
                    Some(0..0),
                    "the language is not declared",
                    "write `language en;` after the header",
                ));
            }
            if let (false, Some(span)) = (self.literals, self.tag.clone()) {
                self.findings.push(error(
                    Some(span),
                    "a tag without a declared format",
                    "write `tag-format <semantics/1.0-literals>;` after the header",
                ));
            }
            if self.file.rules.is_empty() {
                self.findings.push(error(
                    Some(0..0),
                    "the file has no rule",
                    "write one as `public $name = words {value};`",
                ));
            }
        }
        self.findings.truncate(MAX_FINDINGS);
        (self.file, self.findings)
    }
}
