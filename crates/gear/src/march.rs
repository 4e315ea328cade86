//! Marching along one basket's main line: given the pull at its first end, where does its other end come to lie?
//!
//! Model: straight elastic elements; on each act its weight and ½ρ d [C_n |u_n| u_n + π C_t |u_t| u_t] per stretched
//! metre, taken at its mid depth with its own direction, half of both lumped at either end (implicit midpoint: second
//! order, and the same from either end). u is the current less the line's own velocity. Branch lines are loads at
//! their clips. Statics of a perfectly flexible line without inertia (Berteaux 1976, Buoy Engineering, SOURCE NOT
//! CHECKED; derived again from the balance of forces on an element).
//!
//! The march carries the exact derivatives of both ends with respect to the first pull and the end velocities, and one
//! Newton step for each element's own implicit equation at every pass: element and end conditions converge together.

use crate::catenary::Basket;
use crate::current::Profile;
use crate::parts::{BranchLine, DragAt, MainLine, Water};
use crate::vector::{Matrix, Vector, dot, inverse, norm, plus, times};

/// One basket's line, made ready for marching.
#[derive(Debug, Clone)]
pub struct Strand {
    /// Unstretched length of each element, metres.
    pub(crate) length_m: Vec<f64>,
    /// For each element, whether a branch line is clipped at its far end.
    pub(crate) clip: Vec<bool>,
    /// Unstretched length of all of it, metres.
    pub(crate) line_m: f64,
    pub(crate) stiffness_n: f64,
    /// Weight in water, N for a metre of unstretched line.
    pub(crate) weight_n_m: f64,
    /// ½ρ d C_n, kg/m².
    pub(crate) normal: f64,
    /// ½ρ π d C_t, kg/m².
    pub(crate) tangential: f64,
    /// ½ρ C A of branch lines spread along the line, kg/m² (no clips then).
    pub(crate) spread: f64,
    /// Weight in water of a clipped branch line, N.
    pub(crate) branch_n: f64,
    /// ½ρ C A of a branch line, kg/m.
    pub(crate) branch_drag: f64,
    /// Depths below its clip over which a branch line's drag is taken, metres.
    pub(crate) branch_range_m: f64,
    /// Square of the speed below which drag goes with the speed instead of its square, m²/s²: see [`Strand::rounded`].
    pub(crate) rounding: f64,
}

impl Strand {
    /// The line of a basket whose numbers were checked, each clip interval cut into `elements_per_interval`; with
    /// `point_loads` false the branch lines are spread along the line.
    pub(crate) fn new(
        basket: &Basket,
        main_line: &MainLine,
        branch: &BranchLine,
        water: &Water,
        point_loads: bool,
        elements_per_interval: u32,
    ) -> Self {
        let hooks = basket.hooks as usize;
        let parts = elements_per_interval.max(1);
        let end_m = if basket.float_takes_a_beat { basket.clip_spacing_m } else { 0.5 * basket.clip_spacing_m };
        let mut length_m = Vec::new();
        let mut clip = Vec::new();
        for interval in 0..=hooks {
            let interval_m = if interval == 0 || interval == hooks { end_m } else { basket.clip_spacing_m };
            for part in 1..=parts {
                length_m.push(interval_m / f64::from(parts));
                clip.push(point_loads && part == parts && interval < hooks);
            }
        }
        let line_m: f64 = length_m.iter().sum();
        let half_rho = 0.5 * water.density_kg_m3;
        let diameter_m = main_line.diameter_mm / 1000.0;
        let per_metre = if point_loads { 0.0 } else { f64::from(basket.hooks) / line_m };
        Self {
            length_m,
            clip,
            line_m,
            stiffness_n: main_line.axial_stiffness_n,
            weight_n_m: main_line.weight_n_m(water) + branch.weight_in_water_n * per_metre,
            normal: half_rho * diameter_m * main_line.drag_normal,
            tangential: half_rho * std::f64::consts::PI * diameter_m * main_line.drag_tangential,
            spread: half_rho * branch.drag_area_m2 * per_metre,
            branch_n: branch.weight_in_water_n,
            branch_drag: half_rho * branch.drag_area_m2,
            branch_range_m: match branch.drag_at {
                DragAt::OwnDepth => basket.branch_line_m,
                DragAt::Node => 0.0,
            },
            rounding: 0.0,
        }
    }

