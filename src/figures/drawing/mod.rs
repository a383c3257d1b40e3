//! The load as it hangs, true to scale, as SVG or PNG: from the side, from the front and from above, with
//! legs coloured by share of their rating and every number printed.
//!
//! Shape, attitude and angles are as typed in. Pulls stand as typed in and at the worst of the plus and
//! minus; shares and colours are at the worst, as in the verdicts. From above the front is up and left
//! is left, as in the maps of the stations.

pub(crate) mod canvas;
mod labels;
#[cfg(feature = "png")]
mod png;
mod svg;
mod table;
mod view;

#[cfg(feature = "png")]
pub use png::PngError;

use super::below::Below;
use super::hang::Hang;
use super::judge::{exact, within};
use super::plus_minus::{at_worst, pull_kg};
use super::rig::{Leg, Rig, carrying_words};
use super::verdict::{CAUTION, percent};
use canvas::{Anchor, Canvas, Class, Picture, Stroke};
use nalgebra::{Matrix3, Vector3};
use table::{scale_bar, table};
use view::View;

const INK: &str = "#1a1a1a";
const FAINT: &str = "#8a8a8a";
const BODY: &str = "#efece4";

/// Leg colours by share of the rating: four of the colours of Okabe and Ito that readers with any
/// colour vision tell apart; width grows with them, and the share is printed beside each.
const SCALE: [(f64, &str, f64, &str); 4] = [
    (50.0, "#0072b2", 3.0, "up to 50 %"),
    (80.0, "#009e73", 4.0, "50 to 80 %"),
    (100.0, "#e69f00", 5.0, "80 to 100 %"),
    (f64::INFINITY, "#d55e00", 6.5, "over 100 %"),
];
const SLACK: Stroke = Stroke {
    colour: "#6b6b6b",
    width: 2.0,
    dash: &[5.0, 5.0],
};

/// One leg ready to be drawn.
struct DrawnLeg {
    name: String,
    provision: Vector3<f64>,
    missing: bool,
    let_go: bool,
    slack: bool,
    links: Option<u32>,
    miscounted: bool,
    /// As typed in.
    pull: String,
    /// At the worst of the plus and minus.
    worst_pull: String,
    /// At the worst too.
    share_percent: f64,
    angle_deg: f64,
}

impl DrawnLeg {
    /// What is said of a leg that carries nothing at all.
    fn gone(&self) -> &'static str {
        if self.let_go { "slack" } else { "missing" }
    }

    /// Its share of the rating, as the verdicts have it.
    fn share(&self) -> String {
        let fails = !within(self.share_percent, 100.0);
        percent(self.share_percent, fails)
    }

    /// What stands at its corner in the plan view, a line each.
    fn in_plan(&self) -> Vec<String> {
        let what = if self.missing {
            self.gone().to_owned()
        } else if self.slack {
            "slack".to_owned()
        } else {
            self.share()
        };
        let mark = if self.miscounted { "!" } else { "" };
        let count = self.links.map(|links| format!("link {links}{mark}"));
        [Some(what), count].into_iter().flatten().collect()
    }

    fn stroke(&self) -> Stroke {
        if self.slack {
            return SLACK;
        }
        let (_, colour, width, _) = SCALE
            .into_iter()
            .find(|(most, ..)| self.share_percent <= *most)
            .unwrap_or(SCALE[3]);
        Stroke::solid(colour, width)
    }
}

/// All that is drawn, in true axes: x ahead, y left, z up, the apex at the origin.
struct Scene {
    legs: Vec<DrawnLeg>,
    corners: Vec<Vector3<f64>>,
    cg: Vector3<f64>,
    /// Whether the provisions sit on a spreader above the load.
    spreader: bool,
    /// Whether what sits above the load is one ring, to which a net or its slings are drawn up.
    one_ring: bool,
    /// Upper and lower end of each drop below it, where the plan has them.
    drops: Vec<[Vector3<f64>; 2]>,
    /// Most tilt at the worst of the plus and minus, degrees; `None` where there is no plus or minus.
    worst_tilt_deg: Option<f64>,
    /// Whether it is worked out how the load itself hangs.
    load_known: bool,
    /// Whether it no longer hangs somewhere between plus and minus.
    falls: bool,
}

