//! Pictures of the hanging load: nothing lies over another label, and the PNG shows the SVG.

#[cfg(feature = "png")]
use loadwalk::figures::drawing_png;
use loadwalk::figures::{Found, Rig, drawing, hang};
use loadwalk::plan::read;
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
    for (name, rig) in rigs() {
        let svg = drawing(&rig, &hang(&rig).unwrap());
        let labels = labels(&svg);
        assert!(labels.len() > 15, "{name}");
        for (i, (a, words)) in labels.iter().enumerate() {
            assert!(a[0] >= 0.0 && a[2] >= 0.0, "{name}: {words} hangs out");
            for (b, other) in &labels[i + 1..] {
                let apart = a[1] <= b[0] || b[1] <= a[0] || a[3] <= b[2] || b[3] <= a[2];
                assert!(apart, "{name}: {words} and {other}");
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
