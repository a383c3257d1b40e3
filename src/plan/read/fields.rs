//! One table of the plan: takes its keys one by one and names those left over.

use super::reader::{Findings, Text, did_you_mean};
use super::values::{Value, choose, kind_of, number_text, quantity_of, text_of, under, whole_of};
use crate::plan::{Measured, Quantity};

use std::ops::Range;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// A table with the keys asked for so far.
pub(super) struct Fields<'d> {
    table: &'d DeTable<'d>,
    /// As the plan writes it: `[load]`.
    pub place: String,
    pub span: Range<usize>,
    known: Vec<&'static str>,
}

impl<'d> Fields<'d> {
    pub fn new(table: &'d DeTable<'d>, span: Range<usize>, place: impl Into<String>) -> Self {
        Self {
            table,
            place: place.into(),
            span,
            known: Vec::new(),
        }
    }

    /// The value of an optional key.
    pub fn value(&mut self, key: &'static str) -> Option<&'d Value<'d>> {
        self.known.push(key);
        self.table.get(key)
    }

    pub fn has(&self, key: &str) -> bool {
        self.table.contains_key(key)
    }

    /// Where a key is written, or the table's head.
    pub fn key_span(&self, key: &str) -> Range<usize> {
        self.table
            .get_key_value(key)
            .map_or(self.span.clone(), |(k, _)| k.span())
    }

    /// Says that a key must be there.
    pub fn missing(&self, r: &mut Findings, key: &str, example: &str) {
        r.misfit(
            &self.span,
            format!("`{key}` is missing in {}", self.place),
            "",
            format!("add {key} = {example}"),
        );
    }

    /// Says that a table must be there.
    pub fn missing_table(&self, r: &mut Findings, header: &str) {
        let key = header.trim_matches(|c| c == '[' || c == ']');
        let key = key.rsplit_once('.').map_or(key, |(outer, _)| outer);
        r.misfit(
            &self.span,
            format!("`{key}` is missing"),
            "",
            format!("add {header} with its keys below"),
        );
    }

    /// Says that a list of tables must be there.
    pub fn missing_list(&self, r: &mut Findings, key: &str) {
        r.misfit(
            &self.span,
            format!("{} has no [[{key}]]", self.place),
            "",
            format!("add a [[{key}]] for each, with its keys below"),
        );
    }

    /// How many items a list has; a single value counts as one.
    pub fn length_of(&self, key: &str) -> usize {
        match self.table.get(key).map(Spanned::get_ref) {
            None => 0,
            Some(DeValue::Array(items)) => items.len(),
            Some(_) => 1,
        }
    }

    /// Where the names under a key stand, in file order.
    pub fn names_under(&self, key: &str) -> Vec<Range<usize>> {
        let Some(DeValue::Table(table)) = self.table.get(key).map(Spanned::get_ref) else {
            return Vec::new();
        };
        let inner = Fields::new(table, self.span.clone(), "");
        let named = inner
            .entries()
            .into_iter()
            .filter(|(_, v)| matches!(v.get_ref(), DeValue::Table(_)));
        named.map(|(name, _)| name.span).collect()
    }

    fn wrong(&self, r: &mut Findings, key: &str, value: &Value<'_>, wanted: &str, example: &str) {
        r.error(
            &value.span(),
            format!(
                "`{key}` in {} is {}; it takes {wanted}",
                self.place,
                kind_of(value)
            ),
            format!("not {wanted}"),
            format!("write {key} = {example}"),
        );
    }

    /// A text that is not empty.
    pub fn text(&mut self, r: &mut Findings, key: &'static str, example: &str) -> Option<Text> {
        let value = self.value(key)?;
        let DeValue::String(s) = value.get_ref() else {
            self.wrong(r, key, value, "a text", &format!("\"{example}\""));
            return None;
        };
        text_of(r, key, s, value.span(), example)
    }

    pub fn need_text(
        &mut self,
        r: &mut Findings,
        key: &'static str,
        example: &str,
    ) -> Option<Text> {
        if !self.has(key) {
            self.known.push(key);
            self.missing(r, key, &format!("\"{example}\""));
            return None;
        }
        self.text(r, key, example)
    }

    /// A text, or a number taken as text; for places where a placeholder may stand.
    pub fn number_text(
        &mut self,
        r: &mut Findings,
        key: &'static str,
        wanted: &str,
        example: &str,
    ) -> Option<Text> {
        let value = self.value(key)?;
        match number_text(value) {
            Some(text) => Some(text),
            None => {
                self.wrong(r, key, value, wanted, example);
                None
            }
        }
    }