impl Scene {
    fn of(rig: &Rig, hang: &Hang) -> Scene {
        let turn = upright(Vector3::from(hang.up));
        let apex = Vector3::from(hang.apex_m);
        let place = |p: [f64; 3]| turn * (Vector3::from(p) - apex);
        let load_turn = upright(Vector3::from(hang.load_up));
        // Below a spreader the load hangs plumb under the upper ends of its drops.
        let (drop_m, held) = match &rig.below {
            Some(Below::Drops(drops)) => (drops.length_m, drops.middle()),
            _ => (0.0, apex),
        };
        let above = Vector3::z() * drop_m;
        let place_load =
            |p: Vector3<f64>| load_turn * (p - held) + turn * (held + above - apex) - above;
        let drops = match &rig.below {
            Some(Below::Drops(drops)) => {
                let ends = drops.lower_m.iter().map(|p| {
                    let lower = place_load(Vector3::from(*p));
                    [lower + above, lower]
                });
                ends.collect()
            }
            _ => Vec::new(),
        };
        // Whoever has a `hang` has a rig that hangs as typed in.
        let worst = at_worst(rig).ok();
        let legs: Vec<DrawnLeg> = rig
            .legs
            .iter()
            .zip(&hang.legs)
            .enumerate()
            .map(|(at, (leg, hung))| {
                let kg = pull_kg(rig, hung);
                let worst_kg = worst.as_ref().map_or(kg, |w| w.legs[at].pull_kg);
                DrawnLeg {
                    name: leg.name.clone(),
                    provision: place(leg.provision_m),
                    missing: leg.missing,
                    let_go: leg.let_go,
                    slack: hung.slack,
                    links: (leg.pitch_m > 0.0).then_some(leg.links),
                    miscounted: leg.links != leg.planned_links,
                    pull: rig.unit.written(kg),
                    worst_pull: rig.unit.written(worst_kg),
                    share_percent: worst_kg / leg.holds_kg() * 100.0,
                    angle_deg: hung.angle_deg,
                }
            })
            .collect();
        let corners = rig.box_m.map_or_else(Vec::new, |[low, high]| {
            (0..8)
                .map(|i| {
                    let pick = |axis: usize| if i >> axis & 1 == 1 { high } else { low }[axis];
                    place_load(Vector3::new(pick(0), pick(1), pick(2)))
                })
                .collect()
        });
        let top = rig.box_m.map_or(f64::INFINITY, |[low, high]| {
            high[2] + 0.02 * (high[2] - low[2])
        });
        let first = rig.legs.first().map(|l| l.provision_m);
        let at_first = |l: &Leg| Some(l.provision_m) == first;
        Scene {
            one_ring: rig.below.is_none()
                && rig
                    .legs
                    .iter()
                    .all(|l| l.provision_m[2] > top && at_first(l)),
            spreader: rig.below.is_some() || rig.legs.iter().all(|l| l.provision_m[2] > top),
            drops,
            legs,
            corners,
            cg: Vector3::z() * -hang.apex_over_cg_m,
            falls: worst.as_ref().is_some_and(|w| w.falls),
            worst_tilt_deg: worst.filter(|w| w.differs).map(|w| w.tilt_deg),
            load_known: hang.load_known,
        }
    }

    fn tilt_at_worst(&self) -> String {
        self.worst_tilt_deg
            .filter(|_| self.load_known)
            .map_or_else(String::new, |deg| format!(", {deg:.1}° off level at worst"))
    }

    /// What the numbers are for.
    fn basis(&self) -> (Class, &'static str) {
        match (self.falls, self.worst_tilt_deg) {
            (true, _) => (
                Class::Bold,
                "WITHIN THE PLUS AND MINUS OF THE PLAN THE LOAD MAY NOT STAY UPRIGHT.",
            ),
            (false, Some(_)) => (
                Class::Small,
                "Shape and angles as typed in. Shares and colours at the worst of the plan's plus and \
                 minus.",
            ),
            (false, None) => (
                Class::Small,
                "All as typed in; the plan gives no plus or minus.",
            ),
        }
    }

