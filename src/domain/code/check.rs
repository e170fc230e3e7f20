//! Check digits: which character a body of letters and digits calls for.
//!
//! Three families, each with its parameters as data. A letter counts A = 10 to
//! Z = 35 everywhere; Luhn writes that value as two digits first.

use serde::{Deserialize, Serialize};
use thiserror::Error;

const DIGITS: &str = "0123456789";
const DIGITS_AND_X: &str = "0123456789X";

/// How the check character is computed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Method {
    /// Mod 10 with every second digit doubled (ISO/IEC 7812-1, annex B).
    Luhn,
    /// ISO 7064 MOD 11-2: a digit or X.
    Mod11_2,
    /// Sum of value times weight, from the right, modulo the length of
    /// `alphabet`; the remainder picks the character. With `complement` the
    /// remainder is first taken from the modulus.
    Weighted {
        alphabet: String,
        weights: Vec<u32>,
        complement: bool,
    },
}

/// A check character: the method and the fields it is computed over
/// (none named: all fields written before it).
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CheckRule {
    method: Method,
    over: Vec<String>,
}

/// A check rule as scheme files write it.
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CheckForm {
    pub method: MethodForm,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub over: Vec<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub alphabet: Option<String>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub weights: Vec<u32>,
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub complement: bool,
}

/// The methods by the words scheme files use.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum MethodForm {
    #[serde(rename = "luhn")]
    Luhn,
    #[serde(rename = "mod11-2")]
    Mod11_2,
    #[serde(rename = "weighted")]
    Weighted,
}

/// Why a check rule cannot be used.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum CheckFault {
    #[error("the method `weighted` needs `alphabet:` and `weights:`")]
    Incomplete,
    #[error("`{key}` belongs to the method `weighted` only")]
    NotWeighted { key: &'static str },
    #[error("the alphabet {alphabet:?} must be 2 to 36 different capitals or digits")]
    Alphabet { alphabet: String },
    #[error(
        "the weight {weight} shares a factor with the modulus {modulus}, so a wrong character could pass; use weights without a common factor"
    )]
    Weight { weight: u32, modulus: usize },
}

impl CheckRule {
    /// A rule from its written form.
    ///
    /// # Errors
    /// [`CheckFault`] naming the parameter at fault.
    pub fn new(form: CheckForm) -> Result<CheckRule, CheckFault> {
        let over = form.over;
        if form.method == MethodForm::Weighted {
            let method = weighted(form.alphabet, form.weights, form.complement)?;
            return Ok(CheckRule { method, over });
        }
        let stray = [
            (form.alphabet.is_some(), "alphabet"),
            (!form.weights.is_empty(), "weights"),
            (form.complement, "complement"),
        ];
        if let Some((_, key)) = stray.into_iter().find(|(there, _)| *there) {
            return Err(CheckFault::NotWeighted { key });
        }
        let method = match form.method {
            MethodForm::Mod11_2 => Method::Mod11_2,
            MethodForm::Luhn | MethodForm::Weighted => Method::Luhn,
        };
        Ok(CheckRule { method, over })
    }

    /// The written form.
    pub fn form(&self) -> CheckForm {
        let plain = |method| CheckForm {
            method,
            over: self.over.clone(),
            alphabet: None,
            weights: Vec::new(),
            complement: false,
        };
        match &self.method {
            Method::Luhn => plain(MethodForm::Luhn),
            Method::Mod11_2 => plain(MethodForm::Mod11_2),
            Method::Weighted {
                alphabet,
                weights,
                complement,
            } => CheckForm {
                alphabet: Some(alphabet.clone()),
                weights: weights.clone(),
                complement: *complement,
                ..plain(MethodForm::Weighted)
            },
        }
    }

    /// The fields the check is computed over; empty: all before it.
    pub fn over(&self) -> &[String] {
        &self.over
    }

    /// The characters the check may be.
    pub fn alphabet(&self) -> &str {
        match &self.method {
            Method::Luhn => DIGITS,
            Method::Mod11_2 => DIGITS_AND_X,
            Method::Weighted { alphabet, .. } => alphabet,
        }
    }

    /// The check character for `body` (capital letters and digits; anything
    /// else is skipped). `None` for an empty body.
    pub fn character(&self, body: &str) -> Option<char> {
        let values: Vec<u32> = body.chars().filter_map(|c| c.to_digit(36)).collect();
        if values.is_empty() {
            return None;
        }
        match &self.method {
            Method::Luhn => Some(luhn(&values)),
            Method::Mod11_2 => mod11_2(&values),
            Method::Weighted {
                alphabet,
                weights,
                complement,
            } => pick(&values, alphabet, weights, *complement),
        }
    }
}

