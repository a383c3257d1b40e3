//! The plan file: a load, its slings, the lift and the checks round it, and its expansion to a route.

mod route;

pub use route::{
    Check, CheckId, CheckKind, Compare, Condition, LeftOut, NamedState, Relation, Route, Station,
    Test,
};
