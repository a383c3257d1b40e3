//! Loads to walk round: the generator of the mountain hut, small enough to read.

use loadwalk::plan::{
    Check, CheckId, CheckKind, Compare, Condition, NamedState, Relation, Route, Station, Test,
};
use loadwalk::walk::{CapacityLine, Opening};

pub fn id(text: &str) -> CheckId {
    CheckId(text.to_owned())
}

pub fn check(text: &str, name: &str, ask: &str, kind: CheckKind) -> Check {
    Check {
        id: id(text),
        name: name.to_owned(),
        also: Vec::new(),
        together: None,
        ask: ask.to_owned(),
        kind,
        deficiency: None,
        when: Vec::new(),
        touches: Vec::new(),
        compare: None,
    }
}

pub fn station(key: &str, name: &str, arrive: &str, checks: Vec<Check>) -> Station {
    Station {
        key: key.to_owned(),
        name: name.to_owned(),
        arrive: arrive.to_owned(),
        place_m: None,
        checks,
    }
}

pub fn count(expected: Option<u32>) -> CheckKind {
    CheckKind::Count {
        expected,
        noun: "links".to_owned(),
    }
}

pub fn state(key: &str, spoken: &str, deficiency: Option<&str>) -> NamedState {
    NamedState {
        key: key.to_owned(),
        spoken: vec![spoken.to_owned()],
        deficiency: deficiency.map(str::to_owned),
    }
}

pub fn opening(route: Route) -> Opening {
    Opening {
        inspector: "Ida Rast".to_owned(),
        rigger: "Ole Brandt".to_owned(),
        plan_sha256: "00".to_owned(),
        route,
        capacity: vec![CapacityLine {
            question: "aircraft".to_owned(),
            passes: true,
            spoken: "aircraft 900 of 1,200 kilograms".to_owned(),
            look: String::new(),
        }],
        tryout: None,
        rigger_marks: Default::default(),
        practice: None,
    }
}

/// Two corners of a generator skid.
pub fn generator() -> Route {
    let corner = |key: &str, name: &str, links: u32| {
        let mut pin = check(
            &format!("{key}/pin"),
            "shackle pin",
            "Shackle pin?",
            CheckKind::Presence { must_be: true },
        );
        pin.touches = vec![id(&format!("{key}/links"))];
        let links = check(
            &format!("{key}/links"),
            "hook links",
            "Hook links, how many?",
            count(Some(links)),
        );
        station(key, name, "Hand on the chain.", vec![pin, links])
    };
    let mut front = corner("front-left", "front left corner", 13);
    front.checks.push(check(
        "front-left/drain",
        "fuel drain",
        "Fuel drain?",
        CheckKind::State {
            states: vec![
                state("plugged", "plugged", None),
                state("blanked", "blanked", None),
                state("neither", "neither", Some("fuel drain open")),
            ],
        },
    ));
    let mut cap = check(
        "front-left/cap",
        "blanking cap wire",
        "Wire on the blanking cap?",
        CheckKind::Condition,
    );
    cap.when = vec![Condition {
        check: id("front-left/drain"),
        test: Test::Is(vec!["blanked".to_owned()]),
    }];
    front.checks.push(cap);
    let mut rear = corner("rear-left", "rear left corner", 7);
    rear.checks.push(check(
        "rear-left/tyre",
        "tyre",
        "Tyre pressure?",
        CheckKind::Reading {
            unit: "bar".to_owned(),
            min: Some(2.0),
            max: Some(2.5),
        },
    ));
    Route {
        load: "generator skid".to_owned(),
        stations: vec![front, rear],
        left_out: Vec::new(),
        outline_m: None,
    }
}

/// Two drums whose link counts must be alike and whose hooks must mirror each other.
pub fn pair() -> Route {
    let hook = || CheckKind::State {
        states: vec![
            state("left", "opens left", None),
            state("right", "opens right", None),
            state("up", "opens up", None),
        ],
    };
    let left = vec![
        check("left/links", "links", "Links?", count(None)),
        check("left/hook", "hook", "Hook opens where?", hook()),
    ];
    let mut links = check("right/links", "links", "Links?", count(None));
    links.compare = Some(Compare {
        with: id("left/links"),
        relation: Relation::Alike,
    });
    let mut opens = check("right/hook", "hook", "Hook opens where?", hook());
    opens.compare = Some(Compare {
        with: id("left/hook"),
        relation: Relation::Mirrored(vec![["left".to_owned(), "right".to_owned()]]),
    });
    Route {
        load: "drum pair".to_owned(),
        stations: vec![
            station("left", "left drum", "", left),
            station("right", "right drum", "", vec![links, opens]),
        ],
        left_out: Vec::new(),
        outline_m: None,
    }
}
