//! Trends that a few odd readings cannot bend.

/// A steady change with its 90 % interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Trend {
    /// Middle of all pairwise slopes, per hour (Theil and Sen).
    pub slope: f64,
    /// 5 % end.
    pub low: f64,
    /// 95 % end.
    pub high: f64,
    /// Hours from first to last point.
    pub span_h: f64,
}

impl Trend {
    /// Change over the span.
    pub fn change(&self) -> f64 {
        self.slope * self.span_h
    }

    /// The interval lies on one side of zero.
    pub fn has_direction(&self) -> bool {
        self.low > 0.0 || self.high < 0.0
    }
}

/// Middle value; `None` of nothing.
pub fn median(values: &mut [f64]) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    let n = values.len();
    let upper = *values.get(n / 2)?;
    if n % 2 == 1 {
        return Some(upper);
    }
    values.get(n / 2 - 1).map(|lower| 0.5 * (lower + upper))
}

/// Theil–Sen trend of points (hours, value), by time, with the interval of Kendall's rank
/// statistic (Sen, J. Am. Stat. Assoc. 63 (1968) 1379; from memory, unverified). Needs four
/// points.
pub fn trend(points: &[(f64, f64)]) -> Option<Trend> {
    let n = points.len();
    if n < 4 {
        return None;
    }
    let mut slopes = Vec::with_capacity(n * (n - 1) / 2);
    for (i, a) in points.iter().enumerate() {
        for b in points.iter().skip(i + 1) {
            if b.0 - a.0 > 1e-6 {
                slopes.push((b.1 - a.1) / (b.0 - a.0));
            }
        }
    }
    slopes.sort_unstable_by(f64::total_cmp);
    let n_slopes = slopes.len();
    let middle = median_sorted(&slopes)?;
    let nf = n as f64;
    let sigma = units::math::sqrt(nf * (nf - 1.0) * (2.0 * nf + 5.0) / 18.0);
    let reach = ((n_slopes as f64 - 1.645 * sigma) / 2.0).floor().max(0.0) as usize;
    let span_h = points.last()?.0 - points.first()?.0;
    Some(Trend {
        slope: middle,
        low: *slopes.get(reach.min(n_slopes - 1))?,
        high: *slopes.get(n_slopes - 1 - reach.min(n_slopes - 1))?,
        span_h,
    })
}

fn median_sorted(sorted: &[f64]) -> Option<f64> {
    let n = sorted.len();
    let upper = *sorted.get(n / 2)?;
    if n % 2 == 1 {
        return Some(upper);
    }
    sorted.get(n / 2 - 1).map(|lower| 0.5 * (lower + upper))
}

/// Points averaged into bins of `bin_h` hours, so that a dense logger costs no more than an
/// hourly one. Points must be by time.
pub fn binned(points: &[(f64, f64)], bin_h: f64) -> Vec<(f64, f64)> {
    let mut out: Vec<(f64, f64)> = Vec::new();
    let (mut bin, mut sum_h, mut sum_v, mut n) = (f64::NAN, 0.0, 0.0, 0.0);
    for (h, v) in points {
        let this = (h / bin_h).floor();
        if this != bin && n > 0.0 {
            out.push((sum_h / n, sum_v / n));
            (sum_h, sum_v, n) = (0.0, 0.0, 0.0);
        }
        bin = this;
        sum_h += h;
        sum_v += v;
        n += 1.0;
    }
    if n > 0.0 {
        out.push((sum_h / n, sum_v / n));
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_odd_reading_does_not_bend_it() {
        let mut points: Vec<(f64, f64)> =
            (0..12).map(|i| (f64::from(i), 0.1 * f64::from(i))).collect();
        points[5].1 = 40.0;
        let t = trend(&points).unwrap();
        assert!((t.slope - 0.1).abs() < 1e-9 && t.has_direction());
    }

    #[test]
    fn noise_has_no_direction() {
        let points: Vec<(f64, f64)> =
            (0..24).map(|i| (f64::from(i), if i % 2 == 0 { 0.1 } else { -0.1 })).collect();
        assert!(!trend(&points).unwrap().has_direction());
        assert!(trend(&points[..3]).is_none());
        // All at one instant: no slope, no panic.
        assert!(trend(&[(1.0, 1.0); 6]).is_none());
    }

    #[test]
    fn bins_average() {
        let got = binned(&[(0.0, 1.0), (0.5, 3.0), (1.0, 5.0)], 1.0);
        assert_eq!(got, vec![(0.25, 2.0), (1.0, 5.0)]);
        assert!(binned(&[], 1.0).is_empty());
    }
}
