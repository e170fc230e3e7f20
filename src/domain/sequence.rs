//! Sequences: each operation of a recloser or breaker with its clearing time
//! at a fault current, to lockout. Times come from a standard curve with its
//! dial, or from points that the utility supplies; without them a time is
//! unknown, never guessed.

use serde::Serialize;
use serde_json::{Map, Value};

use super::curve::Curve;

/// Seconds between which something happens.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Band {
    pub least_s: f64,
    pub greatest_s: f64,
}

impl Band {
    /// Both, one after the other.
    #[must_use]
    pub fn plus(self, other: Band) -> Band {
        Band {
            least_s: self.least_s + other.least_s,
            greatest_s: self.greatest_s + other.greatest_s,
        }
    }

    /// No time at all.
    pub const NONE: Band = Band {
        least_s: 0.0,
        greatest_s: 0.0,
    };
}

/// A curve as points, from the utility's own document.
#[derive(Debug, Clone, PartialEq)]
pub struct Points {
    pub name: String,
    /// Current and seconds, by rising current and falling time.
    points: Vec<(f64, f64)>,
    /// Currents are multiples of minimum trip, not amperes.
    pub multiples: bool,
    /// Least and greatest lie so many percent about the curve.
    pub band_percent: f64,
}

impl Points {
    /// Reads `points: [[current, seconds], ...]`, `current: amps` or
    /// `current: multiple of minimum trip`, and `band_percent`.
    ///
    /// # Errors
    /// A sentence that says what is wrong with it.
    pub fn read(name: &str, body: &Map<String, Value>) -> Result<Points, String> {
        let multiples = match body.get("current").and_then(Value::as_str) {
            Some("amps") => false,
            Some("multiple of minimum trip") => true,
            _ => {
                return Err(format!(
                    "curve {name}: `current` must be `amps` or `multiple of minimum trip`"
                ));
            }
        };
        let band_percent = body
            .get("band_percent")
            .and_then(Value::as_f64)
            .filter(|b| (0.0..=50.0).contains(b))
            .ok_or_else(|| {
                format!("curve {name}: `band_percent` is missing, or not from 0 to 50")
            })?;
        let pair = |v: &Value| -> Option<(f64, f64)> {
            match v.as_array()?.as_slice() {
                [i, t] => Some((i.as_f64()?, t.as_f64()?)),
                _ => None,
            }
        };
        let points: Option<Vec<(f64, f64)>> = body
            .get("points")
            .and_then(Value::as_array)
            .and_then(|all| all.iter().map(pair).collect());
        let points = points
            .filter(|p| p.len() >= 2)
            .ok_or_else(|| format!("curve {name}: two points [current, seconds] or more"))?;
        let sound = points.iter().all(|(i, t)| *i > 0.0 && *t > 0.0)
            && points
                .windows(2)
                .all(|w| w[0].0 < w[1].0 && w[0].1 >= w[1].1);
        if !sound {
            return Err(format!(
                "curve {name}: currents must rise and times fall from point to point, all above nothing"
            ));
        }
        Ok(Points {
            name: name.to_string(),
            points,
            multiples,
            band_percent,
        })
    }

    /// Seconds at a current in the curve's own measure, by straight lines on a
    /// log-log plot; `None` outside the points.
    #[must_use]
    pub fn seconds(&self, current: f64) -> Option<Band> {
        let pair = self
            .points
            .windows(2)
            .find(|w| (w[0].0..=w[1].0).contains(&current))?;
        let ((i0, t0), (i1, t1)) = (pair[0], pair[1]);
        let along = (current / i0).ln() / (i1 / i0).ln();
        let middle = (t0.ln() + along * (t1 / t0).ln()).exp();
        let off = self.band_percent / 100.0;
        Some(Band {
            least_s: middle * (1.0 - off),
            greatest_s: middle * (1.0 + off),
        })
    }
}

