//! Pictures of the hanging load: nothing lies over another label, and the PNG shows the SVG.

#[cfg(feature = "png")]
use loadwalk::figures::drawing_png;
use loadwalk::figures::{
    Found, HangLimits, Leg, LengthUnit, MassUnit, PlusMinus, Rig, drawing, hang,
};
use loadwalk::plan::{Carrying, ChainMode, read};
use std::path::Path;

/// The demo plans' rigs, and the skid with one leg slack by count and one missing.
fn rigs() -> Vec<(String, Rig)> {
    let demo = |name: &str| {
        let path = Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("plans")
            .join(name);
        let text = std::fs::read_to_string(&path).unwrap();
        Rig::from_plan(&read(&path, &text).unwrap_or_else(|d| panic!("{d}")))
    };
    let names = ["generator-skid.toml", "roof-beams.toml", "gravel-net.toml"];
    let mut rigs: Vec<(String, Rig)> = names.map(|n| (n.to_owned(), demo(n))).to_vec();
    let skid = rigs[0].1.clone();
    let station = "rear-right".to_owned();
    let links = Found::Links {
        station: station.clone(),
        links: 20,
    };
    rigs.push(("miscounted".to_owned(), skid.as_found(&[links]).unwrap()));
    rigs.push((
        "missing".to_owned(),
        skid.as_found(&[Found::Missing { station }]).unwrap(),
    ));
    rigs
}

/// A rig of other than four legs, or of another shape: box from and to, m; legs at their points, m, with
/// their lengths, m.
fn shape(
    name: &str,
    box_m: [[f64; 3]; 2],
    cg_m: [f64; 3],
    legs: &[([f64; 3], f64)],
) -> (String, Rig) {
    let leg = |(i, (at, length_m)): (usize, &([f64; 3], f64))| Leg {
        station: format!("s{i}"),
        name: format!("lifting eye {}", i + 1),
        provision_m: *at,
        provision_rating_kg: None,
        full_length_m: *length_m,
        pitch_m: 0.02,
        mode: ChainMode::Direct,
        links: 0,
        planned_links: 3,
        links_max: 60,
        rating_kg: 1_000.0,
        stretch_at_rating: 0.01,
        hitch_keeps: 1.0,
        missing: false,
        let_go: false,
    };
    let rig = Rig {
        name: name.to_owned(),
        mass_kg: 1_200.0,
        cg_m,
        box_m: Some(box_m),
        below: None,
        legs: legs.iter().enumerate().map(leg).collect(),
        carrying: Carrying::Two,
        plus_minus: PlusMinus::default(),
        dynamic_factor: 1.0,
        limits: HangLimits::default(),
        unit: MassUnit::Lb,
        length_unit: LengthUnit::Ft,
    };
    (name.to_owned(), rig)
}

/// One leg to six; tall and narrow, wide and flat, long, far off level, legs close to each other, a name
/// as long as a plan allows.
fn shapes() -> Vec<(String, Rig)> {
    let low = |x: f64, y: f64, z: f64| [[-x, -y, 0.0], [x, y, z]];
    let corners = |x: f64, y: f64, z: f64, long: f64| {
        [[x, y, z], [x, -y, z], [-x, y, z], [-x, -y, z]].map(|at| (at, long))
    };
    let six = |x: f64, middle: f64| {
        let mut legs = corners(x, 0.9, 0.6, 3.8).to_vec();
        legs.extend([([middle, 1.0, 0.6], 3.4), ([middle, -1.0, 0.6], 3.4)]);
        legs
    };
    let five = |tail: f64| {
        let mut legs = corners(1.2, 0.9, 2.2, 3.0).to_vec();
        legs.push(([tail, 0.0, 2.2], 3.0));
        legs
    };
    let mut long_name = shape(
        "long names",
        low(1.2, 0.8, 1.5),
        [0.1, 0.1, 0.6],
        &corners(1.0, 0.6, 1.5, 3.0),
    );
    for leg in &mut long_name.1.legs {
        leg.name = "lifting eye of the upper frame behind the front left wheel ab".to_owned();
    }
    let triangle = [
        ([0.9, 0.0, 1.8], 2.4),
        ([-0.5, 0.8, 1.8], 2.4),
        ([-0.5, -0.8, 1.8], 2.4),
    ];
    let bridle = [([2.0, 0.0, 0.4], 3.0), ([-2.0, 0.0, 0.4], 3.0)];
    vec![
        shape(
            "one leg",
            low(0.5, 0.5, 1.2),
            [0.02, 0.0, 0.6],
            &[([0.0, 0.0, 1.2], 2.0)],
        ),
        shape("two legs", low(3.0, 0.2, 0.4), [0.2, 0.0, 0.2], &bridle),
        shape(
            "three legs",
            low(1.0, 1.0, 1.8),
            [0.1, 0.15, 0.8],
            &triangle,
        ),
        shape(
            "five legs",
            low(1.5, 1.0, 2.2),
            [0.05, 0.02, 0.9],
            &five(-1.6),
        ),
        shape(
            "five legs, two close",
            low(1.5, 1.0, 2.2),
            [0.05, 0.02, 0.9],
            &five(-1.25),
        ),
        shape(
            "six legs",
            low(2.2, 1.1, 0.6),
            [0.1, 0.05, 0.3],
            &six(2.0, 0.0),
        ),
        shape(
            "six legs, two close",
            low(2.2, 1.1, 0.6),
            [0.1, 0.05, 0.3],
            &six(2.0, -1.7),
        ),
        shape(
            "tall",
            low(0.25, 0.25, 6.0),
            [0.0, 0.01, 3.0],
            &corners(0.2, 0.2, 6.0, 1.5),
        ),
        shape(
            "taller",
            low(0.25, 0.25, 9.0),
            [0.0, 0.01, 4.0],
            &corners(0.2, 0.2, 9.0, 1.5),
        ),
        shape(
            "flat",
            low(4.0, 1.5, 0.15),
            [0.2, 0.1, 0.07],
            &corners(3.0, 1.3, 0.15, 5.0),
        ),
        shape(
            "long",
            low(9.0, 0.3, 0.5),
            [0.3, 0.0, 0.2],
            &corners(4.0, 0.25, 0.5, 7.0),
        ),
        shape(
            "off level",
            low(1.1, 0.7, 1.5),
            [0.6, 0.3, 0.6],
            &corners(1.0, 0.6, 1.5, 3.0),
        ),
        long_name,
        shape(
            &"battery crate for the hut on the saddle ".repeat(7),
            low(1.0, 0.6, 1.0),
            [0.0, 0.0, 0.4],
            &corners(0.8, 0.5, 1.0, 2.5),
        ),
        shape(
            &"W".repeat(300),
            low(1.0, 0.6, 1.0),
            [0.0, 0.0, 0.4],
            &corners(0.8, 0.5, 1.0, 2.5),
        ),
    ]
}

