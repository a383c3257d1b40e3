//! Puts arguments into placeholders.

use crate::plan::read::{Findings, Text, did_you_mean};

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
