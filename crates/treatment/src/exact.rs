//! Decimals as written and fractions without rounding.

use std::cmp::Ordering;
use std::fmt;

/// Decimal places kept of a reading: no instrument writes more. Of a longer number, as programs
/// write them, the last place kept says that something follows ([`Decimal::parse`]).
pub(crate) const RAW_PLACES: u32 = 12;

/// Decimal places that a rule's number may have: all of them are kept.
const RULE_PLACES: usize = 18;

/// One degree in raw steps.
pub(crate) const RAW_PER_DEGREE: i128 = 1_000_000_000_000;

/// Readings beyond this many degrees are fault codes; one code is as good as another.
const RAW_MAX: i64 = 1_000_000_000_000_000_000;

/// A plain decimal number, exactly as written: `mantissa` / 10^`scale`.
#[derive(Debug, Clone, Copy)]
pub struct Decimal {
    mantissa: i64,
    scale: u8,
}

/// Why a text is no exact decimal.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NotExact {
    /// Not digits with one point and a sign in front.
    NotPlain,
    /// More digits than can be kept exactly.
    TooManyDigits,
}

impl fmt::Display for NotExact {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::NotPlain => {
                "is not a plain decimal number (digits, one point, a sign in front; no unit)"
            }
            Self::TooManyDigits => {
                "has more digits than can be kept exactly; write at most 12 decimals"
            }
        })
    }
}

impl Decimal {
    /// `mantissa` / 10^`scale`; `None` beyond 12 decimals.
    #[must_use]
    pub fn new(mantissa: i64, scale: u8) -> Option<Self> {
        (u32::from(scale) <= RAW_PLACES).then_some(Self { mantissa, scale })
    }

    /// Reads a plain decimal: sign, digits, one point. White space around it is allowed.
    ///
    /// Of a number with more than 12 decimals eleven are kept, and a 5 behind them stands for the
    /// rest: it compares with every shorter number as the number written does.
    ///
    /// # Errors
    /// [`NotExact`] for anything else, exponents and units too.
    pub fn parse(text: &str) -> Result<Self, NotExact> {
        let (negative, whole, part) = plain_parts(text)?;
        let kept = RAW_PLACES as usize;
        if part.len() <= kept {
            return Self::of(negative, whole, part);
        }
        let cut = format!("{}5", part.get(..kept - 1).unwrap_or(part));
        Self::of(negative, whole, &cut)
    }

    /// Reads a rule's number: every digit written is kept.
    ///
    /// # Errors
    /// [`NotExact`] as [`Self::parse`], and for more than 18 digits.
    pub fn parse_rule(text: &str) -> Result<Self, NotExact> {
        let (negative, whole, part) = plain_parts(text)?;
        if part.len() > RULE_PLACES {
            return Err(NotExact::TooManyDigits);
        }
        Self::of(negative, whole, part)
    }

    fn of(negative: bool, whole: &str, part: &str) -> Result<Self, NotExact> {
        let mut mantissa = 0i64;
        for b in whole.bytes().chain(part.bytes()) {
            let next = mantissa.checked_mul(10).and_then(|m| m.checked_add(i64::from(b - b'0')));
            mantissa = next.ok_or(NotExact::TooManyDigits)?;
        }
        let scale = u8::try_from(part.len()).map_err(|_| NotExact::TooManyDigits)?;
        Ok(Self { mantissa: if negative { -mantissa } else { mantissa }, scale })
    }

    /// The decimal that a stored floating-point reading was written as: the shortest text that
    /// reads back as the same number. Exact for up to 15 digits.
    #[must_use]
    pub fn from_f64(value: f64) -> Option<Self> {
        if !value.is_finite() {
            return None;
        }
        Self::parse(&format!("{value}")).ok()
    }

    /// In raw steps (10^-12 degree). Fault codes beyond a million degrees are cut to that.
    #[must_use]
    pub(crate) fn raw(self) -> i64 {
        let lift = 10i128.pow(RAW_PLACES - u32::from(self.scale).min(RAW_PLACES));
        let raw = i128::from(self.mantissa) * lift;
        i64::try_from(raw)
            .unwrap_or(if raw < 0 { -RAW_MAX } else { RAW_MAX })
            .clamp(-RAW_MAX, RAW_MAX)
    }