fn words(svg: &str) -> String {
    let all = labels(svg).into_iter().map(|(_, words)| words);
    all.collect::<Vec<_>>().join("|")
}

#[test]
fn by_what_pulls_and_shares_are_stands_in_the_picture() {
    let (_, skid) = &rigs()[0];
    let told = |rig: &Rig| words(&drawing(rig, &hang(rig).unwrap()));
    let plain = told(skid);
    assert!(plain.contains("pulls with two legs carrying"), "{plain}");
    assert!(
        !plain.contains("times") && !plain.contains("choker"),
        "{plain}"
    );
    let mut moving = skid.clone();
    moving.dynamic_factor = 1.25;
    moving.legs[0].hitch_keeps = 0.75;
    let moving = told(&moving);
    let wanted = "two legs carrying, times 1.25 as the lift moves, shares of what a choker leaves";
    assert!(moving.contains(wanted), "{moving}");
    let bridle = told(&rigs()[1].1);
    assert!(bridle.contains("pulls by statics alone"), "{bridle}");
}

/// A net lies round its centre of gravity, below its ring, and not with its top at it.
#[test]
fn a_load_is_drawn_round_its_centre_of_gravity() {
    let text = |name: &str| {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("plans");
        std::fs::read_to_string(path.join(name)).unwrap()
    };
    let height = |text: &str| {
        let plan = read(Path::new("plan.toml"), text).unwrap_or_else(|d| panic!("{d}"));
        let [low, high] = plan.load.box_m();
        let cg = plan.load.centre_of_gravity.metres()[2];
        assert!(low[2] < cg && cg < high[2], "{low:?} {high:?}");
        [low[2], high[2]]
    };
    let near = |found: [f64; 2], wanted: [f64; 2]| {
        let off = found.iter().zip(wanted).map(|(a, b)| (a - b).abs());
        assert!(off.fold(0.0, f64::max) < 1e-9, "{found:?}");
    };
    let net = text("gravel-net.toml");
    near(height(&net), [0.0, 0.9]);
    // The same from an origin at the ring.
    let at_ring = net.replace("up = \"2.1 m\"", "up = \"0 m\"");
    let at_ring = at_ring.replace("up = \"0.45 m", "up = \"-1.65 m");
    near(height(&at_ring), [-2.1, -1.2]);
    near(height(&text("generator-skid.toml")), [0.0, 1.6]);
    height(&text("roof-beams.toml"));
    // A rigid load from an origin at its provisions hangs from them as before.
    let skid = text("generator-skid.toml");
    let down = skid.replace("up = \"1.55 m\"", "up = \"0 m\"");
    let down = down.replace("up = \"0.7 m", "up = \"-0.85 m");
    assert_ne!(skid, down);
    near(height(&down), [-1.6, 0.0]);
}

/// The number that follows a key in an element.
fn number(line: &str, key: &str) -> f64 {
    let at = line.find(&format!(" {key}=\"")).unwrap() + key.len() + 3;
    line[at..at + line[at..].find('"').unwrap()]
        .parse()
        .unwrap()
}

