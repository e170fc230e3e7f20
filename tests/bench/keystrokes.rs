//! What each typed character costs in Find, by kind of query, against the
//! budget of a frame. Divan has no percentiles, so this keeps its own table.

#[allow(
    dead_code,
    reason = "shared by the benchmarks, each of which needs a part"
)]
mod ground;

use std::time::Instant;

use polecard::work::find::find_with;
use polecard::work::schemes::schemes;

/// Budget of a keystroke.
const FRAME_MS: f64 = 8.0;
/// Answers of a page.
const PAGE: usize = 50;

fn main() {
    // Cargo's tests ask every target; a measurement is only for `cargo bench`.
    if !std::env::args().any(|a| a == "--bench") {
        return;
    }
    let store = ground::made();
    let schemes = schemes(&store).expect("schemes");
    let count = std::env::var("POLECARD_BENCH_QUERIES").unwrap_or_default();
    let count: usize = count.parse().unwrap_or(60);
    println!("a key in Find; each as a part of a frame of {FRAME_MS} ms, over: of more than one");
    println!("processor: what this thread had of the processor, steadier where others work");
    println!(
        "{:24} {:>6} {:>7} {:>7} {:>7} {:>7} | processor {:>7} {:>7} {:>7} {:>7}",
        "query", "keys", "median", "p99", "max", "over", "median", "p99", "max", "over"
    );
    for kind in ground::KINDS {
        let mut took: Vec<f64> = Vec::new();
        let mut worked: Vec<f64> = Vec::new();
        for query in ground::queries(&store, kind, count) {
            let ends = query.char_indices().map(|(i, c)| i + c.len_utf8());
            for end in ends {
                let before = processor_ms();
                let begun = Instant::now();
                let found = find_with(&store, &schemes, &query[..end], PAGE, &|| false);
                took.push(begun.elapsed().as_secs_f64() * 1e3 / FRAME_MS);
                worked.push((processor_ms() - before) / FRAME_MS);
                assert!(found.is_ok());
            }
        }
        println!(
            "{kind:24} {:>6} {} |           {}",
            took.len(),
            spread(took),
            spread(worked)
        );
    }
}

/// Median, 99th percentile, worst, and the part over a frame.
fn spread(mut parts: Vec<f64>) -> String {
    parts.sort_by(f64::total_cmp);
    let at = |part: f64| parts[((parts.len() - 1) as f64 * part) as usize];
    let over = parts.iter().filter(|t| **t > 1.0).count() as f64 / parts.len() as f64;
    format!(
        "{:>7.3} {:>7.3} {:>7.3} {:>6.2}%",
        at(0.5),
        at(0.99),
        at(1.0),
        over * 100.0
    )
}

/// What this thread has had of the processor; nothing where the system does
/// not tell.
fn processor_ms() -> f64 {
    let told = std::fs::read_to_string("/proc/thread-self/schedstat").unwrap_or_default();
    let first = told.split(' ').next().and_then(|n| n.parse::<f64>().ok());
    first.unwrap_or(0.0) / 1e6
}
