//! The report as PDF: a summary to sign on the first page, then every check.

mod draw;
mod fonts;
mod layout;
mod picture;
mod report;
mod summary;
#[cfg(test)]
mod tests;

pub use report::pdf;

/// A size of paper.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Paper {
    /// 210 by 297 mm (ISO 216).
    A4,
    /// 8.5 by 11 inches.
    Letter,
}

impl Paper {
    /// Width and height in points of 1/72 inch.
    fn points(self) -> (f32, f32) {
        match self {
            Self::A4 => (595.28, 841.89),
            Self::Letter => (612.0, 792.0),
        }
    }
}

/// Why there is no PDF.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum PdfError {
    /// The writer refused, or a font is damaged.
    #[error(
        "the PDF was not made ({0}); this is a fault in loadwalk, take `--html` instead and report it"
    )]
    Writer(String),
}
