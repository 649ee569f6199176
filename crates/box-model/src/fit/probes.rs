//! Pulp probes: where in the cargo each of them seems to sit.

/// How fast older differences are forgotten, h.
const MEMORY_H: f64 = 36.0;
/// A probe can be placed once it was read over this long, h.
const PLACED_AFTER_H: f64 = 12.0;
/// A probe is never known better than this, K. Our estimate.
const LEAST_SD_K: f64 = 0.1;

/// Where a probe sits: so much of the core, the rest of the shell, and how far off that.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ProbePlace {
    /// Share of the core, 0 in the shell to 1.
    pub core_share: f64,
    /// Its reading less that blend, K.
    pub offset_k: f64,
    /// How well that holds, K (standard deviation).
    pub sd_k: f64,
}

/// Running mean and spread of one difference.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
struct Running {
    mean_k: f64,
    var: f64,
}

const BLENDS: [f64; 3] = [0.0, 0.5, 1.0];

#[derive(Debug, Clone, Copy, PartialEq, Default)]
struct Track {
    first_h: Option<f64>,
    last_h: f64,
    blends: [Running; 3],
}

/// All four of a box.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Probes {
    tracks: [Track; 4],
}

impl Probes {
    pub fn is_empty(&self) -> bool {
        self.tracks.iter().all(|t| t.first_h.is_none())
    }

    /// Takes readings in against shell and core as fitted.
    pub fn read(&mut self, at_h: f64, probes_c: &[Option<f64>; 4], shell_c: f64, core_c: f64) {
        for (t, v) in self.tracks.iter_mut().zip(probes_c) {
            let Some(v) = v else { continue };
            let diffs = BLENDS.map(|b| v - (shell_c + b * (core_c - shell_c)));
            match t.first_h {
                None => {
                    t.first_h = Some(at_h);
                    t.blends = diffs.map(|mean_k| Running { mean_k, var: 0.16 });
                }
                Some(first_h) => {
                    let gap_h = (at_h - t.last_h).max(0.0);
                    let part = gap_h / (gap_h + MEMORY_H.min(at_h - first_h).max(0.1));
                    for (r, d) in t.blends.iter_mut().zip(diffs) {
                        let off = d - r.mean_k;
                        r.mean_k += part * off;
                        r.var += part * (off * off - r.var);
                    }
                }
            }
            t.last_h = at_h;
        }
    }

    /// Where probe `i` sits; `None` when it was never read.
    pub fn place(&self, i: usize) -> Option<ProbePlace> {
        let t = self.tracks.get(i)?;
        let first_h = t.first_h?;
        let watched = t.last_h - first_h >= PLACED_AFTER_H;
        let pairs = BLENDS.iter().zip(&t.blends);
        let best = pairs.min_by(|a, b| a.1.var.total_cmp(&b.1.var))?;
        let middle = (&BLENDS[1], &t.blends[1]);
        let (share, r) = if watched { best } else { middle };
        let sd_k = units::math::sqrt(r.var.max(0.0)).max(LEAST_SD_K);
        Some(ProbePlace { core_share: *share, offset_k: r.mean_k, sd_k })
    }
}
