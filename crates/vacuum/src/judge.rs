//! What a pressure-rise hold says.

use fluids::water::vapour_pressure_pa;
use units::temperature::kelvin_from_celsius;

use crate::PA_PER_UM;
use crate::ahead::{Ahead, look_ahead};
use crate::columns::Form;
use crate::hold::Fit;
use crate::loss::{Loss, operating_loss};
use crate::noise::{Points, prepare};
use crate::posterior::{Estimate, Posterior, shares};
use crate::priors::TIGHT_UM_MIN;
use crate::weigh::{Care, Class, Part, Scene, Source, weigh};
use crate::words;

/// One reading of the vacuum gauge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// Seconds since the pump was valved off.
    pub t_s: f64,
    /// Absolute pressure, Pa.
    pub pressure_pa: f64,
}

/// What is known beside the readings.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Setup {
    /// Volume of what is held, m³; needed for a leak rate.
    pub volume_m3: Option<f64>,
    /// Temperature of the coldest surface, °C; needed to tell free water.
    pub coldest_c: Option<f64>,
    /// The refrigerant's name, for the loss in operation.
    pub fluid: Option<String>,
    /// Step of the gauge's display, µmHg; 0 for none.
    pub resolution_um: f64,
}

impl Setup {
    /// Vapour pressure of water or ice at the coldest surface, Pa.
    #[must_use]
    pub fn p_sat_pa(&self) -> Option<f64> {
        self.coldest_c.and_then(|c| vapour_pressure_pa(kelvin_from_celsius(c)).ok())
    }
}

/// What is said of a hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    /// No steady rise of 0.5 µm/min and no moisture.
    DryAndGrossTight,
    /// Moisture, no steady rise.
    Wet,
    /// A steady rise, no moisture.
    Leaking,
    /// Both.
    WetAndLeaking,
    /// The readings do not tell.
    Undecided,
}

impl Verdict {
    /// Its word in JSON.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::DryAndGrossTight => "dry_and_gross_tight",
            Self::Wet => "wet",
            Self::Leaking => "leaking",
            Self::WetAndLeaking => "wet_and_leaking",
            Self::Undecided => "undecided",
        }
    }

    fn of(class: Class) -> Self {
        match class {
            Class::Dry => Self::DryAndGrossTight,
            Class::Wet => Self::Wet,
            Class::Leaking => Self::Leaking,
            Class::Both => Self::WetAndLeaking,
        }
    }
}

/// Whether liquid or ice is left.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FreeWater {
    /// The plateau is clearly below p_sat(coldest).
    No,
    /// The plateau is p_sat(coldest).
    Yes,
    /// It cannot be said.
    Unknown,
}

impl FreeWater {
    /// Its word in JSON.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::No => "no",
            Self::Yes => "yes",
            Self::Unknown => "unknown",
        }
    }
}

/// Probabilities of the four verdicts; they sum to 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Probabilities {
    /// Of `dry_and_gross_tight`.
    pub dry_and_gross_tight: f64,
    /// Of `wet`.
    pub wet: f64,
    /// Of `leaking`.
    pub leaking: f64,
    /// Of `wet_and_leaking`.
    pub wet_and_leaking: f64,
}

/// The answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Judgement {
    /// The most probable when above 0.8.
    pub verdict: Verdict,
    /// Probabilities.
    pub probabilities: Probabilities,
    /// Steady rise, µm/min.
    pub rise_um_min: Option<Estimate>,
    /// Leak, Pa·m³/s of air; needs the volume.
    pub leak_pa_m3_s: Option<Estimate>,
    /// Loss of refrigerant in operation; needs volume and refrigerant.
    pub loss: Option<Loss>,
    /// Fitted p0 + Δp: what moisture can bring it to, Pa.
    pub moisture_limit_pa: Option<Estimate>,
    /// Vapour pressure at the coldest surface, Pa.
    pub p_sat_pa: Option<f64>,
    /// Liquid or ice.
    pub free_water: FreeWater,
    /// How much longer to watch, min; 0 when decided.
    pub watch_longer_min: f64,
    /// Probability that watching that much longer decides; none when decided.
    pub watch_longer_sure: Option<f64>,
    /// Relative noise of one reading that was found.
    pub noise: f64,
    /// Readings fitted.
    pub fitted: usize,
    /// Readings left out as wild.
    pub wild: usize,
    /// Curves of the forms that matter, most probable first.
    pub fits: Vec<Fit>,
    /// Why.
    pub because: Vec<String>,
    /// What to do next, least trouble first.
    pub next: Vec<String>,
    /// What to mind.
    pub cautions: Vec<String>,
}

