//! How much a plan may hold. A plan within these is read in milliseconds; beyond them it is refused.

/// Bytes of a plan's text.
pub const PLAN_BYTES: usize = 256 * 1024;
/// Stations of a plan.
pub const STATIONS: usize = 60;
/// Checks and uses of blocks after expansion, those left out included.
pub const STEPS: usize = 800;
/// Blocks inside blocks.
pub const BLOCK_DEPTH: usize = 4;
/// States of one check, `both` and `neither` not counted.
pub const STATES: usize = 12;
/// Legs of a sling set.
pub const LEGS: usize = 6;
/// Lifting provisions of a load or of a spreader.
pub const PROVISIONS: usize = 24;
/// Pieces of a coupled load.
pub const PIECES: usize = 8;
/// Rows or columns of a table of allowable loads.
pub const TABLE_SIDE: usize = 40;
/// Characters of one text.
pub const TEXT_CHARS: usize = 300;
/// Characters of one spoken form or name.
pub const SPOKEN_CHARS: usize = 60;
/// Greatest count that can be answered, as `grammars/count.abnf` has it.
pub const COUNT: u32 = 120;
/// Greatest reading that can be answered, in hundredths of its unit, as `grammars/reading.abnf` has it.
pub const READING_HUNDREDTHS: u32 = 99_999;
/// Letters and digits of a tag that can be answered, as `grammars/tag.abnf` has it.
pub const TAG: usize = 12;
/// Findings printed about one plan.
pub const FINDINGS: usize = 100;

/// Greatest reading that can be answered, in its unit.
pub fn reading() -> f64 {
    f64::from(READING_HUNDREDTHS) / 100.0
}
