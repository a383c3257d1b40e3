//! Makes rules of tokens. A fault skips to the next semicolon, so that one run names several.

use super::lexer::{Lexed, Token, lex};
use super::{Expansion, File, Rule, Span};
use crate::diagnostic::{Finding, Severity};
use crate::grammar::limits::{MAX_FILE_BYTES, MAX_FINDINGS, MAX_NESTING, MAX_REPEATS};

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
    let line = text.lines().next().unwrap_or("");
    let Some(inside) = line.strip_prefix("#ABNF ") else {
        let end = if line.starts_with('#') { line.len() } else { 0 };
        findings.push(error(Some(0..end), "the header is missing", HELP));
        return end;
    };
    let Some(semicolon) = inside.find(';') else {
        findings.push(error(
            Some(0..line.len()),
            "the header does not end in a semicolon",
            HELP,
        ));
        return line.len();
    };
    let mut parts = inside[..semicolon].split_whitespace();
    let end = "#ABNF ".len() + semicolon + 1;
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

type Parsed<T> = Result<T, Box<Finding>>;

struct Parser {
    tokens: Vec<(Token, Span)>,
    at: usize,
    end: usize,
    findings: Vec<Finding>,
    file: File,
    language: bool,
    literals: bool,
    /// The first tag, to ask for a `tag-format` where there is none.
    tag: Option<Span>,
}

impl Parser {
    fn peek(&self) -> Option<&Token> {
        self.tokens.get(self.at).map(|(token, _)| token)
    }

    fn span(&self) -> Span {
        self.tokens
            .get(self.at)
            .map_or(self.end..self.end, |(_, span)| span.clone())
    }

    fn fault<T>(&self, title: impl Into<String>, help: impl Into<String>) -> Parsed<T> {
        Err(Box::new(error(Some(self.span()), title, help)))
    }

    fn take_mark(&mut self, mark: char) -> bool {
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

    fn found(&self) -> String {
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
    fn check_name(&self, name: &str) -> Parsed<()> {
        let starts = name.starts_with(|c: char| c.is_alphabetic() || c == '_');
        if starts && name.chars().all(|c| c.is_alphanumeric() || c == '_') {
            return Ok(());
        }
        self.fault(
            format!("`${name}` is not a legal rule name"),
            "use letters, digits and `_`, a letter first",
        )
    }

    fn choice(&mut self, depth: usize) -> Parsed<Expansion> {
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