/// Probability above which a verdict is given.
const SURE: f64 = 0.8;
/// Where a probability is held that must not reach a verdict.
const BELOW_SURE: f64 = 0.75;
/// A rise over the hold above which nothing is called dry, µm (texts in reference §4.3 call 500
/// to 1000 µm and steady dry).
const MUCH_UM: f64 = 300.0;
/// A tight hold must have shown that the rise is not this many times the limit.
const SHOWN: f64 = 1.7;
/// Shortest hold that is called dry, min (10 min is the least that any authority in reference
/// §4.3 asks; 0.5 min is allowed for the clock).
const SHORTEST_DRY_MIN: f64 = 9.5;
/// Fewest readings after the first minute, and the time they must span, min.
const FEWEST: (usize, f64) = (6, 3.0);

/// What the four classes come to after the rules of the trade.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Ruled {
    pub shares: [f64; 4],
    pub near_sat: bool,
    pub above_sat: bool,
    pub too_short: bool,
    pub much: bool,
}

/// Applies what readings alone cannot tell: a hold at p_sat(coldest) is never dry; one above it
/// may hide ice; a short one is not called dry.
pub(crate) fn rule(
    mut shares: [f64; 4],
    scene: &Scene,
    parts: &[Part],
    plateau: Option<f64>,
) -> Ruled {
    let [dry, wet] = [Class::Dry, Class::Wet].map(Class::index);
    let within = |p: f64| scene.p_sat.is_some_and(|s| p > 0.885 * s && p < 1.115 * s);
    let near_sat = within(scene.last) || plateau.is_some_and(within);
    let above_sat = !near_sat && scene.p_sat.is_some_and(|s| scene.last >= 1.115 * s);
    if near_sat {
        let rest = 1.0 - shares[dry];
        shares[dry] = 0.0;
        if rest > 1e-12 {
            shares = shares.map(|s| s / rest);
        } else {
            shares[wet] = 1.0;
        }
    }
    // A rise that the readings could not have shown is not ruled out by being unusual.
    cap(
        &mut shares,
        Class::Dry,
        Class::Leaking,
        power(parts, Class::Dry, &|_| SHOWN * TIGHT_UM_MIN),
    );
    let hidden = |source: Source| hidden_limit(scene, source);
    cap(&mut shares, Class::Wet, Class::Both, power(parts, Class::Wet, &hidden));
    // Oil may rise that much, but nobody should call it dry.
    let much = scene.last - scene.first > MUCH_UM;
    if much || above_sat {
        cap(&mut shares, Class::Dry, Class::Wet, BELOW_SURE);
    }
    let too_short = scene.end < SHORTEST_DRY_MIN;
    Ruled { shares, near_sat, above_sat, too_short, much }
}

/// What a class has above a limit goes to another, which a doubt alone never makes sure.
fn cap(shares: &mut [f64; 4], class: Class, to: Class, most: f64) {
    let room = (BELOW_SURE - shares[to.index()]).max(0.0);
    let moved = (shares[class.index()] - most).clamp(0.0, room);
    shares[class.index()] -= moved;
    shares[to.index()] += moved;
}

/// Steady rise that may hide under moisture without being called a leak, µm/min: what would raise
/// the plateau in an hour by 15 %, or, where it is that of liquid or ice at a known temperature
/// and follows every drift of it, by a quarter.
pub(crate) fn hidden_limit(scene: &Scene, source: Source) -> f64 {
    let an_hour = scene.last / 60.0;
    if source == Source::Free && scene.p_sat.is_some() {
        (an_hour / 4.0).max(5.0)
    } else {
        (0.15 * an_hour).max(4.0)
    }
}

/// Over the forms of a class: how surely the rise is below a limit, whatever was thought of it
/// before. Outgassing takes the place of a steady rise, so that it is left to its prior.
fn power(parts: &[Part], class: Class, limit: &dyn Fn(Source) -> f64) -> f64 {
    let of = || parts.iter().filter(|p| p.class == class && p.ln_z.is_finite());
    let top = of().map(|p| p.ln_z).fold(f64::NEG_INFINITY, f64::max);
    let (mut sum, mut all) = (0.0, 0.0);
    for p in of().filter(|p| p.ln_z > top - 10.0) {
        let w = units::math::exp(p.ln_z - top);
        let outgassing = matches!(p.slice.form, Form::Logarithm { .. } | Form::Root);
        sum += w * if outgassing { 1.0 } else { p.slice.slower_than(limit(p.slice.source)) };
        all += w;
    }
    if all > 0.0 { sum / all } else { 1.0 }
}

/// The verdict of ruled shares.
pub(crate) fn verdict(r: &Ruled) -> (Verdict, Class) {
    let mut best = Class::Dry;
    for c in Class::ALL {
        if r.shares[c.index()] > r.shares[best.index()] {
            best = c;
        }
    }
    let sure = r.shares[best.index()] > SURE && !(best == Class::Dry && r.too_short);
    (if sure { Verdict::of(best) } else { Verdict::Undecided }, best)
}

