//! The two faces of the report, and how wide text is in them. Noto Sans is in the program, so that
//! a report looks alike on every machine; it holds Latin, Greek and Cyrillic.

use crate::walk::turns;
use skrifa::charmap::Charmap;
use skrifa::instance::{LocationRef, Size};
use skrifa::metrics::GlyphMetrics;
use skrifa::{FontRef, MetadataProvider};

/// A face of the report.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Face {
    /// Upright.
    Regular,
    /// Upright and bold.
    Bold,
}

impl Face {
    /// The font file.
    pub(super) fn bytes(self) -> &'static [u8] {
        match self {
            Self::Regular => notosans::REGULAR_TTF,
            Self::Bold => notosans::BOLD_TTF,
        }
    }
}

struct Measure {
    characters: Charmap<'static>,
    advances: GlyphMetrics<'static>,
    units_per_em: f32,
}

impl Measure {
    fn of(face: Face) -> Option<Self> {
        let font = FontRef::new(face.bytes()).ok()?;
        let units_per_em = font
            .metrics(Size::unscaled(), LocationRef::default())
            .units_per_em;
        Some(Self {
            characters: font.charmap(),
            advances: font.glyph_metrics(Size::unscaled(), LocationRef::default()),
            units_per_em: f32::from(units_per_em),
        })
    }

    fn advance_em(&self, c: char) -> Option<f32> {
        let glyph = self.characters.map(c)?;
        Some(self.advances.advance_width(glyph)? / self.units_per_em)
    }
}

/// Measures and breaks text. Widths are sums of advances, without kerning, which is a little more
/// than what is drawn.
pub(super) struct Fonts {
    regular: Measure,
    bold: Measure,
}

impl Fonts {
    /// `None` where the font files are damaged.
    pub(super) fn new() -> Option<Self> {
        Some(Self {
            regular: Measure::of(Face::Regular)?,
            bold: Measure::of(Face::Bold)?,
        })
    }

    fn measure(&self, face: Face) -> &Measure {
        match face {
            Face::Regular => &self.regular,
            Face::Bold => &self.bold,
        }
    }

    /// Text that the face can draw: blanks for controls, a question mark for what it does not have.
    pub(super) fn clean(&self, face: Face, text: &str) -> String {
        let measure = self.measure(face);
        text.chars()
            .map(|c| match c {
                '\n' => '\n',
                // The font draws a backtick over the next letter.
                '`' => '\'',
                c if c.is_control() || c.is_whitespace() => ' ',
                c if turns(c) => '?',
                c if measure.advance_em(c).is_some() => c,
                _ => '?',
            })
            .collect()
    }

    /// Width of cleaned text in points.
    pub(super) fn width(&self, face: Face, size: f32, text: &str) -> f32 {
        let measure = self.measure(face);
        let em: f32 = text.chars().filter_map(|c| measure.advance_em(c)).sum();
        em * size
    }

    /// Lines of at most the width. A line that goes on in the next ends in a blank, so that words
    /// stay apart where the text is read out or copied. Not empty.
    pub(super) fn wrap(&self, face: Face, size: f32, text: &str, width: f32) -> Vec<String> {
        let text = self.clean(face, text);
        let mut lines = Vec::new();
        for paragraph in text.split('\n') {
            let mut line = String::new();
            for word in paragraph.split(' ').filter(|w| !w.is_empty()) {
                self.put_word(face, size, word, width, &mut line, &mut lines);
            }
            if !line.is_empty() {
                lines.push(line);
            }
        }
        if lines.is_empty() {
            lines.push("\u{2013}".to_owned());
        }
        lines
    }

    fn put_word(
        &self,
        face: Face,
        size: f32,
        word: &str,
        width: f32,
        line: &mut String,
        lines: &mut Vec<String>,
    ) {
        let fits = |text: &str| self.width(face, size, text) <= width;
        if line.is_empty() && fits(word) {
            line.push_str(word);
            return;
        }
        if !line.is_empty() {
            let longer = format!("{line} {word}");
            if fits(&longer) {
                *line = longer;
                return;
            }
            line.push(' ');
            lines.push(std::mem::take(line));
        }
        // A word wider than the column (a hash, a path) is broken where it must be.
        for c in word.chars() {
            let longer = format!("{line}{c}");
            if !line.is_empty() && !fits(&longer) {
                lines.push(std::mem::take(line));
            }
            line.push(c);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_line_is_wider_than_its_column_and_no_word_is_lost() {
        let fonts = Fonts::new().unwrap();
        let text =
            "front left grab hook keeper bent, Öse gerissen; 9f86d081884c7d659a2feaa0c55ad015";
        for width in [40.0, 90.0, 300.0] {
            let lines = fonts.wrap(Face::Regular, 9.0, text, width);
            for line in &lines {
                assert!(
                    fonts.width(Face::Regular, 9.0, line.trim_end()) <= width,
                    "{line}"
                );
            }
            assert_eq!(lines.concat(), text);
        }
    }

    #[test]
    fn what_the_face_lacks_shows_as_a_question_mark() {
        let fonts = Fonts::new().unwrap();
        assert_eq!(fonts.clean(Face::Bold, "a\t\u{7}\u{1F681}b"), "a  ?b");
    }

    #[test]
    fn widths_are_those_of_the_font_file() {
        // The head table of the file gives 2048 units an em, its cmap and hmtx tables give "H" 1518
        // and "i" 528 (read from the bytes with a few lines of another language).
        let fonts = Fonts::new().unwrap();
        assert!((fonts.width(Face::Regular, 2_048.0, "Hi") - 2_046.0).abs() < 0.5);
    }
}