    /// The same with |u| rounded off to √(u² + `slow_m_s`²). Without it a line at rest in still water has drag without
    /// slope and nothing steadies it; and below some 1 cm/s the drag of thin lines does grow less than with the square
    /// (the coefficient rises as the Reynolds number falls below 50).
    pub(crate) fn rounded(self, slow_m_s: f64) -> Self {
        Self { rounding: slow_m_s * slow_m_s, ..self }
    }

    /// The same line in elements half as long.
    pub(crate) fn halved(&self) -> Self {
        Self {
            length_m: self.length_m.iter().flat_map(|length_m| [0.5 * length_m, 0.5 * length_m]).collect(),
            clip: self.clip.iter().flat_map(|clip| [false, *clip]).collect(),
            ..self.clone()
        }
    }

    /// How many elements there are.
    pub(crate) fn elements(&self) -> usize {
        self.length_m.len()
    }

    /// Weight in water of everything, N.
    pub(crate) fn weight_n(&self) -> f64 {
        let clips = self.clip.iter().filter(|clip| **clip).count();
        #[expect(clippy::cast_precision_loss, reason = "at most 1,000 clips")]
        let clips = clips as f64;
        self.weight_n_m * self.line_m + self.branch_n * clips
    }

    /// The share of the line that lies before the far end of an element.
    pub(crate) fn share_of(&self, elements: usize) -> f64 {
        self.length_m.iter().take(elements).sum::<f64>() / self.line_m
    }

    /// The same line with weights and drags scaled: for sensitivities.
    pub(crate) fn scaled(&self, weight: f64, drag: f64) -> Self {
        Self {
            weight_n_m: self.weight_n_m * weight,
            branch_n: self.branch_n * weight,
            normal: self.normal * drag,
            tangential: self.tangential * drag,
            spread: self.spread * drag,
            branch_drag: self.branch_drag * drag,
            ..self.clone()
        }
    }

    /// Horizontal drag of a branch line clipped at a depth, N, in a sea moving past at `profile` less `velocity_m_s`,
    /// with its derivatives with respect to depth and to the velocity of the water.
    pub(crate) fn branch_drag_at(
        &self,
        profile: &Profile,
        depth_m: f64,
        velocity_m_s: [f64; 2],
        near: &mut usize,
    ) -> ([f64; 2], [f64; 2], [[f64; 2]; 2]) {
        pressure(profile, self.branch_drag, (depth_m, self.branch_range_m), velocity_m_s, self.rounding, near)
    }
}

/// Horizontal drag `half_rho_area` |u| u (with |u| rounded off by the square `rounding`) averaged over `range_m` below a depth (three Gauss points), with its
/// derivatives with respect to depth and to the velocity of the water.
pub(crate) fn pressure(
    profile: &Profile,
    half_rho_area: f64,
    (depth_m, range_m): (f64, f64),
    velocity_m_s: [f64; 2],
    rounding: f64,
    near: &mut usize,
) -> ([f64; 2], [f64; 2], [[f64; 2]; 2]) {
    // Abscissae and weights on [0, 1] of the three-point rule (exact for the square of a linear profile).
    const POINTS: [(f64, f64); 3] =
        [(0.112_701_665_379_258_3, 5.0 / 18.0), (0.5, 4.0 / 9.0), (0.887_298_334_620_741_7, 5.0 / 18.0)];
    let one = [(0.0, 1.0)];
    let points: &[(f64, f64)] = if range_m > 0.0 { &POINTS } else { &one };
    let (mut force, mut by_depth, mut by_water) = ([0.0; 2], [0.0; 2], [[0.0; 2]; 2]);
    for (place, share) in points {
        let (current, slope) = profile.at(depth_m + place * range_m, near);
        let u = [current[0] - velocity_m_s[0], current[1] - velocity_m_s[1]];
        let speed = (u[0] * u[0] + u[1] * u[1] + rounding).sqrt();
        let c = half_rho_area * share;
        let over = if speed > 0.0 { c / speed } else { 0.0 };
        let xy = over * u[0] * u[1];
        let by_u = [[c * speed + over * u[0] * u[0], xy], [xy, c * speed + over * u[1] * u[1]]];
        for axis in 0..2 {
            force[axis] += c * speed * u[axis];
            by_depth[axis] += by_u[axis][0] * slope[0] + by_u[axis][1] * slope[1];
            by_water[axis][0] += by_u[axis][0];
            by_water[axis][1] += by_u[axis][1];
        }
    }
    (force, by_depth, by_water)
}

