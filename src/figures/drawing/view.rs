//! One view of the scene.

use super::canvas::{Anchor, Canvas, Class, Stroke};
use super::{BODY, DrawnLeg, FAINT, INK, Scene, labels};
use nalgebra::Vector3;

/// A way of looking at the scene.
pub(super) struct View {
    pub name: &'static str,
    /// What runs to the right on paper.
    pub across: Vector3<f64>,
    /// What runs up on paper.
    pub along: Vector3<f64>,
    /// Where the apex is on paper.
    pub origin: [f64; 2],
    /// Pixels a metre.
    pub scale: f64,
    /// How the load leans in this view; empty where that cannot be seen.
    pub lean: String,
    /// What is at the left and right end on paper.
    pub ends: [&'static str; 2],
}

/// A line with a dark edge, so that every colour stands off white paper.
pub(super) fn cased(canvas: &mut Canvas, from: [f64; 2], to: [f64; 2], stroke: Stroke) {
    if stroke.dash.is_empty() {
        canvas.line(from, to, Stroke::solid(INK, stroke.width + 2.0));
    }
    canvas.line(from, to, stroke);
}

impl View {
    fn at(&self, p: &Vector3<f64>) -> [f64; 2] {
        [
            self.origin[0] + self.across.dot(p) * self.scale,
            self.origin[1] - self.along.dot(p) * self.scale,
        ]
    }

    /// Left, right, top and bottom of what is drawn.
    fn frame(&self, scene: &Scene) -> [f64; 4] {
        scene.points().map(|p| self.at(&p)).fold(
            [
                f64::INFINITY,
                f64::NEG_INFINITY,
                f64::INFINITY,
                f64::NEG_INFINITY,
            ],
            |[l, r, t, b], [x, y]| [l.min(x), r.max(x), t.min(y), b.max(y)],
        )
    }

    fn body(&self, canvas: &mut Canvas, scene: &Scene) {
        let corners: Vec<[f64; 2]> = scene.corners.iter().map(|c| self.at(c)).collect();
        if !corners.is_empty() {
            canvas.polygon(&hull(&corners), Some(BODY), Stroke::solid(INK, 1.5));
            for (from, to) in EDGES {
                canvas.line(corners[from], corners[to], Stroke::solid("#b8b2a4", 1.0));
            }
            canvas.polygon(&hull(&corners), None, Stroke::solid(INK, 1.5));
        }
        if scene.spreader {
            let bar: Vec<[f64; 2]> = scene.legs.iter().map(|l| self.at(&l.provision)).collect();
            let bar = hull(&bar);
            canvas.polygon(&bar, None, Stroke::solid(INK, 5.0));
            if self.along.z > 0.5 {
                let drop = Stroke {
                    colour: FAINT,
                    width: 1.5,
                    dash: &[3.0, 3.0],
                };
                for [upper, lower] in &scene.drops {
                    canvas.line(self.at(upper), self.at(lower), drop);
                }
                let top = corners.iter().map(|c| c[1]).fold(f64::INFINITY, f64::min);
                if scene.one_ring {
                    // The bits of a corner's number, the highest for up.
                    for corner in corners.iter().skip(4) {
                        canvas.line(self.at(&scene.legs[0].provision), *corner, drop);
                    }
                } else if scene.drops.is_empty() {
                    // Where nobody says how it hangs there, the load is drawn as one with its spreader.
                    for leg in &scene.legs {
                        let from = self.at(&leg.provision);
                        canvas.line(from, [from[0], top], drop);
                    }
                }
            }
        }
    }

    fn legs(&self, canvas: &mut Canvas, scene: &Scene) {
        let apex = self.at(&Vector3::zeros());
        let mut legs: Vec<&DrawnLeg> = scene.legs.iter().filter(|l| !l.missing).collect();
        // Far legs first, the thin over the thick where they fall on one line.
        let toward = self.across.cross(&self.along);
        legs.sort_by(|a, b| {
            let depth = |l: &DrawnLeg| toward.dot(&l.provision);
            depth(a).total_cmp(&depth(b))
        });
        for leg in &legs {
            cased(canvas, apex, self.at(&leg.provision), leg.stroke());
        }
        for leg in &scene.legs {
            let fill = (!leg.missing).then_some("#ffffff");
            canvas.circle(self.at(&leg.provision), 4.5, fill, Stroke::solid(INK, 1.5));
        }
        canvas.circle(apex, 6.0, Some(INK), Stroke::solid("#ffffff", 1.5));
    }

    /// An elevation: plumb line, level line, angles.
    pub fn draw(&self, canvas: &mut Canvas, scene: &Scene) {
        let [left, right, _, bottom] = self.frame(scene);
        let apex = self.at(&Vector3::zeros());
        let cg = self.at(&scene.cg);
        self.body(canvas, scene);
        let faint = |dash: &'static [f32]| Stroke {
            colour: FAINT,
            width: 1.2,
            dash,
        };
        canvas.line(
            [left - 24.0, bottom],
            [right + 24.0, bottom],
            faint(&[2.0, 4.0]),
        );
        canvas.line(apex, cg, faint(&[8.0, 4.0, 2.0, 4.0]));
        self.legs(canvas, scene);
        canvas.centre_of_gravity(cg);
        self.angles(canvas, scene, apex);
        self.ends(canvas, [left, right], bottom + 18.0);
        let middle = (left + right) / 2.0;
        canvas.text(
            [middle, bottom + 24.0],
            Anchor::Middle,
            Class::Bold,
            self.name,
        );
        canvas.text(
            [middle, bottom + 43.0],
            Anchor::Middle,
            Class::Plain,
            &self.lean,
        );
    }