    /// Every point that must be on the picture.
    fn points(&self) -> impl Iterator<Item = Vector3<f64>> {
        let provisions = self.legs.iter().map(|l| l.provision);
        provisions
            .chain(self.corners.iter().copied())
            .chain([self.cg, Vector3::zeros()])
    }

    /// Lower and upper end along an axis.
    fn extent(&self, axis: usize) -> (f64, f64) {
        self.points()
            .map(|p| p[axis])
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| {
                (low.min(v), high.max(v))
            })
    }
}

/// The least turn that brings `up` to true up.
fn upright(up: Vector3<f64>) -> Matrix3<f64> {
    let w = up.cross(&Vector3::z());
    let cross = w.cross_matrix();
    Matrix3::identity() + cross + cross * cross / (1.0 + up.z)
}

const MARGIN: f64 = 96.0;
const GAP: f64 = 150.0;
const HEAD: f64 = 116.0;
const LONGEST_PX: f64 = 430.0;
const TABLE_PX: f64 = 540.0;
/// Letters of a leg's name that the table has room for as it is, and the width of one more, pixels.
const NAME_LETTERS: usize = 16;
const LETTER_PX: f64 = 7.8;
/// Width of a letter of the load's name and height of a line of it, pixels.
const TITLE_PX: f64 = 11.5;
const NAME_ROW: f64 = 24.0;

/// Draws a rig as it hangs, as an SVG document.
pub fn drawing(rig: &Rig, hang: &Hang) -> String {
    svg::svg(&picture(rig, hang))
}

/// Draws a rig as it hangs, as a PNG with `scale` pixels for each of the SVG's.
///
/// # Errors
/// A scale that makes no picture; else only a fault of the program.
#[cfg(feature = "png")]
pub fn drawing_png(rig: &Rig, hang: &Hang, scale: f64) -> Result<Vec<u8>, PngError> {
    png::png(&picture(rig, hang), scale)
}

