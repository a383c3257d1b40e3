//! Properties over all phrases of the built-in grammars, and over hostile texts.

use super::*;
use proptest::prelude::*;

/// A walk over the graph along given choices: the words and the meaning of one utterance.
fn pick(graph: &Graph, choices: &[u16]) -> (Vec<String>, Meaning) {
    let (mut at, mut words, mut rule, mut value) =
        (graph.start, Vec::new(), String::new(), String::new());
    let mut choices = choices.iter().cycle();
    while at != graph.end {
        let edges = &graph.nodes[at];
        let choice = usize::from(*choices.next().expect("endless")) % edges.len();
        match &edges[choice].label {
            Label::Null => {}
            Label::Word(word) => words.push(word.to_string()),
            Label::Tag(tag) => value.push_str(tag),
            Label::Rule(name) => rule = name.to_string(),
        }
        at = edges[choice].to;
    }
    (words, Meaning { rule, value })
}

fn everything() -> &'static Graph {
    static GRAPH: std::sync::OnceLock<Graph> = std::sync::OnceLock::new();
    GRAPH.get_or_init(|| {
        let rules = [
            "presence",
            "count",
            "condition",
            "control",
            "yes-no",
            "fixing",
            "reading",
            "tag",
        ];
        GrammarSet::builtin().graph(&rules, &[]).expect("built in")
    })
}

proptest! {
    #[test]
    fn every_phrase_is_understood_in_its_written_forms(
        choices in proptest::collection::vec(any::<u16>(), 64),
        end in prop::sample::select(vec!["", ".", ",", "!", "?", "..."]),
        gap in prop::sample::select(vec![" ", ", "]),
        capital: bool,
    ) {
        let (words, meaning) = pick(everything(), &choices);
        let mut written = words.join(gap);
        if capital {
            written = written[..1].to_uppercase() + &written[1..];
        }
        let written = format!(" {written}{end}");
        let mut walker = Walker::new(everything().written().expect("within limits"));
        let start = walker.start();
        let set = walker.step(start, written.as_bytes());
        // A number may belong to several rules that are active here, but must mean this too.
        let found = set.map(|set| walker.final_meanings(set)).unwrap_or_default();
        prop_assert!(found.contains(&meaning), "{written:?} {found:?}");
    }

    #[test]
    fn stepping_by_pieces_is_stepping_by_the_whole(
        choices in proptest::collection::vec(any::<u16>(), 64),
        cuts in proptest::collection::vec(any::<prop::sample::Index>(), 0..6),
    ) {
        let (words, _) = pick(everything(), &choices);
        let written = format!(" {}", words.join(" ")).into_bytes();
        let mut cuts: Vec<_> = cuts.iter().map(|cut| cut.index(written.len())).collect();
        cuts.extend([0, written.len()]);
        cuts.sort_unstable();
        cuts.dedup();
        let pieces: Vec<&[u8]> = cuts.windows(2).map(|cut| &written[cut[0]..cut[1]]).collect();
        let trie = VocabTrie::new(pieces.iter().enumerate().map(|(i, piece)| (i as u32, *piece)));
        let mut walker = Walker::new(everything().written().expect("within limits"));
        let start = walker.start();
        let whole = walker.step(start, &written);
        prop_assert!(whole.is_some());
        let mut at = start;
        for (i, piece) in pieces.iter().enumerate() {
            let next = walker.continuations(at, &trie);
            let found = next.iter().find(|(token, _)| *token == i as u32);
            let stepped = walker.step(at, piece);
            prop_assert_eq!(found.map(|(_, set)| *set), stepped);
            prop_assert!(walker.allowed_first_bytes(at).contains(piece[0]));
            at = stepped.expect("part of a written form");
        }
        prop_assert_eq!(Some(at), whole);
        prop_assert!(walker.may_end(at));
    }

    #[test]
    fn continuations_are_exactly_the_pieces_that_can_follow(
        choices in proptest::collection::vec(any::<u16>(), 64),
        length in any::<prop::sample::Index>(),
        pieces in proptest::collection::vec("[ a-z0-9A-Z.,-]{1,3}", 1..60),
    ) {
        let (words, _) = pick(everything(), &choices);
        let written = format!(" {}", words.join(" "));
        let mut walker = Walker::new(everything().written().expect("within limits"));
        let start = walker.start();
        let begun = &written.as_bytes()[..length.index(written.len())];
        let at = walker.step(start, begun).expect("part of a written form");
        let trie = VocabTrie::new(pieces.iter().enumerate().map(|(i, piece)| (i as u32, piece)));
        let mut found: Vec<_> = walker.continuations(at, &trie).to_vec();
        found.sort_unstable();
        let mut want = Vec::new();
        for (i, piece) in pieces.iter().enumerate() {
            want.extend(walker.step(at, piece.as_bytes()).map(|set| (i as u32, set)));
        }
        prop_assert_eq!(found, want);
    }

    #[test]
    fn no_text_brings_the_reader_down(text in "\\PC*") {
        let _ = GrammarSet::check(&[("g.abnf", &text)]);
        let _ = GrammarSet::check(&[("g.abnf", &format!("{HEAD}root $r; public $r = {text}; "))]);
    }

    #[test]
    fn no_heap_of_tokens_brings_the_reader_down(
        tokens in proptest::collection::vec(prop::sample::select(vec![
            "public", "$r", "$s", "=", ";", "|", "(", ")", "[", "]", "<2>", "<0-3>", "{v}", "{!{w}!}", "a",
            "\"b c\"", "/2/", "$NULL", "$VOID", "$<g.abnf#r>", "//x\n", "/*", "*/", "root", "é", "\u{0}",
        ]), 0..60),
    ) {
        let text = format!("{HEAD}root $r; public $r = {}", tokens.join(" "));
        if let (Some(set), _) = GrammarSet::check(&[("g.abnf", &text)]) {
            for rule in set.rules() {
                let graph = set.graph(&[rule], &[]).expect("checked");
                prop_assert_eq!(graph.clash().expect("small"), None);
                for phrase in graph.phrases(20) {
                    prop_assert!(graph.match_words(&phrase.words).contains(&phrase.meanings[0]));
                }
            }
        }
    }

    #[test]
    fn no_typed_answer_brings_the_graph_down(typed in "\\PC*") {
        everything().match_words(&typed);
    }
}

