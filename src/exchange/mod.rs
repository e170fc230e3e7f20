//! Floor 2: CSV and YAML in and out.
