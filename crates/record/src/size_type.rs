//! ISO 6346 size-type codes: what of them the care of refrigerated boxes needs.

/// True when the code says "thermal": third character R or H (codes since 1995), or an all-digit
/// code of 1984 ending in 30 to 49 (30–39 refrigerated or heated, 40–49 removable equipment; the
/// ranges are from memory, unverified, one real file agrees).
#[must_use]
pub fn is_thermal(code: &str) -> bool {
    let b = code.as_bytes();
    if b.len() == 4 && b.iter().all(u8::is_ascii_digit) {
        return matches!(code.get(2..).and_then(|t| t.parse::<u8>().ok()), Some(30..=49));
    }
    matches!(b.get(2), Some(b'R' | b'H' | b'r' | b'h'))
}

/// Length class, as far as box physics and the bay plan need it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Length {
    /// 20 ft and shorter.
    Twenty,
    /// 40 ft and longer (45 and 48 ft too).
    Forty,
}

/// Length from the first character of the code (2 = 20 ft, 4 = 40 ft, L = 45 ft, M = 48 ft).
#[must_use]
pub fn length(code: &str) -> Option<Length> {
    match code.as_bytes().first()? {
        b'1' | b'2' => Some(Length::Twenty),
        b'3'..=b'5' | b'L' | b'M' | b'P' => Some(Length::Forty),
        _ => None,
    }
}

/// True for boxes 9 ft 6 in high and higher (second character 5 or 6, or E and F of the wide ones).
#[must_use]
pub fn is_high_cube(code: &str) -> bool {
    matches!(code.as_bytes().get(1), Some(b'5' | b'6' | b'E' | b'F'))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Codes and meanings of reference/interchange.md §2.2 (sources S14, S15, S8).
    #[test]
    fn thermal_codes() {
        for code in ["22R1", "42R0", "45R1", "L5R1", "45R8", "22H0", "45H6", "2230", "4430", "4532"]
        {
            assert!(is_thermal(code), "{code}");
        }
        for code in ["22G1", "45G1", "4200", "4500", "2210", "42P1", "LEG1", "", "4", "R", "4550"] {
            assert!(!is_thermal(code), "{code}");
        }
    }

    #[test]
    fn lengths() {
        assert_eq!(length("22R1"), Some(Length::Twenty));
        assert_eq!(length("L5R1"), Some(Length::Forty));
        assert_eq!(length(""), None);
        assert!(is_high_cube("45R1") && !is_high_cube("42R1"));
    }
}