/// A rig as it hangs, as the shapes that it is drawn with.
pub(crate) fn picture(rig: &Rig, hang: &Hang) -> Picture {
    let scene = Scene::of(rig, hang);
    let (x, y, z) = (scene.extent(0), scene.extent(1), scene.extent(2));
    let (dx, dy, dz) = (x.1 - x.0, y.1 - y.0, z.1 - z.0);
    let scale = LONGEST_PX / dx.max(dz).max(dy).max(0.1);
    let column = (dx.max(dy) * scale).max(200.0);
    let right = (dy * scale).max(200.0);
    let front_left = MARGIN + column + GAP;
    let table_px = 96.0 + 24.0 * (rig.legs.len() + SCALE.len()) as f64;
    let facts = [
        format!("{} under the legs", rig.unit.written(rig.mass_kg)),
        format!("hangs {} as typed in{}", hang.lean(), scene.tilt_at_worst()),
        pulls_are(rig, hang),
    ];
    let summary = format!("{}, {}", rig.name, facts.join("; "));
    let facts = facts.join(" · ");
    let names = scene.legs.iter().map(|l| l.name.chars().count());
    let longer = names.max().unwrap_or(0).saturating_sub(NAME_LETTERS) as f64 * LETTER_PX;
    let width = (front_left + right + MARGIN)
        .max(front_left - 40.0 + TABLE_PX + longer)
        .max(48.0 + LETTER_PX * facts.chars().count() as f64);
    let name = wrapped(&rig.name, ((width - 48.0) / TITLE_PX) as usize);
    // Lines of the name beyond the first move all that is below them.
    let lower = NAME_ROW * (name.len() - 1) as f64;
    let head = HEAD + lower;
    let plan_top = head + dz * scale + 120.0;
    let table_top = plan_top - 24.0;
    let height = (plan_top + dx * scale + 76.0).max(table_top + table_px) + 44.0;

    let mut canvas = Canvas::default();
    for (row, line) in name.iter().enumerate() {
        let y = 34.0 + NAME_ROW * row as f64;
        canvas.text([24.0, y], Anchor::Start, Class::Title, line);
    }
    canvas.text([24.0, 58.0 + lower], Anchor::Start, Class::Plain, &facts);
    let (class, basis) = scene.basis();
    canvas.text([24.0, 79.0 + lower], Anchor::Start, class, basis);

    let side = View {
        name: "from the right side",
        across: Vector3::x(),
        along: Vector3::z(),
        origin: [
            MARGIN - x.0 * scale + (column - dx * scale) / 2.0,
            head + z.1 * scale,
        ],
        scale,
        lean: part(hang.nose_down_deg, "nose down", "nose up"),
        ends: ["rear", "front"],
    };
    let front = View {
        name: "from the front",
        across: Vector3::y(),
        along: Vector3::z(),
        origin: [
            front_left - y.0 * scale + (right - dy * scale) / 2.0,
            head + z.1 * scale,
        ],
        scale,
        lean: part(hang.left_down_deg, "left side down", "right side down"),
        ends: ["right", "left"],
    };
    let above = View {
        name: "from above",
        across: -Vector3::y(),
        along: Vector3::x(),
        origin: [
            MARGIN + (column + (y.0 + y.1) * scale) / 2.0,
            plan_top + x.1 * scale,
        ],
        scale,
        lean: String::new(),
        ends: ["left", "right"],
    };
    side.draw(&mut canvas, &scene);
    front.draw(&mut canvas, &scene);
    above.draw_plan(&mut canvas, &scene);
    table(&mut canvas, &scene, [front_left - 40.0, table_top], longer);
    scale_bar(&mut canvas, rig.length_unit, scale, [24.0, height - 44.0]);
    canvas.text([24.0, height - 16.0], Anchor::Start, Class::Small, CAUTION);

    let legs: Vec<String> = scene
        .legs
        .iter()
        .map(|l| {
            if l.missing {
                format!("{} leg {}", l.name, l.gone())
            } else {
                format!(
                    "{} leg {} as typed in, {} at worst ({})",
                    l.name,
                    l.pull,
                    l.worst_pull,
                    l.share()
                )
            }
        })
        .collect();
    let desc = format!("{summary}. {}. {basis} {CAUTION}", legs.join(", "));
    canvas.finish([width, height], format!("{} as it hangs", rig.name), desc)
}

/// By what the pulls in the table are, in words.
fn pulls_are(rig: &Rig, hang: &Hang) -> String {
    let by = match hang.determinate {
        true => "pulls by statics alone".to_owned(),
        false => format!("pulls with {}", carrying_words(rig.carrying)),
    };
    let moved = match rig.dynamic_factor {
        1.0 => String::new(),
        factor => format!(", times {} as the lift moves", exact(factor)),
    };
    let choked = match rig.present().any(|(_, leg)| leg.hitch_keeps < 1.0) {
        true => ", shares of what a choker leaves",
        false => "",
    };
    format!("{by}{moved}{choked}")
}

/// A text in lines of at most so many letters, broken at blanks where there are any.
fn wrapped(text: &str, most: usize) -> Vec<String> {
    let mut lines = vec![String::new()];
    let mut long = 0;
    for word in text.split_whitespace() {
        let letters: Vec<char> = word.chars().collect();
        for (nth, piece) in letters.chunks(most.max(1)).enumerate() {
            let fits = long == 0 || (nth == 0 && long + 1 + piece.len() <= most);
            if !fits {
                lines.push(String::new());
                long = 0;
            }
            if let Some(line) = lines.last_mut() {
                if long > 0 {
                    line.push(' ');
                    long += 1;
                }
                line.extend(piece);
                long += piece.len();
            }
        }
    }
    lines
}

fn part(deg: f64, plus: &str, minus: &str) -> String {
    if deg.abs() < 0.05 {
        "level".to_owned()
    } else {
        let words = if deg > 0.0 { plus } else { minus };
        format!("{:.1}° {words}", deg.abs())
    }
}
