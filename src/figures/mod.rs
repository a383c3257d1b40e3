//! Statics, capacity and air density: pure functions on SI quantities.
