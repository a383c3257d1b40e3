//! The lift: who lifts, what may hang on the hook today, and the air it is done in.

use crate::plan::Quantity;
use std::ops::Range;
use uom::si::f64::{Angle, Length, Mass, Pressure, Ratio, ThermodynamicTemperature};

/// Who lifts and what may hang on the hook today.
#[derive(Clone, Debug, PartialEq)]
pub struct Lift {
    /// Helicopter or crane.
    pub by: LiftedBy,
    /// Its name, where given.
    pub name: Option<String>,
    /// What may hang on the hook today, rigging included, as somebody said; at least one of this and
    /// `table` is there.
    pub allowable: Option<Allowable>,
    /// What the hook itself may carry.
    pub hook_limit: Option<Quantity<Mass>>,
    /// Taken off the allowable hook load, 0 to under 100 percent.
    pub deduction: Option<Quantity<Ratio>>,
    /// Times that the gear below the hook is pulled harder than at rest, 1 to 5.
    pub dynamic_factor: Option<f64>,
    /// What hangs between hook and apex.
    pub rigging: Vec<Rigging>,
    /// Tilt of the hanging load beyond which it is not lifted.
    pub max_tilt: Option<Quantity<Angle>>,
    /// A table typed in from the flight manual.
    pub table: Option<AllowableTable>,
    /// Where the load is picked up and set down; at least one where `table` is there.
    pub sites: Vec<Site>,
    /// Where in the plan's text, bytes.
    pub span: Range<usize>,
}

impl Lift {
    /// What lifts, with its name where it has one ("crane (yard crane)").
    pub fn lifter(&self) -> String {
        let kind = match self.by {
            LiftedBy::Helicopter => "helicopter",
            LiftedBy::Crane => "crane",
        };
        match &self.name {
            Some(name) => format!("{kind} ({name})"),
            None => kind.to_owned(),
        }
    }
}

/// What lifts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LiftedBy {
    /// A helicopter.
    Helicopter,
    /// A crane.
    Crane,
}

/// What may hang on the hook, and who says so.
#[derive(Clone, Debug, PartialEq)]
pub struct Allowable {
    /// Rigging included; more than zero.
    pub mass: Quantity<Mass>,
    /// Who says so.
    pub from: String,
}

/// One thing between hook and apex.
#[derive(Clone, Debug, PartialEq)]
pub struct Rigging {
    /// Its name.
    pub name: String,
    /// Its own mass.
    pub mass: Quantity<Mass>,
    /// What it is rated for, where it has a tag.
    pub rating: Option<Quantity<Mass>>,
}

/// A table from the flight manual: a row for each pressure altitude, a column for each temperature.
#[derive(Clone, Debug, PartialEq)]
pub struct AllowableTable {
    /// Where it comes from.
    pub from: String,
    /// What its cells hold.
    pub gives: TableGives,
    /// Rising; one a row, at least two.
    pub pressure_altitude: Vec<Quantity<Length>>,
    /// Rising; one a column, at least two.
    pub temperature: Vec<Quantity<ThermodynamicTemperature>>,
    /// Rows of cells, complete.
    pub cells: Vec<Vec<Quantity<Mass>>>,
    /// Where in the plan's text, bytes.
    pub span: Range<usize>,
}

/// What the cells of a table hold.
#[derive(Clone, Debug, PartialEq)]
pub enum TableGives {
    /// The allowable hook load with the fuel at start; fuel burnt adds to it.
    HookLoad,
    /// The gross mass of the aircraft with its external load.
    GrossMass {
        /// Empty aircraft, crew and equipment, without fuel.
        operating: Quantity<Mass>,
        /// Fuel on board at start.
        fuel: Quantity<Mass>,
        /// Greatest gross mass with an external load, where the manual sets one.
        max: Option<Quantity<Mass>>,
    },
}

/// A place where the load is picked up or set down.
#[derive(Clone, Debug, PartialEq)]
pub struct Site {
    /// Its name.
    pub name: String,
    /// How high it is.
    pub altitude: SiteAltitude,
    /// Outside air.
    pub temperature: Quantity<ThermodynamicTemperature>,
    /// Of the outside air; never above its temperature.
    pub dew_point: Option<Quantity<ThermodynamicTemperature>>,
    /// Fuel burnt from start until the load is lifted or set down here.
    pub fuel_burn: Option<Quantity<Mass>>,
    /// Where in the plan's text, bytes.
    pub span: Range<usize>,
}

/// How high a site is.
#[derive(Clone, Debug, PartialEq)]
pub enum SiteAltitude {
    /// Above sea level, with the pressure reduced to sea level.
    Elevation {
        /// Above mean sea level.
        elevation: Quantity<Length>,
        /// Altimeter setting.
        qnh: Quantity<Pressure>,
    },
    /// Read from an altimeter set to the standard pressure.
    Pressure(Quantity<Length>),
}