/// By what an operation is timed.
#[derive(Debug, Clone, PartialEq)]
pub enum Timing {
    /// A curve of a standard; the opening of the device comes on top.
    Standard {
        curve: &'static Curve,
        dial: f64,
        pickup_amps: f64,
        opening_s: f64,
    },
    /// Points of the utility: clearing times.
    Points { points: Points, trip_amps: f64 },
    /// Whichever of two elements of one device is first: phase and ground.
    First(Box<Timing>, Box<Timing>),
    /// Why there is none.
    Unknown(String),
}

impl Timing {
    /// Whichever of phase and ground is first.
    #[must_use]
    pub fn first(phase: Timing, ground: Timing) -> Timing {
        Timing::First(Box::new(phase), Box::new(ground))
    }

    /// Whether it trips at all on a current; none where that is not known.
    #[must_use]
    pub fn trips_at(&self, amps: f64) -> Option<bool> {
        match self {
            Timing::Standard { pickup_amps, .. } => Some(amps > *pickup_amps),
            Timing::Points { trip_amps, .. } => Some(amps > *trip_amps),
            Timing::First(a, b) => match (a.trips_at(amps), b.trips_at(amps)) {
                (Some(true), _) | (_, Some(true)) => Some(true),
                (Some(false), Some(false)) => Some(false),
                _ => None,
            },
            Timing::Unknown(_) => None,
        }
    }

    /// Clearing time at a fault.
    ///
    /// # Errors
    /// A sentence that says why it is unknown.
    pub fn clears(&self, amps: f64) -> Result<Band, String> {
        match self {
            Timing::Standard {
                curve,
                dial,
                pickup_amps,
                opening_s,
            } => {
                let relay = curve.trip_s(amps / pickup_amps, *dial).ok_or_else(|| {
                    format!("{amps:.0} A is not above the pickup of {pickup_amps:.0} A")
                })?;
                Ok(Band {
                    least_s: relay,
                    greatest_s: relay + opening_s,
                })
            }
            Timing::Points { points, trip_amps } => {
                let current = if points.multiples {
                    amps / trip_amps
                } else {
                    amps
                };
                if amps <= *trip_amps {
                    return Err(format!(
                        "{amps:.0} A is not above the minimum trip of {trip_amps:.0} A"
                    ));
                }
                points.seconds(current).ok_or_else(|| {
                    format!(
                        "the points of curve {:?} do not reach {amps:.0} A",
                        points.name
                    )
                })
            }
            Timing::First(phase, ground) => match (phase.trips_at(amps), ground.trips_at(amps)) {
                (Some(false), _) => ground.clears(amps),
                (_, Some(false)) => phase.clears(amps),
                _ => {
                    let (a, b) = (phase.clears(amps)?, ground.clears(amps)?);
                    Ok(Band {
                        least_s: a.least_s.min(b.least_s),
                        greatest_s: a.greatest_s.min(b.greatest_s),
                    })
                }
            },
            Timing::Unknown(why) => Err(why.clone()),
        }
    }

    /// What it is timed by, in words.
    #[must_use]
    pub fn words(&self) -> String {
        match self {
            Timing::Standard {
                curve,
                dial,
                pickup_amps,
                ..
            } => format!("{}, dial {dial}, pickup {pickup_amps} A", curve.name),
            Timing::Points { points, trip_amps } => format!(
                "points of curve {:?}, +- {} %, minimum trip {trip_amps} A",
                points.name, points.band_percent
            ),
            Timing::First(phase, ground) => format!(
                "the first of phase ({}) and ground ({})",
                phase.words(),
                ground.words()
            ),
            Timing::Unknown(why) => why.clone(),
        }
    }
}

/// How a device operates to lockout.
#[derive(Debug, Clone, PartialEq)]
pub struct Settings {
    pub fast: u32,
    pub delayed: u32,
    pub fast_timing: Timing,
    pub delayed_timing: Timing,
    /// Open times between trips; one fewer than trips when all are known.
    pub intervals_s: Vec<f64>,
    pub reset_s: Option<f64>,
}

