//! Places for labels: over no other label and, where there is room, over no leg.

use super::canvas::{Anchor, Canvas, Class};

/// Width of a bold letter, pixels: a little more than the mean of the fonts named in the picture.
const LETTER: f64 = 7.8;
/// Distance of a label from its leg, pixels.
const BESIDE: f64 = 10.0;
/// Where along its leg a label may stand, best first, as a share from the apex to the foot.
const ALONG: [f64; 5] = [0.62, 0.74, 0.5, 0.86, 0.38];
/// Legs whose middles are nearer than this across and along share a label, pixels.
const SHARE_ACROSS: f64 = 22.0;
const SHARE_ALONG: f64 = 18.0;
/// Distance of two lines of text, pixels.
pub(super) const ROW: f64 = 16.0;

/// Legs that fall on nearly one line, and what is said of them.
struct Bundle {
    feet: Vec<[f64; 2]>,
    words: Vec<String>,
}

fn between(apex: [f64; 2], foot: [f64; 2], share: f64) -> [f64; 2] {
    [0, 1].map(|i| apex[i] + (foot[i] - apex[i]) * share)
}

/// Left, right, top and bottom of a bold label.
fn boxed([x, y]: [f64; 2], anchor: Anchor, words: &str) -> [f64; 4] {
    let wide = LETTER * words.chars().count() as f64;
    let left = match anchor {
        Anchor::Start => x,
        Anchor::Middle => x - wide / 2.0,
        Anchor::End => x - wide,
    };
    [left, left + wide, y - 10.0, y + 3.0]
}

fn overlap(a: [f64; 4], b: [f64; 4]) -> bool {
    a[0] < b[1] && b[0] < a[1] && a[2] < b[3] && b[2] < a[3]
}

/// Whether a line runs through a box, or within three pixels of it.
fn crosses([left, right, top, bottom]: [f64; 4], from: [f64; 2], to: [f64; 2]) -> bool {
    let (mut first, mut last) = (0.0_f64, 1.0_f64);
    for (axis, low, high) in [(0, left - 3.0, right + 3.0), (1, top - 3.0, bottom + 3.0)] {
        let run = to[axis] - from[axis];
        if run.abs() < 1e-9 {
            if from[axis] < low || from[axis] > high {
                return false;
            }
            continue;
        }
        let (a, b) = ((low - from[axis]) / run, (high - from[axis]) / run);
        first = first.max(a.min(b));
        last = last.min(a.max(b));
    }
    first < last
}

/// Writes words beside the middle of each leg from `apex` to a foot. `plumb` is the end of the plumb
/// line, which is kept clear where it can be.
pub(super) fn beside_legs(
    canvas: &mut Canvas,
    apex: [f64; 2],
    plumb: [f64; 2],
    legs: &[([f64; 2], String)],
) {
    let mut bundles: Vec<Bundle> = Vec::new();
    for (foot, words) in legs {
        let at = between(apex, *foot, ALONG[0]);
        let near = |bundle: &&mut Bundle| {
            let other = between(apex, bundle.feet[0], ALONG[0]);
            (other[0] - at[0]).abs() < SHARE_ACROSS && (other[1] - at[1]).abs() < SHARE_ALONG
        };
        match bundles.iter_mut().find(near) {
            Some(bundle) => {
                bundle.feet.push(*foot);
                if !bundle.words.contains(words) {
                    bundle.words.push(words.clone());
                }
            }
            None => bundles.push(Bundle {
                feet: vec![*foot],
                words: vec![words.clone()],
            }),
        }
    }
    let mut taken: Vec<[f64; 4]> = Vec::new();
    for bundle in &bundles {
        let words = bundle.words.join(" / ");
        let spots = ALONG.iter().flat_map(|share| spots(bundle, apex, *share));
        let on_leg = |area: [f64; 4]| {
            let mut feet = legs.iter().map(|(foot, _)| *foot).chain([plumb]);
            feet.any(|foot| crosses(area, apex, foot))
        };
        let free = |(at, anchor): &([f64; 2], Anchor)| {
            let area = boxed(*at, *anchor, &words);
            !taken.iter().any(|t| overlap(*t, area))
        };
        let clear =
            |spot: &([f64; 2], Anchor)| free(spot) && !on_leg(boxed(spot.0, spot.1, &words));
        let mut all = spots.clone();
        let Some((at, anchor)) = all.find(clear).or_else(|| spots.clone().find(free)) else {
            continue;
        };
        taken.push(boxed(at, anchor, &words));
        canvas.text(at, anchor, Class::Bold, &words);
    }
}

/// The places beside a bundle of legs: away from the plumb line, then toward it.
fn spots(bundle: &Bundle, apex: [f64; 2], share: f64) -> [([f64; 2], Anchor); 2] {
    let at = bundle.feet.iter().map(|foot| between(apex, *foot, share));
    let [left, right] = at
        .clone()
        .fold([f64::INFINITY, f64::NEG_INFINITY], |[l, r], p| {
            [l.min(p[0]), r.max(p[0])]
        });
    let y = at.map(|p| p[1]).sum::<f64>() / bundle.feet.len() as f64;
    let start = ([right + BESIDE, y], Anchor::Start);
    let end = ([left - BESIDE, y], Anchor::End);
    if left + right >= 2.0 * apex[0] {
        [start, end]
    } else {
        [end, start]
    }
}

/// Heights for labels of several rows in one column, so that none lies over the one below it: the
/// lowest stay, those above make way upwards. `labels` holds each one's first line and its rows.
pub(super) fn stacked(labels: &[(f64, usize)]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..labels.len()).collect();
    order.sort_by(|a, b| labels[*b].0.total_cmp(&labels[*a].0));
    let mut heights = vec![0.0; labels.len()];
    let mut below = f64::INFINITY;
    for i in order {
        let (y, rows) = labels[i];
        let least = ROW * rows as f64 + 2.0;
        heights[i] = y.min(below - least);
        below = heights[i];
    }
    heights
}
