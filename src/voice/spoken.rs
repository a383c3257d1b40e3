//! Texts as a synthesiser should get them.

/// Unit signs after a number, with the words for one and for more.
const UNITS: [(&str, &str, &str); 13] = [
    ("kg", "kilogram", "kilograms"),
    ("t", "tonne", "tonnes"),
    ("lb", "pound", "pounds"),
    ("kN", "kilonewton", "kilonewtons"),
    ("daN", "decanewton", "decanewtons"),
    ("N", "newton", "newtons"),
    ("m", "metre", "metres"),
    ("cm", "centimetre", "centimetres"),
    ("mm", "millimetre", "millimetres"),
    ("ft", "foot", "feet"),
    ("bar", "bar", "bar"),
    ("hPa", "hectopascal", "hectopascals"),
    ("°C", "degree Celsius", "degrees Celsius"),
];

/// Rewrites what synthesisers spell out or swallow: unit signs after numbers become words, a slash
/// between words becomes a pause, a degree sign becomes a word. Words and numbers stay as they are.
pub fn spoken(text: &str) -> String {
    let mut out: Vec<String> = Vec::new();
    for token in text.split_whitespace() {
        let (word, marks) = split_marks(token);
        let before = out
            .last()
            .map(String::as_str)
            .filter(|last| is_number(last));
        let unit = before.and_then(|number| {
            let (_, one, more) = UNITS.iter().find(|(sign, ..)| *sign == word)?;
            Some(if number == "1" { one } else { more })
        });
        let said = match unit {
            Some(unit) => (*unit).to_owned(),
            None => match word.strip_suffix('°').filter(|number| is_number(number)) {
                Some(number) => format!("{number} degrees"),
                None if word.contains('/') && !word.contains(|c: char| c.is_ascii_digit()) => {
                    word.replace('/', ", ")
                }
                None => word.to_owned(),
            },
        };
        out.push(format!("{said}{marks}"));
    }
    out.join(" ")
}

/// A token's punctuation at its end, apart.
fn split_marks(token: &str) -> (&str, &str) {
    let word = token.trim_end_matches(['.', ',', ';', ':', '?', '!']);
    token.split_at(word.len())
}

fn is_number(token: &str) -> bool {
    token.starts_with(|c: char| c.is_ascii_digit())
        && token
            .chars()
            .all(|c| c.is_ascii_digit() || c == '.' || c == ',')
}