#[test]
fn written_graphs_hold_no_dead_ends() {
    let graph = GrammarSet::builtin()
        .graph(&["count"], &[])
        .expect("built in");
    let mut walker = Walker::new(graph.written().expect("within limits"));
    let start = walker.start();
    // After "3" only more of a count, a gap before "links", or an end: no gap leads nowhere.
    let set = walker.step(start, b" 13").expect("a count");
    assert!(walker.may_end(set));
    let bytes: Vec<u8> = walker.allowed_first_bytes(set).iter().collect();
    assert_eq!(bytes, b" !,.?");
    assert_eq!(walker.step(start, b" 121"), None);
    assert_eq!(walker.step(start, b"3"), None);
}

#[test]
fn no_shipped_phrases_are_too_alike() {
    let set = GrammarSet::builtin();
    for rules in [
        &["presence", "control", "yes-no"][..],
        &["condition", "control", "yes-no"],
        &["count", "control", "yes-no"],
        &["fixing", "control"],
    ] {
        let phrases = set.graph(rules, &[]).expect("built in").phrases(5000);
        let found = likeness::too_alike(&phrases, likeness::costly, likeness::measured());
        let open: Vec<_> = found.iter().filter(|pair| pair.handled.is_none()).collect();
        assert!(open.is_empty(), "{open:#?}");
    }
    let teens = set.graph(&["count"], &[]).expect("built in").phrases(5000);
    let teens = likeness::too_alike(&teens, likeness::costly, &[]);
    let teens = teens
        .iter()
        .filter(|p| p.handled == Some(likeness::Handled::TeensAndTens));
    assert_eq!(teens.count(), 7, "13/30 to 19/90");
}
