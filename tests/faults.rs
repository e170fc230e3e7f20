//! Faults from outside: kills at any moment, input that nobody meant, a disk
//! that is full or may not be written, a register that is replaced or removed
//! while it is open.

mod disk;
mod fuzz;
mod kills;
mod replaced;

use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

const PROGRAM: &str = env!("CARGO_BIN_EXE_polecard");

/// The program on a register, with an account's home beside it.
fn program(register: &Path, args: &[&str]) -> Command {
    let home = register.parent().unwrap();
    let mut command = Command::new(PROGRAM);
    command
        .arg("--register")
        .arg(register)
        .args(args)
        .env("HOME", home)
        .env("XDG_DATA_HOME", home)
        .stdin(Stdio::null());
    command
}

fn said(out: &Output) -> String {
    String::from_utf8_lossy(&out.stderr).into_owned()
}

/// A file that comes with the program.
fn shipped(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(name)
}

/// Numbers that look random and are the same in every run of a seed.
struct Dice(u64);

impl Dice {
    /// The generator splitmix64 (Steele, Lea and Flood 2014).
    fn roll(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// A number under `n`; 0 when `n` is 0.
    fn under(&mut self, n: usize) -> usize {
        usize::try_from(self.roll() % u64::try_from(n.max(1)).unwrap()).unwrap()
    }

    fn one<'t, T>(&mut self, of: &'t [T]) -> &'t T {
        &of[self.under(of.len())]
    }
}
