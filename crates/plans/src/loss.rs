//! What is lost when help comes at a given hour.

use crate::Refused;

/// Loss as a function of the hour at which the box is in order again: straight lines between
/// points, level before the first and after the last, never falling.
#[derive(Debug, Clone, PartialEq)]
pub struct Loss {
    points: Vec<[f64; 2]>,
}

impl Loss {
    /// From points (hour from now, loss). Hours must grow, losses must not fall.
    ///
    /// # Errors
    /// [`Refused`] naming `what` when they do not, when there is no point, or when a number is not
    /// finite.
    pub fn new(what: &str, points: &[[f64; 2]]) -> Result<Self, Refused> {
        let finite = points.iter().all(|p| p[0].is_finite() && p[1].is_finite());
        let rising = points.windows(2).all(|w| w[0][0] < w[1][0] && w[0][1] <= w[1][1]);
        if points.is_empty() || !finite || !rising {
            return Err(Refused(format!(
                "{what}: the loss curve needs points with growing hours and losses that do not fall"
            )));
        }
        Ok(Self { points: points.to_vec() })
    }

    /// Nothing to lose.
    #[must_use]
    pub fn none() -> Self {
        Self { points: vec![[0.0, 0.0]] }
    }

    /// All of `value` is lost when help comes after the limit, whose hour is known by its 5, 50
    /// and 95 % points. Between them, and for the last twentieth on each side, chance rises by
    /// straight lines. Points that coincide are drawn apart by a thousandth of an hour.
    ///
    /// # Errors
    /// [`Refused`] naming `what` when the hours are not in order or `value` is negative.
    pub fn from_limit(what: &str, value: f64, limit_h: [f64; 3]) -> Result<Self, Refused> {
        let [low, mid, high] = limit_h;
        if !(low <= mid && mid <= high && high.is_finite() && value >= 0.0) {
            return Err(Refused(format!(
                "{what}: hours to the limit {low} / {mid} / {high} are not in order, or the value \
                 at stake {value} is negative"
            )));
        }
        // The same slope goes on to 0 and 1: 5 % beyond at (mid - low) / 45 % per hour.
        let start = low - (mid - low) / 9.0;
        let end = high + (high - mid) / 9.0;
        let mut points: Vec<[f64; 2]> = Vec::new();
        for (hour, share) in [(start, 0.0), (low, 0.05), (mid, 0.5), (high, 0.95), (end, 1.0)] {
            let hour = points.last().map_or(hour, |p| hour.max(p[0] + 1e-3));
            points.push([hour, share * value]);
        }
        Self::new(what, &points)
    }

    /// `per_hour` for every hour from now to `until_h`.
    ///
    /// # Errors
    /// [`Refused`] naming `what` when a number is negative or not finite.
    pub fn per_hour(what: &str, per_hour: f64, until_h: f64) -> Result<Self, Refused> {
        Self::new(what, &[[0.0, 0.0], [until_h, per_hour * until_h]])
    }

    /// The same curve seen from `by_h` hours later.
    #[must_use]
    pub fn seen_later(&self, by_h: f64) -> Self {
        Self { points: self.points.iter().map(|p| [p[0] - by_h, p[1]]).collect() }
    }

    /// The points (hour from now, loss).
    #[must_use]
    pub fn points(&self) -> &[[f64; 2]] {
        &self.points
    }

    /// Loss when the box is in order again at `hour`.
    #[must_use]
    pub fn at(&self, hour: f64) -> f64 {
        let mut before: Option<&[f64; 2]> = None;
        for p in &self.points {
            if hour <= p[0] {
                return match before {
                    Some(b) => b[1] + (p[1] - b[1]) * (hour - b[0]) / (p[0] - b[0]),
                    None => p[1],
                };
            }
            before = Some(p);
        }
        self.worst()
    }

    /// Loss when help never comes.
    #[must_use]
    pub fn worst(&self) -> f64 {
        self.points.last().map_or(0.0, |p| p[1])
    }

    /// Loss that has happened whatever is done now.
    #[must_use]
    pub fn least(&self) -> f64 {
        self.points.first().map_or(0.0, |p| p[1])
    }

    /// Hour by which half of what can still be saved is lost; `None` when nothing is at stake.
    #[must_use]
    pub fn half_lost_h(&self) -> Option<f64> {
        let goal = 0.5 * (self.least() + self.worst());
        if self.worst() <= self.least() {
            return None;
        }
        let pair = self.points.windows(2).find(|w| w[1][1] >= goal)?;
        let (a, b) = (pair[0], pair[1]);
        Some(a[0] + (b[0] - a[0]) * (goal - a[1]) / (b[1] - a[1]))
    }

    /// Last hour at which the loss is still the least; `None` when it never rises.
    #[must_use]
    pub fn safe_until_h(&self) -> Option<f64> {
        let least = self.least();
        let pair = self.points.windows(2).find(|w| w[1][1] > least)?;
        Some(pair[0][0])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn straight_lines_between_points() {
        let l = Loss::new("x", &[[1.0, 0.0], [3.0, 10.0], [4.0, 10.0], [5.0, 30.0]]).unwrap();
        for (h, v) in [(0.0, 0.0), (2.0, 5.0), (3.5, 10.0), (4.5, 20.0), (9.0, 30.0)] {
            assert!((l.at(h) - v).abs() < 1e-12, "{h}");
        }
        assert_eq!(l.safe_until_h(), Some(1.0));
        assert!((l.half_lost_h().unwrap() - 4.25).abs() < 1e-12);
        assert_eq!(Loss::none().half_lost_h(), None);
        assert_eq!(l.at(f64::INFINITY), 30.0);
    }

    #[test]
    fn limit_points_come_back() {
        let l = Loss::from_limit("x", 100.0, [2.0, 4.0, 7.0]).unwrap();
        for (h, v) in [(2.0, 5.0), (4.0, 50.0), (7.0, 95.0), (8.0, 100.0), (1.0, 0.0)] {
            assert!((l.at(h) - v).abs() < 1e-9, "{h}");
        }
        let sharp = Loss::from_limit("x", 1.0, [3.0; 3]).unwrap();
        assert!(sharp.at(2.99) < 0.01 && sharp.at(3.01) > 0.99);
        assert!(Loss::from_limit("x", 1.0, [3.0, 2.0, 4.0]).is_err());
        assert!(Loss::new("x", &[[0.0, 2.0], [1.0, 1.0]]).is_err());
    }
}
