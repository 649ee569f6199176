//! From values to places on the paper, and where the marks go.

use units::Utc;
use units::instant::MS_PER_HOUR;

/// A straight mapping of one interval onto another.
#[derive(Debug, Clone, Copy)]
pub struct Linear {
    from: [f64; 2],
    to: [f64; 2],
}

impl Linear {
    /// Maps `from` onto `to`; an interval without length is widened by one to each side.
    pub fn new(from: [f64; 2], to: [f64; 2]) -> Self {
        let [a, b] = from;
        let from = if b > a { from } else { [a - 1.0, a + 1.0] };
        Self { from, to }
    }

    /// The place of a value.
    pub fn at(self, v: f64) -> f64 {
        let ([a, b], [c, d]) = (self.from, self.to);
        c + (v - a) / (b - a) * (d - c)
    }

    /// True when the value lies on the paper.
    pub fn holds(self, v: f64) -> bool {
        v >= self.from[0] && v <= self.from[1]
    }

    /// The place of an instant, for a scale made over milliseconds.
    pub fn at_time(self, t: Utc) -> f64 {
        self.at(t.ms() as f64)
    }
}

/// A step of 1, 2 or 5 times a power of ten that gives at most `most` marks over `span`, with
/// the decimals it needs.
pub fn nice_step(span: f64, most: f64) -> (f64, usize) {
    const STEPS: [(f64, usize); 14] = [
        (0.1, 1),
        (0.2, 1),
        (0.5, 1),
        (1.0, 0),
        (2.0, 0),
        (5.0, 0),
        (10.0, 0),
        (20.0, 0),
        (50.0, 0),
        (100.0, 0),
        (200.0, 0),
        (500.0, 0),
        (1000.0, 0),
        (2000.0, 0),
    ];
    STEPS.into_iter().find(|(step, _)| span / step <= most).unwrap_or((5000.0, 0))
}

/// Marks at whole multiples of a nice step within `[low, high]`, with their decimals.
pub fn value_marks(low: f64, high: f64, most: f64) -> (Vec<f64>, usize) {
    let (step, places) = nice_step(high - low, most);
    let first = (low / step).ceil();
    let marks = (0..=(most as usize + 1))
        .map(|i| (first + i as f64) * step)
        .take_while(|v| *v <= high + step * 1e-9)
        .collect();
    (marks, places)
}

/// Marks of a time axis at round hours or midnights UTC, at most `most` of them.
pub fn time_marks(from: Utc, to: Utc, most: f64) -> Vec<Utc> {
    const STEPS_H: [i64; 12] = [1, 2, 3, 6, 12, 24, 48, 96, 168, 336, 672, 1344];
    let span_h = to.hours_since(from);
    let step_h = STEPS_H.into_iter().find(|s| span_h / *s as f64 <= most).unwrap_or(8760);
    let step = step_h * MS_PER_HOUR;
    let first = from.ms().div_euclid(step) + i64::from(from.ms().rem_euclid(step) != 0);
    (0..=(most as i64 + 1))
        .map(|i| Utc::from_ms((first + i) * step))
        .take_while(|t| *t <= to)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn marks_are_round_and_inside() {
        let (marks, places) = value_marks(-19.3, -16.2, 6.0);
        assert_eq!((marks, places), (vec![-19.0, -18.0, -17.0], 0));
        let t = |s| Utc::parse(s).unwrap();
        let marks = time_marks(t("2026-01-05T08:10:00Z"), t("2026-01-06T08:00:00Z"), 6.0);
        let want: Vec<Utc> =
            ["2026-01-05 12:00", "2026-01-05 18:00", "2026-01-06 00:00", "2026-01-06 06:00"]
                .map(t)
                .to_vec();
        assert_eq!(marks, want);
    }

    #[test]
    fn a_flat_line_has_a_place() {
        let s = Linear::new([5.0, 5.0], [100.0, 0.0]);
        assert_eq!(s.at(5.0), 50.0);
    }
}