/// What a march starts from and moves with.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Launch {
    /// The line's pull on its first end, N.
    pub pull_n: Vector,
    /// Depth of the first end, metres.
    pub depth_m: f64,
    /// Horizontal velocity of the line at its first end, m/s.
    pub first_m_s: [f64; 2],
    /// The same at its far end; linear between.
    pub last_m_s: [f64; 2],
}

/// Where a march came out. Derivative columns: 0–2 first pull x, y, z; then two for every velocity asked for.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Landing<const COLUMNS: usize> {
    /// The far end from the first end, metres.
    pub reach_m: Vector,
    /// The line's pull towards on-going line at the far end, N.
    pub pull_n: Vector,
    pub reach_by: [Vector; COLUMNS],
    pub pull_by: [Vector; COLUMNS],
    /// The largest imbalance of an element's own equation before its last correction, N.
    pub imbalance_n: f64,
}

/// How often an element's own equation is corrected in one march: once where the ends are still far off anyway, or
/// until it holds, so that the far end depends on the first pull alone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Care {
    Once,
    Fully,
}

/// Marches once. `lag_n` holds for each element what its own tension was above the pull at its near end on the last
/// march, and is brought up to date. `COLUMNS` is 3 (pull only), 5 (and one velocity of the whole line) or 7 (and the
/// velocities of both ends). None when a tension vanishes.
pub(crate) fn march<const COLUMNS: usize>(
    strand: &Strand,
    profile: &Profile,
    launch: &Launch,
    lag_n: &mut [Vector],
    care: Care,
) -> Option<Landing<COLUMNS>> {
    let mut pull = launch.pull_n;
    let mut reach: Vector = [0.0; 3];
    let mut pull_by = [[0.0; 3]; COLUMNS];
    let mut reach_by = [[0.0; 3]; COLUMNS];
    for (axis, column) in pull_by.iter_mut().take(3).enumerate() {
        column[axis] = 1.0;
    }
    let give = 1.0 / strand.stiffness_n;
    let per_line = 1.0 / strand.line_m;
    let (mut near, mut near_branch) = (0, 0);
    let mut arc_m = 0.0;
    let mut imbalance_n: f64 = 0.0;
    for ((length_m, clip), lag) in strand.length_m.iter().zip(&strand.clip).zip(lag_n.iter_mut()) {
        let shares = shares::<COLUMNS>((arc_m + 0.5 * length_m) * per_line);
        let velocity = mix(launch, (arc_m + 0.5 * length_m) * per_line);
        arc_m += length_m;
        let depth_m = launch.depth_m + reach[2];
        let mut guess = plus(pull, 1.0, *lag);
        let (mut load, mut own, mut off) =
            element(strand, profile, *length_m, pull, guess, depth_m, velocity, &mut near)?;
        if care == Care::Fully {
            for _ in 0..MOST_CORRECTIONS {
                if largest(off) <= BALANCED_FULLY_N {
                    break;
                }
                // A correction is at most half the tension, so that it never turns the element round.
                let step = times(&own, off);
                let share = (0.5 * norm(guess) / norm(step).max(1e-300)).min(1.0);
                guess = plus(guess, -share, step);
                (load, own, off) = element(strand, profile, *length_m, pull, guess, depth_m, velocity, &mut near)?;
            }
        }
        imbalance_n = imbalance_n.max(largest(off));
        let tension = plus(guess, -1.0, times(&own, off));
        *lag = plus(tension, -1.0, pull);
        let size = dot(tension, tension).sqrt();
        if !(size > 1e-9 && size.is_finite()) {
            return None;
        }
        let (over, give_m) = (length_m / size, length_m * give);
        let (t, step) = (over + give_m, tension);
        reach = plus(reach, t, step);
        let unit = [tension[0] / size, tension[1] / size, tension[2] / size];
        for column in 0..COLUMNS {
            let (dpull, dreach) = (pull_by[column], reach_by[column]);
            let mut push = [
                dpull[0] - 0.5 * load.by_depth[0] * dreach[2],
                dpull[1] - 0.5 * load.by_depth[1] * dreach[2],
                dpull[2] - 0.5 * load.by_depth[2] * dreach[2],
            ];
            if column >= 3 {
                let axis = (column - 3) % 2;
                let share = 0.5 * shares[(column - 3) / 2];
                push = plus(push, share, load.by_water[axis]);
            }
            let dtension = times(&own, push);
            pull_by[column] = plus([-dpull[0], -dpull[1], -dpull[2]], 2.0, dtension);
            let along = dot(unit, dtension);
            // d(Δr) = ℓ [(1 − t tᵀ)/T + 1/EA] dT
            reach_by[column] = plus(plus(dreach, over + give_m, dtension), -over * along, unit);
        }
        pull = plus([-pull[0], -pull[1], -pull[2]], 2.0, tension);
        if *clip {
            let velocity = mix(launch, arc_m * per_line);
            let (force, by_depth, by_water) =
                strand.branch_drag_at(profile, launch.depth_m + reach[2], velocity, &mut near_branch);
            pull = [pull[0] - force[0], pull[1] - force[1], pull[2] - strand.branch_n];
            let shares = self::shares::<COLUMNS>(arc_m * per_line);
            for column in 0..COLUMNS {
                let ddepth = reach_by[column][2];
                for axis in 0..2 {
                    pull_by[column][axis] -= by_depth[axis] * ddepth;
                    if column >= 3 {
                        pull_by[column][axis] += by_water[axis][(column - 3) % 2] * shares[(column - 3) / 2];
                    }
                }
            }
        }
    }
    Some(Landing { reach_m: reach, pull_n: pull, reach_by, pull_by, imbalance_n })
}