/// Judges a hold.
#[must_use]
pub fn judge(readings: &[Reading], setup: &Setup) -> Judgement {
    let points = prepare(readings, setup.resolution_um);
    let scene = Scene::new(&points, setup);
    let first = points.points.first().map_or(0.0, |p| p.t);
    if points.fitted < FEWEST.0 || scene.end - first < FEWEST.1 || points.points.len() < 2 {
        return too_few(&points, &scene, setup);
    }
    let parts = weigh(&points, &scene, Care::Full);
    let posterior = Posterior::new(&parts, &scene);
    let raw = shares(&parts);
    let (_, likely) = verdict(&Ruled {
        shares: raw,
        near_sat: false,
        above_sat: false,
        too_short: false,
        much: false,
    });
    let plateau = posterior.limit(likely);
    let ruled = rule(raw, &scene, &parts, plateau.map(|p| p.mid));
    let (verdict, best) = verdict(&ruled);
    let limit = posterior.limit(best).or(plateau);
    let free_water = free_water(&posterior, &scene, &ruled);
    let ahead =
        (verdict == Verdict::Undecided).then(|| look_ahead(&points, &scene, &parts, &ruled));
    let fits = crate::hold::fits(&points, &scene, &parts);
    finish(
        &points,
        setup,
        Found {
            ruled,
            verdict,
            best,
            limit,
            free_water,
            ahead,
            fits,
            scene,
            rise: posterior.rise(ruled.shares[0] + ruled.shares[1]),
            parts: &parts,
        },
    )
}

/// Everything found, on its way to an answer.
pub(crate) struct Found<'a> {
    pub ruled: Ruled,
    pub verdict: Verdict,
    pub best: Class,
    pub limit: Option<Estimate>,
    pub free_water: FreeWater,
    pub ahead: Option<Ahead>,
    pub fits: Vec<Fit>,
    pub scene: Scene,
    pub rise: Option<Estimate>,
    pub parts: &'a [Part],
}

fn free_water(posterior: &Posterior, scene: &Scene, ruled: &Ruled) -> FreeWater {
    let Some(p_sat) = scene.p_sat else { return FreeWater::Unknown };
    let a = posterior.against(p_sat);
    let wet = ruled.shares[Class::Wet.index()] + ruled.shares[Class::Both.index()];
    if a.near > 0.8 && wet > 0.8 {
        FreeWater::Yes
    } else if a.below > 0.95 && !ruled.near_sat {
        FreeWater::No
    } else {
        FreeWater::Unknown
    }
}

fn scaled(e: Estimate, by: f64) -> Estimate {
    Estimate { mid: e.mid * by, p90: e.p90.map(|v| v * by) }
}

fn finish(points: &Points, setup: &Setup, f: Found<'_>) -> Judgement {
    let per_volume = |v: f64| v * PA_PER_UM / 60.0;
    let leak = setup.volume_m3.zip(f.rise).map(|(v, r)| scaled(r, per_volume(v)));
    let loss = leak.zip(setup.fluid.as_deref()).and_then(|(l, name)| operating_loss(l, name).ok());
    let [dry, wet, leaking, both] = f.ruled.shares;
    let (watch, sure) = f.ahead.map_or((0.0, None), |a| (a.minutes, Some(a.sure)));
    Judgement {
        verdict: f.verdict,
        probabilities: Probabilities {
            dry_and_gross_tight: dry,
            wet,
            leaking,
            wet_and_leaking: both,
        },
        rise_um_min: f.rise,
        leak_pa_m3_s: leak,
        because: words::because(points, &f),
        next: words::next(&f),
        cautions: words::cautions(points, setup, &f, loss.as_ref()),
        loss,
        moisture_limit_pa: f.limit.map(|l| scaled(l, PA_PER_UM)),
        p_sat_pa: setup.p_sat_pa(),
        free_water: f.free_water,
        watch_longer_min: watch,
        watch_longer_sure: sure,
        noise: points.noise,
        fitted: points.fitted,
        wild: points.wild,
        fits: f.fits,
    }
}

/// Too few readings to fit anything: the prior, and how much longer.
fn too_few(points: &Points, scene: &Scene, setup: &Setup) -> Judgement {
    let ruled = rule(crate::weigh::PRIOR, scene, &[], None);
    let minutes = (15.0 - scene.end).max(10.0);
    let found = Found {
        ruled: Ruled { too_short: true, ..ruled },
        verdict: Verdict::Undecided,
        best: Class::Dry,
        limit: None,
        free_water: FreeWater::Unknown,
        ahead: Some(Ahead { minutes, sure: 0.5 }),
        fits: Vec::new(),
        scene: *scene,
        rise: None,
        parts: &[],
    };
    let mut j = finish(points, setup, found);
    j.watch_longer_sure = None;
    j
}
