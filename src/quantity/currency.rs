//! How finely each currency is paid.

/// Currencies whose smallest unit is not a hundredth, with its decimal places.
///
/// Source: ISO 4217, list one, column of minor units; from memory.
const MINOR_DIGITS: [(u32, &[&str]); 3] = [
    (
        0,
        &[
            "BIF", "CLP", "DJF", "GNF", "ISK", "JPY", "KMF", "KRW", "PYG", "RWF", "UGX", "UYI",
            "VND", "VUV", "XAF", "XOF", "XPF",
        ],
    ),
    (3, &["BHD", "IQD", "JOD", "KWD", "LYD", "OMR", "TND"]),
    (4, &["CLF", "UYW"]),
];

/// Returns the decimal places of a currency's smallest unit: 2 for USD, 0 for JPY; 2 for a code that is not known.
#[must_use]
pub fn minor_digits(currency: &str) -> u32 {
    let found = MINOR_DIGITS
        .iter()
        .find(|(_, codes)| codes.iter().any(|code| code.eq_ignore_ascii_case(currency)));
    found.map_or(2, |(digits, _)| *digits)
}

#[cfg(test)]
mod tests {
    use super::*;

    // Source: ISO 4217, list one; from memory.
    #[test]
    fn most_currencies_are_paid_in_hundredths() {
        let digits = ["USD", "CAD", "EUR", "JPY", "krw", "KWD", "CLF", "XYZ"].map(minor_digits);
        assert_eq!(digits, [2, 2, 2, 0, 0, 3, 4, 2]);
    }
}