    /// The same number as a fraction.
    pub(crate) fn ratio(self) -> Ratio {
        let den = 10i128.pow(u32::from(self.scale));
        Ratio::new(i128::from(self.mantissa), den).unwrap_or(Ratio::ZERO)
    }

    /// Nearest floating-point number.
    #[must_use]
    pub fn to_f64(self) -> f64 {
        self.ratio().to_f64()
    }
}

/// Sign, digits before the point, and digits behind it without trailing zeros.
fn plain_parts(text: &str) -> Result<(bool, &str, &str), NotExact> {
    let t = text.trim();
    let (negative, body) = match t.as_bytes().first() {
        Some(b'-') => (true, t.get(1..).unwrap_or("")),
        Some(b'+') => (false, t.get(1..).unwrap_or("")),
        _ => (false, t),
    };
    let (whole, part) = body.split_once('.').unwrap_or((body, ""));
    let digits = |s: &str| s.bytes().all(|b| b.is_ascii_digit());
    if whole.len() + part.len() == 0 || !digits(whole) || !digits(part) {
        return Err(NotExact::NotPlain);
    }
    Ok((negative, whole, part.trim_end_matches('0')))
}

impl PartialEq for Decimal {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl Eq for Decimal {}

impl PartialOrd for Decimal {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Decimal {
    fn cmp(&self, other: &Self) -> Ordering {
        let lift = |d: &Self| i128::from(d.mantissa) * 10i128.pow(18 - u32::from(d.scale).min(18));
        lift(self).cmp(&lift(other))
    }
}

impl fmt::Display for Decimal {
    /// As written, without trailing zeros: `1.11`, `-0.5`, `3`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let sign = if self.mantissa < 0 { "-" } else { "" };
        let places = usize::from(self.scale);
        let digits = format!("{:0>1$}", self.mantissa.unsigned_abs(), places + 1);
        let (whole, part) = digits.split_at_checked(digits.len() - places).unwrap_or((&digits, ""));
        let part = part.trim_end_matches('0');
        if part.is_empty() { write!(f, "{sign}{whole}") } else { write!(f, "{sign}{whole}.{part}") }
    }
}

/// A fraction in lowest terms, denominator positive. Arithmetic that would overflow gives `None`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Ratio {
    num: i128,
    den: i128,
}

impl Ratio {
    pub(crate) const ZERO: Self = Self { num: 0, den: 1 };
    pub(crate) const ONE: Self = Self { num: 1, den: 1 };

    pub(crate) fn new(num: i128, den: i128) -> Option<Self> {
        if den == 0 {
            return None;
        }
        let g = gcd(num.checked_abs()?, den.checked_abs()?).max(1);
        let sign = den.signum();
        Some(Self { num: num / g * sign, den: den / g * sign })
    }

    pub(crate) fn whole(n: i128) -> Self {
        Self { num: n, den: 1 }
    }

    pub(crate) fn add(self, o: Self) -> Option<Self> {
        let num = self.num.checked_mul(o.den)?.checked_add(o.num.checked_mul(self.den)?)?;
        Self::new(num, self.den.checked_mul(o.den)?)
    }

    pub(crate) fn sub(self, o: Self) -> Option<Self> {
        self.add(Self { num: o.num.checked_neg()?, den: o.den })
    }

    pub(crate) fn mul(self, o: Self) -> Option<Self> {
        // Cross-cancelling first keeps the products small.
        let a = Self::new(self.num, o.den)?;
        let b = Self::new(o.num, self.den)?;
        Self::new(a.num.checked_mul(b.num)?, a.den.checked_mul(b.den)?)
    }

    pub(crate) fn div(self, o: Self) -> Option<Self> {
        self.mul(Self::new(o.den, o.num)?)
    }

    pub(crate) fn abs(self) -> Self {
        Self { num: self.num.saturating_abs(), den: self.den }
    }

    pub(crate) fn is_zero(self) -> bool {
        self.num == 0
    }

    pub(crate) fn compare(self, o: Self) -> Option<Ordering> {
        Some(self.num.checked_mul(o.den)?.cmp(&o.num.checked_mul(self.den)?))
    }