/// Corrections of one element at most, and what counts as balanced then, N.
const MOST_CORRECTIONS: u32 = 12;
const BALANCED_FULLY_N: f64 = 1e-9;

#[inline]
fn largest(a: Vector) -> f64 {
    a[0].abs().max(a[1].abs()).max(a[2].abs())
}

/// The load on an element at a guess of its tension; the inverse of d(imbalance)/d(tension); and the imbalance
/// T − N + ½ load, with N the pull at its near end.
#[inline(always)]
#[expect(clippy::too_many_arguments, reason = "the innermost step: what it needs is what it is given")]
fn element(
    strand: &Strand,
    profile: &Profile,
    length_m: f64,
    pull_n: Vector,
    guess_n: Vector,
    depth_m: f64,
    velocity_m_s: [f64; 2],
    near: &mut usize,
) -> Option<(ElementLoad, Matrix, Vector)> {
    let load = element_load(strand, profile, length_m, guess_n, depth_m, velocity_m_s, near)?;
    let mut own = load.by_tension;
    for axis in 0..3 {
        own[axis] = [0.5 * own[axis][0], 0.5 * own[axis][1], 0.5 * own[axis][2]];
        own[axis][axis] += 1.0;
    }
    let off = plus(plus(guess_n, -1.0, pull_n), 0.5, load.force_n);
    Some((load, inverse(&own)?, off))
}

/// How much of each velocity that columns stand for moves the line at this share of its length.
#[inline]
fn shares<const COLUMNS: usize>(along: f64) -> [f64; 2] {
    if COLUMNS >= 7 { [1.0 - along, along] } else { [1.0, 0.0] }
}

#[inline]
fn mix(launch: &Launch, along: f64) -> [f64; 2] {
    let (first, last) = (launch.first_m_s, launch.last_m_s);
    [first[0] + along * (last[0] - first[0]), first[1] + along * (last[1] - first[1])]
}

/// Weight and drag of one element and how they change.
pub(crate) struct ElementLoad {
    pub force_n: Vector,
    pub by_tension: Matrix,
    pub by_depth: Vector,
    /// By the x and the y velocity of the water.
    pub by_water: [Vector; 2],
}