    fn ends(&self, canvas: &mut Canvas, across: [f64; 2], y: f64) {
        // Clear of the view's name, which stands in the middle in letters of about 8 pixels.
        let middle = (across[0] + across[1]) / 2.0;
        let name = 4.0 * self.name.len() as f64 + 8.0;
        for (x, (anchor, end)) in across
            .into_iter()
            .zip([Anchor::End, Anchor::Start].into_iter().zip(self.ends))
        {
            let x = if anchor == Anchor::End {
                (x - 4.0).min(middle - name)
            } else {
                (x + 4.0).max(middle + name)
            };
            canvas.text([x, y], anchor, Class::Small, end);
        }
    }

    /// Angles from the horizontal, each beside its leg; legs that fall on one line share a label.
    fn angles(&self, canvas: &mut Canvas, scene: &Scene, apex: [f64; 2]) {
        let there = scene.legs.iter().filter(|l| !l.missing);
        let legs: Vec<([f64; 2], String)> = there
            .map(|leg| {
                let words = if leg.slack {
                    "slack".to_owned()
                } else {
                    format!("{:.0}°", leg.angle_deg)
                };
                (self.at(&leg.provision), words)
            })
            .collect();
        labels::beside_legs(canvas, apex, self.at(&scene.cg), &legs);
    }

    /// The plan: names, counts and pulls at each corner.
    pub fn draw_plan(&self, canvas: &mut Canvas, scene: &Scene) {
        let [left, right, top, bottom] = self.frame(scene);
        self.body(canvas, scene);
        self.legs(canvas, scene);
        canvas.centre_of_gravity(self.at(&scene.cg));
        let middle = self.at(&scene.cg)[1];
        let across = (left + right) / 2.0;
        let (to_right, to_left): (Vec<&DrawnLeg>, Vec<&DrawnLeg>) = scene
            .legs
            .iter()
            .partition(|leg| self.at(&leg.provision)[0] >= across);
        for (legs, anchor, x) in [
            (to_right, Anchor::Start, right + 12.0),
            (to_left, Anchor::End, left - 12.0),
        ] {
            let words: Vec<Vec<String>> = legs.iter().map(|leg| leg.in_plan()).collect();
            let wanted = legs.iter().zip(&words).map(|(leg, words)| {
                let foot = self.at(&leg.provision)[1];
                let up = if foot > middle + 1.0 { 0.0 } else { 8.0 };
                (foot + 4.0 - up, words.len())
            });
            let heights = labels::stacked(&wanted.collect::<Vec<_>>());
            for (words, height) in words.iter().zip(heights) {
                for (row, word) in words.iter().enumerate() {
                    let class = if row == 0 { Class::Bold } else { Class::Plain };
                    let y = height + labels::ROW * row as f64;
                    canvas.text([x, y], anchor, class, word);
                }
            }
        }
        canvas.text(
            [(left + right) / 2.0, top - 16.0],
            Anchor::Middle,
            Class::Small,
            "front",
        );
        let under = bottom.max(top) + 34.0;
        self.ends(canvas, [left, right], under);
        canvas.text(
            [(left + right) / 2.0, under],
            Anchor::Middle,
            Class::Bold,
            self.name,
        );
    }
}

/// The edges of a box whose corners are numbered by bits.
const EDGES: [(usize, usize); 12] = [
    (0, 1),
    (2, 3),
    (4, 5),
    (6, 7),
    (0, 2),
    (1, 3),
    (4, 6),
    (5, 7),
    (0, 4),
    (1, 5),
    (2, 6),
    (3, 7),
];

/// The convex hull of points, in order round it (Andrew's monotone chain).
fn hull(points: &[[f64; 2]]) -> Vec<[f64; 2]> {
    let mut sorted = points.to_vec();
    sorted.sort_by(|a, b| a[0].total_cmp(&b[0]).then(a[1].total_cmp(&b[1])));
    let turn = |o: [f64; 2], a: [f64; 2], b: [f64; 2]| {
        (a[0] - o[0]) * (b[1] - o[1]) - (a[1] - o[1]) * (b[0] - o[0])
    };
    let half = |points: &mut dyn Iterator<Item = [f64; 2]>| {
        let mut chain: Vec<[f64; 2]> = Vec::new();
        for p in points {
            while let [.., o, a] = chain[..]
                && turn(o, a, p) <= 0.0
            {
                chain.pop();
            }
            chain.push(p);
        }
        chain.pop();
        chain
    };
    let mut hull = half(&mut sorted.iter().copied());
    hull.extend(half(&mut sorted.iter().rev().copied()));
    if hull.len() < 2 { sorted } else { hull }
}