fn weighted(
    alphabet: Option<String>,
    weights: Vec<u32>,
    complement: bool,
) -> Result<Method, CheckFault> {
    let (Some(alphabet), false) = (alphabet, weights.is_empty()) else {
        return Err(CheckFault::Incomplete);
    };
    let repeated = alphabet
        .char_indices()
        .any(|(i, c)| alphabet[..i].contains(c));
    let modulus = alphabet.len();
    if !(2..=36).contains(&modulus) || repeated || !alphabet.bytes().all(super::scheme::is_symbol) {
        return Err(CheckFault::Alphabet { alphabet });
    }
    for &weight in &weights {
        if gcd(u64::from(weight), modulus as u64) != 1 {
            return Err(CheckFault::Weight { weight, modulus });
        }
    }
    Ok(Method::Weighted {
        alphabet,
        weights,
        complement,
    })
}

fn gcd(a: u64, b: u64) -> u64 {
    if b == 0 { a } else { gcd(b, a % b) }
}

fn luhn(values: &[u32]) -> char {
    let digits = values.iter().flat_map(|&v| {
        let tens = (v >= 10).then_some(v / 10);
        tens.into_iter().chain([v % 10])
    });
    let digits: Vec<u32> = digits.collect();
    let sum: u32 = digits
        .iter()
        .rev()
        .enumerate()
        .map(|(i, &d)| {
            let d = if i % 2 == 0 { d * 2 } else { d };
            d / 10 + d % 10
        })
        .sum();
    char::from_digit((10 - sum % 10) % 10, 10).unwrap_or('0')
}

fn mod11_2(values: &[u32]) -> Option<char> {
    let p = values.iter().fold(0, |p, &v| (p + v) * 2 % 11);
    DIGITS_AND_X.chars().nth(((12 - p) % 11) as usize)
}

fn pick(values: &[u32], alphabet: &str, weights: &[u32], complement: bool) -> Option<char> {
    let modulus = alphabet.len() as u64;
    let sum: u64 = values
        .iter()
        .rev()
        .zip(weights.iter().cycle())
        .map(|(&v, &w)| u64::from(v) * (u64::from(w) % modulus) % modulus)
        .sum();
    let rest = sum % modulus;
    let index = if complement {
        (modulus - rest) % modulus
    } else {
        rest
    };
    alphabet.chars().nth(usize::try_from(index).ok()?)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rule(method: MethodForm) -> CheckRule {
        CheckRule::new(CheckForm {
            method,
            over: Vec::new(),
            alphabet: None,
            weights: Vec::new(),
            complement: false,
        })
        .unwrap()
    }

    fn weighted_rule(alphabet: &str, weights: &[u32], complement: bool) -> CheckRule {
        CheckRule::new(CheckForm {
            method: MethodForm::Weighted,
            over: Vec::new(),
            alphabet: Some(alphabet.to_string()),
            weights: weights.to_vec(),
            complement,
        })
        .unwrap()
    }

    #[test]
    fn luhn_gives_the_published_digit() {
        // The widely published worked example of the mod 10 algorithm of
        // ISO/IEC 7812-1: 7992739871 calls for 3 (value from memory).
        assert_eq!(rule(MethodForm::Luhn).character("7992739871"), Some('3'));
        // A card number published for testing, 4539 1488 0343 6467 (from memory).
        let body = "453914880343646";
        assert_eq!(rule(MethodForm::Luhn).character(body), Some('7'));
    }

    #[test]
    fn mod_11_2_gives_the_published_characters() {
        let mod11 = rule(MethodForm::Mod11_2);
        // ISO 7064 worked examples 0794 -> 0 and 079 -> X (from memory).
        assert_eq!(mod11.character("0794"), Some('0'));
        assert_eq!(mod11.character("079"), Some('X'));
        // The sample identifier 0000-0002-1825-0097 of the international
        // contributor id, whose check is MOD 11-2 (from memory).
        assert_eq!(mod11.character("000000021825009"), Some('7'));
    }

    #[test]
    fn weighted_sums_give_published_characters() {
        // The number-plus-letter identity card rule, remainder modulo 23 into
        // TRWAGMYFPDXBNJZSQVHLCKE; published example 12345678 -> Z (from
        // memory). Powers of ten modulo 23 as weights make the plain remainder.
        let powers = [1, 10, 8, 11, 18, 19, 6, 14];
        let letters = weighted_rule("TRWAGMYFPDXBNJZSQVHLCKE", &powers, false);
        assert_eq!(letters.character("12345678"), Some('Z'));
        // ISBN-10 (ISO 2108), published example 0-306-40615-2 (from memory).
        let isbn = weighted_rule(DIGITS_AND_X, &[2, 3, 4, 5, 6, 7, 8, 9, 10], true);
        assert_eq!(isbn.character("030640615"), Some('2'));
    }

    #[test]
    fn a_weight_that_lets_errors_pass_is_refused() {
        let form = CheckForm {
            method: MethodForm::Weighted,
            over: Vec::new(),
            alphabet: Some("ABCDEFGHJK".to_string()),
            weights: vec![3, 5],
            complement: false,
        };
        assert_eq!(
            CheckRule::new(form),
            Err(CheckFault::Weight {
                weight: 5,
                modulus: 10
            })
        );
    }

    #[test]
    fn an_empty_body_has_no_check() {
        assert_eq!(rule(MethodForm::Luhn).character("-"), None);
    }
}