/// The load on an element of unstretched `length_m` under a tension, its near end at `depth_m`.
#[inline(always)]
pub(crate) fn element_load(
    strand: &Strand,
    profile: &Profile,
    length_m: f64,
    tension_n: Vector,
    depth_m: f64,
    velocity_m_s: [f64; 2],
    near: &mut usize,
) -> Option<ElementLoad> {
    let square = dot(tension_n, tension_n);
    if !(square > 1e-18 && square.is_finite()) {
        return None;
    }
    let size = square.sqrt();
    let per_size = 1.0 / size;
    let t = [tension_n[0] * per_size, tension_n[1] * per_size, tension_n[2] * per_size];
    let give_m = length_m / strand.stiffness_n;
    let stretched_m = length_m + give_m * size;
    let (current, slope) = profile.at(depth_m + 0.5 * stretched_m * t[2], near);
    let u = [current[0] - velocity_m_s[0], current[1] - velocity_m_s[1], 0.0];
    let a = u[0] * t[0] + u[1] * t[1];
    let n = plus(u, -a, t);
    let n_size = (dot(n, n) + strand.rounding).sqrt();
    let per_n = if n_size > 0.0 { 1.0 / n_size } else { 0.0 };
    let (cn, ct) = (strand.normal, strand.tangential);
    let spread = strand.spread;
    let flat = if spread > 0.0 { (u[0] * u[0] + u[1] * u[1] + strand.rounding).sqrt() } else { 0.0 };
    let per_flat = if flat > 0.0 { 1.0 / flat } else { 0.0 };
    // Drag for each stretched metre.
    let drag = [
        cn * n_size * n[0] + ct * a.abs() * a * t[0] + spread * flat * u[0],
        cn * n_size * n[1] + ct * a.abs() * a * t[1] + spread * flat * u[1],
        cn * n_size * n[2] + ct * a.abs() * a * t[2],
    ];
    // By the water's velocity: C_n (|n| (1 − t tᵀ) + n nᵀ/|n|) + 2 C_t |a| t tᵀ, columns x and y.
    let along = 2.0 * ct * a.abs() - cn * n_size;
    let mut by_water = [[0.0; 3]; 2];
    for axis in 0..2 {
        let (by_t, by_n) = (along * t[axis], cn * per_n * n[axis]);
        let mut column = [by_t * t[0] + by_n * n[0], by_t * t[1] + by_n * n[1], by_t * t[2] + by_n * n[2]];
        column[axis] += cn * n_size + spread * flat;
        column[0] += spread * per_flat * u[0] * u[axis];
        column[1] += spread * per_flat * u[1] * u[axis];
        by_water[axis] = [stretched_m * column[0], stretched_m * column[1], stretched_m * column[2]];
    }
    let by_depth =
        plus([slope[0] * by_water[0][0], slope[0] * by_water[0][1], slope[0] * by_water[0][2]], slope[1], by_water[1]);
    // By direction, dt ⊥ t: q dt + (g t − b n) (n·dt), with q = (C_t |a| − C_n |n|) a.
    let q = (ct * a.abs() - cn * n_size) * a;
    let g = 2.0 * ct * a.abs() - cn * n_size;
    let b = cn * a * per_n;
    let turn = stretched_m * per_size;
    let half_over = 0.5 * length_m * per_size;
    // Mid depth moves by half of d(Δz) = ℓ [(1 − t tᵀ)/T + 1/EA] dT.
    let lifts = [-half_over * t[2] * t[0], -half_over * t[2] * t[1], half_over * (1.0 - t[2] * t[2]) + 0.5 * give_m];
    let mut by_tension = [[0.0; 3]; 3];
    for row in 0..3 {
        let along_t = give_m * drag[row] - turn * q * t[row];
        let along_n = turn * (g * t[row] - b * n[row]);
        by_tension[row] = [
            along_t * t[0] + along_n * n[0] + by_depth[row] * lifts[0],
            along_t * t[1] + along_n * n[1] + by_depth[row] * lifts[1],
            along_t * t[2] + along_n * n[2] + by_depth[row] * lifts[2],
        ];
        by_tension[row][row] += turn * q;
    }
    let mut force_n = [stretched_m * drag[0], stretched_m * drag[1], stretched_m * drag[2]];
    force_n[2] += strand.weight_n_m * length_m;
    Some(ElementLoad { force_n, by_tension, by_depth, by_water })
}
