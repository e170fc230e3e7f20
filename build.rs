//! Turns the documents that come with the program into JSON: a card needs a few
//! of them at every start, and JSON is read many times faster than YAML.

use std::path::Path;

use serde::Deserialize;

const DOCUMENTS: [(&str, &str); 2] = [
    ("data/forms/forms.yaml", "forms.json"),
    ("data/intervals/intervals.yaml", "intervals.json"),
];

fn main() {
    println!("cargo::rerun-if-changed=build.rs");
    let out = std::env::var("OUT_DIR").expect("cargo says where");
    for (from, to) in DOCUMENTS {
        println!("cargo::rerun-if-changed={from}");
        let text = std::fs::read_to_string(from).unwrap_or_else(|e| panic!("{from}: {e}"));
        let documents: Vec<serde_json::Value> = serde_yaml::Deserializer::from_str(&text)
            .map(|d| serde_json::Value::deserialize(d).unwrap_or_else(|e| panic!("{from}: {e}")))
            .collect();
        let json = serde_json::to_string(&documents).expect("plain values");
        std::fs::write(Path::new(&out).join(to), json).expect("a place to write");
    }
}