/// One operation.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Trip {
    pub number: u32,
    pub fast: bool,
    pub clears: Option<Band>,
    /// By what, or why not.
    pub why: String,
    /// Open after it; absent after the last, and where it is not recorded.
    pub then_open_s: Option<f64>,
}

/// A sequence at one fault current.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Sequence {
    pub trips: Vec<Trip>,
    /// With the fault on, summed; absent when one time is unknown.
    pub fault_on: Option<Band>,
    /// From the fault to lockout, the open times included.
    pub to_lockout: Option<Band>,
    pub reset_s: Option<f64>,
}

impl Settings {
    /// Trips to lockout.
    #[must_use]
    pub const fn trips(&self) -> u32 {
        self.fast + self.delayed
    }

    /// Each operation at a fault current, the fast ones first.
    #[must_use]
    pub fn at(&self, amps: f64) -> Sequence {
        let mut trips = Vec::new();
        for number in 1..=self.trips() {
            let fast = number <= self.fast;
            let timing = if fast {
                &self.fast_timing
            } else {
                &self.delayed_timing
            };
            let (clears, why) = match timing.clears(amps) {
                Ok(band) => (Some(band), timing.words()),
                Err(why) => (None, why),
            };
            let open = self.intervals_s.get(number as usize - 1).copied();
            trips.push(Trip {
                number,
                fast,
                clears,
                why,
                then_open_s: open.filter(|_| number < self.trips()),
            });
        }
        let none = trips.is_empty();
        let sum = |bands: Option<Vec<Band>>| {
            bands
                .filter(|_| !none)
                .map(|b| b.into_iter().fold(Band::NONE, Band::plus))
        };
        let fault_on = sum(trips.iter().map(|t| t.clears).collect());
        let open: Option<f64> = trips
            .iter()
            .take(trips.len().saturating_sub(1))
            .map(|t| t.then_open_s)
            .sum();
        Sequence {
            to_lockout: fault_on.zip(open).map(|(on, open)| Band {
                least_s: on.least_s + open,
                greatest_s: on.greatest_s + open,
            }),
            fault_on,
            trips,
            reset_s: self.reset_s,
        }
    }
}

