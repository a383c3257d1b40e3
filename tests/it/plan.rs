//! Reading plans: the demo plans, every kind of mistake, and anything at all.

use loadwalk::plan;
use std::path::Path;

fn demo(name: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("plans")
        .join(name);
    std::fs::read_to_string(path).expect("a demo plan that is in the repository")
}

#[test]
fn generator_skid_reads() {
    let text = demo("generator-skid.toml");
    let plan =
        plan::read(Path::new("generator-skid.toml"), &text).unwrap_or_else(|d| panic!("{d}"));
    for w in plan.warnings() {
        println!("{} {:?}", w.title, w.span);
    }
    for c in plan.route().checks() {
        println!("{} | {} | {:?}", c.id, c.ask, c.kind);
    }
    println!("{:?}", plan.route().left_out);
    println!("{}", plan.route().checks().count());
}