    /// A text or a list of texts.
    pub fn texts(&mut self, r: &mut Findings, key: &'static str, example: &str) -> Vec<Text> {
        let Some(value) = self.value(key) else {
            return Vec::new();
        };
        let items: Vec<&Value<'d>> = match value.get_ref() {
            DeValue::Array(items) => items.iter().collect(),
            _ => vec![value],
        };
        let mut texts = Vec::new();
        for item in items {
            match item.get_ref() {
                DeValue::String(s) => texts.extend(text_of(r, key, s, item.span(), example)),
                _ => self.wrong(r, key, item, "a text", &format!("\"{example}\"")),
            }
        }
        texts
    }

    /// Like [`Self::texts`], numbers taken as text.
    pub fn words_or_numbers(
        &mut self,
        r: &mut Findings,
        key: &'static str,
        example: &str,
    ) -> Vec<Text> {
        let Some(value) = self.value(key) else {
            return Vec::new();
        };
        let items: Vec<&Value<'d>> = match value.get_ref() {
            DeValue::Array(items) => items.iter().collect(),
            _ => vec![value],
        };
        let mut texts = Vec::new();
        for item in items {
            match number_text(item) {
                Some(text) => texts.push(text),
                None => self.wrong(r, key, item, "a text or a number", example),
            }
        }
        texts
    }

    pub fn flag(&mut self, r: &mut Findings, key: &'static str) -> Option<(bool, Range<usize>)> {
        let value = self.value(key)?;
        let DeValue::Boolean(b) = value.get_ref() else {
            self.wrong(r, key, value, "true or false", "true");
            return None;
        };
        Some((*b, value.span()))
    }

    pub fn whole(
        &mut self,
        r: &mut Findings,
        key: &'static str,
        range: std::ops::RangeInclusive<u32>,
    ) -> Option<(u32, Range<usize>)> {
        let value = self.value(key)?;
        let example = range.start().max(&1).to_string();
        if !matches!(value.get_ref(), DeValue::Integer(_)) {
            self.wrong(r, key, value, "a whole number", &example);
            return None;
        }
        whole_of(r, key, value, range)
    }

    pub fn number(&mut self, r: &mut Findings, key: &'static str) -> Option<(f64, Range<usize>)> {
        let value = self.value(key)?;
        let number = match value.get_ref() {
            DeValue::Integer(i) if i.radix() == 10 => i.as_str().parse::<f64>().ok(),
            DeValue::Float(f) => f.as_str().parse::<f64>().ok(),
            _ => None,
        };
        match number {
            Some(n) if n.is_finite() => Some((n, value.span())),
            _ => {
                self.wrong(r, key, value, "a number", "1.5");
                None
            }
        }
    }

    /// One of a few words.
    pub fn choice<T: Copy>(
        &mut self,
        r: &mut Findings,
        key: &'static str,
        choices: &[(&str, T)],
    ) -> Option<T> {
        let example = choices.first().map_or("", |(word, _)| word);
        let text = self.text(r, key, example)?;
        choose(r, key, &text, choices)
    }

    /// A number with its unit.
    pub fn quantity<T: Measured>(
        &mut self,
        r: &mut Findings,
        key: &'static str,
    ) -> Option<Quantity<T>> {
        let value = self.value(key)?;
        quantity_of(r, key, value)
    }

    pub fn need_quantity<T: Measured>(
        &mut self,
        r: &mut Findings,
        key: &'static str,
    ) -> Option<Quantity<T>> {
        if !self.has(key) {
            self.known.push(key);
            self.missing(r, key, &format!("\"{}\"", T::EXAMPLE));
            return None;
        }
        self.quantity(r, key)
    }

    /// A number with its unit, more than zero even at the low end of its uncertainty.
    pub fn positive<T: Measured>(
        &mut self,
        r: &mut Findings,
        key: &'static str,
    ) -> Option<Quantity<T>> {
        let quantity = self.quantity::<T>(r, key)?;
        if quantity.value.si() <= 0.0 {
            let what = if quantity.value.si() == 0.0 {
                "zero"
            } else {
                "negative"
            };
            r.error(
                &quantity.span,
                format!("`{key}` in {} is {what}", self.place),
                "must be more than zero",
                format!(
                    "write what was measured or is marked: {key} = \"{}\"",
                    T::EXAMPLE
                ),
            );
            return None;
        }
        if T::spread_si(quantity.plus_minus) >= quantity.value.si() {
            r.error(
                &quantity.span,
                format!(
                    "`{key}` in {} may be zero or less within its plus or minus",
                    self.place
                ),
                "uncertainty as large as the value",
                "measure it, or write a smaller plus or minus",
            );
            return None;
        }
        Some(quantity)
    }

    pub fn need_positive<T: Measured>(
        &mut self,
        r: &mut Findings,
        key: &'static str,
    ) -> Option<Quantity<T>> {
        if !self.has(key) {
            self.known.push(key);
            self.missing(r, key, &format!("\"{}\"", T::EXAMPLE));
            return None;
        }
        self.positive(r, key)
    }

    /// A table under a key.
    pub fn table(&mut self, r: &mut Findings, key: &'static str) -> Option<Fields<'d>> {
        let value = self.value(key)?;
        let place = under(&self.place, key);
        let DeValue::Table(table) = value.get_ref() else {
            r.error(
                &value.span(),
                format!(
                    "`{key}` in {} is {}; it takes a table",
                    self.place,
                    kind_of(value)
                ),
                "not a table",
                format!("write {place} with its keys below, one a line"),
            );
            return None;
        };
        Some(Fields::new(table, value.span(), place))
    }

    /// A list of tables under a key, `[[key]]`.
    pub fn tables(&mut self, r: &mut Findings, key: &'static str) -> Vec<Fields<'d>> {
        let Some(value) = self.value(key) else {
            return Vec::new();
        };
        let place = format!("[{}]", under(&self.place, key));
        if matches!(value.get_ref(), DeValue::Array(items) if items.is_empty()) {
            r.error(
                &value.span(),
                format!("`{key}` in {} is empty", self.place),
                "nothing in it",
                format!(
                    "write {place} with double brackets for each, its keys below; or take it out"
                ),
            );
        }
        let items: Vec<&Value<'d>> = match value.get_ref() {
            DeValue::Array(items) => items.iter().collect(),
            _ => vec![value],
        };
        let listed = matches!(value.get_ref(), DeValue::Array(_));
        let mut tables = Vec::new();
        for item in items {
            match item.get_ref() {
                DeValue::Table(table) if listed => {
                    tables.push(Fields::new(table, item.span(), place.clone()));
                }
                _ => r.error(
                    &item.span(),
                    format!("`{key}` in {} takes a list of tables", self.place),
                    "not a list of tables",
                    format!("write {place} with double brackets for each, its keys below"),
                ),
            }
        }
        tables
    }

    /// A table or a list of tables under a key.
    pub fn one_or_more(&mut self, r: &mut Findings, key: &'static str) -> Vec<Fields<'d>> {
        match self.table.get(key).map(Spanned::get_ref) {
            Some(DeValue::Table(_)) => self.table(r, key).into_iter().collect(),
            _ => self.tables(r, key),
        }
    }

    /// All entries under names of the plan's own choice, in file order.
    pub fn entries(&self) -> Vec<(Text, &'d Value<'d>)> {
        let mut entries: Vec<_> = self
            .table
            .iter()
            .map(|(k, v)| {
                let name = Text {
                    value: k.get_ref().to_string(),
                    span: k.span(),
                };
                (name, v)
            })
            .collect();
        entries.sort_by_key(|(name, _)| name.span.start);
        entries
    }

    /// Tables under names of the plan's own choice, in file order.
    pub fn named_tables(&self, r: &mut Findings) -> Vec<(Text, Fields<'d>)> {
        let mut tables = Vec::new();
        for (name, value) in self.entries() {
            let place = under(&self.place, &name.value);
            match value.get_ref() {
                DeValue::Table(table) => {
                    tables.push((name, Fields::new(table, value.span(), place)));
                }
                _ => r.error(
                    &value.span(),
                    format!(
                        "`{}` in {} is {}; it takes a table",
                        name.value,
                        self.place,
                        kind_of(value)
                    ),
                    "not a table",
                    format!("write {place} with its keys below, one a line"),
                ),
            }
        }
        tables
    }

    /// Says which keys nobody asked for.
    pub fn finish(self, r: &mut Findings) {
        for (name, _) in self.entries() {
            if !self.known.contains(&name.value.as_str()) {
                r.error(
                    &name.span,
                    format!("unknown key `{}` in {}", name.value, self.place),
                    "not known here",
                    did_you_mean(&name.value, self.known.iter().copied()),
                );
            }
        }
    }
}