/// Reads `0.5 s, 15 s, 45 s`; cycles are of 60 Hz. Empty when any part of it
/// is no time.
#[must_use]
pub fn intervals(text: &str) -> Vec<f64> {
    let one = |part: &str| -> Option<f64> {
        let part = part.trim().to_ascii_lowercase();
        let digits = part.trim_end_matches(|c: char| c.is_ascii_alphabetic() || c == ' ');
        let unit = part[digits.len()..].trim();
        let number: f64 = digits.trim().parse().ok()?;
        let seconds = match unit {
            "s" | "sec" | "seconds" => number,
            "cycles" | "cy" => number / 60.0,
            _ => return None,
        };
        (seconds.is_finite() && seconds > 0.0).then_some(seconds)
    };
    let all: Option<Vec<f64>> = text.split(',').map(one).collect();
    all.unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::curve::{CURVES, curve};
    use proptest::prelude::*;

    fn very(dial: f64) -> Timing {
        Timing::Standard {
            curve: curve("IEEE very inverse").unwrap(),
            dial,
            pickup_amps: 280.0,
            opening_s: 5.0 / 60.0,
        }
    }

    fn points(json: &str) -> Result<Points, String> {
        let Value::Object(body) = serde_json::from_str(json).unwrap() else {
            panic!("an object")
        };
        Points::read("OWN-A", &body)
    }

    const OWN: &str = r#"{"current": "multiple of minimum trip", "band_percent": 10, "points": [[1.2, 4], [2, 1], [10, 0.05]]}"#;

    /// C37.112 very inverse at 5 times pickup: 1.308 s at dial 1.
    #[test]
    fn one_fast_and_three_delayed_to_lockout() {
        let settings = Settings {
            fast: 1,
            delayed: 3,
            fast_timing: very(0.5),
            delayed_timing: very(2.0),
            intervals_s: intervals("0.5 s, 15 s, 45 s"),
            reset_s: Some(30.0),
        };
        let sequence = settings.at(1_400.0);
        assert_eq!(sequence.trips.len(), 4);
        assert!(sequence.trips[0].fast && !sequence.trips[1].fast);
        let on = sequence.fault_on.unwrap();
        assert!((on.least_s - (0.5 + 6.0) * 1.308).abs() < 0.005, "{on:?}");
        assert!((on.greatest_s - on.least_s - 4.0 * 5.0 / 60.0).abs() < 1e-9);
        let whole = sequence.to_lockout.unwrap();
        assert!((whole.least_s - on.least_s - 60.5).abs() < 1e-9);
        assert_eq!(sequence.trips[3].then_open_s, None);
    }

    #[test]
    fn one_unknown_time_makes_the_sum_unknown() {
        let settings = Settings {
            fast: 1,
            delayed: 1,
            fast_timing: very(0.5),
            delayed_timing: Timing::Unknown("no curve is supplied".to_string()),
            intervals_s: vec![2.0],
            reset_s: None,
        };
        let sequence = settings.at(1_400.0);
        assert!(sequence.trips[0].clears.is_some());
        assert_eq!((sequence.fault_on, sequence.to_lockout), (None, None));
        assert_eq!(settings.at(200.0).trips[0].clears, None, "below pickup");
        let short = Settings {
            delayed_timing: very(2.0),
            intervals_s: vec![],
            ..settings
        };
        let sequence = short.at(1_400.0);
        assert!(sequence.fault_on.is_some() && sequence.to_lockout.is_none());
    }

    #[test]
    fn points_are_exact_where_given_and_unknown_outside() {
        let own = points(OWN).unwrap();
        let at = own.seconds(2.0).unwrap();
        assert!((at.least_s - 0.9).abs() < 1e-9 && (at.greatest_s - 1.1).abs() < 1e-9);
        assert_eq!(own.seconds(1.1), None);
        assert_eq!(own.seconds(10.1), None);
        for bad in [
            OWN.replace("[2, 1]", "[2, 5]"),
            OWN.replace("[2, 1]", "[1, 1]"),
            OWN.replace("\"band_percent\": 10,", ""),
            OWN.replace("multiple of minimum trip", "per unit"),
        ] {
            assert!(points(&bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn intervals_are_read_whole_or_not_at_all() {
        assert_eq!(intervals("0.5 s, 15 s, 45 s"), vec![0.5, 15.0, 45.0]);
        assert_eq!(intervals("30 cycles"), vec![0.5]);
        assert!(intervals("0.5 s, soon").is_empty());
        assert!(intervals("2").is_empty());
    }

    proptest! {
        #[test]
        fn a_bigger_fault_never_clears_later(
            at in 0..CURVES.len(), dial in 0.1_f64..10.0, a in 1.01_f64..40.0, more in 1.0_f64..3.0
        ) {
            let timing = Timing::Standard {
                curve: &CURVES[at], dial, pickup_amps: 100.0, opening_s: 0.1,
            };
            let (small, big) = (timing.clears(a * 100.0), timing.clears(a * more * 100.0));
            prop_assert!(big.unwrap().greatest_s <= small.unwrap().greatest_s + 1e-12);
            let own = Timing::Points { points: points(OWN).unwrap(), trip_amps: 100.0 };
            if let (Ok(s), Ok(b)) = (own.clears(a * 100.0), own.clears(a * more * 100.0)) {
                prop_assert!(b.greatest_s <= s.greatest_s + 1e-12);
            }
        }
    }
}