    pub(crate) fn floor(self) -> i128 {
        self.num.div_euclid(self.den)
    }

    pub(crate) fn ceil(self) -> i128 {
        -((-self.num).div_euclid(self.den))
    }

    /// Numerator and denominator.
    pub(crate) fn parts(self) -> (i128, i128) {
        (self.num, self.den)
    }

    /// Nearest floating-point number to nine decimals, for output only.
    pub(crate) fn to_f64(self) -> f64 {
        Self::rounded(self.num, self.den)
    }

    /// `num / den` to nine decimals; `den` is positive.
    pub(crate) fn rounded(num: i128, den: i128) -> f64 {
        const PLACES: i128 = 1_000_000_000;
        let scaled = num.checked_mul(2 * PLACES).and_then(|n| n.checked_add(den));
        match (scaled, den.checked_mul(2)) {
            (Some(n), Some(d)) => n.div_euclid(d) as f64 / PLACES as f64,
            _ => num as f64 / den as f64,
        }
    }
}

/// Greatest common divisor of two numbers that are not negative.
fn gcd(mut a: i128, mut b: i128) -> i128 {
    while b != 0 {
        // Machine words divide many times faster.
        if let (Ok(mut x), Ok(mut y)) = (u64::try_from(a), u64::try_from(b)) {
            while y != 0 {
                (x, y) = (y, x % y);
            }
            return i128::from(x);
        }
        (a, b) = (b, a % b);
    }
    a
}

#[cfg(test)]
mod tests {
    use super::*;

    fn d(text: &str) -> Decimal {
        Decimal::parse(text).unwrap()
    }

    #[test]
    fn decimals_are_kept_as_written() {
        for text in ["1.11", "-0.27", "0", "34", "0.3333333333", "-18.5"] {
            assert_eq!(d(text).to_string(), text);
            assert_eq!(Decimal::from_f64(text.parse().unwrap()), Some(d(text)));
        }
        assert_eq!(d("007.50"), d("7.5"));
        assert_eq!(d("-0.0"), d("0"));
        assert!(d("1.1100000001") > d("1.11"));
        for bad in ["", "-", ".", "nan", "inf", "1e3", "1,5", "1.2.3", "--5", "1 0", "5C", "−5"] {
            assert_eq!(Decimal::parse(bad), Err(NotExact::NotPlain), "{bad}");
        }
    }

    #[test]
    fn long_numbers_compare_as_written() {
        // What a program writes for 1.11 and its neighbours.
        assert!(d("1.1100000000000001") > d("1.11") && d("1.1100000000000001") < d("1.1100000001"));
        assert!(d("1.1099999999999999") < d("1.11") && d("1.1099999999999999") > d("1.1099999999"));
        assert!(d("-0.30000000000000004") < d("-0.3") && d("0.30000000000000004") > d("0.3"));
        assert_eq!(d("0.500000000000000000000"), d("0.5"));
        let rule = |t: &str| Decimal::parse_rule(t);
        let day = rule("0.041666666666666664").unwrap().ratio().mul(Ratio::whole(86_400_000));
        assert_eq!(day.unwrap().ceil(), 3_600_000, "an hour, as a part of a day");
        assert_eq!(rule("0.3333333333333333").unwrap().to_string(), "0.3333333333333333");
        assert_eq!(rule("1.1234567890123456789"), Err(NotExact::TooManyDigits));
        assert_eq!(Decimal::parse("99999999999999999999"), Err(NotExact::TooManyDigits));
    }

    #[test]
    fn fractions_do_not_round() {
        let third = Ratio::new(1, 3).unwrap();
        let sum = third.add(third).and_then(|s| s.add(third)).unwrap();
        assert_eq!(sum, Ratio::ONE);
        assert_eq!(Ratio::new(-7, 2).unwrap().floor(), -4);
        assert_eq!(Ratio::new(-7, 2).unwrap().ceil(), -3);
        assert_eq!(Ratio::new(7, -2).unwrap().ceil(), -3);
        assert_eq!(Ratio::new(10, 9).unwrap().to_f64(), 1.111_111_111);
    }
}
