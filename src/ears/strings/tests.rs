use super::{FoundString, STRING_GAP_MAX, search_string};
use crate::ears::{EarsError, Scorer, Strung, Token};
use crate::grammar::{CalledItem, GrammarSet, VocabTrie, called};

/// Writes texts letter by letter, each as likely as its share; anything else is next to nothing.
struct Writer {
    texts: Vec<(&'static str, f32)>,
    out: Vec<f32>,
}

const END: Token = 256;
const ELSE: f32 = 1e-5;

impl Scorer for Writer {
    fn end(&self) -> Token {
        END
    }

    fn next(&mut self, path: &[Token]) -> Result<&[f32], EarsError> {
        let mut shares = vec![ELSE; 257];
        for (text, share) in &self.texts {
            let bytes = text.as_bytes();
            let goes_on = path.len() <= bytes.len()
                && path.iter().zip(bytes).all(|(a, b)| *a == Token::from(*b));
            if goes_on {
                let next = bytes.get(path.len()).map_or(END, |b| Token::from(*b));
                shares[next as usize] += share;
            }
        }
        let all: f32 = shares.iter().sum();
        self.out = shares.iter().map(|s| (s / all).ln()).collect();
        Ok(&self.out)
    }
}

fn found(texts: &[(&'static str, f32)], pace: &dyn Fn(&[Token]) -> f32) -> Option<FoundString> {
    let state = |key: &str, say: &[&str]| {
        let forms = say.iter().map(|s| (*s).to_owned()).collect();
        (key.to_owned(), forms)
    };
    let item = |key: &str, name: &str, rule: &str, states: &[(String, Vec<String>)]| CalledItem {
        key: key.into(),
        names: vec![name.into()],
        rule: rule.into(),
        states: states.to_vec(),
        conforming: vec!["closed".into()],
        together: None,
        unit: None,
    };
    let keeper = [state("closed", &["closed"]), state("open", &["open"])];
    let items = [
        item("keeper", "keeper", "state", &keeper),
        item("links", "links", "count", &[]),
        item("padding", "padding", "presence", &[]),
    ];
    let graph = called::graph(&GrammarSet::builtin(), &items).expect("a graph");
    let vocabulary = VocabTrie::new((0..=255_u8).map(|b| (u32::from(b), vec![b])));
    let mut strung = Strung::new(graph.written().expect("within limits"), &vocabulary);
    let mut writer = Writer {
        texts: texts.to_vec(),
        out: Vec::new(),
    };
    search_string(&mut strung, &mut writer, 20.0, pace, &|| STRING_GAP_MAX)
        .expect("no engine to fail")
}

fn values(found: &FoundString) -> Vec<(&str, &str)> {
    let items = found.items.iter();
    items.map(|m| (m.rule.as_str(), m.value.as_str())).collect()
}

#[test]
fn a_clear_breath_is_found_with_its_items_apart() {
    let text = " Keeper closed, seven links, padding present.";
    let found = found(&[(text, 1.0)], &|_| 0.0).expect("a string");
    assert_eq!(
        values(&found),
        [("keeper", "closed"), ("links", "7"), ("padding", "present")]
    );
    assert_eq!(found.gaps, [STRING_GAP_MAX; 4]);
    let piece = |item: usize| -> String {
        let own = found.path.iter().zip(&found.item_of);
        own.filter(|(_, of)| **of == item)
            .map(|(token, _)| char::from(*token as u8))
            .collect()
    };
    assert!(piece(0).contains("Keeper closed"), "{:?}", piece(0));
    assert!(piece(1).contains("even links"), "{:?}", piece(1));
    assert!(piece(2).contains("adding present"), "{:?}", piece(2));
}

#[test]
fn a_rival_in_the_middle_counts_against_its_item_alone() {
    let found = found(
        &[
            (" Keeper closed, seven links, padding present.", 0.6),
            (" Keeper closed, eleven links, padding present.", 0.4),
        ],
        &|_| 0.0,
    )
    .expect("a string");
    assert_eq!(values(&found)[1], ("links", "7"));
    let behind = (0.6_f32 / 0.4).ln();
    assert!((found.gaps[1] - behind).abs() < 0.1, "{:?}", found.gaps);
    assert_eq!(found.gaps[0], STRING_GAP_MAX);
    assert_eq!(found.gaps[2], STRING_GAP_MAX);
}

#[test]
fn an_item_written_again_is_not_heard_again() {
    let once = " Keeper closed, padding present.";
    let twice = " Keeper closed, padding present. Keeper closed, padding present.";
    let found = found(&[(once, 0.3), (twice, 0.7)], &|_| 0.0).expect("a string");
    assert_eq!(
        values(&found),
        [("keeper", "closed"), ("padding", "present")]
    );
}

#[test]
fn the_length_decides_between_a_beginning_and_the_whole() {
    let texts = [
        (" Keeper closed.", 0.9),
        (" Keeper closed, four links.", 0.1),
    ];
    let long = |path: &[Token]| if path.len() > 20 { 0.0 } else { -20.0 };
    let found = found(&texts, &long).expect("a string");
    assert_eq!(values(&found), [("keeper", "closed"), ("links", "4")]);
}

#[test]
fn what_is_no_finding_ends_early() {
    assert!(found(&[(" Bring the other crate up to the hut.", 1.0)], &|_| 0.0).is_none());
}
