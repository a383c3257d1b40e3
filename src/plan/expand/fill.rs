//! Puts arguments into placeholders.

use super::{FilledCompare, FilledWhen};
use crate::plan::read::{
    BlockDraft, CompareDraft, Findings, Text, UseDraft, WhenDraft, did_you_mean,
};

/// Where a check is being built: station, block and arguments.
pub struct Frame {
    pub station: String,
    /// Blocks being used, outermost first; empty for a station's own checks.
    pub blocks: Vec<String>,
    pub arguments: Vec<(String, String)>,
}

impl Frame {
    /// A label with the station added, where a block is read for one of several.
    pub fn label(&self, label: &str) -> String {
        if self.blocks.is_empty() {
            return label.to_string();
        }
        let here = format!(
            "block `{}` at station `{}`",
            self.blocks.join(" > "),
            self.station
        );
        if label.is_empty() {
            here
        } else {
            format!("{label}, in {here}")
        }
    }

    /// The text with its placeholders filled; `None` where one is not known.
    pub fn fill(&self, r: &mut Findings, text: &Text) -> Option<Text> {
        let mut out = String::new();
        let mut rest = text.value.as_str();
        let mut whole = true;
        while let Some(open) = rest.find(['{', '}']) {
            out.push_str(&rest[..open]);
            let close = rest[open..].find('}').map(|at| open + at);
            let Some(close) = close.filter(|&close| close > open) else {
                r.error(
                    &text.span,
                    format!("`{}` holds a lone brace", text.value),
                    "not a placeholder",
                    "write {name} with both braces, or leave braces out",
                );
                return None;
            };
            let name = &rest[open + 1..close];
            let known = self.arguments.iter().find(|(n, _)| n == name);
            match known {
                _ if name == "station" => out.push_str(&self.station),
                Some((_, value)) => out.push_str(value),
                None => {
                    let names = self.arguments.iter().map(|(n, _)| n.as_str());
                    let help = if self.blocks.is_empty() {
                        "only {station} stands for something outside a block; write the word itself"
                            .to_string()
                    } else {
                        did_you_mean(name, names.chain(["station"]))
                    };
                    r.error(
                        &text.span,
                        format!("unknown placeholder {{{name}}}"),
                        "nothing to put here",
                        help,
                    );
                    whole = false;
                }
            }
            // Arguments may repeat themselves; a text never grows beyond its bound.
            if out.len() > 4 * crate::plan::limits::TEXT_CHARS {
                r.error(
                    &text.span,
                    "a text grows too long when its placeholders are filled",
                    self.label("too long"),
                    "shorten the arguments",
                );
                return None;
            }
            rest = &rest[close + 1..];
        }
        out.push_str(rest);
        let value = out.split_whitespace().collect::<Vec<_>>().join(" ");
        if value.is_empty() && whole {
            r.error(
                &text.span,
                format!("`{}` is empty once its placeholders are filled", text.value),
                self.label("nothing left"),
                "give the parameter a text",
            );
            return None;
        }
        whole.then(|| Text {
            value,
            span: text.span.clone(),
        })
    }

    /// All texts filled; those that cannot be are left out.
    pub fn fill_all(&self, r: &mut Findings, texts: &[Text]) -> Vec<Text> {
        texts.iter().filter_map(|t| self.fill(r, t)).collect()
    }
}

/// The arguments of a block's use, filled from the place where it is used.
pub fn arguments_of(
    r: &mut Findings,
    used: &UseDraft,
    block: &BlockDraft,
    frame: &Frame,
) -> Vec<(String, String)> {
    let mut arguments = Vec::new();
    if !block.parameters_known {
        // What is wrong with the parameters was told; the use is not to blame.
        for (name, value) in &used.with {
            let value = frame.fill(r, value).map_or(String::new(), |t| t.value);
            arguments.push((name.value.clone(), value));
        }
        return arguments;
    }
    for parameter in &block.parameters {
        match used.with.iter().find(|(n, _)| n.value == parameter.value) {
            Some((_, value)) => {
                // A value that cannot be filled was told; the name keeps the rest going.
                let value = frame
                    .fill(r, value)
                    .map_or_else(|| parameter.value.clone(), |t| t.value);
                arguments.push((parameter.value.clone(), value));
            }
            None => {
                r.misfit(
                    &used.span,
                    format!(
                        "block `{}` needs `{}`, which this use does not give",
                        block.name.value, parameter.value
                    ),
                    frame.label(""),
                    format!("add {} = \"…\" to its `with`", parameter.value),
                );
                arguments.push((parameter.value.clone(), parameter.value.clone()));
            }
        }
    }
    for (name, _) in &used.with {
        if !block.parameters.iter().any(|p| p.value == name.value) {
            r.misfit(
                &name.span,
                format!(
                    "block `{}` has no parameter `{}`",
                    block.name.value, name.value
                ),
                "not used by the block",
                if block.parameters.is_empty() {
                    "the block has no parameters; take `with` out".to_string()
                } else {
                    did_you_mean(
                        &name.value,
                        block.parameters.iter().map(|p| p.value.as_str()),
                    )
                },
            );
        }
    }
    arguments
}

pub fn fill_when(r: &mut Findings, when: &WhenDraft, frame: &Frame) -> Option<FilledWhen> {
    Some(FilledWhen {
        check: frame.fill(r, &when.check)?,
        is: frame.fill_all(r, &when.is),
        is_not: frame.fill_all(r, &when.is_not),
        at_least: when.at_least.clone(),
        at_most: when.at_most.clone(),
    })
}

pub fn fill_compare(
    r: &mut Findings,
    compare: &CompareDraft,
    frame: &Frame,
) -> Option<FilledCompare> {
    let with = frame.fill(r, &compare.with)?;
    let mut pairs = Vec::new();
    for [a, b] in &compare.pairs {
        pairs.push([frame.fill(r, a)?, frame.fill(r, b)?]);
    }
    Some(FilledCompare {
        with,
        mirrored: compare.mirrored,
        pairs,
        span: compare.span.clone(),
    })
}
