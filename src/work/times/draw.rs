//! Curves for a plot.

use super::{Drawn, Here};
use crate::domain::pairs::{Ground, Role, link_clears};
use crate::domain::sequence::Settings;

/// Points of a curve in a plot.
const SAMPLES: u32 = 64;

/// Curves of everything at a position, where they are known.
pub(super) fn drawn(here: &Here) -> Vec<Drawn> {
    let sampled = |name: String, at: &dyn Fn(f64) -> Option<f64>| {
        let points: Vec<[f64; 2]> = (0..=SAMPLES)
            .map(|i| 10.0 * 2_000.0_f64.powf(f64::from(i) / f64::from(SAMPLES)))
            .filter_map(|amps| Some([amps, at(amps)?]))
            .collect();
        (points.len() > 1).then_some(Drawn { name, points })
    };
    let mut out = Vec::new();
    for end in &here.ends {
        match &end.role {
            Role::Link(Some(link)) => {
                let name = format!("{} clears", end.name);
                out.extend(sampled(name, &|a| {
                    link_clears(Some(*link), Some(a)).ok().map(|k| k.0)
                }));
                let row = crate::domain::melting::melting(link.0, link.1);
                let name = format!("{} melts", end.name);
                out.extend(sampled(name, &|a| row?.least_melting_s(a)));
            }
            Role::Trips {
                settings: Some(s),
                ground,
                ..
            } => {
                let mut all = trips_of(s).to_vec();
                if let Ground::Set(own, _) = &**ground {
                    let of_ground = trips_of(own)
                        .into_iter()
                        .zip(["ground fast", "ground delayed"]);
                    all.extend(of_ground.map(|((_, trips, timing), what)| (what, trips, timing)));
                }
                for (what, _, timing) in all.into_iter().filter(|(_, trips, _)| *trips > 0) {
                    let name = format!("{} {what}", end.name);
                    out.extend(sampled(name, &|a| {
                        timing.clears(a).ok().map(|b| b.greatest_s)
                    }));
                }
            }
            _ => {}
        }
    }
    out
}

fn trips_of(s: &Settings) -> [(&'static str, u32, &crate::domain::sequence::Timing); 2] {
    [
        ("fast", s.fast, &s.fast_timing),
        ("delayed", s.delayed, &s.delayed_timing),
    ]
}
