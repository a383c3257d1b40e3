//! Names that are refused since they can pass for another's.

use unicode_security::mixed_script::AugmentedScriptSet;

/// Whether a character steers how text around it is shown and is not seen itself: a control character, or one of the property
/// Bidi_Control of the Unicode Character Database (Unicode Standard Annex 9, section 2), which can turn the order of what
/// stands behind it.
pub fn steers(c: char) -> bool {
    c.is_control() || turns(c)
}

/// Whether a character turns the order in which text is shown: the property Bidi_Control.
pub fn turns(c: char) -> bool {
    matches!(c, '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

/// Whether a name can pass for another since a word of it has letters of two scripts, or one word Latin letters and another
/// one Cyrillic or Greek ones, many of which look like them (Unicode Technical Standard 39, sections 5.1 and 5.2: single script,
/// and no Latin beside Cyrillic or Greek). Han with Hiragana and the like are one script there.
pub fn mixes_scripts(name: &str) -> bool {
    let words = name.split(|c: char| c.is_whitespace() || c == ',' || c == ';');
    let sets: Vec<AugmentedScriptSet> = words.map(AugmentedScriptSet::for_str).collect();
    // What is written in any script, as digits are, tells none.
    let has = |letter: char| {
        sets.iter().filter(|set| !set.is_all()).any(|set| {
            let mut both = AugmentedScriptSet::for_char(letter);
            both.intersect_with(*set);
            !both.is_empty()
        })
    };
    sets.iter().any(AugmentedScriptSet::is_empty) || has('a') && (has('\u{44f}') || has('\u{3c9}'))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_is_written_in_one_script() {
        for name in [
            "Oskar Venn",
            "J\u{f6}rg \u{d6}se-St. Mary",
            "Jo\u{308}rg O\u{308}se",
            "Ilse Brandt 2",
            "M\u{2019}Bek\u{e9} N\u{2019}Dour",
            "\u{418}\u{432}\u{430}\u{43d} \u{41f}\u{435}\u{442}\u{440}\u{43e}\u{432}",
            "\u{391}\u{3bd}\u{3bd}\u{3b1}",
            // Han with Hiragana, and a Latin name beside Han.
            "\u{4f50}\u{85e4} \u{5e78}\u{3048}",
            "\u{5c71}\u{7530} Taro",
            "\u{641}\u{627}\u{637}\u{645}\u{629}",
            "",
        ] {
            assert!(!mixes_scripts(name), "{name}");
        }
        for name in [
            // A Cyrillic O, a Greek one, and a whole word that only looks Latin.
            "\u{41e}skar Venn",
            "Oskar Venn-\u{39f}se",
            "\u{408}\u{43e}\u{435} Venn",
            "Venn, \u{39f}",
        ] {
            assert!(mixes_scripts(name), "{name}");
        }
    }

    #[test]
    fn what_turns_text_is_that_of_the_database() {
        // `; Bidi_Control` in PropList.txt of the Unicode Character Database: 061C, 200E..200F, 202A..202E, 2066..2069.
        let all: Vec<u32> = ('\0'..=char::MAX)
            .filter(|&c| turns(c))
            .map(u32::from)
            .collect();
        let wanted = [
            0x61c, 0x200e, 0x200f, 0x202a, 0x202b, 0x202c, 0x202d, 0x202e,
        ];
        assert_eq!(
            all,
            [&wanted[..], &[0x2066, 0x2067, 0x2068, 0x2069]].concat()
        );
        assert!(steers('\u{1b}') && steers('\u{202e}') && !steers('\u{200d}'));
    }
}
