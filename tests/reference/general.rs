//! A general-purpose optimiser on the rigs of the reference file, for tests and the benchmark.

use argmin::core::{CostFunction, Error, Executor, Gradient, State};
use argmin::solver::linesearch::MoreThuenteLineSearch;
use argmin::solver::quasinewton::LBFGS;
use loadwalk::figures::{HangLimits, Leg, LengthUnit, MassUnit, PlusMinus, Rig};
use loadwalk::plan::{Carrying, ChainMode};

const REFERENCE: &str = include_str!("hang_reference.csv");

/// The rigs of the reference file.
pub fn reference() -> Vec<Rig> {
    let rows = REFERENCE.lines().filter(|l| !l.starts_with('#'));
    rows.map(|line| {
        let n: Vec<f64> = line
            .split(',')
            .map(|n| n.parse().expect("the file holds numbers"))
            .collect();
        let legs = n[9..].chunks(7).map(|l| Leg {
            station: String::new(),
            name: String::new(),
            provision_m: [l[0], l[1], l[2]],
            provision_rating_kg: None,
            full_length_m: l[3],
            pitch_m: 0.0,
            mode: ChainMode::Direct,
            links: 0,
            planned_links: 0,
            links_max: 0,
            rating_kg: l[4],
            stretch_at_rating: l[5],
            hitch_keeps: 1.0,
            missing: false,
            let_go: false,
        });
        Rig {
            name: String::new(),
            mass_kg: n[1],
            cg_m: [n[2], n[3], n[4]],
            box_m: None,
            below: None,
            legs: legs.collect(),
            carrying: Carrying::All,
            plus_minus: PlusMinus::default(),
            dynamic_factor: 1.0,
            limits: HangLimits::default(),
            unit: MassUnit::Kg,
            length_unit: LengthUnit::M,
        }
    })
    .collect()
}

/// The energy of a rig by the apex in the load's axes, as a share of the weight.
struct Energy<'a>(&'a Rig);

fn apart(a: &[f64], b: &[f64]) -> f64 {
    a.iter()
        .zip(b)
        .map(|(a, b)| (a - b) * (a - b))
        .sum::<f64>()
        .sqrt()
}

pub fn pull(leg: &Leg, apex: &[f64]) -> f64 {
    leg.stiffness_n_m() * (apart(apex, &leg.provision_m) - leg.length_m()).max(0.0)
}

impl CostFunction for Energy<'_> {
    type Param = Vec<f64>;
    type Output = f64;
    fn cost(&self, apex: &Vec<f64>) -> Result<f64, Error> {
        let stretched: f64 = self
            .0
            .legs
            .iter()
            .map(|l| 0.5 * pull(l, apex) * pull(l, apex) / l.stiffness_n_m())
            .sum();
        Ok(stretched / self.0.weight_n() - apart(apex, &self.0.cg_m))
    }
}

impl Gradient for Energy<'_> {
    type Param = Vec<f64>;
    type Gradient = Vec<f64>;
    fn gradient(&self, apex: &Vec<f64>) -> Result<Vec<f64>, Error> {
        let toward = |from: &[f64], force: f64, sum: &mut Vec<f64>| {
            let d = apart(apex, from);
            for axis in 0..3 {
                sum[axis] += force * (apex[axis] - from[axis]) / d;
            }
        };
        let mut sum = vec![0.0; 3];
        toward(&self.0.cg_m, -1.0, &mut sum);
        for leg in &self.0.legs {
            let share = pull(leg, apex) / self.0.weight_n();
            toward(&leg.provision_m, share, &mut sum);
        }
        Ok(sum)
    }
}

/// The apex by limited-memory BFGS; `None` where it finds no rest, or falls through the load and
/// finds the one upside down, which the energy also has.
pub fn general(rig: &Rig) -> Option<Vec<f64>> {
    let n = rig.legs.len() as f64;
    let mean = |axis: usize| rig.legs.iter().map(|l| l.provision_m[axis]).sum::<f64>() / n;
    let longest = rig.legs.iter().map(Leg::length_m).fold(0.0, f64::max);
    let start = vec![mean(0), mean(1), mean(2) + longest];
    let solver = LBFGS::new(MoreThuenteLineSearch::new(), 7)
        .with_tolerance_grad(1e-7)
        .ok()?
        .with_tolerance_cost(0.0)
        .ok()?;
    let run = Executor::new(Energy(rig), solver)
        .configure(|state| state.param(start).max_iters(500))
        .run()
        .ok()?;
    let apex = run.state().get_best_param()?.clone();
    let left = Energy(rig).gradient(&apex).ok()?;
    (apart(&left, &[0.0; 3]) < 1e-5 && apex[2] > rig.cg_m[2]).then_some(apex)
}