/// Left, right, top and bottom of each text, and its words. Letters are taken as 0.6 of their size
/// wide, which is a little more than the mean of the fonts named in the picture.
fn labels(svg: &str) -> Vec<([f64; 4], String)> {
    svg.lines()
        .filter(|l| l.starts_with("<text") && !l.contains("aria-hidden"))
        .map(|line| {
            let part = |key: &str| {
                let at = line.find(&format!(" {key}=\"")).unwrap() + key.len() + 3;
                &line[at..at + line[at..].find('"').unwrap()]
            };
            let number = |key: &str| part(key).parse::<f64>().unwrap();
            let words = &line[line.find('>').unwrap() + 1..line.rfind("</text>").unwrap()];
            let (x, y, size) = (number("x"), number("y"), number("font-size"));
            let wide = 0.6 * size * words.chars().count() as f64;
            let left = match part("text-anchor") {
                "start" => x,
                "middle" => x - wide / 2.0,
                _ => x - wide,
            };
            (
                [left, left + wide, y - 0.75 * size, y + 0.2 * size],
                words.to_owned(),
            )
        })
        .filter(|(_, words)| !words.is_empty())
        .collect()
}

#[test]
fn no_label_lies_over_another_or_outside() {
    for (name, rig) in rigs().into_iter().chain(shapes()) {
        let svg = drawing(&rig, &hang(&rig).unwrap());
        let labels = labels(&svg);
        let size = [number(&svg, "width"), number(&svg, "height")];
        assert!(labels.len() > 15, "{name}");
        for (i, (a, words)) in labels.iter().enumerate() {
            let inside = a[0] >= 0.0 && a[1] <= size[0] && a[2] >= 0.0 && a[3] <= size[1];
            assert!(inside, "{name}: {words} hangs out");
            for (b, other) in &labels[i + 1..] {
                let apart = a[1] <= b[0] || b[1] <= a[0] || a[3] <= b[2] || b[3] <= a[2];
                assert!(apart, "{name}: {words} and {other}");
            }
        }
    }
}

#[test]
fn no_label_lies_over_a_leg() {
    const LEGS: [&str; 5] = ["#0072b2", "#009e73", "#e69f00", "#d55e00", "#6b6b6b"];
    for (name, rig) in rigs().into_iter().chain(shapes()) {
        let svg = drawing(&rig, &hang(&rig).unwrap());
        let lines: Vec<[f64; 4]> = svg
            .lines()
            .filter(|l| l.starts_with("<line") && LEGS.iter().any(|c| l.contains(c)))
            .map(|l| ["x1", "x2", "y1", "y2"].map(|key| number(l, key)))
            .collect();
        assert!(lines.len() >= 3 * rig.present().count(), "{name}");
        for (area, words) in labels(&svg) {
            for [x1, x2, y1, y2] in &lines {
                // Points along the leg, closer to each other than a letter is wide.
                let over = (0..=200).map(|i| f64::from(i) / 200.0).any(|share| {
                    let (x, y) = (x1 + (x2 - x1) * share, y1 + (y2 - y1) * share);
                    x > area[0] && x < area[1] && y > area[2] && y < area[3]
                });
                assert!(!over, "{name}: {words} over a leg");
            }
        }
    }
}

#[test]
fn the_picture_of_the_readme_is_what_the_figures_draw() {
    let (_, skid) = &rigs()[0];
    let links = Found::Links {
        station: "rear-right".to_owned(),
        links: 8,
    };
    let found = skid.as_found(&[links]).unwrap();
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("plans/generator-skid.svg");
    let drawn = drawing(&found, &hang(&found).unwrap());
    assert_eq!(
        std::fs::read_to_string(path).unwrap(),
        drawn,
        "make it again: loadwalk figures plans/generator-skid.toml --count rear-right=8 --svg \
         plans/generator-skid.svg"
    );
}

#[cfg(feature = "png")]
#[test]
fn a_png_shows_the_legs_in_their_colours() {
    let (_, rig) = &rigs()[0];
    let svg = drawing(rig, &hang(rig).unwrap());
    let hang = hang(rig).unwrap();
    let bytes = drawing_png(rig, &hang, 2.0).unwrap();
    let picture = tiny_skia::Pixmap::decode_png(&bytes).unwrap();
    let wide: u32 = svg[svg.find("width=\"").unwrap() + 7..]
        .split('"')
        .next()
        .unwrap()
        .parse()
        .unwrap();
    assert_eq!(picture.width(), 2 * wide);
    let count = |colour: [u8; 3]| {
        let pixels = picture.pixels().iter();
        pixels
            .filter(|p| [p.red(), p.green(), p.blue()] == colour)
            .count()
    };
    // Legs at 57 percent are green; the letters are there; most is white paper.
    assert!(count([0x00, 0x9e, 0x73]) > 2_000);
    assert!(count([0x1a, 0x1a, 0x1a]) > 2_000);
    assert!(count([0xff, 0xff, 0xff]) > picture.pixels().len() / 2);
    // Letters as small as the cautions' are dark grey.
    assert!(count([0x44, 0x44, 0x44]) > 200);
}
